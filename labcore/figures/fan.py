"""The fan: all waves of a take laid over each other, starting at home."""

from collections.abc import Sequence

import numpy as np

from labcore.figures import look
from labcore.figures.line import Line, Scale, landing_point, wave_words
from labcore.figures.strokes import Point, Trace, landing_heads, stroke
from labcore.findings import landing
from labcore.model import Floats, Landing, Report, VibratoCycle

TYPICAL_POINTS = 41  # of the typical wave
LEAST_TYPICAL = 3  # waves before there is a typical one

Wave = tuple[Floats, Floats]


def fan_traces(report: Report, *, line: Line, scale: Scale, heads: bool, axes: str) -> list[Trace]:
    """Strokes of the fan, without its frame; heights as in a row of their own."""
    waves = [wave_of(line, cycle=cycle) for cycle in report.cycles]
    if not waves:
        return []
    x = np.concatenate([np.append(share, np.nan) for share, _ in waves])
    y = np.concatenate([np.append(scale.inside(cents), np.nan) for _, cents in waves])
    traces = [stroke(x, scale.height(y, row=0.0), color=look.SOFT_INK, opacity=0.55, axes=axes)]
    if len(waves) >= LEAST_TYPICAL:
        share, cents = typical_wave(waves)
        middle = scale.height(scale.inside(cents), row=0.0)
        traces.append(stroke(share, middle, color=look.PITCH, width=4, axes=axes))
    return traces + (_fan_heads(report, scale=scale, axes=axes) if heads else [])


def wave_of(line: Line, *, cycle: VibratoCycle) -> Wave:
    """One wave of the line: its share of the wave's time, and cents above home."""
    held = (line.time_s >= cycle.start_s) & (line.time_s <= cycle.end_s)
    share = (line.time_s[held] - cycle.start_s) / max(cycle.duration_s, 1e-9)
    return share, line.cents[held]


def typical_wave(waves: Sequence[Wave]) -> Wave:
    """The middle one of all waves at each share of their time."""
    share = np.linspace(0.0, 1.0, TYPICAL_POINTS)
    laid = [np.interp(share, x, y) for x, y in waves if x.size > 1 and np.isfinite(y).all()]
    if not laid:
        return share, np.full(TYPICAL_POINTS, np.nan)
    return share, np.asarray(np.median(laid, axis=0))


def _fan_heads(report: Report, *, scale: Scale, axes: str) -> list[Trace]:
    placed: dict[Landing, list[Point]] = {kind: [] for kind in Landing}
    for number, cycle in enumerate(report.cycles, start=1):
        time_s, cents = landing_point(cycle)
        if np.isfinite(scale.inside(cents)):
            share = (time_s - cycle.start_s) / max(cycle.duration_s, 1e-9)
            height = float(scale.height(cents, row=0.0))
            placed[landing(cycle)].append((share, height, wave_words(cycle, number=number)))
    return landing_heads(placed, axes=axes)
