"""Step 1: bring any sound to about 11 kHz, where a guitar's pitch is known and work is cheap.

Partials above 5 kHz add nothing to a pitch below 1400 Hz that the lower ones do not say better.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LEAST_RATE_HZ = 10_500.0  # still carries partials to `PASS_SHARE` of half of it: 4.8 kHz
PASS_SHARE = 0.46  # of the lower rate: up to here partials pass whole
TAPS_PER_STEP = 24  # half length of the filter in samples of the lower rate: 60 dB by Kaiser's rule
KAISER_BETA = 6.0  # 60 dB (Kaiser 1974, formula from memory)
BLOCK = 1 << 15  # samples a block of the fast convolution; the memory needed does not grow

Sound = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Working:
    """A sound at the tracker's own rate; sample 0 is sample 0 of the recording."""

    samples: Sound
    rate_hz: float


def factor_for(rate_hz: float) -> int:
    """How many samples become one.

    >>> factor_for(44_100.0), factor_for(192_000.0), factor_for(8_000.0)
    (4, 18, 1)
    """
    return max(1, int(rate_hz // LEAST_RATE_HZ))


def taps_for(factor: int) -> NDArray[np.float64]:
    """Linear-phase low-pass, odd length, that leaves nothing to fold back on the partials."""
    half = TAPS_PER_STEP * factor
    n = np.arange(-half, half + 1)
    taps = np.sinc(n / factor) * np.kaiser(n.size, KAISER_BETA)
    return np.asarray(taps / taps.sum(), dtype=np.float64)


def decimated(samples: Sound, *, rate_hz: float) -> Working:
    """The sound at a rate of `LEAST_RATE_HZ` or a little more, without delay."""
    factor = factor_for(rate_hz)
    if factor == 1:
        return Working(samples, rate_hz)
    return Working(thinned(samples, factor=factor), rate_hz / factor)


def thinned(samples: Sound, *, factor: int) -> Sound:
    """One sample in ``factor``, after a low-pass; sample 0 stays sample 0.

    Fast convolution by overlapping blocks; the first and last milliseconds see silence outside.
    """
    taps = taps_for(factor)
    half = taps.size // 2
    keep = (BLOCK - taps.size + 1) // factor * factor
    response = np.fft.rfft(taps.astype(np.float32), BLOCK)
    out = np.empty(-(-samples.size // factor), dtype=np.float32)
    for start in range(0, samples.size, keep):
        block = np.zeros(BLOCK, dtype=np.float32)
        low, high = max(0, start - half), min(samples.size, start + keep + half)
        block[low - start + half : high - start + half] = samples[low:high]
        smooth = np.fft.irfft(np.fft.rfft(block) * response, BLOCK)
        piece = smooth[2 * half : 2 * half + keep : factor]
        out[start // factor : start // factor + keep // factor] = piece[
            : out.size - start // factor
        ]
    return out
