"""Pictures of the finger rolled along the string: from the side, sticking, nylon and steel."""

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.physics import (
    MARGINS,
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
    time_row,
    when_narrow,
)
from labcore.figures.strokes import Trace, stroke
from labcore.model import Floats
from labcore.physics.bending import push_for_cents_m
from labcore.physics.inverse import grams
from labcore.physics.rolling import (
    fretless_cents,
    past_the_fret,
    roll_cents,
    roll_cents_per_newton,
    roll_drag_m,
    roll_force_by_hand_n,
    roll_tensions_n,
)
from labcore.physics.strings import FrettedString
from labcore.units import signed

STEPS = ("1 the grip", "2 the drag", "3 the tension", "4 the pitch")
FRETTED = Place("", (0.0, 0.48), (0.0, 1.0))
FRETLESS = Place("2", (0.52, 1.0), (0.0, 1.0))
FRETTED_NARROW = Place("", (0.0, 1.0), (0.52, 1.0))
FRETLESS_NARROW = Place("2", (0.0, 1.0), (0.0, 0.48))
# The drawing, in millimetres round the fret; the finger is drawn at its true place and size.
LEFT_MM, RIGHT_MM = -34.0, 30.0
REASONS_MM = -8.2  # the reasons stand under the neck
TOP_MM = 25.5
REASON_LINES = (1, 2, 4, 5)  # with one reason, two, three, four
LINE_MM, PX_PER_MM = 2.75, 7.33  # a line of a reason in the drawing, and the drawing on the page
BOARD_MM, CROWN_MM, FINGER_MM = 0.0, 2.4, 6.5
SEEN_MM = 4.0  # how far the marks on the string move in the drawing for a roll of 1 mm
UPRIGHT_M, UPRIGHT = 1e-5, "2 upright: nothing moves yet"  # a roll too small to be one
DARK_GREEN = "#006B4E"


# --- from the side ----------------------------------------------------------------------------


def roll_figure(at: FrettedString, *, roll_m: float, step: int = 4) -> go.Figure:
    """The finger from the side, on a fretted neck and on one without frets.

    ``roll_m`` is how far the fingertip rolls, positive toward the nut; ``step`` 1 to 4 unfolds
    the reasons one after the other on the fretted side.
    """
    low_mm = REASONS_MM - LINE_MM * REASON_LINES[step - 1]  # the picture grows with its reasons
    ranges = {"x_range": (LEFT_MM, RIGHT_MM), "y_range": (low_mm, TOP_MM)}
    high_px = PX_PER_MM * (TOP_MM - low_mm)
    layout = {
        "margin": {**MARGINS, "t": 8, "b": 8},
        **bare_axes(FRETTED, **ranges),
        **bare_axes(FRETLESS, **ranges),
        "annotations": _fretted_words(at, roll_m=roll_m, step=step)
        + _fretless_words(at, roll_m=roll_m, step=step),
    }
    traces = _fretted(at, roll_m=roll_m, step=step) + _fretless(roll_m)
    share = FRETTED_NARROW.y[1] - FRETTED_NARROW.y[0]
    narrow = when_narrow(FRETTED_NARROW, FRETLESS_NARROW, height_px=round(high_px / share) + 16)
    return assembled(traces, layout=layout, height_px=round(high_px) + 16, narrow=narrow)


def roll_words(at: FrettedString, *, roll_m: float, step: int = 4) -> str:
    """What `roll_figure` shows, in sentences; the pitch only at the last step."""
    force_n, drag_m, cents = _rolled(at, roll_m=roll_m)
    bare = float(fretless_cents(at.speaking_m, toward_bridge_m=-roll_m))
    if abs(roll_m) <= UPRIGHT_M:
        return "The finger stands upright: the same tension on both sides, the plain note."
    way = "nut" if roll_m > 0 else "bridge"
    told = f"{at.string.name}, fret {at.fret}: rolled {abs(roll_m) * MM:.1f} mm toward the {way}"
    if step >= 2:
        told += (
            f", the finger pulls along the string with {abs(force_n):.1f} N (the weight of "
            f"{grams(force_n)}) and drags it by {abs(drag_m) * 1e6:.0f} thousandths of a millimetre"
        )
    if step < 4:
        return f"{told}."
    return (
        f"{told}. With frets the pitch moves {signed(cents)} cents, without frets {signed(bare)} "
        "cents (100 = one fret)."
    )


