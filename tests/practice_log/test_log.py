"""What goes into the log comes out as it was, and what is forgotten is gone."""

import os
import sqlite3
import stat
from contextlib import closing
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest

from labcore.audio import recording_from_samples
from labcore.errors import LabError
from labcore.exercises import next_exercise
from labcore.exercises.past import HeldValue, PastTake
from labcore.practice_log import open_log, rows
from labcore.practice_log.places import default_path, sound_folder

HOSTILE = [
    "Robert'); DROP TABLE take;--",
    '"; DELETE FROM player; --',
    "<script>alert('bench')</script>",
    "=HYPERLINK(0)",
    "'=1+1",
    "../../etc/passwd",
    "%s %d {0} {player}",
    "bench \U0001f6f6 three",
    "Ärger über Çedille",
    "NULL",
    "0",
    "\\",
]


def as_kept(report, *, recorded, take_id, exercise=None, remark="") -> PastTake:
    return PastTake(
        recorded,
        report.task,
        report.context,
        {name: value for name, value in report.measures.named() if value is not None},
        tuple(HeldValue(fit.named, fit.start_s, fit.end_s) for fit in report.stretches),
        exercise,
        take_id,
        report.take.facts.sha256,
        remark,
    )


def test_a_take_comes_back_as_it_went_in(log, make_report, day) -> None:
    report = make_report()
    key = log.add(report, recorded=day(0), exercise="triplets-72", remark="cold hands")
    expected = as_kept(
        report, recorded=day(0), take_id=key, exercise="triplets-72", remark="cold hands"
    )
    assert log.history("bench 3") == (expected,)
    assert log.findings(key) == report.findings


def test_notes_turns_and_plain_parts_come_back_for_a_later_judgement(log, make_report) -> None:
    report = make_report()
    key = log.add(report)
    ((note, home),) = log.notes(key)
    assert note == report.take.notes[0]
    asked = report.notes[0].home
    assert (home.hz, home.error_cents, home.place, home.source) == (
        asked.hz,
        asked.error_cents,
        asked.place,
        asked.source,
    )


def test_history_is_in_order_and_can_be_cut(log, make_report, day) -> None:
    for number in (2, 0, 1):
        log.add(make_report(number), recorded=day(number))
    assert [take.recorded for take in log.history("bench 3")] == [day(0), day(1), day(2)]
    assert [take.recorded for take in log.history("bench 3", last=2)] == [day(1), day(2)]
    assert [take.recorded for take in log.history("bench 3", since=day(2))] == [day(2)]


def test_the_players_own_day_is_kept(log, make_report) -> None:
    late = datetime(2026, 3, 2, 23, 30, tzinfo=timezone(timedelta(hours=-5)))
    log.add(make_report(), recorded=late)
    assert log.history("bench 3")[0].recorded.date() == date(2026, 3, 2)
    assert log.history("bench 3")[0].recorded == late


@pytest.mark.parametrize("recorded", ["2026-03-02", date(2026, 3, 2)])
def test_a_day_that_is_no_moment_is_refused(log, make_report, recorded) -> None:
    with pytest.raises(LabError, match="is no moment"):
        log.add(make_report(), recorded=recorded)
    assert log.players() == ()


def test_the_same_sound_kept_again_is_judged_anew_and_not_kept_twice(log, make_report, day) -> None:
    first = log.add(make_report(1, share=60.0), recorded=day(0), remark="first look")
    again = log.add(make_report(1, share=80.0), recorded=day(1))
    assert again == first
    (take,) = log.history("bench 3")
    assert take.recorded == day(0)
    assert take.measures["returned_share"].value == 80.0
    assert take.remark == "first look"
    assert len(log.findings(first)) == 2


def test_two_players_may_keep_the_same_sound(log, make_report) -> None:
    assert log.add(make_report(), player="bench 1") != log.add(make_report(), player="bench 2")


def test_the_log_feeds_the_next_exercise(log, make_report, day) -> None:
    log.add(make_report(1), recorded=day(0), exercise="ones-60")
    found = next_exercise(None, log.history("bench 3"), now=day(0))
    assert found.rung.name == "ones-60"


def test_rows_carry_value_spread_error_unit_and_count(make_report) -> None:
    rate = next(row for row in rows(make_report(7)) if row["name"] == "rate")
    assert rate == {
        "take": "take 7.flac",
        "note": -1,
        "name": "rate",
        "value": 3.6,
        "spread": 0.1,
        "error": 0.02,
        "unit": "Hz",
        "n": 4,
    }


# --- players ---


def test_players_are_listed_in_the_order_in_which_they_came(log, make_report, day) -> None:
    log.add(make_report(1), player="zither", recorded=day(0))
    log.add(make_report(2), player="alto", recorded=day(1))
    log.add(make_report(3), player="zither", recorded=day(2))
    log.describe("zither", instrument="zither", strings="plain 0.010")
    assert [(p.nickname, p.takes, p.last) for p in log.players()] == [
        ("zither", 2, day(2)),
        ("alto", 1, day(1)),
    ]
    assert (log.players()[0].instrument, log.players()[0].strings) == ("zither", "plain 0.010")


