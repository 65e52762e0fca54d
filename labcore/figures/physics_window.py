"""Pictures of what a long look hides: the wave beside its reading, and widths over speed."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.physics import (
    WIDE,
    Place,
    assembled,
    axes_at,
    corner,
    filled,
    label,
    point,
    when_narrow,
)
from labcore.figures.strokes import stroke
from labcore.physics.hearing import Wobble, wave_cents
from labcore.physics.window import window_gain

LOOK_S = 1.2
LINE = Place("", (0.0, 0.56), (0.0, 1.0))
LEFT_OVER = Place("2", (0.68, 1.0), (0.0, 1.0))
WINDOW_NARROW = when_narrow(
    Place("", (0.0, 1.0), (0.60, 1.0)), Place("2", (0.0, 1.0), (0.0, 0.36)), height_px=620
)
CENTS_SHOWN = (-12.0, 130.0)
FASTEST_HZ = 9.0
# How each reading is drawn: colour, dash, marker and its size. The first is the truth, a ring round
# what lies on it; a take whose truth nobody knows has the others alone.
STYLES = (
    (look.BLACK, "solid", "circle-open", 19),
    (look.PITCH, "solid", "square", 11),
    (look.GREEN, "dash", "diamond", 11),
    (look.ORANGE, "dot", "cross", 11),
    (look.VERMILION, "dashdot", "x", 11),
)


def window_figure(wobble: Wobble, *, window_s: float) -> go.Figure:
    """A wave, what a look of ``window_s`` makes of it, and what is left at every speed."""
    time_s = np.linspace(0.0, LOOK_S, 601)
    wave = wave_cents(wobble, time_s=time_s)
    gain = float(window_gain(wobble.rate_hz, window_s=window_s))
    middle = wobble.extent_cents / 2.0
    read = middle + gain * (wave - middle)  # a raised cosine keeps its shape and its middle
    speeds = np.linspace(0.0, FASTEST_HZ, 91)
    at_s = 0.5 / wobble.rate_hz  # the look is drawn round the first top
    ends = [max(0.0, at_s - window_s / 2), at_s + window_s / 2]
    low, high = CENTS_SHOWN
    traces = [
        filled([*ends, *ends[::-1]], [low, low, high, high], color=look.ORANGE),
        stroke(time_s, wave, color=look.PITCH, width=WIDE),
        stroke(time_s, read, color=look.VERMILION, width=WIDE, dash="dashdot"),
        stroke(speeds, 100 * window_gain(speeds, window_s=window_s), width=WIDE, axes="2"),
        point(wobble.rate_hz, 100 * gain, color=look.VERMILION, axes="2"),
    ]
    layout = {
        **axes_at(LINE, x="seconds", y="cents", x_range=(0, LOOK_S), y_range=CENTS_SHOWN),
        **axes_at(
            LEFT_OVER, x="waves a second", y="% of the width", x_range=(0, FASTEST_HZ),
            y_range=(0, 105),
        ),
        "annotations": [
            corner("solid: the wave; dash-dot: as read; band: a look", y=high),
            corner("what is left", y=105, axes="2"),
        ],
    }  # fmt: skip
    return assembled(traces, layout=layout, height_px=360, narrow=WINDOW_NARROW)


def window_words(wobble: Wobble, *, window_s: float) -> str:
    """What `window_figure` shows, in a sentence."""
    gain = float(window_gain(wobble.rate_hz, window_s=window_s))
    left = gain * wobble.extent_cents
    return (
        f"Waves of {wobble.extent_cents:.0f} cents (100 = one fret), {wobble.rate_hz:.1f} a "
        f"second, seen with looks of {1e3 * window_s:.0f} ms: {left:.0f} cents are read. The "
        f"bottoms seem to stop {(wobble.extent_cents - left) / 2:.0f} cents above home."
    )


def widths_figure(names: Sequence[str], widths: Mapping[str, Sequence[float | None]]) -> go.Figure:
    """Widths of several stretches of a take as read in several ways, side by side."""
    place, count = Place("", (0.0, 1.0), (0.0, 1.0)), len(names)
    styles = STYLES[-len(widths) :]
    top = max([40.0, *(w for row in widths.values() for w in row if w is not None)]) * 1.15
    traces = []
    for (color, dash, symbol, size), (name, row) in zip(styles, widths.items(), strict=True):
        line = stroke(
            np.arange(count), [np.nan if w is None else w for w in row],
            color=color, width=2.0, dash=dash,
        )  # fmt: skip
        marker = {"symbol": symbol, "size": size}
        line |= {"mode": "lines+markers", "marker": marker, "name": name, "showlegend": True}
        traces.append(line)
    room = count - 1 + 1.35
    heights = _spread([_last(row) for row in widths.values()], gap=top / 13)
    for (color, _, symbol, _), y in zip(styles, heights, strict=True):  # each name with its mark
        mark = stroke([count - 0.7], [y], color=color, width=2.0)
        traces.append({**mark, "mode": "markers", "marker": {"symbol": symbol, "size": 11}})
    layout = {
        **axes_at(place, x="", y="width, cents", x_range=(-0.3, room), y_range=(0, top)),
        "annotations": [
            label(name, x=count - 0.64, y=y, anchor="left", size=14)
            for name, y in zip(widths, heights, strict=True)
        ],
    }
    layout["xaxis"] |= {"tickvals": list(range(count)), "ticktext": list(names), "tickangle": 0}
    return assembled(traces, layout=layout, height_px=340, narrow=_widths_narrow(names))


def _widths_narrow(names: Sequence[str]) -> dict[str, Any]:
    """On a narrow page the names of the lines stand below, and a column says its numbers alone."""
    short = [name.replace(" to the click", "").replace(" a second", "") for name in names]
    return {
        "height": 470,
        "margin": {"b": 190},
        "xaxis": {
            "range": (-0.3, len(names) - 0.88),
            "ticktext": short,
            "title": {"text": "waves to the click<br>(and a second)", "standoff": 6},
        },
        "annotations": [],
        "showlegend": True,
        "legend": {"orientation": "h", "x": 0.0, "y": -0.42, "yanchor": "top"},
    }


def _spread(heights: Sequence[float], *, gap: float) -> list[float]:
    """The heights moved as far apart as words need, in their order from the top."""
    found, free = [0.0] * len(heights), float("inf")
    for place in sorted(range(len(heights)), key=lambda n: -heights[n]):
        free = min(heights[place], free - gap)
        found[place] = free
    return found


def _last(row: Sequence[float | None]) -> float:
    """Height of the last width that is there."""
    return next((w for w in reversed(row) if w is not None), 0.0)


def widths_words(names: Sequence[str], widths: Mapping[str, Sequence[float | None]]) -> str:
    """What `widths_figure` shows, in a sentence."""
    told = [
        f"{way}: {', '.join('nothing' if w is None else f'{w:.0f}' for w in row)}"
        for way, row in widths.items()
    ]
    heard = ", ".join(name.replace("<br>", " (") + ")" for name in names)
    ways = "; ".join(told)
    return f"Widths in cents (100 = one fret) for {heard}. {ways[:1].upper()}{ways[1:]}."
