"""The extras of lesson 07: the click, the mended way home, millimetres, the log."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from labcore.analysis import hear, judge
from labcore.audio import wav_bytes
from labcore.errors import LabError
from labcore.findings import landing
from labcore.model import (
    Context,
    Finding,
    Landing,
    Recording,
    Report,
    Take,
    Task,
    Technique,
    Verdict,
)
from labcore.panels import take_extras
from labcore.panels.demo import DemoTake
from labcore.panels.hearing import homecoming_mended, with_click
from labcore.panels.take_extras import (
    MILLIMETRES,
    NO_PUSH,
    GuitarChoice,
    push_words,
)
from labcore.panels.take_panel import TakePanel
from labcore.physics.bending import bend_force_n
from labcore.physics.inverse import string_as_played

Demo = tuple[DemoTake, Recording, Take]


@pytest.fixture(scope="module")
def report(short_of_home: Demo) -> Report:
    demo, _, take = short_of_home
    return judge(take, Task(tempo_bpm=72.0, cycles_per_beat=3), context=demo.context)


def test_the_click_falls_on_every_beat(short_of_home: Demo, report: Report) -> None:
    recording = short_of_home[1]
    clicked = with_click(recording, report)
    assert clicked.samples.size == recording.samples.size
    scale = np.max(np.abs(clicked.samples)) / np.max(np.abs(recording.samples))
    added = np.abs(clicked.samples - min(scale, 1.0) * recording.samples)
    at = np.flatnonzero(added > 0.3 * np.max(added)) / recording.sample_rate_hz
    beats = np.unique(np.round((at - at[0]) * 72.0 / 60.0, 1))
    assert beats == pytest.approx(np.round(beats), abs=0.11)
    assert np.round(beats).max() >= recording.duration_s * 72.0 / 60.0 - 2


def test_there_is_no_click_to_add_without_a_tempo(short_of_home: Demo) -> None:
    _, recording, take = short_of_home
    with pytest.raises(LabError, match="No click is chosen"):
        with_click(recording, judge(take))


@pytest.mark.slow
def test_the_mended_take_comes_home(short_of_home: Demo, report: Report) -> None:
    mended = judge(hear(homecoming_mended(short_of_home[1], report)), report.task)

    def home(one: Report) -> int:
        return sum(landing(cycle) is Landing.HOME for cycle in one.cycles)

    assert home(report) == 0
    assert home(mended) > 0.8 * len(mended.cycles)


def test_millimetres_need_string_and_fret(report: Report) -> None:
    assert "where you played" in push_words(replace(report, context=Context()))
    told = push_words(report)
    assert "mm across the fret" in told
    assert "9-42" in told


def numbers(words: str) -> list[float]:
    return [float(found) for found in re.findall(r"\d+(?:\.\d+)?", words.split(":", 1)[1])]


def test_a_wave_that_stops_short_is_told_from_where_to_where(report: Report) -> None:
    told = push_words(report)  # it stops 42 cents above home
    swing_mm, _, start_mm, top_mm, newtons, _, top_g, start_g = numbers(told)[:8]
    assert start_mm > 3.0
    assert top_mm - start_mm == pytest.approx(swing_mm, abs=0.11)
    # The string pulls back as force(push), by the forward model of the same string.
    home_hz = report.cycles[0].home.hz if report.cycles[0].home else 0.0
    at = string_as_played(3, fret=9, plain_hz=home_hz)
    for push_mm, grams in ((top_mm, top_g), (start_mm, start_g)):
        force_n = float(bend_force_n(at, push_m=push_mm * 1e-3))
        assert 1000.0 * force_n / 9.80665 == pytest.approx(grams, rel=0.08)
    assert newtons == pytest.approx(top_g * 9.80665e-3, rel=0.03)


@pytest.mark.parametrize("technique", [*NO_PUSH])
def test_millimetres_are_silent_for_what_is_no_push(report: Report, technique: Technique) -> None:
    told = push_words(replace(report, task=replace(report.task, technique=technique)))
    assert not re.search(r"\d", told)


def test_millimetres_are_silent_where_the_pitch_went_below_the_plain_note(report: Report) -> None:
    under = Finding("direction", Verdict.WORK, "It goes below as well.", "a test")
    assert not re.search(r"\d", push_words(replace(report, findings=(under,))))


def test_millimetres_are_silent_for_notes_of_different_frets(report: Report) -> None:
    first, second, *rest = report.notes
    assert second.home is not None
    higher = replace(second, home=replace(second.home, hz=second.home.hz * 2 ** (2 / 12)))
    told = push_words(replace(report, notes=(first, higher, *rest)))
    assert "different frets" in told


def test_the_set_and_the_scale_move_the_answer_as_the_string_would(report: Report) -> None:
    light = numbers(push_words(report, on=GuitarChoice("9-42")))
    heavy = numbers(push_words(report, on=GuitarChoice("10-46")))
    short = numbers(push_words(report, on=GuitarChoice("9-42", scale_m=0.628)))
    assert "assumed" not in push_words(report, on=GuitarChoice("9-42"))
    assert heavy[4] > 1.05 * light[4]  # a thicker string asks for more force
    assert short[0] < light[0]  # a shorter one for less way
    capo = numbers(push_words(report, on=GuitarChoice("9-42", capo_fret=4)))
    assert capo[0] < light[0]  # as does one that is held nearer


def test_the_guitar_is_asked_in_the_fold_and_kept_for_the_next_take(
    short_of_home: Demo, open_panel: Callable[..., TakePanel]
) -> None:
    extras = take_extras.take_extras()
    panel = open_panel(extras=extras)
    panel.controls.guess.value = "few"
    handle, inside = panel._added[MILLIMETRES].children
    handle.is_open = True
    assumed = inside.children[0].value
    assert "are assumed" in assumed
    strings, _, _ = extras.asked[MILLIMETRES]
    strings.value = "10-46"
    chosen = inside.children[0].value
    assert "assumed" not in chosen
    panel.open_file("mine.wav", wav_bytes(short_of_home[1]))
    panel.controls.guess.value = "few"
    panel.controls.string.value, panel.controls.fret.value = "3", "9"
    assert inside.children[0].value == chosen


def test_nothing_is_kept_without_a_nickname(short_of_home: Demo, report: Report) -> None:
    for keep in take_extras.take_extras().keep.values():
        with pytest.raises(LabError, match="nickname"):
            keep(short_of_home[1], replace(report, context=Context()))


@pytest.mark.parametrize(
    ("button", "has_sound"), [("keep in the log", False), ("keep it with its sound", True)]
)
def test_a_kept_take_is_in_the_log(
    short_of_home: Demo,
    report: Report,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    button: str,
    has_sound: bool,
) -> None:
    log = take_extras.open_log(tmp_path / "log.sqlite")
    monkeypatch.setattr(take_extras, "open_log", lambda: log)
    said = take_extras.take_extras().keep[button](short_of_home[1], report)
    (kept,) = log.history("bench 1")
    assert "bench 1" in said
    assert (log.sound(kept.take_id) is not None) is has_sound
