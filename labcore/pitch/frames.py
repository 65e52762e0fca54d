"""The two time grids of the tracker, and the symmetric filters that run on them.

Every window here is even in time: a one-sided one would move the turning points of a vibrato.
"""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats

Number = TypeVar("Number", np.float32, np.float64, np.complex128)

SLICE = 1 << 16  # multiplications in one slice of a product; threads begin at four times as many
STEP_S = 0.005  # fine grid: 28 frames a wave at 7.2 Hz, sextuplets at 72 bpm
COARSE_HOPS = 2  # coarse grid: every second fine frame, for pitch to the nearest tenth of a tone


@dataclass(frozen=True, slots=True)
class Grid:
    """Even frames over a sound: frame i stands at sample ``i * hop``."""

    rate_hz: float
    hop: int

    @property
    def step_s(self) -> float:
        """Seconds from one fine frame to the next."""
        return self.hop / self.rate_hz

    def frames(self, samples: int) -> int:
        """How many fine frames stand inside a sound of so many samples."""
        return (samples - 1) // self.hop + 1

    def count(self, seconds: float) -> int:
        """Seconds as the nearest number of fine frames, at least one."""
        return max(1, round(seconds / self.step_s))


def grid_for(rate_hz: float) -> Grid:
    """The fine grid of a sound: whole samples as near to `STEP_S` as they come.

    >>> grid_for(11025.0).hop
    55
    """
    return Grid(rate_hz, round(STEP_S * rate_hz))


def low_pass_taps(cutoff_hz: float, *, half_s: float, step_s: float) -> Floats:
    """Hann-windowed sinc with unit sum, odd length: half the amplitude passes at the cutoff."""
    half = max(1, round(half_s / step_s))
    n = np.arange(-half, half + 1)
    taps = np.sinc(2.0 * cutoff_hz * step_s * n) * np.cos(0.5 * np.pi * n / (half + 1)) ** 2
    return np.asarray(taps / taps.sum(), dtype=np.float64)


def filtered(values: Floats, taps: Floats) -> Floats:
    """Symmetric filter along the last axis; the ends are continued by a half turn.

    A half turn (odd reflection) keeps the slope at an end, so that a note does not begin flat.
    """
    if values.shape[-1] < 2:
        return values.copy()
    padded = turned(values, half=taps.size // 2)
    if values.ndim == 1:
        return np.convolve(padded, taps, mode="valid")
    return np.stack([np.convolve(row, taps, mode="valid") for row in padded])


def turned(values: Floats, *, half: int) -> Floats:
    """Values continued by a half turn around each end, ``half`` frames further, last axis."""
    if values.shape[-1] <= half:
        widths = [(0, 0)] * (values.ndim - 1) + [(half, half)]
        return np.pad(values, widths, mode="reflect", reflect_type="odd")
    before = 2.0 * values[..., :1] - values[..., half:0:-1]
    after = 2.0 * values[..., -1:] - values[..., -2 : -half - 2 : -1]
    return np.concatenate([before, values, after], axis=-1)


def held(values: Floats, *, half: int) -> Floats:
    """Values continued by their first and last, ``half`` frames further, last axis."""
    size = values.shape[-1]
    return np.asarray(values[..., np.clip(np.arange(-half, size + half), 0, size - 1)])


def running_median(values: Floats, *, width: int, every: int = 1) -> Floats:
    """Median over ``width`` frames (odd) around each frame, last axis; the ends are held.

    With ``every`` above 1 it is taken on every so many frames and straight lines join them.
    """
    size, padded = values.shape[-1], held(values, half=width // 2)
    windows = np.lib.stride_tricks.sliding_window_view(padded, width, axis=-1)
    sparse = np.asarray(np.median(windows[..., ::every, :], axis=-1), dtype=np.float64)
    return sparse if every == 1 else stretched(sparse, every=every, size=size)


def stretched(sparse: Floats, *, every: int, size: int) -> Floats:
    """Values on every so many frames joined by straight lines; the last one is held."""
    place = np.arange(size) / every
    left = place.astype(int)
    right = np.minimum(left + 1, sparse.shape[-1] - 1)
    step = sparse[..., right] - sparse[..., left]
    return np.asarray(sparse[..., left] + (place - left) * step)


def running_mean(values: Floats, *, width: int) -> Floats:
    """Mean over ``width`` frames (odd) around each frame, last axis; the ends are held."""
    sums = np.cumsum(held(values, half=width // 2), axis=-1)
    means = sums[..., width - 1 :].copy()
    means[..., 1:] -= sums[..., :-width]
    return np.asarray(means / width, dtype=np.float64)


def product(rows: NDArray[Number], columns: NDArray[Number]) -> NDArray[Number]:
    """Matrix product in slices too small to be shared out among threads.

    A library that shares out products as small as ours spends up to fifty times the work on
    waiting (measured with two cores in use by others).
    """
    size = max(1, SLICE // columns.size)
    whole = len(rows) // size * size
    slices = rows[:whole].reshape(-1, size, rows.shape[1]) @ columns
    return np.concatenate([slices.reshape(whole, columns.shape[1]), rows[whole:] @ columns])


def runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Half-open index pairs of every stretch of True.

    >>> runs(np.array([True, True, False, True]))
    [(0, 2), (3, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
