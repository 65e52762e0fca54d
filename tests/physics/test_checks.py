"""The grip check and the guitar check: two plain notes compared with each other."""

from pathlib import Path

import pytest

from labcore.analysis import hear
from labcore.audio import load_recording
from labcore.errors import LabError
from labcore.model import Note, PlainPart, RecordingFacts, Take
from labcore.physics.checks import (
    compare_plain,
    first_and_last_plain,
    grip_sentence,
    guitar_sentence,
)

DEMO = Path(__file__).parents[2] / "data_demo"


def plain(hz: float, *, error_cents: float = 0.5, spread_cents: float = 0.5) -> PlainPart:
    return PlainPart(0.2, 1.2, hz, error_cents, spread_cents)


def shifted(cents: float) -> PlainPart:
    return plain(392.0 * 2 ** (cents / 1200))


def test_the_second_note_is_measured_against_the_first() -> None:
    assert compare_plain(plain(392.0), shifted(12.0)).cents == pytest.approx(12.0)
    assert compare_plain(shifted(12.0), plain(392.0)).cents == pytest.approx(-12.0)


def test_a_squeeze_is_said_with_its_error_and_compared_with_oneself() -> None:
    sentence = grip_sentence(compare_plain(plain(392.0), shifted(14.0)))
    assert "14 ± 1 cents above" in sentence
    assert "not with others" in sentence


def test_a_small_difference_is_no_squeeze() -> None:
    assert "no squeeze" in grip_sentence(compare_plain(plain(392.0), shifted(2.0)))
    wandering = plain(392.0, spread_cents=6.0)
    assert "no squeeze" in grip_sentence(compare_plain(wandering, shifted(9.0)))


def test_notes_that_wander_are_not_called_the_same() -> None:
    wandering = compare_plain(plain(392.0, spread_cents=6.0), shifted(9.0))
    assert "wander by about 12 cents" in grip_sentence(wandering)
    assert "same" not in grip_sentence(wandering)
    assert "comes back cannot be told" in guitar_sentence(wandering)
    steady = compare_plain(plain(392.0), shifted(2.0))
    assert "same pitch" in grip_sentence(steady)
    assert "The string comes back" in guitar_sentence(steady)


def test_a_take_with_vibrato_is_no_check() -> None:
    """The nervous player of bench 3: the first and the last plain note are the same, of course."""
    take = hear(load_recording(DEMO / "bench3_nervous.flac"))
    with pytest.raises(LabError, match="There is vibrato in this take"):
        first_and_last_plain(take)


def test_a_lower_usual_grip_is_questioned_and_not_praised() -> None:
    assert "pull the string aside" in grip_sentence(compare_plain(shifted(12.0), plain(392.0)))


def test_a_string_that_comes_back_is_said_to() -> None:
    assert "comes back" in guitar_sentence(compare_plain(plain(392.0), shifted(-1.0)))


def test_a_string_that_the_nut_holds_is_found_flat() -> None:
    # nut friction can hold some 10 to 40 cents: T (e^(mu beta) - 1), mu and beta from memory
    sentence = guitar_sentence(compare_plain(plain(392.0), shifted(-12.0)))
    assert "12 ± 1 cents lower" in sentence
    assert "Nut" in sentence
    assert "higher after" in guitar_sentence(compare_plain(plain(392.0), shifted(12.0)))


def take_of(*parts: PlainPart) -> Take:
    facts = RecordingFacts("take", "", 44100.0, 5.0)
    notes = tuple(Note(part.start_s, part.end_s, (), (part,)) for part in parts)
    return Take(facts, None, None, notes)  # type: ignore[arg-type]  # no contour is read


def test_the_first_and_the_last_plain_note_of_a_take_are_compared() -> None:
    first, last = first_and_last_plain(take_of(plain(392.0), plain(440.0), plain(391.0)))
    assert (first.hz, last.hz) == (392.0, 391.0)


def test_a_take_with_one_plain_note_is_refused() -> None:
    with pytest.raises(LabError, match="one plain note was heard"):
        first_and_last_plain(take_of(plain(392.0)))


def test_two_different_notes_are_refused() -> None:
    with pytest.raises(LabError, match="not the same note"):
        compare_plain(plain(392.0), plain(415.3))
