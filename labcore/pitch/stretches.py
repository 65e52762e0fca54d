"""From pitch lines to stretches of notes: cut at the plucks, put in their octave, strays left out.

What begins without a pluck and does not go on where a note was lost was there before, under the
note, and came out as the note died: another string, hum, a voice. It is flagged by its level
while it rings beside a note, and not followed.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from labcore.pitch.carrier import SETTLED_S, Carrier
from labcore.pitch.decimate import Working
from labcore.pitch.frames import Grid
from labcore.pitch.octave import LEAD_S, multiple_of

LEAST_S = 0.05  # what a pluck cuts off must last longer, or the cut falls on the line's own end
BEGIN_S = (-0.15, 0.12)  # around the start of a line: where its own pluck may lie
END_FRAMES = 20  # 0.1 s: the very last frames of a line may already hear the next
SAME_NOTE_OCTAVES = 150.0 / 1200.0  # a line goes on where another ended, within a wide vibrato


@dataclass(frozen=True, slots=True)
class Stretch:
    """A note, or the part of one from a pluck or a step of the finger to the next."""

    carrier: Carrier
    pluck: int | None  # the fine frame of the pluck that began it


def stretches(sound: Working, *, line: Carrier, plucks: list[int], grid: Grid) -> list[Stretch]:
    """A line cut at its plucks, each part in the octave its partials speak for."""
    found = []
    for carrier, pluck in cut(line, plucks=plucks, grid=grid):
        lead = 0 if pluck is None else grid.count(LEAD_S)
        reach = with_lead(carrier, line=line, lead=lead, grid=grid)
        multiple = multiple_of(sound, carrier=reach, lead=lead, grid=grid)
        found.append(Stretch(Carrier(carrier.first, carrier.hz * multiple), pluck))
    return found


def with_lead(carrier: Carrier, *, line: Carrier, lead: int, grid: Grid) -> Carrier:
    """A part of a line with a run-up: along the line where there is one, level where it begins."""
    if lead == 0:
        return carrier
    if carrier.first == line.first:
        return carrier.led(lead, settled=grid.count(SETTLED_S))
    return line.part(carrier.first - lead, carrier.last)


def cut(line: Carrier, *, plucks: list[int], grid: Grid) -> list[tuple[Carrier, int | None]]:
    """Parts of a line, each with the pluck that began it."""
    least = grid.count(LEAST_S)
    low, high = (line.first + round(s / grid.step_s) for s in BEGIN_S)
    begin = [frame for frame in plucks if low <= frame <= max(high, line.first + least)]
    inside = [frame for frame in plucks if line.first + least < frame < line.last - least]
    own = begin[0] if begin and begin[0] not in inside else None
    parts = [line.part(a, b) for a, b in pairwise([line.first, *inside, line.last])]
    return list(zip(parts, [own, *inside], strict=True))


def kept(heard: list[Stretch]) -> list[Stretch]:
    """Stretches that began with a pluck, or that go on where a kept one ended."""
    notes: list[Stretch] = []
    for one in heard:
        if one.pluck is not None or (notes and goes_on(notes[-1].carrier, one.carrier)):
            notes.append(one)
    return notes


def goes_on(before: Carrier, after: Carrier) -> bool:
    """Whether a stretch takes up the pitch, in any octave, at which another ended."""
    octaves = np.log2(np.median(after.hz[:END_FRAMES]) / np.median(before.hz[-END_FRAMES:]))
    return bool(abs(octaves - np.round(octaves)) < SAME_NOTE_OCTAVES)
