"""The path a note's partials are followed along: a smooth pitch line with a known phase.

Between fine frames the pitch is a cubic through its neighbours (Catmull & Rom 1974, from memory);
a straight line between frames would widen every vibrato by 0.3 %. The phase is the integral of
that cubic, so the pitch on a frame is the carrier's own instantaneous frequency, exactly.
"""

from dataclasses import dataclass

import numpy as np

from labcore.model import Floats
from labcore.pitch.frames import product

SETTLED_S = 0.05  # the reach of a coarse frame: by then a line hears its own note alone


@dataclass(frozen=True, slots=True)
class Carrier:
    """Pitch on consecutive fine frames; the first is frame ``first`` of the recording."""

    first: int
    hz: Floats

    @property
    def frames(self) -> int:
        return int(self.hz.size)

    @property
    def last(self) -> int:
        """One past the last frame."""
        return self.first + self.frames

    def part(self, first: int, last: int) -> "Carrier":
        """The carrier between two frames of the recording; held where it does not reach."""
        frames = np.clip(np.arange(first, last) - self.first, 0, self.frames - 1)
        return Carrier(first, self.hz[frames])

    def led(self, lead: int, *, settled: int) -> "Carrier":
        """The carrier with a level run-up of ``lead`` frames, to see what was there before it.

        The first ``settled`` frames of a line may still hear what came before, so the run-up
        and they themselves stand on the middle of the next ones.
        """
        reach = self.part(self.first - lead, self.last)
        hz = reach.hz.copy()
        later = self.hz[settled : 20 * settled]
        hz[: lead + settled] = np.median(later if later.size else self.hz)
        return Carrier(reach.first, hz)


def cubic_coefficients(values: Floats) -> Floats:
    """Polynomial of each gap between neighbours, lowest power first; shape (gaps, 4)."""
    p = np.pad(values, 1, mode="reflect", reflect_type="odd") if values.size > 1 else values
    before, here, there, after = p[:-3], p[1:-2], p[2:-1], p[3:]
    return np.stack(
        [
            here,
            0.5 * (there - before),
            before - 2.5 * here + 2.0 * there - 0.5 * after,
            0.5 * (after - before) + 1.5 * (here - there),
        ],
        axis=1,
    )


def phase_cycles(hz: Floats, *, hop: int, rate_hz: float) -> Floats:
    """Phase in cycles, from 0, at every sample of the gaps between frames; shape (gaps, hop)."""
    powers = np.arange(1, 5)
    within = (np.arange(hop) / hop) ** powers[:, None] / powers[:, None]
    coefficients = cubic_coefficients(hz) * (hop / rate_hz)
    whole = np.cumsum((coefficients / powers).sum(axis=1))
    begin = np.concatenate([[0.0], whole[:-1]])
    return np.asarray(begin[:, None] + product(coefficients, within), dtype=np.float64)


def upsampled(coarse: Floats) -> Floats:
    """Twice as many frames, less one: a cubic's value halfway between neighbours."""
    if coarse.size < 2:
        return coarse.copy()
    fine = np.empty(2 * coarse.size - 1)
    fine[::2] = coarse
    fine[1::2] = cubic_coefficients(coarse) @ np.array([1.0, 0.5, 0.25, 0.125])
    return fine
