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
QUIET_STEPS = 50  # 20 ms: the beginning of a piece, where the click is not yet
QUIET_TIMES = 1.5
REACH_S = 0.012  # a click lies no further from its expected time
ACCENT_QUANTILE = 0.8
WHITE = 0.5
SMOOTH = np.hanning(7)  # over bins of about 43 Hz
LEAST_GAIN = 0.003
CLEAR_CONTRAST = 2.0  # clicks that stand out less are not used, unless most do
SEEN_DB = 0.7  # stands out by chance
MOST_BEATS = 32
ROUNDS = 3
FADE_S = 0.004
RISING_SHARES = (0.3, 0.7)  # of the peak, of the envelope's rising side
SHORT_GAP_S = 0.003
MOST_DRAWN_OUT_S = 0.0015
OUTLIER_SIGMAS = 3.5
NEAR_S = 0.004
MODEL_DECAY_S = 0.012


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
    start = np.rint((frames * heard.step_s - BEFORE_S) * sample_rate_hz).astype(int)
    size = int(2 ** np.ceil(np.log2(LENGTH_S * sample_rate_hz)))
    spectra = np.fft.rfft(_pieces(samples, start=start, size=size), axis=1)
    hz = np.fft.rfftfreq(size, 1.0 / sample_rate_hz)
    gain = np.interp(hz, heard.bin_hz, _gain(heard, frames=frames), left=0.0, right=0.0)
    width = max(1, round(ENVELOPE_STEP_S * sample_rate_hz))
    step_s = width / sample_rate_hz
    envelope, contrast = _envelopes(spectra * gain, width=width)
    clear = contrast >= min(CLEAR_CONTRAST, float(np.median(contrast)))
    spectra, start, beats = spectra[clear], start[clear], beats[clear]
    lag, likeness = _laid_over(envelope[clear], reach=int(REACH_S / step_s))
    # Filters that look both ways agree best on how the clicks lie to each other; for where they
    # begin, the filter must not ring beforehand.
    after = _ringing_after(gain)
    onset = _onset(_mean(_envelopes(spectra * after, width=width)[0], lag=lag))
    model = _model_click(spectra * gain, sample_rate_hz=sample_rate_hz)
    late = _onset(_envelopes(model * after, width=width)[0][0])
    if onset is None or late is None:
        return None
    begun_s = BEFORE_S + (onset - late) * step_s
    if abs(begun_s - BEFORE_S) > REACH_S + NEAR_S:
        return None
    time_s = start / sample_rate_hz + begun_s + lag * step_s
    return _line(time_s, beats=beats, likeness=likeness)


def _model_click(
    spectra: NDArray[np.complex128], *, sample_rate_hz: float
) -> NDArray[np.complex128]:
    """A made click as high as those heard, `BEFORE_S` into its piece; shape (1, bins).

    It tells how late the filter and the envelope see the beginning of such a sound.
    """
    size = 2 * (spectra.shape[1] - 1)
    turns = np.argmax(np.mean(np.abs(spectra), axis=0)) / size
    place = np.arange(size) - round(BEFORE_S * sample_rate_hz)
    fall = np.exp(-np.maximum(place, 0) / (MODEL_DECAY_S * sample_rate_hz))
    return np.fft.rfft(np.where(place >= 0, np.sin(2.0 * np.pi * turns * place) * fall, 0.0))[None]


def _gain(heard: Bursts, *, frames: NDArray[np.intp]) -> Floats:
    """A gain a bin that lets clicks through: their share of the sound, over what is round them."""
    near = np.clip(frames[:, None] + np.arange(-2, 3), 0, len(heard.bin) - 1)
    # A quantile, not a mean: an accent of another sound comes once in a bar.
    out_db = np.quantile(heard.bin[near].max(axis=1), ACCENT_QUANTILE, axis=0)
    share = 1.0 - 10.0 ** (-np.maximum(out_db - SEEN_DB, 0.0) / 10.0)
    if heard.ear is not None:
        share = share * (heard.ear / heard.ear.max())
    around_db = np.median(heard.around_db[frames], axis=0)
    gain = share * 10.0 ** (-(around_db - around_db.min()) * WHITE / 20.0)
    return np.convolve(gain, SMOOTH / SMOOTH.sum(), mode="same")  # narrow peaks would ring


def _ringing_after(gain: Floats) -> NDArray[np.complex128]:
    """A filter of this gain that rings only afterwards, and so moves no beginning.

    Minimum phase by the folded cepstrum (Oppenheim & Schafer, Discrete-Time Signal Processing,
    from memory).
    """
    cepstrum = np.fft.irfft(np.log(np.maximum(gain, LEAST_GAIN * gain.max() + 1e-12)))
    half = cepstrum.size // 2
    cepstrum[1:half] *= 2.0
    cepstrum[half + 1 :] = 0.0
    return np.asarray(np.exp(np.fft.rfft(cepstrum)))


