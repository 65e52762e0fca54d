"""The look of every figure: colours with fixed meanings, type large enough for a projector.

The colours are those of Okabe & Ito, "Color universal design" (2002, values from memory), chosen
to stay apart for colour-blind readers. A colour never speaks alone: each meaning has a second cue
(a dash, a marker, a word), named beside it, so that a grey print says the same.
"""

from typing import Any

import plotly.graph_objects as go

# Okabe & Ito; their yellow is left out, it is lost on white.
BLACK = "#000000"
BLUE = "#0072B2"
VERMILION = "#D55E00"
GREEN = "#009E73"
ORANGE = "#E69F00"
SKY = "#56B4E9"
PURPLE = "#CC79A7"
PALETTE = (BLUE, VERMILION, GREEN, ORANGE, SKY, PURPLE, BLACK)

# What a colour means, in every lesson.
PITCH = BLUE  # the pitch line, solid
PLAIN_NOTE = BLACK  # home, a straight line
WAVE_HEAD = BLACK  # filled, half or hollow
MODEL_TAKE = PURPLE  # another take laid over, dashed
LOUDNESS = ORANGE  # always an area under a line
CLICK = VERMILION  # a short mark at the top of a row
FORCE = GREEN  # what the hand does
OTHER = SKY  # a second case beside the first

# Neutral inks for what frames the picture.
INK = "#22282C"
SOFT_INK = "#5A646B"
GRID = "#B9C0C4"
FAINT = "#E6E8E6"
PAPER = "#FFFFFF"

SANS = "system-ui, sans-serif"
SERIF = "ui-serif, 'Palatino', 'Georgia', serif"  # for what a printed score sets in serif
TEXT_PX = 16
SMALL_PX = 13


def base_layout(*, height_px: int) -> dict[str, Any]:
    """Type, colours and margins of every figure, as a plotly layout.

    Margins do not move with the labels: the running line of `labcore.panels` reckons with them.
    """
    return {
        "template": "none",
        "height": height_px,
        "margin": {"l": 84, "r": 20, "t": 30, "b": 56, "autoexpand": False},
        "font": {"family": SANS, "size": TEXT_PX, "color": INK},
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "colorway": PALETTE,
        "dragmode": False,
        "hovermode": "closest",
        "hoverlabel": {"font": {"size": TEXT_PX, "family": SANS}, "bgcolor": PAPER},
        "legend": {"orientation": "h", "y": 1.0, "yanchor": "bottom", "x": 0.0},
    }


def dress(figure: go.Figure, *, height_px: int) -> go.Figure:
    """Give a figure of one's own the project's look, axes included; returns the same figure."""
    axis = {
        "automargin": False,
        "fixedrange": True,
        "showgrid": True,
        "gridcolor": FAINT,
        "zeroline": False,
        "linecolor": SOFT_INK,
        "ticks": "outside",
        "tickcolor": SOFT_INK,
        "ticklen": 4,
    }
    figure.update_layout(base_layout(height_px=height_px))
    figure.update_xaxes(axis)
    figure.update_yaxes(axis)
    return figure
