"""The panel of the lesson on circles: the finger's path and the pitch line it draws."""

import ipywidgets as w
import numpy as np

from labcore.figures.physics_circle import CIRCLE_S, circle_figure, circle_words
from labcore.panels.controls import Choice, Slider
from labcore.panels.physics_choice import Drawn, OwnString, live, panel, side_by_side
from labcore.panels.physics_sound import note_for, note_wav
from labcore.panels.sound import Sound
from labcore.physics.motion import HandMotion, motion_cents
from labcore.physics.rolling import roll_cents_per_metre

# Which movement comes first: the roll's lead over the push, in degrees of a turn.
SHAPES = {
    "roll and push together": 0.0,
    "a circle": 90.0,
    "the circle turned round": 270.0,
    "against each other": 180.0,
}


def circle_panel(*, shape: str = "a circle") -> w.VBox:
    """Push and roll joined: middle, size of both, which comes first; and the wave they make."""
    own = OwnString(fret=12)
    middle = Slider("middle of the push", value=3.0, low=0.0, high=6.0, step=0.1, unit="mm")
    push = Slider("push to each side", value=3.0, low=0.0, high=4.0, step=0.1, unit="mm")
    roll = Slider("roll alone gives", value=15, low=0, high=40, unit="cents to each side")
    first = Slider(
        "roll comes first by", value=SHAPES[shape], low=0, high=360, unit="degrees (360 = one turn)"
    )
    hand = Slider("hand", value=4.8, low=1.0, high=8.0, step=0.1, unit="turns a second")
    moment = Slider("moment", value=0, low=0, high=100, unit="% of a turn")
    ready = Choice("ready-made", options=list(SHAPES), value=shape)
    ready.observe(lambda change: setattr(first, "value", SHAPES[change["new"]]), names="value")

    def motion() -> HandMotion:
        return HandMotion(
            offset_m=middle.value / 1e3,
            sideways_m=push.value / 1e3,
            along_m=roll.value / roll_cents_per_metre(own.at),
            phase_rad=float(np.radians(first.value)),
            hand_hz=hand.value,
        )

    def draw() -> Drawn:
        figure = circle_figure(own.at, motion=motion(), turn_share=moment.value / 100)
        return Drawn(figure, circle_words(own.at, motion=motion()))

    def sound() -> bytes:
        at, moved = own.at, motion()
        note = note_for(at, lambda t: motion_cents(at, motion=moved, time_s=t), duration_s=CIRCLE_S)
        return note_wav(note)

    buttons = Sound({"hear this movement": sound}, label="listen to the movement")
    moved = [middle, push, roll, first, hand, moment]
    picture, status = live(draw, controls=[*own.controls, *moved], player=buttons.voice)
    return panel(own.folded(), ready, side_by_side(*moved), picture, status, buttons)
