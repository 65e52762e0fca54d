"""Legitimate playing that must not be faulted: at least the cases a fair teacher would list."""

import pytest

from labcore.analysis import hear, judge
from labcore.exercises.melodies import MELODIES, Melody, melody_take
from labcore.findings import choose, landing
from labcore.model import Landing, Report, Verdict
from tests.judging.takes import Case, fair_cases, one_note
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
