"""Legitimate playing that must not be faulted: at least the cases a fair teacher would list."""

from dataclasses import replace

import numpy as np
import pytest

from labcore.analysis import hear, judge
from labcore.exercises.melodies import MELODIES, Melody, melody_take
from labcore.findings import choose, describe, landing, words
from labcore.model import Finding, Landing, Place, Report, Take, Task, Technique, Verdict
from labcore.synthesis import Playing, both_ways_push, waves
from tests.judging.takes import Case, bars, fair_cases, one_note, rested, tries, unusual_cases
from tests.made import heard_contour, sound_of

CASES = [*fair_cases(), *unusual_cases()]


def faults(report: Report) -> list[str]:
    return [f"{f.kind}: {f.sentence}" for f in report.findings if f.verdict is Verdict.WORK]


def test_there_are_at_least_twenty_cases() -> None:
    assert len({case.name for case in CASES}) >= 20


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_fair_playing_is_not_faulted(case: Case) -> None:
    assert faults(judge(heard_contour(case.description), case.task)) == []


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_fair_playing_is_not_faulted_through_sound(case: Case) -> None:
    assert faults(judge(hear(sound_of(case.description)), case.task)) == []


def test_a_late_start_with_two_waves_is_heard_but_not_judged() -> None:
    case = next(case for case in CASES if case.name == "a late start and two waves")
    report = judge(heard_contour(case.description), case.task)
    chosen = choose(report)
    assert chosen.praise is None
    assert chosen.work is not None
    assert chosen.work.verdict is Verdict.NOT_ENOUGH
    assert "two waves" in chosen.work.sentence


@pytest.mark.parametrize("melody", MELODIES, ids=lambda melody: melody.name)
def test_a_melody_with_vibrato_on_its_long_notes_is_praised_for_what_was_heard(
    melody: Melody,
) -> None:
    report = judge(heard_contour(melody_take(melody, shaken=melody.chosen)))
    praise = choose(report).praise
    known = sum(landing(wave) is not Landing.UNKNOWN for wave in report.cycles)
    assert faults(report) == []
    assert praise is not None
    assert praise.kind == "return"
    # "All ten waves" would be untrue of a take in which fourteen waves are drawn.
    assert ("whose plain note is heard" in praise.sentence) is (known < len(report.cycles))


def test_a_pitch_that_never_rests_is_not_called_held_plain() -> None:
    siren = tuple((1.0 * k, 400.0 * (k % 2)) for k in range(9))
    slow = judge(heard_contour(one_note("siren", siren, length_s=8.0)))
    held = judge(heard_contour(one_note("held", (), length_s=4.0)))
    assert "I hear no vibrato" in slow.findings[0].sentence
    assert "one note held plain" in held.findings[0].sentence


def four_bars(tempo_bpm: float, *, waves_per_beat: int) -> Take:
    playing = Playing(tempo_bpm=tempo_bpm, cycles_per_beat=(waves_per_beat,) * 4)
    silent = replace(bars("no click", playing, seed=3), click_s=())
    return heard_contour(silent)


def said(report: Report, kind: str) -> Finding:
    return next(finding for finding in report.findings if finding.kind == kind)


def test_waves_round_the_pitch_are_told_by_their_middle() -> None:
    """They end below and above it by turns: where a single one ends says nothing."""
    line = waves(
        10, rate_hz=5.0, extent_cents=60.0, start_s=0.9, place=Place.MIDDLE, return_cents=15.0
    )
    description = one_note("nearly", line, length_s=3.4)
    nearly = said(judge(heard_contour(description), Task(technique=Technique.ROLL)), "return")
    assert nearly.verdict is Verdict.NEARLY
    assert nearly.sentence == "The middle of your waves lies 15 cents above the plain note."


def test_without_a_click_an_even_tempo_is_the_players_own() -> None:
    take = four_bars(72.0, waves_per_beat=3)
    for asked_bpm in (71.0, 72.0, 73.0):  # nobody holds 73 to a percent in silence
        report = judge(take, Task(asked_bpm, 3))
        even = said(report, "lock")
        assert faults(report) == []
        assert even.verdict is Verdict.SETTLED
        assert f"an even {72 if abs(asked_bpm - 72) >= 1 else asked_bpm:g}" in even.sentence


def test_without_a_click_who_rests_may_begin_anew_on_another_beat() -> None:
    """But waves that sway in time within one note are told so."""
    task = Task(72.0, 3, Technique.BEND, Place.BOTTOM)
    rested = said(judge(heard_contour(tries(0.4, 0.4, 0.4)), task), "lock")
    assert rested.verdict is Verdict.NOT_ENOUGH
    assert "after a break" in rested.sentence
    step_s = 60.0 / 72.0 / 3.0
    sway_s = 0.06 * np.sin(2.0 * np.pi * np.arange(31) / 20.0)  # over the root of two, 42 ms
    line = waves(30, cycle_times_s=0.9 + step_s * np.arange(31) + sway_s, extent_cents=50.0)
    sways = said(judge(heard_contour(one_note("sways", line, length_s=9.6)), task), "lock")
    assert sways.verdict is Verdict.WORK
    assert sways.sentence.startswith("Your waves wander by about 42 ms around an even 72")


