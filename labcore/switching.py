"""Where the note value changes inside one take, and how soon the new speed is there.

A value is *there* from the first of three waves in a row that sit on one even series of it. The
series has the player's own distance to the click and, within a few percent, the player's own
pace: early, late, fast and slow are told elsewhere. Waves that follow one another must take
neighbouring lines: eighths that go on under sixteenths sit on every other line, and are not there.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from labcore.beats import NOTE_VALUES, check_cycles_per_beat, name_note_value, noticed_s
from labcore.errors import LabError
from labcore.measures import measure
from labcore.metre import Beat, Pulse, find_beat, find_pulse, runs_within
from labcore.model import Floats, GridFit, Measures, Report

# Three in a row within 4 just noticeable displacements of the new grid (common practice, nothing
# published; the displacement is Friberg & Sundberg 1995, abstract).
IN_A_ROW = 3
NOTICED_TIMES = 4.0
MOST_PACE = 0.06  # own pace against the note value: less than half way from five to six
MOST_WAVES = 48  # of one unbroken row that a series is looked for in
PASSING_BEATS = 2.0  # a value held for less than this on the way to another is part of the change
OWN_SHARE = 0.5  # of the time of a stretch that must sit on a value for it to be what was played
# A speed that slides over this many beats, where such a slope fits this much better than a shorter
# one, has drifted (common practice, no source; the factor is that of an F test at 0.1 %).
DRIFT_BEATS = 4.0
DRIFT_F = 12.0
RASTER = 17  # moments at which a slope may begin or end
LEAST_CHANGE = 0.18  # smallest ratio between neighbouring values is 6 to 5
ODD_LENGTH = 0.5  # of the logarithm: a single wave further off counts no more than this

Plan = Sequence[tuple[float, int]]  # when a note value was asked from on (s), waves to the click


class How(StrEnum):
    """What became of a change of note value."""

    SWITCHED = "switched"
    DRIFTED = "drifted"  # the speed slid from the old value to the new one
    OTHER = "another value"  # something else than planned was played
    UNSETTLED = "unsettled"  # no value was held for long enough
    SILENT = "too few waves"


@dataclass(frozen=True, slots=True)
class HeldStretch:
    """A stretch of a take in one note value, with its own measures.

    ``value`` is what was played (None: no value with a name), ``asked`` what the plan wanted
    there (None: no plan). ``measures`` are those of the stretch alone.
    """

    start_s: float
    end_s: float
    value: int | None
    asked: int | None
    cycle: tuple[int, ...]  # indices into ``Report.cycles``
    measures: Measures

    @property
    def waves(self) -> int:
        return len(self.cycle)


@dataclass(frozen=True, slots=True)
class Switch:
    """A change of note value.

    Parameters
    ----------
    at_s : when it was to be (by the plan), else when the old value was left.
    to_value : what was asked, or without a plan what was played.
    played : what was played after it; None where nothing was held.
    waves_until_locked, beats_until_locked : waves, and their time in beats, before the new value
        was there; a plain part between the two is not counted. None unless it came to be there.
    """

    at_s: float
    from_value: int
    to_value: int
    played: int | None
    how: How
    waves_until_locked: int | None = None
    beats_until_locked: float | None = None
    wave_beats: float | None = None  # one wave of the new value, in beats: our own doubt


def switches(report: Report, *, plan: Plan | None = None) -> tuple[Switch, ...]:
    """The changes of note value in a take, in order; empty where no tempo was asked.

    Parameters
    ----------
    plan : when which note value was asked from on: ``[(3.6, 2), (10.3, 3)]`` is eighths from
        3.6 s on and triplets from 10.3 s on. Without it the changes are those that were played.

    Raises
    ------
    LabError
        The plan is empty, not in order of time, or asks for something that is no note value.
    """
    beat = find_beat(report.task, clicks=report.take.clicks)
    if beat is None or not report.cycles:
        return ()
    heard = _Heard(report, beat, find_pulse(report.cycles))
    if plan is None:
        return _joined_drifts(_played_switches(heard))
    return tuple(_planned_switches(heard, _checked(plan)))


def held_stretches(report: Report, *, plan: Plan | None = None) -> tuple[HeldStretch, ...]:
    """The stretches of a take in one note value each, measured one by one.

    With a plan there is one a planned value, else one a value that was held; what is only passed
    on the way to another value is left out.
    """
    beat = find_beat(report.task, clicks=report.take.clicks)
    if beat is None or not report.cycles:
        return ()
    heard = _Heard(report, beat, find_pulse(report.cycles))
    if plan is None:
        return tuple(
            _measured(heard, tuple(map(int, fit.cycle)), value=fit.named, asked=None)
            for fit in _lasting(heard)
        )
    return tuple(
        _measured(heard, part.inside, value=_played(heard, part), asked=part.value)
        for part in _parts(heard, _checked(plan))
        if part.inside
    )


def settled_waves(report: Report, *, plan: Plan | None = None) -> NDArray[np.bool_]:
    """Which waves sit on an even series of the value of their stretch; shape (waves,)."""
    settled = np.zeros(len(report.cycles), dtype=bool)
    beat = find_beat(report.task, clicks=report.take.clicks)
    if beat is None or not report.cycles:
        return settled
    heard = _Heard(report, beat, find_pulse(report.cycles))
    for stretch in held_stretches(report, plan=plan):
        if stretch.value is not None:
            settled[heard.settled(stretch.cycle, value=stretch.value)] = True
    return settled


def plan_of(
    values: Sequence[int], *, first_s: float, bar_s: float, bars_each: int = 1
) -> tuple[tuple[float, int], ...]:
    """The plan of ``bars_each`` bars a value from ``first_s`` on; like neighbours are joined.

    >>> plan_of((2, 2, 3), first_s=1.0, bar_s=4.0)
    ((1.0, 2), (9.0, 3))
    """
    starts = [first_s + bar_s * bars_each * index for index in range(len(values))]
    kept = [k for k in range(len(values)) if k == 0 or values[k] != values[k - 1]]
    return tuple((starts[k], values[k]) for k in kept)


@dataclass(frozen=True, slots=True)
class _Heard:
    report: Report
    beat: Beat
    pulse: Pulse

    def beats(self, cycle: Sequence[int]) -> float:
        """How long some waves take together, in beats."""
        return sum(self.report.cycles[k].duration_s for k in cycle) / self.beat.step_s

    def settled(self, group: Sequence[int], *, value: int) -> list[int]:
        """Those waves of a group that sit on a series of the value, three in a row or more."""
        found: list[int] = []
        for run in runs_within(self.report.cycles, group=group):
            for first in range(0, len(run), MOST_WAVES):
                part = run[first : first + MOST_WAVES]
                edges_s = self.pulse.edges(part)  # the end of the last wave is one more moment
                on = on_a_series(edges_s, beat_s=self.beat.step_s, value=value)
                found += [cycle for cycle, is_on in zip(part, on, strict=False) if is_on]
        return found


def _checked(plan: Plan) -> Plan:
    if not plan:
        raise LabError("The plan is empty; give each note value and the second it begins at.")
    for _, value in plan:
        check_cycles_per_beat(value)
    if any(later <= earlier for (earlier, _), (later, _) in pairwise(plan)):
        raise LabError("The plan is not in order; give each value a later start than the last.")
    return plan


# --- on one even series ------------------------------------------------------------------------


def on_a_series(time_s: Floats, *, beat_s: float, value: int) -> NDArray[np.bool_]:
    """Which of some times sit on the even series of a note value that holds most; shape (n,).

    The step may be off by `MOST_PACE`. Only times that sit three in a row on neighbouring lines
    count, and only where the three themselves are as fast as this value and no other.

    >>> time_s = np.array([0.0, 0.5, 0.85, 1.1, 1.35, 1.6])
    >>> on_a_series(time_s, beat_s=1.0, value=4).tolist()
    [False, False, True, True, True, True]
    """
    step_s = beat_s / value
    origin_s, own_s = _series(time_s, step_s=step_s)
    if not origin_s.size:
        return np.zeros(time_s.size, dtype=bool)
    line = np.round((time_s - origin_s[:, None]) / own_s[:, None])
    apart_s = np.abs(time_s - origin_s[:, None] - line * own_s[:, None])
    near = apart_s <= NOTICED_TIMES * noticed_s(step_s)
    on = _three_in_a_row(near, line, own_speed=_has_speed(time_s, beat_s=beat_s, value=value))
    rest = np.sum((apart_s * on) ** 2, axis=1)
    return np.asarray(on[np.lexsort((rest, -on.sum(axis=1)))[0]])


def _series(time_s: Floats, *, step_s: float) -> tuple[Floats, Floats]:
    """Origin and step of every even series through two of the times, nearly of this step."""
    first, last = np.triu_indices(time_s.size, k=1)
    span_s = time_s[last] - time_s[first]
    lines = np.round(span_s / step_s)
    own_s = span_s / np.maximum(lines, 1.0)
    fits = (lines >= IN_A_ROW - 1) & (np.abs(own_s / step_s - 1.0) <= MOST_PACE)
    return time_s[first][fits], own_s[fits]


def _has_speed(time_s: Floats, *, beat_s: float, value: int) -> NDArray[np.bool_]:
    """Whether each three in a row are nearer this value than its neighbours; shape (n - 2,)."""
    per_beat = (IN_A_ROW - 1) * beat_s / (time_s[IN_A_ROW - 1 :] - time_s[: 1 - IN_A_ROW])
    return np.array([name_note_value(speed) == value for speed in per_beat], dtype=bool)


def _three_in_a_row(
    near: NDArray[np.bool_], line: Floats, *, own_speed: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which of the times near their lines belong to three in a row; shape (series, times)."""
    pair = near[:, 1:] & near[:, :-1] & (np.diff(line, axis=1) == 1.0)
    three = pair[:, 1:] & pair[:, :-1] & own_speed
    on = np.zeros(near.shape, dtype=bool)
    for place in range(IN_A_ROW):
        on[:, place : place + three.shape[1]] |= three
    return on


