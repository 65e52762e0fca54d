"""The practice form played by a person: pluck on 1, a plain beat, waves on the rest of the bar.

The defaults of `Playing` are a credible faultless take: lengths vary by 3 %, widths by 4.5 %,
and every wave comes home within 4 cents. A fault is planted by changing one of them.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from labcore.beats import beat_s, check_cycles_per_beat, check_tempo
from labcore.errors import LabError
from labcore.model import Floats, Place
from labcore.synthesis.description import Knots, NoteDescription
from labcore.synthesis.motion import played_times, varied, waves
from labcore.units import STANDARD_TUNING_NUMBERS, note_number_hz

MOST_AWAY_CENTS = 3.5  # a faultless homecoming is never further off


def fretted_hz(string: int, *, fret: int, tuned_cents: float = 0.0) -> float:
    """Pitch of a fretted string in standard tuning; the guitar may be a few cents off.

    >>> round(fretted_hz(3, fret=9), 2)
    329.63
    """
    if string not in range(1, len(STANDARD_TUNING_NUMBERS) + 1):
        raise LabError(f"There is no string {string} here; choose 1 (the thinnest) to 6.")
    number = STANDARD_TUNING_NUMBERS[string - 1] + fret + tuned_cents / 100.0
    return note_number_hz(number)


def click_times(tempo_bpm: float, *, beats: int, first_s: float = 0.0) -> tuple[float, ...]:
    """Times of ``beats`` clicks in seconds.

    >>> click_times(60, beats=3, first_s=0.5)
    (0.5, 1.5, 2.5)
    """
    return tuple(round(first_s + index * beat_s(tempo_bpm), 6) for index in range(beats))


@dataclass(frozen=True, slots=True)
class Playing:
    """How a person plays the form; one value of ``cycles_per_beat`` a bar."""

    tempo_bpm: float = 72.0
    cycles_per_beat: tuple[int, ...] = (3, 3, 3, 3)
    beats_per_bar: int = 4
    plain_beats: int = 1
    speed: float = 1.0  # 1.08 plays 8 % faster than the note value
    locked: bool = True  # keeps to the grid; else adds up its own lengths
    time_spread_percent: float = 3.0
    extent_cents: float = 50.0
    extent_spread_percent: float = 4.5
    return_cents: float = 0.0
    return_spread_cents: float = 1.5
    place: Place = Place.BOTTOM
    rise_share: float = 0.5
    late_s: float = -0.012  # a person tends to be a little before the click

    def __post_init__(self) -> None:
        check_tempo(self.tempo_bpm)
        for value in self.cycles_per_beat:
            check_cycles_per_beat(value)
        if not 0 <= self.plain_beats < self.beats_per_bar:
            raise LabError(
                f"{self.plain_beats} plain beats leave no waves in a bar of {self.beats_per_bar}; "
                "keep at least one beat for them."
            )


def homecomings(playing: Playing, *, count: int, rng: np.random.Generator) -> Floats:
    """Where each wave comes back to, in cents above home; shape (count,)."""
    scatter = rng.normal(scale=playing.return_spread_cents, size=count)
    scatter = np.clip(scatter, -MOST_AWAY_CENTS, MOST_AWAY_CENTS)
    if playing.place is Place.BOTTOM and playing.return_cents == 0.0:
        scatter = np.abs(scatter)  # a push from the fret cannot come back below it
    return np.asarray(playing.return_cents + scatter, dtype=np.float64)


def bar_knots(playing: Playing, *, cycles_per_beat: int, rng: np.random.Generator) -> Knots:
    """The pitch line of one bar of the form, counted from its beat 1."""
    step_s = beat_s(playing.tempo_bpm)
    rate_hz = cycles_per_beat * playing.speed / step_s
    beats = playing.beats_per_bar - playing.plain_beats
    count = int(beats * step_s * rate_hz + 1e-6)
    times_s = played_times(
        count,
        rate_hz=rate_hz,
        start_s=playing.plain_beats * step_s,
        spread_percent=playing.time_spread_percent,
        rng=rng,
        locked=playing.locked,
    )
    return waves(
        count,
        cycle_times_s=np.maximum(times_s, 0.0),
        extent_cents=varied(
            playing.extent_cents, count=count, spread_percent=playing.extent_spread_percent, rng=rng
        ),
        return_cents=homecomings(playing, count=count, rng=rng),
        place=playing.place,
        rise_share=playing.rise_share,
    )


def played_bars(
    playing: Playing,
    *,
    rng: np.random.Generator,
    hz: float,
    first_s: float,
    line: Callable[[int], Knots] | None = None,
    **note_parts: float,
) -> tuple[NoteDescription, ...]:
    """One plucked note a bar; ``first_s`` is the first bar's beat 1 on the clock of the take.

    ``line`` gives the pitch line of a bar by its number instead of `bar_knots`;
    ``note_parts`` go to every `NoteDescription` (level, decay_s, brightness ...).
    """
    bar_s = playing.beats_per_bar * beat_s(playing.tempo_bpm)
    notes = []
    for bar, value in enumerate(playing.cycles_per_beat):
        knots = line(bar) if line else bar_knots(playing, cycles_per_beat=value, rng=rng)
        onset_s = round(first_s + bar * bar_s + playing.late_s, 6)
        notes.append(NoteDescription(onset_s, bar_s, hz, knots=knots, **note_parts))  # type: ignore[arg-type]
    return tuple(_end_at_next(notes))


def _end_at_next(notes: list[NoteDescription]) -> list[NoteDescription]:
    """Rounded times must not make neighbours overlap by a microsecond."""
    ends = [note.onset_s for note in notes[1:]] + [notes[-1].offset_s] if notes else []
    return [
        replace(note, duration_s=min(note.duration_s, end_s - note.onset_s))
        for note, end_s in zip(notes, ends, strict=True)
    ]
