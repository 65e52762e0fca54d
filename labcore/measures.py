"""Numbers with unit, count, spread and error from a take's waves; one row a `Measures` field.

Every spread here is taken around a smooth trend, wave by wave within one pluck and one note
value: a swell, a dying note or a gathering of speed is music, and is reported by rows of its own.
A row that cannot be measured is None and says why in ``declined``.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from labcore.metre import Beat, Pulse, circular_spread, find_pulse, one_value_groups, runs_within
from labcore.model import (
    BeatOrigin,
    Floats,
    GridFit,
    HomeSource,
    Measure,
    Measures,
    NoteReport,
    Place,
    Take,
    VibratoCycle,
)
from labcore.notes import direction_error, direction_index, voiced_inside
from labcore.units import cents_between

HOME_CENTS = 10.0  # musicians' threshold for steady tones (Arndt, Schlemmer & van der Meer 2020)
SHAPED_SHARE = 0.75  # of the run's median: a narrower first or last wave eases in or out
CUBIC_FROM, SQUARE_FROM = 14, 8  # waves a run needs for a trend of that order
LEAST_RUN = 3  # waves a trend needs at all
ALTERNATING_RUN, ALTERNATING_WAVES = 4, 8  # waves a run, and all runs, need to show turns taken
TAKES_TURNS = 0.8  # share of waves on their own side of their neighbours
HARMONICS = 5  # of a wave's shape
SHAPE_WAVES = 3  # fitted together: shape is what neighbours share
INDEPENDENT_S = 0.023  # contour values this far apart are independent: half a period of 22 Hz
VERTEX_SHARE = 0.20  # of the cycle on either side goes into a turning point's fit
FINISH_S = 0.20  # how the note ends is read over this long ...
RELEASE_S = 0.05  # ... before the release itself ...
FINISH_HELD_CENTS = 12.0  # ... where the pitch stays within this: a wave cut short is no ending
GOOD_ERROR_CENTS = 5.0  # a frame known worse than this is not measured well
STRAY_DB = -18.0  # another sound this near the note's own level disturbs it


@dataclass(frozen=True)
class _Heard:
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
        """Error of the mean home of waves that share homes note by note."""
        counts: dict[int, int] = {}
        errors: dict[int, float] = {}
        for wave in cycles:
            counts[wave.note] = counts.get(wave.note, 0) + 1
            errors[wave.note] = wave.home.error_cents if wave.home else 0.0
        shares = np.array([counts[note] / len(cycles) for note in counts])
        return float(np.sqrt(np.sum((shares * np.array([errors[n] for n in counts])) ** 2)))

    @cached_property
    def longest(self) -> GridFit | None:
        """The stretch with the most waves: the one whose note value and lock are told."""
        return max(self.stretches, key=lambda fit: fit.waves, default=None)


class _DeclinedError(Exception):
    """Raised inside a row to say why it has no number."""


def measure(
    take: Take,
    *,
    notes: Sequence[NoteReport],
    cycles: Sequence[VibratoCycle],
    stretches: Sequence[GridFit] = (),
    beat: Beat | None = None,
) -> Measures:
    """All rows of a take; a row is None where the take does not tell, with the reason beside."""
    heard = _Heard(take, notes, cycles, stretches, beat)
    rows: dict[str, Measure] = {}
    declined: dict[str, str] = {}
    for name, row in _ROWS.items():
        try:
            rows[name] = row(heard)
        except _DeclinedError as reason:
            declined[name] = str(reason)
    return Measures(**rows, declined=declined)


# --- plain note, speed, time -------------------------------------------------------------------


def _plain_note(heard: _Heard) -> Measure:
    parts = [part for note in heard.take.notes for part in note.plain_parts]
    if not parts:
        raise _DeclinedError("no plain part of a quarter of a second or more was heard")
    wander = np.array([part.spread_cents for part in parts])
    error = float(np.nanmedian(heard.take.contour.error_cents))
    return Measure(float(np.median(wander)), "cents", len(parts), _spread(wander), error)


def _rate(heard: _Heard) -> Measure:
    rates = 1.0 / _steps(heard)
    return Measure(float(np.median(rates)), "Hz", rates.size, _spread(rates), _mean_error(rates))


def _steps(heard: _Heard) -> Floats:
    """All times from wave to wave in seconds, joined."""
    if not heard.cycles:
        raise _DeclinedError("no waves were heard")
    if not heard.step_runs:
        return np.array([wave.duration_s for wave in heard.cycles])
    return np.concatenate(heard.step_runs)


def _cycles_per_beat(heard: _Heard) -> Measure:
    fit = _fit(heard)
    steps = _group_steps(heard, fit)
    ratio = _beat(heard).step_s / steps
    uneven = float(np.std(steps) / np.mean(steps))
    error = fit.cycles_per_beat * uneven / float(np.sqrt(steps.size))
    return Measure(fit.cycles_per_beat, "per beat", fit.waves, _spread(ratio), error)


def _rate_error(heard: _Heard) -> Measure:
    fit = _fit(heard)
    if fit.rate_error_percent is None:
        raise _DeclinedError("the waves belong to no note value from quarters to sextuplets")
    q = _cycles_per_beat(heard)
    error = 100.0 * (q.error or 0.0) / q.value
    return Measure(fit.rate_error_percent, "%", fit.waves, None, error)


def _group_steps(heard: _Heard, fit: GridFit) -> Floats:
    steps = heard.pulse.step_runs(tuple(map(int, fit.cycle)))
    if not steps:
        raise _DeclinedError("no two waves follow one another")
    return np.concatenate(steps)


def _beat(heard: _Heard) -> Beat:
    if heard.beat is None:
        raise _DeclinedError("no click was chosen")
    return heard.beat


def _fit(heard: _Heard) -> GridFit:
    _beat(heard)
    if heard.longest is None:
        raise _DeclinedError("fewer than three waves follow one another")
    return heard.longest


def _time_evenness(heard: _Heard) -> Measure:
    blur = [_time_blur_s(wave) for wave in heard.cycles]
    noise = np.sqrt(2.0) * float(np.median(blur)) if blur else 0.0
    return _evenness(heard.step_runs, noise=noise, what="waves in a row")


def _time_blur_s(wave: VibratoCycle) -> float:
    """Standard error of a turning point's time, from the error of its pitch.

    The vertex of ``a t^2`` fitted over n independent values within +-w is known to
    ``sigma / (2 a w sqrt(n / 3))``; for a sine of extent E and period T, ``a = E pi^2 / T^2``.
    """
    reach_s = VERTEX_SHARE * wave.duration_s
    independent = max(2.0 * reach_s / INDEPENDENT_S, 2.0)
    bend = wave.extent_cents * np.pi**2 / wave.duration_s**2
    return float(wave.turn.error_cents / (2.0 * bend * reach_s * np.sqrt(independent / 3.0)))


def _lock(heard: _Heard) -> Measure:
    fit = _named_fit(heard)
    error = _circular_error(fit)
    return Measure(fit.concentration, "", fit.waves, None, error)


def _circular_error(fit: GridFit) -> float:
    """Standard error of R for a wrapped normal spread: (1 - R^2) / sqrt(2 n)."""
    return float((1.0 - fit.concentration**2) / np.sqrt(2.0 * fit.waves))


def _named_fit(heard: _Heard) -> GridFit:
    fit = _fit(heard)
    if fit.named is None:
        raise _DeclinedError("the waves belong to no note value from quarters to sextuplets")
    return fit


def _asynchrony(heard: _Heard) -> Measure:
    fit = _named_fit(heard)
    step_ms = 1000.0 * _beat(heard).step_s / (fit.named or 1)
    spread_ms = circular_spread(fit.concentration) / (2.0 * np.pi) * step_ms
    return Measure(spread_ms, "ms", fit.waves, None, spread_ms / float(np.sqrt(2.0 * fit.waves)))


def _offset(heard: _Heard) -> Measure:
    fit = _named_fit(heard)
    if fit.origin is BeatOrigin.FITTED:
        raise _DeclinedError("no click was heard, so early or late is not shown")
    spread_ms = 1000.0 * float(np.std(fit.asynchrony_s))
    return Measure(1000.0 * fit.offset_s, "ms", fit.waves, spread_ms,
                   spread_ms / float(np.sqrt(fit.waves)))  # fmt: skip


def _drift(heard: _Heard) -> Measure:
    fit = _fit(heard)
    runs = list(runs_within(heard.cycles, group=tuple(map(int, fit.cycle))))
    steps = [heard.pulse.steps(run) for run in runs]
    when = np.concatenate(
        [heard.pulse.time_s[list(run)][: step.size] for run, step in zip(runs, steps, strict=True)]
    )
    speed = 1.0 / np.concatenate(steps)
    if when.size < 6:
        raise _DeclinedError("fewer than six waves follow one another")
    (slope, level), error = _line(when - when.mean(), speed)
    span_s = float(np.ptp(when))
    return Measure(100.0 * slope * span_s / level, "%", when.size, None,
                   100.0 * error * span_s / level)  # fmt: skip


def _line(x: Floats, y: Floats) -> tuple[tuple[float, float], float]:
    """Slope and level of a straight line through ``y(x)``, and the standard error of its slope."""
    slope, level = (float(v) for v in np.polyfit(x, y, 1))
    rest = y - slope * x - level
    error = np.sqrt(np.sum(rest**2) / max(x.size - 2, 1) / max(np.sum(x**2), 1e-12))
    return (slope, level), float(error)


# --- width -------------------------------------------------------------------------------------


def _extent(heard: _Heard) -> Measure:
    if not heard.cycles:
        raise _DeclinedError("no waves were heard")
    error = float(np.mean([wave.turn.error_cents for wave in heard.cycles]))
    return Measure(float(np.median(heard.extents)), "cents", heard.extents.size,
                   _spread(heard.extents), error / float(np.sqrt(heard.extents.size)))  # fmt: skip


def _extent_evenness(heard: _Heard) -> Measure:
    noise = np.sqrt(1.5) * _median_error(heard.cycles)
    swings = np.array([_swing_cents(wave) for wave in heard.cycles])
    widths = [_unshaped(swings[list(run)]) for run in heard.runs]
    return _evenness(widths, noise=noise, what="waves in a row")


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


def _extent_trend(heard: _Heard) -> Measure:
    slopes = []
    for run in heard.runs:
        if len(run) >= LEAST_RUN:
            widths = heard.extents[list(run)]
            starts = np.array([heard.cycles[index].start_s for index in run])
            (slope, level), doubt = _line(starts - starts.mean(), widths)
            slopes.append((100.0 * slope / level, 100.0 * doubt / level, len(run)))
    if not slopes:
        raise _DeclinedError("fewer than three waves follow one another")
    value, error, n = (np.array(column) for column in zip(*slopes, strict=True))
    return Measure(float(np.average(value, weights=n)), "%/s", int(n.sum()), _spread(value),
                   float(np.sqrt(np.sum((n * error) ** 2)) / n.sum()))  # fmt: skip


def _unshaped(widths: Floats) -> Floats:
    """Without a first or last wave much narrower than the rest: those are shaped on purpose."""
    full = SHAPED_SHARE * float(np.median(widths))
    first, last = int(widths[0] < full), int(widths[-1] < full)
    return widths[first : widths.size - last]


def _evenness(per_run: Sequence[Floats], *, noise: float, what: str) -> Measure:
    """Standard deviation in percent around each run's own smooth trend, all runs together.

    What the contour's own noise adds is taken out in quadrature; the error of a standard
    deviation from f degrees of freedom is itself / sqrt(2 f).
    """
    squares, freedom, noises, count = 0.0, 0, 0.0, 0
    for values in per_run:
        if values.size < LEAST_RUN:
            continue
        order = 3 if values.size >= CUBIC_FROM else 2 if values.size >= SQUARE_FROM else 1
        index = np.linspace(-1.0, 1.0, values.size)
        trend = np.polynomial.polynomial.polyval(
            index, np.polynomial.polynomial.polyfit(index, values, order)
        )
        squares += float(np.sum(((values - trend) / trend) ** 2))
        noises += (noise / float(np.mean(values))) ** 2 * (values.size - order - 1)
        freedom += values.size - order - 1
        count += values.size
    if freedom < 2:
        raise _DeclinedError(f"fewer than four {what} of one speed were heard")
    raw, blur = squares / freedom, noises / freedom
    error = np.sqrt(raw) / np.sqrt(2.0 * freedom) + 0.5 * np.sqrt(blur)
    value = float(np.sqrt(max(raw - blur, 0.0)))
    return Measure(100.0 * value, "%", count, None, 100.0 * float(error))


def _alternation(heard: _Heard) -> Measure:
    """Width of the narrow waves over that of the wide ones, where the two take turns.

    Pushing a string through both ways bends it twice a movement, and unequally; the pitch then
    runs at twice the hand's speed with wide and narrow waves in turn.
    """
    return _turns_taken([heard.extents[list(run)] for run in heard.runs], what="wide and narrow")


def _swing(heard: _Heard) -> Measure:
    """Length of the short waves over that of the long ones, where the two take turns."""
    lengths = np.array([wave.duration_s for wave in heard.cycles])
    return _turns_taken([lengths[list(run)] for run in heard.runs], what="long and short")


def _turns_taken(per_run: Sequence[Floats], *, what: str) -> Measure:
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
        raise _DeclinedError(f"{what} waves do not take turns")
    share = float(np.average(shares, weights=counts))
    error = 2.0 * float(np.average(rests, weights=counts)) / np.sqrt(n)
    return Measure((1.0 - share) / (1.0 + share), "", n, None, float(error))


# --- home --------------------------------------------------------------------------------------


def _return_to_pitch(heard: _Heard) -> Measure:
    returns = _returns(heard)
    own = np.mean([wave.end.error_cents**2 for wave in heard.placed]) / returns.size
    error = np.hypot(heard.home_error_cents(heard.placed), np.sqrt(own))
    return Measure(float(np.median(returns)), "cents", returns.size, _spread(returns), float(error))


def _returns(heard: _Heard) -> Floats:
    """Where each wave came back to, cents above home."""
    if not heard.cycles:
        raise _DeclinedError("no waves were heard")
    if not heard.at_home:
        raise _DeclinedError("no plain note was heard to come home to")
    if not heard.placed:
        raise _DeclinedError("it is not clear where in the waves home lies")
    found = [wave.return_cents for wave in heard.placed]
    return np.array([cents for cents in found if cents is not None])


def _returned_share(heard: _Heard) -> Measure:
    returns = _returns(heard)
    error = heard.home_error_cents(heard.placed)
    share = [100.0 * float(np.mean(np.abs(returns + e) <= HOME_CENTS)) for e in (0, -error, error)]
    return Measure(share[0], "%", returns.size, None, float(np.ptp(share)) / 2.0)


def _undershoot(heard: _Heard) -> Measure:
    bottoms = [w for w in heard.placed if w.home and w.home.place is Place.BOTTOM]
    if not bottoms:
        raise _DeclinedError("home is not at the bottom of the waves, or no plain note was heard")
    returns = np.array([wave.return_cents for wave in bottoms], dtype=float)
    return Measure(max(0.0, -float(np.median(returns))), "cents", returns.size, _spread(returns),
                   heard.home_error_cents(bottoms))  # fmt: skip


def _direction(heard: _Heard) -> Measure:
    if not heard.at_home:
        raise _DeclinedError("no plain note was heard to tell up from down")
    lows, highs = _levels(heard.at_home)
    home_error = heard.home_error_cents(heard.at_home)
    extent = float(np.median(highs) - np.median(lows))
    if extent <= 0.0:
        raise _DeclinedError("the waves have no steady width")
    return Measure(direction_index(lows, highs), "", len(heard.at_home), None,
                   direction_error(extent, home_error_cents=home_error))  # fmt: skip


def _levels(cycles: Sequence[VibratoCycle]) -> tuple[Floats, Floats]:
    """The lows and the highs of waves in cents above their homes."""
    ends, turns = [], []
    for wave in cycles:
        assert wave.home is not None
        ends.append(cents_between(wave.end.hz, wave.home.hz))
        turns.append(cents_between(wave.turn.hz, wave.home.hz))
    pair = np.array(ends), np.array(turns)
    return pair if np.median(pair[0]) <= np.median(pair[1]) else pair[::-1]


def _mean_shift(heard: _Heard) -> Measure:
    if not heard.at_home:
        raise _DeclinedError("no plain note was heard to compare with")
    contour = heard.take.contour
    means = []
    for wave in heard.at_home:
        assert wave.home is not None
        inside = voiced_inside(contour, start_s=wave.start_s, end_s=wave.end_s)
        means.append(float(np.mean(cents_between(contour.frequency_hz[inside], wave.home.hz))))
    values = np.array(means)
    return Measure(float(np.mean(values)), "cents", values.size, _spread(values),
                   heard.home_error_cents(heard.at_home))  # fmt: skip


def _finish(heard: _Heard) -> Measure:
    found = (_end_cents(heard, index) for index in range(len(heard.notes)))
    ends = [end for end in found if end is not None]
    if not ends:
        raise _DeclinedError("no note is held for a moment after its waves")
    values = np.array(ends)
    return Measure(float(np.median(values)), "cents", values.size, _spread(values),
                   heard.home_error_cents(heard.at_home))  # fmt: skip


def _end_cents(heard: _Heard, index: int) -> float | None:
    """How far above home a note ends, if it is held after its last wave."""
    note, judged = heard.take.notes[index], heard.notes[index]
    if judged.home is None or judged.home.source is HomeSource.WAVES or not judged.cycles:
        return None
    start_s, end_s = note.offset_s - RELEASE_S - FINISH_S, note.offset_s - RELEASE_S
    if heard.cycles[judged.cycles[-1]].end_s > start_s:
        return None
    contour = heard.take.contour
    inside = voiced_inside(contour, start_s=start_s, end_s=end_s)
    if inside.sum() * contour.step_s < 0.8 * FINISH_S:
        return None
    cents = cents_between(contour.frequency_hz[inside], judged.home.hz)
    return float(np.median(cents)) if np.ptp(cents) <= FINISH_HELD_CENTS else None


# --- shape -------------------------------------------------------------------------------------


def _rise_share(heard: _Heard) -> Measure:
    if not heard.cycles:
        raise _DeclinedError("no waves were heard")
    shares = np.array([
        ((w.turn_s - w.start_s) if w.turn.hz >= w.start.hz else (w.end_s - w.turn_s)) / w.duration_s
        for w in heard.cycles
    ])  # fmt: skip
    return Measure(float(np.median(shares)), "", shares.size, _spread(shares), _mean_error(shares))


def _shape(heard: _Heard) -> Measure:
    ratios = np.array([ratio for ratio, _ in _shapes(heard)])
    return Measure(float(np.median(ratios)), "", len(heard.cycles), _spread(ratios),
                   _mean_error(ratios))  # fmt: skip


def _roughness(heard: _Heard) -> Measure:
    rests = 100.0 * np.array([rest for _, rest in _shapes(heard)])
    return Measure(float(np.median(rests)), "%", len(heard.cycles), _spread(rests),
                   _mean_error(rests))  # fmt: skip


def _shapes(heard: _Heard) -> list[tuple[float, float]]:
    """Harmonic ratio and relative residual of each few waves fitted together."""
    shapes = []
    for run in heard.runs:
        edges = heard.pulse.edges(run)
        for first in range(0, edges.size - SHAPE_WAVES, SHAPE_WAVES):
            extent = float(np.mean(heard.extents[list(run[first : first + SHAPE_WAVES])]))
            fitted = _fit_shape(heard.take, edges[first : first + SHAPE_WAVES + 1], extent)
            if fitted is not None:
                shapes.append(fitted)
    if not shapes:
        raise _DeclinedError("fewer than three waves follow one another")
    return shapes


def _fit_shape(take: Take, edges_s: Floats, extent_cents: float) -> tuple[float, float] | None:
    """Least squares of `HARMONICS` over phase, each wave stretched to one turn of the phase.

    Harmonic ratio: sqrt(A2^2 + ... + A5^2) / A1; residual: rms over half the extent.
    """
    inside = voiced_inside(take.contour, start_s=edges_s[0], end_s=edges_s[-1])
    if inside.sum() < 4 * HARMONICS:
        return None
    phase = _phase(take.contour.time_s[inside], edges_s)
    hz = take.contour.frequency_hz[inside]
    cents = cents_between(hz, float(hz[0]))
    angle = np.outer(phase, np.arange(1, HARMONICS + 1))
    terms = np.column_stack([np.ones_like(phase), phase, np.cos(angle), np.sin(angle)])
    fit = np.linalg.lstsq(terms, cents, rcond=None)[0]
    size = np.hypot(fit[2 : 2 + HARMONICS], fit[2 + HARMONICS :])
    rest = float(np.sqrt(np.mean((cents - terms @ fit) ** 2)))
    return float(np.sqrt(np.sum(size[1:] ** 2)) / size[0]), rest / (extent_cents / 2.0)


def _phase(time_s: Floats, edges_s: Floats) -> Floats:
    """Phase in radians, one full turn from each edge to the next."""
    turns = 2.0 * np.pi * np.arange(edges_s.size)
    return np.asarray(np.interp(time_s, edges_s, turns), dtype=np.float64)


def _amplitude_modulation(heard: _Heard) -> Measure:
    """Peak-to-peak level swing at the vibrato's own phase, the decay removed."""
    swings = []
    contour = heard.take.contour
    for run in heard.runs:
        if len(run) < LEAST_RUN:
            continue
        edges_s = heard.pulse.edges(run)
        inside = voiced_inside(contour, start_s=edges_s[0], end_s=edges_s[-1])
        phase = _phase(contour.time_s[inside], edges_s)
        decay = np.vander(phase / phase.max(), 3)
        terms = np.column_stack([decay, np.cos(phase), np.sin(phase)])
        fit = np.linalg.lstsq(terms, contour.level_db[inside], rcond=None)[0]
        swings.append(2.0 * float(np.hypot(fit[-2], fit[-1])))
    if not swings:
        raise _DeclinedError("fewer than three waves follow one another")
    values = np.array(swings)
    return Measure(float(np.median(values)), "dB", len(heard.cycles), _spread(values))


