"""The log as CSV and JSON, out and in again.

JSON carries everything. CSV is one row a measure, for a spreadsheet, with the facts of the take
repeated; it carries no pitch turns, findings or remarks. Both come in through a file of their own
that is merged, so that a broken one changes nothing.
"""

import csv
import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from uuid import NAMESPACE_OID, uuid5

from labcore.errors import LabError
from labcore.practice_log.checks import check_values, not_a_log, refusing
from labcore.practice_log.connect import connected, migrate, said_in_a_sentence, transaction
from labcore.practice_log.labels import player_label
from labcore.practice_log.merge import merge_copy
from labcore.practice_log.places import private_file
from labcore.practice_log.read import lines
from labcore.practice_log.records import Merged
from labcore.practice_log.schema import NEWEST, TABLES
from labcore.practice_log.write import insert

FORMAT = "vibrato-lessons practice log"
MOST_BYTES = 500_000_000  # an import larger than this is not a practice log
_TEXT = ("player", "take_id", "recorded_utc", "technique", "exercise", "name", "unit")
_WHOLE = ("utc_offset_min", "string", "fret", "finger", "cycles_per_beat", "note", "n")
_REAL = ("tempo_bpm", "duration_s", "value", "spread", "error")
CSV_COLUMNS = (
    "player",
    "take_id",
    "recorded_utc",
    "utc_offset_min",
    "technique",
    "string",
    "fret",
    "finger",
    "tempo_bpm",
    "cycles_per_beat",
    "exercise",
    "duration_s",
    "note",
    "name",
    "value",
    "spread",
    "error",
    "unit",
    "n",
)
_OF_THE_TAKE = (
    "take_id",
    "recorded_utc",
    "utc_offset_min",
    "technique",
    "string",
    "fret",
    "finger",
    "tempo_bpm",
    "cycles_per_beat",
    "duration_s",
)
# A spreadsheet would run a cell that begins so as a formula; a leading apostrophe makes it text.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")


# --- out --------------------------------------------------------------------------------------


def json_text(path: Path) -> str:
    """Everything in the log."""
    with connected(path) as db, transaction(db):
        tables = {table: list(lines(db, f"SELECT * FROM {table}")) for table in TABLES}
    whole = {"format": FORMAT, "form": NEWEST, "tables": tables}
    return json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False)


