"""Sound in blocks of samples: what `sndfile` (libsndfile) and `phone` (PyAV) both give.

A decoder is two functions: what the file says of itself, and its blocks. Nothing is set aside by
what a header announces: blocks are small, and whoever reads them counts.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Block = NDArray[np.float32]  # shape (frames, channels)


class CutOffError(Exception):
    """The decoder lost its way: nothing after the blocks already given can be read."""


class NoDecoderError(Exception):
    """The file is not one that the decoder asked reads."""


@dataclass(frozen=True, slots=True)
class Header:
    """What a file says of itself. ``announced_frames`` is None where it does not say."""

    sample_rate_hz: float
    channels: int
    announced_frames: int | None

    @property
    def announced_s(self) -> float | None:
        """The length the file says it has."""
        if self.announced_frames is None:
            return None
        return self.announced_frames / self.sample_rate_hz


@dataclass(frozen=True, slots=True)
class Sound:
    """A file that some decoder understands. ``blocks(n)`` starts anew, ``n`` frames in."""

    header: Header
    blocks: Callable[[int], Iterator[Block]]


def without_first(blocks: Iterator[Block], *, frames: int) -> Iterator[Block]:
    """The blocks less their first ``frames`` frames."""
    for block in blocks:
        gone = min(len(block), frames)
        frames -= gone
        if gone < len(block):
            yield block[gone:]
