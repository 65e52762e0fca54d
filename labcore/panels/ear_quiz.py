"""A quiz for the ear: two notes, one question. No count is kept, and nobody is told off."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from html import escape

import ipywidgets as w
import numpy as np

from labcore.audio import wav_bytes
from labcore.beats import beat_s
from labcore.model import Floats
from labcore.panels.controls import Button, Choice, StatusLine
from labcore.panels.physics_choice import side_by_side
from labcore.panels.sound import Sound
from labcore.synthesis import (
    NoteDescription,
    TakeDescription,
    click_times,
    fretted_hz,
    synthesise,
    waves,
)

RATE_HZ = 22050.0
TEMPO_BPM = 72.0
PLAIN_BEATS, WAVE_BEATS = 1, 3
WIDTH_CENTS = 60.0
LEVEL = 0.5  # as loud as the melodies and the long note of its lesson: none makes anyone start
LARGE, FINER = "plain to hear", "finer"
ORDER = ("first", "second")
# Sizes an ear can hear. Steady tones are told apart by musicians from 10 cents on, by others from
# 38 (Arndt, Schlemmer & van der Meer 2020, abstract); moving ones need more (common practice).
SHORT_CENTS = {LARGE: 45.0, FINER: 28.0}
WIDTH_SPREAD = {LARGE: 0.55, FINER: 0.33}
VALUES = {LARGE: (3, 4), FINER: (5, 6)}


@dataclass(frozen=True, slots=True)
class Pair:
    """Two sounds, and the question which of them is the one asked for."""

    question: str
    wanted: TakeDescription
    other: TakeDescription
    told: str  # what the other one did
    wanted_first: bool

    @property
    def answer(self) -> str:
        """The place of the one asked for."""
        return ORDER[0] if self.wanted_first else ORDER[1]

    def take(self, place: str) -> TakeDescription:
        """The take that stands first or second."""
        return self.wanted if place == self.answer else self.other


def _bar(
    *, cycles_per_beat: int, widths: Floats, return_cents: float = 0.0, clicks: bool = False
) -> TakeDescription:
    """A plain beat and three beats of waves."""
    step_s = beat_s(TEMPO_BPM)
    knots = waves(
        WAVE_BEATS * cycles_per_beat,
        rate_hz=cycles_per_beat / step_s,
        extent_cents=widths,
        return_cents=return_cents,
        start_s=PLAIN_BEATS * step_s,
    )
    length_s = (PLAIN_BEATS + WAVE_BEATS) * step_s + 0.1
    first_s = step_s if clicks else 0.0
    note = NoteDescription(
        first_s, length_s, fretted_hz(3, fret=9), knots=knots, decay_s=3.0, level=LEVEL
    )
    beats = 1 + PLAIN_BEATS + WAVE_BEATS if clicks else 0
    return TakeDescription(
        "quiz", first_s + length_s + 0.3, (note,), noise_db=None, sample_rate_hz=RATE_HZ,
        click_s=click_times(TEMPO_BPM, beats=beats, first_s=0.02), click_db=-22.0,
    )  # fmt: skip


def home_pair(size: str, *, rng: np.random.Generator) -> Pair:
    """One note whose waves come home, and one whose waves stop on the way."""
    short = SHORT_CENTS[size]
    widths = np.full(WAVE_BEATS * 3, WIDTH_CENTS)
    return Pair(
        "Which one comes home after every wave?",
        _bar(cycles_per_beat=3, widths=widths),
        _bar(cycles_per_beat=3, widths=widths, return_cents=short),
        f"the other one stops {short:.0f} cents above the plain note (100 = one fret). Listen to "
        "the bottom of the wave: does the first note come back?",
        bool(rng.integers(2)),
    )


def even_pair(size: str, *, rng: np.random.Generator) -> Pair:
    """One note with waves of one width, and one with wide and shy ones."""
    spread, number = WIDTH_SPREAD[size], WAVE_BEATS * 3
    share = rng.permutation(np.linspace(-1.0, 1.0, number))
    return Pair(
        "Which one has waves of one width?",
        _bar(cycles_per_beat=3, widths=np.full(number, WIDTH_CENTS)),
        _bar(cycles_per_beat=3, widths=WIDTH_CENTS * (1.0 + spread * share)),
        f"the waves of the other one are between {WIDTH_CENTS * (1 - spread):.0f} and "
        f"{WIDTH_CENTS * (1 + spread):.0f} cents wide. Listen to the tops: a row, or hills?",
        bool(rng.integers(2)),
    )


def click_pair(size: str, *, rng: np.random.Generator) -> Pair:
    """Two notes over a click, the same but for the number of waves to the click."""
    asked, other = (int(value) for value in rng.permutation(VALUES[size]))
    made = [
        _bar(cycles_per_beat=k, widths=np.full(WAVE_BEATS * k, WIDTH_CENTS * 0.8), clicks=True)
        for k in (asked, other)
    ]
    names = {3: "three", 4: "four", 5: "five", 6: "six"}
    return Pair(
        f"Which one has {names[asked]} waves to the click?",
        made[0],
        made[1],
        f"the other one has {names[other]}. Say the syllables over the click: which words fit?",
        bool(rng.integers(2)),
    )


KINDS: dict[str, Callable[..., Pair]] = {
    "coming home": home_pair,
    "even width": even_pair,
    "waves to the click": click_pair,
}


class EarQuiz(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """Hear two notes, say which one, read what the other one did; as often as you like."""

    def __init__(self, *, seed: int = 1) -> None:
        self._rng = np.random.default_rng(seed)
        self.kind = Choice("listen for", options=list(KINDS))
        self.size = Choice("difference", options=[LARGE, FINER])
        self.question, self.status = w.HTML(), StatusLine()
        self.sound = Sound({f"hear the {place}": partial(self._wav, place) for place in ORDER},
                           label="two notes to tell apart")  # fmt: skip
        self.answers = {place: Button(f"it is the {place}") for place in ORDER}
        for place, button in self.answers.items():
            button.on_press(partial(self._answer, place))
        self.again = Button("another pair")
        self.again.on_press(self._next)
        for control in (self.kind, self.size):
            control.observe(lambda _: self._next(), "value")
        self._next()
        super().__init__([
            side_by_side(self.kind, self.size),
            self.question,
            self.sound,
            side_by_side(*self.answers.values(), self.again),
            self.status,
        ])  # fmt: skip
        self.add_class("labcore-panel")

    def _next(self) -> None:
        self.pair = KINDS[self.kind.value](self.size.value, rng=self._rng)
        self.question.value = f"<p class='labcore-says'>{escape(self.pair.question)}</p>"
        self.status.say("Listen to both, as often as you like.")

    def _wav(self, place: str) -> bytes:
        made, _ = synthesise(self.pair.take(place), rng=np.random.default_rng(3))
        return wav_bytes(made)

    def _answer(self, place: str) -> None:
        right = place == self.pair.answer
        start = f"Yes, the {place}" if right else f"It is the {self.pair.answer}"
        self.status.say(f"{start}; {self.pair.told}")
