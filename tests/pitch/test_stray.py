"""Another sound beside the note is measured in dB."""

import numpy as np
import pytest

from labcore.measures import STRAY_DB
from labcore.model import PitchContour, Recording
from labcore.pitch import track
from labcore.pitch.decimate import Working
from labcore.pitch.frames import grid_for
from labcore.pitch.stray import stray_db

RATE_HZ = 11_025.0
GRID = grid_for(RATE_HZ)
TOLERANCE_DB = 1.5  # the note's strongest partial is measured with the stray beside it


def heard_db(other: float, *, below_db: float, extent_cents: float = 0.0) -> float:
    t = np.arange(int(2 * RATE_HZ)) / RATE_HZ
    hz = 220.0 * 2 ** (0.5 * extent_cents * np.sin(2 * np.pi * 5 * t) / 1200)
    phase = np.cumsum(hz) / RATE_HZ
    note = sum(np.sin(2 * np.pi * k * phase) / k for k in range(1, 8))
    stray = 10 ** (-below_db / 20) * np.sin(2 * np.pi * other * t)
    sound = Working((0.1 * (note + stray)).astype(np.float32), RATE_HZ)
    frames = np.arange(60, 300)
    line = np.interp(frames * GRID.step_s, t, hz)
    return float(np.median(stray_db(sound, hz=line, first=60, grid=GRID)))


@pytest.mark.parametrize("below_db", [6.0, 12.0, 20.0])
@pytest.mark.parametrize("other", [164.8, 293.7, 330.0])
def test_another_string_is_as_loud_as_it_is(other: float, below_db: float) -> None:
    assert heard_db(other, below_db=below_db) == pytest.approx(-below_db, abs=TOLERANCE_DB)


@pytest.mark.parametrize("extent_cents", [0.0, 40.0, 120.0])
def test_a_note_alone_has_none_however_it_moves(extent_cents: float) -> None:
    assert heard_db(300.0, below_db=200.0, extent_cents=extent_cents) < -26.0


def test_another_string_is_seen_beside_a_vibrato() -> None:
    found = heard_db(293.7, below_db=15.0, extent_cents=60.0)
    assert found == pytest.approx(-15.0, abs=3.0)  # the note's own partial is smeared


RATE_HZ, LONG_S = 22050, 4.0
WAVED_HZ = 330.0


def string(hz: np.ndarray) -> np.ndarray:
    """A string of eight partials, as 1/k, whose pitch is ``hz`` at every sample."""
    phase = 2.0 * np.pi * np.cumsum(hz) / RATE_HZ
    time_s = np.arange(hz.size) / RATE_HZ
    return sum(np.sin(k * phase) / k for k in range(1, 9)) * np.exp(-time_s / 3.0)


def tracked(sound: np.ndarray) -> PitchContour:
    samples = (0.2 * sound / np.max(np.abs(sound))).astype(np.float32)
    return track(Recording(samples, float(RATE_HZ), "two", "0" * 64))


def waved(width_cents: float = 50.0) -> np.ndarray:
    time_s = np.arange(int(LONG_S * RATE_HZ)) / RATE_HZ
    lift = 0.5 * width_cents * (1.0 - np.cos(2.0 * np.pi * 4.0 * (time_s - 0.8)))
    cents = np.where(time_s > 0.8, lift, 0.0)
    return WAVED_HZ * 2.0 ** (cents / 1200.0)


# A fifth, a fourth, a third and an octave: their partials fit the series of one lower note.
@pytest.mark.parametrize("ratio", [3 / 2, 4 / 3, 5 / 4, 2 / 3, 1 / 2])
@pytest.mark.parametrize("level", [1.0, 0.6])
def test_strings_that_fit_one_series_are_told_by_how_they_move(ratio: float, level: float) -> None:
    still = np.full(int(LONG_S * RATE_HZ), WAVED_HZ * ratio)
    contour = tracked(string(waved()) + level * string(still))
    moving = contour.stray_db[contour.frames(1.2, 3.5)]
    assert np.mean(moving > STRAY_DB) > 0.8


# With an octave, or a fifth below, the pitch stays with the still string: then there is no wave.
@pytest.mark.parametrize("ratio", [3 / 2, 4 / 3, 5 / 4])
def test_a_still_string_is_told_beside_a_wave_too_narrow_to_leave_it_far(ratio: float) -> None:
    """As a finger rolled on a fretted neck makes: 16 cents wide."""
    still = np.full(int(LONG_S * RATE_HZ), WAVED_HZ * ratio)
    contour = tracked(string(waved(16.0)) + 0.6 * string(still))
    assert np.mean(contour.stray_db[contour.frames(0.5, 3.5)] > STRAY_DB) > 0.8


@pytest.mark.parametrize("noise", [0.0, 0.03])
def test_a_narrow_wave_alone_is_no_second_string(noise: float) -> None:
    sound = string(waved(16.0))
    sound += noise * np.max(sound) * np.random.default_rng(2).standard_normal(sound.size)
    contour = tracked(sound)
    assert np.max(contour.stray_db[contour.frames(0.5, 3.5)]) < STRAY_DB


def test_a_string_alone_goes_one_way_with_all_its_partials() -> None:
    contour = tracked(string(waved()))
    moving = contour.stray_db[contour.frames(1.2, 3.5)]
    assert np.max(moving) < STRAY_DB - 10.0