# --- as played ---------------------------------------------------------------------------------


def _lasting(heard: _Heard) -> list[GridFit]:
    """Stretches with a name that are held, not passed on the way to another value."""
    named = [fit for fit in heard.report.stretches if fit.named is not None]
    last = len(named) - 1
    kept = [fit for place, fit in enumerate(named) if place in (0, last) or _is_held(heard, fit)]
    joined: list[GridFit] = []
    for fit in kept:
        if joined and joined[-1].named == fit.named:
            both = np.concatenate([joined[-1].cycle, fit.cycle])
            joined[-1] = replace(joined[-1], end_s=fit.end_s, cycle=both)
        else:
            joined.append(fit)
    return joined


def _is_held(heard: _Heard, fit: GridFit) -> bool:
    """Whether a value lasts, and its waves sit on a series for most of it."""
    waves = list(map(int, fit.cycle))
    whole = heard.beats(waves)
    settled = heard.beats(heard.settled(waves, value=fit.named or 1))
    return whole >= PASSING_BEATS and settled >= OWN_SHARE * whole


def _played_switches(heard: _Heard) -> Iterator[Switch]:
    for before, after in pairwise(_lasting(heard)):
        assert before.named is not None
        assert after.named is not None
        old = list(map(int, before.cycle))
        new = list(map(int, after.cycle))
        on_old, on_new = _meeting(heard, old, new, values=(before.named, after.named))
        left = on_old[-1] if on_old else old[-1]
        switch = Switch(
            heard.report.cycles[left].end_s, before.named, after.named, after.named, How.UNSETTLED
        )
        if _drifts(heard, old, new, value=before.named):
            yield replace(switch, how=How.DRIFTED)
        elif on_new:
            yield _locked(heard, switch, range(left + 1, on_new[0]))
        else:
            yield switch