def _rolled(at: FrettedString, *, roll_m: float) -> tuple[float, float, float]:
    """Force in newtons, drag in metres and cents for a roll."""
    force_n = float(roll_force_by_hand_n(at, roll_m=roll_m))
    drag_m = float(roll_drag_m(at, force_n=force_n))
    return force_n, drag_m, float(roll_cents(at, drag_m=drag_m))


def _fretted(at: FrettedString, *, roll_m: float, step: int) -> list[Trace]:
    _, drag_m, _ = _rolled(at, roll_m=roll_m)
    finger = -at.finger_behind_m * MM
    shift = -drag_m * MM * _seen_times(at)
    rest = np.array([9.0, 15.0, 21.0])
    down = 0.9  # the string under the finger, a little under the crown
    line_x = [LEFT_MM, finger - 1.5, finger + 1.5, 0.0, RIGHT_MM]
    line_y = [CROWN_MM + 3.6, down, down, CROWN_MM, CROWN_MM + 1.2]
    return [
        *_board("", frets=True, fret_mm=0.0, before_mm=-_fret_gap_mm(at)),
        *_finger(finger, roll_mm=roll_m * MM, low=down, axes=""),
        stroke(line_x, line_y, color=look.PITCH, width=4.0),
        _marks(rest, line_x, line_y, symbol="diamond-open"),
        _marks(rest + (shift if step >= 2 else 0.0), line_x, line_y, symbol="diamond"),
    ]


def _seen_times(at: FrettedString) -> float:
    """How much larger than it is the drag of the string is drawn, to one figure."""
    times = SEEN_MM / (_rolled(at, roll_m=1e-3)[1] * MM)
    power = float(10.0 ** np.floor(np.log10(times)))
    return float(power * round(times / power))


def _fret_gap_mm(at: FrettedString) -> float:
    return float(at.speaking_m * (2.0 ** (1.0 / 12.0) - 1.0) * MM)


def _fretless(roll_m: float) -> list[Trace]:
    end = -8.0 - roll_m * MM * 2.0  # the rolling fingertip carries the end of the string along
    line_x, line_y = [LEFT_MM, end, RIGHT_MM], [CROWN_MM + 2.0, 0.3, CROWN_MM + 1.6]
    return [
        *_board("2", frets=False, fret_mm=0.0, before_mm=0.0),
        *_finger(end, roll_mm=roll_m * MM, low=0.3, axes="2"),
        stroke(line_x, line_y, color=look.PITCH, width=4.0, axes="2"),
    ]


def _board(axes: str, *, frets: bool, fret_mm: float, before_mm: float) -> list[Trace]:
    wood = filled(
        [LEFT_MM, RIGHT_MM, RIGHT_MM, LEFT_MM],
        [BOARD_MM, BOARD_MM, -3.5, -3.5],
        color="#8A6D4B",
        axes=axes,
        opacity=0.45,
    )
    if not frets:
        return [wood]
    angle = np.linspace(0.0, np.pi, 25)
    crowns = [
        filled(
            middle + 1.4 * np.cos(angle), CROWN_MM * np.sin(angle), color=look.INK, axes=axes,
            opacity=0.75,
        )
        for middle in (fret_mm, before_mm)
        if middle > LEFT_MM
    ]  # fmt: skip
    return [wood, *crowns]


def _finger(middle: float, *, roll_mm: float, low: float, axes: str) -> list[Trace]:
    """A fingertip as a rounded shape that leans: its top goes further than its foot."""
    angle = np.linspace(0.0, 2.0 * np.pi, 60)
    wide, high = FINGER_MM, 10.0
    y = low + high * (1.0 - np.cos(angle))
    lean = -roll_mm * 2.4 * (y - low) / high
    x = middle + wide * np.sin(angle) + lean
    nail = y > low + 1.35 * high
    return [
        filled(x, y, color="#E8B48C", axes=axes, opacity=0.85),
        stroke(x, y, color=look.SOFT_INK, width=1.5, axes=axes),
        stroke(x[nail], y[nail], color=look.INK, width=3.0, axes=axes),
    ]


