"""The whole way from a recording to its pitch contour, one step a line."""

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from labcore.errors import LabError
from labcore.model import ClickTrack, Floats, PitchContour, Recording
from labcore.pitch.assemble import contour, note_of
from labcore.pitch.attacks import attacks
from labcore.pitch.bursts import bursts, widened
from labcore.pitch.carrier import Carrier
from labcore.pitch.coarse import FRAME_S, Candidates, candidates, frame_length
from labcore.pitch.decimate import Working, decimated
from labcore.pitch.follow import Followed, follow, path, start
from labcore.pitch.frames import COARSE_HOPS, Grid, grid_for
from labcore.pitch.hum import Cleaned, without_hum
from labcore.pitch.lines import chosen_octaves, lines
from labcore.pitch.stretches import Stretch, heard

RATES_HZ = (8_000.0, 192_000.0)  # a telephone line, and more than any interface records
FOLLOW_FRAMES = 2000  # coarse frames a block: twenty seconds


def track(recording: Recording, *, clicks: ClickTrack | None = None) -> PitchContour:
    """Pitch of one string over time, about every 5 ms.

    Parameters
    ----------
    recording : Recording
        One note at a time, 60 to 1400 Hz; any sample rate from 8 to 192 kHz.
    clicks : ClickTrack, optional
        Metronome clicks that can be heard in the recording: they make no blips and no notes.

    Returns
    -------
    PitchContour
        NaN where no string sounds alone or clearly. A note keeps one octave while it rings, and
        a second string is flagged in ``stray_db``, not followed.

    Raises
    ------
    LabError
        For a sample rate outside 8 to 192 kHz.
    """
    check_rate(recording.sample_rate_hz)
    cleaned = without_hum(decimated(recording.samples, rate_hz=recording.sample_rate_hz))
    sound, grid = cleaned.sound, grid_for(cleaned.sound.rate_hz)
    found = coarse_frames(sound, grid=grid)
    octaves = chosen_octaves(found, path(followed(found)), hum_db=cleaned.hum_db)
    hidden = bursts(sound, clicks=clicks, grid=grid)
    veiled = widened(hidden, frames=grid.count(0.5 * FRAME_S))[::COARSE_HOPS]
    joined = lines(octaves, level_db=found.level_db, hidden=veiled, grid=grid)
    hum = partial(is_hum, level_db=found.level_db, cleaned=cleaned)
    stretches = heard_stretches(sound, joined, hidden=hidden, hum=hum, grid=grid)
    notes = [note_of(sound, stretch=one, grid=grid) for one in stretches]
    return contour([note for note in notes if note.is_a_string], sound=sound, grid=grid)


def check_rate(rate_hz: float) -> None:
    """Raise `LabError` for a sample rate the tracker was not made for."""
    low, high = RATES_HZ
    if not low <= rate_hz <= high:
        raise LabError(
            f"The recording has {rate_hz:g} samples a second; {low:g} to {high:g} can be "
            "measured. Record at 44100 or 48000."
        )


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


def heard_stretches(
    sound: Working,
    joined: list[Carrier],
    *,
    hidden: NDArray[np.bool_],
    hum: Callable[[Stretch], bool],
    grid: Grid,
) -> list[Stretch]:
    """Every line cut at its plucks, in its octave, without strays and hum."""
    found: list[Stretch] = []
    end = -1
    for line in joined:
        plucks = attacks(sound, carrier=line, hidden=hidden, grid=grid)
        if line.first == end:  # a step of the finger: nothing of this note came before the step
            plucks = sorted({max(frame, line.first) for frame in plucks})
        before = found[-1] if found else None
        parts = heard(sound, line=line, plucks=plucks, before=before, grid=grid)
        found += [one for one in parts if not hum(one)]
        end = line.last
    return found


def is_hum(one: Stretch, *, level_db: Floats, cleaned: Cleaned) -> bool:
    """Whether a stretch is what was left of the hum; ``level_db`` is on coarse frames."""
    first, last = one.carrier.first // COARSE_HOPS, -(-one.carrier.last // COARSE_HOPS)
    return cleaned.is_hum(one.carrier.hz, level_db=float(np.median(level_db[first:last])))