def _meeting(
    heard: _Heard, old: Sequence[int], new: Sequence[int], *, values: tuple[int, int]
) -> tuple[list[int], list[int]]:
    """The settled waves of two stretches, each carried on into what lies between them."""
    on_old, on_new = (heard.settled(g, value=v) for g, v in zip((old, new), values, strict=True))
    if not on_old or not on_new or on_old[-1] > on_new[0]:
        return on_old, on_new
    on_old = heard.settled(range(old[0], on_new[0]), value=values[0])
    on_new = heard.settled(range(on_old[-1] + 1, new[-1] + 1), value=values[1])
    return on_old, on_new


def _locked(heard: _Heard, switch: Switch, between: Sequence[int]) -> Switch:
    return replace(
        switch,
        how=How.SWITCHED,
        waves_until_locked=len(between),
        beats_until_locked=heard.beats(between),
        wave_beats=1.0 / switch.to_value,
    )


def _joined_drifts(found: Iterator[Switch]) -> tuple[Switch, ...]:
    """Drifts that follow one another in one direction are one drift."""
    joined: list[Switch] = []
    for switch in found:
        last = joined[-1] if joined else None
        both = last is not None and last.how is switch.how is How.DRIFTED
        if last is not None and both and _way(last) == _way(switch):
            joined[-1] = replace(last, to_value=switch.to_value, played=switch.played)
        else:
            joined.append(switch)
    return tuple(joined)


def _way(switch: Switch) -> bool:
    return switch.to_value > switch.from_value


# --- against a plan ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Part:
    """A planned stretch and the waves in it."""

    start_s: float
    value: int
    inside: tuple[int, ...]


