"""The exact times of the clicks of a series, from the sound itself.

Around each expected beat the sound is filtered to what stands out there; the envelopes are laid
over each other until they agree, and a line through their times is the even series. The time of
a click is its beginning.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.clicks.bursts import Bursts
from labcore.model import Floats

BEFORE_S, LENGTH_S = 0.035, 0.085  # of the piece of sound round a beat
ENVELOPE_STEP_S = 0.0004
QUIET_S = 0.02  # the beginning of a piece, where the click is not yet
QUIET_TIMES = 1.5
REACH_S = 0.012  # a click lies no further from its expected time
MOST_BEATS = 32
ROUNDS = 3
FADE_S = 0.004
ONSET_SHARE = 0.35  # of the peak: where the envelope's rising side passes it the click begins
ONSET_LAG_S = 0.0
OUTLIER_SIGMAS = 3.5
NEAR_S = 0.004


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """An even series: click k begins at ``first_s + k * period_s``."""

    first_s: float
    period_s: float
    spread_s: float  # one sigma of a click around the series, from the median deviation
    near_share: float  # of the clicks, how many lie within `NEAR_S` of it
    likeness: float  # how well the envelopes agree, 0 to 1


def aligned(
    samples: NDArray[np.float32],
    *,
    sample_rate_hz: float,
    heard: Bursts,
    beats: NDArray[np.intp],
    frames: NDArray[np.intp],
) -> Aligned | None:
    """The even series through the clicks near ``frames``, counted by ``beats``; None if shapeless.

    ``beats`` and ``frames`` have the same shape (n,), n at least 3.
    """
    sharp = _filter_shape(heard, frames=frames)
    start = np.rint((frames * heard.step_s - BEFORE_S) * sample_rate_hz).astype(int)
    size = int(2 ** np.ceil(np.log2(LENGTH_S * sample_rate_hz)))
    pieces = _pieces(samples, start=start, size=size)
    width = max(1, round(ENVELOPE_STEP_S * sample_rate_hz))
    step_s = width / sample_rate_hz
    envelope = _envelopes(
        pieces,
        gain=_gain(heard, sharp, size=pieces.shape[1], sample_rate_hz=sample_rate_hz),
        width=width,
        quiet_steps=int(QUIET_S / step_s),
    )
    lag, likeness, mean = _laid_over(envelope, reach=int(REACH_S / step_s))
    onset = _onset(mean)
    if onset is None:
        return None
    # Sample i of the envelope is centred at (i + 1.5) steps: a mean of three means of one step.
    time_s = start / sample_rate_hz + (onset + lag + 1.5) * step_s - ONSET_LAG_S
    return _line(time_s, beats=beats, likeness=likeness)


def _filter_shape(heard: Bursts, *, frames: NDArray[np.intp]) -> Floats:
    """A gain of 0 to 1 a bin: the share of the sound there that is click."""
    near = np.clip(frames[:, None] + np.arange(-2, 3), 0, len(heard.bin) - 1)
    out_db = heard.bin[near].max(axis=1).mean(axis=0).astype(np.float64)
    return np.asarray(1.0 - 10.0 ** (-np.maximum(out_db - 0.7, 0.0) / 10.0))


def _gain(heard: Bursts, sharp: Floats, *, size: int, sample_rate_hz: float) -> Floats:
    hz = np.fft.rfftfreq(size, 1.0 / sample_rate_hz)
    return np.asarray(np.interp(hz, heard.bin_hz, sharp, left=0.0, right=0.0))


def _pieces(samples: NDArray[np.float32], *, start: NDArray[np.intp], size: int) -> Floats:
    """The sound from each start on, faded at both ends; shape (n, size)."""
    padded = np.pad(samples, size)
    pieces = padded[np.clip(start + size, 0, padded.size - size)[:, None] + np.arange(size)]
    fade = np.ones(size)
    edge = size // 20
    fade[:edge] = np.linspace(0.0, 1.0, edge)
    return np.asarray(pieces * fade * fade[::-1])


def _envelopes(pieces: Floats, *, gain: Floats, width: int, quiet_steps: int) -> Floats:
    """Amplitude of the filtered pieces over its beginning, largest value 1; shape (n, steps)."""
    size = pieces.shape[1]
    turning = np.zeros(pieces.shape, dtype=np.complex128)
    turning[:, : gain.size] = np.fft.rfft(pieces, axis=1) * gain
    power = np.abs(np.fft.ifft(turning, axis=1)) ** 2
    steps = power[:, : size // width * width].reshape(len(pieces), -1, width).mean(axis=2)
    amplitude = np.sqrt((steps[:, :-2] + steps[:, 1:-1] + steps[:, 2:]) / 3.0)
    quiet = amplitude[:, 2:quiet_steps]
    over = np.maximum(amplitude - QUIET_TIMES * np.median(quiet, axis=1, keepdims=True), 0.0)
    return np.asarray(over / np.maximum(over.max(axis=1, keepdims=True), 1e-12))


def _laid_over(envelope: Floats, *, reach: int) -> tuple[Floats, float, Floats]:
    """How many steps later than the mean each envelope lies, how alike they are, and the mean."""
    place = np.arange(envelope.shape[1])
    mean = _middle(envelope)
    for _ in range(ROUNDS):
        shifted = np.lib.stride_tricks.sliding_window_view(np.pad(mean, reach), mean.size)
        alike = envelope @ (shifted / (np.linalg.norm(shifted, axis=1, keepdims=True) + 1e-9)).T
        alike /= np.linalg.norm(envelope, axis=1, keepdims=True) + 1e-9
        lag = reach - _peak_place(alike)
        moved = [np.interp(place + d, place, row) for d, row in zip(lag, envelope, strict=True)]
        mean = _middle(np.array(moved))
    return lag, float(np.median(alike.max(axis=1))), mean


def _middle(envelope: Floats) -> Floats:
    middle = np.median(envelope, axis=0) if len(envelope) > 4 else np.mean(envelope, axis=0)
    return np.asarray(middle)


def _peak_place(rows: Floats) -> Floats:
    """Place of the largest value of each row, between the columns by a parabola."""
    top = np.clip(np.argmax(rows, axis=1), 1, rows.shape[1] - 2)
    row = np.arange(len(rows))
    left, middle, right = rows[row, top - 1], rows[row, top], rows[row, top + 1]
    bend = left - 2.0 * middle + right
    return np.asarray(top + np.clip(0.5 * (left - right) / np.minimum(bend, -1e-12), -0.5, 0.5))


def _onset(mean: Floats) -> float | None:
    """Where the mean envelope rises through `ONSET_SHARE` of its peak, in steps."""
    peak = int(np.argmax(mean))
    below = np.flatnonzero(mean[: peak + 1] < ONSET_SHARE * mean[peak])
    if below.size == 0 or mean[peak] <= 0.0:
        return None
    last = int(below[-1])
    return last + float((ONSET_SHARE * mean[peak] - mean[last]) / (mean[last + 1] - mean[last]))


def _line(time_s: Floats, *, beats: NDArray[np.intp], likeness: float) -> Aligned:
    """Least squares through the times, without those that lie far off."""
    kept = np.ones(time_s.size, dtype=bool)
    for _ in range(4):
        period_s, first_s = np.polyfit(beats[kept], time_s[kept], 1)
        off_s = np.abs(time_s - first_s - period_s * beats)
        spread_s = 1.4826 * float(np.median(off_s))  # of a normal distribution
        kept = off_s <= max(OUTLIER_SIGMAS * spread_s, 1e-4)
    near = float(np.mean(off_s < NEAR_S))
    return Aligned(float(first_s), float(period_s), spread_s, near, likeness)
