"""Step 4: bring each partial to a standstill, and read how fast it still turns.

The sound is multiplied by the carrier's own oscillation backwards (heterodyned), so that a
partial which follows the carrier becomes a slow turn in the complex plane. A window that is even
in time sums it up around each frame; the same window's derivative gives the speed of the turn
(the reassigned frequency of Auger & Flandrin 1995, from memory).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.carrier import Carrier, phase_cycles
from labcore.pitch.decimate import Working
from labcore.pitch.frames import Grid, product

NUTTALL = (0.355768, 0.487396, 0.144232, 0.012604)  # Nuttall 1981, continuous first derivative
HANN = (0.5, 0.5)
NOTHING = 1e-15  # re full scale, -300 dB: what is left of silence by rounding has no turn to read
PIECE_FRAMES = 2048  # about ten seconds at a time: the memory needed does not grow with a note


@dataclass(frozen=True, slots=True)
class Window:
    """A sum of cosines and its derivative in blocks of one hop; shape (2 * half, hop)."""

    half: int  # hops on each side of a frame
    weight: NDArray[np.float32]
    slope_per_s: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Partials:
    """Partials along a carrier; arrays have shape (numbers, frames)."""

    numbers: Floats  # 1 is the carrier itself, 2 its octave; halves and quarters are allowed
    amplitude: Floats  # of the sinusoid, full scale is 1
    residual_hz: Floats  # how much faster than ``number`` times the carrier


@lru_cache(maxsize=64)
def window_of(cosines: tuple[float, ...], *, seconds: float, grid: Grid) -> Window:
    """The window whose length is the next even number of hops above ``seconds``."""
    half = int(np.ceil(0.5 * seconds / grid.step_s))
    length = 2 * half * grid.hop
    n = np.arange(length) - length // 2
    order = np.arange(len(cosines))[:, None]
    angle = 2.0 * np.pi * order * n / length
    weight = np.array(cosines) @ np.cos(angle)
    slope = -np.array(cosines) @ (2.0 * np.pi * order / length * np.sin(angle)) * grid.rate_hz
    shape, unit = (2 * half, grid.hop), weight.sum()
    return Window(
        half,
        (weight / unit).reshape(shape).astype(np.float32),
        (slope / unit).reshape(shape).astype(np.float32),
    )


def demodulate(
    sound: Working, *, carrier: Carrier, numbers: Floats, window: Window, grid: Grid
) -> Partials:
    """Amplitude and residual frequency of partials on every frame of the carrier."""
    pieces = [
        _piece(sound, carrier=carrier, first=first, numbers=numbers, window=window, grid=grid)
        for first in range(carrier.first, carrier.last, PIECE_FRAMES)
    ]
    amplitude, residual = (np.concatenate(part, axis=1) for part in zip(*pieces, strict=True))
    return Partials(numbers, amplitude, residual)


def _piece(
    sound: Working, *, carrier: Carrier, first: int, numbers: Floats, window: Window, grid: Grid
) -> tuple[Floats, Floats]:
    last, half = min(carrier.last, first + PIECE_FRAMES), window.half
    reach = carrier.part(first - half, last + half)
    blocks = blocks_between(sound, first=first - half, last=last + half - 1, hop=grid.hop)
    phase = phase_cycles(reach.hz, hop=grid.hop, rate_hz=grid.rate_hz)
    steps = np.diff(numbers, prepend=0.0)
    turn = {step: backwards(phase * step) for step in set(steps.tolist())}
    still, amplitudes, residuals = blocks.astype(np.complex64), [], []
    for step in steps.tolist():
        still = still * turn[step]
        value, slope = windowed(still, window=window)
        size = np.abs(value)
        amplitudes.append(2.0 * size)
        residuals.append(-np.imag(slope / np.where(size < NOTHING, 1, value)) / (2.0 * np.pi))
    return np.array(amplitudes, dtype=np.float64), np.array(residuals, dtype=np.float64)


def backwards(cycles: Floats) -> NDArray[np.complex64]:
    """exp(-2 pi i cycles), reduced to one turn first so that single precision suffices."""
    angle = (-2.0 * np.pi * (cycles - np.floor(cycles))).astype(np.float32)
    turn = np.empty(cycles.shape, dtype=np.complex64)
    np.cos(angle, out=turn.real)
    np.sin(angle, out=turn.imag)
    return turn


def blocks_between(sound: Working, *, first: int, last: int, hop: int) -> NDArray[np.float32]:
    """Samples from frame to frame, one row a hop; silence outside the sound."""
    low, high = first * hop, last * hop
    padded = np.zeros(high - low, dtype=np.float32)
    inside_low, inside_high = max(low, 0), min(high, sound.samples.size)
    if inside_high > inside_low:
        padded[inside_low - low : inside_high - low] = sound.samples[inside_low:inside_high]
    return padded.reshape(-1, hop)


def windowed(
    still: NDArray[np.complex64], *, window: Window
) -> tuple[NDArray[np.complex64], NDArray[np.complex64]]:
    """Sum under the window, and its rate of change, on every frame the blocks surround.

    Each block is multiplied by all pieces of the window at once (one matrix product), and a frame
    adds the products of the blocks around it.
    """
    columns = np.concatenate([window.weight, window.slope_per_s]).T
    rows = len(still)
    parts = product(np.concatenate([still.real, still.imag]), columns)
    products = np.empty((rows, columns.shape[1]), dtype=np.complex64)
    products.real, products.imag = parts[:rows], parts[rows:]
    width = 2 * window.half
    return along_diagonals(products[:, :width]), along_diagonals(products[:, width:])


def along_diagonals(products: NDArray[np.complex64]) -> NDArray[np.complex64]:
    """Sum over j of ``products[i + j, j]`` for every i that has them all."""
    rows, width = products.shape
    down, right = products.strides
    steps = np.lib.stride_tricks.as_strided(
        products, shape=(rows - width + 1, width), strides=(down, down + right), writeable=False
    )
    return np.asarray(steps.sum(axis=1))
