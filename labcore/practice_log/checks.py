"""What must hold of a log that comes from elsewhere before a row of it is taken.

The log is for years: what came in once must be shown, exported and forgotten ever after. So a
file is looked through whole, and one wrong value refuses all of it.
"""

import math
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path
from typing import Any

from labcore.beats import NOTE_VALUES
from labcore.errors import LabError
from labcore.model import Task
from labcore.practice_log import read
from labcore.practice_log.clock import moment, utc_text
from labcore.practice_log.connect import migrate
from labcore.practice_log.labels import player_label
from labcore.practice_log.places import TAKE_KEY
from labcore.practice_log.schema import TABLES

# No take holds a number or a text near these (project choices).
LARGEST_NUMBER = 1e12
LONGEST_TEXT = 10_000
YEARS = range(1900, 3000)


def not_a_log(source: Path, why: str) -> LabError:
    """The refusal of a file."""
    return LabError(
        f"{source.name} cannot be read as a practice log ({why.rstrip('.')}), so nothing was taken "
        "from it and nothing was changed. Export it once more where it came from."
    )


@contextmanager
def refusing(source: Path) -> Iterator[None]:
    """Whatever a file makes of us in here, it is refused for it."""
    try:
        yield
    except (LabError, sqlite3.Error, ValueError, TypeError, OverflowError) as error:
        raise not_a_log(source, f"{error}") from error


def check_tables(db: sqlite3.Connection) -> None:
    """Raise `ValueError` unless a file of some form has the tables of that form, and no more.

    A view or a trigger would run what another wrote.
    """
    (form,) = db.execute("PRAGMA user_version").fetchone()
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as ours:
        migrate(ours, upto=form)
        if _tables(db) != _tables(ours):
            raise ValueError("its tables are not those of a practice log")


def _tables(db: sqlite3.Connection) -> dict[str, Any]:
    """Each thing a file holds, and the columns it has; indexes are left out."""
    query = "SELECT name, type, strict FROM pragma_table_list WHERE schema = 'main'"
    found = {
        name: (kind, strict, db.execute("SELECT * FROM pragma_table_xinfo(?)", (name,)).fetchall())
        for name, kind, strict in db.execute(query).fetchall()
        if not name.startswith("sqlite_")
    }
    query = "SELECT count(*) FROM sqlite_schema WHERE type NOT IN ('table', 'index')"
    return found | {"others": db.execute(query).fetchone()[0]}


def check_values(db: sqlite3.Connection) -> None:
    """Read everything once; `ValueError` or `LabError` for what could not be shown later."""
    for table in TABLES:
        for line in read.lines(db, f"SELECT * FROM {table}"):
            for name, value in line.items():
                _check_value(value, name=f"{table}.{name}")
            _CHECKS.get(table, _nothing)(line)
    read.players(db)
    for (player,) in db.execute("SELECT player_id FROM player").fetchall():
        read.past_takes(db, player, since=None, last=None)
        read.newest_task(db, player)
    for (take,) in db.execute("SELECT take_id FROM take").fetchall():
        read.findings(db, take)
        read.notes(db, take)
        read.remarks(db, take)


def _check_value(value: Any, *, name: str) -> None:
    if isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            raise ValueError(f"{name} has {len(value)} letters")
        if name.endswith("_utc") and value and moment(value[:23]).year not in YEARS:
            raise ValueError(f"{name} is {value!r}")
    elif value is not None and not (math.isfinite(value) and abs(value) < LARGEST_NUMBER):
        raise ValueError(f"{name} is {value:g}")


def _check_player(line: dict[str, Any]) -> None:
    if player_label(line["nickname"]) != line["nickname"]:
        raise ValueError(f"the label {line['nickname']!r} is not written as labels are")


def _check_take(line: dict[str, Any]) -> None:
    if not TAKE_KEY.fullmatch(line["take_id"]):
        raise ValueError(f"the key {line['take_id']!r:.80} is not written as keys are")
    if utc_text(moment(line["recorded_utc"])) != line["recorded_utc"]:
        raise ValueError(f"the time {line['recorded_utc']!r} is not written as times are")


def _check_stretch(line: dict[str, Any]) -> None:
    if line["named"] is not None and line["named"] not in NOTE_VALUES:
        raise ValueError(f"the note value {line['named']} is none of 1 to {max(NOTE_VALUES)}")


def _check_task(line: dict[str, Any]) -> None:
    Task(line["tempo_bpm"], line["cycles_per_beat"])
    if line["due_utc"] is not None:
        date.fromisoformat(line["due_utc"][:10])


def _check_measure(line: dict[str, Any]) -> None:
    if line["n"] < 0:
        raise ValueError(f"the measure {line['name']!r:.40} is of {line['n']} waves")


def _nothing(_line: dict[str, Any]) -> None:
    pass


_CHECKS = {
    "player": _check_player,
    "take": _check_take,
    "measure": _check_measure,
    "stretch": _check_stretch,
    "task": _check_task,
}
