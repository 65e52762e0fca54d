"""What the rows are measured from, and the little arithmetic they share."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from labcore.doubt import student
from labcore.metre import Beat, Pulse, find_pulse, one_value_groups, pulse_of_tops, runs_within
from labcore.model import Floats, GridFit, HomeSource, NoteReport, Place, Take, VibratoCycle


@dataclass(frozen=True)
class Heard:
    """What the rows are measured from."""

    take: Take
    notes: Sequence[NoteReport]
    cycles: Sequence[VibratoCycle]
    stretches: Sequence[GridFit]
    beat: Beat | None

    @cached_property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Waves of one note value, as the stretches have them or as their speed tells."""
        if self.stretches:
            return tuple(tuple(map(int, fit.cycle)) for fit in self.stretches)
        return one_value_groups(self.cycles, beat=self.beat)

    @cached_property
    def runs(self) -> tuple[tuple[int, ...], ...]:
        """Waves of one note value in one unbroken row, the stuff of every evenness."""
        return tuple(run for group in self.groups for run in runs_within(self.cycles, group=group))

    @cached_property
    def pulse(self) -> Pulse:
        return find_pulse(self.cycles)

    @cached_property
    def step_runs(self) -> tuple[Floats, ...]:
        """Seconds from wave to wave, run by run."""
        return tuple(steps for group in self.groups for steps in self.pulse.step_runs(group))

    @cached_property
    def top_runs(self) -> tuple[Floats, ...]:
        """Seconds from the far turn of a wave to that of the next, run by run."""
        tops = pulse_of_tops(self.cycles)
        return tuple(steps for group in self.groups for steps in tops.step_runs(group))

    @cached_property
    def extents(self) -> Floats:
        return np.array([wave.extent_cents for wave in self.cycles])

    @cached_property
    def at_home(self) -> tuple[VibratoCycle, ...]:
        """Waves whose home was read from a plain note, not from the waves themselves."""
        return tuple(
            wave
            for wave in self.cycles
            if wave.home is not None and wave.home.source is not HomeSource.WAVES
        )

    @cached_property
    def placed(self) -> tuple[VibratoCycle, ...]:
        """Waves whose home has a place too, so that coming back to it means something."""
        return tuple(
            wave
            for wave in self.at_home
            if wave.home is not None and wave.home.place is not Place.UNKNOWN
        )

    def home_error_cents(self, cycles: Sequence[VibratoCycle]) -> float:
        """Error of the home of waves that share homes note by note: the mean of theirs.

        One hand's plain notes creep the same way, so more notes do not make home better known.
        """
        return float(np.mean([wave.home.error_cents if wave.home else 0.0 for wave in cycles]))

    @cached_property
    def longest(self) -> GridFit | None:
        """The stretch with the most waves: the one whose note value and lock are told."""
        return max(self.stretches, key=lambda fit: fit.waves, default=None)


class DeclinedError(Exception):
    """Raised inside a row to say why it has no number."""


def interquartile(values: Floats) -> float | None:
    """Interquartile range; None for fewer than two values."""
    if values.size < 2:
        return None
    low, high = np.percentile(values, [25, 75])
    return float(high - low)


def mean_error(values: Floats) -> float | None:
    """Standard error of a mean; None for fewer than two values."""
    if values.size < 2:
        return None
    return float(student(values.size - 1) * np.std(values, ddof=1) / np.sqrt(values.size))


def phase_of(time_s: Floats, edges_s: Floats) -> Floats:
    """Phase in radians, one full turn from each edge to the next."""
    turns = 2.0 * np.pi * np.arange(edges_s.size)
    return np.asarray(np.interp(time_s, edges_s, turns), dtype=np.float64)


def line(x: Floats, y: Floats) -> tuple[tuple[float, float], float]:
    """Slope and level of a straight line through ``y(x)``, and the standard error of its slope."""
    slope, level = (float(v) for v in np.polyfit(x, y, 1))
    rest = y - slope * x - level
    freedom = max(x.size - 2, 1)
    error = np.sqrt(np.sum(rest**2) / freedom / max(np.sum(x**2), 1e-12))
    return (slope, level), float(student(freedom) * error)
