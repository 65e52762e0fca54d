"""A writer that is killed leaves a whole log; two writers never lose a take; many stay quick."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

import pytest

from labcore.errors import LabError
from labcore.practice_log import open_log
from labcore.practice_log.connect import check_ours
from labcore.practice_log.places import sound_folder
from labcore.practice_log.schema import JUDGED

HERE = Path(__file__).parent
WRITER = HERE / "writer.py"
# Half a take has some parts and not others; this is what each hand-made take has.
WHOLE_TAKE = {
    "note": 1,
    "turn": 9,
    "plain_part": 1,
    "stretch": 1,
    "measure": 3,
    "finding": 2,
}
QUICK_GROWTH = 6.0  # a hundred times the takes may cost this much more time, no more
COMPANY_COST = 4.0  # the same answer out of a log eight times the size
NEWEST_TAKE = datetime(2026, 12, 31, 20, 0)  # UTC, as the log writes it
THREE_DAYS_BEFORE = datetime(2026, 12, 28, 20, 0, tzinfo=UTC)


def start_writer(path: Path, label: str, how_many: int, *, with_sound: bool = False):
    given = [sys.executable, str(WRITER), str(path), label, str(how_many)]
    paths = os.pathsep.join([str(HERE.parents[1]), os.environ.get("PYTHONPATH", "")])
    return subprocess.Popen(
        given + (["with sound"] if with_sound else []),
        env={**os.environ, "PYTHONPATH": paths},
        stdout=subprocess.PIPE,
        text=True,
    )


def kill_after(writer, *, lines: int, wait_s: float) -> int:
    """Let it keep a few takes, kill it a moment later, and say how many it had told of."""
    told = [writer.stdout.readline() for _ in range(lines)]
    assert all(told), "the writer ended by itself"
    time.sleep(wait_s)
    writer.send_signal(signal.SIGKILL)
    rest = writer.stdout.read().splitlines()
    writer.wait()
    writer.stdout.close()
    return lines + len([line for line in rest if line])


def assert_whole(path: Path) -> int:
    """Every take in the log is a whole take; how many there are."""
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert db.execute("PRAGMA foreign_key_check").fetchone() is None
        takes = {row[0] for row in db.execute("SELECT take_id FROM take")}
        for table in JUDGED:
            query = f"SELECT take_id, count(*) FROM {table} GROUP BY take_id"
            assert dict(db.execute(query)) == dict.fromkeys(takes, WHOLE_TAKE[table]), table
    return len(takes)


def test_the_check_for_whole_takes_sees_half_a_take(log, make_report) -> None:
    log.add(make_report())
    assert assert_whole(log.path) == 1
    with closing(sqlite3.connect(log.path)) as db:
        db.execute("DELETE FROM turn WHERE i > 4")
        db.commit()
    with pytest.raises(AssertionError, match="turn"):
        assert_whole(log.path)


def test_a_killed_writer_leaves_every_take_it_told_of_and_no_half_take(tmp_path) -> None:
    path = tmp_path / "log.sqlite"
    told = kill_after(start_writer(path, "bench 3", 10_000), lines=5, wait_s=0.013)
    open_log(path)  # a page that opens the log afterwards
    assert told <= assert_whole(path) <= told + 1


@pytest.mark.slow
@pytest.mark.parametrize("with_sound", [False, True])
def test_killed_many_times_over_the_log_stays_whole(tmp_path, with_sound: bool) -> None:
    path = tmp_path / "log.sqlite"
    kept = 0
    for number in range(8):
        writer = start_writer(path, f"bench {number}", 10_000, with_sound=with_sound)
        kept += kill_after(writer, lines=2, wait_s=0.003 * number)
        assert kept <= assert_whole(path) <= kept + 1
        kept = assert_whole(path)
    log = open_log(path)
    for player in log.players():
        log.forget(player.nickname)
    assert assert_whole(path) == 0
    folder = sound_folder(path)
    assert not folder.exists() or not list(folder.iterdir())


def test_a_killed_writer_holds_no_lock(tmp_path, make_report) -> None:
    """A lock that is held would be waited for, and then be told as an error."""
    path = tmp_path / "log.sqlite"
    kill_after(start_writer(path, "bench 3", 10_000), lines=2, wait_s=0.0)
    log = open_log(path)
    log.add(make_report(1), player="bench 4")
    assert "bench 4" in {player.nickname for player in log.players()}


def test_two_pages_writing_at_once_lose_nothing(tmp_path) -> None:
    path = tmp_path / "log.sqlite"
    writers = [start_writer(path, f"bench {number}", 40) for number in (1, 2)]
    for writer in writers:
        assert len(writer.communicate()[0].splitlines()) == 40
        assert writer.returncode == 0
    assert assert_whole(path) == 80
    assert [player.takes for player in open_log(path).players()] == [40, 40]


def test_a_log_that_another_page_makes_meanwhile_is_ours(tmp_path) -> None:
    path, made = tmp_path / "log.sqlite", []

    def meanwhile(statement: str) -> None:
        if "sqlite_master" in statement and not made:
            made.append(open_log(path))

    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.set_trace_callback(meanwhile)
        check_ours(db, path=path)
    assert made


def test_a_log_that_stays_locked_is_said_to_be_busy(log, make_report, monkeypatch) -> None:
    monkeypatch.setattr("labcore.practice_log.connect.WAIT_S", 0.05)
    with closing(sqlite3.connect(log.path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(LabError, match="another page"):
            log.add(make_report())
    log.add(make_report())
    assert len(log.history("bench 3")) == 1


# --- many takes ---


def fill(path: Path, *, takes: int, benches: int = 8) -> None:
    """Many takes, one an hour back from the newest, written without the log's own code."""
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA synchronous = OFF")
        for player in range(benches):
            name = (f"p{player}", f"bench {player}", "2026-01-01T00:00:00.000")
            db.execute(
                "INSERT INTO player (player_id, nickname, created_utc) VALUES (?, ?, ?)", name
            )
        keys = [f"{number:08x}" for number in range(takes)]
        times = [
            (NEWEST_TAKE - timedelta(hours=number)).isoformat(timespec="milliseconds")
            for number in range(takes)
        ]
        db.executemany(
            "INSERT INTO take (take_id, player_id, recorded_utc, utc_offset_min, software)"
            " VALUES (?, ?, ?, 0, '')",
            [(key, f"p{n % benches}", times[n]) for n, key in enumerate(keys)],
        )
        for table, columns in (
            ("measure", "note, name, value, unit, n) SELECT take_id, -1, 'm' || v, v, '', 9"),
            ("turn", "i, note, time_s, hz, error_cents) SELECT take_id, v, 0, v, 220, 1"),
        ):
            count = {"measure": 20, "turn": 60}[table]
            numbers = (
                "(WITH RECURSIVE c(v) AS (SELECT 0 UNION ALL SELECT v + 1 FROM c "
                f"WHERE v < {count - 1}) SELECT v FROM c)"
            )
            db.execute(f"INSERT INTO {table} (take_id, {columns} FROM take, {numbers}")
        db.commit()


