"""The last step: which stretches are a string's, and all of them on one grid."""

from dataclasses import dataclass

import numpy as np

from labcore.model import Floats, PitchContour
from labcore.pitch.decimate import Working
from labcore.pitch.demodulate import blocks_between
from labcore.pitch.frames import Grid
from labcore.pitch.refine import Refined, refine
from labcore.pitch.stray import astray_db, stray_db
from labcore.pitch.stretches import Stretch

# Recorded strings under all disturbances at once: error up to 5.2 cents, strays up to -12 dB.
# Clicks in a room: 4.6 to 12.6 cents, strays -3 dB (both measured).
WORST_CENTS, WORST_BESIDE_CENTS = 6.5, 4.0
BESIDE_DB = -8.0
LEVEL_REACH = 4  # hops on each side: 40 ms, three periods of the lowest string


@dataclass(frozen=True, slots=True)
class Note:
    """A stretch, its pitch, and what else sounds beside it."""

    stretch: Stretch
    refined: Refined
    stray_db: Floats

    @property
    def is_a_string(self) -> bool:
        """Whether its partials agree, on its better quarter of frames, as those of a string do."""
        error = float(np.quantile(self.refined.error_cents, 0.25))
        alone = float(np.median(self.stray_db)) < BESIDE_DB
        return error < (WORST_CENTS if alone else WORST_BESIDE_CENTS)


def note_of(sound: Working, *, stretch: Stretch, grid: Grid) -> Note:
    """The pitch of a stretch."""
    found = refine(sound, carrier=stretch.carrier, grid=grid)
    return Note(stretch, found, stray_db(sound, hz=found.hz, first=found.first, grid=grid))


def contour(notes: list[Note], *, sound: Working, grid: Grid) -> PitchContour:
    """All notes on the grid of the whole recording."""
    frames = grid.frames(sound.samples.size)
    hz, error, stray = (np.full(frames, np.nan) for _ in range(3))
    for note in notes:
        found = note.refined
        here = slice(found.first, min(frames, found.first + found.hz.size))
        size = here.stop - here.start
        hz[here], error[here] = found.hz[:size], found.error_cents[:size]
        another = astray_db(found.partials.amplitude, apart_cents=found.apart_cents, hz=found.hz)
        stray[here] = np.fmax(note.stray_db, another)[:size]
    plucks = sorted({n.stretch.pluck for n in notes if n.stretch.pluck is not None})
    return PitchContour(
        time_s=np.arange(frames, dtype=np.float64) * grid.step_s,
        frequency_hz=hz,
        level_db=levels_db(sound, grid=grid),
        error_cents=error,
        stray_db=stray,
        attack_s=np.array(plucks, dtype=np.float64) * grid.step_s,
        step_s=grid.step_s,
    )


def levels_db(sound: Working, *, grid: Grid) -> Floats:
    """Level of the sound around every frame, re full scale (a full sine is -3 dB)."""
    frames = grid.frames(sound.samples.size)
    blocks = blocks_between(sound, first=-LEVEL_REACH, last=frames + LEVEL_REACH - 1, hop=grid.hop)
    power = np.einsum("ij,ij->i", blocks, blocks).astype(np.float64) / grid.hop
    shape = np.hanning(2 * LEVEL_REACH + 2)[1:-1]
    around = np.convolve(power, shape / shape.sum(), mode="valid")
    return np.asarray(10.0 * np.log10(around + 1e-20))
