"""Speed, note value, even time, and how the waves sit on the beat."""

from dataclasses import replace

import numpy as np

from labcore.cycles import VERTEX_SHARE
from labcore.doubt import mean_error_of_runs, slope_error, spread_error
from labcore.measures.even import evenness, turns_taken
from labcore.measures.heard import DeclinedError, Heard, interquartile, mean_error
from labcore.metre import Beat, circular_spread, most_follow, runs_within
from labcore.model import BeatOrigin, Floats, GridFit, Measure, VibratoCycle

INDEPENDENT_S = 0.023  # contour values this far apart are independent: half a period of 22 Hz
# A top lies between two homes, so from top to top the lengths change less: by 0.7 where they vary
# by themselves, by 0.5 where each makes up for the one before (arithmetic, tops in the middle).
TOPS_SHOW = 0.5
ALONE = "few waves follow one another without a break"


def rate(heard: Heard) -> Measure:
    """Waves a second: median of one over the time from wave to wave."""
    rates = 1.0 / _steps(heard)
    return Measure(
        float(np.median(rates)), "Hz", rates.size, interquartile(rates), mean_error(rates)
    )


def _steps(heard: Heard) -> Floats:
    """All times from wave to wave in seconds, joined."""
    if not heard.cycles:
        raise DeclinedError("no waves were heard")
    if not heard.step_runs or not most_follow(heard.cycles, group=range(len(heard.cycles))):
        raise DeclinedError(ALONE)
    return np.concatenate(heard.step_runs)


def cycles_per_beat(heard: Heard) -> Measure:
    """Waves a beat in the longest stretch of one note value, from their mean length."""
    fit = _fit(heard)
    runs = heard.pulse.step_runs(tuple(map(int, fit.cycle)))
    if not runs or not most_follow(heard.cycles, group=tuple(map(int, fit.cycle))):
        raise DeclinedError(ALONE)
    steps = np.concatenate(runs)
    error = fit.cycles_per_beat * mean_error_of_runs(runs) / float(np.mean(steps))
    spread = interquartile(_beat(heard).step_s / steps)
    return Measure(fit.cycles_per_beat, "per beat", fit.waves, spread, error)


def rate_error(heard: Heard) -> Measure:
    """How much faster the waves are than the note value they are named by."""
    fit = _fit(heard)
    if fit.rate_error_percent is None:
        raise DeclinedError("the waves belong to no note value from quarters to sextuplets")
    q = cycles_per_beat(heard)
    error = 100.0 * (q.error or 0.0) / q.value
    return Measure(fit.rate_error_percent, "%", fit.waves, None, error)


def _beat(heard: Heard) -> Beat:
    if heard.beat is None:
        raise DeclinedError("no click was chosen")
    return heard.beat


def _fit(heard: Heard) -> GridFit:
    _beat(heard)
    if heard.longest is None:
        raise DeclinedError("fewer than three waves follow one another")
    return heard.longest


def time_evenness(heard: Heard) -> Measure:
    """Spread of the waves' lengths around their trend, the blur of the turning points removed.

    It is doubted as far as the tops do not show it: where narrow waves rest at home a little, the
    moment of coming home is anywhere in the rest, and their lengths seem to vary.
    """
    blur = [_time_blur_s(wave) for wave in heard.cycles]
    noise = np.sqrt(2.0) * float(np.median(blur)) if blur else 0.0
    found = evenness(heard.step_runs, noise=noise, what="waves in a row")
    try:
        tops = evenness(heard.top_runs, noise=0.0, what="tops in a row")
    except DeclinedError:
        return found
    not_shown = found.value - tops.value / TOPS_SHOW
    return replace(found, error=max(found.error or 0.0, not_shown / 2.0))


def _time_blur_s(wave: VibratoCycle) -> float:
    """Standard error of a turning point's time, from the error of its pitch.

    The vertex of ``a t^2`` fitted over n independent values within +-w is known to
    ``sigma / (2 a w sqrt(n / 3))``; for a sine of extent E and period T, ``a = E pi^2 / T^2``.
    """
    reach_s = VERTEX_SHARE * wave.duration_s
    independent = max(2.0 * reach_s / INDEPENDENT_S, 2.0)
    bend = wave.extent_cents * np.pi**2 / wave.duration_s**2
    return float(wave.turn.error_cents / (2.0 * bend * reach_s * np.sqrt(independent / 3.0)))


def swing(heard: Heard) -> Measure:
    """Length of the short waves over that of the long ones, where the two take turns."""
    lengths = np.array([wave.duration_s for wave in heard.cycles])
    return turns_taken([lengths[list(run)] for run in heard.runs], what="long and short")


def lock(heard: Heard) -> Measure:
    """Mean resultant length R on the grid of the named note value (Zar 2010, chapter 26).

    Where no click was heard, on the grid of the player's own tempo.
    """
    fit = _named_fit(heard)
    error = _circular_error(fit)
    return Measure(fit.concentration, "", fit.waves, None, error)


def _circular_error(fit: GridFit) -> float:
    """Standard error of R for a wrapped normal spread: (1 - R^2) / sqrt(2 n)."""
    return float((1.0 - fit.concentration**2) / np.sqrt(2.0 * fit.waves))


def _named_fit(heard: Heard) -> GridFit:
    fit = _fit(heard)
    if fit.named is None:
        raise DeclinedError("the waves belong to no note value from quarters to sextuplets")
    if len({heard.cycles[int(index)].start.kind for index in fit.cycle}) > 1:
        raise DeclinedError("some waves go up from home and others down, half a wave apart")
    return fit


def asynchrony(heard: Heard) -> Measure:
    """Spread of the waves around their own mean place on the grid: circular, as a time."""
    fit = _named_fit(heard)
    spread_ms = 1000.0 * fit.step_s * circular_spread(fit.concentration) / (2.0 * np.pi)
    return Measure(spread_ms, "ms", fit.waves, None, spread_error(spread_ms, freedom=fit.waves))


def offset(heard: Heard) -> Measure:
    """Mean place of the homecomings on the grid; late is positive. Never graded."""
    fit = _named_fit(heard)
    if fit.origin is BeatOrigin.FITTED:
        raise DeclinedError("no click was heard, so early or late is not shown")
    spread_ms = 1000.0 * float(np.std(fit.asynchrony_s))
    return Measure(1000.0 * fit.offset_s, "ms", fit.waves, spread_ms,
                   spread_ms / float(np.sqrt(fit.waves)))  # fmt: skip


def drift(heard: Heard) -> Measure:
    """Change of speed from the longest stretch's first wave to its last, by a straight line."""
    fit = _fit(heard)
    runs = list(runs_within(heard.cycles, group=tuple(map(int, fit.cycle))))
    steps = [heard.pulse.steps(run) for run in runs]
    waves = [
        heard.pulse.time_s[list(run)][: step.size] for run, step in zip(runs, steps, strict=True)
    ]
    when, speed = np.concatenate(waves), 1.0 / np.concatenate(steps)
    if when.size < 6:
        raise DeclinedError("fewer than six waves follow one another")
    middle_s, span_s = when.mean(), float(np.ptp(when))
    slope, level = np.polyfit(when - middle_s, speed, 1)
    x = [part - middle_s for part in waves]
    rest = [1.0 / step - slope * part - level for step, part in zip(steps, x, strict=True)]
    share = 100.0 * span_s / level
    return Measure(slope * share, "%", when.size, None, slope_error(x, rest) * share)