def _marks(x: Floats, line_x: list[float], line_y: list[float], *, symbol: str) -> Trace:
    return {
        **stroke(x, np.interp(x, line_x, line_y)),
        "mode": "markers",
        "marker": {"symbol": symbol, "size": 10, "color": look.INK},
    }


def _fretted_words(at: FrettedString, *, roll_m: float, step: int) -> list[dict[str, object]]:
    force_n, drag_m, cents = _rolled(at, roll_m=roll_m)
    sounding_n, nut_n = (float(part) for part in roll_tensions_n(at, drag_m=drag_m))
    found = [
        label("<b>with frets</b>", x=LEFT_MM, y=TOP_MM - 0.3, anchor="left", up="top"),
        label("← nut", x=LEFT_MM, y=-4.2, anchor="left", up="top", size=14),
        label("bridge →", x=RIGHT_MM, y=-4.2, anchor="right", up="top", size=14),
        label("fret", x=0, y=-4.2, up="top", size=14),
    ]
    way = "nut" if drag_m > 0 else "bridge"
    rolled = abs(roll_m) > UPRIGHT_M
    told = (
        "1 skin grips the string",
        f"2 and drags it {abs(drag_m) * 1e6:.0f} µm to the {way}*" if rolled else UPRIGHT,
        f"3 sounding side {sounding_n:.1f} N,<br>   nut side {nut_n:.1f} N",
        f"<b>4 pitch {signed(cents)} cents</b>",
    )
    lines = "<br>".join(told[:step])
    found.append(label(lines, x=LEFT_MM, y=REASONS_MM, anchor="left", up="top", size=15))
    seen = f"* diamonds: drawn {_seen_times(at):.0f} times as far"
    if step >= 2 and rolled:
        found.append(label(seen, x=RIGHT_MM - 0.6, y=-1.75, anchor="right", size=12))
        turn = -np.sign(roll_m)
        start = -8.0 - turn * 3.0
        found.append(arrow(tail=(start, 14.0), head=(start + turn * 12.0, 14.0)))
        found.append(
            label(f"{abs(force_n):.1f} N", x=start + turn * 6.0, y=15.2, up="bottom", size=14,
                  color=DARK_GREEN)
        )  # fmt: skip
    if step >= 3:
        found += _pull_arrows(at, sounding_n=sounding_n, nut_n=nut_n)
    return found


def _pull_arrows(at: FrettedString, *, sounding_n: float, nut_n: float) -> list[dict[str, object]]:
    """Two arrows along the string: the longer, the tighter."""
    found: list[dict[str, object]] = []
    for pull_n, start, way in ((sounding_n, 8.0, 1.0), (nut_n, -18.0, -1.0)):
        length = float(np.clip(9.0 + 90.0 * (pull_n / at.tension_n - 1.0), 2.0, 20.0))
        found.append(
            arrow(tail=(start, 7.0), head=(start + way * length, 7.0), color=look.PITCH, width=5.0)
        )
    return found


def _fretless_words(at: FrettedString, *, roll_m: float, step: int) -> list[dict[str, object]]:
    cents = float(fretless_cents(at.speaking_m, toward_bridge_m=-roll_m))
    longer = "longer" if roll_m > 0 else "shorter"
    rolled = abs(roll_m) > UPRIGHT_M
    told = (
        "1 the finger ends the string",
        f"2 which gets {abs(roll_m) * MM:.1f} mm {longer}" if rolled else UPRIGHT,
        "3 tension hardly moves",
        f"<b>4 pitch {signed(cents)} cents</b>",
    )
    lines = "<br>".join(told[:step])
    return [
        label("<b>without frets</b>", x=LEFT_MM, y=TOP_MM - 0.3, axes="2", anchor="left", up="top"),
        label("← nut", x=LEFT_MM, y=-4.2, axes="2", anchor="left", up="top", size=14),
        label("bridge →", x=RIGHT_MM, y=-4.2, axes="2", anchor="right", up="top", size=14),
        label(lines, x=LEFT_MM, y=REASONS_MM, axes="2", anchor="left", up="top", size=15),
    ]


