"""Changes of note value inside one take: where they are and how soon the new speed is there.

The truth is the description the take was made from: moments of waves on, or off, a known grid.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from labcore.analysis import hear, judge
from labcore.beats import noticed_s
from labcore.errors import LabError
from labcore.findings import switch_findings
from labcore.model import ClickSource, ClickTrack, Floats, Report, Task, Verdict
from labcore.switching import How, Switch, held_stretches, on_a_series, plan_of, switches
from labcore.synthesis import TakeDescription
from tests.chain.switching_takes import (
    ASK,
    BAR_S,
    BEAT_S,
    FIRST_S,
    TEMPO_BPM,
    WIDTHS,
    in_one_note,
    late,
    lost,
    plain_ladder,
    sliding,
    take_of,
    waves_until_there,
)
from tests.made import heard_contour, sound_of

LADDER = (2, 2, 3, 3, 4, 4, 5, 5, 6, 6)
CHANGE_TOLERANCE_S = 0.75 * BEAT_S  # the plain beat lies between the two values
BEATS_TOLERANCE = 0.15


def report_of(description: TakeDescription, *, seed: int = 1, task: Task = ASK) -> Report:
    clicks = ClickTrack(np.array(description.click_s), ClickSource.KNOWN, 0.0)
    return judge(replace(heard_contour(description, seed=seed), clicks=clicks), task)


def plan_for(values: Sequence[int]) -> tuple[tuple[float, int], ...]:
    return plan_of(values, first_s=FIRST_S, bar_s=BAR_S)


def steps(found: Sequence[Switch]) -> list[tuple[int, int]]:
    return [(switch.from_value, switch.to_value) for switch in found]


# --- the even series ---------------------------------------------------------------------------


def test_eighths_never_sit_on_the_sixteenths_grid() -> None:
    """They lie on every other line of it; neighbours must take neighbouring lines."""
    assert not on_a_series(np.arange(12) * 0.5, beat_s=1.0, value=4).any()


def test_a_series_keeps_the_players_own_distance_and_pace() -> None:
    own = 0.07 + 0.24 * np.arange(9)
    assert on_a_series(own, beat_s=1.0, value=4).all()
    assert not on_a_series(0.07 + 0.21 * np.arange(9), beat_s=1.0, value=4).any()  # 19 % fast


def test_fives_do_not_sit_on_sixes() -> None:
    """Three of them would lie within the tolerance: their own speed tells them apart."""
    fives = np.arange(15) * BEAT_S / 5
    assert on_a_series(fives, beat_s=BEAT_S, value=5).all()
    assert not on_a_series(fives, beat_s=BEAT_S, value=6).any()


def test_two_times_make_no_series() -> None:
    assert not on_a_series(np.array([0.0, 0.25]), beat_s=1.0, value=4).any()
    assert on_a_series(np.empty(0), beat_s=1.0, value=4).size == 0


# --- changes as they were played ----------------------------------------------------------------


@pytest.mark.parametrize("seed", range(2))
def test_the_whole_ladder_is_four_changes_made_at_once(seed: int) -> None:
    report = report_of(take_of(plain_ladder(LADDER), seed=seed), seed=seed)
    for found in (switches(report), switches(report, plan=plan_for(LADDER))):
        assert steps(found) == [(2, 3), (3, 4), (4, 5), (5, 6)]
        assert [switch.how for switch in found] == [How.SWITCHED] * 4
        assert [switch.waves_until_locked for switch in found] == [0] * 4
        bars = [FIRST_S + BAR_S * bar for bar in (2, 4, 6, 8)]
        assert [s.at_s for s in found] == pytest.approx(bars, abs=CHANGE_TOLERANCE_S)


@pytest.mark.parametrize(
    "values",
    [(2, 4), (4, 2), (3, 6, 3), (1, 2, 1), (2, 3, 4, 3, 2), (6, 4, 5, 3, 2, 4)],
)
def test_takes_of_two_to_six_values(values: tuple[int, ...]) -> None:
    bars = plain_ladder(tuple(v for v in values for _ in range(2)))
    found = switches(report_of(take_of(bars)))
    assert steps(found) == list(pairwise(values))
    assert {switch.waves_until_locked for switch in found} == {0}


def test_changes_inside_one_long_note_are_found() -> None:
    report = report_of(take_of(in_one_note((2, 4, 6, 3, 1), beats_each=4)))
    found = switches(report)
    assert steps(found) == [(2, 4), (4, 6), (6, 3), (3, 1)]
    at_s = [FIRST_S + BEAT_S * (1 + 4 * place) for place in (1, 2, 3, 4)]
    assert [switch.at_s for switch in found] == pytest.approx(at_s, abs=0.05)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize(
    ("values", "lengths"),
    [
        ((2, 2, 4, 4), (1.6, 1.2, 1.2)),
        ((2, 2, 4, 4), (1.6, 1.1, 1.7, 1.2, 1.1, 1.3)),
        ((4, 4, 2, 2), (0.6, 0.7, 0.7)),
        ((2, 2, 6, 6), (1.8, 1.6, 1.4, 1.2)),
        ((3, 3, 5, 5), (1.45, 1.25, 1.5, 1.15, 1.35, 1.3)),
    ],
)
def test_waves_until_the_new_speed_is_there(
    values: tuple[int, ...], lengths: tuple[float, ...], seed: int
) -> None:
    """Counted by the definition on the bar's own grid, which the take was made from."""
    bars = lost(values, lengths=lengths)
    value = values[2]
    truth = waves_until_there(bars[2], value=value, within_s=4 * noticed_s(BEAT_S / value))
    assert truth == len(lengths)
    report = report_of(take_of(bars, seed=seed, jitter_s=0.003), seed=seed)
    for found in (switches(report), switches(report, plan=plan_for(values))):
        (switch,) = found
        assert switch.how is How.SWITCHED
        assert switch.waves_until_locked is not None
        assert abs(switch.waves_until_locked - truth) <= 1  # known to one wave
        beats = pytest.approx(sum(lengths) / value, abs=max(lengths) / value + BEATS_TOLERANCE)
        assert switch.beats_until_locked == beats


