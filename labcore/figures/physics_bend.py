"""Pictures of the string pushed sideways: the board, its curves, the neck, and both ways."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.physics import (
    FRETS_DRAWN,
    MM,
    WIDE,
    Place,
    arrow,
    assembled,
    axes_at,
    bare_axes,
    corner,
    filled,
    label,
    neck_lines,
    point,
    time_row,
    when_narrow,
)
from labcore.figures.strokes import Trace, stroke
from labcore.model import Floats
from labcore.physics.bending import (
    bend_cents,
    bend_force_n,
    bend_stretch_m,
    bend_tension_n,
    bend_work_j,
    push_for_cents_m,
    square_law,
)
from labcore.physics.inverse import grams
from labcore.physics.motion import HandMotion, motion_cents
from labcore.physics.strings import FrettedString, fret_to_saddle_m
from labcore.units import signed

MOST_PUSH_MM = 12.0
BOARD = Place("", (0.0, 1.0), (0.54, 1.0))
CENTS = Place("2", (0.0, 0.44), (0.0, 0.40))
NEWTONS = Place("3", (0.57, 1.0), (0.0, 0.40))
BEND_NARROW = when_narrow(
    Place("", (0.0, 1.0), (0.66, 1.0)),
    Place("2", (0.0, 1.0), (0.35, 0.58)),
    Place("3", (0.0, 1.0), (0.0, 0.23)),
    height_px=860,
)


# --- the board: one push ----------------------------------------------------------------------


def bend_figure(at: FrettedString, *, push_m: float) -> go.Figure:
    """The pushed string from above with its two triangles; cents and force over the push below."""
    layout = {
        **bare_axes(BOARD, x_range=(-22.0, at.guitar.scale_m * MM + 22.0), y_range=(-11.0, 22.0)),
        **_curve_axes(at),
        "annotations": _board_labels(at, push_m=push_m) + _curve_labels(at),
    }
    traces = [*_board(at, push_m=push_m), *_curves(at, push_m=push_m)]
    return assembled(traces, layout=layout, height_px=600, narrow=BEND_NARROW)


def bend_words(at: FrettedString, *, push_m: float) -> str:
    """What `bend_figure` shows, in a sentence."""
    if push_m == 0.0:
        return (
            f"{at.string.name} at fret {at.fret}, not pushed: the string lies straight, its "
            f"tension is {at.tension_n:.1f} N, and the plain note sounds."
        )
    longer_mm = float(bend_stretch_m(at, push_m=push_m)) * MM
    longer = f"{longer_mm:.2f}" if longer_mm >= 0.01 else "less than 0.01"
    force_n = float(bend_force_n(at, push_m=push_m))
    return (
        f"{at.string.name} at fret {at.fret}, pushed {push_m * MM:.1f} mm sideways: the string is "
        f"{longer} mm longer, its tension goes from {at.tension_n:.1f} to "
        f"{float(bend_tension_n(at, push_m=push_m)):.1f} N, the pitch rises by "
        f"{float(bend_cents(at, push_m=push_m)):.0f} cents (100 = one fret). The string pushes "
        f"back with {force_n:.1f} N, the weight of {grams(force_n)}."
    )


def _board(at: FrettedString, *, push_m: float) -> list[Trace]:
    scale, fret, y = at.guitar.scale_m * MM, at.behind_m * MM, push_m * MM
    frets = np.array(
        [scale - fret_to_saddle_m(scale, fret=n) for n in range(1, FRETS_DRAWN + 1)], dtype=float
    )
    return [
        *neck_lines(frets, low=-7.0, high=16.0),
        stroke([scale, scale], [-7.0, 16.0], color=look.INK, width=5.0),
        filled([0, fret, fret], [0, 0, y], color=look.SKY, opacity=0.5),
        filled([fret, scale, fret], [0, 0, y], color=look.ORANGE, opacity=0.4),
        stroke([fret, fret], [-7.0, 16.0], color=look.SOFT_INK, width=4.0),
        stroke([0, scale], [0, 0], color=look.PLAIN_NOTE, width=2.0, dash="dash"),
        stroke([0, fret, scale], [0, y, 0], color=look.PITCH, width=4.0),
        point(fret, y, color=look.FORCE, size=18),
    ]


def _board_labels(at: FrettedString, *, push_m: float) -> list[dict[str, object]]:
    scale, fret, y = at.guitar.scale_m * MM, at.behind_m * MM, push_m * MM
    slants = [float(np.hypot(side * MM, y)) for side in (at.behind_m, at.speaking_m)]
    force_n = float(bend_force_n(at, push_m=push_m))
    told = (
        f"tension {at.tension_n:.1f} → {float(bend_tension_n(at, push_m=push_m)):.1f} N    "
        f"pitch <b>{signed(float(bend_cents(at, push_m=push_m)))} cents</b>"
    )
    behind = f"behind the fret<br>{fret:.2f} → {slants[0]:.2f} mm"
    speaking = f"sounding side<br>{scale - fret:.2f} → {slants[1]:.2f} mm"
    found = [
        label(told, x=scale / 2, y=21.8, up="top", size=18),
        label("nut", x=0, y=-7.4, up="top", size=look.SMALL_PX),
        label("saddle", x=scale, y=-7.4, up="top", size=look.SMALL_PX),
        label(f"fret {at.fret}", x=fret, y=-7.4, up="top", size=look.SMALL_PX),
        label(behind, x=4, y=-3.6, anchor="left", size=14),
        label(speaking, x=scale - 6, y=-3.6, anchor="right", size=14),
        label(
            "drawn several times too wide",
            x=scale - 6, y=14.6, anchor="right", size=look.SMALL_PX, color=look.SOFT_INK,
        ),
    ]  # fmt: skip
    if y > 0.2:
        found.append(arrow(tail=(fret, min(y, 0.0)), head=(fret, y)))
        side = "right" if fret > scale / 3 else "left"
        shift = -14 if side == "right" else 14
        text = f"push {y:.1f} mm, {force_n:.1f} N<br>(weight of {grams(force_n)})"
        over = min(y + 2.6, 14.6)  # clear of the heading
        found.append(label(text, x=fret + shift, y=over, anchor=side, size=14, color="#006B4E"))
    return found


# --- the curves under it ----------------------------------------------------------------------


def _tops(at: FrettedString) -> tuple[float, float]:
    """Where the curves' axes end: a round number above the widest push."""
    cents = float(bend_cents(at, push_m=MOST_PUSH_MM / MM))
    newtons = float(bend_force_n(at, push_m=MOST_PUSH_MM / MM))
    return float(np.ceil(cents / 50.0) * 50.0), float(np.ceil(newtons / 2.0) * 2.0)


