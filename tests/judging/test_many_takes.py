"""Drawn takes of known truth through sound: the rates of `tests.benchmark.findings`, in small."""

from collections.abc import Sequence

import numpy as np
import pytest

from labcore.model import Finding, Task, Verdict
from labcore.synthesis import TakeDescription
from tests.benchmark.findings import CLEAR, Outcome, outcomes_of, report
from tests.benchmark.findings_takes import (
    EVERYTHING,
    FAIR,
    FAULTLESS,
    PLANTED,
    ROUND,
    SINGLES,
    UNJUDGEABLE,
    Fault,
    KnownTake,
    known_take,
    spread,
)

SEED = 11
TAKES = range(5 * len(ROUND), 9 * len(ROUND))  # where the planted faults are large
FOUND_SHARE = 0.95  # of the faults larger than twice their band
DECLINED_SHARE = 0.99
SILENCE = TakeDescription("silence", 1.0, ())


def outcome(group: str, *said: tuple[str, Verdict], faults: Sequence[Fault] = (),
            declines: Sequence[str] = ()) -> Outcome:  # fmt: skip
    take = KnownTake(0, group, "made", SILENCE, Task(), "clean", tuple(faults), tuple(declines))
    return Outcome(take, tuple(Finding(kind, verdict, "", "") for kind, verdict in said))


# --- the scorer is shown what it must reject ------------------------------------------------------


def test_a_fault_that_is_not_there_is_the_worst_error() -> None:
    one = outcome(PLANTED, ("return", Verdict.WORK), ("even_time", Verdict.WORK),
                  faults=[Fault("return", 2.5)])  # fmt: skip
    assert one.found("return") == "found"
    assert one.invented == {"even_time"}
    assert one.wrong


def test_what_follows_from_a_fault_is_no_error() -> None:
    one = outcome(PLANTED, ("lock", Verdict.WORK), faults=[Fault("even_time", 2.5)])
    assert one.found("even_time") == "found"
    assert not one.wrong


@pytest.mark.parametrize(("verdict", "fate"), [
    (Verdict.SETTLED, "missed"), (Verdict.NEARLY, "missed"), (Verdict.NOT_ENOUGH, "undecided"),
])  # fmt: skip
def test_a_clear_fault_not_named_is_wrong(verdict: Verdict, fate: str) -> None:
    one = outcome(PLANTED, ("even_width", verdict), faults=[Fault("even_width", 2.5)])
    assert one.found("even_width") == fate
    assert one.wrong


def test_a_fault_within_its_band_may_not_be_named() -> None:
    for verdict, wrong in ((Verdict.WORK, True), (Verdict.NEARLY, False)):
        assert outcome(PLANTED, ("tempo", verdict), faults=[Fault("tempo", 0.8)]).wrong is wrong


def test_faultless_and_fair_takes_may_not_be_faulted() -> None:
    for group in (FAULTLESS, FAIR):
        assert outcome(group, ("direction", Verdict.WORK)).wrong
        assert not outcome(group, ("direction", Verdict.SETTLED)).wrong


def test_praise_of_what_cannot_be_judged_is_wrong_too() -> None:
    settled = ("return", Verdict.SETTLED)
    assert outcome(UNJUDGEABLE, settled, declines=[EVERYTHING]).wrong
    assert outcome(UNJUDGEABLE, settled, declines=["return"]).wrong
    assert not outcome(UNJUDGEABLE, settled, declines=["lock"]).wrong


# --- the takes -----------------------------------------------------------------------------------


def test_a_number_and_a_seed_are_always_the_same_take() -> None:
    assert [known_take(n, seed=3) for n in range(40)] == [known_take(n, seed=3) for n in range(40)]
    assert known_take(5, seed=3) != known_take(5, seed=4)


def test_every_kind_is_planted_at_every_size() -> None:
    takes = [known_take(n, seed=SEED) for n in range(len(ROUND) * len(SINGLES))]
    alone = [take.faults[0] for take in takes if len(take.faults) == 1]
    assert {fault.kind for fault in alone} == set(SINGLES)
    assert {take.group for take in takes} == {PLANTED, FAULTLESS, UNJUDGEABLE, FAIR}
    assert any(fault.size < 1.0 for fault in alone)
    assert any(1.0 <= fault.size < CLEAR for fault in alone)
    assert sum(fault.size >= CLEAR for fault in alone) > len(alone) / 2


@pytest.mark.parametrize("percent", [10.0, 45.0])
def test_a_spread_is_exactly_as_planted(percent: float) -> None:
    drawn = spread(9, percent, np.random.default_rng(2))
    index = np.arange(9)
    rest = drawn - np.polyval(np.polyfit(index, drawn, 1), index)
    assert np.sqrt(np.sum(rest**2) / 7) == pytest.approx(percent / 100.0)


# --- the rates -----------------------------------------------------------------------------------


@pytest.mark.slow
def test_planted_faults_are_found_and_none_is_invented() -> None:
    outcomes = outcomes_of(TAKES, seed=SEED)
    told = report(outcomes)
    clear = [(one, f) for one in outcomes for f in one.take.faults if f.size >= CLEAR]
    alone = [one.found(fault.kind) for one, fault in clear if len(one.take.faults) == 1]
    assert alone.count("found") >= FOUND_SHARE * len(alone) > 10, told
    unjudgeable = [one for one in outcomes if one.take.group == UNJUDGEABLE]
    judgeable = [one for one in outcomes if one.take.group != UNJUDGEABLE]
    assert not [one.take.name for one in judgeable if one.invented], told
    assert len(unjudgeable) >= 10
    assert sum(one.declined for one in unjudgeable) >= DECLINED_SHARE * len(unjudgeable), told
