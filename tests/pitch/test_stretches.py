"""Lines are cut at plucks, and strays are left out."""

import numpy as np
import pytest

from labcore.pitch.carrier import Carrier
from labcore.pitch.decimate import Working
from labcore.pitch.frames import grid_for
from labcore.pitch.stretches import Stretch, cut, heard

GRID = grid_for(11_025.0)


def line(first: int, frames: int, hz: float = 220.0) -> Carrier:
    return Carrier(first, np.full(frames, hz))


def test_a_line_is_cut_at_its_plucks() -> None:
    parts = cut(line(100, 300), plucks=[96, 200, 320], grid=GRID)
    assert [(part.first, part.last, pluck) for part, pluck in parts] == [
        (100, 200, 96),
        (200, 320, 200),
        (320, 400, 320),
    ]


def test_a_line_without_a_pluck_of_its_own_says_so() -> None:
    ((part, pluck),) = cut(line(100, 50), plucks=[], grid=GRID)
    assert (part.frames, pluck) == (50, None)


def test_a_cut_leaves_no_splinter_at_the_end() -> None:
    assert len(cut(line(100, 100), plucks=[100, 196], grid=GRID)) == 1


RATE_HZ = 11_025.0


def strings(*parts: tuple[float, float, float]) -> Working:
    """Two seconds of strings: (pitch in Hz, start in s, size)."""
    t = np.arange(int(2 * RATE_HZ)) / RATE_HZ
    sound = 1e-5 * np.random.default_rng(1).normal(size=t.size)
    for hz, start_s, size in parts:
        note = sum(np.sin(2 * np.pi * k * hz * t + k) / k for k in range(1, 9))
        sound += size * note * (t > start_s) * np.exp(-np.maximum(t - start_s, 0))
    return Working(sound.astype(np.float32), RATE_HZ)


def parts_of(sound: Working, *, hz: float, before_hz: float) -> list[Stretch]:
    """What is heard on a line without plucks in the second half, after a note in the first."""
    before = Stretch(line(20, 170, before_hz), 20)
    return heard(sound, line=line(200, 180, hz), plucks=[], before=before, grid=GRID)


@pytest.mark.parametrize("heard_at", [0.25, 0.5, 1, 2, 3, 4])
def test_a_note_that_goes_on_keeps_its_octave(heard_at: float) -> None:
    (one,) = parts_of(strings((220.0, 0.1, 0.1)), hz=220.0 * heard_at, before_hz=220.0)
    np.testing.assert_allclose(one.carrier.hz, 220.0)
    assert one.pluck is None


@pytest.mark.parametrize("other_hz", [164.8, 277.2, 293.7, 330.0, 660.0])
def test_what_comes_out_from_under_a_dying_note_is_left_out(other_hz: float) -> None:
    sound = strings((other_hz, 0.0, 0.02))
    assert parts_of(sound, hz=other_hz, before_hz=220.0) == []


def test_a_string_a_twelfth_above_is_told_from_the_note_itself() -> None:
    both = strings((220.0, 0.1, 0.1), (660.0, 0.1, 0.3))
    (one,) = parts_of(both, hz=660.0, before_hz=220.0)
    np.testing.assert_allclose(one.carrier.hz, 220.0)


@pytest.mark.parametrize("hz", [174.6, 196.0, 246.9, 293.7])
def test_a_hammered_note_comes_out_of_nothing(hz: float) -> None:
    t = np.arange(int(2 * RATE_HZ)) / RATE_HZ
    phase = np.cumsum(np.where(t < 200 * GRID.step_s, 220.0, hz)) / RATE_HZ
    sound = sum(np.sin(2 * np.pi * k * phase) / k for k in range(1, 9)) * np.exp(-t)
    (one,) = parts_of(Working(sound.astype(np.float32), RATE_HZ), hz=hz, before_hz=220.0)
    assert one.pluck == 200
    np.testing.assert_allclose(one.carrier.hz, hz)
