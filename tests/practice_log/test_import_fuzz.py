"""Whatever a file to bring in holds: one `LabError` and the log as it was, or a log that works.

What came in must be shown, exported and forgotten ever after. A few examples run by default,
hundreds under the mark ``slow``.
"""

import copy
import csv
import io
import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labcore.errors import LabError
from labcore.exercises import by_finger, by_week, like_the_last, next_exercise, since_last_week
from labcore.figures.progress import progress_figure, progress_words
from labcore.panels.log_words import exercise_html, player_words, takes_html, task_words
from labcore.practice_log import PracticeLog, open_log
from labcore.practice_log.connect import migrate
from labcore.practice_log.schema import NEWEST, TABLES

COMMON: dict[str, Any] = {
    "deadline": None,
    "derandomize": True,
    "suppress_health_check": list(HealthCheck),
}
ODD = st.sampled_from(
    [None, True, 0, -1, 7, 10**30, -(2**63), 2**63 - 1, 1e999, -1e308, 1e-320, 0.5, float("nan"),
     "", " ", "nan", "../../up", "/etc/hosts", "a\0b", "\ud800", "\u202eback", "x" * 20_000,
     "0001-01-01T00:00:00.000", "9999-12-31T23:59:59.999", "2026-03-02T19:30:00.000",
     "2026-13-45", "bench 3", "high", "<b>", "=1+1", [], {}, [[1]], {"take_id": 1}]
)  # fmt: skip
ODD_TEXTS = st.sampled_from(
    ["", "nan", "inf", "-inf", "1e400", "1e308", "1" * 5000, "1_0", "٣", "x" * 200_000, "\0", '"',
     "../../up", "0001-01-01T00:00:00.000", "bench 3", "'", "=1+1", "a\nb", "\u202e", "0x10"]
)  # fmt: skip


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory, make_report: Any, day: Any) -> dict[str, Any]:
    """A log of three players as it is exported, and a log of another one to bring it into."""
    folder = tmp_path_factory.mktemp("written")
    log = open_log(folder / "log.sqlite")
    for number, label in enumerate(["bench 3", "Zoë", "=1+1"]):
        key = log.add(make_report(number), player=label, recorded=day(number), remark="a remark",
                      exercise="triplets-72")  # fmt: skip
        log.add_remark(key, words="at this wave", wave=2)
        log.set_task(label, exercise="eighths-60", set_at=day(number), due_on=day(9).date())
        log.set_target(label, take_id=key)
    mine = open_log(folder / "mine.sqlite")
    mine.add(make_report(99), player="bench 3", recorded=day(20))
    return {
        "sqlite": log.export_to(folder / "out.sqlite").read_bytes(),
        "json": json.loads(log.export_json(folder / "out.json").read_text(encoding="utf-8")),
        "csv": log.export_csv(folder / "out.csv").read_text(encoding="utf-8"),
        "mine": mine.path.read_bytes(),
    }


def dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as db:
        return list(db.iterdump())


def check_use(log: PracticeLog, *, folder: Path) -> None:
    """Show all of it, carry it on to another log, and forget everybody."""
    for player in log.players():
        takes = log.history(player.nickname)
        findings = [log.findings(take.take_id) for take in takes]
        remarks = [log.remarks(take.take_id) for take in takes]
        for take in takes:
            log.notes(take.take_id)
            assert log.sound(take.take_id) is None
        takes_html(takes, findings=findings, remarks=remarks)
        player_words(player)
        task_words(log.task(player.nickname))
        log.target(player.nickname)
        like = like_the_last(takes)
        for groups in (by_week(like), by_finger(like)):
            progress_figure(groups).to_json()
            assert "nan" not in progress_words(groups).split()
        since_last_week(like)
        exercise_html(next_exercise(None, takes, now=datetime(2026, 4, 1, tzinfo=UTC)))
    carried = open_log(folder / "carried.sqlite")
    assert carried.import_json(log.export_json(folder / "on.json")).takes == _takes(log)
    log.export_csv(folder / "on.csv")
    for player in log.players():
        log.forget(player.nickname)
    assert _takes(log) == 0


def _takes(log: PracticeLog) -> int:
    return sum(player.takes for player in log.players())


def bring_in(data: bytes, *, ending: str, mine: bytes) -> bool:
    """True if it came in and works, False if it was refused and nothing has changed."""
    with TemporaryDirectory() as place:
        folder = Path(place)
        source, path = folder / f"in.{ending}", folder / "log.sqlite"
        source.write_bytes(data)
        path.write_bytes(mine)
        log, before = open_log(path), dump(path)
        road = {"json": log.import_json, "csv": log.import_csv, "sqlite": log.merge_from}[ending]
        said = ""
        try:
            road(source)
        except LabError as error:
            said = str(error)
        assert source.read_bytes() == data
        assert sorted(file.name for file in folder.iterdir()) == [source.name, path.name]
        if not said:
            check_use(log, folder=folder)
            return True
        assert 10 < len(said) < 900
        assert dump(path) == before
        return False


# --- what may be wrong ------------------------------------------------------------------------