def _parts(heard: _Heard, plan: Plan) -> list[_Part]:
    ends = [start_s for start_s, _ in plan[1:]] + [np.inf]
    values = [value for _, value in plan]
    starts = np.array([wave.start_s for wave in heard.report.cycles])
    parts = []
    for (start_s, value), end_s, following in zip(plan, ends, [*values[1:], 1], strict=True):
        # a wave that sets out shortly before the change is already the first of the new ones
        early_s, next_early_s = (0.5 * heard.beat.step_s / k for k in (value, following))
        inside = np.flatnonzero((starts >= start_s - early_s) & (starts < end_s - next_early_s))
        parts.append(_Part(start_s, value, tuple(map(int, inside))))
    return parts


def _planned_switches(heard: _Heard, plan: Plan) -> Iterator[Switch]:
    for before, after in pairwise(_parts(heard, plan)):
        played = _played(heard, after)
        switch = Switch(after.start_s, before.value, after.value, played, How.SILENT)
        if len(after.inside) < IN_A_ROW:
            yield switch
        elif _drifts(heard, before.inside, after.inside, value=before.value):
            yield replace(switch, how=How.DRIFTED)
        elif played is None:
            yield replace(switch, how=How.UNSETTLED)
        elif played != after.value:
            yield replace(switch, how=How.OTHER)
        else:
            first = heard.settled(after.inside, value=after.value)[0]
            yield _locked(heard, switch, range(after.inside[0], first))


def _played(heard: _Heard, part: _Part) -> int | None:
    """The planned value if it was held for a while, however late; else what filled most."""
    filled = {k: heard.beats(heard.settled(part.inside, value=k)) for k in NOTE_VALUES}
    half = OWN_SHARE * heard.beats(part.inside)
    if filled[part.value] >= min(half, PASSING_BEATS):
        return part.value
    best = max(filled, key=lambda k: filled[k])
    return best if filled[best] >= half else None


# --- drift -------------------------------------------------------------------------------------


def _drifts(heard: _Heard, old: Sequence[int], new: Sequence[int], *, value: int) -> bool:
    """Whether the speed slides from one stretch to the next.

    What goes before the old value was there belongs to the change before this one.
    """
    on_old = heard.settled(old, value=value)
    first = on_old[0] if on_old else min((*old, *new))
    waves = [cycle for cycle in (*old, *new) if cycle >= first]
    return slides(heard.report, waves, beat_s=heard.beat.step_s)


def slides(report: Report, cycle: Sequence[int], *, beat_s: float) -> bool:
    """Whether the speed of some waves slides from one value to another instead of changing.

    Two levels with a slope between them are fitted to the logarithm of the waves' speed over the
    time they take (gaps left out): once with a slope as long as a drift, once with any shorter
    one, down to a change at one moment. The long one must fit clearly better.
    """
    if len(cycle) < 3 * IN_A_ROW:
        return False
    lengths_s = np.array([report.cycles[k].duration_s for k in cycle])
    now = (np.cumsum(lengths_s) - lengths_s / 2.0) / beat_s
    speed = -np.log(lengths_s / float(np.median(lengths_s)))
    raster = np.linspace(float(now[0]), float(now[-1]), RASTER)
    short = long = np.inf
    for begin in raster:
        for end in raster[raster >= begin]:
            misfit = _misfit(now, speed, float(begin), float(end))
            if end - begin >= DRIFT_BEATS:
                long = min(long, misfit)
            else:
                short = min(short, misfit)
    freedom = max(speed.size - 4, 1)
    return bool(short - long > DRIFT_F * max(long, 1e-9) / freedom)


def _misfit(now: Floats, speed: Floats, begin: float, end: float) -> float:
    """Squares left by two levels with a straight way between; one odd wave counts little."""
    share = np.clip((now - begin) / max(end - begin, 1e-9), 0.0, 1.0)
    terms = np.column_stack([1.0 - share, share])
    levels = np.linalg.lstsq(terms, speed, rcond=None)[0]
    if abs(levels[1] - levels[0]) < LEAST_CHANGE / 2.0:
        return float(np.sum(np.minimum(np.abs(speed - speed.mean()), ODD_LENGTH) ** 2))
    return float(np.sum(np.minimum(np.abs(speed - terms @ levels), ODD_LENGTH) ** 2))


# --- one stretch alone -------------------------------------------------------------------------


def _measured(
    heard: _Heard, cycle: tuple[int, ...], *, value: int | None, asked: int | None
) -> HeldStretch:
    """A stretch with the measures of its own waves, as if nothing else had been played."""
    report = heard.report
    place = {number: index for index, number in enumerate(cycle)}
    waves = [report.cycles[number] for number in cycle]
    notes = [
        replace(note, cycles=tuple(place[n] for n in note.cycles if n in place))
        for note in report.notes
    ]
    measures = measure(report.take, notes=notes, cycles=waves, stretches=(), beat=None)
    return HeldStretch(waves[0].start_s, waves[-1].end_s, value, asked, cycle, measures)
