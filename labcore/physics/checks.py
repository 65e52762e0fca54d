"""Two checks of one minute each: how much the grip squeezes, and whether the guitar comes back.

Both compare two plain notes on the same string and fret, one player with herself. Neither says
anything about other players or other guitars.
"""

from dataclasses import dataclass

import numpy as np

from labcore.errors import LabError
from labcore.model import PlainPart, Take
from labcore.units import cents_between

SAME_NOTE_CENTS = 80.0  # further apart they are two different notes; a choice
LIGHT_GRIP_CENTS = 10.0  # week 0 of the ladder; common practice, no source
SURE_CENTS = 5.0  # a plain note that wanders less is steady, as everywhere in the lessons
VIBRATO_TURNS = 8  # four waves; a push and back has three turns at most
AGREE_CENTS = 3.0  # what a contour and a plain note can tell apart


@dataclass(frozen=True, slots=True)
class PlainNotes:
    """The second plain note against the first, in cents, with one standard error."""

    cents: float
    error_cents: float

    @property
    def give_or_take(self) -> str:
        """The error as it is written: whole cents, at least one."""
        return f"± {max(1.0, self.error_cents):.0f}"

    @property
    def wanders(self) -> str | None:
        """What to say first where the notes wander so much that a difference could hide in it."""
        if self.told_apart or 2.0 * self.error_cents <= SURE_CENTS:
            return None
        return f"Your plain notes wander by about {2.0 * self.error_cents:.0f} cents, so"

    @property
    def told_apart(self) -> bool:
        """True if the difference is more than the measurement could make by itself."""
        return abs(self.cents) > max(AGREE_CENTS, 2.0 * self.error_cents)


def compare_plain(first: PlainPart, second: PlainPart) -> PlainNotes:
    """How far the second plain note lies above the first; the same note, played twice.

    The error counts how well each was read and how far each wandered while it was held.
    """
    cents = cents_between(second.hz, first.hz)
    if not abs(cents) < SAME_NOTE_CENTS:
        raise LabError(
            f"The two notes are {abs(cents):.0f} cents apart, so they are not the same note. Play "
            "the same string and fret twice."
        )
    parts = [first.error_cents, second.error_cents, first.spread_cents, second.spread_cents]
    return PlainNotes(cents=cents, error_cents=float(np.linalg.norm(parts)))


def first_and_last_plain(take: Take) -> tuple[PlainPart, PlainPart]:
    """The plain notes a take begins and ends with; between them anything but vibrato may happen."""
    if any(len(note.turns) >= VIBRATO_TURNS for note in take.notes):
        raise LabError(
            "There is vibrato in this take, so it is none for this check. Hold both notes plain, "
            "each for two seconds."
        )
    parts = [part for note in take.notes for part in note.plain_parts]
    if len(parts) < 2:
        found = "one plain note was" if parts else "no plain note was"
        raise LabError(
            f"Two plain notes are needed, but {found} heard. Hold each for two seconds, and pluck "
            "again for the second one."
        )
    return parts[0], parts[-1]


def grip_sentence(notes: PlainNotes) -> str:
    """What the usual grip does to the note held with the least pressure that sounds clean."""
    if notes.wanders:
        return f"{notes.wanders} no squeeze can be told from it. Hold both notes still, and again."
    if not notes.told_apart:
        return "Light and usual grip give the same pitch: no squeeze can be heard."
    if notes.cents < 0:
        return (
            f"The usual grip sounds {-notes.cents:.0f} cents lower than the light one. A harder "
            "press cannot do that: did the finger pull the string aside the first time? Play both "
            "again."
        )
    more = "Less pressure would do." if notes.cents > LIGHT_GRIP_CENTS else "A small squeeze."
    return (
        f"The usual grip sounds {notes.cents:.0f} {notes.give_or_take} cents above the light "
        f"one. {more} Compare it with yourself next week, not with others."
    )


def guitar_sentence(notes: PlainNotes) -> str:
    """Whether the string comes back after a wide push: the plain note after against before."""
    if notes.wanders:
        return (
            f"{notes.wanders} whether the string comes back cannot be told. Hold both notes still, "
            "and again."
        )
    if not notes.told_apart:
        return "The string comes back: the plain note is the same before and after a wide push."
    if notes.cents < 0:
        return (
            f"The plain note is {-notes.cents:.0f} {notes.give_or_take} cents lower after the "
            "push. Nut, saddle or tuning peg holds the string back: see to that before you judge "
            "whether your waves come home."
        )
    return (
        f"The plain note is {notes.cents:.0f} {notes.give_or_take} cents higher after the "
        "push. Was the string still a little aside? Let go, press anew and try again."
    )
