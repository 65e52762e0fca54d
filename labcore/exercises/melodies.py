"""Three short melodies of our own, and vibrato on some of their notes.

Where a vibrato belongs in a phrase is taste. These are one answer each, for a reader to disagree
with: on long notes and at the ends of phrases, plain first (common practice, no source).
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from labcore.beats import beat_s
from labcore.errors import LabError
from labcore.synthesis import Knots, NoteDescription, TakeDescription, swell, waves
from labcore.units import note_number_hz

LEAST_WAVES = 2  # fewer are no vibrato
LAST_PLAIN_S = 0.12  # a note is let come to rest before the next one
RELEASE_S = 0.03  # between two notes
LEAD_S = 0.2
SOUND_RATE_HZ = 22050.0
NAMES = ("C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B")


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """A note, or a rest where ``number`` is None; ``number`` is the sounding MIDI note."""

    number: int | None
    beats: float

    @property
    def name(self) -> str:
        """Its letter as it is said."""
        return "rest" if self.number is None else NAMES[self.number % 12]


@dataclass(frozen=True, slots=True)
class Shake:
    """How a note is made to move: plain for a share of it, then waves of a growing width."""

    plain_share: float = 0.0
    from_cents: float = 40.0
    to_cents: float = 40.0
    rate_hz: float = 5.2

    def knots(self, duration_s: float) -> Knots:
        """The pitch line of a note so long; plain where there is no room for two waves."""
        start_s = self.plain_share * duration_s
        count = int((duration_s - start_s - LAST_PLAIN_S) * self.rate_hz)
        if count < LEAST_WAVES:
            return ()
        widths = swell(count, from_cents=self.from_cents, to_cents=self.to_cents)
        return waves(count, rate_hz=self.rate_hz, extent_cents=widths, start_s=start_s)


AT_ONCE = Shake()
LATE = Shake(plain_share=0.45)
GROWING = Shake(from_cents=10.0, to_cents=65.0)
LATE_AND_GROWING = Shake(plain_share=0.35, from_cents=10.0, to_cents=60.0, rate_hz=4.8)
SHAKES: Mapping[str, Shake] = {
    "at once": AT_ONCE,
    "late": LATE,
    "growing": GROWING,
    "late and growing": LATE_AND_GROWING,
}


@dataclass(frozen=True, slots=True)
class Melody:
    """A melody, and where we would let it move: ``chosen`` maps places (from 0) to shakes."""

    name: str
    title: str
    tempo_bpm: float
    beats_per_bar: int
    notes: tuple[MelodyNote, ...]
    chosen: Mapping[int, Shake]
    why: str

    @property
    def starts(self) -> tuple[float, ...]:
        """When each note begins, in beats."""
        return tuple(sum(note.beats for note in self.notes[:k]) for k in range(len(self.notes)))

    @property
    def sounding(self) -> tuple[int, ...]:
        """Places of the notes that are no rests."""
        return tuple(k for k, note in enumerate(self.notes) if note.number is not None)


def _notes(*pairs: tuple[int | None, float]) -> tuple[MelodyNote, ...]:
    return tuple(MelodyNote(number, beats) for number, beats in pairs)


MELODIES = (
    Melody(
        "evening",
        "The boats come in",
        66.0,
        4,
        _notes(
            (52, 1), (55, 1), (57, 2),
            (59, 3), (57, 1),
            (55, 1), (57, 1), (55, 1), (50, 1),
            (52, 4),
        ),
        {3: LATE, 9: LATE_AND_GROWING},
        "The long B is the top of the phrase, and the last E its end. The A before them only leads "
        "there, so it stays plain.",
    ),
    Melody(
        "rowing",
        "Row to the other side",
        88.0,
        3,
        _notes(
            (50, 1), (55, 1), (57, 1),
            (59, 2), (57, 1),
            (55, 1), (57, 1), (59, 1),
            (57, 3),
            (62, 2), (59, 1),
            (57, 1), (55, 1), (52, 1),
            (54, 2), (57, 1),
            (55, 3),
        ),
        {8: LATE, 9: AT_ONCE, 16: LATE_AND_GROWING},
        "The A ends the question, the high D is where the voice rises, the last G is home. Two "
        "beats are short at this pace: the D moves at once or not at all.",
    ),
    Melody(
        "rain",
        "Rain on the boathouse roof",
        72.0,
        4,
        _notes(
            (57, 0.5), (60, 0.5), (62, 1), (60, 0.5), (57, 0.5), (55, 1),
            (57, 3), (None, 1),
            (52, 0.5), (55, 0.5), (57, 1), (55, 0.5), (52, 0.5), (50, 1),
            (52, 4),
        ),
        {6: GROWING, 14: LATE},
        "Quick notes are on their way somewhere and stay plain. The first long note asks and "
        "grows, the last one answers: it waits, and then moves only a little.",
    ),
)  # fmt: skip


def melody_named(name: str) -> Melody:
    """The melody of that name.

    >>> melody_named("rain").beats_per_bar
    4
    """
    for melody in MELODIES:
        if melody.name == name:
            return melody
    raise LabError(f"There is no melody “{name}”; there are {', '.join(m.name for m in MELODIES)}.")


def shaken_everywhere(melody: Melody, *, shake: Shake = AT_ONCE) -> Mapping[int, Shake]:
    """The same shake on every note that is long enough to hold it."""
    return {place: shake for place in melody.sounding if _holds(melody, place, shake)}


def shaken_at(
    melody: Melody, *, places: Collection[int], shake: Shake = LATE
) -> Mapping[int, Shake]:
    """A shake at the marked places; where it does not fit, it begins at once or stays away."""
    found = {}
    for place in sorted(set(places) & set(melody.sounding)):
        fitting = [one for one in (shake, AT_ONCE) if _holds(melody, place, one)]
        if fitting:
            found[place] = fitting[0]
    return found


def _holds(melody: Melody, place: int, shake: Shake) -> bool:
    return bool(shake.knots(_duration_s(melody, place)))


def _duration_s(melody: Melody, place: int) -> float:
    return melody.notes[place].beats * beat_s(melody.tempo_bpm) - RELEASE_S


def note_spans(melody: Melody) -> tuple[tuple[float, float], ...]:
    """Start and end in seconds of each note and rest in `melody_take`."""
    step_s = beat_s(melody.tempo_bpm)
    return tuple(
        (LEAD_S + start * step_s, LEAD_S + (start + note.beats) * step_s)
        for start, note in zip(melody.starts, melody.notes, strict=True)
    )


def melody_take(melody: Melody, *, shaken: Mapping[int, Shake] | None = None) -> TakeDescription:
    """The melody as it is played: plain, but for the notes in ``shaken``."""
    shaken = shaken or {}
    spans = note_spans(melody)
    notes = [
        NoteDescription(
            onset_s=round(spans[place][0], 6),
            duration_s=round(_duration_s(melody, place), 6),
            hz=note_number_hz(melody.notes[place].number or 0),
            knots=shaken[place].knots(_duration_s(melody, place)) if place in shaken else (),
            level=0.5,
            decay_s=3.0,
        )
        for place in melody.sounding
    ]
    return TakeDescription(
        melody.title,
        notes[-1].offset_s + 0.4,
        tuple(notes),
        noise_db=None,
        sample_rate_hz=SOUND_RATE_HZ,
    )
