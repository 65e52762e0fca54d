"""What the clicks of a series have in common, though each of them is too faint to be believed.

The sound is folded over a period: what stands out in each bin is averaged over the even beats
and, apart from them, over the odd ones. Of clicks both halves are alike, and at no other moment
of the period are they so. That tells bins worth listening to from bins that only disturb.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from labcore.clicks.bursts import AFTER_S, BEFORE_S, MOST_DB, Bursts, Levels
from labcore.clicks.comb import LEAST_PERIOD_S, Gains

PHASE_FRAMES = 2  # a click stands out for about four
APART_S = 0.05  # moments of the period further off are what chance does
LEAST_RATIO = 2.0  # alike by so much more than at any of those
LEAST_BEATS = 8
LEAST_SPREAD_DB = 0.3  # of a bin from beat to beat; calmer ones count no more

# A click adds sound. A wave that turns, and a change of note, only take it to another place
# nearby. How much is missing then, and how much is another after than before, for what stands
# out: nineteen of twenty made clicks at -30 dB have less; even waves and hammered notes that would
# else be taken for clicks have more of one.
NEARBY = ((5, 0.25, 0.5), (15, 0.2, 1.0))  # bins round it, most missing, most changed
USUAL_EVERY = 8  # frames

# Clicks half way between the beats of a series are clicks of it. In made takes whose series was
# right, what was heard there was less than a fifth of what was heard on the beats, or less than
# three times what was heard at some other moment; where every second click had been taken for all
# it was more than a third, and twenty times.
HALF_FRAMES = 3
LEAST_HALF_SHARE, LEAST_HALF_RATIO = 0.25, 5.0


def heard_again(
    heard: Bursts, *, found: Gains, periods: Sequence[float]
) -> Iterator[tuple[float, Bursts]]:
    """Each period (in frames) whose beats share something, with the bursts weighted for that."""
    near = _largest_near(heard.bin)
    counted = (found.gain_db != 0.0).astype(near.dtype)  # where no pluck hides a click
    for period in periods:
        ear = _ear(near, counted, period=period, apart=APART_S / heard.step_s)
        if ear is not None:
            yield period, replace(heard, all=heard.bin @ ear, ear=ear)


def _ear(near: Levels, counted: Levels, *, period: float, apart: float) -> Levels | None:
    """What each bin counts for beats of this period, in all 1; None if nothing is shared."""
    phase = np.arange(0.0, period, PHASE_FRAMES)
    beats = np.arange(int((len(near) - 1 - period) // period) + 1)
    if beats.size < LEAST_BEATS:
        return None
    frames = np.rint(phase[:, None] + beats * period).astype(np.intp)
    usual = near.mean(axis=0)
    even, odd = (_mean(near, counted, frames=frames[:, part::2]) - usual for part in (0, 1))
    calm = 1.0 / np.sqrt(np.var(even - odd, axis=0) + LEAST_SPREAD_DB**2)
    alike = np.sum(even * odd * calm, axis=1)
    best = int(np.argmax(alike))
    away = np.abs((phase - phase[best] + period / 2.0) % period - period / 2.0)
    shared = np.sqrt(np.maximum(even[best], 0.0) * np.maximum(odd[best], 0.0) * calm)
    is_chance = alike[best] < LEAST_RATIO * np.max(alike[away > apart], initial=0.0)
    return None if is_chance or not np.any(shared) else np.asarray(shared / shared.sum())


def _mean(near: Levels, counted: Levels, *, frames: NDArray[np.intp]) -> Levels:
    """Over the counted beats; ``frames`` has the shape (phases, beats), this (phases, bins)."""
    total = np.zeros((len(frames), near.shape[1]), dtype=near.dtype)
    for beat in frames.T:
        total += near[beat] * counted[beat, None]
    mean: Levels = total / np.maximum(counted[frames].sum(axis=1, keepdims=True), 1.0)
    return mean


def adds_sound(heard: Bursts, *, frames: NDArray[np.intp]) -> bool:
    """True if the beats at these frames add to the sound, rather than move it elsewhere."""
    usual = _moved(heard, frames=np.arange(0, len(heard.bin), USUAL_EVERY))
    here = _moved(heard, frames=frames)
    out, missing, changed = (np.maximum(a - b, 0.0) for a, b in zip(here, usual, strict=True))
    for bins, most_missing, most_changed in NEARBY:
        weight = np.convolve(out**2, np.ones(2 * bins + 1), mode="same")
        total = weight @ out
        if weight @ missing > most_missing * total or weight @ changed > most_changed * total:
            return False
    return True


def is_every_second(heard: Bursts, *, found: Gains, frames: NDArray[np.intp]) -> bool:
    """True if clicks are heard half way between these beats too, as at no other moment.

    ``frames`` are those of all beats of a run, at least two.
    """
    period = float(frames[-1] - frames[0]) / (frames.size - 1)
    if period * heard.step_s < 2.0 * LEAST_PERIOD_S:
        return False
    moment = np.arange(int(period))
    near = _largest_near(heard.all[:, None])
    counted = (found.gain_db != 0.0).astype(near.dtype)
    heard_db = _mean(near, counted, frames=frames[:-1] + moment[:, None])[:, 0]
    from_beat, from_half = np.minimum(moment, period - moment), np.abs(moment - period / 2.0)
    beat_db, half_db = (
        float(np.max(heard_db[away <= HALF_FRAMES])) for away in (from_beat, from_half)
    )
    elsewhere = np.minimum(from_beat, from_half) > APART_S / heard.step_s
    else_db = float(np.max(heard_db[elsewhere], initial=0.0))
    return half_db > max(LEAST_HALF_SHARE * beat_db, LEAST_HALF_RATIO * else_db)


def _moved(heard: Bursts, *, frames: NDArray[np.intp]) -> tuple[Levels, Levels, Levels]:
    """What stands out at these frames, what is missing, what is another after than before.

    In dB, averaged over the frames; shape (bins,) each.
    """

    def at(values: Levels, shift: int) -> Levels:
        return values[np.clip(frames + shift, 0, len(values) - 1)]

    def largest(values: Levels) -> Levels:
        return np.maximum(np.maximum(at(values, -1), at(values, 1)), at(values, 0))

    before, after = round(-BEFORE_S / heard.step_s), round(AFTER_S / heard.step_s)
    shifts = (before - 1, before, after, after + 1)
    first, *_, last = round_it = [at(heard.level_db, shift) for shift in shifts]
    missing = np.clip(np.minimum.reduce(round_it) - largest(heard.level_db), 0.0, MOST_DB)
    changed = np.minimum(np.abs(last - first), MOST_DB)
    return largest(heard.bin).mean(axis=0), missing.mean(axis=0), changed.mean(axis=0)


def _largest_near(values: Levels) -> Levels:
    """The largest of each frame and its two neighbours: a beat may lie between two."""
    near = values.copy()
    np.maximum(near[1:], values[:-1], out=near[1:])
    np.maximum(near[:-1], values[1:], out=near[:-1])
    return near
