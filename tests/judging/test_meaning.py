"""What was played against what the sentences mean by it: music, rests and clicks of real life.

None of these takes holds a fault, but for those that say so; each was once told one, or was told
something that is not true of it.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from labcore.analysis import judge
from labcore.beats import beat_s
from labcore.findings import describe
from labcore.model import Finding, Place, Report, Task, Technique, Verdict
from labcore.synthesis import (
    Knots,
    NoteDescription,
    Playing,
    TakeDescription,
    click_times,
    joined,
    waves,
)
from tests.judging.takes import bars, one_note
from tests.made import heard_contour

BEND = Task(technique=Technique.BEND, home=Place.BOTTOM)
CLICK = replace(BEND, tempo_bpm=72.0, cycles_per_beat=3)


def judged(description: TakeDescription, task: Task) -> Report:
    return judge(heard_contour(description), task)


def said(report: Report, kind: str) -> Finding | None:
    return next((finding for finding in report.findings if finding.kind == kind), None)


def verdict(report: Report, kind: str) -> Verdict | None:
    finding = said(report, kind)
    return finding.verdict if finding else None


def faults(report: Report) -> list[str]:
    return [f"{f.kind}: {f.sentence}" for f in report.findings if f.verdict is Verdict.WORK]


# --- whose plain note is it ---------------------------------------------------------------------

AT_ONCE = waves(10, rate_hz=4.3, extent_cents=60.0, start_s=0.02)


def melody(*frets: int, last: Knots, hz: float = 262.0) -> TakeDescription:
    """Plain notes, and one waved from its pluck on."""
    notes = [
        NoteDescription(0.5 + 0.7 * i, 0.69, hz * 2.0 ** (fret / 12.0))
        for i, fret in enumerate(frets)
    ]
    end_s = 0.5 + 0.7 * len(frets)
    notes.append(NoteDescription(end_s, 2.5, hz, knots=last))
    return TakeDescription("melody", end_s + 3.0, tuple(notes))


def test_the_plain_note_of_the_next_fret_is_no_home() -> None:
    free = judged(melody(3, 1, 1, last=AT_ONCE), Task())
    arm = waves(10, rate_hz=4.3, extent_cents=110.0, start_s=0.02, place=Place.MIDDLE)
    swung = judged(melody(3, -1, -1, last=arm), Task(technique=Technique.ARM))
    assert faults(free) == faults(swung) == []
    assert verdict(free, "return") is verdict(swung, "return") is Verdict.NOT_ENOUGH


@pytest.mark.parametrize("glide_s", [0.02, 0.1, 0.2])
def test_a_note_led_down_from_the_next_fret_and_waved_at_once(glide_s: float) -> None:
    led = ((0.0, 100.0), (0.8, 100.0), (0.8 + glide_s, 0.0))
    line = waves(10, rate_hz=4.3, extent_cents=48.0, start_s=0.8 + glide_s)
    report = judged(one_note("led", joined(led, line), length_s=3.1), Task())
    assert faults(report) == []
    assert verdict(report, "return") is Verdict.NOT_ENOUGH


def test_waves_from_a_bend_to_the_next_fret_do_not_stop_short() -> None:
    up = ((0.0, 0.0), (0.6, 0.0), (0.8, 100.0))
    dips = waves(10, rate_hz=4.3, extent_cents=52.0, start_s=0.8, home_cents=100.0, place=Place.TOP)
    report = judged(one_note("dips", joined(up, dips), length_s=3.1), Task())
    assert faults(report) == []


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7])
def test_where_a_hand_stops_in_mid_push_is_no_plain_note(share: float) -> None:
    stops = ((2.0 + 0.06, 50.0 * share), (3.2, 50.0 * share))
    line = joined(waves(9, rate_hz=4.5, extent_cents=50.0, start_s=0.02), stops)
    for task in (BEND, Task()):
        report = judged(one_note("stops", line, length_s=3.2), task)
        assert faults(report) == []
        assert said(report, "direction") is None
        assert verdict(report, "return") is not Verdict.SETTLED


def test_a_plain_note_after_the_waves_is_told_as_that() -> None:
    line = joined(waves(9, rate_hz=4.5, extent_cents=50.0, start_s=0.02), ((3.2, 0.0),))
    report = judged(one_note("after", line, length_s=3.2), BEND)
    assert verdict(report, "return") is Verdict.SETTLED
    assert said(report, "plain_note").sentence == "Your plain note stands still."


@pytest.mark.parametrize("glide_cents", [12.0, 20.0, 30.0])
def test_a_hard_pluck_that_settles_is_not_the_nut(glide_cents: float) -> None:
    line = waves(8, rate_hz=4.0, extent_cents=50.0, start_s=0.9)
    note = NoteDescription(0.5, 4.0, 110.0, knots=line, glide_cents=glide_cents)
    report = judged(TakeDescription("hard", 5.0, (note,)), BEND)
    assert said(report, "nut") is None
    stuck = one_note("nut", waves(8, rate_hz=4.0, extent_cents=50.0, start_s=0.9,
                                  return_cents=-12.0), length_s=4.0)  # fmt: skip
    assert said(judged(stuck, BEND), "nut") is not None
    ends = [-5.0, -9.0, *[-12.0] * 6]
    gives = waves(8, rate_hz=4.0, extent_cents=50.0, start_s=0.9, return_cents=ends)
    giving = one_note("gives way", gives, length_s=4.0)
    assert said(judged(giving, BEND), "nut") is not None


@pytest.mark.parametrize("cents", [25.0, 40.0])
def test_waves_that_ride_on_a_squeezed_note_are_not_praised_where_a_push_was_asked(
    cents: float,
) -> None:
    line = waves(10, rate_hz=4.0, extent_cents=60.0, start_s=1.15, home_cents=cents)
    squeezed = joined(((0.0, 0.0), (0.5, 0.0), (0.85, cents)), line)
    report = judged(one_note("squeezed", squeezed, length_s=3.7), BEND)
    assert said(report, "plain_note").sentence == (
        f"Your plain note moves up by {cents:g} cents before the waves start."
    )
    assert verdict(report, "return") is Verdict.NOT_ENOUGH
    assert said(report, "direction") is None
    assert not [sentence for sentence in describe(report) if "stand plain" in sentence]


@pytest.mark.parametrize("plain", [1, 3])
def test_pushes_that_stop_short_are_told_though_few_plucks_are_held_plain(plain: int) -> None:
    beats = beat_s(72.0)
    notes = []
    for pluck in range(4):
        start_s = 0.8 if pluck < plain else 0.02
        line = waves(8, rate_hz=4.0, extent_cents=60.0, start_s=start_s, return_cents=33.0)
        length_s = start_s + 2.05
        notes.append(NoteDescription(0.5 + 4 * beats * pluck, length_s, 330.0, knots=line))
    report = judged(TakeDescription("short", 0.5 + 16 * beats, tuple(notes)), BEND)
    assert faults(report) == [
        "return: Your waves stop on the way home: they end 33 cents above the plain note."
    ]


# --- every, evenly, in turn ----------------------------------------------------------------------


def test_every_wave_means_every_wave() -> None:
    """A third of the waves goes 30 cents below home, and the others do not."""
    ends = [0.0] * 16 + [-30.0] * 8
    line = waves(24, rate_hz=4.5, extent_cents=60.0, start_s=0.9, return_cents=ends)
    report = judged(one_note("some below", line, length_s=7.0), BEND)
    assert verdict(report, "direction") is not Verdict.SETTLED
    assert "up only" not in describe(report)[0]
    few = waves(
        24, rate_hz=4.5, extent_cents=60.0, start_s=0.9, return_cents=[0.0] * 22 + [-30.0] * 2
    )
    direction = said(judged(one_note("two below", few, length_s=7.0), BEND), "direction")
    assert direction is not None
    assert direction.sentence == "22 of 24 waves go up only, from the plain note."


@pytest.mark.parametrize(("above", "evenly"), [(0.5, True), (0.58, True), (0.66, False)])
def test_evenly_to_both_sides_is_evenly(above: float, evenly: bool) -> None:
    line = waves(9, rate_hz=4.5, extent_cents=90.0, start_s=0.9, place=Place.MIDDLE,
                 home_cents=90.0 * (above - 0.5))  # fmt: skip
    home = joined(((0.0, 0.0), (0.85, 0.0)), line)
    report = judged(one_note("arm", home, length_s=3.4), Task())
    assert faults(report) == []
    assert (verdict(report, "direction") is Verdict.SETTLED) is evenly


def test_a_roll_that_lands_on_its_plain_note_lost_no_wave() -> None:
    line = waves(10, rate_hz=5.0, extent_cents=30.0, start_s=0.9, place=Place.MIDDLE)
    report = judged(one_note("roll", line, length_s=3.8), Task(technique=Technique.ROLL))
    assert not [sentence for sentence in describe(report) if "cut off" in sentence]


def test_the_plain_start_ends_where_the_pitch_first_moves() -> None:
    """Slow waves round the pitch count from low to low: the first high is no plain note."""
    line = waves(6, rate_hz=1.2, extent_cents=60.0, start_s=0.35, place=Place.MIDDLE)
    report = judged(one_note("slow", line, length_s=5.8), Task(technique=Technique.ARM))
    assert report.measures.onset_delay is not None
    assert report.measures.onset_delay.value < 0.5
    assert not [sentence for sentence in describe(report) if "stand plain" in sentence]


def test_two_widths_are_told_as_two() -> None:
    wide, narrow = (waves(10, rate_hz=4.5, extent_cents=c, start_s=0.9) for c in (90.0, 26.0))
    notes = (
        NoteDescription(0.5, 3.5, 330.0, knots=wide),
        NoteDescription(4.0, 3.5, 330.0, knots=narrow),
    )
    report = judged(TakeDescription("two", 8.0, notes), BEND)
    assert "26 to 90 cents wide" in describe(report)[0]


def gathering(rates: Sequence[float]) -> Knots:
    return waves(len(rates), cycle_times_s=0.9 + np.cumsum([0.0, *(1.0 / np.array(rates))]),
                 extent_cents=50.0)  # fmt: skip


def test_speed_that_gathers_evenly_is_not_two_note_values_in_turn() -> None:
    line = gathering(np.linspace(3.4, 6.6, 14))
    report = judged(one_note("gathers", line, length_s=4.5), Task(72.0))
    assert verdict(report, "note_value") is not Verdict.SETTLED
    assert "in turn" not in describe(report)[0]


def test_a_stumble_of_three_waves_is_not_another_note_value() -> None:
    step_s = beat_s(72.0) / 3.0

    def line(bar: int) -> Knots:
        steps = np.full(9, step_s)
        if bar == 1:
            steps[:3] *= 1.5
        count = 9 if bar != 1 else 7
        times = beat_s(72.0) + np.cumsum([0.0, *steps[:count]])
        return waves(count, cycle_times_s=times, extent_cents=50.0)

    report = judged(bars("stumble", Playing(), seed=1, line=line), CLICK)
    assert "in turn" not in describe(report)[0]


# --- clicks and note values ----------------------------------------------------------------------


def to_the_click(k: float, tempo_bpm: float, *, click_s: Sequence[float] = ()) -> TakeDescription:
    step_s = beat_s(tempo_bpm)

    def line(bar: int) -> Knots:
        count = int(3 * k)
        return waves(count, rate_hz=k / step_s, extent_cents=50.0, start_s=step_s)

    made = bars("made", Playing(tempo_bpm=tempo_bpm), seed=2, line=line)
    return replace(made, click_s=tuple(click_s))


@pytest.mark.parametrize(
    ("k", "asked"), [(1.5, 2), (1.5, None), (2.5, 3), (3.5, 4), (2.5, None), (4 / 3, None)]
)
def test_half_way_between_two_note_values_is_neither(k: float, asked: int | None) -> None:
    report = judged(to_the_click(k, 72.0), replace(BEND, tempo_bpm=72.0, cycles_per_beat=asked))
    assert faults(report) == []
    value = said(report, "note_value")
    assert value is not None
    assert value.verdict is Verdict.NOT_ENOUGH
    assert f"about {k:.1f} waves to the click" in value.sentence


@pytest.mark.parametrize("k", [1.16, 2.3, 3.4])
def test_a_speed_that_is_no_rhythm_of_its_own_is_told(k: float) -> None:
    clicks = click_times(72.0, beats=16, first_s=0.5)
    report = judged(to_the_click(k, 72.0, click_s=clicks), replace(CLICK, cycles_per_beat=int(k)))
    assert [finding.kind for finding in report.findings if finding.verdict is Verdict.WORK] == [
        "tempo"
    ]


def test_a_push_that_was_left_out_spoils_no_other() -> None:
    """One wave to the click with a rest at home; the second of the third bar is missing."""
    step_s = beat_s(60.0)

    def line(bar: int) -> Knots:
        pushes = [start for start in range(1, 8) if (bar, start) != (1, 3)]
        pairs = [((start + 0.2) * step_s, (start + 0.4) * step_s) for start in pushes]
        return tuple(
            knot
            for start, (top_s, home_s) in zip(pushes, pairs, strict=True)
            for knot in ((start * step_s, 0.0), (top_s, 55.0), (home_s, 0.0))
        )

    playing = Playing(tempo_bpm=60.0, cycles_per_beat=(1,) * 3, beats_per_bar=8)
    report = judged(bars("left out", playing, seed=1, line=line), Task(60.0, 1, Technique.BEND))
    assert verdict(report, "note_value") is Verdict.SETTLED
    assert faults(report) == []


def test_a_speed_ten_percent_off_is_still_told() -> None:
    report = judged(to_the_click(3.3, 72.0), CLICK)
    assert verdict(report, "tempo") is Verdict.WORK
    assert said(report, "tempo").sentence == (
        "Your speed is 10 % fast: you gain a wave about every three beats."  # 0.3 waves a beat
    )


def test_a_count_in_is_not_a_click_to_sit_on() -> None:
    """Four clicks and then none; the player keeps an even tempo one percent beside them."""
    whole = to_the_click(3.0, 72.72)
    clicks = click_times(72.0, beats=4, first_s=0.5)
    late = tuple(replace(note, onset_s=note.onset_s + 4 * beat_s(72.0)) for note in whole.notes)
    take = replace(whole, notes=late, click_s=clicks,
                   duration_s=whole.duration_s + 4 * beat_s(72.0))  # fmt: skip
    report = judged(take, CLICK)
    assert faults(report) == []
    assert (
        "it is not heard after the first 3.0 seconds, and they go on"
        in said(report, "lock").sentence
    )


def test_a_metronome_that_goes_on_quicker_is_followed() -> None:
    """Three bars of clicks at 72; then the player goes on at 78, as the metronome did unheard."""
    first, then = to_the_click(3.0, 72.0), to_the_click(3.0, 78.0)
    start_s = 0.5 + 12 * beat_s(72.0)
    later = tuple(replace(note, onset_s=note.onset_s - 0.5 + start_s) for note in then.notes)
    take = TakeDescription("quicker", start_s + then.duration_s, (*first.notes[:3], *later),
                           click_s=click_times(72.0, beats=12, first_s=0.5))  # fmt: skip
    assert faults(judged(take, CLICK)) == []


@pytest.mark.parametrize(("heard", "asked"), [(144.0, 72.0), (60.0, 120.0)])
def test_waves_are_counted_to_the_click_that_is_heard(heard: float, asked: float) -> None:
    clicks = click_times(heard, beats=16, first_s=0.5)
    k = 2 if heard == 60.0 else 3
    take = to_the_click(float(k), heard, click_s=clicks)
    report = judged(take, replace(BEND, tempo_bpm=asked, cycles_per_beat=k))
    assert faults(report) == []
    assert f"runs at {heard:g} a minute" in said(report, "click").sentence


@pytest.mark.parametrize("narrow", [0.67, 0.72])
def test_swung_waves_with_the_long_ones_wider_are_not_pushed_through(narrow: float) -> None:
    step_s = beat_s(72.0)
    edges = np.concatenate([[b, b + 0.64] for b in range(1, 4)] + [[4.0]]) * step_s
    line = waves(6, cycle_times_s=edges, extent_cents=[60.0, 60.0 * narrow] * 3)
    report = judged(bars("swung", Playing(), seed=3, line=lambda bar: line),
                    replace(BEND, tempo_bpm=72.0, cycles_per_beat=2))  # fmt: skip
    assert said(report, "both_ways") is None
