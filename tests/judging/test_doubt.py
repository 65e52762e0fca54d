"""What is not known well enough is not judged: doubts that once let a wrong finding through."""

from dataclasses import replace

import numpy as np
import pytest

from labcore.analysis import judge, notes_of
from labcore.findings import find, landing
from labcore.measures import measure
from labcore.model import (
    Home,
    HomeSource,
    Landing,
    Place,
    Report,
    Take,
    Task,
    Technique,
    Turn,
    TurnKind,
    Verdict,
    VibratoCycle,
)
from labcore.synthesis import Knots, Playing, waves
from labcore.units import shifted_hz
from tests.benchmark.findings import outcome_of, report_of
from tests.benchmark.findings_takes import FAIR, UNJUDGEABLE, known_take
from tests.judging.takes import bars, one_note
from tests.made import heard_contour

HOME_HZ = 200.0


def verdict(report: Report, kind: str) -> Verdict | None:
    return next((f.verdict for f in report.findings if f.kind == kind), None)


def wave_back_to(cents: float, *, home_error_cents: float) -> VibratoCycle:
    home = Home(HOME_HZ, home_error_cents, Place.BOTTOM, HomeSource.STRAIGHT)
    low = Turn(1.0, shifted_hz(HOME_HZ, cents), 0.1, TurnKind.LOW)
    high = Turn(1.1, shifted_hz(HOME_HZ, cents + 40.0), 0.1, TurnKind.HIGH)
    return VibratoCycle(0, low, high, replace(low, time_s=1.2), home)


@pytest.mark.parametrize(("off_cents", "found"), [
    (24.0, Landing.HOME), (40.0, Landing.NEARLY), (60.0, Landing.NOT_YET),
])  # fmt: skip
def test_doubt_of_home_can_only_bring_a_wave_nearer(off_cents: float, found: Landing) -> None:
    """24 cents off with 25 in doubt may be home; a doubt larger than that does not overshoot it."""
    wave = wave_back_to(off_cents, home_error_cents=12.5)
    assert landing(wave, doubt_cents=25.0) is found
    assert landing(wave, doubt_cents=500.0) is Landing.HOME


def test_a_creeping_plain_note_is_named_and_no_return_is_held_against_it() -> None:
    def line(bar: int) -> Knots:
        creep = tuple((0.04 * i, -95.0 * (1.0 - i / 20.0)) for i in range(20))
        return creep + waves(9, rate_hz=3.6, extent_cents=24.0, start_s=0.84, place=Place.MIDDLE)

    description = bars("creep", Playing(), seed=2, line=line)
    report = judge(heard_contour(description), Task(technique=Technique.ROLL))
    assert verdict(report, "plain_note") is Verdict.WORK
    assert verdict(report, "return") is not Verdict.WORK


def test_a_quick_trill_with_rounded_corners_is_no_vibrato() -> None:
    """Below 22 Hz a trill of seven notes a second keeps three partials: its ends ripple."""
    take = heard_contour(one_note("trill", (), length_s=4.5))
    angle = 2.0 * np.pi * 3.5 * (take.contour.time_s - 1.3)
    square = sum(np.sin(q * angle) / q for q in (1, 3, 5)) * 2.0 / np.pi + 0.5
    cents = np.where(take.contour.time_s > 1.3, 100.0 * square, 0.0)
    hz = shifted_hz(take.contour.frequency_hz, cents)
    contour = replace(take.contour, frequency_hz=np.asarray(hz))
    report = judge(Take(take.facts, None, contour, notes_of(contour)), Task(tempo_bpm=92.0))
    assert [f.kind for f in report.findings] == ["confidence"]
    assert "two notes" in report.findings[0].evidence


def test_a_fast_roll_is_narrow_by_nature() -> None:
    roll = waves(24, rate_hz=8.2, extent_cents=18.0, start_s=0.9, place=Place.MIDDLE)
    report = judge(heard_contour(one_note("roll", roll, length_s=4.2)))
    assert verdict(report, "pace") is None
    push = waves(24, rate_hz=8.2, extent_cents=18.0, start_s=0.9)
    report = judge(heard_contour(one_note("nervous", push, length_s=4.2)))
    assert verdict(report, "pace") is Verdict.WORK


def test_a_speed_that_may_drift_is_not_called_right() -> None:
    """Right on average, 7 % slower at the end than at the start, in too few waves to be sure."""
    rng = np.random.default_rng(6)
    step_s = 60.0 / 72.0

    def line(bar: int) -> Knots:
        lengths_s = step_s / 2.0 / (1.035 - 0.07 * (bar + np.arange(6) / 8.0) / 3.0)
        lengths_s = lengths_s * (1.0 + 0.035 * rng.uniform(-1.7, 1.7, size=6))
        ends_s = step_s + np.concatenate([[0.0], np.cumsum(lengths_s)])
        return waves(6, cycle_times_s=ends_s, extent_cents=50.0)

    description = bars("drift", Playing(), seed=1, line=line)
    report = judge(heard_contour(description), Task(72.0, 2, Technique.BEND))
    drift = report.measures.drift
    assert drift is not None
    assert drift.error is not None
    assert abs(drift.value) > 4.0
    assert abs(drift.value) - 2.0 * drift.error < 4.0
    assert verdict(report, "tempo") is None