def _curve_axes(at: FrettedString) -> dict[str, object]:
    cents, newtons = _tops(at)
    push = "sideways push, mm"
    ranges = (0.0, MOST_PUSH_MM)
    return {
        **axes_at(CENTS, x=push, y="cents", x_range=ranges, y_range=(0.0, cents)),
        **axes_at(NEWTONS, x=push, y="force, N", x_range=ranges, y_range=(0.0, newtons)),
    }


def _curves(at: FrettedString, *, push_m: float) -> list[Trace]:
    push_mm = np.linspace(0.0, MOST_PUSH_MM, 81)
    cents = bend_cents(at, push_m=push_mm / MM)
    force_n = bend_force_n(at, push_m=push_mm / MM)
    square = square_law(at) * (push_mm / MM) ** 2
    here = push_m * MM
    return [
        stroke(push_mm, square, color=look.SOFT_INK, width=2.0, dash="dot", axes="2"),
        stroke(push_mm, cents, color=look.PITCH, width=WIDE, axes="2"),
        stroke(push_mm, force_n, color=look.FORCE, width=WIDE, axes="3"),
        point(here, float(bend_cents(at, push_m=push_m)), color=look.PITCH, axes="2"),
        point(here, float(bend_force_n(at, push_m=push_m)), color=look.FORCE, axes="3"),
    ]


def _curve_labels(at: FrettedString) -> list[dict[str, object]]:
    cents, newtons = _tops(at)
    return [
        label("dotted: the square law", x=0.3, y=cents * 0.93, axes="2", anchor="left", size=14),
        label("force of the string", x=0.3, y=newtons * 0.93, axes="3", anchor="left", size=14),
    ]


