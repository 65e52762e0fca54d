"""A recording that comes from the page in parts: put together, checked, and its gaps filled.

The page numbers the parts and says at the end how many there were and how many samples they
held. Each part says at which sample of the take it begins, so that a lost part, or a moment in
which the microphone gave nothing, becomes silence of its own length and moves nothing after it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labcore.errors import LabError

MOST_PART_BYTES = 1024 * 1024  # a message over 10 MiB closes the connection without a word
MOST_TAKE_S = 600.0  # ten minutes: more than a practice set
LEAST_RATE_HZ, MOST_RATE_HZ = 8_000.0, 192_000.0  # what `labcore.audio` takes
SAMPLE_BYTES = 4  # float32, little-endian

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of the take for which no sound arrived; it holds silence."""

    start_s: float
    duration_s: float


@dataclass(frozen=True, slots=True)
class Arrived:
    """What came of one take.

    ``told`` is what the page said about it: settings of the input, what the player chose, and
    the times of the clicks in seconds of this sound.
    """

    samples: Samples
    sample_rate_hz: float
    gaps: tuple[Gap, ...]
    told: Mapping[str, Any] = field(default_factory=dict)
    is_whole: bool = True


class ArrivingTake:
    """The parts of one take, in whatever order they come.

    Raises
    ------
    LabError
        The page gave no usable sample rate.
    """

    def __init__(self, start: Mapping[str, Any]) -> None:
        self.told: dict[str, Any] = dict(start)
        self.sample_rate_hz = _rate_hz(start.get("rate_hz"))
        self._parts: dict[int, tuple[int, Samples]] = {}

    def take_part(self, number: int, *, first: int, data: bytes | memoryview) -> None:
        """Keep a part: its number, the sample of the take it begins at, float32 samples.

        Raises
        ------
        LabError
            The part cannot belong to a take.
        """
        size = len(bytes(data))
        most = int(MOST_TAKE_S * self.sample_rate_hz)
        if size > MOST_PART_BYTES or size % SAMPLE_BYTES:
            raise LabError(
                f"A part of {size} bytes came from the page; a part holds whole samples of "
                f"{SAMPLE_BYTES} bytes and at most {MOST_PART_BYTES} bytes. Record again."
            )
        if not 0 <= first <= most - size // SAMPLE_BYTES:
            raise LabError(
                f"A part begins at sample {first}; a take has at most {most}. Record again."
            )
        self._parts[int(number)] = (int(first), np.frombuffer(bytes(data), dtype="<f4"))

    def missing(self, parts: int) -> tuple[int, ...]:
        """Numbers of the parts that did not come, of as many as the page sent."""
        return tuple(k for k in range(parts) if k not in self._parts)

    @property
    def duration_s(self) -> float:
        """How far the parts reach that are here."""
        return self._reach() / self.sample_rate_hz

    def _reach(self) -> int:
        return max((first + part.size for first, part in self._parts.values()), default=0)

    def whole(self, end: Mapping[str, Any]) -> Arrived:
        """The take, checked against what the page counted.

        Parameters
        ----------
        end : mapping
            ``parts`` and ``samples``: how many were sent; ``frames``: length of the take.

        Raises
        ------
        LabError
            The counts do not agree, or nothing came.
        """
        lost = self.missing(int(end["parts"]))
        came = sum(part.size for _, part in self._parts.values())
        if not lost and came != int(end["samples"]):
            raise LabError(
                f"{came} samples arrived, {end['samples']} were sent; the take cannot be trusted. "
                "Record it again."
            )
        return self._arrived({**self.told, **end}, frames=int(end["frames"]), is_whole=not lost)

    def so_far(self) -> Arrived:
        """What came before the page was closed or the connection broke."""
        return self._arrived(self.told, frames=self._reach(), is_whole=False)

    def _arrived(self, told: Mapping[str, Any], *, frames: int, is_whole: bool) -> Arrived:
        if not self._parts or frames < 1:
            raise LabError("Nothing of the take arrived. Record it again.")
        samples = np.zeros(max(frames, self._reach()), dtype=np.float32)
        filled = np.zeros(samples.size, dtype=bool)
        for first, part in self._parts.values():
            samples[first : first + part.size] = part
            filled[first : first + part.size] = True
        gaps = _gaps(filled, sample_rate_hz=self.sample_rate_hz)
        return Arrived(samples, self.sample_rate_hz, gaps, told, is_whole)


def _rate_hz(given: Any) -> float:
    try:
        rate_hz = float(given)
    except (TypeError, ValueError):
        rate_hz = float("nan")
    if not LEAST_RATE_HZ <= rate_hz <= MOST_RATE_HZ:
        raise LabError(
            f"The page gave a sample rate of {given!s:.20} Hz; it must lie between "
            f"{LEAST_RATE_HZ:g} and {MOST_RATE_HZ:g}. Choose another input."
        )
    return rate_hz


def _gaps(filled: NDArray[np.bool_], *, sample_rate_hz: float) -> tuple[Gap, ...]:
    edges = np.flatnonzero(np.diff(np.concatenate([[True], filled, [True]])))
    return tuple(
        Gap(float(a) / sample_rate_hz, float(b - a) / sample_rate_hz)
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )


def gap_words(gaps: Sequence[Gap]) -> str:
    """A sentence about the gaps; empty when there are none.

    >>> gap_words([Gap(1.5, 0.01)])
    'For 10 ms the microphone gave no sound, first at 1.5 s; silence stands there.'
    """
    if not gaps:
        return ""
    total_ms = 1000.0 * sum(gap.duration_s for gap in gaps)
    return (
        f"For {total_ms:.0f} ms the microphone gave no sound, first at {gaps[0].start_s:.1f} s; "
        "silence stands there."
    )