def test_shy_waves_that_are_lost_are_no_uneven_time() -> None:
    """In noise the shy ones are not counted, and their neighbours look twice as long."""
    rng = np.random.default_rng(6)

    def line(bar: int) -> Knots:
        widths = rng.choice([6.0, 30.0], size=9, p=[0.25, 0.75])
        return waves(9, rate_hz=3.6, extent_cents=widths, start_s=60.0 / 72.0)

    take = heard_contour(bars("shy", Playing(), seed=1, line=line), noise_cents=1.5)
    report = judge(take, Task(technique=Technique.BEND))
    evenness = report.measures.time_evenness
    assert evenness is not None
    assert evenness.value > 13.0
    assert verdict(report, "even_time") is not Verdict.WORK


def test_waves_that_rest_at_home_keep_the_beat_without_a_click() -> None:
    """The first wave of each bar sets out of a rest and looks shorter, so the mean is quick."""
    report = report_of(known_take(1010, seed=1), seed=1)
    assert report.take.clicks is None
    lock = next(finding for finding in report.findings if finding.kind == "lock")
    assert lock.verdict is Verdict.SETTLED
    assert "an even 71:" in lock.sentence  # by the mean of the waves' lengths it would be 72
    assert "click" not in lock.evidence


def test_a_click_that_drowns_a_narrow_roll_makes_it_no_uneven_one() -> None:
    """The click of this take pulled the pitch away by half a semitone for a tenth of a second."""
    report = report_of(known_take(1917, seed=1), seed=1)
    assert report.take.clicks is not None
    assert verdict(report, "even_width") is Verdict.SETTLED


def test_a_rest_after_bending_up_is_no_part_of_the_first_wave() -> None:
    """It made every first wave of this take twice as long, and the take uneven."""
    report = report_of(known_take(1871, seed=1), seed=1)
    assert verdict(report, "even_time") is Verdict.SETTLED


@pytest.mark.parametrize(("away", "said"), [(60.0, Verdict.WORK), (120.0, Verdict.NOT_ENOUGH)])
def test_waves_a_fret_from_home_do_not_stop_on_the_way(away: float, said: Verdict) -> None:
    """Their home is put lower, as if the plain note of another fret had been taken for it."""
    higher = waves(8, rate_hz=4.0, extent_cents=60.0, start_s=1.0)
    take = heard_contour(one_note("higher", higher, length_s=3.2), noise_cents=0.1)
    report = judge(take, Task(technique=Technique.BEND))
    moved = tuple(
        replace(wave, home=replace(wave.home, hz=shifted_hz(wave.home.hz, -away)))
        for wave in report.cycles
        if wave.home is not None
    )
    measures = measure(take, notes=report.notes, cycles=moved)
    found = find(replace(report, cycles=moved, measures=measures))
    assert next(f.verdict for f in found if f.kind == "return") is said


@pytest.mark.parametrize(("number", "seed"), [
    (734, 7), (794, 7), (1334, 7), (434, 21), (554, 21), (974, 21),  # a narrow roll beside a string
    (1473, 7),  # a trill cut at its hammers into notes of a few waves
])  # fmt: skip
def test_nothing_is_said_of_two_strings_or_a_trill(number: int, seed: int) -> None:
    one = outcome_of(number, seed=seed)
    assert one.take.group == UNJUDGEABLE
    assert one.declined


def test_a_plain_note_that_slides_far_into_narrow_waves_is_no_trill() -> None:
    one = outcome_of(1044, seed=21)
    assert [fault.kind for fault in one.take.faults] == ["plain_note"]
    assert one.named == {"plain_note"}


def test_six_waves_of_forty_do_not_tell_how_even_the_waves_are() -> None:
    """A string pushed through both ways at ten a second: most of its waves stand alone."""
    assert not outcome_of(320, seed=21).named & {"even_width", "even_time"}


def test_narrow_waves_that_rest_a_little_at_home_are_not_uneven_in_time() -> None:
    """Eleven cents wide, in noise: the moment of coming home lies anywhere in a rest of 0.08 s."""
    one = outcome_of(1078, seed=81)
    assert one.take.group == FAIR
    assert not one.named


@pytest.mark.parametrize(("hz", "glide_s"), [(1.2, 0.3), (2.0, 0.12), (3.0, 0.1)])
def test_a_wide_push_that_rests_at_both_ends_is_no_trill(hz: float, glide_s: float) -> None:
    """A semitone, let go again, slowly enough to rest on both: a hand glides, a hammer leaps."""
    rest_s = 0.5 / hz - glide_s
    knots, time_s = [(0.0, 0.0)], 1.0
    for turn in range(24):
        high = 100.0 * (turn % 2)
        knots += [(time_s, high), (time_s + glide_s, 100.0 - high)]
        time_s += glide_s + rest_s
    take = heard_contour(one_note("rests", tuple(knots), length_s=time_s), noise_cents=0.1)
    report = judge(take, Task(technique=Technique.BEND))
    assert verdict(report, "confidence") is None
    assert verdict(report, "return") is Verdict.SETTLED
    assert verdict(report, "even_time") is Verdict.SETTLED  # wherever in its rests a wave turns
