"""Pictures of the vibrato arm: the bridge on its springs, six strings at once, and a bent one."""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.physics import (
    MM,
    WIDE,
    Place,
    assembled,
    axes_at,
    bare_axes,
    corner,
    filled,
    label,
    point,
    time_row,
    when_narrow,
)
from labcore.figures.strokes import Trace, stroke
from labcore.model import Floats
from labcore.physics.arm import (
    Bridge,
    arm_cents,
    arm_tension_n,
    others_fall_cents,
    saddle_move_m,
    spring_force_n,
)
from labcore.physics.strings import FrettedString
from labcore.units import signed

BRIDGE = Place("", (0.0, 0.56), (0.0, 1.0))
BARS = Place("2", (0.68, 1.0), (0.0, 1.0))
ARM_NARROW = when_narrow(
    Place("", (0.0, 1.0), (0.50, 1.0)), Place("2", (0.0, 1.0), (0.0, 0.44)), height_px=700
)
BARS_SHOWN = ((-150.0, 150.0), (-500.0, 500.0), (-1750.0, 750.0))  # cents; the first that holds all
BARS_ROOM = 0.82  # share of the range that bars may fill; their numbers need the rest
LOWEST_BAR = -1600.0  # cents; a bar that would be longer ends here, its number tells
WOOD = "#8A6D4B"


# --- the bridge on its springs ----------------------------------------------------------------


def arm_figure(bridge: Bridge, *, strings: Sequence[FrettedString], angle_rad: float) -> go.Figure:
    """The bridge from the side, turned by the arm; beside it what the six strings do."""
    cents = string_cents(bridge, strings=strings, angle_rad=angle_rad)
    shown = _bars_range(cents)
    layout = {
        **bare_axes(BRIDGE, x_range=(-135.0, 125.0), y_range=(-68.0, 62.0)),
        **axes_at(BARS, x="string", y="cents", x_range=(0.4, 6.6), y_range=shown),
        "annotations": [
            *_bridge_words(bridge, strings=strings, angle_rad=angle_rad),
            *bar_labels(cents, axes="2"),
            corner("pitch, from the plain note", y=shown[1], x=0.4, axes="2"),
        ],
    }
    layout["xaxis2"] |= {"dtick": 1}
    traces = [*_bridge_lines(bridge, angle_rad=angle_rad), *cents_bars(cents, axes="2")]
    return assembled(traces, layout=layout, height_px=430, narrow=ARM_NARROW)


def _bars_range(cents: Sequence[float]) -> tuple[float, float]:
    """The narrowest range of the bars that holds every string; the widest where one is slack."""
    for low, high in BARS_SHOWN:
        if low * BARS_ROOM <= min(cents) and max(cents) <= high * BARS_ROOM:
            return low, high
    return BARS_SHOWN[-1]


def string_cents(
    bridge: Bridge, *, strings: Sequence[FrettedString], angle_rad: float
) -> list[float]:
    """Cents of each open string when the bridge has turned; -inf where one is slack."""
    moved_m = saddle_move_m(bridge, angle_rad=angle_rad)
    return [float(arm_cents(at, saddle_m=moved_m)) for at in strings]


def arm_words(bridge: Bridge, *, strings: Sequence[FrettedString], angle_rad: float) -> str:
    """What `arm_figure` shows, in a sentence."""
    moved_mm = float(saddle_move_m(bridge, angle_rad=angle_rad)) * MM
    cents = string_cents(bridge, strings=strings, angle_rad=angle_rad)
    told = ", ".join("slack" if np.isinf(c) else signed(c) for c in cents)
    turned = signed(float(np.degrees(angle_rad)), digits=1)
    return (
        f"The bridge is turned by {turned} degrees, so the saddle moves "
        f"{signed(moved_mm, digits=2)} mm. Cents of strings 1 to 6 (100 = one fret): {told}."
    )


