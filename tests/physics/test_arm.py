"""The arm: ratios between strings, limits, balance of torques, and stored numbers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcore.errors import LabError
from labcore.physics.arm import (
    Bridge,
    arm_cents,
    arm_stiffness_nm,
    arm_tension_n,
    others_fall_cents,
    saddle_for_cents_m,
    saddle_move_m,
    slack_at_m,
    spring_force_n,
)
from labcore.physics.strings import FrettedString, string_set

few = settings(max_examples=30, derandomize=True, deadline=None)
OPEN = [FrettedString(string, fret=0) for string in string_set("9-42")]
HEAVY = [FrettedString(string, fret=0) for string in string_set("10-46")]


@pytest.mark.parametrize("strings", [OPEN, HEAVY])
def test_plain_strings_move_as_the_inverse_square_of_their_pitch(
    strings: list[FrettedString],
) -> None:
    # kappa ratio = (f_E / f)^2, any gauge. Kemp 2017 (press release of his university): the same
    # movement takes plain strings through different intervals, and nothing can equalise them
    small_m = 1e-5
    cents = [float(arm_cents(at, saddle_m=small_m)) for at in strings[:3]]
    assert cents[1] / cents[0] == pytest.approx(1.782, rel=0.01)
    assert cents[2] / cents[0] == pytest.approx(2.828, rel=0.01)
    # five and nine frets: 2^(10/12) and 2^(18/12)


def test_no_movement_is_no_change() -> None:
    for at in OPEN:
        assert arm_cents(at, saddle_m=0.0) == pytest.approx(0.0, abs=1e-12)


# computed from the equation: a guard against change; mm of saddle, cents of strings 1 to 6
TABLE = {
    -1.0: (-212.1, -423.9, -825.1, -410.4, -604.5, -907.5),
    -0.5: (-99.5, -186.1, -317.5, -180.9, -250.3, -339.6),
    0.5: (89.1, 152.9, 231.5, 149.4, 193.7, 242.9),
    1.0: (169.7, 282.5, 413.6, 276.5, 351.6, 432.2),
}


@pytest.mark.parametrize("moved_mm", TABLE)
def test_the_table_of_the_arm_has_not_changed(moved_mm: float) -> None:
    for at, expected in zip(OPEN, TABLE[moved_mm], strict=True):
        assert arm_cents(at, saddle_m=moved_mm * 1e-3) == pytest.approx(expected, abs=0.1)


def test_a_tenth_of_a_radian_moves_the_strings_by_a_plausible_amount() -> None:
    # Kemp 2017 turned a bridge by 0.085 rad; his numbers could not be read. Computed: a guard
    for height_mm, first, third in ((10, 146, 363), (15, 211, 499)):
        moved_m = saddle_move_m(Bridge(saddle_height_m=height_mm * 1e-3), angle_rad=0.085)
        assert arm_cents(OPEN[0], saddle_m=moved_m) == pytest.approx(first, abs=1.0)
        assert arm_cents(OPEN[2], saddle_m=moved_m) == pytest.approx(third, abs=1.0)


def test_an_even_swing_sounds_hardly_flat() -> None:
    # -A^2 / (4 C) for a sine of A cents: -0.73 at 50
    angle = 2 * np.pi * np.arange(720) / 720
    amplitude_m = 50.0 / (865.617 * OPEN[2].kappa / 0.6477)
    mean = float(np.mean(arm_cents(OPEN[2], saddle_m=amplitude_m * np.sin(angle))))
    assert mean == pytest.approx(-0.73, abs=0.02)


def test_a_slack_string_is_minus_infinity_and_no_crash() -> None:
    assert slack_at_m(OPEN[2]) * 1e3 == pytest.approx(-1.6, abs=0.05)
    assert slack_at_m(OPEN[0]) * 1e3 == pytest.approx(-4.6, abs=0.05)
    at_slack = slack_at_m(OPEN[2])
    assert arm_cents(OPEN[2], saddle_m=at_slack - 1e-6) == -np.inf
    assert arm_tension_n(OPEN[2], saddle_m=at_slack - 1e-3) == 0.0
    assert arm_cents(OPEN[2], saddle_m=at_slack * 0.999) < -2400


@few
@given(st.sampled_from(OPEN), st.floats(-1.2e-3, 2e-3))
def test_pulling_further_is_higher_both_ways_from_rest(at: FrettedString, moved_m: float) -> None:
    low, high = arm_cents(at, saddle_m=np.array([moved_m, moved_m + 1e-5]))
    assert low < high
    assert arm_cents(at, saddle_m=moved_m) * moved_m >= 0.0


@few
@given(st.sampled_from(OPEN), st.floats(-600.0, 400.0))
def test_cents_to_saddle_and_back(at: FrettedString, cents: float) -> None:
    moved_m = saddle_for_cents_m(at, cents=cents)
    assert float(arm_cents(at, saddle_m=moved_m)) == pytest.approx(cents, abs=1e-6)


def test_springs_and_strings_balance_at_rest() -> None:
    bridge = Bridge()
    pull_n = spring_force_n(bridge, strings=OPEN) * bridge.springs
    assert pull_n * bridge.spring_lever_m == pytest.approx(
        sum(at.tension_n for at in OPEN) * bridge.saddle_height_m
    )


def test_torques_balance_while_one_string_is_bent() -> None:
    bridge, bent, cents = Bridge(), 2, 20.0
    falls = others_fall_cents(bridge, strings=OPEN, bent=bent, cents=cents)
    moved_m = saddle_for_cents_m(OPEN[0], cents=float(falls[0]))
    angle = moved_m / bridge.saddle_height_m
    gained_n = OPEN[bent].tension_n * (2 ** (cents / 600) - 1)
    lost_n = sum(
        at.tension_n - float(arm_tension_n(at, saddle_m=moved_m))
        for i, at in enumerate(OPEN)
        if i != bent
    )
    springs_nm = bridge.springs * bridge.spring_n_m * bridge.spring_lever_m**2 * -angle
    assert gained_n * bridge.saddle_height_m == pytest.approx(
        lost_n * bridge.saddle_height_m + springs_nm, rel=1e-6
    )


def test_a_semitone_bend_lets_the_other_strings_down() -> None:
    # computed with guessed bridge and springs; about 7 to 25 cents
    falls = others_fall_cents(Bridge(), strings=OPEN, bent=2, cents=100.0)
    others = np.delete(falls, 2)
    assert falls[2] == 100.0
    assert np.all((others < -6.0) & (others > -26.0))


def test_stiffness_adds_strings_and_springs() -> None:
    bridge = Bridge()
    alone = arm_stiffness_nm(bridge, strings=[])
    assert alone == pytest.approx(3 * 1000 * 0.04**2)
    one = arm_stiffness_nm(bridge, strings=OPEN[:1])
    assert one - alone == pytest.approx((8209 + 58.4) * 0.01**2 / 0.6477, rel=1e-3)


def test_wrong_input_is_told_in_a_sentence() -> None:
    with pytest.raises(LabError, match="above zero"):
        Bridge(springs=0)
    with pytest.raises(LabError, match="between slack"):
        saddle_for_cents_m(OPEN[2], cents=1e5)
