"""Contours of a moving hand against trigonometric identities and stored numbers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcore.errors import LabError
from labcore.physics.bending import square_law
from labcore.physics.motion import (
    HandMotion,
    harmonics,
    humps,
    lumpiness,
    motion_cents,
    one_turn,
    rising_share,
)
from labcore.physics.rolling import roll_cents_per_metre
from labcore.physics.strings import FrettedString, string_set

few = settings(max_examples=30, derandomize=True, deadline=None)
THIRD = FrettedString(string_set("9-42")[2], fret=12)
ANGLE = 2 * np.pi * np.arange(512) / 512
CENTS_TOLERANCE = 0.05


def test_a_square_of_a_cosine_moves_at_twice_its_rate() -> None:
    # identity: cos^2 = 1/2 + cos(2 wt)/2
    assert harmonics(np.cos(ANGLE) ** 2, count=2) == pytest.approx([0.5, 0.0, 0.5], abs=1e-9)


@pytest.mark.parametrize(
    ("offset", "ratio"), [(0.1, 2.5), (0.25, 1.0), (0.5, 0.5), (1.0, 0.25), (2.0, 0.125)]
)
def test_an_offset_makes_the_square_rounder(offset: float, ratio: float) -> None:
    # identity: H2/H1 of (y0 + cos)^2 is 1 / (4 y0)
    assert lumpiness((offset + np.cos(ANGLE)) ** 2) == pytest.approx(ratio, abs=1e-9)


# computed by the model: offset and swing in mm, lowest, highest, H1, H2, H3
EXACT = [
    (0, 3, 0.0, 14.6, 0.0, 7.32, 0.0),
    (3, 3, 0.0, 57.1, 28.67, 6.96, 0.12),
    (5, 2, 14.6, 76.8, 31.15, 2.84, 0.06),
]


@pytest.mark.parametrize(("offset", "swing", "low", "high", "first", "second", "third"), EXACT)
def test_the_sideways_contours_have_not_changed(
    offset: float, swing: float, low: float, high: float, first: float, second: float, third: float
) -> None:
    motion = HandMotion(offset_m=offset * 1e-3, sideways_m=swing * 1e-3)
    wave = one_turn(THIRD, motion=motion)
    _, h1, h2, h3 = harmonics(wave)
    assert wave.min() == pytest.approx(low, abs=CENTS_TOLERANCE)
    assert wave.max() == pytest.approx(high, abs=CENTS_TOLERANCE)
    assert (h1, h2, h3) == pytest.approx((first, second, third), abs=CENTS_TOLERANCE)


def test_both_ways_through_rest_doubles_the_rate_and_never_goes_below() -> None:
    wave = one_turn(THIRD, motion=HandMotion(sideways_m=3e-3))
    assert wave.min() >= 0.0
    assert wave[:256] == pytest.approx(wave[256:], abs=1e-9)  # two alike in one turn of the hand
    assert wave.mean() == pytest.approx(7.3, abs=CENTS_TOLERANCE)


def test_one_way_is_four_times_as_wide_as_both_ways_for_the_same_travel() -> None:
    # square law: (2r)^2 against r^2; a little less at 6 mm, where the exact law falls behind it
    one_way = one_turn(THIRD, motion=HandMotion(offset_m=3e-3, sideways_m=3e-3))
    both_ways = one_turn(THIRD, motion=HandMotion(sideways_m=3e-3))
    assert np.ptp(one_way) / np.ptp(both_ways) == pytest.approx(4.0, rel=0.05)


def test_a_quarter_off_the_middle_makes_neighbouring_waves_very_unlike() -> None:
    # ((r + y0) / (r - y0))^2 = 2.8 at y0 = r/4
    wave = one_turn(THIRD, motion=HandMotion(offset_m=0.25e-3, sideways_m=1e-3))
    assert wave[0] / wave[256] == pytest.approx((1.25 / 0.75) ** 2, rel=0.01)


# computed from the formulas with K y0 r = 1, K r^2 = 1 and an along-part of 1.5: phase in degrees,
# first harmonic, second over first, share of the turn that rises
PHASES = [
    (0, 3.50, 0.143, 0.500), (45, 3.24, 0.154, 0.567), (90, 2.50, 0.200, 0.602),
    (180, 0.50, 1.00, 0.500), (270, 2.50, 0.200, 0.398),
]  # fmt: skip


@pytest.mark.parametrize(("phase_deg", "first", "ratio", "rising"), PHASES)
def test_the_phase_decides_how_round_the_wave_is(
    phase_deg: float, first: float, ratio: float, rising: float
) -> None:
    wave = (1 + np.cos(ANGLE)) ** 2 + 1.5 * np.cos(ANGLE + np.radians(phase_deg))
    assert harmonics(wave)[1] == pytest.approx(first, abs=0.005)
    assert lumpiness(wave) == pytest.approx(ratio, abs=0.002)
    assert rising_share(wave) == pytest.approx(rising, abs=0.004)


@few
@given(st.floats(0.0, 6.28), st.floats(0.5, 1.5), st.floats(0.0, 10.0))
def test_the_exact_contour_follows_the_small_motion_law(
    phase: float, swing_mm: float, along_um: float
) -> None:
    # H1 = |2 K y0 r + G r_x e^(i phase)|, H2 = K r^2 / 2
    k, g = square_law(THIRD), roll_cents_per_metre(THIRD)
    y0, r, x = 1.5e-3, swing_mm * 1e-3, along_um * 1e-6
    motion = HandMotion(offset_m=y0, sideways_m=r, along_m=x, phase_rad=phase)
    _, h1, h2 = harmonics(one_turn(THIRD, motion=motion), count=2)
    assert h1 == pytest.approx(abs(2 * k * y0 * r + g * x * np.exp(1j * phase)), abs=0.35)
    assert h2 == pytest.approx(k * r**2 / 2, abs=0.1)


def test_a_roll_alone_swings_evenly_round_the_plain_note() -> None:
    wave = one_turn(THIRD, motion=HandMotion(along_m=14e-6))
    assert wave.max() == pytest.approx(-wave.min(), rel=0.02)
    assert lumpiness(wave) < 0.02


def test_the_sense_of_turning_leans_the_wave_the_other_way() -> None:
    leans = [
        rising_share(
            one_turn(
                THIRD,
                motion=HandMotion(
                    offset_m=3e-3, sideways_m=3e-3, along_m=20e-6, phase_rad=sense * np.pi / 2
                ),
            )
        )
        for sense in (1, -1)
    ]
    assert leans[0] > 0.52
    assert leans[0] + leans[1] == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("second", "expected"), [(0.2, 1), (0.24, 1), (0.3, 2), (0.6, 2), (5.0, 2)]
)
def test_a_second_hump_grows_from_a_quarter_on(second: float, expected: int) -> None:
    # cos x + r cos 2x turns where sin x = 0 or cos x = -1 / (4 r): a second top if r > 1/4
    wave = np.cos(ANGLE) + second * np.cos(2 * ANGLE)
    assert humps(wave, least_cents=1e-3) == expected


def test_a_small_hump_is_not_counted() -> None:
    # at r = 1/2 the second top stands 1/4 above its valleys: (4 r - 1)^2 / (8 r)
    wave = np.cos(ANGLE) + 0.5 * np.cos(2 * ANGLE)
    assert humps(wave, least_cents=0.24) == 2
    assert humps(wave, least_cents=0.26) == 1
    assert humps(np.zeros(8), least_cents=1.0) == 0


def test_the_pitch_line_has_the_hands_rate() -> None:
    motion = HandMotion(offset_m=3e-3, sideways_m=3e-3, hand_hz=4.8)
    first, later = motion_cents(THIRD, motion=motion, time_s=[0.1, 0.1 + 1 / 4.8])
    assert first == pytest.approx(later)


def test_a_wave_without_the_hands_rate_is_infinitely_lumpy() -> None:
    assert lumpiness(np.cos(2 * ANGLE)) == float("inf")


def test_wrong_input_is_told_in_a_sentence() -> None:
    with pytest.raises(LabError, match="times a second"):
        HandMotion(hand_hz=0.0)
