"""A take in words and numbers: enough to make its sound, and to know the truth about it.

Conventions
-----------
A note's pitch is its plain pitch ``hz`` plus a line of ``knots``: pairs of seconds after the
onset and cents above ``hz``, joined by half cosines, level before the first and after the last.
All levels ending in ``_db`` are relative to full scale; a note of level 1 peaks at `NOTE_PEAK_DB`.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from itertools import pairwise
from math import isfinite
from typing import Any

import numpy as np

from labcore.errors import LabError
from labcore.model import Context, Floats, Place, Task, Technique

NOTE_PEAK_DB = -6.0  # a note of level 1 leaves a little room under full scale
LOWEST_HZ, HIGHEST_HZ = 20.0, 5000.0  # a bass to the highest frets, as in `model.Task`
WIDEST_CENTS = 1200.0  # no hand or arm in these lessons moves a string by more
LONGEST_TAKE_S = 1800.0
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8000.0, 192000.0

Knots = tuple[tuple[float, float], ...]  # (seconds after the onset, cents above the plain pitch)


class ClickKind(StrEnum):
    """What the metronome sounds like."""

    TICK = "tick"  # a short bright knock
    BEEP = "beep"  # a pitched blip
    WOOD = "wood"  # a hollow knock


def _check(name: str, value: float, low: float, high: float, advice: str) -> None:
    if not (isfinite(value) and low <= value <= high):
        raise LabError(f"{name} is {value:g}; it must lie between {low:g} and {high:g}. {advice}")


def _check_knots(name: str, knots: Knots, *, widest: float) -> None:
    times = [knot[0] for knot in knots]
    if any(later <= earlier for earlier, later in pairwise(times)):
        raise LabError(
            f"The {name} are not in order of time; give each a later moment than the one before."
        )
    for time_s, value in knots:
        if not (isfinite(time_s) and isfinite(value) and time_s >= 0.0 and abs(value) <= widest):
            raise LabError(
                f"One of the {name} is ({time_s:g} s, {value:g}); give a time from 0 on "
                f"and a value within {widest:g} of zero."
            )


@dataclass(frozen=True, slots=True)
class NoteDescription:
    """One plucked note: when, how long, what pitch line, and how the string sounds."""

    onset_s: float
    duration_s: float
    hz: float  # the plain pitch
    knots: Knots = ()
    level: float = 1.0
    decay_s: float = 2.0  # time for the first partial to fall to 1/e
    pluck_position: float = 0.13  # as a share of the sounding length, from the bridge
    brightness: float = 0.6  # 0: partials fall as 1/q^2 (string's path), 1: as 1/q (its speed)
    tone_hz: float = (
        6000.0  # pickup and loudspeaker let through up to here, 24 dB an octave less above
    )
    inharmonicity: float = 1e-4  # B of a stiff string (Fletcher 1964)
    glide_cents: float = 0.0  # how sharp the pluck starts; falls away at half the decay time
    loudness_knots: tuple[tuple[float, float], ...] = ()  # (seconds after the onset, dB)

    def __post_init__(self) -> None:
        _check("The onset", self.onset_s, 0.0, LONGEST_TAKE_S, "Count seconds from the start.")
        _check("The duration", self.duration_s, 0.01, LONGEST_TAKE_S, "Give it in seconds.")
        _check("The pitch", self.hz, LOWEST_HZ, HIGHEST_HZ, "Give the plain note in hertz.")
        _check("The level", self.level, 0.0, 1.9, "1 is an ordinary pluck.")
        _check("The decay", self.decay_s, 0.02, 60.0, "Give the seconds to fall to 1/e.")
        _check("The pluck position", self.pluck_position, 0.01, 0.5, "0.5 is mid-string.")
        _check("The brightness", self.brightness, 0.0, 1.0, "0 is dull, 1 is bright.")
        _check("The tone", self.tone_hz, 100.0, 1e6, "6000 Hz is an ordinary amplifier.")
        _check("The inharmonicity", self.inharmonicity, 0.0, 0.01, "Steel strings have 1e-4.")
        _check("The glide", self.glide_cents, 0.0, 100.0, "Give cents at the pluck.")
        _check_knots("knots", self.knots, widest=WIDEST_CENTS)
        _check_knots("loudness knots", self.loudness_knots, widest=60.0)

    @property
    def offset_s(self) -> float:
        return self.onset_s + self.duration_s


@dataclass(frozen=True, slots=True)
class TakeDescription:
    """A whole take: notes in order, the room around them, and what the player was asked."""

    name: str
    duration_s: float
    notes: tuple[NoteDescription, ...]
    click_s: tuple[float, ...] = ()
    click_db: float = -20.0
    click_kind: ClickKind = ClickKind.TICK
    accent_every: int = 0  # every n-th click, from the first, sounds higher; 0 is none
    noise_db: float | None = -75.0
    hum_db: float | None = None
    hum_hz: float = 50.0
    room_s: float = 0.0  # time for the room to fall by 60 dB; 0 is no room
    room_db: float = -12.0  # energy of the room against the direct sound
    drive: float = 0.0  # 0 is clean, 1 rounds the peaks, 5 is a driven amplifier
    second_hz: float | None = None  # another string that rings with every note
    second_db: float = -12.0
    sample_rate_hz: float = 44100.0
    task: Task = field(default_factory=Task)
    context: Context = field(default_factory=Context)
    says: str = ""  # what is planted, in a sentence

    def __post_init__(self) -> None:
        _check("The take's length", self.duration_s, 0.01, LONGEST_TAKE_S, "Give seconds.")
        _check(
            "The sample rate",
            self.sample_rate_hz,
            LOWEST_RATE_HZ,
            HIGHEST_RATE_HZ,
            "44100 is usual.",
        )
        for name in ("noise_db", "hum_db", "click_db", "room_db", "second_db"):
            value = getattr(self, name)
            if value is not None:
                _check(name, value, -140.0, 6.0, "Levels are in dB, 0 is full scale.")
        _check("The drive", self.drive, 0.0, 100.0, "0 is clean.")
        _check("The room", self.room_s, 0.0, 10.0, "Give the seconds to fall by 60 dB.")
        if self.second_hz is not None:
            _check("The second string", self.second_hz, LOWEST_HZ, HIGHEST_HZ, "Give hertz.")
        self._check_order()

    def _check_order(self) -> None:
        for before, after in pairwise(self.notes):
            if after.onset_s < before.offset_s - 1e-9:
                raise LabError(
                    f"A note starts at {after.onset_s:g} s while the one before sounds until "
                    f"{before.offset_s:g} s; one string plays one note at a time."
                )
        if self.notes and self.notes[-1].offset_s > self.duration_s + 1e-9:
            raise LabError(
                f"The last note ends at {self.notes[-1].offset_s:g} s but the take is "
                f"{self.duration_s:g} s long; make the take longer."
            )
        if any(not 0.0 <= click < self.duration_s for click in self.click_s):
            raise LabError("A click lies outside the take; give times between 0 and its end.")


# --- the pitch line ---------------------------------------------------------------------------


def line_through(knots: tuple[tuple[float, float], ...], time_s: Floats) -> Floats:
    """The line through ``knots`` at each of ``time_s``, joined by half cosines; same shape.

    >>> line_through(((0.0, 0.0), (1.0, 40.0)), np.array([-1.0, 0.0, 0.5, 1.0, 2.0])).round(6)
    array([ 0.,  0., 20., 40., 40.])
    """
    if not knots:
        return np.zeros_like(time_s)
    moments, values = np.array(knots, dtype=float).T
    if moments.size == 1:
        return np.full_like(time_s, values[0])
    piece = np.clip(np.searchsorted(moments, time_s, side="right") - 1, 0, moments.size - 2)
    share = np.clip((time_s - moments[piece]) / np.diff(moments)[piece], 0.0, 1.0)
    line = values[piece] + np.diff(values)[piece] * 0.5 * (1.0 - np.cos(np.pi * share))
    return np.asarray(line, dtype=np.float64)


def pitch_cents(note: NoteDescription, time_s: Floats) -> Floats:
    """Cents above ``note.hz`` at ``time_s`` seconds after the onset, pluck glide included."""
    cents = line_through(note.knots, time_s)
    if note.glide_cents:
        # tension modulation goes as the square of the amplitude: half its decay time
        cents = cents + note.glide_cents * np.exp(-2.0 * np.maximum(time_s, 0.0) / note.decay_s)
    return cents


# --- to and from plain dictionaries -----------------------------------------------------------


def to_dict(description: TakeDescription) -> dict[str, Any]:
    """Plain dictionary that JSON can hold; `from_dict` gives the same description back."""
    plain = asdict(description)
    plain["click_kind"] = description.click_kind.value
    plain["task"]["technique"] = description.task.technique.value
    plain["task"]["home"] = description.task.home.value
    return plain


def _pairs(values: Any) -> tuple[tuple[float, float], ...]:
    return tuple((float(first), float(second)) for first, second in values)


def _note_from_dict(plain: Mapping[str, Any]) -> NoteDescription:
    rest = {key: value for key, value in plain.items() if "knots" not in key}
    return NoteDescription(
        **rest,
        knots=_pairs(plain.get("knots", ())),
        loudness_knots=_pairs(plain.get("loudness_knots", ())),
    )


def _task_from_dict(plain: Mapping[str, Any]) -> Task:
    rest = dict(plain)
    technique = Technique(rest.pop("technique", Technique.NOT_SAID))
    home = Place(rest.pop("home", Place.UNKNOWN))
    return Task(**rest, technique=technique, home=home)


def from_dict(plain: Mapping[str, Any]) -> TakeDescription:
    """The description that `to_dict` wrote down; `LabError` where a part does not fit."""
    rest = dict(plain)
    try:
        notes = tuple(_note_from_dict(note) for note in rest.pop("notes"))
        task = _task_from_dict(rest.pop("task", {}))
        context = Context(**rest.pop("context", {}))
        clicks = tuple(float(click) for click in rest.pop("click_s", ()))
        kind = ClickKind(rest.pop("click_kind", ClickKind.TICK))
        return TakeDescription(
            **rest, notes=notes, click_s=clicks, click_kind=kind, task=task, context=context
        )
    except (TypeError, ValueError, KeyError) as problem:
        raise LabError(
            f"This is not the description of a take ({problem}); give one that `to_dict` wrote."
        ) from problem