def _onset_delay(heard: _Heard) -> Measure:
    delays = np.array([
        heard.cycles[report.cycles[0]].start_s - note.onset_s
        for note, report in zip(heard.take.notes, heard.notes, strict=True)
        if report.cycles
    ])  # fmt: skip
    if not delays.size:
        raise _DeclinedError("no waves were heard")
    delays = np.maximum(delays, 0.0)
    return Measure(float(np.median(delays)), "s", delays.size, _spread(delays))


def _confidence(heard: _Heard) -> Measure:
    contour = heard.take.contour
    inside = np.zeros(contour.time_s.size, dtype=bool)
    for note in heard.take.notes:
        inside |= (contour.time_s >= note.onset_s) & (contour.time_s <= note.offset_s)
    if not inside.any():
        raise _DeclinedError("no note was heard")
    good = contour.voiced & (np.nan_to_num(contour.error_cents, nan=np.inf) <= GOOD_ERROR_CENTS)
    good &= ~(np.nan_to_num(contour.stray_db, nan=-np.inf) > STRAY_DB)
    return Measure(100.0 * float(np.mean(good[inside])), "%", int(inside.sum()))


def _spread(values: Floats) -> float | None:
    """Interquartile range; None for fewer than two values."""
    if values.size < 2:
        return None
    low, high = np.percentile(values, [25, 75])
    return float(high - low)


def _mean_error(values: Floats) -> float | None:
    return float(np.std(values, ddof=1) / np.sqrt(values.size)) if values.size > 1 else None


_ROWS: dict[str, Callable[[_Heard], Measure]] = {
    "plain_note": _plain_note,
    "rate": _rate,
    "cycles_per_beat": _cycles_per_beat,
    "rate_error": _rate_error,
    "time_evenness": _time_evenness,
    "lock": _lock,
    "asynchrony": _asynchrony,
    "offset": _offset,
    "drift": _drift,
    "extent": _extent,
    "extent_evenness": _extent_evenness,
    "extent_trend": _extent_trend,
    "return_to_pitch": _return_to_pitch,
    "returned_share": _returned_share,
    "undershoot": _undershoot,
    "direction": _direction,
    "mean_shift": _mean_shift,
    "shape": _shape,
    "rise_share": _rise_share,
    "roughness": _roughness,
    "onset_delay": _onset_delay,
    "finish": _finish,
    "amplitude_modulation": _amplitude_modulation,
    "alternation": _alternation,
    "swing": _swing,
    "confidence": _confidence,
}
