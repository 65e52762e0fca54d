"""Panels of the lesson on pushing a string sideways."""

import ipywidgets as w
import numpy as np

from labcore.figures.physics_bend import (
    BOTH_S,
    MOST_PUSH_MM,
    bend_figure,
    bend_words,
    neck_figure,
    neck_words,
    swing_figure,
    swing_words,
)
from labcore.model import Floats
from labcore.panels.controls import Slider
from labcore.panels.physics_choice import Drawn, OwnString, live, panel, side_by_side
from labcore.panels.physics_sound import Line, note_for, note_wav
from labcore.panels.sound import Sound
from labcore.physics.bending import bend_cents
from labcore.physics.motion import HandMotion, motion_cents
from labcore.physics.strings import FrettedString, string_set

PLAIN_S = 0.7  # how long the plain note is held before it is pushed
PUSH_S = 0.35  # and how long the push takes


def bend_panel(*, push_mm: float = 5.0) -> w.VBox:
    """One push on the reader's own string: the two triangles, and what they do to the pitch."""
    own = OwnString()
    push = Slider("push", value=push_mm, low=0.0, high=MOST_PUSH_MM, step=0.1, unit="mm sideways")

    def draw() -> Drawn:
        at, push_m = own.at, push.value / 1e3
        return Drawn(bend_figure(at, push_m=push_m), bend_words(at, push_m=push_m))

    def sound() -> bytes:
        return note_wav(note_for(own.at, _pushed(own.at, push.value / 1e3), duration_s=2.4))

    picture, status = live(draw, controls=[*own.controls, push])
    buttons = Sound({"hear the plain note, then the push": sound}, label="listen to the push")
    return panel(own.row(), push, picture, status, buttons)


def _pushed(at: FrettedString, push_m: float) -> Line:
    def line(time_s: Floats) -> Floats:
        share = np.clip((time_s - PLAIN_S) / PUSH_S, 0.0, 1.0)
        return bend_cents(at, push_m=push_m * (0.5 - 0.5 * np.cos(np.pi * share)))

    return line


def neck_panel(*, cents: float = 50.0) -> w.VBox:
    """What one width takes along the neck, and on all six strings at the chosen fret."""
    own = OwnString()
    width = Slider(
        "width", value=cents, low=20.0, high=200.0, step=5.0, unit="cents (100 = 1 fret)"
    )

    def draw() -> Drawn:
        at = own.at
        six = [
            FrettedString(s, fret=at.fret, guitar=at.guitar) for s in string_set(own.gauges.value)
        ]
        return Drawn(
            neck_figure(at, strings=six, cents=width.value),
            neck_words(at, strings=six, cents=width.value),
        )

    picture, status = live(draw, controls=[*own.controls, width])
    return panel(own.row(), width, picture, status)


def swing_panel(*, middle_mm: float = 0.0, swing_mm: float = 3.0, hand_hz: float = 2.4) -> w.VBox:
    """The finger swinging across the neck: through the straight string, or on one side of it."""
    own = OwnString()
    middle = Slider("middle of the swing", value=middle_mm, low=0.0, high=6.0, step=0.1, unit="mm")
    swing = Slider("swing to each side", value=swing_mm, low=0.5, high=6.0, step=0.1, unit="mm")
    hand = Slider("hand", value=hand_hz, low=1.0, high=6.0, step=0.1, unit="swings a second")

    def motion() -> HandMotion:
        return HandMotion(
            offset_m=middle.value / 1e3, sideways_m=swing.value / 1e3, hand_hz=hand.value
        )

    def draw() -> Drawn:
        return Drawn(swing_figure(own.at, motion=motion()), swing_words(own.at, motion=motion()))

    def sound() -> bytes:
        at, moved = own.at, motion()
        line = note_for(at, lambda t: motion_cents(at, motion=moved, time_s=t), duration_s=BOTH_S)
        return note_wav(line)

    buttons = Sound({"hear this swing": sound}, label="listen to the swing")
    picture, status = live(
        draw, controls=[*own.controls, middle, swing, hand], player=buttons.voice
    )
    return panel(own.folded(), side_by_side(middle, swing, hand), picture, status, buttons)
