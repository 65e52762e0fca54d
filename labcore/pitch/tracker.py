"""The whole way from a recording to its pitch contour, one step a line."""

from itertools import pairwise

import numpy as np

from labcore.model import ClickTrack, Floats, PitchContour, Recording
from labcore.pitch.attacks import attacks
from labcore.pitch.carrier import Carrier
from labcore.pitch.coarse import Candidates, candidates, frame_length
from labcore.pitch.decimate import Working, decimated
from labcore.pitch.follow import follow, path, start
from labcore.pitch.frames import Grid, grid_for
from labcore.pitch.lines import chosen_hz, lines
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
    sound = decimated(recording.samples, rate_hz=recording.sample_rate_hz)
    grid = grid_for(sound.rate_hz)
    found = coarse_frames(sound, grid=grid)
    hz = chosen_hz(found, path(follow(start(), found)))
    notes: list[Refined] = []
    plucks: list[int] = []
    for line in lines(hz, level_db=found.level_db, grid=grid):
        struck = attacks(sound, carrier=line, grid=grid)
        plucks += struck
        notes += [
            refine(sound, carrier=in_octave(sound, carrier=part, grid=grid), grid=grid)
            for part in stretches(line, struck)
        ]
    return contour(notes, plucks=plucks, sound=sound, grid=grid)


def coarse_frames(sound: Working, *, grid: Grid) -> Candidates:
    """Candidates on every coarse frame, the first and last seeing silence outside."""
    half = frame_length(grid) // 2
    return candidates(np.pad(sound.samples, (half, half)), grid=grid)


def stretches(line: Carrier, struck: list[int]) -> list[Carrier]:
    """A line cut at its attacks."""
    cuts = [cut for cut in struck if line.first + 4 < cut < line.last - 4]
    edges = [line.first, *cuts, line.last]
    return [line.part(a, b) for a, b in pairwise(edges)]


def in_octave(sound: Working, *, carrier: Carrier, grid: Grid) -> Carrier:
    """The carrier moved to the octave its partials speak for."""
    octave = octave_of(sound, carrier=carrier, grid=grid)
    return Carrier(carrier.first, carrier.hz * 2.0**octave)


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
