"""What the physics figures share: places in a picture, labels, arrows, and the drawing of a neck.

Figures of this family convert to millimetres, cents and grams and measure nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.strokes import Trace, stroke
from labcore.model import Floats

MM = 1e3
FRETS_DRAWN = 22
WIDE = 3.0  # px of a line that carries the story
PALE = 0.22  # opacity of a filled part
MARGINS = {"l": 66, "r": 24, "t": 34, "b": 52, "autoexpand": False}


@dataclass(frozen=True, slots=True)
class Place:
    """One pair of axes in a figure: its number as plotly counts, and shares of the picture."""

    axes: str  # "" for the first pair, then "2", "3"
    x: tuple[float, float]
    y: tuple[float, float]


def assembled(
    traces: Sequence[Trace],
    *,
    layout: dict[str, Any],
    height_px: int,
    narrow: dict[str, Any] | None = None,
) -> go.Figure:
    """A figure from plain traces in the project's look; the layout given here wins.

    ``narrow`` is what a narrow page puts in place of it, made by `when_narrow`. Built in one go,
    because plotly checks a figure anew at every update.
    """
    base, axis = _dressed()
    axes = {
        name: {**axis, **part} if name.startswith(("xaxis", "yaxis")) else part
        for name, part in layout.items()
    }
    own = {"height": height_px, "showlegend": False, "margin": MARGINS}
    if narrow:
        own["meta"] = {**axes.pop("meta", {}), "narrow": narrow}
    return go.Figure(data=list(traces), layout={**base, **own, **axes})


def when_narrow(
    *places: Place, height_px: int, rows: Sequence[dict[str, float]] = ()
) -> dict[str, Any]:
    """Where a narrow page puts the axes that stand side by side on a wide one; height, time rows.

    The page itself knows how wide it is: `labcore.panels.picture` chooses.
    """
    axes: dict[str, Any] = {}
    for place in places:
        axes[f"xaxis{place.axes}"] = {"domain": place.x}
        axes[f"yaxis{place.axes}"] = {"domain": place.y}
    return {"height": height_px, **axes, **({"meta": {"rows": list(rows)}} if rows else {})}


@cache
def _dressed() -> tuple[dict[str, Any], dict[str, Any]]:
    """Layout and axis of a figure that `labcore.figures.look` has dressed."""
    plain = look.dress(go.Figure({"type": "scatter"}), height_px=400).to_plotly_json()["layout"]
    axis = plain.pop("xaxis")
    plain.pop("yaxis", None)
    return plain, axis


def axes_at(
    place: Place, *, x: str, y: str, x_range: tuple[float, float], y_range: tuple[float, float]
) -> dict[str, Any]:
    """Layout of a pair of axes with names, units in them, and fixed ranges."""
    return {
        f"xaxis{place.axes}": {
            "domain": place.x,
            "anchor": f"y{place.axes}",
            "range": x_range,
            "title": {"text": x, "standoff": 6},
        },
        f"yaxis{place.axes}": {
            "domain": place.y,
            "anchor": f"x{place.axes}",
            "range": y_range,
            "title": {"text": y, "standoff": 6},
        },
    }


def bare_axes(
    place: Place, *, x_range: tuple[float, float], y_range: tuple[float, float]
) -> dict[str, Any]:
    """Layout of a pair of axes that a drawing stands in: nothing of them is seen."""
    unseen = {"visible": False}
    return {
        f"xaxis{place.axes}": {
            **unseen, "domain": place.x, "anchor": f"y{place.axes}", "range": x_range,
        },
        f"yaxis{place.axes}": {
            **unseen, "domain": place.y, "anchor": f"x{place.axes}", "range": y_range,
        },
    }  # fmt: skip


def label(
    text: str,
    *,
    x: float,
    y: float,
    axes: str = "",
    color: str = look.INK,
    size: int = look.TEXT_PX,
    anchor: str = "center",
    up: str = "middle",
) -> dict[str, Any]:
    """Words at a point of the drawing."""
    return {
        "text": text,
        "x": x,
        "y": y,
        "xref": f"x{axes}",
        "yref": f"y{axes}",
        "showarrow": False,
        "font": {"color": color, "size": size},
        "xanchor": anchor,
        "yanchor": up,
        "align": anchor,
    }


def corner(words: str, *, y: float, x: float = 0.0, axes: str = "") -> dict[str, Any]:
    """Words over the top left corner of a plot, ``y`` the upper end of its axis."""
    return label(words, x=x, y=y, axes=axes, anchor="left", up="bottom", size=14)


def arrow(
    *,
    tail: tuple[float, float],
    head: tuple[float, float],
    axes: str = "",
    color: str = look.FORCE,
    width: float = 4.0,
) -> dict[str, Any]:
    """An arrow of a force or a movement, as a plotly annotation."""
    return {
        "x": head[0],
        "y": head[1],
        "ax": tail[0],
        "ay": tail[1],
        "xref": f"x{axes}",
        "yref": f"y{axes}",
        "axref": f"x{axes}",
        "ayref": f"y{axes}",
        "text": "",
        "showarrow": True,
        "arrowhead": 2,
        "arrowsize": 0.9,
        "arrowwidth": width,
        "arrowcolor": color,
    }


def filled(x: Any, y: Any, *, color: str, axes: str = "", opacity: float = PALE) -> Trace:
    """A closed shape without an edge."""
    return {
        **stroke(x, y, color=color, width=0.0, axes=axes),
        "fill": "toself",
        "fillcolor": color,
        "opacity": opacity,
    }


def point(
    x: float, y: float, *, color: str, axes: str = "", symbol: str = "circle", size: float = 13.0
) -> Trace:
    """One marker: where the reader's slider stands."""
    return {
        **stroke([x], [y], axes=axes),
        "mode": "markers",
        "cliponaxis": False,
        "marker": {
            "symbol": symbol,
            "size": size,
            "color": color,
            "line": {"color": look.INK, "width": 1.5},
        },
    }


def neck_lines(fret_mm: Floats, *, low: float, high: float, axes: str = "") -> list[Trace]:
    """The fingerboard seen from above: board, nut and frets, across from ``low`` to ``high``."""
    end = float(fret_mm[-1])
    board = filled([0, end, end, 0], [low, low, high, high], color=look.FAINT, opacity=0.9)
    wires = np.column_stack([fret_mm, fret_mm, np.full(fret_mm.size, np.nan)]).ravel()
    across = np.tile([low, high, np.nan], fret_mm.size)
    return [
        {**board, "xaxis": f"x{axes}", "yaxis": f"y{axes}"},
        stroke(wires, across, color=look.GRID, width=2.0, axes=axes),
        stroke([0, 0], [low, high], color=look.INK, width=5.0, axes=axes),
    ]


def time_row(place: Place, *, duration_s: float) -> dict[str, float]:
    """Where time runs in a picture, for the line of a player: shares of the plot area."""
    return {
        "start_s": 0.0,
        "end_s": duration_s,
        "x0": place.x[0],
        "x1": place.x[1],
        "y0": 1.0 - place.y[1],
        "y1": 1.0 - place.y[0],
    }
