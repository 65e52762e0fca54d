"""The panel of the log: it shows what is kept, writes what is asked, forgets only when told."""

import html
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from labcore.analysis import judge
from labcore.errors import LabError
from labcore.figures import look
from labcore.panels.keeping import keep_in
from labcore.panels.log_panel import LogDoor, LogPanel
from labcore.practice_log import PracticeLog, open_log

WEEKS = Path(__file__).parents[2] / "data_demo" / "bench6_weeks.json"


@pytest.fixture
def log(tmp_path: Path) -> PracticeLog:
    log = open_log(tmp_path / "log.sqlite")
    log.import_json(WEEKS)
    return log


@pytest.fixture
def panel(log: PracticeLog) -> LogPanel:
    return LogPanel(log)


def pictures(panel: LogPanel) -> list:
    return [panel._weeks.children[0], panel._fingers.children[0]]


def test_it_opens_with_weeks_fingers_and_the_next_exercise(panel: LogPanel) -> None:
    weeks, fingers = pictures(panel)
    assert "25 takes in 6 columns" in weeks.words
    assert "finger 1" in fingers.words
    assert panel.finger.value == "3"
    assert panel.finger.options == ["1", "2", "3", "4"]
    assert "Why:" in panel._exercise.value


def test_another_finger_shows_its_own_weeks(panel: LogPanel) -> None:
    panel.finger.value = "1"
    assert pictures(panel)[0].words.startswith("7 takes")


def test_an_empty_log_says_so_and_breaks_nothing(tmp_path: Path) -> None:
    panel = LogPanel(open_log(tmp_path / "empty.sqlite"))
    assert "no takes yet" in panel._weeks.children[0].value
    assert "Hold it plain" in panel._exercise.value
    panel._forget._handle_custom_msg("press", [])
    assert panel.forget_says.problem


def test_forgetting_needs_the_label_typed(panel: LogPanel) -> None:
    with pytest.raises(LabError, match="Type “bench 6”"):
        panel.forget()
    panel._typed.value = "bench 6"
    panel._forget._handle_custom_msg("press", [])
    assert panel.practice.players() == ()
    assert panel.forget_says.text == "Forgotten for good: bench 6, 37 takes."


def test_the_teachers_page_writes_into_the_log(panel: LogPanel) -> None:
    page = panel._teacher
    page.words.value, page.due.value = "Sing first.", "2026-04-20"
    page._press("set the task")
    page.instrument.value = "solid body"
    page._press("note instrument and strings")
    page.remark.value, page.wave.value = "late home", "3"
    page._press("write the remark")
    assert page.heard.value.startswith("Your plain note")  # a sentence, not a key
    page._press("overrule it")
    page._press("make it the target")
    log, newest = panel.practice, panel.takes[-1].take_id
    assert log.task("bench 6").words == "Sing first."
    assert log.remarks(newest)[0].wave == 2
    assert log.findings(newest)[0].overruled_by == "teacher"
    assert log.target("bench 6") == newest
    assert "wave 3: late home" in page._takes.value
    assert "solid body" in page._who.value


@pytest.mark.parametrize(
    ("box", "text", "button", "words"),
    [
        ("due", "next week", "set the task", "is no date"),
        ("wave", "0", "write the remark", "is no wave"),
        ("wave", "third", "write the remark", "is no wave"),
        ("remark", "", "write the remark", "remark is empty"),
        ("words", "", "set the task", "task is empty"),
    ],
)
def test_what_cannot_be_written_is_said_in_a_sentence(panel, box, text, button, words) -> None:
    page = panel._teacher
    page.words.value = page.remark.value = "something"
    getattr(page, box).value = text
    page._press(button)
    assert page.says.problem
    assert words in page.says.text


def test_what_users_wrote_is_shown_and_never_run(log: PracticeLog) -> None:
    hostile = "<img src=x onerror=alert(1)>"
    log.rename("bench 6", to=hostile)
    log.set_task(hostile, words=hostile)
    log.add_remark(log.history(hostile)[-1].take_id, words=hostile, by="a <b>")
    panel = LogPanel(log)
    shown = panel._teacher._who.value + panel._teacher._task.value + panel._teacher._takes.value
    assert "<img" not in shown + panel._kept.value
    assert html.escape(hostile) in shown