@pytest.mark.parametrize("dwell_share", [0.3, 0.45, 0.5, 0.6, 0.7])
@pytest.mark.parametrize("k", [1, 2])
def test_a_rest_at_home_belongs_to_its_wave(k: int, dwell_share: float) -> None:
    """One push to the click leaves time to rest; how long a push takes is no note value."""
    take = heard_contour(rested(k, 60.0, dwell_share))
    report = judge(take, Task(60.0, k, Technique.BEND))
    assert said(report, "note_value").verdict is Verdict.SETTLED
    assert report.measures.rate is not None
    assert report.measures.rate.value == pytest.approx(k, rel=0.03)


def test_waves_that_stand_alone_have_no_speed() -> None:
    """Eight pushes with plain notes of any length between them: an exercise for coming home."""
    rng = np.random.default_rng(6)
    knots, time_s = [(1.0, 0.0)], 1.0
    for _ in range(8):
        push_s, rest_s = rng.uniform(0.3, 0.6), rng.uniform(0.6, 1.5)
        knots += [(time_s + push_s / 2.0, 55.0), (time_s + push_s, 0.0)]
        time_s += push_s + rest_s
        knots.append((time_s, 0.0))
    take = heard_contour(one_note("alone", tuple(knots), length_s=time_s))
    report = judge(take, Task(60.0, 2, Technique.BEND))
    assert faults(report) == []
    assert said(report, "return").sentence == "All eight waves came home."
    assert said(report, "note_value").sentence == words.VALUE_ALONE
    assert report.measures.rate is None
    assert describe(report)[0].startswith("Eight waves with breaks between, 55 cents wide")


def test_waves_between_two_note_values_are_counted_not_named() -> None:
    report = judge(four_bars(72.0, waves_per_beat=3), Task(144.0, 3))
    assert said(report, "note_value").sentence == (
        "About 1.5 waves to the click; three were asked."
    )


def test_an_accent_on_every_other_wave_is_not_called_pushed_through() -> None:
    """A string pushed through both ways has its narrow waves shorter, too (arithmetic)."""
    line = waves(16, rate_hz=4.0, extent_cents=[60.0, 38.0] * 8, start_s=0.9)
    bend = Task(technique=Technique.BEND)
    accented = judge(heard_contour(one_note("accents", line, length_s=5.4)), bend)
    push = both_ways_push(8, hand_rate_hz=2.0, reach_cents=50.0, offset_share=0.115, start_s=0.9)
    pushed = judge(heard_contour(one_note("pushed", push, length_s=5.4)), bend)
    assert "both_ways" not in [f.kind for f in accented.findings]
    assert "both_ways" in [f.kind for f in pushed.findings]


def at_5_hz(*, widths: list[float], lengths: list[float]) -> Report:
    times = 0.9 + 0.2 * np.cumsum([0.0, *lengths])
    line = waves(len(widths), cycle_times_s=times, extent_cents=widths)
    return judge(heard_contour(one_note("one odd wave", line, length_s=float(times[-1]) + 1.0)))


def test_one_odd_wave_among_many_is_not_called_uneven() -> None:
    wild = at_5_hz(widths=[*[50.0] * 11, 150.0, *[50.0] * 12], lengths=[1.0] * 24)
    long = at_5_hz(widths=[50.0] * 23, lengths=[*[1.0] * 11, 2.0, *[1.0] * 11])
    many = at_5_hz(widths=[50.0, 50.0, 120.0, 20.0, 60.0, 110.0] * 4, lengths=[1.0] * 24)
    assert faults(wild) == faults(long) == []
    assert [fault.split(":")[0] for fault in faults(many)] == ["even_width"]


def test_of_waves_that_partly_come_home_the_others_are_told_apart() -> None:
    def sentence(returns: list[float]) -> str:
        line = waves(24, rate_hz=5.0, extent_cents=60.0, start_s=0.9, return_cents=returns * 6)
        return said(judge(heard_contour(one_note("some", line, length_s=6.5))), "return").sentence

    assert sentence([0.0, 30.0, 30.0, 30.0]) == (
        "Six of 24 waves came home; the others end about 30 cents above the plain note."
    )
    assert "to either side of" in sentence([0.0, 25.0, 0.0, -25.0])
    assert sentence([30.0] * 4).startswith("Your waves stop on the way home")
