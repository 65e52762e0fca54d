"""Hear it: the take, the click, and one thing mended at a time; measured when heard again."""

from dataclasses import replace

import numpy as np
import pytest

from labcore.analysis import hear, judge
from labcore.audio import load_recording
from labcore.errors import LabError
from labcore.model import Finding, Floats, Recording, Report, Take, Task, Verdict
from labcore.panels.demo import DemoTake, demo_take
from labcore.panels.hearing import (
    HEARINGS,
    fault_twice_as_large,
    homecoming_mended,
    set_on_the_click,
    width_evened,
)
from labcore.synthesis import even_width, every_wave_home, on_the_grid, retuned
from labcore.units import cents_between

Demo = tuple[DemoTake, Recording, Take]
PITCH_TOLERANCE_CENTS = 2.0
TIME_TOLERANCE_S = 0.005
AFTER_PLUCK_S, BEFORE_END_S = 0.2, 0.06  # where the tracker has no full view


@pytest.fixture(scope="module")
def report(short_of_home: Demo) -> Report:
    demo, _, take = short_of_home
    return judge(take, Task(tempo_bpm=72.0, cycles_per_beat=3), context=demo.context)


@pytest.mark.parametrize("words", HEARINGS)
def test_every_hearing_is_a_sound_as_long_as_the_take(
    words: str, short_of_home: Demo, report: Report
) -> None:
    recording = short_of_home[1]
    made = HEARINGS[words](recording, report)
    assert made.samples.size == recording.samples.size
    assert made.sample_rate_hz == recording.sample_rate_hz
    assert np.max(np.abs(made.samples)) <= 1.0
    assert not np.allclose(made.samples, recording.samples, atol=1e-3)


def test_without_a_click_nothing_is_set_on_it(short_of_home: Demo) -> None:
    _, recording, take = short_of_home
    with pytest.raises(LabError, match="No click is chosen"):
        set_on_the_click(recording, judge(take))


def test_the_fault_that_is_named_is_the_one_made_larger(
    short_of_home: Demo, report: Report
) -> None:
    """Waves that stop short stop shorter still; with the finding overruled nothing is left."""
    recording = short_of_home[1]
    larger = fault_twice_as_large(recording, report)
    target_hz = every_wave_home(report, strength=-1.0)
    same = retuned(recording, contour=report.take.contour, target_hz=target_hz)
    assert np.array_equal(larger.samples, same.samples)
    settled = tuple(replace(f, verdict=Verdict.SETTLED) for f in report.findings)
    with pytest.raises(LabError, match="Nothing stands out"):
        fault_twice_as_large(recording, replace(report, findings=settled))


def test_a_finding_that_was_overruled_is_not_made_larger(
    short_of_home: Demo, report: Report
) -> None:
    said = (Finding("return", Verdict.WORK, "", "", overruled_by="it is meant"),)
    with pytest.raises(LabError, match="Nothing stands out"):
        fault_twice_as_large(short_of_home[1], replace(report, findings=said))


# --- heard again ---------------------------------------------------------------------------------


def inside_notes(report: Report, *, values: Floats) -> np.ndarray:
    """Frames away from plucks and ends where ``values`` are known."""
    time_s = report.take.contour.time_s
    inside = np.zeros(time_s.size, dtype=bool)
    for note in report.take.notes:
        first_s, last_s = note.onset_s + AFTER_PLUCK_S, note.offset_s - BEFORE_END_S
        inside |= (time_s > first_s) & (time_s < last_s)
    return inside & np.isfinite(values)


def lag_s(target: Floats, heard: Floats, *, inside: np.ndarray, step_s: float) -> float:
    """By how much the heard line lies behind the target: the shift at which they differ least."""
    frames = np.flatnonzero(inside)[8:-8]
    shifts = np.arange(-6, 7)
    misfit = [np.nanmean((heard[frames + k] - target[frames]) ** 2) for k in shifts]
    return float(shifts[int(np.argmin(misfit))]) * step_s


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bench1_stops_short", "bench4_uneven_width"])
@pytest.mark.parametrize("mend", [every_wave_home, even_width, on_the_grid])
@pytest.mark.parametrize("strength", [1.0, -1.0])
def test_what_was_meant_is_what_is_heard_again(name: str, mend: object, strength: float) -> None:
    demo = demo_take(name)
    recording = load_recording(demo.path)
    report = judge(hear(recording), demo.task)
    target_hz = mend(report, strength=strength)  # type: ignore[operator]
    made = retuned(recording, contour=report.take.contour, target_hz=target_hz)
    again = hear(made, clicks=report.take.clicks).contour
    target = cents_between(target_hz, 330.0)
    heard = cents_between(again.frequency_hz, 330.0)
    inside = inside_notes(report, values=heard - target)
    assert inside.sum() > 1000
    off = np.abs(heard - target)[inside]
    assert np.percentile(off, 99) < PITCH_TOLERANCE_CENTS
    assert abs(lag_s(target, heard, inside=inside, step_s=again.step_s)) <= TIME_TOLERANCE_S


@pytest.mark.slow
def test_each_mend_mends_its_own_measure_and_leaves_the_others(
    short_of_home: Demo, report: Report
) -> None:
    recording = short_of_home[1]
    clicks = report.take.clicks

    def judged(made: Recording) -> Report:
        return judge(hear(made, clicks=clicks), report.task)

    home, even, grid = (
        judged(f(recording, report)) for f in (homecoming_mended, width_evened, set_on_the_click)
    )
    values = [
        [getattr(one.measures, row).value for row in ("return_to_pitch", "extent_evenness", "lock")]
        for one in (report, home, even, grid)
    ]
    before, at_home, evened, locked = np.array(values)
    assert abs(at_home[0]) < PITCH_TOLERANCE_CENTS < before[0]
    assert evened[1] < 1.0 < before[1]
    assert locked[2] > max(before[2], 0.99)
    assert evened[0] == pytest.approx(before[0], abs=1.0)
    assert locked[0] == pytest.approx(before[0], abs=1.0)