def test_the_take_panel_keeps_into_the_log(log, short_of_home) -> None:
    demo, recording, take = short_of_home
    keep = keep_in(log, player="bench 2")
    said = keep(recording, judge(take, demo.task))
    assert said == "Kept for “bench 2” in the log of this computer, its numbers only, no sound."
    assert len(log.history("bench 2")) == 1
    assert log.sound(log.history("bench 2")[0].take_id) is None


def test_the_panel_keeps_sound_only_when_told(log, short_of_home) -> None:
    demo, recording, take = short_of_home
    keep_in(log, player="bench 2", with_sound=True)(recording, judge(take, demo.task))
    assert log.sound(log.history("bench 2")[0].take_id) is not None


def test_no_log_is_made_before_something_is_kept_or_opened(tmp_path, short_of_home) -> None:
    demo, recording, take = short_of_home
    path = tmp_path / "own" / "log.sqlite"
    keep, door = keep_in(lambda: open_log(path), player="me"), LogDoor(lambda: open_log(path))
    assert not path.exists()
    keep(recording, judge(take, demo.task))
    assert path.exists()
    door.button._handle_custom_msg("press", [])
    assert "1 take" in door.children[0]._weeks.children[0].words


def test_the_readers_own_log_counts_the_days_since_its_last_take(tmp_path, short_of_home) -> None:
    demo, _, take = short_of_home
    log = open_log(tmp_path / "log.sqlite")
    long_ago = datetime.now(UTC) - timedelta(days=30)
    log.add(judge(take, demo.task), player="me", recorded=long_ago, exercise="triplets-72")
    assert "Welcome back" not in LogPanel(log)._exercise.value  # as on its last day
    door = LogDoor(lambda: log)
    door.enter()
    assert "Welcome back. After 30 days away" in door.children[0]._exercise.value


def test_two_takes_of_one_minute_can_both_be_chosen(tmp_path, short_of_home) -> None:
    demo, _, take = short_of_home
    log, minute = open_log(tmp_path / "log.sqlite"), datetime(2026, 3, 2, 20, 0, tzinfo=UTC)
    for second in (5, 40):
        facts = replace(take.facts, sha256=f"{second}")
        report = judge(replace(take, facts=facts), demo.task)
        log.add(report, player="bench 2", recorded=minute.replace(second=second))
    page = LogPanel(log)._teacher
    assert page.take.options == ["2026-03-02 20:00", "2026-03-02 20:00 (2)"]
    assert page._take.recorded.second == 40
    assert len(page.target.options) == 2


def test_a_log_that_cannot_be_opened_is_said_so_at_its_door(tmp_path) -> None:
    door = LogDoor(lambda: open_log(tmp_path))
    door.enter()
    assert "is a folder" in door.status.text


@pytest.mark.parametrize("ending", ["sqlite", "json", "csv"])
def test_a_log_goes_out_and_comes_back(panel, tmp_path, ending: str) -> None:
    panel.file.value = str(tmp_path / f"copy.{ending}")
    panel.guarded(panel.copy_out)
    assert "Copied into" in panel.status.text
    panel.practice.forget("bench 6")
    other = LogPanel(open_log(tmp_path / "other.sqlite"))
    other.file.value = panel.file.value
    other.guarded(other.bring_in)
    assert other.status.text == "Brought in: 37 takes, one new player."
    panel.guarded(panel.bring_in)
    assert "37 left out as forgotten here" in panel.status.text


def test_a_file_that_is_missing_or_unnamed_is_said_so(panel, tmp_path) -> None:
    for text, words in (("", "name of a file"), (str(tmp_path / "nowhere.json"), "cannot be read")):
        panel.file.value = text
        panel.guarded(panel.bring_in)
        assert panel.status.problem
        assert words in panel.status.text


def test_a_target_is_laid_over_a_take_when_both_kept_their_sound(log, short_of_home) -> None:
    demo, recording, take = short_of_home
    for player in ("desk", "bench 2"):
        keep_in(log, player=player, with_sound=True)(recording, judge(take, demo.task))
    panel = LogPanel(log)
    panel.player.value = "bench 2"
    page = panel._teacher
    page._press("lay the target over the take")
    assert "bench 2 has no target yet" in page.says.text
    page.target.value = next(words for words in page.target.options if words.startswith("desk"))
    page._press("make it the target")
    page._press("lay the target over the take")
    (picture,) = page._over.children
    assert look.MODEL_TAKE in picture.figure_json
    page._press("delete its sound")
    assert log.sound(log.history("bench 2")[0].take_id) is None
    assert page._over.children == ()
    page._press("lay the target over the take")
    assert "only numbers were kept" in page.says.text