@st.composite
def changed_bytes(draw: st.DrawFn, data: bytes) -> bytes:
    """Bytes changed, mostly near the head and at the heads of pages, cut out, put in, cut off."""
    changed = bytearray(data)
    for _ in range(draw(st.integers(1, 5))):
        page = 4096 * draw(st.integers(0, len(data) // 4096))
        places = st.integers(0, 110) | st.integers(page, page + 40) | st.integers(0, len(data))
        place = min(draw(places), len(changed))
        what = draw(st.sampled_from(["set", "set", "set", "number", "put in", "cut out", "cut"]))
        if what == "set":
            changed[place : place + 1] = draw(st.binary(min_size=1, max_size=2))
        elif what == "number":
            changed[place : place + 4] = draw(st.sampled_from([0, 1, 2**31, 2**32 - 1])).to_bytes(4)
        elif what == "put in":
            changed[place:place] = draw(st.binary(min_size=1, max_size=40))
        elif what == "cut out":
            del changed[place : place + draw(st.integers(1, 40))]
        else:
            del changed[place:]
    return bytes(changed)


@st.composite
def changed_json(draw: st.DrawFn, whole: dict[str, Any]) -> bytes:
    """Values of a wrong kind, rows twice, columns gone or new, and keys that stand twice."""
    changed = copy.deepcopy(whole)
    for _ in range(draw(st.integers(1, 3))):
        table = draw(st.sampled_from(TABLES))
        rows = changed["tables"].get(table)
        if not isinstance(rows, list) or not rows or not isinstance(rows[-1], dict):
            continue
        row = draw(st.sampled_from(rows))
        what = draw(st.sampled_from(["set", "set", "set", "set", "set", "drop", "twice", "table"]))
        if what == "set":
            row[draw(st.sampled_from(sorted(row) or ["new"]))] = draw(ODD)
        elif what == "drop":
            row.pop(draw(st.sampled_from(sorted(row) or ["new"])), None)
        elif what == "twice":
            rows.append(copy.deepcopy(row))
        else:
            changed["tables"][table] = draw(ODD)
    text = json.dumps(changed)
    if draw(st.booleans()):
        again = draw(
            st.sampled_from(['"form": 1, ', '"form": 3, ', '"form": "x", ', '"tables": 0,'])
        )
        text = "{" + again + text[1:]
    return text.encode()


@st.composite
def changed_csv(draw: st.DrawFn, text: str) -> bytes:
    """Cells of a wrong kind, missing and surplus."""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    for _ in range(draw(st.integers(1, 3))):
        row = rows[draw(st.integers(0, len(rows) - 1))]
        place = draw(st.integers(0, len(row)))
        row[place : place + draw(st.sampled_from([1, 1, 1, 0, 2]))] = [draw(ODD_TEXTS)]
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue().encode("utf-8", errors="replace")


@st.composite
def changed_by_sql(draw: st.DrawFn, data: bytes) -> bytes:
    """A whole database, with values that no lesson writes, or with more in it than tables."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "a.sqlite"
        path.write_bytes(data)
        with closing(sqlite3.connect(path)) as db:
            for statement, given in draw(st.lists(_statements(), min_size=1, max_size=3)):
                try:
                    db.execute(statement, given)
                except (sqlite3.Error, OverflowError, ValueError):
                    continue  # the database itself does not take it
            db.commit()
        return path.read_bytes()


@st.composite
def _statements(draw: st.DrawFn) -> tuple[str, tuple[Any, ...]]:
    table = draw(st.sampled_from(TABLES))
    if draw(st.integers(0, 4)) == 0:
        return draw(st.sampled_from([
            "CREATE TRIGGER t AFTER INSERT ON take BEGIN DELETE FROM player; END",
            "CREATE VIEW v AS SELECT 1", "CREATE TABLE more (x)", "DROP TABLE remark",
            "ALTER TABLE take ADD COLUMN more TEXT", "PRAGMA user_version = 1",
            "PRAGMA user_version = 0", "PRAGMA user_version = -1", "PRAGMA application_id = 7",
            "ALTER TABLE player RENAME TO p", "PRAGMA journal_mode = WAL",
        ])), ()  # fmt: skip
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        migrate(db, upto=NEWEST)
        columns = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
    value = draw(ODD.filter(lambda v: not isinstance(v, list | dict)))
    return f"UPDATE {table} SET {draw(st.sampled_from(columns))} = ?", (value,)


def _any_change(written: dict[str, Any]) -> st.SearchStrategy[tuple[str, bytes]]:
    as_json = json.dumps(written["json"]).encode()
    return st.one_of(
        changed_json(written["json"]).map(lambda data: ("json", data)),
        changed_csv(written["csv"]).map(lambda data: ("csv", data)),
        changed_by_sql(written["sqlite"]).map(lambda data: ("sqlite", data)),
        changed_bytes(written["sqlite"]).map(lambda data: ("sqlite", data)),
        changed_bytes(as_json).map(lambda data: ("json", data)),
        changed_bytes(written["csv"].encode()).map(lambda data: ("csv", data)),
    )


def test_a_file_in_write_ahead_form_is_refused_and_nothing_is_written_beside_it(
    written: dict[str, Any], tmp_path: Path
) -> None:
    path = tmp_path / "live.sqlite"
    path.write_bytes(written["sqlite"])
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA journal_mode = WAL")
    assert not bring_in(path.read_bytes(), ending="sqlite", mine=written["mine"])


def test_whole_files_come_in_and_work(written: dict[str, Any]) -> None:
    mine = written["mine"]
    assert bring_in(written["sqlite"], ending="sqlite", mine=mine)
    assert bring_in(json.dumps(written["json"]).encode(), ending="json", mine=mine)
    assert bring_in(written["csv"].encode(), ending="csv", mine=mine)


@settings(max_examples=60, **COMMON)
@given(st.data())
def test_a_changed_file_works_or_changes_nothing(written: dict[str, Any], data: Any) -> None:
    ending, content = data.draw(_any_change(written))
    bring_in(content, ending=ending, mine=written["mine"])


@pytest.mark.slow
@settings(max_examples=700, **COMMON)
@given(st.data())
def test_many_changed_files_work_or_change_nothing(written: dict[str, Any], data: Any) -> None:
    ending, content = data.draw(_any_change(written))
    bring_in(content, ending=ending, mine=written["mine"])
