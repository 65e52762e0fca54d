"""Plucks are found where they are, and nothing else is one."""

from itertools import pairwise

import numpy as np
import pytest

from labcore.pitch.attacks import attacks
from labcore.pitch.carrier import Carrier
from labcore.pitch.decimate import decimated
from labcore.pitch.frames import grid_for
from tests.benchmark.contour_takes import RATE_HZ, additive, one_click, vibrato

WITHIN_S = 0.015


def plucks(
    times: list[float], *, hz: float = 220.0, gains: list[float] | None = None
) -> np.ndarray:
    """The same string plucked again and again, each pluck ending the last one."""
    rng = np.random.default_rng(5)
    sound = 1e-5 * rng.normal(size=int((times[-1] + 1.2) * RATE_HZ))
    for start, end in pairwise([*times, times[-1] + 1.2]):
        size = int((end - start) * RATE_HZ)
        note = additive(np.full(size, hz), rng=rng, decay_s=0.6)
        note[-100:] *= np.linspace(1, 0, 100)
        sound[int(start * RATE_HZ) :][:size] += note
    return sound


def found(sound: np.ndarray, *, first_s: float, hz: np.ndarray | float = 220.0) -> np.ndarray:
    """Attack times along a carrier from ``first_s`` to the end."""
    working = decimated(sound.astype(np.float32), rate_hz=RATE_HZ)
    grid = grid_for(working.rate_hz)
    first, last = grid.count(first_s), grid.frames(working.samples.size)
    line = np.full(last - first, hz) if np.isscalar(hz) else np.asarray(hz)[: last - first]
    hidden = np.zeros(last, dtype=bool)
    return grid.step_s * np.array(
        attacks(working, carrier=Carrier(first, line), hidden=hidden, grid=grid)
    )


@pytest.mark.parametrize("hz", [82.4, 220.0, 659.3])
def test_repeated_plucks_of_one_pitch_are_found(hz: float) -> None:
    times = [0.3, 1.1, 1.8, 2.6]
    np.testing.assert_allclose(
        found(plucks(times, hz=hz), first_s=0.3, hz=hz), times, atol=WITHIN_S
    )


def test_a_click_on_a_note_is_no_pluck() -> None:
    sound = plucks([0.3])
    tick = 0.1 * one_click(rng=np.random.default_rng(6))
    sound[int(0.9 * RATE_HZ) :][: tick.size] += tick
    np.testing.assert_allclose(found(sound, first_s=0.3), [0.3], atol=WITHIN_S)


def test_a_vibrato_is_no_pluck() -> None:
    rng = np.random.default_rng(7)
    wave = vibrato(3.0, rate_waves_hz=6.0, extent_cents=100.0, way="up", rng=rng)
    hz = 220.0 * 2 ** (wave.cents / 1200)
    sound = np.concatenate([np.zeros(int(0.3 * RATE_HZ)), additive(hz, rng=rng)])
    on_frames = hz[:: round(RATE_HZ * 55 / 11_025)]
    np.testing.assert_allclose(found(sound, first_s=0.3, hz=on_frames), [0.3], atol=WITHIN_S)


@pytest.mark.parametrize("waves_hz", [4.0, 5.5, 7.0])
@pytest.mark.parametrize("swing_db", [3.0, 6.0, 9.0])
def test_a_swing_of_the_level_is_no_pluck(swing_db: float, waves_hz: float) -> None:
    # Tremolo and beating strings swing as deep; they do not flash as a pick does.
    sound = plucks([0.3])
    t = np.arange(sound.size) / RATE_HZ - 0.4
    wave = 0.5 * swing_db * (1 - np.cos(2 * np.pi * waves_hz * np.maximum(t, 0)))
    np.testing.assert_allclose(found(sound * 10 ** (-wave / 20), first_s=0.3), [0.3], atol=WITHIN_S)
