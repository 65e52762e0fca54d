"""Step 5: where a string was plucked, or plucked again on the same pitch.

A pluck raises nearly all partials at once and keeps them up; a click raises everything for a
moment and leaves nothing; a vibrato raises some partials and lowers others.
"""

import numpy as np

from labcore.model import Floats
from labcore.pitch.carrier import Carrier
from labcore.pitch.decimate import Working
from labcore.pitch.demodulate import NUTTALL, blocks_between, demodulate, window_of
from labcore.pitch.frames import Grid

PARTIALS = 10  # enough voices for a vote
MOST_HZ = 4500.0
WINDOW_S, WINDOW_PERIODS = 0.025, 4.0  # short, to see a rise; long enough to part the partials
BEFORE_S = (-0.070, -0.020)  # medians of these two spans are compared: the gap between them
AFTER_S = (0.035, 0.110)  # hides a click, which is gone after 35 ms
CLIP_DB = (-6.0, 15.0)  # one partial out of silence must not outvote the rest
RISE_DB = 3.0  # mean rise of the partials ...
VOTE_DB, VOTE_SHARE = 2.0, 0.6  # ... of which so many rise at least a little
PRESENT_DB = 50.0  # partials further below the strongest have no vote
APART_S = 0.06  # two plucks of one string come no closer: tremolo picking at 16 a second
SEARCH_S = 0.06  # how far from the best frame the instant of the pluck is looked for
LEAD_S = 0.15  # before a line, where its own pluck is looked for


def attacks(sound: Working, *, carrier: Carrier, grid: Grid) -> list[int]:
    """Fine frames at which the note on this carrier was plucked, ascending."""
    lead = grid.count(LEAD_S)
    reach = carrier.part(carrier.first - lead, carrier.last + lead)
    level = partial_levels(sound, carrier=reach, grid=grid)
    rise, share = rises(level, grid=grid)
    strength = np.where(share >= VOTE_SHARE, rise, 0.0)
    strength[-lead:] = 0.0
    found = summits(strength, least=RISE_DB, apart=grid.count(APART_S))
    return [steepest(sound, around=reach.first + i, grid=grid) for i in found]


def partial_levels(sound: Working, *, carrier: Carrier, grid: Grid) -> Floats:
    """Levels in dB of the partials along a carrier; shape (partials, frames)."""
    count = max(1, min(PARTIALS, int(MOST_HZ / np.median(carrier.hz))))
    seconds = max(WINDOW_S, WINDOW_PERIODS / float(np.median(carrier.hz)))
    window = window_of(NUTTALL, seconds=seconds, grid=grid)
    numbers = np.arange(1.0, count + 1.0)
    partials = demodulate(sound, carrier=carrier, numbers=numbers, window=window, grid=grid)
    return np.asarray(20.0 * np.log10(partials.amplitude + 1e-7))


def rises(level_db: Floats, *, grid: Grid) -> tuple[Floats, Floats]:
    """Mean rise in dB of the partials over each frame, and the share of them that rise."""
    before = _span_median(level_db, span_s=BEFORE_S, grid=grid)
    after = _span_median(level_db, span_s=AFTER_S, grid=grid)
    present = after > after.max(axis=0) - PRESENT_DB
    count = np.maximum(present.sum(axis=0), 1)
    rise = np.clip(after - before, *CLIP_DB)
    mean = np.where(present, rise, 0.0).sum(axis=0) / count
    share = (present & (rise > VOTE_DB)).sum(axis=0) / count
    return mean, share


def _span_median(level_db: Floats, *, span_s: tuple[float, float], grid: Grid) -> Floats:
    low, high = (round(s / grid.step_s) for s in span_s)
    pad = max(abs(low), abs(high))
    padded = np.pad(level_db, [(0, 0), (pad, pad)], mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, high - low + 1, axis=1)
    begin = pad + low
    medians = np.median(windows[:, begin : begin + level_db.shape[1]], axis=2)
    return np.asarray(medians, dtype=np.float64)


def summits(strength: Floats, *, least: float, apart: int) -> list[int]:
    """Frames where the strength is above ``least`` and the greatest within ``apart`` frames."""
    padded = np.pad(strength, apart, mode="constant", constant_values=-np.inf)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * apart + 1)
    top = np.flatnonzero((strength >= windows.max(axis=1)) & (strength > least))
    kept: list[int] = []
    for frame in top.tolist():
        if not kept or frame - kept[-1] > apart:
            kept.append(frame)
    return kept


def steepest(sound: Working, *, around: int, grid: Grid) -> int:
    """The frame near ``around`` where the bright part of the sound rises most."""
    reach = grid.count(SEARCH_S)
    first = around - reach
    blocks = blocks_between(sound, first=first - 2, last=around + reach + 2, hop=grid.hop)
    bright = np.diff(blocks, axis=1)
    level = 10.0 * np.log10(np.mean(np.square(bright, dtype=np.float64), axis=1) + 1e-14)
    rise = level[2:-1] + level[3:] - level[1:-2] - level[:-3]
    return max(0, first + int(rise.argmax()))