def _turned(x: Floats, y: Floats, *, angle_rad: float) -> tuple[Floats, Floats]:
    """Points of the bridge after it has turned about its pivot; saddle away from the nut first."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return x * c + y * s, -x * s + y * c


def _bridge_lines(bridge: Bridge, *, angle_rad: float) -> list[Trace]:
    high, deep = bridge.saddle_height_m * MM * 1.6, bridge.spring_lever_m * MM
    block = np.array(
        [[-6, 6, 34, 34, 13, 13, -2, -2, -6], [0, high, high, 4, 0, -deep, -deep, 0, 0]]
    )
    block_x, block_y = _turned(*block.astype(float), angle_rad=angle_rad)
    saddle_x, saddle_y = _turned(np.array([6.0]), np.array([high]), angle_rad=angle_rad)
    foot_x, foot_y = _turned(np.array([0.0]), np.array([-deep + 3.0]), angle_rad=angle_rad)
    arm_x, arm_y = _turned(
        np.array([24.0, 14.0, -88.0]), np.array([high, high + 14, high + 27]), angle_rad=angle_rad
    )
    return [
        filled([-135, -10, -10, -135], [-4, -4, -60, -60], color=WOOD, opacity=0.35),
        filled([40, 125, 125, 40], [-4, -4, -60, -60], color=WOOD, opacity=0.35),
        *_spring(-118.0, -deep + 3.0, float(foot_x[0]), float(foot_y[0])),
        filled(block_x, block_y, color=look.SOFT_INK, opacity=0.8),
        stroke([-135, saddle_x[0]], [high + 1.5, saddle_y[0]], color=look.PITCH, width=4.0),
        stroke(arm_x, arm_y, color=look.INK, width=7.0),
        point(-6.0, 0.0, color=look.VERMILION, symbol="triangle-right", size=15),
    ]


def _spring(x0: float, y0: float, x1: float, y1: float) -> list[Trace]:
    along = np.linspace(0.0, 1.0, 41)
    zigzag = np.where(np.arange(41) % 2, 3.5, -3.5)
    zigzag[[0, 1, -2, -1]] = 0.0
    return [
        stroke(
            x0 + (x1 - x0) * along, y0 + (y1 - y0) * along + zigzag, color=look.FORCE, width=WIDE
        )
    ]


def _bridge_words(
    bridge: Bridge, *, strings: Sequence[FrettedString], angle_rad: float
) -> list[dict[str, object]]:
    moved_m = saddle_move_m(bridge, angle_rad=angle_rad)
    pull_n = sum(float(arm_tension_n(at, saddle_m=moved_m)) for at in strings)
    rest_n = spring_force_n(bridge, strings=strings) * bridge.springs
    stretch_n = -bridge.springs * bridge.spring_n_m * bridge.spring_lever_m * angle_rad
    deep = bridge.spring_lever_m * MM
    between = (bridge.saddle_height_m * MM * 1.6 - 2.5) / 2.0  # the strings and the wood
    return [
        label(f"← six strings pull {pull_n:.0f} N", x=-132, y=between, anchor="left", size=15),
        label(
            f"← {bridge.springs} springs pull {rest_n + stretch_n:.0f} N",
            x=-132, y=-deep - 12, anchor="left", size=15, color="#006B4E",
        ),
        label("← nut", x=-132, y=-9, anchor="left", size=14),
        label("pivot", x=-12, y=-10, anchor="right", size=14),
        label("arm", x=20, y=36, anchor="left", size=15),
        label("from the side; bridge and springs are guessed", x=-132, y=-61, anchor="left",
              size=look.SMALL_PX, color=look.SOFT_INK, up="top"),
    ]  # fmt: skip


# --- bars of cents ----------------------------------------------------------------------------


def cents_bars(cents: Sequence[float], *, axes: str) -> list[Trace]:
    """One bar a string; up is blue and plain, down vermilion and striped, slack has none."""
    values = np.array(cents, dtype=float)
    heights = np.where(np.isfinite(values), np.maximum(values, LOWEST_BAR), 0.0)
    colors = [look.PITCH if value >= 0 else look.VERMILION for value in heights]
    stripes = ["" if value >= 0 else "/" for value in heights]
    bars: Trace = {
        "type": "bar",
        "x": list(range(1, len(cents) + 1)),
        "y": heights,
        "marker": {
            "color": colors,
            "pattern": {"shape": stripes, "fgcolor": look.PAPER, "fillmode": "overlay"},
        },
        "hoverinfo": "skip",
        "xaxis": f"x{axes}",
        "yaxis": f"y{axes}",
    }
    return [bars, stroke([0.4, 6.6], [0, 0], color=look.PLAIN_NOTE, width=2.0, axes=axes)]


def bar_labels(cents: Sequence[float], *, axes: str) -> list[dict[str, object]]:
    """The number over or under each bar; 'slack' where there is none."""
    found = []
    for n, value in enumerate(cents, start=1):
        words = "slack" if np.isinf(value) else signed(value)
        y = 0.0 if np.isinf(value) else max(float(value), LOWEST_BAR)
        up = "top" if value < 0 else "bottom"
        found.append(label(words, x=n, y=y, axes=axes, up=up, size=look.SMALL_PX))
    return found


# --- to and fro, and a bent string ------------------------------------------------------------

ARM_S = 2.0
SWING = Place("", (0.0, 1.0), (0.0, 1.0))


def arm_line(
    at: FrettedString, *, bridge: Bridge, swing_rad: float, rate_hz: float, time_s: Floats
) -> Floats:
    """Cents of one string while the arm swings evenly by ``swing_rad`` to each side of rest."""
    angle = swing_rad * np.sin(2.0 * np.pi * rate_hz * time_s)
    return arm_cents(at, saddle_m=saddle_move_m(bridge, angle_rad=angle))


def arm_swing_figure(
    bridge: Bridge, *, strings: Sequence[FrettedString], swing_rad: float, rate_hz: float
) -> go.Figure:
    """The pitch lines of the three plain strings while the arm swings to and fro."""
    time_s = np.linspace(0.0, ARM_S, 601)
    styles = ((look.PITCH, "solid"), (look.GREEN, "dash"), (look.VERMILION, "dot"))
    traces, most = [], 20.0
    for at, (color, dash) in zip(strings[:3], styles, strict=True):
        cents = arm_line(at, bridge=bridge, swing_rad=swing_rad, rate_hz=rate_hz, time_s=time_s)
        traces.append(stroke(time_s, cents, color=color, width=WIDE, dash=dash))
        most = max(most, float(np.max(np.abs(cents))))
    top = float(np.ceil(most * 1.2 / 20.0) * 20.0)
    traces.append(stroke([0, ARM_S], [0, 0], color=look.PLAIN_NOTE, width=2.0, dash="dash"))
    layout = {
        **axes_at(SWING, x="seconds", y="cents", x_range=(0, ARM_S), y_range=(-top, top)),
        "annotations": [corner("solid: string 1, dashes: string 2, dots: string 3", y=top)],
        "meta": {"rows": [time_row(SWING, duration_s=ARM_S)]},
    }
    return assembled(traces, layout=layout, height_px=330)


def arm_swing_words(bridge: Bridge, *, strings: Sequence[FrettedString], swing_rad: float) -> str:
    """What `arm_swing_figure` shows, in a sentence."""
    if swing_rad == 0.0:
        return "The arm rests: all strings sound their plain notes."
    ends = [string_cents(bridge, strings=strings[:3], angle_rad=way * swing_rad) for way in (-1, 1)]
    told = "; ".join(
        f"string {n} from {signed(low)} to {signed(high)} cents"
        for n, (low, high) in enumerate(zip(*ends, strict=True), start=1)
    )
    return f"The same swing of the arm, both ways round the plain note: {told} (100 = one fret)."


def fall_figure(
    bridge: Bridge, *, strings: Sequence[FrettedString], bent: int, cents: float
) -> go.Figure:
    """What the six strings do when one of them is bent on a bridge that gives way."""
    moved = others_fall_cents(bridge, strings=strings, bent=bent, cents=cents)
    top = max(60.0, float(np.max(moved)) * 1.25)
    low = min(-60.0, float(np.min(moved)) - 0.14 * top)  # the numbers stand under the bars
    layout = {
        **axes_at(SWING, x="string", y="cents", x_range=(0.4, 6.6), y_range=(low, top)),
        "annotations": bar_labels(moved.tolist(), axes=""),
    }
    layout["xaxis"] |= {"dtick": 1}
    return assembled(cents_bars(moved.tolist(), axes=""), layout=layout, height_px=300)


def fall_words(bridge: Bridge, *, strings: Sequence[FrettedString], bent: int, cents: float) -> str:
    """What `fall_figure` shows, in a sentence."""
    if cents == 0.0:
        return "No string is bent: all six sound their plain notes."
    moved = others_fall_cents(bridge, strings=strings, bent=bent, cents=cents)
    others = np.delete(moved, bent)
    return (
        f"String {bent + 1} is bent up by {cents:.0f} cents (100 = one fret). The bridge gives "
        f"way, and the other strings fall by {-others.max():.0f} to {-others.min():.0f} cents."
    )
