"""The finger's path beside the pitch line it draws."""

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.physics import (
    MM,
    WIDE,
    Place,
    assembled,
    axes_at,
    corner,
    label,
    point,
    time_row,
    when_narrow,
)
from labcore.figures.strokes import Trace, stroke
from labcore.model import Floats
from labcore.physics.bending import bend_cents
from labcore.physics.motion import (
    HandMotion,
    harmonics,
    humps,
    lumpiness,
    motion_cents,
    one_turn,
    rising_share,
)
from labcore.physics.rolling import roll_cents
from labcore.physics.strings import FrettedString
from labcore.units import signed

CIRCLE_S = 1.6
PATH = Place("", (0.0, 0.32), (0.0, 1.0))
LINE = Place("2", (0.45, 1.0), (0.0, 1.0))
PATH_NARROW = Place("", (0.0, 1.0), (0.58, 1.0))
LINE_NARROW = Place("2", (0.0, 1.0), (0.0, 0.40))
ARROWS = 8  # small heads along the path that show the sense of turning
ROUND_BELOW = 0.2  # second over first harmonic; words only, a choice, like the next two
SEEN_HUMP_CENTS = 1.0  # a hump is named from this height on
LEANS = 0.03  # of a turn, from rising and falling alike


def circle_figure(at: FrettedString, *, motion: HandMotion, turn_share: float) -> go.Figure:
    """The path of the finger on the string, and the pitch line with its two parts.

    ``turn_share`` from 0 to 1 is the moment of the turn that the two dots show.
    """
    time_s = np.linspace(0.0, CIRCLE_S, 641)
    cents = motion_cents(at, motion=motion, time_s=time_s)
    bend = bend_cents(at, push_m=motion.push_m(time_s))
    roll = roll_cents(at, drag_m=motion.drag_m(time_s))
    lowest = min(-15.0, float(np.min([cents, bend, roll])) * 1.15)
    top = max(60.0, float(np.max([cents, bend])) * 1.15)
    now_s = turn_share / motion.hand_hz
    traces = [
        *_path(at, motion=motion, now_s=now_s),
        stroke([0, CIRCLE_S], [0, 0], color=look.PLAIN_NOTE, width=2.0, dash="dash", axes="2"),
        stroke(time_s, bend, color=look.GREEN, width=2.0, dash="dash", axes="2"),
        stroke(time_s, roll, color=look.VERMILION, width=2.0, dash="dot", axes="2"),
        stroke(time_s, cents, color=look.PITCH, width=WIDE + 1, axes="2"),
        point(
            now_s, float(motion_cents(at, motion=motion, time_s=now_s)), color=look.INK, axes="2"
        ),
    ]
    layout = {
        **_path_axes(at, motion=motion),
        **axes_at(LINE, x="seconds", y="cents", x_range=(0, CIRCLE_S), y_range=(lowest, top)),
        "annotations": [
            corner("thick: the pitch; dashes: bend; dots: roll", y=top, axes="2"),
            *_path_words(at, motion=motion),
        ],
        "meta": {"rows": [time_row(LINE, duration_s=CIRCLE_S)]},
    }
    narrow = when_narrow(
        PATH_NARROW,
        LINE_NARROW,
        height_px=700,
        rows=[time_row(LINE_NARROW, duration_s=CIRCLE_S)],
    )
    return assembled(traces, layout=layout, height_px=400, narrow=narrow)


def _path_size(at: FrettedString, *, motion: HandMotion) -> tuple[float, float]:
    """Half-widths of the path's axes: micrometres along, millimetres across."""
    return (
        max(12.0, abs(motion.along_m) * 1e6 * 1.35),
        max(5.0, (motion.offset_m + motion.sideways_m) * MM * 1.2),
    )


def _path_axes(at: FrettedString, *, motion: HandMotion) -> dict[str, object]:
    along, across = _path_size(at, motion=motion)
    return axes_at(
        PATH,
        x="dragged, µm (← nut)",
        y="pushed aside, mm",
        x_range=(along, -along),  # the nut is on the left, as in the pictures of a neck
        y_range=(-0.25 * across, across)
        if motion.offset_m >= motion.sideways_m
        else (-across, across),
    )


def _path_words(at: FrettedString, *, motion: HandMotion) -> list[dict[str, object]]:
    along, across = _path_size(at, motion=motion)
    return [
        corner("the finger's path", y=across, x=along),
        label("straight string", x=-along, y=0.0, anchor="right", up="top", size=look.SMALL_PX),
    ]


def _path(at: FrettedString, *, motion: HandMotion, now_s: float) -> list[Trace]:
    along, _ = _path_size(at, motion=motion)
    time_s = np.linspace(0.0, 1.0, 161) / motion.hand_hz
    heads_s = (np.arange(ARROWS) + 0.5) / ARROWS / motion.hand_hz
    return [
        stroke([-along, along], [0, 0], color=look.PLAIN_NOTE, width=2.0, dash="dash"),
        stroke(
            motion.drag_m(time_s) * 1e6, motion.push_m(time_s) * MM, color=look.FORCE, width=WIDE
        ),
        _heads(at, motion=motion, time_s=heads_s),
        point(
            float(motion.drag_m(now_s)) * 1e6, float(motion.push_m(now_s)) * MM,
            color=look.INK, size=16,
        ),
    ]  # fmt: skip


def _heads(at: FrettedString, *, motion: HandMotion, time_s: Floats) -> Trace:
    along, across = _path_size(at, motion=motion)
    step_s = 0.01 / motion.hand_hz
    dx = (motion.drag_m(time_s + step_s) - motion.drag_m(time_s)) * 1e6 / along
    dy = (motion.push_m(time_s + step_s) - motion.push_m(time_s)) * MM / across
    moving = np.hypot(dx, dy) > 1e-4
    angle = np.degrees(np.arctan2(-dx, dy))  # plotly turns clockwise from pointing up
    return {
        **stroke(motion.drag_m(time_s)[moving] * 1e6, motion.push_m(time_s)[moving] * MM),
        "mode": "markers",
        "marker": {"symbol": "arrow", "size": 13, "angle": angle[moving], "color": "#006B4E"},
    }


def circle_words(at: FrettedString, *, motion: HandMotion) -> str:
    """What `circle_figure` shows, in a sentence: width, roundness and lean."""
    wave = one_turn(at, motion=motion)
    width = float(np.ptp(wave))
    if width < 0.5:
        return "The finger rests: a plain note."
    _, first, second = harmonics(wave, count=2)
    rise = 100 * rising_share(wave)
    return (
        f"{width:.0f} cents wide from {signed(wave.min())} to {signed(wave.max())} (100 = one "
        f"fret), {_shape(wave)}. The wave at the hand's own speed has {first:.0f} cents, the one "
        f"at twice its speed {second:.0f}; the pitch rises during {rise:.0f} % of a turn."
    )


def _shape(wave: Floats) -> str:
    if humps(wave, least_cents=SEEN_HUMP_CENTS) > 1:
        return "a lumpy wave: two humps in every turn"
    if lumpiness(wave) < ROUND_BELOW:
        return "a round wave"
    rise = rising_share(wave)
    if abs(rise - 0.5) > LEANS:
        ways = ("slowly up, quickly down", "quickly up, slowly down")
        return f"a wave that leans: {ways[0] if rise > 0.5 else ways[1]}"
    return "a wave with a flat foot"
