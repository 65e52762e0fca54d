"""Step 2: which periods a short piece of sound may have.

The normalised square difference of McLeod & Wyvill 2005 ("A smarter way to find pitch"): 1 where
the sound repeats exactly, 0 where it knows nothing of itself. Frame by frame it cannot know the
octave, and does not try: `octave` decides that with all the evidence of a note.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.decimate import Sound
from labcore.pitch.frames import COARSE_HOPS, Grid

LEAST_HZ = 58.0  # low B of a seven-string guitar, 61.7 Hz, dipped by a semitone
MOST_HZ = 1480.0  # fret 24 of the first string is 1319 Hz; bent by two semitones 1480
FRAME_S = 0.046  # 2.8 periods of 60 Hz, a third of the fastest wave
PEAKS = 7  # periods kept a frame
LEAST_CLARITY = 0.3  # fainter peaks never win and only cost time
SUBHARMONIC_COST = 0.10  # clarity per octave of period: every multiple of a period repeats too
BATCH = 256  # frames a batch of transforms: about 2 MB


@dataclass(frozen=True, slots=True)
class Candidates:
    """Possible pitches of coarse frames; shape (frames, PEAKS), NaN where there are fewer."""

    frequency_hz: Floats
    clarity: Floats
    level_db: Floats  # shape (frames,), re full scale

    def part(self, first: int, last: int) -> "Candidates":
        """The frames from ``first`` up to ``last``."""
        here = slice(first, last)
        return Candidates(self.frequency_hz[here], self.clarity[here], self.level_db[here])


def frame_length(grid: Grid) -> int:
    """Samples of one frame, even."""
    return 2 * round(0.5 * FRAME_S * grid.rate_hz)


def candidates(block: Sound, *, grid: Grid) -> Candidates:
    """Candidates of every coarse frame that fits into ``block``; knows nothing of the past.

    The first frame is centred half a frame after the start of the block.
    """
    length, hop = frame_length(grid), COARSE_HOPS * grid.hop
    windows = np.lib.stride_tricks.sliding_window_view(block, length)[::hop]
    parts = [_batch(windows[i : i + BATCH], grid=grid) for i in range(0, len(windows), BATCH)]
    return Candidates(
        np.concatenate([part.frequency_hz for part in parts]),
        np.concatenate([part.clarity for part in parts]),
        np.concatenate([part.level_db for part in parts]),
    )


def _batch(windows: NDArray[np.float32], *, grid: Grid) -> Candidates:
    centred = windows - windows.mean(axis=1, keepdims=True)
    clarity = square_difference(centred, lags=int(grid.rate_hz / LEAST_HZ) + 2)
    lag, height = peaks(clarity, least_lag=grid.rate_hz / MOST_HZ)
    power = np.mean(np.square(centred), axis=1, dtype=np.float64)
    return Candidates(grid.rate_hz / lag, height, 10.0 * np.log10(power + 1e-20))


def smooth_size(least: int) -> int:
    """The next size a fast transform likes: no prime factor above 5.

    >>> smooth_size(697)
    720
    """
    size = least
    while True:
        rest = size
        for prime in (2, 3, 5):
            while rest % prime == 0:
                rest //= prime
        if rest == 1:
            return size
        size += 1


def square_difference(frames: NDArray[np.float32], *, lags: int) -> Floats:
    """McLeod & Wyvill's n(lag) = 2 r(lag) / m(lag) of every frame; shape (frames, lags)."""
    length = frames.shape[1]
    size = smooth_size(length + lags)
    spectrum = np.fft.rfft(frames, size)
    correlation = np.fft.irfft(np.square(spectrum.real) + np.square(spectrum.imag), size)[:, :lags]
    squares = np.cumsum(np.square(frames, dtype=np.float64), axis=1)
    total = squares[:, -1:]
    heads = squares[:, length - lags : length][:, ::-1]  # energy of x[0 : length - lag]
    tails = total - np.concatenate([np.zeros_like(total), squares[:, : lags - 1]], axis=1)
    return np.asarray(2.0 * correlation / (heads + tails + 1e-12), dtype=np.float64)


def peaks(clarity: Floats, *, least_lag: float) -> tuple[Floats, Floats]:
    """The best `PEAKS` local maxima of each row: lag in samples (parabola), and height."""
    left, middle, right = clarity[:, :-2], clarity[:, 1:-1], clarity[:, 2:]
    lag = np.arange(1, clarity.shape[1] - 1)
    top = (middle > left) & (middle >= right) & (middle > LEAST_CLARITY) & (lag >= least_lag)
    worth = np.where(top, middle - SUBHARMONIC_COST * np.log2(lag), -np.inf)
    best = np.argpartition(worth, -PEAKS, axis=1)[:, -PEAKS:]
    row = np.arange(len(clarity))[:, None]
    a, b, c = left[row, best], middle[row, best], right[row, best]
    bend = np.minimum(a - 2.0 * b + c, -1e-12)
    shift = 0.5 * (a - c) / bend
    found = top[row, best]
    height = np.minimum(b - 0.25 * (a - c) * shift, 1.0)
    return np.where(found, lag[best] + shift, np.nan), np.where(found, height, np.nan)
