"""Where a click, not a string, fills the sound: clicks the caller knows, and any other tick.

A tick brightens the sound for a moment and leaves it as it was. A pluck brightens it too, but
what a burst hides is only bridged where the same line goes on behind it, so a pluck loses nothing.
"""

import numpy as np
from numpy.typing import NDArray

from labcore.model import ClickTrack, Floats
from labcore.pitch.decimate import Working
from labcore.pitch.demodulate import blocks_between
from labcore.pitch.frames import Grid, running_median, runs

KNOWN_S = (-0.005, 0.030)  # a metronome's tick lasts 10 to 30 ms (common practice, no source)
SURROUNDINGS_S = 0.25  # longer than two ticks, shorter than a beat
SPARSE = 4  # that median is taken on every fourth frame
STANDS_OUT_DB = 9.0  # over the median of its surroundings: noise of one block varies by 1 dB
MOST_TICK_S = 0.045  # what lasts longer is a sound of its own


def bursts(sound: Working, *, clicks: ClickTrack | None, grid: Grid) -> NDArray[np.bool_]:
    """True on the fine frames that a click fills."""
    frames = grid.frames(sound.samples.size)
    flags = ticks(bright_db(sound, first=0, last=frames, grid=grid), grid=grid)
    if clicks is not None:
        for time_s in clicks.time_s.tolist():
            low, high = (round((time_s + s) / grid.step_s) for s in KNOWN_S)
            flags[max(low, 0) : max(high, 0)] = True
    return flags


def bright_db(sound: Working, *, first: int, last: int, grid: Grid) -> Floats:
    """Level of the differenced sound in the hop that follows each frame."""
    hop = grid.hop
    blocks = blocks_between(sound, first=first, last=last, hop=hop)
    bright = np.diff(blocks, axis=1)
    power = np.einsum("ij,ij->i", bright, bright) / (hop - 1)
    return np.asarray(10.0 * np.log10(power.astype(np.float64) + 1e-12))


def ticks(level_db: Floats, *, grid: Grid) -> NDArray[np.bool_]:
    """Short bursts that stand out of their surroundings."""
    width = 2 * grid.count(0.5 * SURROUNDINGS_S) + 1
    around = running_median(level_db, width=width, every=SPARSE)
    flags = np.zeros(level_db.size, dtype=bool)
    for a, b in runs(level_db > around + STANDS_OUT_DB):
        if (b - a) * grid.step_s <= MOST_TICK_S:
            flags[max(a - 1, 0) : b + 2] = True
    return flags


def widened(flags: NDArray[np.bool_], *, frames: int) -> NDArray[np.bool_]:
    """The same flags, reaching ``frames`` further on both sides."""
    reach = np.convolve(flags, np.ones(2 * frames + 1), mode="same") > 0.5
    return np.asarray(reach[: flags.size])


def across(values: Floats, *, flags: NDArray[np.bool_]) -> Floats:
    """Flagged frames replaced by straight lines between their neighbours, row by row."""
    if not flags.any() or flags.all():
        return values
    out, here, there = values.copy(), np.flatnonzero(flags), np.flatnonzero(~flags)
    for row in np.atleast_2d(out):
        row[here] = np.interp(here, there, row[there])
    return out
