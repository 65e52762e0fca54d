"""From pitch lines to stretches of notes: cut at the plucks, put in their octave, strays left out.

What begins without a pluck, did not come out of nothing and does not go on where a note was lost
was there before, under the note, and is heard now that the note has died: another string, hum, a
voice. It is flagged by its level while it rings beside a note, and not followed.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from labcore.pitch.carrier import SETTLED_S, Carrier
from labcore.pitch.decimate import Working
from labcore.pitch.frames import Grid
from labcore.pitch.octave import LEAD_S, came_up, more_than_thirds, multiple_of

LEAST_S = 0.05  # what a pluck cuts off must last longer, or the cut falls on the line's own end
BEGIN_S = (-0.15, 0.12)  # around the start of a line: where its own pluck may lie
END_FRAMES = 20  # 0.1 s: the very last frames of a line may already hear the next
TWELFTH = np.log2(3.0)
SAME_NOTE_OCTAVES = 150.0 / 1200.0  # a line goes on where another ended, within a wide vibrato


@dataclass(frozen=True, slots=True)
class Stretch:
    """A note, or the part of one from a pluck or a step of the finger to the next."""

    carrier: Carrier
    pluck: int | None  # the fine frame of the pluck that began it


def heard(
    sound: Working,
    *,
    line: Carrier,
    plucks: list[int],
    before: Stretch | None,
    grid: Grid,
) -> list[Stretch]:
    """The parts of a line that are a note: plucked, going on, or come out of nothing.

    ``before`` is the stretch heard last. What was there before, softer, is another string.
    """
    found: list[Stretch] = []
    for carrier, pluck in cut(line, plucks=plucks, grid=grid):
        last = found[-1] if found else before
        one = None
        if pluck is None and last is not None:
            one = going_on(sound, carrier=carrier, before=last, grid=grid)
        if one is None:
            one = begun(sound, carrier=carrier, line=line, pluck=pluck, grid=grid)
        if one is not None:
            found.append(one)
    return found


def begun(
    sound: Working, *, carrier: Carrier, line: Carrier, pluck: int | None, grid: Grid
) -> Stretch | None:
    """A new note, in the octave that what began with it speaks for.

    Without a pluck it is one if it came out of nothing, hammered or in a swell.
    """
    lead = grid.count(LEAD_S)
    reach = with_lead(carrier, line=line, lead=lead, grid=grid)
    if pluck is None and not came_up(sound, carrier=reach, lead=lead, grid=grid):
        return None
    multiple = multiple_of(sound, carrier=reach, lead=lead, grid=grid)
    begin = carrier.first if pluck is None else pluck
    return Stretch(Carrier(carrier.first, carrier.hz * multiple), begin)


def going_on(sound: Working, *, carrier: Carrier, before: Stretch, grid: Grid) -> Stretch | None:
    """A part that takes up the pitch at which a note was lost, in that note's octave.

    A note never changes octave while it rings, whatever its last partials may look like. A
    twelfth above it another string may ring on, so there the note's own partials must stand.
    """
    above = np.log2(np.median(carrier.hz[:END_FRAMES]) / np.median(before.carrier.hz[-END_FRAMES:]))
    octaves = float(np.round(above))
    if abs(above - octaves) < SAME_NOTE_OCTAVES:
        return Stretch(Carrier(carrier.first, carrier.hz / 2.0**octaves), None)
    below = Carrier(carrier.first, carrier.hz / 3.0)
    near = abs(above - TWELFTH) < SAME_NOTE_OCTAVES
    if near and more_than_thirds(sound, carrier=below, grid=grid):
        return Stretch(below, None)
    return None


def with_lead(carrier: Carrier, *, line: Carrier, lead: int, grid: Grid) -> Carrier:
    """A part of a line with a run-up: along the line where there is one, level where it begins."""
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
