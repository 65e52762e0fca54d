"""Pictures of a wobble: pitch above, loudness below; and where the heard pitch lies."""

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.physics import MARGINS, WIDE, Place, assembled, axes_at, corner, time_row
from labcore.figures.strokes import stroke
from labcore.physics.hearing import Wobble, heard_cents, swell_db, wave_cents
from labcore.units import shifted_hz

SHOWN_S = 2.0
PITCH_ROW = Place("", (0.0, 1.0), (0.53, 1.0))
LOUD_ROW = Place("2", (0.0, 1.0), (0.0, 0.36))
ONE_ROW = Place("", (0.0, 1.0), (0.0, 1.0))
CENTS_SHOWN = (-65.0, 125.0)  # fixed, so that a wider wave looks wider
LOUD_SHOWN = (-26.0, 0.0)
SPAN = (0.0, SHOWN_S)
TIME_S = np.linspace(0.0, SHOWN_S, 801)


def wobble_figure(wobble: Wobble, *, plain_hz: float) -> go.Figure:
    """Pitch line above, loudness below, over the same two seconds of a note of ``plain_hz``."""
    traces = [
        stroke(SPAN, [0, 0], color=look.PLAIN_NOTE, width=2.0, dash="dash"),
        stroke(TIME_S, wave_cents(wobble, time_s=TIME_S), color=look.PITCH, width=WIDE),
        stroke(SPAN, [LOUD_SHOWN[0]] * 2, axes="2"),
        {
            **stroke(TIME_S, swell_db(wobble, time_s=TIME_S), color=look.LOUDNESS, axes="2"),
            "fill": "tonexty",
            "fillcolor": "rgba(230,159,0,0.35)",
        },
    ]
    layout = {
        **axes_at(PITCH_ROW, x="", y="cents", x_range=SPAN, y_range=CENTS_SHOWN),
        **axes_at(LOUD_ROW, x="seconds", y="dB", x_range=SPAN, y_range=LOUD_SHOWN),
        "annotations": [
            corner(f"pitch (0 = plain note, {plain_hz:.0f} Hz; 100 = one fret)", y=CENTS_SHOWN[1]),
            corner("loudness (0 = loudest)", y=LOUD_SHOWN[1], axes="2"),
        ],
        "meta": {"rows": [time_row(row, duration_s=SHOWN_S) for row in (PITCH_ROW, LOUD_ROW)]},
    }
    return assembled(traces, layout=layout, height_px=400)


def wobble_words(wobble: Wobble, *, plain_hz: float) -> str:
    """What `wobble_figure` shows, in a sentence."""
    ends = np.array([0.0, 1.0] if wobble.up_only else [-0.5, 0.5]) * wobble.extent_cents
    low_hz, high_hz = shifted_hz(plain_hz, ends)
    pitch = (
        f"the pitch moves {_way(wobble)}, {wobble.extent_cents:.0f} cents from bottom to top, "
        f"here {high_hz - low_hz:.1f} Hz"
    )
    parts = [pitch] if wobble.extent_cents else []
    if wobble.swell_db:
        parts.append(f"the loudness moves by {wobble.swell_db:.0f} dB")
    if not parts:
        return "A plain note: neither pitch nor loudness moves."
    name = "Vibrato" if wobble.extent_cents else "Tremolo"
    name = "Vibrato and tremolo" if len(parts) == 2 else name
    return f"{name}, {wobble.rate_hz:.1f} waves a second: {', and '.join(parts)}."


def mean_figure(wobble: Wobble, *, straight_cents: float) -> go.Figure:
    """A vibrato, its middle, and the straight note a reader holds beside it."""
    mean = heard_cents(wobble)
    traces = [
        stroke(SPAN, [straight_cents] * 2, color=look.SKY, width=7.0),
        stroke(SPAN, [0, 0], color=look.PLAIN_NOTE, width=2.0, dash="dash"),
        stroke(TIME_S, wave_cents(wobble, time_s=TIME_S), color=look.PITCH, width=WIDE),
        stroke(SPAN, [mean, mean], color=look.VERMILION, width=WIDE, dash="dashdot"),
    ]
    told = "dashes: plain note; dash-dot: middle of the vibrato<br>thick and pale: straight note"
    layout = {
        **axes_at(ONE_ROW, x="seconds", y="cents", x_range=SPAN, y_range=CENTS_SHOWN),
        "annotations": [corner(told, y=CENTS_SHOWN[1])],
        "margin": {**MARGINS, "t": 48},
        "meta": {"rows": [time_row(ONE_ROW, duration_s=SHOWN_S)]},
    }
    return assembled(traces, layout=layout, height_px=330)


def mean_words(wobble: Wobble) -> str:
    """What `mean_figure` shows, in a sentence."""
    rest = wobble.rest_share
    resting = f", resting {100 * rest:.0f} % of each wave at home" if rest else ""
    above = f"{heard_cents(wobble):.0f} cents above" if heard_cents(wobble) else "on"
    return (
        f"{wobble.extent_cents:.0f} cents wide, {_way(wobble)}{resting}: the middle of the sound "
        f"lies {above} the plain note (100 cents = one fret)."
    )


def _way(wobble: Wobble) -> str:
    return "up only" if wobble.up_only else "both ways"
