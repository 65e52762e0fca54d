"""From cents back to millimetres and newtons: round trips, uncertainty, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcore.errors import LabError
from labcore.physics.bending import bend_cents, bend_force_n, push_for_cents_m
from labcore.physics.inverse import (
    LEAST_CENTS,
    grams,
    infer_push,
    push_for,
    string_as_played,
    tuning_question,
)
from labcore.physics.strings import FrettedString, Guitar, string_set
from labcore.units import note_number_hz

few = settings(max_examples=30, derandomize=True, deadline=None)
THIRD = FrettedString(string_set("9-42")[2], fret=12)
G4_HZ = note_number_hz(67)  # third string, 12th fret


@few
@given(st.floats(10.0, 400.0), st.integers(1, 22), st.integers(0, 5))
def test_the_travel_gives_the_width_back(cents: float, fret: int, number: int) -> None:
    at = FrettedString(string_set("9-42")[number], fret=fret)
    push = infer_push(cents, at=at, locked_nut=True)
    assert float(bend_cents(at, push_m=push.travel_m)) == pytest.approx(cents, abs=1e-6)
    assert push.force_n == pytest.approx(float(bend_force_n(at, push_m=push.travel_m)))


# computed: a Monte Carlo over contour, modulus, tension and 0 to 15 % of free string; mm, N
MONTE_CARLO = [(10, 2.6, 0.4, 1.06, 0.19), (20, 3.7, 0.3, 1.52, 0.16),
               (40, 5.2, 0.3, 2.20, 0.17), (60, 6.4, 0.35, 2.77, 0.20)]  # fmt: skip


@pytest.mark.parametrize(("cents", "mm", "mm_error", "newtons", "newtons_error"), MONTE_CARLO)
def test_the_uncertainty_agrees_with_a_simulation(
    cents: float, mm: float, mm_error: float, newtons: float, newtons_error: float
) -> None:
    push = infer_push(cents, at=THIRD)
    assert push.travel_m * 1e3 == pytest.approx(mm, abs=0.06)
    assert push.travel_error_m * 1e3 == pytest.approx(mm_error, abs=0.06)
    assert push.force_n == pytest.approx(newtons, rel=0.02)
    assert push.force_error_n == pytest.approx(newtons_error, rel=0.2)


def test_the_stated_error_covers_what_is_not_known() -> None:
    # our own small simulation: strings of unlike modulus, tension and free length, read 3 cents off
    rng = np.random.default_rng(5)
    travels_m, forces_n = [], []
    for _ in range(300):
        share = np.sqrt(1 + 0.03 * rng.standard_normal())
        string = replace(
            THIRD.string.tuned_to(THIRD.string.open_hz * share),
            stretch_n=THIRD.string.stretch_n * (1 + 0.07 * rng.standard_normal()),
        )
        guitar = Guitar(free_nut_m=0.15 * 0.6477 * rng.random())
        at = FrettedString(string, fret=12, guitar=guitar)
        travels_m.append(float(push_for_cents_m(at, cents=40 + 3 * rng.standard_normal())))
        forces_n.append(float(bend_force_n(at, push_m=travels_m[-1])))
    push = infer_push(40.0, at=THIRD)
    assert push.travel_m == pytest.approx(np.mean(travels_m), rel=0.02)
    assert push.travel_error_m == pytest.approx(np.std(travels_m), rel=0.15)
    assert push.force_error_n == pytest.approx(np.std(forces_n), rel=0.2)


@pytest.mark.parametrize(
    ("modulus_pa", "mm", "newtons"), [(190e9, 5.75, 2.46), (200e9, 5.60, 2.39), (210e9, 5.47, 2.34)]
)
def test_the_modulus_moves_the_answer_a_little(
    modulus_pa: float, mm: float, newtons: float
) -> None:
    # computed: a guard against change
    string = replace(THIRD.string, stretch_n=THIRD.string.stretch_n * modulus_pa / 200e9)
    push = infer_push(50.0, at=FrettedString(string, fret=12), locked_nut=True)
    assert push.travel_m * 1e3 == pytest.approx(mm, abs=0.01)
    assert push.force_n == pytest.approx(newtons, abs=0.01)


def test_a_narrow_wave_is_refused() -> None:
    with pytest.raises(LabError, match="would be a guess"):
        infer_push(LEAST_CENTS - 0.1, at=THIRD)
    with pytest.raises(LabError, match="would be a guess"):
        infer_push(float("nan"), at=THIRD)
    at_the_edge = infer_push(LEAST_CENTS, at=THIRD)
    assert at_the_edge.travel_error_m / at_the_edge.travel_m == pytest.approx(0.16, abs=0.02)


def test_a_wave_below_the_plain_note_is_refused() -> None:
    with pytest.raises(LabError, match="a roll or an arm"):
        infer_push(40.0, at=THIRD, lowest_cents=-20.0)
    assert infer_push(40.0, at=THIRD, lowest_cents=-4.0).travel_m > 0  # within the error


def test_vibrato_on_a_held_bend_needs_little_travel_and_much_force() -> None:
    # computed: 1.7 mm at 6 N below a whole-tone bend, against 5.6 mm from rest
    held = infer_push(50.0, at=THIRD, lowest_cents=150.0, locked_nut=True)
    assert held.travel_m * 1e3 == pytest.approx(1.7, abs=0.05)
    assert held.force_n == pytest.approx(6.0, abs=0.1)
    assert float(bend_cents(THIRD, push_m=held.start_m)) == pytest.approx(150.0, abs=1e-6)
    assert held.start_force_n == pytest.approx(float(bend_force_n(THIRD, push_m=held.start_m)))
    start_mm, top_mm = held.start_m * 1e3, (held.start_m + held.travel_m) * 1e3
    assert f"from {start_mm:.1f} to {top_mm:.1f} mm" in held.sentence


def test_a_capo_and_another_tuning_are_counted_in() -> None:
    # computed: capo 5 fret 12 takes 4.0 mm; two semitones down 5.0 mm and 1.7 N
    plain = push_for(50.0, string=3, fret=12, plain_hz=G4_HZ, locked_nut=True)
    capo = push_for(50.0, string=3, fret=12, plain_hz=G4_HZ, capo_fret=5)
    down = push_for(50.0, string=3, fret=12, plain_hz=note_number_hz(65), locked_nut=True)
    assert plain.travel_m * 1e3 == pytest.approx(5.6, abs=0.05)
    assert capo.travel_m * 1e3 == pytest.approx(4.0, abs=0.06)
    assert down.travel_m * 1e3 == pytest.approx(5.0, abs=0.05)
    assert down.force_n == pytest.approx(1.7, abs=0.05)


def test_the_tension_comes_from_the_plain_note() -> None:
    at = string_as_played(3, fret=12, plain_hz=400.0)
    assert at.plain_hz == pytest.approx(400.0)
    assert at.tension_n == pytest.approx(at.string.mass_kg_m * (2 * 0.6477 * 200.0) ** 2)


def test_a_question_is_asked_only_where_pitch_and_fret_disagree() -> None:
    assert tuning_question(G4_HZ * 2 ** (30 / 1200), string=3, fret=12) is None
    question = tuning_question(note_number_hz(65), string=3, fret=12)
    assert question is not None
    assert "2.0 frets below" in question
    assert "capo" in question


def test_a_pitch_that_cannot_be_this_string_is_refused() -> None:
    with pytest.raises(LabError, match="check string"):
        push_for(50.0, string=3, fret=12, plain_hz=82.0)
    with pytest.raises(LabError, match="String 7"):
        push_for(50.0, string=7, fret=12)


def test_the_sentence_says_at_least_at_the_string_and_gives_grams() -> None:
    sentence = push_for(40.0, string=3, fret=12, plain_hz=G4_HZ).sentence
    assert sentence.startswith("At least, at the string:")
    assert "mm" in sentence
    assert "N, the weight of about 220 g" in sentence
    # 1 N is the weight of 102 g
    assert grams(10.0) == "1020 g"
    assert grams(-0.5) == "51 g"


def test_thicker_strings_need_more_force_but_no_more_travel() -> None:
    light = push_for(40.0, string=1, fret=12, gauges="9-42")
    heavy = push_for(40.0, string=1, fret=12, gauges="10-46")
    assert heavy.travel_m == pytest.approx(light.travel_m, rel=0.002)
    assert heavy.force_n / light.force_n == pytest.approx(72.12 / 58.41, rel=0.01)
