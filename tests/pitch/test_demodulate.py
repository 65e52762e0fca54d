"""Demodulation of partials with known amplitude and frequency."""

import numpy as np
import pytest

from labcore.pitch.carrier import Carrier
from labcore.pitch.decimate import Working
from labcore.pitch.demodulate import HANN, NUTTALL, demodulate, window_of
from labcore.pitch.frames import grid_for

RATE_HZ = 11_025.0
GRID = grid_for(RATE_HZ)
AMPLITUDE_TOLERANCE = 1e-4
RESIDUAL_TOLERANCE_HZ = 2e-3


def tones(parts: list[tuple[float, float]], *, seconds: float = 0.6) -> Working:
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    sound = sum(a * np.sin(2 * np.pi * hz * t + 0.7 * i) for i, (hz, a) in enumerate(parts))
    return Working(np.asarray(sound, dtype=np.float32), RATE_HZ)


def test_amplitude_and_residual_of_each_partial_are_read() -> None:
    sound = tones([(201.0, 0.5), (402.0, 0.1), (606.0, 0.02)])
    window = window_of(NUTTALL, seconds=0.036, grid=GRID)
    found = demodulate(
        sound,
        carrier=Carrier(20, np.full(60, 200.0)),
        numbers=np.array([1.0, 2.0, 3.0]),
        window=window,
        grid=GRID,
    )
    # A slow turn of r Hz passes the window a little weakened; 6 Hz by less than one per cent.
    np.testing.assert_allclose(found.amplitude[0], 0.5, rtol=0.002)
    np.testing.assert_allclose(found.residual_hz[0], 1.0, atol=0.02)
    np.testing.assert_allclose(found.residual_hz[1], 2.0, atol=0.02)
    np.testing.assert_allclose(found.residual_hz[2], 6.0, atol=0.05)


def test_a_partial_exactly_on_the_carrier_stands_still() -> None:
    found = demodulate(
        tones([(200.0, 0.5)]),
        carrier=Carrier(20, np.full(60, 200.0)),
        numbers=np.array([1.0]),
        window=window_of(NUTTALL, seconds=0.036, grid=GRID),
        grid=GRID,
    )
    np.testing.assert_allclose(found.amplitude, 0.5, atol=AMPLITUDE_TOLERANCE)
    np.testing.assert_allclose(found.residual_hz, 0.0, atol=RESIDUAL_TOLERANCE_HZ)


def test_what_rounding_left_of_silence_stands_still() -> None:
    denormals = np.random.default_rng(1).normal(scale=1e-42, size=6000).astype(np.float32)
    assert 0.0 < np.abs(denormals).max() < np.finfo(np.float32).tiny
    found = demodulate(
        Working(denormals, RATE_HZ),
        carrier=Carrier(20, np.full(60, 200.0)),
        numbers=np.array([1.0, 2.0]),
        window=window_of(NUTTALL, seconds=0.036, grid=GRID),
        grid=GRID,
    )
    np.testing.assert_allclose(found.residual_hz, 0.0, atol=RESIDUAL_TOLERANCE_HZ)


def test_a_quarter_position_between_partials_is_silent() -> None:
    found = demodulate(
        tones([(200.0, 0.5)], seconds=1.0),
        carrier=Carrier(40, np.full(60, 200.0)),
        numbers=np.array([0.75, 1.0, 1.25]),
        window=window_of(HANN, seconds=0.09, grid=GRID),
        grid=GRID,
    )
    levels_db = 20 * np.log10(found.amplitude.mean(axis=1) / 0.5)
    assert levels_db[0] < -30.0
    assert levels_db[2] < -30.0


@pytest.mark.parametrize("cosines", [NUTTALL, HANN])
def test_windows_are_even_in_time_and_sum_to_one(cosines: tuple[float, ...]) -> None:
    window = window_of(cosines, seconds=0.04, grid=GRID)
    weight, slope = window.weight.ravel(), window.slope_per_s.ravel()
    assert weight.sum() == pytest.approx(1.0, abs=1e-5)
    np.testing.assert_allclose(weight[1:], weight[:0:-1], atol=1e-8)
    np.testing.assert_allclose(slope[1:], -slope[:0:-1], atol=1e-4)


def test_a_long_carrier_in_pieces_is_the_same_as_short_ones() -> None:
    sound = tones([(200.5, 0.5)], seconds=12.0)
    window = window_of(NUTTALL, seconds=0.036, grid=GRID)
    numbers = np.array([1.0])
    whole = demodulate(
        sound, carrier=Carrier(0, np.full(2300, 200.0)), numbers=numbers, window=window, grid=GRID
    )
    late = demodulate(
        sound, carrier=Carrier(2000, np.full(300, 200.0)), numbers=numbers, window=window, grid=GRID
    )
    np.testing.assert_allclose(
        whole.residual_hz[:, 2000:], late.residual_hz, atol=RESIDUAL_TOLERANCE_HZ
    )