# --- the string sticks on the fret ------------------------------------------------------------

STICK_S = 2.0
PULL_ROW = Place("", (0.0, 0.60), (0.58, 1.0))
PITCH_ROW = Place("2", (0.0, 0.60), (0.0, 0.40))
LOOP = Place("3", (0.72, 1.0), (0.0, 1.0))
STICK_NARROW = (
    Place("", (0.0, 1.0), (0.78, 1.0)),
    Place("2", (0.0, 1.0), (0.46, 0.68)),
    Place("3", (0.0, 1.0), (0.0, 0.32)),
)
MOST_PULL_N = 5.0


def stick_lines(
    at: FrettedString, *, pull_n: float, hold_n: float, rate_hz: float, time_s: Floats
) -> tuple[Floats, Floats]:
    """The finger's pull over time, and the cents that get past a fret that holds ``hold_n``."""
    pulled = pull_n * np.sin(2.0 * np.pi * rate_hz * time_s)
    return pulled, roll_cents_per_newton(at) * past_the_fret(pulled, hold_n=hold_n)


def stick_figure(at: FrettedString, *, pull_n: float, hold_n: float, rate_hz: float) -> go.Figure:
    """Pull and pitch over two seconds, and pitch over pull: a loop as wide as the fret holds."""
    time_s = np.linspace(0.0, STICK_S, 801)
    pulled, cents = stick_lines(at, pull_n=pull_n, hold_n=hold_n, rate_hz=rate_hz, time_s=time_s)
    free = roll_cents_per_newton(at) * pulled
    top = max(10.0, float(np.ceil(roll_cents_per_newton(at) * MOST_PULL_N / 10.0) * 10.0))
    traces = [
        stroke(time_s, pulled, color=look.FORCE, width=WIDE),
        stroke(time_s, free, color=look.SOFT_INK, width=2.0, dash="dot", axes="2"),
        stroke(time_s, cents, color=look.PITCH, width=WIDE, axes="2"),
        stroke(pulled, cents, color=look.PITCH, width=WIDE, axes="3"),
    ]
    most_n = 1.1 * MOST_PULL_N
    span, pulls, tops = (0.0, STICK_S), (-most_n, most_n), (-top, top)
    layout = {
        **axes_at(PULL_ROW, x="", y="N", x_range=span, y_range=pulls),
        **axes_at(PITCH_ROW, x="seconds", y="cents", x_range=span, y_range=tops),
        **axes_at(LOOP, x="pull, N", y="cents", x_range=pulls, y_range=tops),
        "annotations": [
            corner("the finger's pull along the string", y=most_n),
            corner("the pitch (dotted: if the fret held nothing)", y=top, axes="2"),
            corner("one against the other", y=top, x=-most_n, axes="3"),
        ],
        "meta": {"rows": [time_row(row, duration_s=STICK_S) for row in (PULL_ROW, PITCH_ROW)]},
    }
    rows = [time_row(row, duration_s=STICK_S) for row in STICK_NARROW[:2]]
    narrow = when_narrow(*STICK_NARROW, height_px=740, rows=rows)
    return assembled(traces, layout=layout, height_px=420, narrow=narrow)


def stick_words(at: FrettedString, *, pull_n: float, hold_n: float) -> str:
    """What `stick_figure` shows, in a sentence."""
    if pull_n == 0.0:
        return "The finger does not pull: the plain note."
    if pull_n <= hold_n:
        return (
            f"The finger pulls {pull_n:.1f} N to each side, the fret holds {hold_n:.1f} N: the "
            "string sticks on the fret and the pitch does not move at all."
        )
    cents = roll_cents_per_newton(at) * (pull_n - hold_n)
    held = f"holds {hold_n:.1f} N" if hold_n else "holds nothing"
    lags = ", and lags at every turn" if hold_n else ", and follows the finger"
    return (
        f"The finger pulls {pull_n:.1f} N to each side (the weight of {grams(pull_n)}), the fret "
        f"{held}: the pitch moves {cents:.0f} cents to each side (100 = one fret){lags}."
    )


