"""Evenness: the spread around a smooth trend, and waves that take turns."""

from collections.abc import Sequence

import numpy as np
from numpy.polynomial.polynomial import polyfit, polyval

from labcore.doubt import spread_error
from labcore.measures.heard import DeclinedError
from labcore.model import Floats, Measure

SHAPED_SHARE = 0.75  # of the run's median: a narrower first or last wave eases in or out
CUBIC_FROM, SQUARE_FROM = 14, 8  # waves a run needs for a trend of that order
LEAST_RUN = 3  # waves a trend needs at all
ALTERNATING_RUN, ALTERNATING_WAVES = 4, 8  # waves a run, and all runs, need to show turns taken
COURSE_SHARE = 0.5  # neighbours alike by so much more than the trend leaves: they keep to a course
TAKES_TURNS = 0.9  # share of waves on their own side of their neighbours; chance gives up to 0.8


def evenness(per_run: Sequence[Floats], *, noise: float, what: str) -> Measure:
    """Standard deviation in percent around each run's own smooth trend, all runs together.

    What the contour's own noise adds is taken out in quadrature. The error is that of a standard
    deviation of normal values (`spread_error`); where it hangs on a wave or two, the jackknife's
    is larger, and counts.
    """
    squares, freedom, noises = [np.empty(0)], 0, 0.0
    for values in per_run:
        if values.size < LEAST_RUN:
            continue
        order = 3 if values.size >= CUBIC_FROM else 2 if values.size >= SQUARE_FROM else 1
        squares.append(_squares(values, order=order))
        noises += (noise / float(np.mean(values))) ** 2 * (values.size - order - 1)
        freedom += values.size - order - 1
    if freedom < 2:
        raise DeclinedError(f"fewer than four {what} of one speed were heard")
    square, blur = np.concatenate(squares), noises / freedom
    raw = float(np.sum(square)) / freedom
    error = max(
        spread_error(np.sqrt(raw), freedom=freedom), _jackknife_error(square, freedom=freedom)
    )
    value = float(np.sqrt(max(raw - blur, 0.0)))
    return Measure(
        100.0 * value, "%", square.size, None, 100.0 * float(error + 0.5 * np.sqrt(blur))
    )


def _squares(values: Floats, *, order: int) -> Floats:
    """Squared distance of each value from their trend, as shares of it."""
    index = np.linspace(-1.0, 1.0, values.size)
    trend = polyval(index, polyfit(index, values, order))
    return np.asarray(((values - trend) / trend) ** 2)


def _jackknife_error(squares: Floats, *, freedom: int) -> float:
    """Standard error of the spread from leaving out one value at a time (jackknife; Efron and
    Tibshirani 1993, An Introduction to the Bootstrap, chapter 11, from memory).

    >>> round(_jackknife_error(np.array([0.01] * 20), freedom=20), 3)  # nothing hangs on one
    0.0
    """
    without = np.sqrt(np.maximum(np.sum(squares) - squares, 0.0) / (freedom - 1))
    return float(np.sqrt((squares.size - 1) * np.var(without)))


def beside_neighbours(per_run: Sequence[Floats]) -> float:
    """Standard deviation in percent of each value around the mean of its two neighbours.

    Told as that of a value by itself: the mean of two adds half their variance (arithmetic). Of
    independent values it is what `evenness` finds; where they keep to a course that no trend of
    low order follows, such as a swell after a swell, it is far less.
    """
    squares = [np.empty(0)]
    for values in per_run:
        if values.size >= LEAST_RUN:
            between = (values[:-2] + values[2:]) / 2.0
            squares.append(((values[1:-1] - between) / between) ** 2 / 1.5)
    joined = np.concatenate(squares)
    return 100.0 * float(np.sqrt(np.mean(joined))) if joined.size else 0.0


def turns_taken(per_run: Sequence[Floats], *, what: str) -> Measure:
    """The smaller over the larger of values that alternate, their linear trend removed."""
    shares, rests, counts = [], [], []
    agree = total = 0
    for values in per_run:
        if values.size < ALTERNATING_RUN:
            continue
        sign = (-1.0) ** np.arange(values.size)
        index = np.linspace(-1.0, 1.0, values.size)
        terms = np.column_stack([np.ones_like(index), index, sign])
        fit = np.linalg.lstsq(terms, values, rcond=None)[0]
        level, half = float(fit[0]), float(fit[2])
        side = (values[1:-1] - (values[:-2] + values[2:]) / 2.0) * sign[1:-1] * np.sign(half)
        agree, total = agree + int(np.sum(side > 0)), total + side.size
        shares.append(abs(half) / level)
        rests.append(float(np.std(values - terms @ fit)) / level)
        counts.append(values.size)
    n = sum(counts)
    if n < ALTERNATING_WAVES or agree < TAKES_TURNS * total:
        raise DeclinedError(f"{what} waves do not take turns")
    share = float(np.average(shares, weights=counts))
    error = 2.0 * float(np.average(rests, weights=counts)) / np.sqrt(n)
    return Measure((1.0 - share) / (1.0 + share), "", n, None, float(error))


def unshaped(widths: Floats) -> Floats:
    """Without a first or last wave much narrower than the rest: those are shaped on purpose."""
    full = SHAPED_SHARE * float(np.median(widths))
    first, last = int(widths[0] < full), int(widths[-1] < full)
    return widths[first : widths.size - last]