def seconds(errand) -> float:
    def once() -> float:
        begun = time.perf_counter()
        errand()
        return time.perf_counter() - begun

    return median(once() for _ in range(5))


@pytest.mark.slow
@pytest.mark.parametrize("errand", ["last three", "add", "three days", "task"])
def test_ten_thousand_takes_answer_about_as_fast_as_a_hundred(tmp_path, make_report, errand):
    times = {}
    for takes in (100, 10_000):
        log = open_log(tmp_path / f"{takes}.sqlite")
        fill(log.path, takes=takes)
        todo = {
            "last three": lambda log=log: log.history("bench 3", last=3),
            "add": lambda log=log: log.add(make_report(), player="bench 3"),
            "three days": lambda log=log: log.history("bench 3", since=THREE_DAYS_BEFORE),
            "task": lambda log=log: log.task("bench 3"),
        }
        times[takes] = seconds(todo[errand])
    assert times[10_000] < QUICK_GROWTH * times[100], times


@pytest.mark.slow
def test_the_whole_history_of_a_bench_costs_the_same_however_many_others_there_are(tmp_path):
    alone, among = open_log(tmp_path / "a.sqlite"), open_log(tmp_path / "b.sqlite")
    fill(alone.path, takes=1250, benches=1)
    fill(among.path, takes=10_000)
    assert len(alone.history("bench 0")) == len(among.history("bench 0")) == 1250
    times = [seconds(lambda log=log: log.history("bench 0")) for log in (alone, among)]
    assert times[1] < COMPANY_COST * times[0], times
    print("1250 takes, alone and among 10,000:", times)