# --- along the neck ---------------------------------------------------------------------------

NECK_FRETS = np.arange(1, FRETS_DRAWN + 1)
SHARES = Place("", (0.0, 0.52), (0.0, 1.0))
BAR_MM = Place("2", (0.63, 1.0), (0.60, 1.0))
BAR_N = Place("3", (0.63, 1.0), (0.0, 0.38))
NECK_NARROW = when_narrow(
    Place("", (0.0, 1.0), (0.60, 1.0)),
    Place("2", (0.0, 1.0), (0.30, 0.46)),
    Place("3", (0.0, 1.0), (0.0, 0.16)),
    height_px=800,
)
SHARE_STYLES = (
    ("force", look.FORCE, "solid"), ("movement", look.PITCH, "dash"), ("work", look.ORANGE, "dot"),
)  # fmt: skip


@lru_cache(maxsize=8)  # the picture and its words ask for the same
def along_the_neck(at: FrettedString, *, cents: float) -> dict[str, Floats]:
    """Force, movement and work for ``cents`` at frets 1 to 22, each as a share of fret 12."""
    frets = [_moved(at, fret=int(n)) for n in NECK_FRETS]
    push_m = np.array([float(push_for_cents_m(here, cents=cents)) for here in frets])
    pairs = list(zip(frets, push_m, strict=True))
    force = np.array([float(bend_force_n(here, push_m=y)) for here, y in pairs])
    work = np.array([float(bend_work_j(here, push_m=y)) for here, y in pairs])
    twelfth = int(np.flatnonzero(NECK_FRETS == 12)[0])
    columns = {"force": force, "movement": push_m, "work": work}
    return {name: column / column[twelfth] for name, column in columns.items()}


def _moved(at: FrettedString, *, fret: int) -> FrettedString:
    return FrettedString(at.string, fret=fret, guitar=at.guitar)


def neck_figure(at: FrettedString, *, strings: Sequence[FrettedString], cents: float) -> go.Figure:
    """Force, movement and work along the neck, and movement and force of all six strings."""
    shares = along_the_neck(at, cents=cents)
    push_mm = [float(push_for_cents_m(each, cents=cents)) * MM for each in strings]
    force_n = [
        float(bend_force_n(each, push_m=mm / MM)) for each, mm in zip(strings, push_mm, strict=True)
    ]
    traces = [
        stroke(NECK_FRETS, shares[name], color=color, width=WIDE, dash=dash)
        for name, color, dash in SHARE_STYLES
    ]
    traces += [
        _bars(push_mm, color=look.PITCH, axes="2"),
        _bars(force_n, color=look.FORCE, axes="3"),
    ]
    notes = [
        label(name, x=1.3, y=float(shares[name][0]) + 0.06, anchor="left", size=14)
        for name, _, _ in SHARE_STYLES
    ]
    notes += [
        label(f"{value:.1f}", x=n, y=value, axes=axes, up="bottom", size=look.SMALL_PX)
        for axes, values in (("2", push_mm), ("3", force_n))
        for n, value in enumerate(values, start=1)
    ]
    layout = {**_neck_axes(at, push_mm=push_mm, force_n=force_n), "annotations": notes}
    return assembled(traces, layout=layout, height_px=430, narrow=NECK_NARROW)


def _neck_axes(
    at: FrettedString, *, push_mm: list[float], force_n: list[float]
) -> dict[str, object]:
    of_six = f"string, at fret {at.fret}"
    found = {
        **axes_at(
            SHARES, x="fret", y="times what fret 12 takes", x_range=(0, 23), y_range=(0, 2.4)
        ),
        **axes_at(BAR_MM, x=of_six, y="mm", x_range=(0.4, 6.6), y_range=(0, max(push_mm) * 1.25)),
        **axes_at(
            BAR_N, x=of_six, y="force, N", x_range=(0.4, 6.6), y_range=(0, max(force_n) * 1.25)
        ),
    }
    found["xaxis"] |= {"tickvals": [1, 5, 7, 12, 17, 22]}
    found["xaxis2"] |= {"dtick": 1}
    found["xaxis3"] |= {"dtick": 1}
    return found


