"""The next exercise: up, back, again, after a gap, and never two new things at once."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from labcore.errors import LabError
from labcore.exercises import (
    LADDER,
    HeldValue,
    Outcome,
    PastTake,
    attempt,
    next_exercise,
    rung_named,
)
from labcore.model import Context, Finding, Measure, Task, Technique, Verdict

MONDAY = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)


def day(number: float) -> datetime:
    return MONDAY + timedelta(days=number)


def passing(band) -> Measure:
    """A value in the middle of what the band allows."""
    least = max(band.least, -1000.0)
    most = min(band.most, 1000.0)
    return Measure((least + most) / 2.0, "", 20, error=0.0)


def failing(band) -> Measure:
    past = band.most + 10.0 if band.most < 1000.0 else band.least - 10.0
    return Measure(past, "", 20, error=0.1)


def take(name: str, on: float, *, good: bool = True) -> PastTake:
    rung = rung_named(name)
    values = rung.values if good else tuple(7 - value for value in rung.values)
    held = tuple(HeldValue(value, 4.0 * i, 4.0 * i + 4.0) for i, value in enumerate(values))
    choose = passing if good else failing
    measures = {band.measure: choose(band) for band in rung.bands}
    return PastTake(day(on), rung.task, rung.context, measures, held, rung.name)


def after(*takes: PastTake, on: float | None = None):
    last = takes[-1].recorded if takes else MONDAY
    return next_exercise(None, takes, now=last if on is None else day(on))


def test_an_empty_log_begins_with_a_plain_note() -> None:
    found = after()
    assert found.rung.name == "plain"
    assert found.new == ""


def test_two_passes_on_two_days_lead_one_rung_up() -> None:
    found = after(take("eighths-60", 0), take("eighths-60", 1))
    assert found.rung.name == "eighths-72"
    assert "two days" in found.why
    assert found.new == "the click at 72"


def test_two_passes_on_one_day_wait_for_another_day() -> None:
    found = after(take("eighths-60", 0), take("eighths-60", 0.01))
    assert found.rung.name == "eighths-60"
    assert "another day" in found.why


def test_two_of_three_are_enough() -> None:
    takes = [take("eighths-60", 0), take("eighths-60", 1, good=False), take("eighths-60", 2)]
    assert after(*takes).rung.name == "eighths-72"


def test_a_single_weak_take_changes_nothing() -> None:
    assert after(take("triplets-72", 0, good=False)).rung.name == "triplets-72"


def test_two_weak_takes_in_a_row_lead_one_step_back() -> None:
    found = after(take("triplets-72", 0, good=False), take("triplets-72", 1, good=False))
    assert found.rung.name == "eighths-even"
    assert "step back" in found.why


def test_nobody_falls_off_the_lowest_rung() -> None:
    assert after(*(take("plain", i, good=False) for i in range(5))).rung.name == "plain"


def test_days_off_are_never_held_against_anybody() -> None:
    often = after(take("eighths-60", 0), take("eighths-60", 1))
    seldom = after(take("eighths-60", 0), take("eighths-60", 13), on=26)
    assert seldom == often


def test_two_weeks_away_lead_two_rungs_down() -> None:
    found = after(take("triplets-72", 0), on=14)
    names = [rung.name for rung in LADDER]
    assert found.rung.name == names[names.index("triplets-72") - 2]
    assert "14 days" in found.why


def test_a_gap_inside_the_log_also_leads_down() -> None:
    found = after(take("triplets-72", 0), take("eighths-72", 20), take("eighths-72", 21))
    assert found.rung.name == "eighths-even"


def test_a_take_that_cannot_be_judged_counts_neither_way() -> None:
    mute = PastTake(day(1), rung_named("triplets-72").task, exercise="triplets-72")
    weak = take("triplets-72", 0, good=False)
    found = after(weak, mute)
    assert found.rung.name == "triplets-72"
    assert "Not enough to say" in found.why
    assert after(weak, mute, take("triplets-72", 2, good=False)).rung.name == "eighths-even"


def test_a_reading_that_may_be_off_never_counts_as_a_fall() -> None:
    rung = rung_named("quintuplets-60")
    unsure = {"time_evenness": Measure(11.0, "%", 30, error=1.0)}
    held = (HeldValue(5, 0.0, 9.0),)
    takes = [PastTake(day(i), rung.task, rung.context, unsure, held, rung.name) for i in (0, 1, 2)]
    assert attempt(takes[0], rung=rung).outcome is Outcome.NEARLY
    assert after(*takes).rung.name == "quintuplets-60"


def test_a_player_who_always_passes_sees_every_rung_and_one_new_thing_at_a_time() -> None:
    history: list[PastTake] = []
    seen = [after()]
    for number in range(200):
        history.append(take(seen[-1].rung.name, number))
        found = next_exercise(None, history, now=day(number))
        if found.rung.name != seen[-1].rung.name:
            seen.append(found)
    assert [one.rung.name for one in seen] == [rung.name for rung in LADDER]
    assert not [one.new for one in seen if " and " in one.new]
    assert "top" in found.why


@pytest.mark.parametrize("seed", range(8))
def test_whatever_happens_no_step_is_higher_than_one_rung(seed: int) -> None:
    import random

    rng = random.Random(seed)
    names = [rung.name for rung in LADDER]
    history, now, places = [], 0.0, [0]
    for _ in range(60):
        good = rng.random() < 0.75
        history.append(take(names[places[-1]], now, good=good))
        now += rng.choice([0.1, 1.0, 2.0, 20.0])
        places.append(names.index(next_exercise(None, history, now=day(now)).rung.name))
    assert max(b - a for a, b in pairwise(places)) == 1
    assert min(b - a for a, b in pairwise(places)) >= -3


def test_a_take_without_a_name_counts_where_it_fits() -> None:
    held = (HeldValue(2, 0.0, 9.0),)
    good = {"returned_share": Measure(95.0, "%", 20, error=1.0)}
    takes = [PastTake(day(i), Task(60.0, 2), Context(), good, held) for i in (0, 1)]
    assert after(*takes).rung.name == "eighths-72"


def test_a_take_whose_finger_was_not_said_never_passes_the_rung_of_another_finger() -> None:
    rung = rung_named("finger-1")
    unsaid = [
        PastTake(
            day(i), rung.task, Context(), {b.measure: passing(b) for b in rung.bands},
            (HeldValue(2, 0.0, 9.0),),
        )
        for i in (1, 2)
    ]  # fmt: skip
    first = take("finger-1", 0)
    assert after(first, *unsaid).rung.name == "finger-1"
    said = [take("finger-1", i) for i in (1, 2)]
    assert after(first, *said).rung.name == "sixteenths-60"


def test_free_playing_never_moves_anybody() -> None:
    free = PastTake(day(1), Task())
    assert after(take("triplets-72", 0), free, free, free).rung.name == "triplets-72"


@pytest.mark.parametrize(("gap_s", "outcome"), [(1.9, Outcome.PASSED), (2.1, Outcome.NEARLY)])
def test_a_switch_has_two_beats(gap_s: float, outcome: Outcome) -> None:
    rung = rung_named("switch-2-4")  # at 60, so a beat is a second
    held = (HeldValue(2, 0.0, 4.0), HeldValue(4, 4.0 + gap_s, 9.0))
    assert attempt(PastTake(MONDAY, rung.task, held=held), rung=rung).outcome is outcome


def test_from_five_to_six_there_is_a_whole_bar() -> None:
    rung = rung_named("whole-ladder")
    ends = {5: 0.1, 6: 3.9}
    held, at = [], 0.0
    for value in rung.values:
        at += ends.get(value, 1.9)
        held.append(HeldValue(value, at, at + 4.0))
        at += 4.0
    assert attempt(PastTake(MONDAY, rung.task, held=tuple(held)), rung=rung).outcome is (
        Outcome.PASSED
    )


def test_pieces_of_one_note_value_are_joined_and_nameless_ones_left_out() -> None:
    rung = rung_named("switch-2-4")
    held = (
        HeldValue(2, 0.0, 2.0),
        HeldValue(2, 2.5, 4.0),
        HeldValue(None, 4.0, 4.5),
        HeldValue(4, 4.5, 9.0),
    )
    assert attempt(PastTake(MONDAY, rung.task, held=held), rung=rung).outcome is Outcome.PASSED


def test_an_arm_player_climbs_the_arms_ladder() -> None:
    arm = rung_named("triplets-72", technique=Technique.ARM)
    held = (HeldValue(3, 0.0, 9.0),)
    measures = {band.measure: passing(band) for band in arm.bands}
    takes = [PastTake(day(i), arm.task, Context(), measures, held, arm.name) for i in (0, 1)]
    found = after(*takes)
    assert found.rung.technique is Technique.ARM
    assert found.rung.name == "sixteenths-60"  # no rung for finger 1 in between


def test_the_report_counts_as_the_newest_take_and_only_once(make_report) -> None:
    report = make_report(cycles_per_beat=2, named=(2,), returned_share=95.0)
    earlier = take("eighths-72", -1)
    assert next_exercise(report, [earlier], now=MONDAY).rung.name == "eighths-even"
    known = PastTake(MONDAY, report.task, sha256=report.take.facts.sha256)
    assert next_exercise(report, [earlier, known], now=MONDAY).rung.name == "eighths-72"


def test_the_first_thing_to_do_answers_the_first_open_finding(make_report) -> None:
    import dataclasses

    findings = (
        Finding("return", Verdict.SETTLED, "", ""),
        Finding("direction", Verdict.WORK, "", "", overruled_by="teacher"),
        Finding("even_width", Verdict.WORK, "", ""),
    )
    report = dataclasses.replace(make_report(), findings=findings)
    first = next_exercise(report, now=MONDAY).first
    assert first is not None
    assert first.kind == "even_width"


def test_five_days_of_seven_earn_a_free_day_and_four_do_not() -> None:
    takes = [take("triplets-72", i) for i in range(5)]
    assert "free" in after(*takes).rest
    assert after(*takes[1:]).rest == ""


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(LabError, match="time zone"):
        PastTake(datetime(2026, 3, 2))
    with pytest.raises(LabError, match="time zone"):
        next_exercise(None, now=datetime(2026, 3, 2))
