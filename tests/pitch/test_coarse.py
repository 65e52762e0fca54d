"""Candidates of single frames: the true period is among them, and the measure is the published."""

import numpy as np
import pytest

from labcore.pitch.coarse import PEAKS, candidates, frame_length, square_difference
from labcore.pitch.frames import grid_for

RATE_HZ = 11_025.0
GRID = grid_for(RATE_HZ)
COARSE_TOLERANCE_CENTS = 12.0  # a carrier this near is found by the first demodulation


def note(hz: float, *, partials: int = 6) -> np.ndarray:
    t = np.arange(int(0.3 * RATE_HZ)) / RATE_HZ
    parts = range(1, 1 + min(partials, int(4500 / hz)))
    return sum(np.sin(2 * np.pi * k * hz * t + k) / k for k in parts).astype(np.float32)


def test_the_measure_is_twice_the_correlation_over_the_energy() -> None:
    # n(lag) = 2 sum x[i] x[i+lag] / sum (x[i]^2 + x[i+lag]^2): McLeod & Wyvill 2005, from memory.
    frame = np.random.default_rng(1).normal(size=(1, 60)).astype(np.float32)
    found = square_difference(frame, lags=20)[0]
    x = frame[0].astype(float)
    for lag in (0, 1, 7, 19):
        a, b = x[: 60 - lag], x[lag:]
        assert found[lag] == pytest.approx(2 * (a @ b) / (a @ a + b @ b), abs=1e-5)


@pytest.mark.parametrize("hz", [60.0, 82.41, 196.0, 440.0, 987.8, 1400.0])
def test_the_pitch_is_among_the_candidates(hz: float) -> None:
    found = candidates(note(hz), grid=GRID)
    cents = 1200 * np.abs(np.log2(found.frequency_hz / hz))
    assert np.nanmin(cents, axis=1).max() < COARSE_TOLERANCE_CENTS


def test_noise_has_no_clear_candidate() -> None:
    noise = np.random.default_rng(2).normal(size=5000).astype(np.float32)
    assert np.nanmax(candidates(noise, grid=GRID).clarity, initial=0.0) < 0.5


def test_frames_and_columns_are_as_many_as_promised() -> None:
    sound = note(220.0)
    found = candidates(sound, grid=GRID)
    frames = (sound.size - frame_length(GRID)) // (2 * GRID.hop) + 1
    assert found.frequency_hz.shape == found.clarity.shape == (frames, PEAKS)
    assert found.level_db.shape == (frames,)


def test_silence_is_no_candidate_and_no_warning() -> None:
    assert np.isnan(candidates(np.zeros(2000, dtype=np.float32), grid=GRID).clarity).all()