def _bars(values: list[float], *, color: str, axes: str) -> Trace:
    return {
        "type": "bar",
        "x": list(range(1, len(values) + 1)),
        "y": np.array(values, dtype=np.float32),
        "marker": {"color": color},
        "hoverinfo": "skip",
        "xaxis": f"x{axes}",
        "yaxis": f"y{axes}",
    }


def neck_words(at: FrettedString, *, strings: Sequence[FrettedString], cents: float) -> str:
    """What `neck_figure` shows, in a sentence."""
    shares = along_the_neck(at, cents=cents)
    twelfth = _moved(at, fret=12)
    push_m = float(push_for_cents_m(twelfth, cents=cents))
    force_n = float(bend_force_n(twelfth, push_m=push_m))
    work = shares["work"]
    return (
        f"{at.string.name}, {cents:.0f} cents (100 = one fret): at fret 12 it takes "
        f"{push_m * MM:.1f} mm and {force_n:.1f} N, the weight of {grams(force_n)}. Fret 1 takes "
        f"{shares['force'][0]:.1f} times that force and {shares['movement'][0]:.1f} times that "
        f"movement; from fret 7 to 19 the force is at most {np.max(shares['force'][6:19]):.2f} "
        f"times as large. The work differs by no more than "
        f"{100 * (float(work.max() / work.min()) - 1):.0f} % anywhere."
    )


# --- both ways, or one way --------------------------------------------------------------------

BOTH_S = 2.0
HAND = Place("", (0.0, 1.0), (0.58, 1.0))
LINE = Place("2", (0.0, 1.0), (0.0, 0.42))
HAND_WORDS = "the hand (0 = string straight)"
LINE_WORDS = "the pitch line (0 = plain note)"


def swing_figure(at: FrettedString, *, motion: HandMotion) -> go.Figure:
    """Where the finger is, above; the pitch line it draws, below; over the same two seconds."""
    time_s = np.linspace(0.0, BOTH_S, 601)
    push_mm = motion.push_m(time_s) * MM
    cents = motion_cents(at, motion=motion, time_s=time_s)
    most_mm = max(6.0, 1.08 * float(np.max(np.abs(push_mm))))
    top = max(50.0, float(np.ceil(np.max(cents) / 25.0) * 25.0))
    traces = [
        stroke([0, BOTH_S], [0, 0], color=look.PLAIN_NOTE, width=2.0, dash="dash"),
        stroke(time_s, push_mm, color=look.FORCE, width=WIDE),
        stroke([0, BOTH_S], [0, 0], color=look.PLAIN_NOTE, width=2.0, dash="dash", axes="2"),
        stroke(time_s, cents, color=look.PITCH, width=WIDE, axes="2"),
    ]
    layout = {
        **axes_at(HAND, x="", y="finger, mm", x_range=(0, BOTH_S), y_range=(-most_mm, most_mm)),
        **axes_at(LINE, x="seconds", y="cents", x_range=(0, BOTH_S), y_range=(-0.12 * top, top)),
        "annotations": [corner(HAND_WORDS, y=most_mm), corner(LINE_WORDS, y=top, axes="2")],
        "meta": {"rows": [time_row(place, duration_s=BOTH_S) for place in (HAND, LINE)]},
    }
    return assembled(traces, layout=layout, height_px=430)


def swing_words(at: FrettedString, *, motion: HandMotion) -> str:
    """What `swing_figure` shows, in a sentence: rates, and the heights of neighbouring waves."""
    ends = np.array([0.0, 0.5]) / motion.hand_hz
    high, other = motion_cents(at, motion=motion, time_s=ends)
    hand = f"The hand swings {motion.hand_hz:.1f} times a second"
    if abs(motion.offset_m) >= motion.sideways_m:
        return (
            f"{hand}, all on one side of the straight string: one wave a swing, from "
            f"{min(high, other):.0f} to {max(high, other):.0f} cents above the plain note (100 = "
            "one fret)."
        )
    uneven = "" if abs(high - other) < 0.5 else f", then {min(high, other):.0f}"
    return (
        f"{hand} and goes through the straight string: two waves a swing, "
        f"{2 * motion.hand_hz:.1f} a second, reaching {max(high, other):.0f}{uneven} cents above "
        "the plain note (100 = one fret)."
    )
