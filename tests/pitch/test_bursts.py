"""Clicks are marked, the rest is not."""

import numpy as np

from labcore.model import ClickSource, ClickTrack
from labcore.pitch.bursts import across, bursts, widened
from labcore.pitch.decimate import Working
from labcore.pitch.frames import grid_for

RATE_HZ = 11_025.0
GRID = grid_for(RATE_HZ)


def hum_of_a_note(seconds: float = 1.0) -> np.ndarray:
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    return 0.1 * sum(np.sin(2 * np.pi * k * 220 * t) / k for k in range(1, 6))


def test_an_unknown_tick_is_marked_where_it_is() -> None:
    sound = hum_of_a_note()
    tick = int(0.5 * RATE_HZ)
    sound[tick : tick + 60] += 0.5 * np.random.default_rng(1).normal(size=60)
    flags = bursts(Working(sound.astype(np.float32), RATE_HZ), clicks=None, grid=GRID)
    marked = np.flatnonzero(flags) * GRID.step_s
    assert marked.size > 0
    assert np.abs(marked - 0.5).max() < 0.02


def test_a_steady_note_has_no_bursts() -> None:
    sound = Working(hum_of_a_note().astype(np.float32), RATE_HZ)
    inside = bursts(sound, clicks=None, grid=GRID)[5:-5]
    assert not inside.any()


def test_known_clicks_are_marked_even_if_they_cannot_be_heard() -> None:
    clicks = ClickTrack(np.array([0.3, 0.7]), ClickSource.KNOWN, 0.0)
    sound = Working(hum_of_a_note().astype(np.float32), RATE_HZ)
    marked = np.flatnonzero(bursts(sound, clicks=clicks, grid=GRID)[5:-5]) + 5
    assert {round(float(t), 1) for t in marked * GRID.step_s} == {0.3, 0.7}


def test_flags_widen_and_levels_are_joined_across_them() -> None:
    flags = np.zeros(9, dtype=bool)
    flags[4] = True
    assert np.flatnonzero(widened(flags, frames=1)).tolist() == [3, 4, 5]
    level = np.array([[0.0, 1, 2, 99, 99, 99, 6, 7, 8]])
    np.testing.assert_allclose(across(level, flags=widened(flags, frames=1)), [np.arange(9.0)])