@pytest.mark.parametrize("label", HOSTILE)
def test_a_hostile_label_is_only_a_label(log, make_report, label: str) -> None:
    log.add(make_report(1), player="bench 1")
    key = log.add(make_report(2), player=label, remark=label)
    log.add_remark(key, words=label, by=label)
    log.set_task(label, words=label)
    assert log.history(label)[0].context.player == label
    assert log.remarks(key)[0].words == label
    assert log.task(label).words == label
    assert log.forget(label) == 1
    assert [player.nickname for player in log.players()] == ["bench 1"]


@pytest.mark.parametrize(
    ("label", "words"),
    [
        ("", "no player"),
        (" \n\t ", "no player"),
        ("x" * 61, "61 letters"),
        ("bench\x003", "U\\+0000"),
        ("bench\x1b[31m", "U\\+001B"),
        ("\ud800", "U\\+D800"),
        ("\u202ebench", "U\\+202E"),
    ],
)
def test_a_label_that_cannot_be_shown_is_refused_in_a_sentence(log, make_report, label, words):
    with pytest.raises(LabError, match=words):
        log.add(make_report(), player=label)
    assert log.players() == ()


def test_one_label_spelt_in_two_ways_is_one_player(log, make_report) -> None:
    log.add(make_report(1), player="Zoe\u0308  bench")
    log.add(make_report(2), player=" Zo\u00eb bench ")
    assert [(player.nickname, player.takes) for player in log.players()] == [("Zo\u00eb bench", 2)]


def test_a_player_can_be_renamed_but_not_onto_another(log, make_report) -> None:
    log.add(make_report(1), player="bench 1")
    log.add(make_report(2), player="bench 2")
    log.rename("bench 1", to="window seat")
    assert len(log.history("window seat")) == 1
    with pytest.raises(LabError, match="already"):
        log.rename("window seat", to="bench 2")


def test_an_unknown_player_is_said_to_be_unknown(log) -> None:
    with pytest.raises(LabError, match="no player called 'nobody'"):
        log.history("nobody")


# --- forgetting ---


def test_a_forgotten_player_is_not_in_the_file_any_more(log, make_report) -> None:
    log.add(make_report(1), player="bench 1")
    label = "a very particular label"
    keys = [log.add(make_report(i), player=label, remark="quite a secret") for i in range(2, 60)]
    log.add_remark(keys[0], words="another secret thing")
    log.set_task(label, words="practise in secret")
    assert label.encode() in log.path.read_bytes()
    assert log.forget(label) == 58
    left = log.path.read_bytes()
    for word in (label, "secret"):
        assert word.encode() not in left
    with closing(sqlite3.connect(log.path)) as db:
        for table in ("note", "turn", "measure", "finding", "plain_part", "stretch"):
            ids = {row[0] for row in db.execute(f"SELECT DISTINCT take_id FROM {table}")}
            assert len(ids) == 1, table
    assert len(log.history("bench 1")) == 1


def test_a_single_take_can_be_forgotten(log, make_report) -> None:
    first, second = log.add(make_report(1)), log.add(make_report(2))
    log.set_target("bench 3", take_id=first)
    log.forget_take(first)
    assert [take.take_id for take in log.history("bench 3")] == [second]
    assert log.target("bench 3") is None
    with pytest.raises(LabError, match="no take with the key"):
        log.findings(first)


# --- sound ---


def sound(seed: int = 1):
    samples = np.random.default_rng(seed).uniform(-0.3, 0.3, 44100)
    return recording_from_samples(samples, sample_rate_hz=44100.0, name="a take")


def report_of(recording, make_report):
    import dataclasses

    report = make_report()
    return dataclasses.replace(report, take=dataclasses.replace(report.take, facts=recording.facts))


def test_sound_is_kept_only_when_asked_and_goes_when_told(log, make_report) -> None:
    recording = sound()
    report = report_of(recording, make_report)
    key = log.add(report)
    assert log.sound(key) is None
    assert log.add(report, sound=recording) == key
    kept = log.sound(key)
    np.testing.assert_allclose(kept.samples, recording.samples, atol=2.0**-15)
    assert "Sound is kept for 1" in " ".join(log.what_is_kept())
    log.forget_sound(key)
    assert log.sound(key) is None
    assert len(log.history("bench 3")) == 1


def test_the_wrong_sound_is_refused_and_nothing_is_kept(log, make_report) -> None:
    with pytest.raises(LabError, match="not the one the report is about"):
        log.add(make_report(), sound=sound())
    assert log.players() == ()


