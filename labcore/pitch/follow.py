"""Step 3: one path through the candidates (Viterbi 1967), or none where nothing repeats.

Octaves are nearly free here: the path finds the pitch class, `octave` the octave.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.coarse import PEAKS, SUBHARMONIC_COST, Candidates

UNVOICED_COST = 0.45  # a frame is worth a pitch when its clarity exceeds 0.55
JUMP_COST = 1.0  # clarity per octave of pitch jump between neighbouring frames ...
MOST_JUMP_COST = 0.5  # ... but never more, for notes do change
OCTAVE_COST = 0.05  # a change of octave alone: rare, and decided later
SWITCH_COST = 0.25  # between voiced and unvoiced: keeps single frames from flickering
REFERENCE_HZ = 55.0  # for logarithms only
STATES = PEAKS + 1  # the last state is 'unvoiced'


@dataclass(frozen=True, slots=True)
class Followed:
    """State of the path so far: the cost of ending in each state, and the way back."""

    cost: Floats  # shape (STATES,)
    octaves: Floats  # shape (STATES,), log2 of the last frame's candidates
    back: tuple[NDArray[np.int8], ...] = field(default=())  # one (frames, STATES) a block


def start() -> Followed:
    """Before the first frame: silence."""
    cost = np.full(STATES, np.inf)
    cost[-1] = 0.0
    return Followed(cost, np.full(PEAKS, np.nan))


def follow(state: Followed, found: Candidates) -> Followed:
    """The state after the frames of ``found``, which come next in time."""
    octaves = np.log2(found.frequency_hz / REFERENCE_HZ)
    local = _local_costs(found)
    steps = _step_costs(np.concatenate([state.octaves[None], octaves]))
    back = np.empty((len(local), STATES), dtype=np.int8)
    cost, state_index = state.cost, np.arange(STATES)
    for i in range(len(local)):
        total = cost[:, None] + steps[i]
        best = total.argmin(axis=0)
        back[i] = best
        cost = total[best, state_index] + local[i]
        cost = cost - cost.min()
    return Followed(cost, octaves[-1], (*state.back, back))


def path(state: Followed) -> NDArray[np.int64]:
    """The cheapest state of every frame; `PEAKS` means unvoiced."""
    back = np.concatenate(state.back)
    chosen = np.empty(len(back), dtype=np.int64)
    best = int(state.cost.argmin())
    for i in range(len(back) - 1, -1, -1):
        chosen[i] = best
        best = int(back[i, best])
    return chosen


def _local_costs(found: Candidates) -> Floats:
    """Cost of standing in each state; shape (frames, STATES).

    A period's multiples repeat as well as the period itself, so each octave below the frame's
    best candidate costs a little; the best one pays nothing, and is voiced by its clarity alone.
    """
    height = SUBHARMONIC_COST * np.log2(found.frequency_hz / REFERENCE_HZ)
    worth = np.where(np.isfinite(found.clarity), found.clarity + height, -np.inf)
    best = np.take_along_axis(height, worth.argmax(axis=1)[:, None], axis=1)
    voiced = 1.0 - found.clarity + np.maximum(best - height, 0.0)
    unvoiced = np.full((len(voiced), 1), UNVOICED_COST)
    return np.concatenate([np.where(np.isfinite(voiced), voiced, np.inf), unvoiced], axis=1)


def _step_costs(octaves: Floats) -> Floats:
    """Cost of going from each state to each, for every pair of neighbouring frames."""
    leap = np.abs(octaves[1:, None, :] - octaves[:-1, :, None])
    octave = np.round(leap)
    jump = np.minimum(JUMP_COST * np.abs(leap - octave) + OCTAVE_COST * octave, MOST_JUMP_COST)
    steps = np.full((len(leap), STATES, STATES), SWITCH_COST)
    steps[:, :PEAKS, :PEAKS] = np.where(np.isfinite(jump), jump, MOST_JUMP_COST)
    steps[:, -1, -1] = 0.0
    return steps
