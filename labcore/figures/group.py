"""A room of takes as unlabelled dots in three bands: what the room needs, never who.

Dots of one band are alike and stand in rows of five, filled from the left, so that no place tells
of a seat. This evening is filled, an earlier one hollow. For fewer than five takes there is no
picture, only words.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

from labcore.exercises import Need, Room, room_words
from labcore.figures import look
from labcore.figures.line import line_over_home
from labcore.figures.strokes import Trace, gapped, marks_at, stroke
from labcore.model import Floats, Report

ROW_PX = 60
HIGH_ROW_PX = 88  # with the name of the row in it
NAMES_PX = 210  # left of the rows
HEAD_PX = 54
FOOT_PX = 40
DOT_PX = 13
DOTS_A_LINE = 10
DOT_STEP = 0.085  # of a band's width
LINE_STEP = 0.17  # of a row's height, between two lines of dots
BANDS = ("work on this", "nearly", "settled")
WAVE_POINTS = 41
STOPS_SHORT = 0.45  # where the made-up wave turns round, as a share of its width


def group_figure(room: Room, *, before: Room | None = None) -> go.Figure:
    """The room's takes, one row a matter, one column a band.

    ``before`` is an earlier evening of the same room, shown hollow under this one.
    """
    if not room.may_show_picture:
        return _words_only(room)
    shown = [need for need in room.needs if need.shown]
    traces = [_frame(len(shown))]
    for number, need in enumerate(shown):
        traces += _dots(need, row=number, up=0.30, hollow=False)
        earlier = before.need(need.kind) if before else None
        if before and before.may_show_picture and earlier and earlier.shown:
            traces += _dots(earlier, row=number, up=0.78, hollow=True)
    return go.Figure(traces, _layout(shown, with_before=before is not None))


def group_words(room: Room, *, before: Room | None = None) -> str:
    """What `group_figure` shows, in sentences that may be read aloud."""
    return " ".join(room_words(room, before=before))


def _words_only(room: Room) -> go.Figure:
    words = "Fewer than five takes: words only, so that no dot is one player."
    layout = look.base_layout(height_px=120)
    layout["xaxis"] = layout["yaxis"] = {"visible": False}
    layout["annotations"] = [
        {"text": f"{words}<br>{room_words(room)[0]}", "showarrow": False, "xref": "paper"}
        | {"yref": "paper", "x": 0.0, "y": 0.5, "align": "left", "xanchor": "left"}
    ]
    return go.Figure([], layout)


def _dots(need: Need, *, row: int, up: float, hollow: bool) -> list[Trace]:
    points = [
        (band + 0.08 + DOT_STEP * (k % DOTS_A_LINE), -row - up - LINE_STEP * (k // DOTS_A_LINE))
        for band, count in enumerate((need.work, need.nearly, need.settled))
        for k in range(count)
    ]
    if not points:
        return []
    fill = look.PAPER if hollow else look.OTHER
    marker = {"size": DOT_PX, "color": fill, "line": {"width": 1.5, "color": look.INK}}
    x, y = zip(*points, strict=True)
    return [marks_at(x, y, marker=marker)]


def _frame(rows: int) -> Trace:
    """A line under each row, and bar lines between the bands."""
    across = np.column_stack([np.zeros(rows + 1), np.full(rows + 1, 3.0)])
    levels = np.repeat(-np.arange(rows + 1.0)[:, None], 2, axis=1)
    edges = np.arange(4.0)
    x = np.vstack([across, np.column_stack([edges, edges])])
    y = np.vstack([levels, np.tile([0.0, -float(rows)], (4, 1))])
    return stroke(*gapped(x, y), color=look.GRID, width=1.2)


def _layout(shown: Sequence[Need], *, with_before: bool) -> dict[str, Any]:
    layout = look.base_layout(height_px=HEAD_PX + FOOT_PX + ROW_PX * max(len(shown), 1))
    layout["margin"] |= {"t": HEAD_PX, "b": FOOT_PX, "l": NAMES_PX}
    layout["xaxis"] = {
        "range": [0.0, 3.0],
        "tickvals": [0.5, 1.5, 2.5],
        "ticktext": list(BANDS),
        "tickangle": 0,
        "side": "top",
        "fixedrange": True,
        "showgrid": False,
        "zeroline": False,
    }
    layout["yaxis"] = {
        "range": [-max(len(shown), 1), 0.0],
        "tickvals": [-number - 0.5 for number in range(len(shown))],
        "ticktext": [need.words for need in shown],
        "fixedrange": True,
        "showgrid": False,
        "zeroline": False,
    }
    key = "a dot is a take, filled" + (": this evening; hollow: before" if with_before else "")
    layout["annotations"] = [
        {"text": key, "showarrow": False, "xref": "paper", "yref": "paper", "x": 0.0, "y": 0.0}
        | {"yanchor": "top", "xanchor": "left", "yshift": -10, "font": {"size": look.SMALL_PX}}
    ]
    layout["meta"] = {"narrow": _when_narrow(shown, layout=layout)}
    return layout


def _when_narrow(shown: Sequence[Need], *, layout: dict[str, Any]) -> dict[str, Any]:
    """A narrow page has no room for names beside the dots: they stand over them, in higher rows."""
    names = [
        {"text": need.words, "showarrow": False, "xref": "paper", "x": 0.0, "xanchor": "left"}
        | {"yref": "y", "y": -number, "yanchor": "top", "font": {"size": look.SMALL_PX}}
        for number, need in enumerate(shown)
    ]
    return {
        "height": HEAD_PX + FOOT_PX + HIGH_ROW_PX * max(len(shown), 1),
        "margin": {"l": 12},
        "yaxis": {"showticklabels": False},
        "annotations": [*layout["annotations"], *names],
    }


# --- two waves to talk about ----------------------------------------------------------------


def two_waves_figure(report: Report) -> go.Figure:
    """A typical wave of one take, unnamed, beside a made-up one that stops on its way home."""
    share, cents = _typical_wave(report)
    width = float(np.nanmax(cents)) if np.isfinite(cents).any() else 50.0
    made_up = width * (STOPS_SHORT + (1.0 - STOPS_SHORT) * (1.0 - np.cos(2 * np.pi * share)) / 2.0)
    traces = [
        stroke([0.0, 1.0], [0.0, 0.0], color=look.PLAIN_NOTE),
        stroke([1.3, 2.3], [0.0, 0.0], color=look.PLAIN_NOTE),
        stroke(share, cents, color=look.PITCH, width=4),
        stroke(share + 1.3, made_up, color=look.PITCH, width=4, dash="dash"),
    ]
    return go.Figure(traces, _two_layout(width))


def _typical_wave(report: Report) -> tuple[Floats, Floats]:
    """The middle of all waves at each share of their own time, in cents above home."""
    line, share = line_over_home(report), np.linspace(0.0, 1.0, WAVE_POINTS)
    known = np.isfinite(line.cents)
    if not (known.any() and report.cycles):
        return share, np.full(WAVE_POINTS, np.nan)
    laid = [
        np.interp(
            wave.leaves_s + share * (wave.back_s - wave.leaves_s),
            line.time_s[known],
            line.cents[known],
        )
        for wave in report.cycles
    ]
    return share, np.asarray(np.median(laid, axis=0), dtype=np.float64)


def two_waves_words() -> str:
    """What `two_waves_figure` shows."""
    return (
        "Left, a wave from this room: it ends on the plain note. Right, dashed, a made-up one: it "
        "turns round before it is home."
    )


def _two_layout(width: float) -> dict[str, Any]:
    layout = look.base_layout(height_px=260)
    axis = {"fixedrange": True, "showgrid": False, "zeroline": False}
    names = ["one from<br>this room", "made up: turns<br>round too soon"]
    layout["xaxis"] = axis | {"tickvals": [0.5, 1.8], "ticktext": names, "range": [-0.1, 2.4]}
    layout["xaxis"]["tickangle"] = 0
    layout["yaxis"] = axis | {
        "title": {"text": "cents above home<br>(100 = one fret)"},
        "range": [-0.15 * width, 1.15 * width],
    }
    return layout
