"""The whole way from a recording to its pitch contour, one step a line."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from labcore.model import ClickTrack, Floats, PitchContour, Recording
from labcore.pitch.attacks import attacks
from labcore.pitch.bursts import bursts, widened
from labcore.pitch.carrier import Carrier
from labcore.pitch.coarse import FRAME_S, Candidates, candidates, frame_length
from labcore.pitch.decimate import Working, decimated
from labcore.pitch.follow import follow, path, start
from labcore.pitch.frames import COARSE_HOPS, Grid, grid_for
from labcore.pitch.hum import without_hum
from labcore.pitch.lines import chosen_octaves, lines
from labcore.pitch.octave import octave_of
from labcore.pitch.refine import Refined, refine


def track(recording: Recording, *, clicks: ClickTrack | None = None) -> PitchContour:
    """Pitch of one string over time, every 5 ms; see `PitchContour` for what is in it.

    Parameters
    ----------
    recording : Recording
        Any sample rate from 8 to 192 kHz; one note at a time, 60 to 1400 Hz.
    clicks : ClickTrack, optional
        Metronome clicks that can be heard in the recording: they make no blips and no notes.
    """
    sound = without_hum(decimated(recording.samples, rate_hz=recording.sample_rate_hz))
    grid = grid_for(sound.rate_hz)
    found = coarse_frames(sound, grid=grid)
    octaves = chosen_octaves(found, path(follow(start(), found)))
    hidden = bursts(sound, clicks=clicks, grid=grid)
    veiled = widened(hidden, frames=grid.count(0.5 * FRAME_S))[::COARSE_HOPS]
    heard = [
        Heard(line, attacks(sound, carrier=line, hidden=hidden, grid=grid))
        for line in lines(octaves, level_db=found.level_db, hidden=veiled, grid=grid)
    ]
    heard = without_strays(heard, grid=grid)
    notes = [
        refine(sound, carrier=part, grid=grid)
        for one in heard
        for part in in_octaves(sound, heard=one, grid=grid)
    ]
    plucks = sorted({frame for one in heard for frame in one.plucks})
    return contour(notes, plucks=plucks, sound=sound, grid=grid)


@dataclass(frozen=True, slots=True)
class Heard:
    """A pitch line and the fine frames at which it was plucked."""

    line: Carrier
    plucks: list[int]


PLUCK_REACH_S = (-0.15, 0.12)  # around the start of a line: where its own pluck may lie
SAME_NOTE_CENTS = 150.0  # a line that goes on where another ended, within a wide vibrato


def without_strays(heard: list[Heard], *, grid: Grid) -> list[Heard]:
    """Lines that began with a pluck, or that go on where a note was lost.

    What is neither was there before, under the note, and comes out as the note dies: another
    string, hum, a voice. It is flagged by its level while it rings beside a note, not followed.
    """
    kept: list[Heard] = []
    low, high = (round(s / grid.step_s) for s in PLUCK_REACH_S)
    for one in heard:
        begun = any(low <= frame - one.line.first <= high for frame in one.plucks)
        if begun or (kept and goes_on(kept[-1].line, one.line)):
            kept.append(one)
        elif later := [frame for frame in one.plucks if frame < one.line.last - 10]:
            kept.append(Heard(one.line.part(later[0], one.line.last), later))
    return kept


def goes_on(before: Carrier, after: Carrier) -> bool:
    """Whether a line takes up the pitch, in any octave, at which another ended."""
    octaves = np.log2(after.hz[0] / before.hz[-1])
    return bool(abs(octaves - np.round(octaves)) < SAME_NOTE_CENTS / 1200.0)


def coarse_frames(sound: Working, *, grid: Grid) -> Candidates:
    """Candidates on every coarse frame, the first and last seeing silence outside."""
    half = frame_length(grid) // 2
    return candidates(np.pad(sound.samples, (half, half)), grid=grid)


LEAST_STRETCH = 10  # fine frames: half of `lines.LEAST_NOTE_S` is a remnant, not a note


def stretches(one: Heard) -> list[Carrier]:
    """A line cut at its plucks."""
    line = one.line
    inside = [f for f in one.plucks if line.first + LEAST_STRETCH < f < line.last - LEAST_STRETCH]
    return [line.part(a, b) for a, b in pairwise([line.first, *inside, line.last])]


def in_octaves(sound: Working, *, heard: Heard, grid: Grid) -> list[Carrier]:
    """The stretches of a line, each in the octave its partials speak for."""
    moved = []
    for part in stretches(heard):
        plucked = any(abs(frame - part.first) <= LEAST_STRETCH for frame in heard.plucks)
        octave = octave_of(sound, carrier=part, plucked=plucked, grid=grid)
        moved.append(Carrier(part.first, part.hz * 2.0**octave))
    return moved


def contour(notes: list[Refined], *, plucks: list[int], sound: Working, grid: Grid) -> PitchContour:
    """All notes on the grid of the whole recording."""
    frames = grid.frames(sound.samples.size)
    hz, error, stray = (np.full(frames, np.nan) for _ in range(3))
    for note in notes:
        last = min(frames, note.first + note.hz.size)
        hz[note.first : last] = note.hz[: last - note.first]
        error[note.first : last] = note.error_cents[: last - note.first]
    return PitchContour(
        time_s=np.arange(frames, dtype=np.float64) * grid.step_s,
        frequency_hz=hz,
        level_db=levels_db(sound, grid=grid),
        error_cents=error,
        stray_db=stray,
        attack_s=np.array(sorted(set(plucks)), dtype=np.float64) * grid.step_s,
        step_s=grid.step_s,
    )


LEVEL_REACH = 4  # hops on each side: 40 ms, three periods of the lowest string


def levels_db(sound: Working, *, grid: Grid) -> Floats:
    """Level of the sound around every frame, re full scale (a full sine is -3 dB)."""
    frames = grid.frames(sound.samples.size)
    padded = np.pad(sound.samples, (0, frames * grid.hop - sound.samples.size))
    power = np.mean(np.square(padded, dtype=np.float64).reshape(frames, grid.hop), axis=1)
    edged = np.pad(power, LEVEL_REACH, mode="edge")
    shape = np.hanning(2 * LEVEL_REACH + 2)[1:]
    around = np.convolve(edged, shape / shape.sum(), mode="valid")[:frames]
    return np.asarray(10.0 * np.log10(around + 1e-20))
