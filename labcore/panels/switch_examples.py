"""Takes that change the note value well and less well, made for the lesson on switching."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from labcore.beats import beat_s
from labcore.model import Floats, Recording, Take, Task
from labcore.switching import plan_of
from labcore.synthesis import (
    NoteDescription,
    TakeDescription,
    click_times,
    fretted_hz,
    synthesise,
    varied,
    waves,
)

TEMPO_BPM = 72.0
BEATS, PLAIN = 4, 1  # of a bar, and how many of them are held plain
COUNT_IN_S = 0.3 + BEATS * beat_s(TEMPO_BPM)
WIDTH_AT_TWO_CENTS = 60.0
JITTER_S = 0.006  # how far a good player's waves are off, one sigma
EARLY_S = 0.012  # a person tends to be a little before the click
RATE_HZ = 22050.0


@dataclass(frozen=True)
class SwitchExample:
    """A made take: what was planned, bar by bar, and the moments its waves begin at."""

    name: str
    values: tuple[int, ...]
    bars: tuple[Floats, ...]  # in beats after the bar's first click; the last one ends a wave

    @property
    def plan(self) -> tuple[tuple[float, int], ...]:
        """When which note value was asked from on."""
        return plan_of(self.values, first_s=COUNT_IN_S, bar_s=BEATS * beat_s(TEMPO_BPM))

    @cached_property
    def made(self) -> tuple[Recording, Take]:
        """Its sound, and what a perfect ear hears in it."""
        return synthesise(self._description, rng=np.random.default_rng(len(self.name)))

    @property
    def _description(self) -> TakeDescription:
        rng = np.random.default_rng(72)
        bar_s = BEATS * beat_s(TEMPO_BPM)
        notes = tuple(_note(bar, k * bar_s, rng=rng) for k, bar in enumerate(self.bars))
        duration_s = notes[-1].offset_s + 0.3
        clicks = click_times(TEMPO_BPM, beats=BEATS * (len(notes) + 1), first_s=0.3)
        return TakeDescription(
            self.name, duration_s, notes, click_s=clicks, click_db=-30.0,
            sample_rate_hz=RATE_HZ, task=Task(tempo_bpm=TEMPO_BPM),
        )  # fmt: skip


def _note(moments: Floats, after_s: float, *, rng: np.random.Generator) -> NoteDescription:
    times_s = moments * beat_s(TEMPO_BPM)
    times_s = times_s + np.clip(rng.normal(size=moments.size), -2.0, 2.0) * JITTER_S
    typical = WIDTH_AT_TWO_CENTS * np.clip(2.0 * np.diff(moments), 0.45, 1.0)
    knots = waves(
        moments.size - 1,
        cycle_times_s=times_s,
        extent_cents=varied(typical, count=moments.size - 1, spread_percent=5.0, rng=rng),
    )
    bar_s = BEATS * beat_s(TEMPO_BPM)
    return NoteDescription(
        round(COUNT_IN_S - EARLY_S + after_s, 6), bar_s - 1e-6, fretted_hz(3, fret=9),
        knots=knots, level=0.4, decay_s=2.5,
    )  # fmt: skip


def _grid(value: int, *, first: float = PLAIN, last: float = BEATS) -> Floats:
    return np.linspace(first, last, round((last - first) * value) + 1)


def _late(values: Sequence[int], *, beats: float) -> tuple[Floats, ...]:
    """The old value goes on for some beats after each change."""
    bars = []
    for before, value in zip((values[0], *values), values, strict=False):
        middle = PLAIN + (beats if value != before else 0.0)
        old = _grid(before, last=middle) if middle > PLAIN else np.array([float(PLAIN)])
        bars.append(np.concatenate([old, _grid(value, first=middle)[1:]]))
    return tuple(bars)


def _searching(values: Sequence[int], *, lengths: Sequence[float]) -> tuple[Floats, ...]:
    """The first waves after each change have lengths of their own, then sit on the grid."""
    bars = []
    for before, value in zip((values[0], *values), values, strict=False):
        moments = _grid(value)
        if value != before:
            own = PLAIN + np.cumsum([0.0, *lengths]) / value
            moments = np.concatenate([own, moments[round(sum(lengths)) + 1 :]])
        bars.append(moments)
    return tuple(bars)


def _sliding(first: float, last: float, *, bars: int) -> tuple[Floats, ...]:
    """The speed slides from one value to another over all bars."""
    played = BEATS - PLAIN
    fine = np.linspace(0.0, played, 2001)
    found = []
    for bar in range(bars):
        speed = first + (last - first) * (bar * played + fine) / (bars * played)
        waves_so_far = np.concatenate(
            [[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2.0 * np.diff(fine))]
        )
        number = np.arange(int(waves_so_far[-1]) + 1)
        found.append(PLAIN + np.interp(number, waves_so_far, fine))
    return tuple(found)


_STEPS = (2, 2, 3, 3, 4, 4)
EXAMPLES = (
    SwitchExample("two beats late each time", _STEPS, _late(_STEPS, beats=2.0)),
    SwitchExample(
        "searching for the new speed",
        (2, 2, 4, 4),
        _searching((2, 2, 4, 4), lengths=(1.7, 1.2, 1.8, 1.1, 1.75, 1.2, 1.65, 1.6)),
    ),
    SwitchExample("sliding instead of changing", (3, 3, 4, 4), _sliding(3.0, 4.0, bars=4)),
    SwitchExample(
        "four where five was planned",
        (3, 3, 4, 4, 5, 5, 6, 6),
        tuple(_grid(value) for value in (3, 3, 4, 4, 4, 4, 6, 6)),
    ),
)