def test_without_a_tempo_there_is_no_note_value_to_change() -> None:
    report = report_of(take_of(plain_ladder((2, 2, 3, 3))), task=Task())
    assert switches(report) == ()
    assert held_stretches(report) == ()
    assert switch_findings(report) == ()


# --- against a plan ----------------------------------------------------------------------------


@pytest.mark.parametrize("beats", [1, 2, 3])
@pytest.mark.parametrize("steps_up", [(2, 3, 4), (4, 5, 6), (6, 5, 4)])
def test_a_change_made_late_is_late_by_so_many_beats(steps_up: tuple[int, ...], beats: int) -> None:
    values = tuple(value for value in steps_up for _ in range(2))
    report = report_of(take_of(late(values, beats=beats)))
    found = switches(report, plan=plan_for(values))
    assert {switch.how for switch in found} == {How.SWITCHED}
    expected = [before * beats for before in steps_up[:-1]]
    assert [s.waves_until_locked for s in found] == pytest.approx(expected, abs=1)
    for switch in found:  # known to one wave
        within = 1.0 / min(switch.from_value, switch.to_value) + BEATS_TOLERANCE
        assert switch.beats_until_locked == pytest.approx(beats, abs=within)


def test_a_wrong_value_is_named() -> None:
    played = (2, 2, 3, 3, 4, 4, 4, 4, 6, 6)
    found = switches(report_of(take_of(plain_ladder(played))), plan=plan_for(LADDER))
    assert [switch.how for switch in found] == [
        How.SWITCHED, How.SWITCHED, How.OTHER, How.SWITCHED,
    ]  # fmt: skip
    assert found[2].to_value == 5
    assert found[2].played == 4


def test_a_missing_value_is_missing() -> None:
    bars = plain_ladder(LADDER)
    bars[4:6] = [np.array([1.0, 1.25])] * 2  # one wave a bar
    found = switches(report_of(take_of(bars)), plan=plan_for(LADDER))
    assert [switch.how for switch in found][1] is How.SILENT
    assert steps(found) == [(2, 3), (3, 4), (4, 5), (5, 6)]


@pytest.mark.parametrize("plan", [[], [(1.0, 2), (1.0, 3)], [(0.0, 2), (5.0, 7)]])
def test_a_plan_that_cannot_be_is_refused(plan: list[tuple[float, int]]) -> None:
    report = report_of(take_of(plain_ladder((2, 2, 3, 3))))
    with pytest.raises(LabError, match=r"plan|waves to the click"):
        switches(report, plan=plan)


# --- drift -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("first", "last"), [(3.0, 4.0), (2.0, 4.0), (4.0, 3.0)])
def test_a_speed_that_slides_has_not_switched(first: float, last: float) -> None:
    report = report_of(take_of(sliding(first, last, bars=4)))
    (found,) = switches(report)
    assert found.how is How.DRIFTED
    assert (found.from_value, found.to_value) == (first, last)
    values = [int(first)] * 2 + [int(last)] * 2
    (planned,) = switches(report, plan=plan_for(values))
    assert planned.how is How.DRIFTED
    assert planned.waves_until_locked is None


