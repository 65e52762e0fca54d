"""How long it takes a click from the page through loudspeaker and microphone back to the page.

The recorder sets its clicks on the clock of the sound card, but a player hears them later and the
microphone is later still. Eight clicks played over the loudspeaker and found again in the
recording tell the whole way; without that nothing may be said about early or late.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.errors import LabError

# The sound that is sent: a short rising tone, because it has one sharp peak when it is matched.
SWEEP_LOW_HZ, SWEEP_HIGH_HZ = 1_000.0, 5_000.0  # what small loudspeakers and microphones carry
SWEEP_S = 0.012
CLICKS = 8
CLICK_EVERY_S = 0.7
MOST_DELAY_S = 0.6  # under the time between two clicks, or one could be taken for the next

# Project choices: three milliseconds is half of what a listener notices (Friberg & Sundberg
# 1995, abstract: 6 ms); in noise as loud as the click the score stays above 0.9.
MOST_SPREAD_S = 0.003
LEAST_SCORE = 0.5
LEAST_FOUND = 6


@dataclass(frozen=True, slots=True)
class Delay:
    """The way there and back, for one input on one sound card."""

    delay_s: float
    spread_s: float  # 90 % of the clicks lie within this of the delay
    score: float  # 1: what came back has the very shape of what was sent


def sweep(*, sample_rate_hz: float) -> NDArray[np.float64]:
    """The sound that is sent, peak 1; the page makes the same from the same numbers."""
    time_s = np.arange(round(SWEEP_S * sample_rate_hz)) / sample_rate_hz
    rise = (SWEEP_HIGH_HZ - SWEEP_LOW_HZ) / SWEEP_S
    phase = 2.0 * np.pi * (SWEEP_LOW_HZ * time_s + 0.5 * rise * time_s**2)
    return np.asarray(np.sin(phase) * np.sin(np.pi * time_s / SWEEP_S) ** 2)


def find_delay(
    samples: NDArray[np.float32], *, sample_rate_hz: float, click_s: Sequence[float]
) -> Delay:
    """Matched filter: where each click that was sent at ``click_s`` comes back.

    Raises
    ------
    LabError
        The clicks were not heard, or did not come back equally late.

    >>> there = sweep(sample_rate_hz=8000.0)
    >>> heard = np.zeros(8 * 8000)
    >>> for k in range(8):
    ...     heard[k * 8000 + 400 : k * 8000 + 400 + there.size] = there
    >>> found = find_delay(heard, sample_rate_hz=8000.0, click_s=range(8))
    >>> round(found.delay_s, 4), round(found.score, 2)
    (0.05, 1.0)
    """
    found = [
        _one(samples, sample_rate_hz=sample_rate_hz, sent_s=float(sent_s)) for sent_s in click_s
    ]
    heard = np.array([delay_s for delay_s, score in found if score >= LEAST_SCORE])
    if heard.size < LEAST_FOUND:
        raise LabError(
            f"{heard.size} of {len(found)} clicks were heard; {LEAST_FOUND} are needed. Take the "
            "headphones off, turn the loudspeaker up to talking level, and try again in a quiet "
            "moment."
        )
    delay_s = float(np.median(heard))
    spread_s = float(np.percentile(np.abs(heard - delay_s), 90.0))
    if spread_s > MOST_SPREAD_S:
        raise LabError(
            f"The clicks came back unequally late (by {1000 * spread_s:.0f} ms; at most "
            f"{1000 * MOST_SPREAD_S:g} ms are allowed). Close other programs that use sound, "
            "keep quiet, and try again."
        )
    return Delay(delay_s, spread_s, float(np.median([score for _, score in found])))


def _one(
    samples: NDArray[np.float32], *, sample_rate_hz: float, sent_s: float
) -> tuple[float, float]:
    """Delay in seconds (to a fraction of a sample) and score of one click."""
    shape = sweep(sample_rate_hz=sample_rate_hz)
    first = round(sent_s * sample_rate_hz)
    stop = first + round(MOST_DELAY_S * sample_rate_hz) + shape.size
    piece = np.asarray(samples[max(first, 0) : stop], dtype=np.float64)
    if piece.size < shape.size + 3:
        return 0.0, 0.0
    match = np.abs(np.correlate(piece, shape, mode="valid"))
    best = int(np.argmax(match))
    power = float(np.sum(piece[best : best + shape.size] ** 2) * np.sum(shape**2))
    score = float(match[best] / np.sqrt(power)) if power > 0.0 else 0.0
    at = best + _between(match, best)
    return (max(first, 0) + at) / sample_rate_hz - sent_s, score


def _between(match: NDArray[np.float64], best: int) -> float:
    """Top of the parabola through the best value and its neighbours, in samples from it."""
    if not 0 < best < match.size - 1:
        return 0.0
    left, middle, right = match[best - 1 : best + 2]
    bend = left - 2.0 * middle + right
    return float(0.5 * (left - right) / bend) if bend < 0.0 else 0.0