def csv_text(path: Path) -> str:
    """One row a measure, with the facts of its take; takes without a measure have one bare row."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180
    writer.writerow(CSV_COLUMNS)
    with connected(path) as db:
        for line in lines(db, _CSV_QUERY):
            writer.writerow(as_cell(line[name]) for name in CSV_COLUMNS)
    return out.getvalue()


_CSV_QUERY = """SELECT nickname AS player, take.*, measure.note AS note, name, value, spread,
        error, unit, n
    FROM take JOIN player USING (player_id) LEFT JOIN measure USING (take_id)
    ORDER BY recorded_utc, take_id, measure.note, name"""


def as_cell(value: Any) -> Any:
    """A value as a cell of a table; text that a spreadsheet would run is made harmless.

    >>> as_cell("=1+1"), as_cell(-2.5), as_cell(None)
    ("'=1+1", -2.5, '')
    """
    if value is None:
        return ""
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return value


def write_text(text: str, *, to: Path) -> Path:
    """Write a fresh file that only its owner may read, whole or not at all."""
    private_file(to, fresh=True)
    try:
        to.write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        to.unlink(missing_ok=True)  # what is half written would only mislead
        raise LabError(
            f"The log could not be copied to {to} ({error.strerror}). Make room there, or choose "
            "another place; the log itself is as it was."
        ) from error
    return to


# --- in ---------------------------------------------------------------------------------------


def import_json(path: Path, *, source: Path) -> Merged:
    """Bring in what `json_text` wrote, also by an older form of the log."""
    whole = _parsed(source)
    form, tables = whole.get("form"), whole.get("tables")
    if whole.get("format") != FORMAT or not isinstance(tables, dict):
        raise not_a_log(source, "it does not say that it is one")
    if not isinstance(form, int) or not 1 <= form <= NEWEST:
        raise not_a_log(source, f"its form is {form!r}, known are 1 to {NEWEST}")
    return _merged(path, tables=tables, form=form, source=source)


def _parsed(source: Path) -> dict[str, Any]:
    try:
        whole = json.loads(_text(source))
    except (ValueError, RecursionError) as error:
        raise not_a_log(source, f"{error}") from error
    if not isinstance(whole, dict):
        raise not_a_log(source, "it holds no tables")
    return whole


def _text(source: Path) -> str:
    try:
        if source.stat().st_size > MOST_BYTES:
            raise not_a_log(source, "it is far too large")
        return source.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise LabError(
            f"{source} cannot be read ({error.strerror}). Choose another file."
        ) from error
    except UnicodeDecodeError as error:
        raise not_a_log(source, "it is not text") from error


def import_csv(path: Path, *, source: Path) -> Merged:
    """Bring in what `csv_text` wrote: players, takes and measures."""
    reader = csv.DictReader(StringIO(_text(source), newline=""), strict=True)
    try:
        if reader.fieldnames is None or not set(CSV_COLUMNS) <= set(reader.fieldnames):
            raise not_a_log(source, "its first row must hold " + ", ".join(CSV_COLUMNS))
        read = [_row(row, number=number) for number, row in enumerate(reader, start=2)]
    except (csv.Error, ValueError) as error:
        raise not_a_log(source, f"{error}") from error
    with refusing(source):
        tables = _tables(read)
    return _merged(path, tables=tables, form=NEWEST, source=source)


def _row(row: dict[str, Any], *, number: int) -> dict[str, Any]:
    if None in row or None in row.values():
        raise ValueError(f"row {number} has not as many cells as the first row")
    try:
        return (
            {name: row[name].removeprefix("'") for name in _TEXT}
            | {name: int(row[name]) if row[name] else None for name in _WHOLE}
            | {name: float(row[name]) if row[name] else None for name in _REAL}
        )
    except ValueError as error:
        raise ValueError(f"row {number}: {error}") from error


def _tables(read: Iterable[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    players: dict[str, dict[str, Any]] = {}
    takes: dict[str, dict[str, Any]] = {}
    measures: list[dict[str, Any]] = []
    for row in read:
        label = player_label(row["player"])
        player = players.setdefault(
            label,
            {
                "player_id": str(uuid5(NAMESPACE_OID, label)),
                "nickname": label,
                "created_utc": row["recorded_utc"],
            },
        )
        takes[row["take_id"]] = _take(row, player=player["player_id"])
        if row["name"]:
            names = ("take_id", "note", "name", "value", "spread", "error", "unit", "n")
            measures.append({name: row[name] for name in names})
    return {"player": [*players.values()], "take": [*takes.values()], "measure": measures}


def _take(row: dict[str, Any], *, player: str) -> dict[str, Any]:
    return {name: row[name] for name in _OF_THE_TAKE} | {
        "player_id": player,
        "exercise": row["exercise"] or None,
        "software": "from a table",
    }


def _merged(path: Path, *, tables: dict[str, Any], form: int, source: Path) -> Merged:
    """Through a log of its own, so that every row is checked before any is taken."""
    with TemporaryDirectory() as folder:
        copy = Path(folder) / "incoming.sqlite"
        private_file(copy)
        with refusing(source), closing(sqlite3.connect(copy, isolation_level=None)) as db:
            db.execute("PRAGMA foreign_keys = ON")
            migrate(db, upto=form)
            with transaction(db):
                for table in TABLES:
                    insert(db, table, _checked(db, table, tables.get(table, [])))
            migrate(db, upto=NEWEST)
            check_values(db)
        with said_in_a_sentence(path):
            return merge_copy(path, copy=copy)


def _checked(db: sqlite3.Connection, table: str, rows: Any) -> Iterator[dict[str, Any]]:
    """Rows whose columns the table has; a name from a file never reaches the database unseen."""
    known = {row[1] for row in db.execute(f"PRAGMA table_info({table})")}
    if rows and not known:
        raise ValueError(f"a log of that form has no table {table}")
    if not isinstance(rows, list):
        raise ValueError(f"the table {table} is not a list of rows")
    for row in rows:
        if not isinstance(row, dict) or not set(row) <= known:
            raise ValueError(f"a row of {table} has columns the log does not have")
        yield row
