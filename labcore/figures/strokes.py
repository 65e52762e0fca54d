"""What figures are drawn with: strokes, wave heads and the small notes of a tempo mark."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from labcore.figures import look
from labcore.model import Floats, Landing

HEAD_PX = 12
Point = tuple[float, float, str]  # x, y, what it says when pointed at
Trace = dict[str, Any]  # a plotly trace not yet checked: the figure checks all of its traces once


def gapped(*columns: Floats) -> tuple[Floats, ...]:
    """Each row of the columns as one stroke: flattened, with NaN between the strokes.

    >>> gapped(np.array([[0.0, 1.0], [2.0, 3.0]]))[0]
    array([ 0.,  1., nan,  2.,  3., nan], dtype=float32)
    """
    return tuple(
        np.column_stack([c, np.full(len(c), np.nan)]).ravel().astype(np.float32) for c in columns
    )


def stroke(
    x: Any,
    y: Any,
    *,
    color: str = look.INK,
    width: float = 1.0,
    dash: str = "solid",
    opacity: float = 1.0,
    axes: str = "",
) -> Trace:
    """A line that says nothing when pointed at."""
    return {
        "type": "scatter",
        "x": np.asarray(x, dtype=np.float32),
        "y": np.asarray(y, dtype=np.float32),
        "mode": "lines",
        "line": {"color": color, "width": width, "dash": dash},
        "opacity": opacity,
        "hoverinfo": "skip",
        "showlegend": False,
        "xaxis": f"x{axes}",
        "yaxis": f"y{axes}",
    }


def marks_at(x: Any, y: Any, *, marker: dict[str, Any]) -> Trace:
    """Markers that say nothing when pointed at."""
    return {**stroke(x, y), "mode": "markers", "marker": marker, "cliponaxis": False}


def landing_heads(placed: Mapping[Landing, Sequence[Point]], *, axes: str) -> list[Trace]:
    """Heads of waves: filled is home, half is nearly, hollow is not yet, a dot is not judged."""
    white_half = {
        "symbol": "line-ew",
        "size": HEAD_PX / 1.4,  # plotly draws a line symbol 1.4 times its size
        "standoff": HEAD_PX / 4,
        "angle": 180,
        "line": {"width": HEAD_PX / 2, "color": look.PAPER},
    }
    styles: dict[Landing, list[dict[str, Any]]] = {
        Landing.UNKNOWN: [{"size": 6, "color": look.SOFT_INK}],
        Landing.HOME: [_ring(fill=look.WAVE_HEAD)],
        Landing.NEARLY: [{"size": HEAD_PX, "color": look.WAVE_HEAD}, white_half, _ring(fill=None)],
        Landing.NOT_YET: [_ring(fill=look.PAPER)],
    }
    return [
        _heads(placed[kind], marker=marker, axes=axes)
        for kind, markers in styles.items()
        for marker in markers
        if placed.get(kind)
    ]


def _ring(*, fill: str | None) -> dict[str, Any]:
    line = {"width": 2, "color": look.WAVE_HEAD}
    if fill is None:
        return {"symbol": "circle-open", "size": HEAD_PX, "color": look.WAVE_HEAD, "line": line}
    return {"size": HEAD_PX, "color": fill, "line": line}


def _heads(points: Sequence[Point], *, marker: dict[str, Any], axes: str) -> Trace:
    x, y, words = zip(*points, strict=True)
    return {
        "type": "scatter",
        "x": np.array(x, dtype=np.float32),
        "y": np.array(y, dtype=np.float32),
        "text": words,
        "hovertemplate": "%{text}<extra></extra>",
        "mode": "markers",
        "marker": marker,
        "showlegend": False,
        "cliponaxis": False,
        "xaxis": f"x{axes}",
        "yaxis": f"y{axes}",
    }


# --- small notes, as paths in pixels ------------------------------------------------------------

NOTE_STEP_PX = 13
STEM_PX = 24
# A note head leans: an ellipse of these half axes, tilted as engravers do (common practice).
HEAD_AXES_PX = (5.2, 3.7)
HEAD_TILT = np.radians(20.0)
CURVE = 0.5523  # the handle that makes four cubic curves nearly an ellipse


def _ellipse(x: float, y: float, *, axes: tuple[float, float], tilt: float = 0.0) -> str:
    a, b = axes
    k = CURVE
    corners = [(a, 0), (a, k * b), (k * a, b), (0, b), (-k * a, b), (-a, k * b), (-a, 0)]
    corners += [(-a, -k * b), (-k * a, -b), (0, -b), (k * a, -b), (a, -k * b), (a, 0)]
    c, s = np.cos(tilt), np.sin(tilt)
    at = [f"{x + u * c - v * s:.2f},{y + u * s + v * c:.2f}" for u, v in corners]
    curves = " ".join(f"C{' '.join(at[i : i + 3])}" for i in (1, 4, 7, 10))
    return f"M{at[0]} {curves} Z"


def _bar(left: float, low: float, right: float, high: float) -> str:
    corners = ((left, low), (right, low), (right, high), (left, high))
    return f"M{' L'.join(f'{x:.2f},{y:.2f}' for x, y in corners)} Z"


def note_group_path(waves_per_beat: int, *, x_px: float, y_px: float) -> str:
    """The notes of one beat as a path in pixels: beamed, as they stand on paper.

    One quarter, two eighths, three triplet eighths, four sixteenths and so on; the figure 3, 5
    or 6 of a tuplet is set beside it by the caller.
    """
    lefts = [x_px + NOTE_STEP_PX * k for k in range(waves_per_beat)]
    stems = [left + HEAD_AXES_PX[0] - 0.9 for left in lefts]
    parts = [_ellipse(left, y_px, axes=HEAD_AXES_PX, tilt=HEAD_TILT) for left in lefts]
    parts += [_bar(stem, y_px + 1.0, stem + 1.4, y_px + STEM_PX) for stem in stems]
    for beam in range(0 if waves_per_beat == 1 else 1 if waves_per_beat < 4 else 2):
        top = y_px + STEM_PX - 6.0 * beam
        parts.append(_bar(stems[0], top - 3.6, stems[-1] + 1.4, top))
    return " ".join(parts)


def head_shape(
    kind: Landing, *, x: float, x_px: float, y: float, y_px: float
) -> list[dict[str, Any]]:
    """A wave head for a legend: pixels away from a point of the paper."""
    radius = HEAD_PX / 2
    base = {
        "type": "path",
        "xref": "paper",
        "yref": "paper",
        "xsizemode": "pixel",
        "ysizemode": "pixel",
        "xanchor": x,
        "yanchor": y,
        "line": {"width": 2, "color": look.WAVE_HEAD},
    }
    round_path = _ellipse(x_px, y_px, axes=(radius, radius))
    fill = look.WAVE_HEAD if kind is Landing.HOME else look.PAPER
    shapes = [{**base, "path": round_path, "fillcolor": fill}]
    if kind is Landing.NEARLY:
        shapes.append(
            {
                **base,
                "path": _lower_half(x_px, y_px, radius),
                "fillcolor": look.WAVE_HEAD,
                "line": {"width": 0},
            }
        )
    return shapes


def _lower_half(x: float, y: float, r: float) -> str:
    k = CURVE * r
    return (
        f"M{x - r},{y} C{x - r},{y - k} {x - k},{y - r} {x},{y - r} "
        f"C{x + k},{y - r} {x + r},{y - k} {x + r},{y} Z"
    )
