"""A pitch reader with a window as long as you like: to see what a long look hides.

This is not how the take panel measures; it is the plain method that most readers of pitch start
from. Over its window it sees the middle of the pitch, so a fast wave comes out too narrow.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from labcore.errors import LabError
from labcore.model import Floats, Ints, Recording

SEARCHED_CENTS = 250.0  # the period is looked for this far round the note's middle
STEP_S = 0.005
FRAMES_AT_ONCE = 64  # keeps the memory small
SAMPLES_COMPARED = 1000  # of a window; a longer one is looked at in larger steps


def window_gain(rate_hz: ArrayLike, *, window_s: float) -> Floats:
    """What is left of a wave's width under a sliding mean: |sin(pi f T) / (pi f T)|.

    >>> round(float(window_gain(7.2, window_s=0.093)), 2)
    0.41
    """
    return np.abs(np.sinc(np.asarray(rate_hz, dtype=np.float64) * window_s))


def window_reading(
    recording: Recording, *, near_hz: float, window_s: float
) -> tuple[Floats, Floats]:
    """Times in seconds and pitch in hertz, read with windows ``window_s`` long; both (frames,).

    In each window the sound is compared with itself a little later; the delay of least difference
    is the period, refined by a parabola. The sound is looked at one period beyond the window.
    """
    rate = recording.sample_rate_hz
    if not 0.005 <= window_s <= 0.25:
        raise LabError(
            f"The window is {1e3 * window_s:.0f} ms long; it must lie between 5 and 250 ms."
        )
    size = round(window_s * rate)
    lags = _lags(rate / near_hz)
    last = recording.samples.size - size - int(lags[-1])
    if last <= 0:
        raise LabError("The recording is shorter than one window; take a longer recording.")
    starts = np.arange(0, last, round(STEP_S * rate))
    sound = recording.samples.astype(np.float64)
    period = np.concatenate(
        [
            _periods(sound, starts[i : i + FRAMES_AT_ONCE], size=size, lags=lags)
            for i in range(0, starts.size, FRAMES_AT_ONCE)
        ]
    )
    middle_s = (starts + (size + rate / near_hz) / 2.0) / rate
    return np.asarray(middle_s, dtype=np.float64), rate / period


def _lags(period: float) -> Ints:
    span = 2.0 ** (SEARCHED_CENTS / 1200.0)
    return np.arange(int(period / span), int(np.ceil(period * span)) + 1)


def _periods(
    sound: Floats,
    starts: Ints,
    *,
    size: int,
    lags: Ints,
) -> Floats:
    """The delay of least difference in each window, in samples, between the whole ones."""
    looked_at = starts[:, None] + np.arange(0, size, max(1, size // SAMPLES_COMPARED))
    here = sound[looked_at]
    difference = np.empty((starts.size, lags.size))
    for k, lag in enumerate(lags):
        difference[:, k] = np.mean((here - sound[looked_at + lag]) ** 2, axis=1)
    best = np.clip(np.argmin(difference, axis=1), 1, lags.size - 2)
    rows = np.arange(starts.size)
    before, at, after = (difference[rows, best + k] for k in (-1, 0, 1))
    curve = np.maximum(before - 2.0 * at + after, 1e-30)
    between = np.clip(0.5 * (before - after) / curve, -0.5, 0.5)
    return np.asarray(lags[best] + between, dtype=np.float64)


def median_width_cents(
    time_s: Floats, hz: Floats, *, waves: Sequence[tuple[float, float]]
) -> float | None:
    """Typical width in cents of a pitch line over ``waves``, given as their starts and ends.

    The middle of the single waves' widths, bottom to top; None where none of them was read.
    """
    widths = []
    for start_s, end_s in waves:
        heard = hz[(time_s >= start_s) & (time_s <= end_s) & np.isfinite(hz)]
        if heard.size > 2:
            widths.append(1200.0 * np.log2(heard.max() / heard.min()))
    return float(np.median(widths)) if widths else None
