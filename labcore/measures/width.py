"""How wide the waves are, and how evenly."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from labcore.measures.even import (
    COURSE_SHARE,
    LEAST_RUN,
    beside_neighbours,
    evenness,
    turns_taken,
    unshaped,
)
from labcore.measures.heard import DeclinedError, Heard, interquartile, line
from labcore.model import Measure, Place, VibratoCycle
from labcore.units import cents_between


def extent(heard: Heard) -> Measure:
    """Width, peak to peak: median of the waves."""
    if not heard.cycles:
        raise DeclinedError("no waves were heard")
    widths = heard.extents
    error = _median_error(heard.cycles) / float(np.sqrt(widths.size))
    return Measure(float(np.median(widths)), "cents", widths.size, interquartile(widths), error)


def extent_evenness(heard: Heard) -> Measure:
    """Spread of the waves' widths around their trend, the contour's noise removed.

    Around the neighbours instead, where the widths keep to a course that is no such trend: a note
    may swell twice.
    """
    noise = np.sqrt(1.5) * _median_error(heard.cycles)
    swings = np.array([_swing_cents(wave) for wave in heard.cycles])
    widths = [unshaped(swings[list(run)]) for run in heard.runs]
    found, beside = evenness(widths, noise=noise, what="waves in a row"), beside_neighbours(widths)
    return replace(found, value=beside) if beside < COURSE_SHARE * found.value else found


def _swing_cents(wave: VibratoCycle) -> float:
    """Width of one movement: for a home in the middle the way back alone.

    There the two ends of a wave belong to two movements, and their mean would hide a part of how
    much the movements differ.
    """
    if wave.home is not None and wave.home.place is Place.MIDDLE:
        return abs(cents_between(wave.turn.hz, wave.end.hz))
    return wave.extent_cents


def _median_error(cycles: Sequence[VibratoCycle]) -> float:
    return float(np.median([wave.turn.error_cents for wave in cycles])) if cycles else 0.0


def extent_trend(heard: Heard) -> Measure:
    """How fast the width grows, as a share of itself a second."""
    slopes = []
    for run in heard.runs:
        if len(run) >= LEAST_RUN:
            widths = heard.extents[list(run)]
            starts = np.array([heard.cycles[index].start_s for index in run])
            (slope, level), doubt = line(starts - starts.mean(), widths)
            slopes.append((100.0 * slope / level, 100.0 * doubt / level, len(run)))
    if not slopes:
        raise DeclinedError("fewer than three waves follow one another")
    value, error, n = (np.array(column) for column in zip(*slopes, strict=True))
    return Measure(float(np.average(value, weights=n)), "%/s", int(n.sum()), interquartile(value),
                   float(np.sqrt(np.sum((n * error) ** 2)) / n.sum()))  # fmt: skip


def alternation(heard: Heard) -> Measure:
    """Width of the narrow waves over that of the wide ones, where the two take turns.

    Pushing a string through both ways bends it twice a movement, and unequally; the pitch then
    runs at twice the hand's speed with wide and narrow waves in turn.
    """
    return turns_taken([heard.extents[list(run)] for run in heard.runs], what="wide and narrow")
