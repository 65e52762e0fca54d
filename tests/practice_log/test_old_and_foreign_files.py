"""Logs of the first form come along whole; files that are not ours are left alone."""

import multiprocessing
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from labcore.errors import LabError
from labcore.model import Technique, TurnKind, Verdict
from labcore.practice_log import open_log
from labcore.practice_log.places import backups
from labcore.practice_log.schema import NEWEST

FIRST_FORM = Path(__file__).with_name("schema_1.sql").read_text(encoding="utf-8")
FIRST_TAKE = "10000000-0000-4000-8000-000000000001"


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "log.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.executescript(FIRST_FORM)
    return path


def version(path: Path) -> int:
    with closing(sqlite3.connect(path)) as db:
        return db.execute("PRAGMA user_version").fetchone()[0]


def test_a_log_of_the_first_form_is_read_whole(old: Path) -> None:
    log = open_log(old)
    first = log.history("bench 3")[0]
    assert first.recorded == datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
    assert first.recorded.hour == 19  # the player's own clock, an hour ahead
    assert first.task.technique is Technique.BEND
    assert first.measures["returned_share"].value == 75.0
    assert first.remark == "cold hands"
    assert log.findings(FIRST_TAKE)[0].verdict is Verdict.NEARLY
    ((note, home),) = log.notes(FIRST_TAKE)
    assert [turn.kind for turn in note.turns] == [TurnKind.LOW, TurnKind.HIGH, TurnKind.LOW]
    assert home is not None
    assert home.hz == 220.0


def test_a_label_that_stood_twice_becomes_one_player_with_all_takes(old: Path) -> None:
    log = open_log(old)
    assert [(player.nickname, player.takes) for player in log.players()] == [
        ("bench 3", 2),
        ("bench 4", 1),
    ]
    assert log.task("bench 3").due_on == date(2026, 3, 9)


def test_an_old_log_can_be_written_after_it_came_along(old: Path, make_report) -> None:
    log = open_log(old)
    log.add(make_report(5), exercise="triplets-72")
    assert len(log.history("bench 3")) == 3
    assert version(old) == NEWEST


def test_the_old_log_is_copied_before_it_is_changed(old: Path) -> None:
    open_log(old)
    (copy,) = backups(old)
    assert version(copy) == 1
    with closing(sqlite3.connect(copy)) as db:
        assert db.execute("SELECT count(*) FROM take").fetchone() == (3,)


def test_forgetting_reaches_the_copy_too(old: Path) -> None:
    log = open_log(old)
    assert backups(old)
    log.forget("bench 4")
    assert not backups(old)


@pytest.mark.parametrize("broken_step", range(2, NEWEST + 1))
def test_a_step_that_fails_changes_nothing(old: Path, monkeypatch, broken_step: int) -> None:
    from labcore.practice_log import connect, schema

    steps = list(schema.MIGRATIONS)
    steps[broken_step - 1] = (*steps[broken_step - 1], "INSERT INTO no_such_table VALUES (1)")
    monkeypatch.setattr(connect, "MIGRATIONS", tuple(steps))
    with pytest.raises(LabError, match="Nothing was changed"):
        open_log(old)
    assert version(old) == broken_step - 1
    monkeypatch.undo()
    assert len(open_log(old).history("bench 3")) == 2


def _open(path: Path) -> int:
    return len(open_log(path).history("bench 3"))


@pytest.mark.slow
def test_several_pages_may_bring_an_old_log_along_at_once(old: Path) -> None:
    with multiprocessing.get_context("spawn").Pool(3) as pool:
        assert pool.map(_open, [old] * 6) == [2] * 6
    assert version(old) == NEWEST


def test_a_log_of_a_later_form_is_left_alone(tmp_path: Path) -> None:
    path = open_log(tmp_path / "log.sqlite").path
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {NEWEST + 1}")
    before = path.read_bytes()
    with pytest.raises(LabError, match="later version"):
        open_log(path)
    assert path.read_bytes() == before


def test_another_programs_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE recipe (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(LabError, match="another program"):
        open_log(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("content", [b"not a database at all" * 100, b"SQLite format 3\x00" * 40])
def test_a_file_that_is_no_database_is_left_alone(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "log.sqlite"
    path.write_bytes(content)
    with pytest.raises(LabError, match="damaged or is not a practice log"):
        open_log(path)
    assert path.read_bytes() == content
