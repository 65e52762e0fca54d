"""Opening the file: checked, private, brought to the newest form, errors said in sentences."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from uuid import uuid4

from labcore.errors import LabError
from labcore.practice_log.places import backup_path, private_file
from labcore.practice_log.schema import APPLICATION_ID, MIGRATIONS, NEWEST

WAIT_S = 20.0  # how long a second page waits for the first to finish writing
OLDEST_SQLITE = (3, 37, 0)  # STRICT tables


@contextmanager
def connected(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection for one errand; whatever goes wrong comes out as a `LabError`."""
    with said_in_a_sentence(path), closing(_opened(path)) as db:
        yield db


@contextmanager
def writing(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection inside one transaction: all of it is kept, or nothing."""
    with connected(path) as db, transaction(db):
        yield db


@contextmanager
def transaction(db: sqlite3.Connection) -> Iterator[None]:
    """Take the write lock at once, so that two pages wait for each other and never clash."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")


@contextmanager
def said_in_a_sentence(path: Path) -> Iterator[None]:
    """Turn what SQLite says into something a reader can act on."""
    try:
        yield
    except sqlite3.Error as error:
        raise LabError(_sentence(error, path=path)) from error


def _sentence(error: sqlite3.Error, *, path: Path) -> str:
    words = str(error)
    if "locked" in words:
        return (
            "The practice log is being written by another page. Wait a moment, then do it once "
            "more; nothing was lost."
        )
    if "not a database" in words or "malformed" in words:
        return (
            f"{path.name} is damaged or is not a practice log, so nothing was read from it and "
            "nothing was changed. Put a copy in its place, or move it away to begin a new log."
        )
    if "full" in words:
        return "The disk is full, so the take was not kept. Make room, then do it once more."
    if "readonly" in words or "unable to open" in words:
        return f"{path} cannot be opened for writing. Choose another place for the practice log."
    return f"The practice log {path.name} could not do this ({words}). Nothing was changed."


def _opened(path: Path) -> sqlite3.Connection:
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise LabError(
            f"This Python carries SQLite {sqlite3.sqlite_version}; the practice log needs 3.37 or "
            "newer. Install a newer Python."
        )
    db = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
    try:
        db.execute("PRAGMA foreign_keys = ON")
        # What is deleted is overwritten with zeros, so that a forgotten player is not in the file.
        db.execute("PRAGMA secure_delete = ON")
    except BaseException:
        db.close()
        raise
    return db


def prepare(path: Path) -> None:
    """Make the log if there is none; bring an older one to the newest form, after a copy of it."""
    with connected(path) as db:
        check_ours(db, path=path)
        version = _version(db)
        if version == NEWEST:
            return
        if version:
            _back_up(db, path=backup_path(path, version=version))
        migrate(db, upto=NEWEST)


def check_ours(db: sqlite3.Connection, *, path: Path) -> None:
    """Raise `LabError` for another program's file, or one of a later version of ours."""
    # In one statement: another page may be making the log, and be done between two of them.
    version, mark, tables = db.execute(
        "SELECT (SELECT user_version FROM pragma_user_version), "
        "(SELECT application_id FROM pragma_application_id), "
        "(SELECT count(*) FROM sqlite_master)"
    ).fetchone()
    if (version or tables) and mark != APPLICATION_ID:
        raise LabError(
            f"{path.name} belongs to another program, so it was left alone. Choose a practice log."
        )
    if version > NEWEST:
        raise LabError(
            f"{path.name} was written by a later version of these lessons (form {version}; this "
            f"one knows {NEWEST}). Bring the lessons up to date; the log was left alone."
        )


def migrate(db: sqlite3.Connection, *, upto: int) -> None:
    """Each step in a transaction of its own; another page may have done some of them already."""
    for number in range(1, upto + 1):
        with transaction(db):
            if _version(db) < number:
                for statement in MIGRATIONS[number - 1]:
                    db.execute(statement)
                db.execute(f"PRAGMA user_version = {number}")


def _version(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def _back_up(db: sqlite3.Connection, *, path: Path) -> None:
    """A copy beside the log; whole or not there, should the machine stop half way."""
    unfinished = path.with_name(f"{path.name}.{uuid4().hex}")
    private_file(unfinished, fresh=True)
    with closing(sqlite3.connect(unfinished)) as copy:
        db.backup(copy)
    unfinished.replace(path)
