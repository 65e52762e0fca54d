"""Panels of the lesson that tells vibrato from tremolo."""

from dataclasses import replace

import ipywidgets as w
import numpy as np

from labcore.figures.physics_wobble import (
    SHOWN_S,
    mean_figure,
    mean_words,
    wobble_figure,
    wobble_words,
)
from labcore.panels.controls import Choice, Slider
from labcore.panels.physics_choice import Drawn, OwnString, live, panel, side_by_side
from labcore.panels.physics_sound import note_for, note_wav
from labcore.panels.sound import Sound
from labcore.physics.hearing import Wobble, swell_db, wave_cents
from labcore.physics.strings import FrettedString, string_set

WAYS = ("up only", "both ways")
NOTE = FrettedString(string_set("9-42")[2], fret=9)  # E4, where the practice starts
WIDTH_UNIT = "cents, bottom to top (100 = 1 fret)"


def wobble_wav(wobble: Wobble, *, at: FrettedString = NOTE) -> bytes:
    """A plucked note whose pitch, loudness or both wobble."""
    time_s = np.arange(0.0, SHOWN_S, 0.01)
    level_db = swell_db(wobble, time_s=time_s)
    note = note_for(
        at,
        lambda t: wave_cents(wobble, time_s=t),
        duration_s=SHOWN_S,
        loudness=list(zip(time_s.tolist(), level_db.tolist(), strict=True)),
    )
    return note_wav(note)


def wobble_panel() -> w.VBox:
    """One note with a pitch wobble and a loudness wobble of the same speed, to see and to hear."""
    speed = Slider("speed", value=4.8, low=0.5, high=9.0, step=0.1, unit="waves a second")
    width = Slider("width", value=60, low=0, high=120, unit=WIDTH_UNIT)
    swell = Slider("loudness wobble", value=0, low=0, high=18, unit="dB")
    way = Choice("direction", options=WAYS)
    own = OwnString(fret=NOTE.fret)

    def wobble() -> Wobble:
        return Wobble(
            rate_hz=speed.value,
            extent_cents=width.value,
            swell_db=swell.value,
            up_only=way.value == WAYS[0],
        )

    def draw() -> Drawn:
        plain_hz = own.at.plain_hz
        return Drawn(
            wobble_figure(wobble(), plain_hz=plain_hz), wobble_words(wobble(), plain_hz=plain_hz)
        )

    def hear(heard: Wobble) -> bytes:
        return wobble_wav(heard, at=own.at)

    makers = {
        "hear it": lambda: hear(wobble()),
        "only the pitch part": lambda: hear(replace(wobble(), swell_db=0.0)),
        "only the loudness part": lambda: hear(replace(wobble(), extent_cents=0.0)),
    }
    buttons = Sound(makers, label="listen to the wobble")
    controls = [*own.controls, speed, width, swell, way]
    picture, status = live(draw, controls=controls, player=buttons.voice)
    return panel(own.folded(), side_by_side(speed, width, swell, way), picture, status, buttons)


def which_is_which() -> Sound:
    """Two notes without names: one vibrato, one tremolo, of the same speed."""
    loud, pitch = Wobble(4.8, extent_cents=0.0, swell_db=12.0), Wobble(4.8)
    return Sound(
        {"first note": lambda: wobble_wav(loud), "second note": lambda: wobble_wav(pitch)},
        label="two notes to tell apart",
    )


def mean_panel() -> w.VBox:
    """A vibrato and a straight note to lay beside it: which pitch is it that is heard."""
    width = Slider("width", value=60, low=0, high=120, unit=WIDTH_UNIT)
    rest = Slider("rest at home", value=0, low=0, high=60, step=5, unit="% of each wave")
    straight = Slider("straight note", value=0, low=-40, high=120, unit="cents over the plain note")
    way = Choice("direction", options=WAYS)

    def wobble() -> Wobble:
        return Wobble(
            extent_cents=width.value, rest_share=rest.value / 100, up_only=way.value == WAYS[0]
        )

    def draw() -> Drawn:
        figure = mean_figure(wobble(), straight_cents=straight.value)
        return Drawn(figure, mean_words(wobble()))

    makers = {
        "the vibrato": lambda: wobble_wav(wobble()),
        "the straight note": lambda: held_wav(straight.value),
        "the plain note": lambda: held_wav(0.0),
    }
    buttons = Sound(makers, label="listen and compare")
    picture, status = live(draw, controls=[width, rest, straight, way], player=buttons.voice)
    return panel(side_by_side(width, rest, straight, way), picture, status, buttons)


def held_wav(cents: float) -> bytes:
    """The same plucked E, held straight ``cents`` above its plain pitch."""
    return note_wav(note_for(NOTE, lambda t: np.full(t.size, cents), duration_s=SHOWN_S))
