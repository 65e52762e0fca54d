"""Carriers: a cubic between frames, and its exact integral as phase."""

import numpy as np
import pytest

from labcore.pitch.carrier import Carrier, phase_cycles, upsampled

RATE_HZ, HOP = 11_025.0, 55


def test_the_phase_of_a_constant_pitch_is_pitch_times_time() -> None:
    phase = phase_cycles(np.full(20, 220.0), hop=HOP, rate_hz=RATE_HZ).ravel()
    np.testing.assert_allclose(phase, 220.0 * np.arange(phase.size) / RATE_HZ, atol=1e-9)


def test_the_phase_of_a_vibrato_is_its_integral() -> None:
    # f(t) = 220 + 5 sin(2 pi 6 t) has the phase 220 t + 5 (1 - cos(2 pi 6 t)) / (2 pi 6).
    frame_s = np.arange(200) * HOP / RATE_HZ
    phase = phase_cycles(220 + 5 * np.sin(2 * np.pi * 6 * frame_s), hop=HOP, rate_hz=RATE_HZ)
    t = np.arange(phase.size) / RATE_HZ
    wanted = 220 * t + 5 * (1 - np.cos(2 * np.pi * 6 * t)) / (2 * np.pi * 6)
    np.testing.assert_allclose(phase.ravel(), wanted, atol=2e-4)


def test_upsampling_keeps_the_frames_and_a_vibrato_between_them() -> None:
    coarse_s = np.arange(100) * 0.01
    fine = upsampled(np.sin(2 * np.pi * 7.2 * coarse_s))
    wanted = np.sin(2 * np.pi * 7.2 * np.arange(fine.size) * 0.005)
    np.testing.assert_allclose(fine[::2], wanted[::2], atol=1e-12)
    np.testing.assert_allclose(fine[3:-3], wanted[3:-3], atol=0.01)


def test_a_part_is_held_where_the_carrier_does_not_reach() -> None:
    carrier = Carrier(10, np.array([100.0, 101.0, 102.0]))
    assert carrier.part(8, 14).hz.tolist() == [100.0, 100.0, 100.0, 101.0, 102.0, 102.0]
    assert carrier.part(8, 14).first == 8


@pytest.mark.parametrize("size", [1, 2, 3])
def test_short_lines_upsample(size: int) -> None:
    assert upsampled(np.arange(float(size))).size == max(1, 2 * size - 1)