def test_forgetting_a_player_deletes_the_sound_and_what_a_crash_left(log, make_report) -> None:
    mine, theirs = sound(1), sound(2)
    log.add(report_of(mine, make_report), player="mine", sound=mine)
    kept = log.add(report_of(theirs, make_report), player="theirs", sound=theirs)
    folder = sound_folder(log.path)
    (folder / "0000-0000.flac").write_bytes(b"left over")
    log.forget("mine")
    assert [place.name for place in folder.iterdir()] == [f"{kept}.flac"]


@pytest.mark.parametrize("key", ["../log", "/etc/passwd", "a take"])
def test_a_made_up_key_never_becomes_a_path(log, key: str) -> None:
    with pytest.raises(LabError, match="not the key of a take"):
        log.sound(key)


# --- teacher ---


def test_one_task_with_a_date_and_the_newest_counts(log, day) -> None:
    log.set_task("bench 3", exercise="eighths-60", set_at=day(0), due_on=date(2026, 3, 9))
    log.set_task("bench 3", words="Sing first.", tempo_bpm=60.0, cycles_per_beat=2, set_at=day(1))
    task = log.task("bench 3")
    assert (task.words, task.tempo_bpm, task.cycles_per_beat) == ("Sing first.", 60.0, 2)
    with pytest.raises(LabError, match="task is empty"):
        log.set_task("bench 3")


def test_a_due_date_is_a_day_of_the_calendar(log, day) -> None:
    log.set_task("bench 3", exercise="eighths-60", set_at=day(0), due_on=date(2026, 3, 9))
    assert log.task("bench 3").due_on == date(2026, 3, 9)


def test_remarks_stand_at_a_wave_in_the_order_of_the_take(log, make_report) -> None:
    key = log.add(make_report())
    log.add_remark(key, words="late home", at_s=2.0, wave=3)
    log.add_remark(key, words="lovely wait", at_s=0.3, by="front desk")
    assert [(r.words, r.wave, r.written_by) for r in log.remarks(key)] == [
        ("lovely wait", None, "front desk"),
        ("late home", 3, "teacher"),
    ]
    with pytest.raises(LabError, match="remark is empty"):
        log.add_remark(key, words="  ")


def test_a_teachers_ear_stands_over_a_finding_which_stays_to_be_seen(log, make_report) -> None:
    key = log.add(make_report())
    log.overrule(key, kind="even_width", by="front desk")
    assert [finding.overruled_by for finding in log.findings(key)] == [None, "front desk"]
    with pytest.raises(LabError, match="no finding of the kind 'lock'"):
        log.overrule(key, kind="lock")


def test_a_teachers_take_can_be_the_target(log, make_report) -> None:
    model = log.add(make_report(1), player="front desk")
    log.set_target("bench 3", take_id=model)
    assert log.target("bench 3") == model
    log.set_target("bench 3", take_id=None)
    assert log.target("bench 3") is None


# --- the file ---


@pytest.mark.skipif(os.name != "posix", reason="file modes are a matter of POSIX")
def test_only_the_owner_may_read_the_log_its_exports_and_its_sound(tmp_path, make_report) -> None:
    before = os.umask(0)
    try:
        made, folders = _everything(tmp_path, make_report)
    finally:
        os.umask(before)
    assert len(made) == 5
    for path in made:
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path
    for folder in folders:
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700, folder


def _everything(tmp_path, make_report) -> tuple[list[Path], list[Path]]:
    log = open_log(tmp_path / "new folder" / "log.sqlite")
    recording = sound()
    log.add(report_of(recording, make_report), sound=recording)
    made = [log.path, log.export_to(tmp_path / "a.sqlite"), log.export_json(tmp_path / "a.json")]
    made += [log.export_csv(tmp_path / "a.csv"), *sound_folder(log.path).iterdir()]
    return made, [log.path.parent, sound_folder(log.path)]


@pytest.mark.skipif(os.name != "posix", reason="file modes are a matter of POSIX")
def test_a_log_that_everybody_could_read_is_closed_when_opened(tmp_path) -> None:
    path = open_log(tmp_path / "log.sqlite").path
    path.chmod(0o644)
    open_log(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_the_log_is_one_file_when_nobody_writes(log, make_report, tmp_path) -> None:
    log.add(make_report())
    assert [path.name for path in tmp_path.iterdir()] == ["log.sqlite"]


def test_the_usual_place_is_in_the_users_data_folder(monkeypatch, tmp_path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))  # what platformdirs reads on Linux
    assert default_path().name == "practice-log.sqlite"
    if os.name == "posix" and os.uname().sysname == "Linux":
        assert open_log().path.is_relative_to(tmp_path)


def test_a_folder_is_not_a_log(tmp_path) -> None:
    with pytest.raises(LabError, match="is a folder"):
        open_log(tmp_path)


def test_the_page_on_what_is_kept_says_where_and_how_much(log, make_report) -> None:
    log.add(make_report())
    said = " ".join(log.what_is_kept())
    assert str(log.path) in said
    assert "one take of one player:" in said
    assert "No sound is kept" in said
