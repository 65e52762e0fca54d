"""A long note with vibrato that begins at once, late, or grows: no grid and no bands."""

import numpy as np
import plotly.graph_objects as go

from labcore.exercises.melodies import SHAKES
from labcore.figures import look
from labcore.figures.physics import Place, assembled, axes_at, corner, time_row
from labcore.figures.strokes import stroke
from labcore.synthesis import line_through

LONG_S = 3.6
CENTS_SHOWN = (-12.0, 82.0)
ROW = Place("", (0.0, 1.0), (0.0, 1.0))


def shake_figure(how: str) -> go.Figure:
    """The pitch line of one long note that moves as ``how`` says, over its plain note."""
    shake = SHAKES[how]
    time_s = np.linspace(0.0, LONG_S, 1441)
    cents = line_through(shake.knots(LONG_S), time_s)
    traces = [
        stroke([0.0, LONG_S], [0.0, 0.0], color=look.PLAIN_NOTE, width=2.0, dash="dash"),
        stroke(time_s, cents, color=look.PITCH, width=3.0),
    ]
    layout = {
        **axes_at(ROW, x="seconds", y="cents", x_range=(0.0, LONG_S), y_range=CENTS_SHOWN),
        "annotations": [corner("pitch (0 = plain note, 100 = one fret)", y=CENTS_SHOWN[1])],
        "meta": {"rows": [time_row(ROW, duration_s=LONG_S)]},
    }
    return assembled(traces, layout=layout, height_px=270)


def shake_words(how: str) -> str:
    """What `shake_figure` shows, in a sentence."""
    shake = SHAKES[how]
    plain_s = shake.plain_share * LONG_S
    start = f"plain for {plain_s:.1f} seconds, then moving" if plain_s else "moving from the start"
    if shake.from_cents == shake.to_cents:
        width = f"{shake.to_cents:.0f} cents wide all along"
    else:
        width = f"growing from {shake.from_cents:.0f} to {shake.to_cents:.0f} cents"
    return f"One long note, {start}, {width}; about {shake.rate_hz:.0f} waves a second."
