"""Panels of the lesson on the vibrato arm."""

from collections.abc import Callable, Sequence

import ipywidgets as w
import numpy as np

from labcore.audio import wav_bytes
from labcore.figures.physics_arm import (
    ARM_S,
    arm_figure,
    arm_line,
    arm_swing_figure,
    arm_swing_words,
    arm_words,
    fall_figure,
    fall_words,
)
from labcore.model import Floats
from labcore.panels.controls import Choice, Slider
from labcore.panels.physics_choice import Drawn, live, panel, side_by_side
from labcore.panels.physics_sound import chord, note_for, note_wav
from labcore.panels.sound import Sound
from labcore.physics.arm import Bridge, arm_cents, others_fall_cents, saddle_move_m
from labcore.physics.strings import SCALES_M, FrettedString, Guitar, string_set

STEEL_SETS = ("9-42", "10-46")
LEAN_S = 0.5  # how long the arm takes to go down


class _OwnArm:
    """The reader's bridge: set, scale and height of the saddle; and its open strings."""

    def __init__(self) -> None:
        self.gauges = Choice("set", options=STEEL_SETS)
        self.scale = Choice("scale", options=list(SCALES_M)[:2], value="long, 648 mm")
        self.height = Slider("saddle over the pivot", value=10, low=5, high=15, unit="mm")

    @property
    def controls(self) -> tuple[Choice | Slider, ...]:
        return self.gauges, self.scale, self.height

    @property
    def bridge(self) -> Bridge:
        return Bridge(saddle_height_m=self.height.value / 1e3)

    @property
    def strings(self) -> list[FrettedString]:
        guitar = Guitar(SCALES_M[self.scale.value])
        return [FrettedString(s, fret=0, guitar=guitar) for s in string_set(self.gauges.value)]


def arm_panel(*, degrees: float = -1.0) -> w.VBox:
    """The bridge on its springs: six strings, one movement, six intervals."""
    own = _OwnArm()
    angle = Slider(
        "turn of the bridge", value=degrees, low=-10.0, high=4.0, step=0.1, unit="degrees"
    )

    def draw() -> Drawn:
        bridge, strings, turned = own.bridge, own.strings, float(np.radians(angle.value))
        return Drawn(
            arm_figure(bridge, strings=strings, angle_rad=turned),
            arm_words(bridge, strings=strings, angle_rad=turned),
        )

    def lean(strings: Sequence[FrettedString]) -> bytes:
        return chord_wav(strings, lambda at: _lean(at, own.bridge, float(np.radians(angle.value))))

    makers = {
        "the third string": lambda: lean(own.strings[2:3]),
        "all six": lambda: lean(own.strings),
    }
    buttons = Sound(makers, label="listen: straight, then with the arm")
    picture, status = live(draw, controls=[*own.controls, angle])
    return panel(side_by_side(*own.controls), angle, picture, status, buttons)


def _lean(at: FrettedString, bridge: Bridge, angle_rad: float) -> Callable[[Floats], Floats]:
    def line(time_s: Floats) -> Floats:
        share = np.clip((time_s - 0.6) / LEAN_S, 0.0, 1.0)
        moved_m = saddle_move_m(bridge, angle_rad=angle_rad * (0.5 - 0.5 * np.cos(np.pi * share)))
        return arm_cents(at, saddle_m=moved_m)

    return line


def chord_wav(
    strings: Sequence[FrettedString], line_of: Callable[[FrettedString], Callable[[Floats], Floats]]
) -> bytes:
    """All strings plucked at once, each following its own line."""
    return wav_bytes(chord([note_for(at, line_of(at), duration_s=2.4) for at in strings]))


def arm_swing_panel(*, degrees: float = 0.8) -> w.VBox:
    """The arm swung evenly to and fro, and what three plain strings make of it."""
    own = _OwnArm()
    swing = Slider("swing to each side", value=degrees, low=0.0, high=3.0, step=0.1, unit="degrees")
    speed = Slider("speed", value=4.8, low=1.0, high=8.0, step=0.1, unit="waves a second")

    def swing_rad() -> float:
        return float(np.radians(swing.value))

    def draw() -> Drawn:
        bridge, strings = own.bridge, own.strings
        figure = arm_swing_figure(
            bridge, strings=strings, swing_rad=swing_rad(), rate_hz=speed.value
        )
        return Drawn(figure, arm_swing_words(bridge, strings=strings, swing_rad=swing_rad()))

    def hear(number: int) -> bytes:
        at = own.strings[number]

        def line(time_s: Floats) -> Floats:
            return arm_line(
                at, bridge=own.bridge, swing_rad=swing_rad(), rate_hz=speed.value, time_s=time_s
            )

        return note_wav(note_for(at, line, duration_s=ARM_S))

    makers = {f"string {n + 1}": (lambda n=n: hear(n)) for n in range(3)}
    buttons = Sound(makers, label="listen to the swing of the arm")
    controls = [*own.controls, swing, speed]
    picture, status = live(draw, controls=controls, player=buttons.voice)
    return panel(side_by_side(*own.controls), side_by_side(swing, speed), picture, status, buttons)


def fall_panel(*, cents: float = 100.0) -> w.VBox:
    """One string bent on a bridge that gives way: what the others do."""
    own = _OwnArm()
    bent = Choice("bent string", options=list("123456"), value="3")
    width = Slider("bent up by", value=cents, low=0, high=200, step=5, unit="cents (100 = 1 fret)")

    def draw() -> Drawn:
        strings = own.strings
        return Drawn(
            fall_figure(own.bridge, strings=strings, bent=int(bent.value) - 1, cents=width.value),
            fall_words(own.bridge, strings=strings, bent=int(bent.value) - 1, cents=width.value),
        )

    def sound() -> bytes:
        strings, number = own.strings, int(bent.value) - 1
        falls = others_fall_cents(own.bridge, strings=strings, bent=number, cents=width.value)
        pair = [number, number + 1 if number < 5 else number - 1]

        def line_of(at: FrettedString) -> Callable[[Floats], Floats]:
            aim = float(falls[strings.index(at)])
            return lambda time_s: (
                aim * (0.5 - 0.5 * np.cos(np.pi * np.clip((time_s - 0.6) / 0.4, 0, 1)))
            )

        return chord_wav([strings[n] for n in pair], line_of)

    buttons = Sound({"hear it with its neighbour": sound}, label="listen to the bent pair")
    picture, status = live(draw, controls=[*own.controls, bent, width])
    return panel(side_by_side(*own.controls), bent, width, picture, status, buttons)
