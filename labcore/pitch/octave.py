"""Step 6: the octave of a whole note, from all the evidence it leaves.

A note never changes octave while it rings. Partials at odd multiples of half the carrier speak
for the octave below, those at 2, 6, 10 halves for the carrier itself, those at 4, 8, 12 for the
octave above. The lowest octave that has enough partials of its own wins.
"""

import numpy as np

from labcore.model import Floats
from labcore.pitch.carrier import Carrier
from labcore.pitch.coarse import LEAST_HZ, MOST_HZ
from labcore.pitch.decimate import Working
from labcore.pitch.demodulate import HANN, demodulate, window_of
from labcore.pitch.frames import Grid

WINDOW_S = 0.09  # narrow enough to see between partials a quarter of 120 Hz apart
EVIDENCE_S = 1.0  # the start of a note knows best: weak partials fade first
MOST_PARTIAL_HZ = 4000.0
MOST_POSITIONS = 16
PRESENT_DB = 9.0  # over the quieter of its two neighbouring gaps
PRESENT_SHARE = 0.6  # of the frames looked at
FAINT_DB = 38.0  # below the strongest partial: leakage, a sympathetic string
OWN_PARTIALS, OWN_SHARE = 2, 0.4  # what an octave needs of its own partials
FEW = 4  # with fewer positions to judge by ...
FEW_SHARE, FEW_FAINT_DB = 0.6, 20.0  # ... the demands rise


def octave_of(sound: Working, *, carrier: Carrier, grid: Grid) -> int:
    """-1, 0 or 1: in which octave relative to the carrier the note sounds."""
    over, level = evidence(sound, carrier=carrier, grid=grid)
    middle = float(np.median(carrier.hz))
    allowed = [n for n in (-1, 0, 1) if LEAST_HZ <= middle * 2.0**n <= MOST_HZ]
    for octave in allowed:
        if has_own_partials(over, level, octave=octave):
            return octave
    return 0 if 0 in allowed else allowed[0]


def evidence(sound: Working, *, carrier: Carrier, grid: Grid) -> tuple[Floats, Floats]:
    """How far each half multiple stands out of its gaps, and its level, in dB; shape (positions,).

    Position j is j halves of the carrier.
    """
    start = carrier.part(carrier.first, min(carrier.last, carrier.first + grid.count(EVIDENCE_S)))
    lowest = float(np.min(start.hz))
    positions = min(MOST_POSITIONS, int(MOST_PARTIAL_HZ / (0.5 * float(np.median(start.hz)))))
    quarters = np.arange(0.25, 0.5 * positions + 0.5, 0.25)
    window = window_of(HANN, seconds=max(WINDOW_S, 8.0 / lowest), grid=grid)
    partials = demodulate(sound, carrier=start, numbers=quarters, window=window, grid=grid)
    level = 20.0 * np.log10(partials.amplitude + 1e-9)
    on, gap = level[1::2], level[0::2]
    floor = np.minimum(gap[: len(on)], gap[1 : len(on) + 1]) if len(gap) > len(on) else gap
    over = np.quantile(on - floor, 1.0 - PRESENT_SHARE, axis=1)
    return over, np.quantile(on, 1.0 - PRESENT_SHARE, axis=1)


def has_own_partials(over_db: Floats, level_db: Floats, *, octave: int) -> bool:
    """Whether enough positions that only this octave explains are there."""
    number = np.arange(1, len(over_db) + 1)
    spacing = 2 ** (octave + 1)  # in halves of the carrier
    own = (number % spacing == 0) & (number % (2 * spacing) != 0)
    few = int(own.sum()) < FEW
    faint = FEW_FAINT_DB if few else FAINT_DB
    there = own & (over_db > PRESENT_DB) & (level_db > level_db.max() - faint)
    needed = (FEW_SHARE if few else OWN_SHARE) * own.sum()
    least = 1 if few else OWN_PARTIALS
    return bool(own.any()) and int(there.sum()) >= max(least, needed)
