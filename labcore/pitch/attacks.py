"""Step 5: where a string was plucked, or plucked again on the same pitch.

A pluck raises nearly all partials at once and keeps them up; a click raises everything for a
moment and leaves nothing; a vibrato raises some partials and lowers others.
"""

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.bursts import across, bright_db, widened
from labcore.pitch.carrier import SETTLED_S, Carrier
from labcore.pitch.decimate import Working
from labcore.pitch.demodulate import NUTTALL, demodulate, window_of
from labcore.pitch.frames import Grid, runs, stretched

PARTIALS = 10  # enough voices for a vote
MOST_HZ = 4500.0
WINDOW_S, WINDOW_PERIODS = 0.025, 4.0  # short, to see a rise; long enough to part the partials
SPARSE = 3  # medians are taken on every third frame: the instant is found otherwise
BEFORE_S = (-0.070, -0.020)  # medians of these two spans are compared: the gap between them
AFTER_S = (0.035, 0.110)  # hides a click, which is gone after 35 ms
CLIP_DB = (-6.0, 15.0)  # one partial out of silence must not outvote the rest
RISE_DB = 3.0  # mean rise of the partials ...
VOTE_DB, VOTE_SHARE = 2.0, 0.6  # ... of which so many rise at least a little
BRIGHT_DB = 9.5  # of `bright_rises`: soft plucks 11 and more; tremolo of 9 dB at 7 Hz 8 (measured)
DIP_DB = 5.0  # a string that is stopped before it is plucked again falls silent for a moment
PRESENT_DB = 35.0  # partials further below the strongest have no vote: they may be noise
NEAR_S = 0.03  # the pluck itself lies within, or this near, the frames that see the rise
LEAD_S = 0.15  # before a line, where its own pluck is looked for


def attacks(
    sound: Working,
    *,
    carrier: Carrier,
    hidden: NDArray[np.bool_],
    grid: Grid,
) -> list[int]:
    """Fine frames at which the note on this carrier was plucked, ascending.

    ``hidden`` is True on the frames of the recording that a click fills; the levels there are
    bridged, so that a pluck on the beat still rises from one side to the other.
    """
    lead = grid.count(LEAD_S)
    reach = carrier.led(lead, settled=grid.count(SETTLED_S))
    reach = reach.part(reach.first, reach.last + lead)
    covered = widened(
        part_of(hidden, first=reach.first, last=reach.last), frames=grid.count(0.4 * WINDOW_S)
    )
    level = across(partial_levels(sound, carrier=reach, grid=grid), flags=covered)
    bright = bright_rises(sound, first=reach.first, last=reach.last, grid=grid)
    seen = plucked(level, bright=bright, lead=lead, grid=grid)
    spans = runs(widened(seen, frames=grid.count(NEAR_S)))
    return [reach.first + a + int(bright[a:b].argmax()) for a, b in spans]


def plucked(level_db: Floats, *, bright: Floats, lead: int, grid: Grid) -> NDArray[np.bool_]:
    """True on frames that see a pluck: partials that rise and stay, or fall silent for a moment.

    And all that is loud moves no faster than a hand, but for a flash: a pick or a nail brightens
    the sound at once, a tremolo or a beating string, however deep, does not.
    """
    rise, share = rises(level_db, grid=grid)
    flash = near_maximum(bright, frames=grid.count(NEAR_S)) > BRIGHT_DB
    begun = np.arange(bright.size) < 2 * lead
    risen = (rise > RISE_DB) & (share >= VOTE_SHARE)
    stopped = (dips(level_db, grid=grid) > DIP_DB) & ~begun
    seen = (risen | stopped) & flash
    seen[-lead:] = False
    return np.asarray(seen)


def near_maximum(values: Floats, *, frames: int) -> Floats:
    """The largest value within so many frames on both sides."""
    padded = np.pad(values, frames, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * frames + 1)
    return np.asarray(windows.max(axis=1))


def dips(level_db: Floats, *, grid: Grid) -> Floats:
    """How far the partials fall for a moment, in the mean, below what they were before.

    A pick or finger that plucks a ringing string first stops it; a click does not.
    """
    before = _span_median(level_db, span_s=BEFORE_S, grid=grid)
    after = _span_median(level_db, span_s=AFTER_S, grid=grid)
    present = before > before.max(axis=0) - PRESENT_DB
    fall = np.clip(np.minimum(before, after) - level_db, 0.0, CLIP_DB[1])
    return np.asarray(np.where(present, fall, 0.0).sum(axis=0) / present.sum(axis=0))


def part_of(flags: NDArray[np.bool_], *, first: int, last: int) -> NDArray[np.bool_]:
    """Flags between two frames of the recording; False outside it."""
    frames = np.arange(first, last)
    inside = (frames >= 0) & (frames < flags.size)
    return np.asarray(inside & flags[np.clip(frames, 0, flags.size - 1)])


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
    medians = np.median(windows[:, begin : begin + level_db.shape[1] : SPARSE], axis=2)
    return stretched(medians, every=SPARSE, size=level_db.shape[1])


def bright_rises(sound: Working, *, first: int, last: int, grid: Grid) -> Floats:
    """How steeply the bright part of the sound rises over each frame.

    The dB of two hops after it less those of two hops before: twice the mean rise.
    """
    level = bright_db(sound, first=first - 2, last=last + 2, grid=grid)
    return np.asarray(level[2:-2] + level[3:-1] - level[1:-3] - level[:-4])
