"""Who played what in a folder of takes: from the names of the files, or from a small table."""

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import Any

from labcore.beats import NOTE_VALUES
from labcore.errors import LabError
from labcore.model import Context, Task, Technique
from labcore.paths import given_path, printable

COLUMNS = (
    "file",
    "player",
    "tempo",
    "note value",
    "technique",
    "string",
    "fret",
    "finger",
    "guitar",
)
TABLE_NAME = "who played what.csv"  # a table that lies beside the takes
SOUND_NAMES = (
    ".flac", ".wav", ".mp3", ".ogg", ".oga", ".opus", ".aif", ".aiff",
    ".m4a", ".mp4", ".aac", ".webm",
)  # fmt: skip
MOST_LETTERS = 60  # of a label that is read from a name: so many fit a sheet and the log
_VALUES = {words: number for number, words in NOTE_VALUES.items()}
_PLAYER = re.compile(r"([^\W\d_]+)[ -]?(\d+)\Z")


@dataclass(frozen=True, slots=True)
class Seat:
    """One file of a class: whose it is, and what was asked."""

    path: Path
    task: Task
    context: Context


def seats_in(folder: Path, *, table: str = "", task: Task | None = None) -> tuple[Seat, ...]:
    """The takes of a folder, in the order of their names.

    ``table`` is CSV text, first row ``file, player, tempo, ...``; else it is `TABLE_NAME` in the
    folder. Without one the player is what stands before the first ``_`` of a name:
    ``bench3_triplets.flac`` is bench 3's. ``task`` is what was asked of everyone; a filled cell of
    the table overrides it.
    """
    folder = given_path(folder)
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix.lower() in SOUND_NAMES)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise LabError(
            f"There is no folder {folder}. Choose the folder that holds the takes."
        ) from error
    except OSError as error:
        raise LabError(
            f"The folder {printable(str(folder))} cannot be read ({error.strerror}). Choose "
            "another one."
        ) from error
    if not paths:
        raise LabError(f"No sound was found in {folder}. Looked for {', '.join(SOUND_NAMES)}.")
    return seating(paths, table=table or _table_in(folder), task=task)


def _table_in(folder: Path) -> str:
    place = folder / TABLE_NAME
    try:
        return place.read_text(encoding="utf-8-sig") if place.is_file() else ""
    except (OSError, UnicodeDecodeError) as error:
        raise LabError(
            f"“{TABLE_NAME}” cannot be read. Save it once more as CSV text (UTF-8), or take it out "
            "of the folder."
        ) from error


def seating(
    paths: Iterable[Path], *, table: str = "", task: Task | None = None
) -> tuple[Seat, ...]:
    """The same for given files."""
    rows = _rows(table)
    asked = task or Task()
    return tuple(_seat(path, row=rows.get(path.name, {}), asked=asked) for path in paths)


def player_in(name: str) -> str:
    """The player a file's name tells of.

    >>> player_in("bench3_triplets.flac"), player_in("window seat_1.wav"), player_in("take.wav")
    ('bench 3', 'window seat', 'take')
    """
    first = Path(name).stem.partition("_")[0].strip()
    return printable(_PLAYER.sub(r"\1 \2", first), most_letters=MOST_LETTERS) or "take"


def _rows(table: str) -> dict[str, dict[str, str]]:
    if not table.strip():
        return {}
    try:
        return _read(StringIO(table.lstrip("\ufeff"), newline=None))
    except csv.Error as error:
        raise LabError(
            f"The table cannot be read ({error}). Save it as CSV text once more."
        ) from error


def _read(lines: StringIO) -> dict[str, dict[str, str]]:
    comma = ";" if ";" in lines.readline() else ","  # spreadsheets of many languages write ;
    lines.seek(0)
    reader = csv.DictReader(lines, delimiter=comma, skipinitialspace=True, restval="")
    names = [(name or "").strip().lower() for name in reader.fieldnames or ()]
    unknown = sorted(set(names) - set(COLUMNS))
    if "file" not in names or unknown:
        wrong = f"it has the columns {', '.join(unknown)}" if unknown else "it has no column 'file'"
        raise LabError(f"The table cannot be read: {wrong}. Known are {', '.join(COLUMNS)}.")
    reader.fieldnames = names
    return {row["file"].strip(): row for row in reader if row["file"].strip()}


def _seat(path: Path, *, row: dict[str, str], asked: Task) -> Seat:
    def cell(name: str) -> str:
        return (row.get(name) or "").strip()

    def number(name: str, kind: type[int] | type[float]) -> Any:
        try:
            return kind(cell(name)) if cell(name) else None
        except ValueError as error:
            raise LabError(
                f"The table says {name} {cell(name)!r} for {path.name}; give a number, or nothing."
            ) from error

    tempo_bpm = number("tempo", float)
    task = Task(
        tempo_bpm=asked.tempo_bpm if tempo_bpm is None else tempo_bpm,
        cycles_per_beat=_value(cell("note value"), path=path) or asked.cycles_per_beat,
        technique=_technique(cell("technique"), path=path) or asked.technique,
        home=asked.home,
    )
    places = {name: number(name, int) for name in ("string", "fret", "finger")}
    player = cell("player") or player_in(path.name)
    return Seat(path, task, Context(player=player, guitar=cell("guitar"), **places))


def _value(words: str, *, path: Path) -> int | None:
    if not words:
        return None
    if words.lower() in _VALUES:
        return _VALUES[words.lower()]
    if words in map(str, NOTE_VALUES):
        return int(words)
    raise LabError(
        f"The table says note value {words!r} for {path.name}; give 1 to 6 or one of "
        f"{', '.join(_VALUES)}."
    )


def _technique(words: str, *, path: Path) -> Technique | None:
    if not words:
        return None
    try:
        return Technique(words.lower())
    except ValueError as error:
        known = ", ".join(technique.value for technique in Technique)
        raise LabError(
            f"The table says technique {words!r} for {path.name}; known are {known}."
        ) from error
