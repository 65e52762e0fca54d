"""The octave of a note from its partials, wherever the coarse line stood."""

import numpy as np
import pytest

from labcore.pitch.carrier import Carrier
from labcore.pitch.decimate import decimated
from labcore.pitch.frames import grid_for
from labcore.pitch.octave import came_up, multiple_of, own_positions
from tests.benchmark.contour_takes import RATE_HZ, additive, with_second_string

LEAD = 30  # frames
KINDS = ("plain", "weak fundamental", "weak odd", "strong second", "twelfth fret pluck", "dark")


def multiple(sound: np.ndarray, *, carrier_hz: float) -> float:
    """What `multiple_of` says of a note that is plucked after half a second."""
    whole = np.concatenate([np.zeros(int(0.5 * RATE_HZ)), sound])
    whole = whole + 1e-5 * np.random.default_rng(8).normal(size=whole.size)
    working = decimated(whole.astype(np.float32), rate_hz=RATE_HZ)
    grid = grid_for(working.rate_hz)
    carrier = Carrier(grid.count(0.5) - LEAD, np.full(200 + LEAD, carrier_hz))
    return multiple_of(working, carrier=carrier, lead=LEAD, grid=grid)


def note(hz: float, *, kind: str = "plain") -> np.ndarray:
    return additive(np.full(int(1.5 * RATE_HZ), hz), rng=np.random.default_rng(9), kind=kind)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("hz", [98.0, 247.0, 587.0])
def test_the_note_is_found_from_an_octave_above_and_from_itself(hz: float, kind: str) -> None:
    sound = note(hz, kind=kind)
    assert multiple(sound, carrier_hz=2 * hz) == 0.5
    assert multiple(sound, carrier_hz=hz) == 1.0


@pytest.mark.parametrize("below", [2, 3, 4])
def test_a_carrier_on_a_multiple_of_the_period_is_lifted(below: int) -> None:
    assert multiple(note(392.0), carrier_hz=392.0 / below) == below


def test_a_string_that_rang_an_octave_below_before_the_pluck_does_not_lower_it() -> None:
    hz = 392.0
    sound = note(hz)
    lead = np.zeros(int(0.5 * RATE_HZ))
    whole = np.concatenate([lead, sound])
    whole = with_second_string(whole, hz=hz / 2, below_db=22.0, rng=np.random.default_rng(10))
    working = decimated(whole.astype(np.float32), rate_hz=RATE_HZ)
    grid = grid_for(working.rate_hz)
    carrier = Carrier(grid.count(0.5) - LEAD, np.full(200 + LEAD, hz))
    assert multiple_of(working, carrier=carrier, lead=LEAD, grid=grid) == 1.0


def test_a_line_that_ends_a_frame_after_its_lead_is_looked_at_in_that_frame() -> None:
    working = decimated(note(220.0).astype(np.float32), rate_hz=RATE_HZ)
    grid = grid_for(working.rate_hz)
    for first in (30, 31, 32):  # of every third frame kept, none may lie after the lead
        carrier = Carrier(first, np.full(LEAD + 1, 220.0))
        came_up(working, carrier=carrier, lead=LEAD, grid=grid)
        assert multiple_of(working, carrier=carrier, lead=LEAD, grid=grid) == 1.0


def test_own_positions_share_nothing() -> None:
    masks = [own_positions(16, halves=halves) for halves in (1, 2, 4)]
    assert np.sum(masks, axis=0).max() == 1
