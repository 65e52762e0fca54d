"""Legitimate playing that must not be faulted: at least the cases a fair teacher would list."""

import pytest

from labcore.analysis import hear, judge
from labcore.findings import choose
from labcore.model import Report, Verdict
from tests.judging.takes import Case, fair_cases
from tests.made import heard_contour, sound_of

CASES = list(fair_cases())


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
