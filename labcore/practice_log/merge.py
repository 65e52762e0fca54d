"""One log into another: whole files out and in, nothing lost, nothing forgotten comes back."""

import sqlite3
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

from labcore.errors import LabError
from labcore.practice_log.checks import check_tables, check_values, not_a_log, refusing
from labcore.practice_log.connect import (
    check_ours,
    connected,
    migrate,
    said_in_a_sentence,
    transaction,
)
from labcore.practice_log.places import private_file
from labcore.practice_log.records import Merged
from labcore.practice_log.schema import NEWEST, TABLES


def export_file(path: Path, *, to: Path, names: bool) -> Path:
    """The whole log as one fresh file; without names also without anybody's words."""
    private_file(to, fresh=True)
    try:
        with connected(path) as db:
            db.execute("VACUUM INTO ?", (str(to),))
        if not names:
            _take_names_out(to)
    except BaseException:
        to.unlink(missing_ok=True)  # what is half written would only mislead
        raise
    return to


def _take_names_out(path: Path) -> None:
    with connected(path) as db:
        with transaction(db):
            # In the order of random keys, so that the numbers do not tell who came first.
            db.execute(
                """UPDATE player SET instrument = '', strings = '', target_take = NULL,
                nickname = 'player ' || (SELECT count(*) FROM player AS other
                    WHERE other.player_id <= player.player_id) || ' of the class'"""
            )
            db.execute("UPDATE take SET remark = NULL, audio_name = NULL, instrument = NULL")
            db.execute("UPDATE finding SET teacher_says = '' WHERE teacher_says IS NOT NULL")
            db.execute("DELETE FROM remark")
            db.execute("UPDATE task SET words = ''")
        db.execute("VACUUM")


def merge_file(path: Path, *, other: Path) -> Merged:
    """Bring in what the other file has and this one has not, in one transaction.

    The other file is never written: it is copied, and the copy is brought to the newest form. A
    player with the same label is taken for the same player.
    """
    if not other.is_file():
        raise LabError(f"There is no file {other}. Choose a practice log that was exported.")
    with TemporaryDirectory() as folder:
        copy = Path(folder) / "incoming.sqlite"
        _copied(other, to=copy)
        return merge_copy(path, copy=copy)


def _copied(other: Path, *, to: Path) -> None:
    private_file(to, fresh=True)
    _check_writing(other)
    address = f"{other.resolve().as_uri()}?mode=ro"
    with (
        said_in_a_sentence(other),
        closing(sqlite3.connect(address, uri=True)) as source,
        closing(sqlite3.connect(to, isolation_level=None)) as copy,
    ):
        source.backup(copy)
        _check_whole(copy, path=other)
        check_ours(copy, path=other)
        with refusing(other):
            check_tables(copy)
            migrate(copy, upto=NEWEST)
            check_values(copy)


def _check_writing(path: Path) -> None:
    """Only reading a file in write-ahead form would write beside it; no log of ours is in it."""
    try:
        with path.open("rb") as file:
            head = file.read(20)
    except OSError as error:
        raise LabError(f"{path} cannot be read ({error.strerror}). Choose another file.") from error
    # SQLite's file format, section 1.3.3, "File format version numbers": 2 is write-ahead.
    if head.startswith(b"SQLite format 3\0") and head[18:20] != b"\1\1":
        raise not_a_log(path, "another program has set it to write ahead")


def _check_whole(db: sqlite3.Connection, *, path: Path) -> None:
    found = db.execute("PRAGMA integrity_check(1)").fetchone()[0]
    empty = db.execute("PRAGMA user_version").fetchone()[0] == 0
    if found != "ok" or empty:
        raise not_a_log(path, "it is damaged, or empty")


def merge_copy(path: Path, *, copy: Path) -> Merged:
    """Bring in the rows of a file that is already in the newest form."""
    with connected(path) as db:
        db.execute("ATTACH ? AS incoming", (str(copy),))
        with transaction(db):
            for statement in _PLAN:
                db.execute(statement)
            counts = _planned(db)
            for table in TABLES:
                _bring(db, table)
            db.execute("INSERT OR IGNORE INTO main.other_id " + _OTHER_IDS)
            db.execute(_NO_LOST_TARGET)
        db.execute("DETACH incoming")
    return counts


# Which player here each player there is: the same key, a key met before, the same label, or new.
# Then the takes that may come: not forgotten here, and not here already.
_PLAN = (
    """CREATE TEMP TABLE same_player AS
        SELECT player_id AS theirs, coalesce(
            (SELECT player_id FROM main.player WHERE player_id = their.player_id),
            (SELECT player_id FROM main.other_id WHERE id = their.player_id),
            (SELECT player_id FROM main.player WHERE nickname = their.nickname),
            player_id) AS ours
        FROM incoming.player AS their
        WHERE player_id NOT IN (SELECT id FROM main.forgotten)""",
    """CREATE TEMP TABLE new_take AS
        SELECT take_id FROM incoming.take JOIN same_player ON player_id = theirs
        WHERE take_id NOT IN (SELECT id FROM main.forgotten)
            AND take_id NOT IN (SELECT take_id FROM main.take)""",
    """CREATE TEMP TABLE new_player AS
        SELECT theirs AS player_id FROM same_player
        WHERE theirs = ours AND ours NOT IN (SELECT player_id FROM main.player)""",
)
_OTHER_IDS = "SELECT theirs, ours FROM same_player WHERE theirs <> ours"
_NO_LOST_TARGET = """UPDATE main.player SET target_take = NULL
    WHERE target_take NOT IN (SELECT take_id FROM main.take)"""
_OURS = "(SELECT ours FROM same_player WHERE theirs = player_id)"
_WHICH = {
    "player": "player_id IN (SELECT player_id FROM new_player)",
    "take": "take_id IN (SELECT take_id FROM new_take)",
    "task": "player_id IN (SELECT theirs FROM same_player)",
    # A remark may have been written on another computer about a take that is here already.
    "remark": "take_id IN (SELECT take_id FROM main.take)",
}


def _planned(db: sqlite3.Connection) -> Merged:
    there = "SELECT count(*) FROM incoming.take"
    here = f"{there} WHERE take_id IN (SELECT take_id FROM main.take)"
    return Merged(
        players=_number(db, "SELECT count(*) FROM new_player"),
        takes=_number(db, "SELECT count(*) FROM new_take"),
        left_out=_number(db, f"SELECT ({there}) - ({here}) - (SELECT count(*) FROM new_take)"),
    )


def _number(db: sqlite3.Connection, query: str) -> int:
    return int(db.execute(query).fetchone()[0])


def _bring(db: sqlite3.Connection, table: str) -> None:
    names = [row[1] for row in db.execute(f"PRAGMA main.table_info({table})")]
    mapped = [
        _OURS if name == "player_id" and table in ("take", "task") else name for name in names
    ]
    which = _WHICH.get(table, _WHICH["take"])
    db.execute(
        f"INSERT OR IGNORE INTO main.{table} ({', '.join(names)}) "
        f"SELECT {', '.join(mapped)} FROM incoming.{table} WHERE {which}"
    )
