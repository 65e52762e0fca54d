"""Loudness over a take."""

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.strokes import marks_at, stroke
from labcore.figures.words import lasting
from labcore.figures.writing import sounding_span_s
from labcore.model import Floats, Report

SHOWN_DB = 36.0  # how far under the loudest moment the picture reaches
POINTS = 2000  # more than a screen has pixels


def thinned(*columns: Floats) -> tuple[Floats, ...]:
    """The same columns with at most `POINTS` values each, evenly taken."""
    step = max(1, -(-columns[0].size // POINTS))
    return tuple(column[::step].astype(np.float32) for column in columns)


def loudness_figure(report: Report) -> go.Figure:
    """How loud the take was, in decibels under its loudest moment; plucks are marked on top."""
    contour = report.take.contour
    loudest = float(np.max(contour.level_db)) if contour.level_db.size else 0.0
    time_s, level = thinned(contour.time_s, np.maximum(contour.level_db - loudest, -SHOWN_DB))
    floor = stroke(time_s, np.full(time_s.size, -SHOWN_DB), width=0)
    area = {**stroke(time_s, level, color=look.LOUDNESS, width=2), "fill": "tonexty"}
    plucks = marks_at(
        contour.attack_s,
        np.full(contour.attack_s.size, 1.0),
        marker={"symbol": "triangle-down", "size": 11, "color": look.INK},
    )
    figure = look.dress(go.Figure([floor, area, plucks]), height_px=220)
    figure.update_layout(meta={"rows": [_whole(report)]})
    figure.update_xaxes(title="seconds", range=[0.0, report.take.facts.duration_s])
    figure.update_yaxes(title="loudness, dB", range=[-SHOWN_DB, 3.0], dtick=12)
    return figure


def _whole(report: Report) -> dict[str, float]:
    end_s = report.take.facts.duration_s
    return {"start_s": 0.0, "end_s": end_s, "x0": 0.0, "x1": 1.0, "y0": 0.0, "y1": 1.0}


def loudness_words(report: Report) -> str:
    """What the loudness picture shows, in a sentence."""
    plucks = report.take.contour.attack_s.size
    start_s, end_s = sounding_span_s(report)
    counted = "one pluck" if plucks == 1 else f"{plucks} plucks"
    wobble = report.measures.amplitude_modulation
    more = "" if wobble is None else f"; it wobbles by {wobble.value:.1f} dB at the vibrato's speed"
    return f"Loudness over {lasting(end_s - start_s)} of sound, {counted}{more}."