def _pieces(samples: NDArray[np.float32], *, start: NDArray[np.intp], size: int) -> Floats:
    """The sound from each start on, faded at both ends; shape (n, size)."""
    padded = np.pad(samples, size)
    pieces = padded[np.clip(start + size, 0, padded.size - size)[:, None] + np.arange(size)]
    fade = np.ones(size)
    edge = size // 6
    fade[:edge] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(edge) + 0.5) / edge)
    return np.asarray(pieces * fade * fade[::-1])


def _envelopes(spectra: NDArray[np.complex128], *, width: int) -> tuple[Floats, Floats]:
    """Amplitude over what it is at the beginning, largest value 1, and how much that stands out.

    Shapes (n, steps) and (n,); the second is the largest amplitude over that of the beginning.
    """
    size = 2 * (spectra.shape[1] - 1)
    power = np.abs(np.fft.ifft(spectra, size, axis=1)) ** 2  # without negative frequencies
    steps = power[:, : size // width * width].reshape(len(power), -1, width).mean(axis=2)
    amplitude = np.sqrt((steps[:, :-2] + steps[:, 1:-1] + steps[:, 2:]) / 3.0)
    quiet = np.median(amplitude[:, 2:QUIET_STEPS], axis=1, keepdims=True)
    over = np.maximum(amplitude - QUIET_TIMES * quiet, 0.0)
    largest = over.max(axis=1, keepdims=True)
    return over / np.maximum(largest, 1e-12), (largest / (quiet + 1e-12))[:, 0]


def _laid_over(envelope: Floats, *, reach: int) -> tuple[Floats, float]:
    """How many steps later than their mean each envelope lies, and how alike they are."""
    lag = np.zeros(len(envelope))
    for _ in range(ROUNDS):
        mean = _mean(envelope, lag=lag)
        shifted = np.lib.stride_tricks.sliding_window_view(np.pad(mean, reach), mean.size)
        alike = envelope @ (shifted / (np.linalg.norm(shifted, axis=1, keepdims=True) + 1e-9)).T
        alike /= np.linalg.norm(envelope, axis=1, keepdims=True) + 1e-9
        lag = reach - _peak_place(alike)
    return lag, float(np.median(alike.max(axis=1)))


def _mean(envelope: Floats, *, lag: Floats) -> Floats:
    """The middle one of the envelopes, laid over each other."""
    place = np.arange(envelope.shape[1])
    moved = [np.interp(place + d, place, row) for d, row in zip(lag, envelope, strict=True)]
    return np.asarray(np.median(moved, axis=0) if len(moved) > 4 else np.mean(moved, axis=0))


def _peak_place(rows: Floats) -> Floats:
    """Place of the largest value of each row, between the columns by a parabola."""
    top = np.clip(np.argmax(rows, axis=1), 1, rows.shape[1] - 2)
    row = np.arange(len(rows))
    left, middle, right = rows[row, top - 1], rows[row, top], rows[row, top + 1]
    bend = left - 2.0 * middle + right
    return np.asarray(top + np.clip(0.5 * (left - right) / np.minimum(bend, -1e-12), -0.5, 0.5))


def _onset(mean: Floats) -> float | None:
    """Where the rising side of the mean envelope, drawn out straight, begins; in steps."""
    mean = mean - np.median(mean[: mean.size // 3])  # what of the note is left in it
    low, high = (share * float(mean.max()) for share in RISING_SHARES)
    above = int(np.argmax(mean >= high))
    loud = np.flatnonzero(mean[: above + 1] >= low)
    if low <= 0.0 or loud[0] == 0:
        return None
    # From the first high value back over gaps too short to be silence before the click.
    gaps = np.flatnonzero(np.diff(loud) > SHORT_GAP_S / ENVELOPE_STEP_S)
    first = _crossing(mean, after=int(loud[gaps[-1] + 1 if gaps.size else 0]) - 1, height=low)
    drawn_out = (_crossing(mean, after=above - 1, height=high) - first) * low / (high - low)
    return first - min(drawn_out, MOST_DRAWN_OUT_S / ENVELOPE_STEP_S)


def _crossing(values: Floats, *, after: int, height: float) -> float:
    """Where a straight line from one value to the next reaches a height."""
    return after + float((height - values[after]) / (values[after + 1] - values[after]))


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
