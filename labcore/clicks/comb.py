"""Which even series, of any tempo and phase, gathers most of what stands out.

The sum over the best unbroken run of beats is taken (Kadane's maximum subarray; Bentley 1984),
so that a count-in, a click throughout and a click that goes away are found alike. A beat at which
a note is plucked counts neither way.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.clicks.bursts import Bursts, are_plucks, event_frames
from labcore.model import Floats

LEAST_PERIOD_S, MOST_PERIOD_S = 60.0 / 245.0, 60.0 / 39.5  # 40 to 240 a minute, and a little
MOST_GAIN_DB = 10.0
MOST_COST_DB = 5.0  # what a beat must stand out to speak for a series, at most
BEST_LAGS = 8
FIRST_LOOK = (-0.5, 0.0, 0.5)  # frames round a peak of the autocorrelation
CLOSER_LOOK = tuple(np.arange(-1.25, 1.26, 0.25))
LOOKED_CLOSER = 4
PLUCK_FRAMES = (3, 6)  # before and after


@dataclass(frozen=True, slots=True, eq=False)
class Gains:
    """What each frame speaks for or against a beat there; 0 where a note is plucked."""

    gain_db: Floats  # shape (frames,)
    events: NDArray[np.intp]  # frames of short sounds that are no plucks
    step_s: float


@dataclass(frozen=True, slots=True)
class Guess:
    """An even series in frames: beat k lies at ``phase + k * period``."""

    score: float
    period: float
    phase: float


def gains(heard: Bursts) -> Gains:
    """The gain of every frame: what stands out, less what commonly does in this take."""
    events = event_frames(heard)
    plucked = are_plucks(heard, frames=events)
    capped = np.minimum(heard.all, MOST_GAIN_DB).astype(np.float64)
    near = capped.copy()  # a beat may lie between two frames
    near[1:] = np.maximum(near[1:], capped[:-1])
    near[:-1] = np.maximum(near[:-1], capped[1:])
    often, usual = np.quantile(near, [0.9, 0.6])
    gain = near - min(often + 0.5, 2.0 * usual + 1.0, MOST_COST_DB)
    for frame in events[plucked]:
        gain[max(0, frame - PLUCK_FRAMES[0]) : frame + PLUCK_FRAMES[1]] = 0.0
    return Gains(gain, events[~plucked], heard.step_s)


def guesses(found: Gains, *, periods_s: tuple[float, ...] = ()) -> list[Guess]:
    """The best series round each likely period, best first; ``periods_s`` are tried too."""
    periods = [*_likely_periods(found), *(period / found.step_s for period in periods_s)]
    first = _best_of(found, periods, looks=FIRST_LOOK)
    return _best_of(found, [guess.period for guess in first[:LOOKED_CLOSER]], looks=CLOSER_LOOK)


def near_guess(found: Gains, *, period: float) -> Guess:
    """The best series near a period, in frames."""
    return _best_of(found, [period], looks=CLOSER_LOOK)[0]


def _best_of(found: Gains, periods: list[float], *, looks: tuple[float, ...]) -> list[Guess]:
    """The best series near each period, in frames, the best first."""
    best = [
        max((_best_phase(found.gain_db, period + look) for look in looks), key=lambda g: g.score)
        for period in periods
        if period > 4.0
    ]
    return sorted(best, key=lambda guess: -guess.score)


def _likely_periods(found: Gains) -> Floats:
    """Peaks of the autocorrelation of the gains, in frames."""
    size = found.gain_db.size
    spectrum = np.fft.rfft(np.maximum(found.gain_db, 0.0), 2 * size)
    same = np.fft.irfft(np.abs(spectrum) ** 2)[:size]
    first = int(LEAST_PERIOD_S / found.step_s)
    last = min(int(MOST_PERIOD_S / found.step_s) + 1, size // 3)
    lag = np.arange(max(first, 1), max(last, first, 1))
    lag = lag[(same[lag] >= same[lag - 1]) & (same[lag] > same[lag + 1])]
    lag = lag[np.argsort(-same[lag], kind="stable")][:BEST_LAGS]
    left, top, right = same[lag - 1], same[lag], same[lag + 1]
    return np.asarray(lag + 0.5 * (left - right) / (left - 2.0 * top + right - 1e-12))


def _best_phase(gain_db: Floats, period: float) -> Guess:
    """The phase at which a series of this period gathers most."""
    phases = np.arange(int(period))
    beats = np.arange(int((gain_db.size - 1) // period) + 1)
    frame = np.rint(phases[:, None] + beats * period).astype(np.int32)
    gathered = np.where(frame < gain_db.size, gain_db[np.minimum(frame, gain_db.size - 1)], 0.0)
    summed = np.concatenate([np.zeros((phases.size, 1)), np.cumsum(gathered, axis=1)], axis=1)
    best = (summed[:, 1:] - np.minimum.accumulate(summed, axis=1)[:, :-1]).max(axis=1)
    phase = int(np.argmax(best))
    return Guess(float(best[phase]), period, float(phase))


def best_run(gain_db: Floats) -> tuple[int, int]:
    """First and last index of the unbroken run with the largest sum.

    >>> best_run(np.array([-1.0, 3.0, -1.0, 4.0, -9.0, 2.0]))
    (1, 3)
    """
    summed = np.concatenate([[0.0], np.cumsum(gain_db)])
    last = int(np.argmax(summed[1:] - np.minimum.accumulate(summed)[:-1]))
    # The last least sum, so that a run does not begin with what counts neither way.
    before = summed[: last + 1][::-1]
    return last - int(np.argmin(before)), last
