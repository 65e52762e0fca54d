"""The fan: all waves of a take laid over each other, starting at home."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from labcore.figures import look
from labcore.figures.line import Line, Scale, landing_point, wave_words
from labcore.figures.strokes import Point, Trace, landing_heads, stroke
from labcore.findings import landing
from labcore.model import BeatOrigin, Floats, Landing, Report, VibratoCycle

TYPICAL_POINTS = 41  # of the typical wave
LEAST_TYPICAL = 3  # waves before there is a typical one

Wave = tuple[Floats, Floats]


def fan_traces(
    report: Report, *, line: Line, scale: Scale, heads: bool, in_time: bool, axes: str
) -> list[Trace]:
    """Strokes of the fan, without its frame; heights as in a row of their own.

    ``in_time`` lays each wave where it fell against its grid line, early to the left and late to
    the right of the player's own average, instead of laying all starts on each other.
    """
    rulers = rulers_of(report, in_time=in_time)
    if not rulers:
        return []
    waves = [wave_of(line, cycle=c, ruler=r) for c, r in zip(report.cycles, rulers, strict=True)]
    x = np.concatenate([np.append(share, np.nan) for share, _ in waves])
    y = np.concatenate([np.append(scale.inside(cents), np.nan) for _, cents in waves])
    traces = [stroke(x, scale.height(y, row=0.0), color=look.SOFT_INK, opacity=0.55, axes=axes)]
    if len(waves) >= LEAST_TYPICAL:
        share, cents = typical_wave(waves)
        middle = scale.height(scale.inside(cents), row=0.0)
        traces.append(stroke(share, middle, color=look.PITCH, width=4, axes=axes))
    return traces + (_heads(report, rulers, scale=scale, axes=axes) if heads else [])


@dataclass(frozen=True, slots=True)
class Ruler:
    """What a wave's time is counted in: 0 at ``start_s``, 1 a wave's length later."""

    start_s: float
    length_s: float

    def share(self, time_s: Any) -> Any:
        return (time_s - self.start_s) / max(self.length_s, 1e-9)


def can_show_time(report: Report) -> bool:
    """Whether something other than the waves tells where the beat falls."""
    fits = report.stretches
    return any(f.origin is not BeatOrigin.FITTED and f.named is not None for f in fits)


def rulers_of(report: Report, *, in_time: bool) -> list[Ruler]:
    """One ruler a wave: its own way out and back, or the usual length from its line."""
    own = [Ruler(wave.leaves_s, wave.back_s - wave.leaves_s) for wave in report.cycles]
    if not in_time or not can_show_time(report):
        return own
    for fit in report.stretches:
        usual_s = float(np.median([own[index].length_s for index in fit.cycle]))
        for index, late_s in zip(fit.cycle, np.nan_to_num(fit.asynchrony_s), strict=True):
            own[index] = Ruler(own[index].start_s - float(late_s), usual_s)
    return own


def wave_of(line: Line, *, cycle: VibratoCycle, ruler: Ruler) -> Wave:
    """One wave of the line: its share of the ruler, and cents above home."""
    first = np.searchsorted(line.time_s, cycle.leaves_s, side="left")
    held = slice(first, np.searchsorted(line.time_s, cycle.back_s, side="right"))
    return ruler.share(line.time_s[held]), line.cents[held]


def typical_wave(waves: Sequence[Wave]) -> Wave:
    """The middle one of all waves at each share of their time."""
    share = np.linspace(0.0, 1.0, TYPICAL_POINTS)
    laid = [np.interp(share, x, y) for x, y in waves if x.size > 1 and np.isfinite(y).all()]
    if not laid:
        return share, np.full(TYPICAL_POINTS, np.nan)
    return share, np.asarray(np.median(laid, axis=0))


def _heads(report: Report, rulers: Sequence[Ruler], *, scale: Scale, axes: str) -> list[Trace]:
    placed: dict[Landing, list[Point]] = {kind: [] for kind in Landing}
    for number, (cycle, ruler) in enumerate(zip(report.cycles, rulers, strict=True), start=1):
        time_s, cents = landing_point(cycle)
        if np.isfinite(scale.inside(cents)):
            height = float(scale.height(cents, row=0.0))
            words = wave_words(cycle, number=number)
            placed[landing(cycle)].append((ruler.share(time_s), height, words))
    return landing_heads(placed, axes=axes)
