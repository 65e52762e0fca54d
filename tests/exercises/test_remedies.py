"""Remedies: one for every kind, short enough for a lesson, fitting the way of playing."""

import pytest

from labcore.errors import LabError
from labcore.exercises import SYLLABLES, remedy, spoken
from labcore.model import Place, Technique

KINDS = (  # that a finding may have
    "confidence",
    "plain_note",
    "return",
    "direction",
    "even_width",
    "even_time",
    "note_value",
    "tempo",
    "lock",
    "both_ways",
    "click",
    "pace",
    "nut",
    "two_strings",
    "switching",
    "switch_slides",
    "switch_value",
)
MOST_WORDS = 45  # about a quarter of a minute read aloud at 180 words a minute; a choice
# Words that never stand on a lesson screen.
NEVER = ("cursor", "kernel", "cell", "notebook", "beginner", "extent", "cycle", "Hz", "wrong")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_a_remedy_of_its_own(kind: str) -> None:
    found = remedy(kind)
    assert found.kind == kind
    assert found.sentence != remedy("no such kind").sentence


@pytest.mark.parametrize("kind", [*KINDS, "anything else"])
@pytest.mark.parametrize("place", [None, *Place])
@pytest.mark.parametrize("technique", list(Technique))
def test_a_remedy_is_short_and_in_plain_words(make_report, kind, place, technique) -> None:
    found = remedy(kind, report=make_report(place=place, technique=technique))
    assert 8 <= len(found.sentence.split()) <= MOST_WORDS
    text = f"{found.sentence} {found.listen} {found.caution}"
    assert not [word for word in NEVER if word in text]
    assert 20 <= found.seconds <= 30


def test_an_unknown_kind_keeps_its_name_and_still_says_something_to_do() -> None:
    assert remedy("tea break").kind == "tea break"
    assert "plain note" in remedy("tea break").sentence


def test_the_note_value_remedy_says_the_syllables_that_were_asked_for(make_report) -> None:
    assert spoken(5) in remedy("note_value", report=make_report(cycles_per_beat=5)).sentence
    assert "'" not in remedy("note_value", report=make_report(cycles_per_beat=None)).sentence


@pytest.mark.parametrize("kind", ["return", "direction"])
def test_a_roll_round_the_pitch_is_not_told_to_push_one_way(make_report, kind: str) -> None:
    middle = remedy(kind, report=make_report(place=Place.MIDDLE))
    assert "middle" in middle.sentence
    assert middle.sentence != remedy(kind).sentence


@pytest.mark.parametrize("kind", ["return", "direction"])
def test_a_let_down_bend_comes_home_at_the_top(make_report, kind: str) -> None:
    assert "upper note" in remedy(kind, report=make_report(place=Place.TOP)).sentence


def test_the_arm_comes_with_care_about_breaking_strings(make_report) -> None:
    found = remedy("even_width", report=make_report(technique=Technique.ARM))
    assert "break" in found.caution


@pytest.mark.parametrize("kind", ["return", "direction", "even_width", "even_time", "lock"])
def test_what_takes_force_says_to_stop_at_pain(kind: str) -> None:
    assert "pain" in remedy(kind).caution


@pytest.mark.parametrize("cycles_per_beat", list(SYLLABLES))
def test_there_is_one_syllable_for_each_wave_and_the_last_is_home(cycles_per_beat: int) -> None:
    assert len(SYLLABLES[cycles_per_beat]) == cycles_per_beat
    assert SYLLABLES[cycles_per_beat][-1] == "home"


def test_seven_to_the_click_has_no_syllables() -> None:
    with pytest.raises(LabError, match="whole number"):
        spoken(7)
