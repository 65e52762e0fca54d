"""The whole way from a recording to its pitch contour, one step a line."""

from dataclasses import dataclass

import numpy as np

from labcore.model import ClickTrack, Floats, PitchContour, Recording
from labcore.pitch.attacks import attacks
from labcore.pitch.bursts import bursts, widened
from labcore.pitch.coarse import FRAME_S, Candidates, candidates, frame_length
from labcore.pitch.decimate import Working, decimated
from labcore.pitch.demodulate import blocks_between
from labcore.pitch.follow import Followed, follow, path, start
from labcore.pitch.frames import COARSE_HOPS, Grid, grid_for
from labcore.pitch.hum import Cleaned, without_hum
from labcore.pitch.lines import chosen_octaves, lines
from labcore.pitch.refine import Refined, refine
from labcore.pitch.stray import stray_db
from labcore.pitch.stretches import Stretch, kept, stretches

FOLLOW_FRAMES = 2000  # coarse frames a block: twenty seconds


def track(recording: Recording, *, clicks: ClickTrack | None = None) -> PitchContour:
    """Pitch of one string over time, every 5 ms; see `PitchContour` for what is in it.

    Parameters
    ----------
    recording : Recording
        Any sample rate from 8 to 192 kHz; one note at a time, 60 to 1400 Hz.
    clicks : ClickTrack, optional
        Metronome clicks that can be heard in the recording: they make no blips and no notes.
    """
    whole = decimated(recording.samples, rate_hz=recording.sample_rate_hz)
    cleaned = without_hum(whole)
    sound = cleaned.sound
    grid = grid_for(sound.rate_hz)
    found = coarse_frames(sound, grid=grid)
    octaves = chosen_octaves(found, path(followed(found)), hum_db=cleaned.hum_db)
    hidden = bursts(sound, clicks=clicks, grid=grid)
    veiled = widened(hidden, frames=grid.count(0.5 * FRAME_S))[::COARSE_HOPS]
    heard: list[Stretch] = []
    end = 0
    for line in lines(octaves, level_db=found.level_db, hidden=veiled, grid=grid):
        plucks = attacks(sound, carrier=line, hidden=hidden, grid=grid)
        if line.first == end:  # a step of the finger: nothing of this note came before it
            plucks = sorted({max(frame, line.first) for frame in plucks})
        heard += stretches(sound, line=line, plucks=plucks, grid=grid)
        end = line.last
    heard = [one for one in heard if not is_hum(one, level_db=found.level_db, cleaned=cleaned)]
    notes = [Note(one, refine(sound, carrier=one.carrier, grid=grid)) for one in kept(heard)]
    return contour([note for note in notes if note.refined.is_a_string], sound=sound, grid=grid)


@dataclass(frozen=True, slots=True)
class Note:
    """A stretch and its pitch."""

    stretch: Stretch
    refined: Refined


def coarse_frames(sound: Working, *, grid: Grid) -> Candidates:
    """Candidates on every coarse frame, the first and last seeing silence outside."""
    half = frame_length(grid) // 2
    return candidates(np.pad(sound.samples, (half, half)), grid=grid)


def followed(found: Candidates) -> Followed:
    """The path through all candidates, a block at a time so that the memory needed stays small."""
    state = start()
    for first in range(0, len(found.level_db), FOLLOW_FRAMES):
        state = follow(state, found.part(first, first + FOLLOW_FRAMES))
    return state


def is_hum(one: Stretch, *, level_db: Floats, cleaned: Cleaned) -> bool:
    """Whether a stretch is what was left of the hum; ``level_db`` is on coarse frames."""
    first, last = one.carrier.first // COARSE_HOPS, -(-one.carrier.last // COARSE_HOPS)
    return cleaned.is_hum(one.carrier.hz, level_db=float(np.median(level_db[first:last])))


def contour(notes: list[Note], *, sound: Working, grid: Grid) -> PitchContour:
    """All notes on the grid of the whole recording."""
    frames = grid.frames(sound.samples.size)
    hz, error, stray = (np.full(frames, np.nan) for _ in range(3))
    for note in notes:
        found = note.refined
        here = slice(found.first, min(frames, found.first + found.hz.size))
        size = here.stop - here.start
        hz[here], error[here] = found.hz[:size], found.error_cents[:size]
        stray[here] = stray_db(sound, hz=found.hz, first=found.first, grid=grid)[:size]
    plucks = sorted({n.stretch.pluck for n in notes if n.stretch.pluck is not None})
    return PitchContour(
        time_s=np.arange(frames, dtype=np.float64) * grid.step_s,
        frequency_hz=hz,
        level_db=levels_db(sound, grid=grid),
        error_cents=error,
        stray_db=stray,
        attack_s=np.array(plucks, dtype=np.float64) * grid.step_s,
        step_s=grid.step_s,
    )


LEVEL_REACH = 4  # hops on each side: 40 ms, three periods of the lowest string


def levels_db(sound: Working, *, grid: Grid) -> Floats:
    """Level of the sound around every frame, re full scale (a full sine is -3 dB)."""
    frames = grid.frames(sound.samples.size)
    blocks = blocks_between(sound, first=-LEVEL_REACH, last=frames + LEVEL_REACH - 1, hop=grid.hop)
    power = np.einsum("ij,ij->i", blocks, blocks).astype(np.float64) / grid.hop
    shape = np.hanning(2 * LEVEL_REACH + 2)[1:-1]
    around = np.convolve(power, shape / shape.sum(), mode="valid")
    return np.asarray(10.0 * np.log10(around + 1e-20))
