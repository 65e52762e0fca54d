"""The ladder: one new difficulty a rung, within the limits of a hand, kind to the body."""

import pytest

from labcore.beats import wave_rate_hz
from labcore.errors import LabError
from labcore.exercises import LADDER, Band, ladder, rung_named
from labcore.exercises.ladder import drill_minutes
from labcore.model import Measure, Measures, Place, Technique

# Voluntary one-hand tapping: commonly assumed limit 5 to 7 Hz (Fujii et al. 2009, abstract).
HAND_LIMIT_HZ = 7.0
TECHNIQUES = (Technique.BEND, Technique.ROLL, Technique.ARM, Technique.CIRCLE)


def new_difficulties(rungs) -> list[int]:
    known, counts = frozenset(), []
    for rung in rungs:
        counts.append(len(rung.difficulties - known))
        known |= rung.difficulties
    return counts


@pytest.mark.parametrize("technique", TECHNIQUES)
def test_no_rung_brings_more_than_one_new_difficulty(technique: Technique) -> None:
    assert max(new_difficulties(ladder(technique))[1:]) == 1


def test_the_check_for_new_difficulties_sees_a_rung_left_out() -> None:
    without = [rung for rung in LADDER if rung.name not in ("sixteenths-60", "sixteenths-72")]
    assert max(new_difficulties(without)[1:]) > 1


def test_the_ladder_has_every_note_value_finger_and_string() -> None:
    assert {value for rung in LADDER for value in rung.values} == {1, 2, 3, 4, 5, 6}
    assert {rung.finger for rung in LADDER} == {1, 2, 3, 4}
    assert {rung.string for rung in LADDER} == {1, 2, 3, 4, 5, 6}


def test_weeks_run_from_0_to_12_without_a_gap_or_a_way_back() -> None:
    weeks = [rung.week for rung in LADDER]
    assert weeks == sorted(weeks)
    assert set(weeks) == set(range(13))


def test_no_rung_asks_for_more_than_a_hand_can_do() -> None:
    rates = [
        wave_rate_hz(rung.tempo_bpm, cycles_per_beat=value)
        for rung in LADDER
        if rung.tempo_bpm is not None
        for value in rung.values
    ]
    assert len(rates) > 30
    assert max(rates) < HAND_LIMIT_HZ


def test_every_rung_rests_as_long_as_it_plays_and_stays_within_the_minutes() -> None:
    for rung in LADDER:
        assert 20 <= rung.set_s <= 30
        assert rung.rest_s >= rung.set_s
        assert rung.sets * rung.set_s <= 60 * drill_minutes(rung.week)
        assert "pain" in rung.caution


def test_every_pass_mark_is_a_measure_of_the_report() -> None:
    names = {name for name, _ in Measures().named()}
    used = {band.measure for rung in LADDER for band in rung.bands}
    assert used
    assert used <= names


def test_names_are_unlike_and_lead_back_to_the_rung() -> None:
    assert len({rung.name for rung in LADDER}) == len(LADDER)
    assert all(rung_named(rung.name).title == rung.title for rung in LADDER)
    with pytest.raises(LabError, match="no exercise called 'sevens'"):
        rung_named("sevens")


@pytest.mark.parametrize("technique", [Technique.ROLL, Technique.ARM, Technique.CIRCLE])
def test_only_a_bend_has_to_go_up_only(technique: Technique) -> None:
    assert any(band.measure == "direction" for rung in LADDER for band in rung.bands)
    assert not any(band.measure == "direction" for rung in ladder(technique) for band in rung.bands)


def test_a_roll_is_at_home_in_the_middle_and_a_held_bend_at_the_top() -> None:
    assert rung_named("eighths-72", technique=Technique.ROLL).task.home is Place.MIDDLE
    assert rung_named("held-half-tone").task.home is Place.TOP
    assert rung_named("eighths-72").task.home is Place.BOTTOM


def test_the_arm_has_no_rung_for_single_fingers() -> None:
    assert not [rung for rung in ladder(Technique.ARM) if rung.finger != 3]


def test_a_value_at_the_edge_neither_holds_nor_is_clearly_missed() -> None:
    band = Band("even", "even", most=10.0)
    just_over = Measure(11.0, "%", 20, error=1.0)
    assert not band.holds(just_over)
    assert not band.missed(just_over)
    assert band.missed(Measure(12.5, "%", 20, error=1.0))