# --- nylon beside steel -----------------------------------------------------------------------

ALONG = Place("", (0.0, 0.46), (0.0, 0.96))
TABLE = Place("2", (0.60, 1.0), (0.0, 0.96))
BESIDE_NARROW = when_narrow(
    Place("", (0.0, 1.0), (0.58, 1.0)), Place("2", (0.0, 1.0), (0.0, 0.38)), height_px=600
)
ROLL_FRETS = np.arange(1, 20)


def two_strings_figure(steel: FrettedString, nylon: FrettedString) -> go.Figure:
    """Cents a newton of roll along the neck, and the push that 50 cents of bend take."""
    pairs = (("steel", steel, "solid", look.PITCH), ("nylon", nylon, "dash", look.VERMILION))
    traces, notes = [], []
    for name, at, dash, color in pairs:
        rolled = [roll_cents_per_newton(_at_fret(at, int(n))) for n in ROLL_FRETS]
        traces.append(stroke(ROLL_FRETS, rolled, color=color, width=WIDE, dash=dash))
        side = 0.9 if name == "nylon" else -0.9
        notes.append(label(name, x=16.0, y=float(rolled[15]) + side, color=color))
    pushes_mm = [float(push_for_cents_m(at, cents=50.0)) * MM for _, at, _, _ in pairs]
    for n, ((name, _, _, color), mm) in enumerate(zip(pairs, pushes_mm, strict=True)):
        traces.append(_bar(n, mm, color=color, pattern="" if name == "steel" else "/"))
        notes.append(label(f"{mm:.1f} mm", x=n, y=mm, axes="2", up="bottom"))
    top = max(pushes_mm) * 1.25
    layout = {
        **axes_at(ALONG, x="fret", y="cents for 1 N", x_range=(0, 20), y_range=(0, 12)),
        **axes_at(TABLE, x="", y="mm", x_range=(-0.6, 1.6), y_range=(0, top)),
        "annotations": [
            *notes,
            corner("rolling: cents for one newton (102 g)", y=12.0),
            corner("bending: push for 50 cents, fret 12", y=top, x=-0.6, axes="2"),
        ],
    }
    layout["xaxis2"] |= {"tickvals": [0, 1], "ticktext": ["steel", "nylon"]}
    layout["xaxis"] |= {"tickvals": [1, 5, 7, 12, 17]}
    return assembled(traces, layout=layout, height_px=340, narrow=BESIDE_NARROW)


def two_strings_words(steel: FrettedString, nylon: FrettedString) -> str:
    """What `two_strings_figure` shows, in a sentence."""
    ends = [[roll_cents_per_newton(_at_fret(at, n)) for at in (steel, nylon)] for n in (2, 12)]
    pushes = [float(push_for_cents_m(at, cents=50.0)) * MM for at in (steel, nylon)]
    return (
        f"One newton of roll moves steel by {ends[0][0]:.1f} and nylon by {ends[0][1]:.1f} cents "
        f"at fret 2, by {ends[1][0]:.1f} and {ends[1][1]:.1f} cents at fret 12. To bend by 50 "
        f"cents steel needs {pushes[0]:.1f} mm sideways, nylon {pushes[1]:.1f} mm."
    )


def _at_fret(at: FrettedString, fret: int) -> FrettedString:
    return FrettedString(at.string, fret=fret, guitar=at.guitar)


def _bar(x: int, height: float, *, color: str, pattern: str) -> Trace:
    return {
        "type": "bar",
        "x": [x],
        "y": [height],
        "width": 0.6,
        "marker": {
            "color": color,
            "pattern": {"shape": pattern, "fgcolor": look.PAPER, "fillmode": "overlay"},
        },
        "hoverinfo": "skip",
        "xaxis": "x2",
        "yaxis": "y2",
    }
