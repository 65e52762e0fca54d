"""Where no click is heard: how evenly the waves keep a beat of their own between two breaks."""

import numpy as np

from labcore.doubt import spread_error
from labcore.metre import circular_spread, resultant, runs_within
from labcore.model import GridFit, Measure, Report


def spread_between_breaks(report: Report, fit: GridFit) -> Measure | None:
    """Spread in ms of the waves of a stretch, each run of them around its own mean place.

    A player who rests may begin anew on any beat, and without a click nobody can tell whether the
    new beat is the old one. Each run takes a degree of freedom for its place. None where no two
    waves follow one another.
    """
    angle = dict(zip(fit.cycle.tolist(), fit.asynchrony_s / fit.step_s, strict=True))
    runs = list(runs_within(report.cycles, group=tuple(angle)))
    freedom = fit.waves - len(runs)
    if freedom < 1:
        return None
    places = [2.0 * np.pi * np.array([angle[index] for index in run]) for run in runs]
    together = sum(place.size * resultant(place)[0] for place in places) / fit.waves
    spread = circular_spread(together) * np.sqrt(fit.waves / freedom)
    spread_ms = float(1000.0 * fit.step_s * spread / (2.0 * np.pi))
    return Measure(spread_ms, "ms", fit.waves, None, spread_error(spread_ms, freedom=freedom))