# --- stretch by stretch ------------------------------------------------------------------------


def test_each_stretch_has_its_own_width() -> None:
    report = report_of(take_of(plain_ladder(LADDER)))
    held = held_stretches(report)
    assert [one.value for one in held] == [2, 3, 4, 5, 6]
    for one in held:
        assert one.measures.extent is not None
        assert one.measures.extent.value == pytest.approx(WIDTHS[one.value or 0], rel=0.06)
    planned = held_stretches(report, plan=plan_for(LADDER))
    assert [one.asked for one in planned] == [2, 3, 4, 5, 6]
    assert planned[0].cycle == held[0].cycle


# --- what is said ------------------------------------------------------------------------------


def said(bars: Sequence[Floats], *, plan: Sequence[int] | None = None) -> dict[str, Verdict]:
    report = report_of(take_of(bars))
    found = switch_findings(report, plan=None if plan is None else plan_for(plan))
    return {finding.sentence: finding.verdict for finding in found}


def test_a_ladder_climbed_well_is_praised_and_nothing_else() -> None:
    words = "Four changes of note value, and the new speed was there within a beat each time."
    assert said(plain_ladder(LADDER)) == {words: Verdict.SETTLED}
    assert said(plain_ladder(LADDER), plan=LADDER) == {words: Verdict.SETTLED}


@pytest.mark.parametrize(
    ("beats", "verdict"),
    [(1, Verdict.SETTLED), (2, Verdict.NEARLY), (3, Verdict.WORK)],
)
def test_beats_until_the_new_speed_decide(beats: int, verdict: Verdict) -> None:
    values = (2, 2, 4, 4)
    ((sentence, found),) = said(late(values, beats=beats), plan=values).items()
    assert found is verdict
    assert sentence.startswith("From two to four to the click: ")


def test_five_to_six_has_a_bar() -> None:
    values = (5, 5, 6, 6)
    (verdict,) = said(late(values, beats=3), plan=values).values()
    assert verdict is Verdict.NEARLY


def test_a_slide_is_a_fault_only_where_a_change_was_planned() -> None:
    bars = sliding(3.0, 4.0, bars=4)
    assert list(said(bars).values()) == [Verdict.NOT_ENOUGH]
    assert list(said(bars, plan=(3, 3, 4, 4)).values()) == [Verdict.WORK]


def test_another_value_than_planned_is_said() -> None:
    found = said(plain_ladder((2, 2, 4, 4)), plan=(2, 2, 3, 3))
    assert found == {"Four to the click was played where three was planned.": Verdict.WORK}


def test_nothing_is_said_of_changes_where_one_value_was_asked() -> None:
    report = report_of(take_of(plain_ladder((2, 2, 3, 3))), task=Task(TEMPO_BPM, 2))
    assert switch_findings(report) == ()


def test_an_uneven_stretch_is_named() -> None:
    bars = plain_ladder((2, 2, 4, 4))
    rng = np.random.default_rng(3)
    for bar in bars[2:]:
        bar[1:-1] += rng.choice([-0.05, 0.05], size=bar.size - 2)  # 20 % of a wave
    report = report_of(take_of(bars))
    kinds = [f.kind for f in switch_findings(report) if f.verdict is Verdict.WORK]
    assert kinds == ["even_time"]


# --- through sound -----------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("values", [(2, 2, 3, 3, 4, 4), (5, 5, 6, 6)])
def test_a_ladder_as_sound(values: tuple[int, ...]) -> None:
    report = judge(hear(sound_of(take_of(plain_ladder(values)))), ASK)
    assert report.take.clicks is not None
    for found in (switches(report), switches(report, plan=plan_for(values))):
        assert steps(found) == [(a, b) for a, b in pairwise(values) if a != b]
        assert {switch.waves_until_locked for switch in found} == {0}


@pytest.mark.slow
def test_a_late_change_and_a_slide_as_sound() -> None:
    values = (2, 2, 4, 4)
    report = judge(hear(sound_of(take_of(late(values, beats=2)))), ASK)
    (switch,) = switches(report, plan=plan_for(values))
    assert switch.waves_until_locked == 4
    report = judge(hear(sound_of(take_of(sliding(3.0, 4.0, bars=4)))), ASK)
    assert [one.how for one in switches(report)] == [How.DRIFTED]
