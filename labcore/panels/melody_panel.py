"""Panels of the lesson on where vibrato goes: melodies to mark, a long note, a quiz for the ear."""

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as w
import numpy as np
import traitlets

from labcore.audio import wav_bytes
from labcore.exercises.engraved import melody_svg
from labcore.exercises.melodies import (
    MELODIES,
    SHAKES,
    Melody,
    Shake,
    melody_take,
    note_spans,
    shaken_at,
    shaken_everywhere,
)
from labcore.figures.phrase import LONG_S, shake_figure, shake_words
from labcore.findings.words import count, listed
from labcore.panels.controls import Choice, fold
from labcore.panels.physics_choice import Drawn, live
from labcore.panels.sound import Sound
from labcore.synthesis import NoteDescription, TakeDescription, fretted_hz, synthesise

HERE = Path(__file__).parent
RATE_HZ = 22050.0


class Marks(anywidget.AnyWidget):
    """An engraved melody with a box to tick under each note.

    ``marked`` are the places of the ticked notes, from 0. The note that sounds is shown while
    ``player`` plays.
    """

    _esm = HERE / "marks.js"
    _css = HERE / "marks.css"
    svg = traitlets.Unicode().tag(sync=True)
    notes = traitlets.List(traitlets.Dict()).tag(sync=True)
    words = traitlets.Unicode().tag(sync=True)
    player = traitlets.Unicode().tag(sync=True)
    scale = traitlets.Float(1.75).tag(sync=True)
    marked = traitlets.List(traitlets.Int()).tag(sync=True)

    def __init__(self, melody: Melody, *, player: str = "") -> None:
        super().__init__(player=player)
        self.show(melody)

    def show(self, melody: Melody) -> None:
        """Show another melody, with nothing marked."""
        spans = note_spans(melody)
        with self.hold_sync():
            self.marked = []
            self.words = f"{melody.title}: tick the notes that are to move"
            self.notes = [
                {"place": k, "span": spans[k], "words": note_words(melody, k)}
                for k in melody.sounding
            ]
            self.svg = melody_svg(melody.name)

    def __repr__(self) -> str:
        return f"Marks: {self.words}"


def note_words(melody: Melody, place: int) -> str:
    """A note as a screen reader says it.

    >>> note_words(MELODIES[0], 3)
    'note 4, B, 3 beats'
    """
    note = melody.notes[place]
    number = melody.sounding.index(place) + 1
    beats = "half a beat" if note.beats == 0.5 else count_beats(note.beats)
    return f"note {number}, {note.name}, {beats}"


def count_beats(beats: float) -> str:
    """A length in beats.

    >>> count_beats(1.0), count_beats(3.0)
    ('1 beat', '3 beats')
    """
    return f"{beats:g} beat" if beats == 1.0 else f"{beats:g} beats"


@lru_cache(maxsize=12)
def _sounded(name: str, shaken: tuple[tuple[int, Shake], ...]) -> bytes:
    melody = next(one for one in MELODIES if one.name == name)
    take = melody_take(melody, shaken=dict(shaken))
    return wav_bytes(synthesise(take, rng=np.random.default_rng(12))[0])


def melody_wav(melody: Melody, *, shaken: Mapping[int, Shake]) -> bytes:
    """The melody's sound file, with vibrato at the places of ``shaken``."""
    return _sounded(melody.name, tuple(sorted(shaken.items(), key=lambda item: item[0])))


class MelodyPanel(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """A melody: mark where vibrato belongs, say how it begins, and listen. Nothing is judged."""

    def __init__(self) -> None:
        self._titles = {melody.title: melody for melody in MELODIES}
        self.chosen = Choice("melody", options=list(self._titles))
        self.how = Choice("your vibrato begins", options=list(SHAKES), value="late")
        makers: dict[str, Callable[[], bytes]] = {
            "plain": lambda: self._wav({}),
            "where you marked": lambda: self._wav(self.yours),
            "where we would": lambda: self._wav(self.melody.chosen),
            "on every note": lambda: self._wav(shaken_everywhere(self.melody)),
        }
        self.sound = Sound(makers, label="listen to the melody")
        self.marks = Marks(self.melody, player=self.sound.voice)
        self.told = w.HTML()
        self.ours = w.HTML()
        self._tell()
        self.chosen.observe(self._turn, "value")
        self.marks.observe(lambda _: self._tell(), "marked")
        self.how.observe(lambda _: self._tell(), "value")
        super().__init__([
            self.chosen, self.marks, self.told, self.how, self.sound,
            fold("where we would, and why", self.ours),
        ])  # fmt: skip
        self.add_class("labcore-panel")

    @property
    def melody(self) -> Melody:
        """The melody that is shown."""
        return self._titles[self.chosen.value]

    @property
    def yours(self) -> Mapping[int, Shake]:
        """Vibrato where the reader marked it."""
        return shaken_at(self.melody, places=self.marks.marked, shake=SHAKES[self.how.value])

    def _wav(self, shaken: Mapping[int, Shake]) -> bytes:
        return melody_wav(self.melody, shaken=shaken)

    def _turn(self, _change: Any) -> None:
        self.marks.show(self.melody)
        self._tell()

    def _tell(self) -> None:
        self.told.value = _note_html(marked_words(self.melody, self.marks.marked, self.yours))
        self.ours.value = _note_html(ours_words(self.melody))


def marked_words(melody: Melody, marked: Sequence[int], yours: Mapping[int, Shake]) -> str:
    """What the reader's marks come to; says which notes are too short to hold two waves."""
    if not marked:
        return "Nothing is marked yet: tick the boxes under the notes that are to move."
    short = [note_words(melody, place) for place in marked if place not in yours]
    told = f"{count(len(marked), 'note').capitalize()} of {len(melody.sounding)} marked."
    if short:
        told += f" Too short here for two waves, so plain: {listed(short)}."
    return told


def ours_words(melody: Melody) -> str:
    """Where we would let the melody move, and why."""
    names = {id(shake): words for words, shake in SHAKES.items()}
    places = [
        f"{note_words(melody, place)} ({names[id(shake)]})"
        for place, shake in melody.chosen.items()
    ]
    told = listed(places)
    return f"{told[:1].upper()}{told[1:]}. {melody.why} Another player would choose otherwise."


def _note_html(words: str) -> str:
    return f"<p class='labcore-note'>{escape(words)}</p>"


# --- one long note ----------------------------------------------------------------------------


def shake_panel() -> w.VBox:
    """One long note four ways: at once, late, growing, late and growing."""
    how = Choice("the vibrato begins", options=list(SHAKES), value="late and growing")

    def long_note() -> bytes:
        return long_note_wav(SHAKES[how.value])

    buttons = Sound(
        {"hear it": long_note, "plain": lambda: long_note_wav(None)}, label="listen to the note"
    )
    picture, status = live(
        lambda: Drawn(shake_figure(how.value), shake_words(how.value)),
        controls=[how],
        player=buttons.voice,
    )
    return w.VBox([how, picture, status, buttons])


def long_note_wav(shake: Shake | None) -> bytes:
    """A long plucked E with that vibrato, or plain."""
    knots = shake.knots(LONG_S) if shake else ()
    note = NoteDescription(0.0, LONG_S, fretted_hz(3, fret=9), knots=knots, decay_s=3.5, level=0.5)
    take = TakeDescription(
        "a note", note.offset_s + 0.3, (note,), noise_db=None, sample_rate_hz=RATE_HZ
    )
    return wav_bytes(synthesise(take, rng=np.random.default_rng(5))[0])
