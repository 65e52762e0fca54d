"""Half the sample rate, block by block."""

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

# Half-band low-pass by the window method (Oppenheim & Schafer, Discrete-Time Signal Processing,
# from memory): the stop band of a Kaiser window with beta 8 lies 80 dB down.
HALF_TAPS = 63  # odd, so that the delay is a whole number of samples
KAISER_BETA = 8.0


def half_band() -> NDArray[np.float32]:
    """The filter, of gain 1 at 0 Hz; shape (HALF_TAPS,)."""
    place = np.arange(HALF_TAPS) - HALF_TAPS // 2
    taps = np.sinc(place / 2.0) * np.kaiser(HALF_TAPS, KAISER_BETA)
    return np.asarray(taps / taps.sum(), dtype=np.float32)


def halved(blocks: Iterable[NDArray[np.float32]]) -> Iterator[NDArray[np.float32]]:
    """Every other sample of the low-passed sound, without delay; blocks have shape (frames,)."""
    taps, edge = half_band(), HALF_TAPS // 2
    held = np.zeros(edge, dtype=np.float32)  # silence before the start stands for the delay
    for block in blocks:
        held = np.concatenate([held, block])
        if held.size >= HALF_TAPS:
            low = np.convolve(held, taps, mode="valid")[::2]
            yield low
            held = held[2 * low.size :]
    held = np.concatenate([held, np.zeros(edge, dtype=np.float32)])
    if held.size >= HALF_TAPS:
        yield np.convolve(held, taps, mode="valid")[::2]
