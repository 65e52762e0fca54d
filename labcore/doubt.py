"""Errors that mean the same however few waves were heard.

Every rule asks whether an edge lies two standard errors away, which chance does on one side in
2.3 % of all takes, if the error is known. From a few waves it is itself a guess: a mean may lie
further off (Student's t), a spread less far below than above (chi-square), and lengths that make
up for each other tell their mean better than lengths that do not. The errors here are scaled so
that two of them keep the 2.3 %.
"""

from collections.abc import Sequence

import numpy as np

from labcore.model import Floats

TWO = 2.0  # standard errors that every rule asks for
MAKES_UP = -0.5  # lag-one correlation of lengths between moments that each err alone (arithmetic)
MOST_ALIKE = 0.9
LINE_TAKES = 2.0  # over the pairs: how much less alike what a line leaves over looks (tried)


def student(freedom: int) -> float:
    """How much further than two standard errors of a mean chance reaches, for its freedom.

    Expansion of Student's t at the normal quantile (Abramowitz and Stegun 1964, 26.7.5).

    >>> round(2.0 * student(10), 2), round(2.0 * student(1000), 2)
    (2.28, 2.0)
    """
    z, f = TWO, max(float(freedom), 1.0)
    first = (z**3 + z) / 4.0
    second = (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0
    third = (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0
    return (z + first / f + second / f**2 + third / f**3) / z


def spread_error(spread: float, *, freedom: int) -> float:
    """Half of the way from a standard deviation down to the least that it may truly be.

    The quantile of chi-square is Wilson and Hilferty's (1931, PNAS 17, 684).

    >>> round(10.0 - 2.0 * spread_error(10.0, freedom=9), 2)  # sqrt(9 / 19.25), from a table
    6.83
    """
    part = 2.0 / (9.0 * freedom)
    quantile = (1.0 - part + TWO * np.sqrt(part)) ** 3  # over its mean, the freedom
    return float(spread * (1.0 - 1.0 / np.sqrt(quantile)) / TWO)


def mean_error_of_runs(runs: Sequence[Floats]) -> float:
    """Standard error of the mean of lengths that follow one another, run by run."""
    every = np.concatenate(runs)
    mean, freedom = float(np.mean(every)), max(every.size - 1, 1)
    neighbours = _alike([run - mean for run in runs]) * sum(run.size - 1 for run in runs)
    variance = float(np.var(every)) * every.size / freedom * (every.size + 2.0 * neighbours)
    return float(student(freedom) * np.sqrt(max(variance, 0.0)) / every.size)


def slope_error(x: Sequence[Floats], rest: Sequence[Floats]) -> float:
    """Standard error of a slope from what its line leaves over, run by run.

    ``x`` is zero on average over all runs.
    """
    every, left = np.concatenate(x), np.concatenate(rest)
    square, freedom = float(np.sum(every**2)), max(left.size - 2, 1)
    neighbours = _alike(rest) * sum(float(part[:-1] @ part[1:]) for part in x)
    variance = float(np.sum(left**2)) / freedom * (square + 2.0 * neighbours)
    return float(student(freedom) * np.sqrt(max(variance, 0.0)) / max(square, 1e-12))


def _alike(rest: Sequence[Floats]) -> float:
    """Correlation of neighbours around a line, one standard error to the doubtful side.

    Waves set on a click make up for one another, a long one is followed by a short one (Wing and
    Kristofferson 1973, Perception & Psychophysics 14, 5); waves that wander by do not.
    """
    products = np.concatenate([part[:-1] * part[1:] for part in rest])
    square, pairs = float(np.mean(np.concatenate(rest) ** 2)), max(products.size, 1)
    alike = float(np.mean(products)) / square if products.size and square > 0.0 else 0.0
    alike += 1.0 / np.sqrt(pairs) + LINE_TAKES / pairs
    return float(np.clip(alike, MAKES_UP, MOST_ALIKE))
