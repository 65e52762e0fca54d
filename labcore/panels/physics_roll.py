"""Panels of the lesson on rolling the finger along the string."""

import ipywidgets as w
import numpy as np

from labcore.figures.physics_roll import (
    STEPS,
    STICK_S,
    roll_figure,
    roll_words,
    stick_figure,
    stick_lines,
    stick_words,
    two_strings_figure,
    two_strings_words,
)
from labcore.model import Floats
from labcore.panels.controls import Choice, Slider
from labcore.panels.physics_choice import Drawn, OwnString, live, panel, side_by_side
from labcore.panels.physics_sound import Line, note_for, note_wav
from labcore.panels.picture import Picture
from labcore.panels.sound import Sound
from labcore.physics.rolling import fretless_cents, roll_cents, roll_drag_m, roll_force_by_hand_n
from labcore.physics.strings import NYLON_SET, FrettedString, Guitar, string_set

ROLLS_S = 2.4  # how long a roll to and fro is heard
ROLL_HZ = 5.0
PLAIN_S = 0.6  # plain at first, so that the ear knows home


def roll_panel(*, roll_mm: float = 1.0, step: int = 4) -> w.VBox:
    """The finger from the side: toward the nut and toward the bridge, with frets and without."""
    own = OwnString(fret=12)
    roll = Slider("roll toward the nut", value=roll_mm, low=-2.0, high=2.0, step=0.1, unit="mm")
    reasons = Choice("reasons up to", options=STEPS, value=STEPS[step - 1])

    def draw() -> Drawn:
        roll_m = roll.value / 1e3
        shown = STEPS.index(reasons.value) + 1
        figure = roll_figure(own.at, roll_m=roll_m, step=shown)
        return Drawn(figure, roll_words(own.at, roll_m=roll_m, step=shown))

    makers = {
        "hear the roll on frets": lambda: _to_and_fro(own.at, _fretted(own.at, roll.value)),
        "hear it without frets": lambda: _to_and_fro(own.at, _fretless(own.at, roll.value)),
    }
    buttons = Sound(makers, label="listen to the roll")
    picture, status = live(draw, controls=[*own.controls, roll, reasons])
    return panel(own.row(), side_by_side(roll, reasons), picture, status, buttons)


def _swing_mm(time_s: Floats, roll_mm: float) -> Floats:
    """The fingertip rolling to and fro after a plain start, toward the nut first."""
    moving = np.maximum(time_s - PLAIN_S, 0.0)
    return abs(roll_mm) * np.sin(2.0 * np.pi * ROLL_HZ * moving)


def _fretted(at: FrettedString, roll_mm: float) -> Line:
    def line(time_s: Floats) -> Floats:
        force_n = roll_force_by_hand_n(at, roll_m=_swing_mm(time_s, roll_mm) / 1e3)
        return roll_cents(at, drag_m=roll_drag_m(at, force_n=force_n))

    return line


def _fretless(at: FrettedString, roll_mm: float) -> Line:
    def line(time_s: Floats) -> Floats:
        return fretless_cents(at.speaking_m, toward_bridge_m=-_swing_mm(time_s, roll_mm) / 1e3)

    return line


def _to_and_fro(at: FrettedString, line: Line) -> bytes:
    return note_wav(note_for(at, line, duration_s=ROLLS_S))


def stick_panel(*, pull_n: float = 2.5, hold_n: float = 1.0) -> w.VBox:
    """A pull to and fro on a string that sticks on its fret: what is heard of it, and when."""
    own = OwnString(fret=12)
    pull = Slider(
        "pull to each side", value=pull_n, low=0.0, high=5.0, step=0.1, unit="N (1 N = 102 g)"
    )
    hold = Slider("the fret holds", value=hold_n, low=0.0, high=3.0, step=0.1, unit="N")

    def draw() -> Drawn:
        shape = {"pull_n": pull.value, "hold_n": hold.value}
        figure = stick_figure(own.at, rate_hz=ROLL_HZ, **shape)
        return Drawn(figure, stick_words(own.at, **shape))

    def sound() -> bytes:
        def line(time_s: Floats) -> Floats:
            shape = {"pull_n": pull.value, "hold_n": hold.value, "rate_hz": ROLL_HZ}
            return stick_lines(own.at, time_s=time_s, **shape)[1]

        return note_wav(note_for(own.at, line, duration_s=STICK_S))

    buttons = Sound({"hear this roll": sound}, label="listen to the sticking roll")
    picture, status = live(draw, controls=[*own.controls, pull, hold], player=buttons.voice)
    return panel(own.folded(), side_by_side(pull, hold), picture, status, buttons)


def two_strings_picture() -> Picture:
    """A plain steel third beside a nylon third: rolling alike, bending not at all."""
    steel = FrettedString(string_set("9-42")[2], fret=12)
    nylon = FrettedString(string_set(NYLON_SET)[2], fret=12, guitar=Guitar(0.650))
    return Picture(two_strings_figure(steel, nylon), words=two_strings_words(steel, nylon))
