"""Another sound beside the note is measured in dB."""

import numpy as np
import pytest

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
