"""From a carrier that is only nearly right to the pitch itself."""

import numpy as np
import pytest

from labcore.pitch.carrier import Carrier
from labcore.pitch.decimate import Working
from labcore.pitch.frames import grid_for
from labcore.pitch.refine import credit, refine

RATE_HZ = 11_025.0
GRID = grid_for(RATE_HZ)
TOLERANCE_CENTS = 0.15
WIDTH_TOLERANCE = 0.003


@pytest.mark.parametrize("waves_hz", [2.4, 4.8, 7.2])
def test_the_width_of_a_vibrato_is_right_though_the_carrier_knows_nothing_of_it(
    waves_hz: float,
) -> None:
    t = np.arange(int(3 * RATE_HZ)) / RATE_HZ
    cents = 20.0 * np.sin(2 * np.pi * waves_hz * t)
    phase = np.cumsum(220.0 * 2 ** (cents / 1200)) / RATE_HZ
    sound = sum(np.sin(2 * np.pi * k * phase + k) / k for k in range(1, 9))
    working = Working((0.1 * sound).astype(np.float32), RATE_HZ)
    found = refine(working, carrier=Carrier(40, np.full(500, 220.0)), grid=GRID)
    heard = 1200 * np.log2(found.hz / 220.0)
    true = np.interp((40 + np.arange(500)) * GRID.step_s, t, cents)
    inside = slice(40, -40)
    np.testing.assert_allclose(heard[inside], true[inside], atol=TOLERANCE_CENTS)
    assert np.ptp(heard[inside]) == pytest.approx(40.0, rel=WIDTH_TOLERANCE)


def test_frames_far_worse_than_their_surroundings_lose_their_credit() -> None:
    error = np.full(200, 0.1)
    error[100:105] = 3.0
    trust = credit(error)
    assert trust[100:105].max() < 0.01
    assert trust[:90].min() > 0.9
