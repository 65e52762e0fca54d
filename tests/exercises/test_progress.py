"""Weeks side by side: like with like, few takes said to be few, chance not sold as progress."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from labcore.exercises import PastTake, by_finger, by_week, like_the_last, since_last_week
from labcore.model import Context, Measure, Task

MONDAY = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)
TRIPLETS = Task(72.0, 3)


def take(day: float, *, share: float = 80.0, width: float = 15.0, finger=3, task=TRIPLETS):
    measures = {
        "returned_share": Measure(share, "%", 20, error=1.0),
        "extent_evenness": Measure(width, "%", 20, error=1.0),
    }
    return PastTake(MONDAY + timedelta(days=day), task, Context(finger=finger), measures)


def week(number: int, values, **given) -> list[PastTake]:
    return [take(7 * number + i % 7, share=value, **given) for i, value in enumerate(values)]


def test_a_week_runs_from_monday_to_sunday_of_the_players_calendar() -> None:
    groups = by_week([take(0), take(6), take(7), take(20)])
    assert [(group.label, len(group.takes)) for group in groups] == [
        ("2 Mar", 2),
        ("9 Mar", 1),
        ("16 Mar", 1),
    ]


def test_weeks_of_two_years_say_which() -> None:
    groups = by_week([take(0), take(7), take(364), take(371)])
    assert [group.label for group in groups] == ["2 Mar 2026", "9 Mar", "1 Mar 2027", "8 Mar"]


def test_the_middle_and_the_middle_half_are_the_textbook_ones() -> None:
    summary = by_week(week(0, [10.0, 20.0, 30.0, 40.0, 100.0]))[0].summary("returned_share")
    assert (summary.middle, summary.low, summary.high, summary.takes) == (30.0, 20.0, 40.0, 5)
    assert not summary.few
    assert by_week(week(0, [10.0] * 3))[0].summary("returned_share").few


def test_a_measure_nobody_has_is_no_number() -> None:
    assert by_week([take(0)])[0].summary("asynchrony") is None


def test_fingers_stand_in_their_order_and_the_unsaid_one_is_the_third() -> None:
    groups = by_finger([take(0, finger=4), take(1, finger=None), take(2, finger=1)])
    assert [group.label for group in groups] == ["finger 1", "finger 3", "finger 4"]


def test_only_takes_of_one_task_are_compared() -> None:
    eighths = take(0, task=Task(72.0, 2))
    assert like_the_last([eighths, take(1), take(2)]) == (take(1), take(2))
    assert like_the_last([]) == ()


def test_a_clear_change_is_told_with_both_numbers() -> None:
    told = since_last_week(week(0, [50, 52, 54, 56]) + week(1, [80, 82, 84, 86]))
    assert "4 takes and 4 takes" in told[0]
    assert told[1] == "More waves came home: 83 % in the middle take, 53 % the week before."


def test_a_change_for_the_worse_is_told_without_blame() -> None:
    told = since_last_week(week(0, [80, 82, 84, 86]) + week(1, [50, 52, 54, 56]))
    assert told[1].startswith("Fewer waves came home: 53 %")


def test_three_takes_are_said_to_be_few_and_tell_no_change() -> None:
    told = since_last_week(week(0, [50, 52, 54]) + week(1, [80, 82, 84, 86]))
    assert "3 takes, few" in told[0]
    assert "No change" in told[1]


def test_another_finger_is_never_taken_for_progress() -> None:
    told = since_last_week(week(0, [20] * 5, finger=4) + week(1, [90] * 5, finger=3))
    assert "one week" in told[0]


@pytest.mark.slow
def test_chance_is_seldom_sold_as_progress() -> None:
    """Two weeks drawn from one and the same player: told as changed in at most one of ten."""
    rng = np.random.default_rng(7)
    told = 0
    for _ in range(400):
        shares = rng.normal(70.0, 8.0, size=(2, 5))
        words = since_last_week(week(0, shares[0]) + week(1, shares[1]))
        told += "No change" not in words[1]
    assert told <= 40, told


def test_an_empty_log_says_that_there_is_one_week_at_most() -> None:
    assert "one week" in since_last_week([])[0]
