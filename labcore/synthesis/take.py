"""A described take made into sound, with its truth in the records an analysis returns."""

import hashlib
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from labcore.errors import LabError
from labcore.model import (
    ClickSource,
    ClickTrack,
    Floats,
    Note,
    PitchContour,
    PlainPart,
    Recording,
    Take,
    Turn,
    TurnKind,
)
from labcore.synthesis.description import (
    NOTE_PEAK_DB,
    NoteDescription,
    TakeDescription,
    pitch_cents,
)
from labcore.synthesis.sound import take_sound
from labcore.units import level_db, shifted_hz

TRUTH_STEP_S = 0.005
PLAIN_LEAST_S = 0.25  # a level stretch shorter than this is a dwell within a wave
LEVEL_WINDOW_S = 0.02
SAME_CENTS = 1e-3


def made_recording(samples: NDArray[np.float32], *, sample_rate_hz: float, name: str) -> Recording:
    """A `Recording` of sound that was made here, and so needs no checking."""
    sound = np.asarray(samples, dtype=np.float32)
    digest = hashlib.sha256(sound.astype("<f4").tobytes()).hexdigest()
    return Recording(sound, sample_rate_hz, name, digest)


def synthesise(description: TakeDescription, *, rng: np.random.Generator) -> tuple[Recording, Take]:
    """The sound of a described take, and what a perfect analysis would hear in it.

    The truth's contour comes from the description's formula at `TRUTH_STEP_S`; its turns and
    plain parts are exact (error 0). A level stretch of at least `PLAIN_LEAST_S` is a plain part;
    a shorter one is a dwell, whose turn lies in its middle.
    """
    samples = take_sound(description, rng=rng)
    if samples.size == 0:
        raise LabError("The take has no samples; make it longer.")
    recording = made_recording(
        samples, sample_rate_hz=description.sample_rate_hz, name=description.name
    )
    clicks = None
    if description.click_s:
        clicks = ClickTrack(np.array(description.click_s), ClickSource.KNOWN, 0.0)
    notes = tuple(true_note(note) for note in description.notes)
    return recording, Take(recording.facts, clicks, true_contour(description, recording), notes)


def true_contour(description: TakeDescription, recording: Recording) -> PitchContour:
    """Pitch from the formula, level from the sound, on frames `TRUTH_STEP_S` apart."""
    time_s = np.arange(0.0, description.duration_s, TRUTH_STEP_S)
    hz = np.full(time_s.size, np.nan)
    for note in description.notes:
        inside = (time_s >= note.onset_s) & (time_s < note.offset_s)
        hz[inside] = shifted_hz(note.hz, pitch_cents(note, time_s[inside] - note.onset_s))
    stray_db = np.full(time_s.size, np.nan)
    if description.second_hz is not None:
        stray_db[np.isfinite(hz)] = description.second_db - NOTE_PEAK_DB
    return PitchContour(
        time_s=time_s,
        frequency_hz=hz,
        level_db=_levels_db(recording, time_s),
        error_cents=np.where(np.isfinite(hz), 0.0, np.nan),
        stray_db=stray_db,
        attack_s=np.array([note.onset_s for note in description.notes]),
        step_s=TRUTH_STEP_S,
    )


def _levels_db(recording: Recording, time_s: Floats) -> Floats:
    power = np.concatenate([[0.0], np.cumsum(recording.samples.astype(float) ** 2)])
    half = LEVEL_WINDOW_S / 2.0 * recording.sample_rate_hz
    middle = time_s * recording.sample_rate_hz
    first = np.clip(np.round(middle - half), 0, recording.samples.size - 1).astype(int)
    last = np.clip(np.round(middle + half), first + 1, recording.samples.size).astype(int)
    return level_db(np.sqrt(np.maximum(power[last] - power[first], 0.0) / (last - first)))


# --- turns and plain parts from the knots -----------------------------------------------------


def true_note(note: NoteDescription) -> Note:
    """The note as it was meant: its turning points and plain parts, without the pluck glide."""
    levels = _levels(note)
    turns: list[Turn] = []
    plain_parts: list[PlainPart] = []
    for index, (start_s, end_s, cents) in enumerate(levels):
        before = levels[index - 1][2] - cents if index else 0.0
        after = levels[index + 1][2] - cents if index + 1 < len(levels) else 0.0
        hz, plain = shifted_hz(note.hz, cents), end_s - start_s >= PLAIN_LEAST_S
        if plain:
            begin_s, finish_s = note.onset_s + start_s, note.onset_s + end_s
            plain_parts.append(PlainPart(begin_s, finish_s, hz, 0.0, 0.0))
        for time_s, low in _turning(start_s, end_s, before=before, after=after, plain=plain):
            if time_s <= note.duration_s:
                kind = TurnKind.LOW if low else TurnKind.HIGH
                turns.append(Turn(note.onset_s + time_s, hz, 0.0, kind))
    return Note(note.onset_s, note.offset_s, tuple(turns), tuple(plain_parts))


def _turning(
    start_s: float, end_s: float, *, before: float, after: float, plain: bool
) -> list[tuple[float, bool]]:
    """Moments at which the pitch turns on one level, and whether each is a low one.

    ``before`` and ``after`` are how far the neighbouring levels lie above this one, 0 for none.
    """
    if plain:  # a wave ends where the plain part begins, and another begins where it ends
        edges = [(start_s, before > 0)] if before else []
        return edges + ([(end_s, after > 0)] if after else [])
    if before * after > 0:
        return [((start_s + end_s) / 2.0, before > 0)]
    if before == 0.0 and after:  # the note begins moving
        return [(end_s, after > 0)]
    if after == 0.0 and before:  # and ends where it stopped
        return [(start_s, before > 0)]
    return []  # passed on the way up or down


def _levels(note: NoteDescription) -> list[tuple[float, float, float]]:
    """Level stretches (start, end, cents); a turning point is one of no length."""
    if not note.knots:
        return [(0.0, note.duration_s, 0.0)]
    levels = [(0.0, *note.knots[0])]
    for (_, cents), (time_s, next_cents) in pairwise(note.knots):
        if abs(next_cents - cents) <= SAME_CENTS:
            levels[-1] = (levels[-1][0], time_s, levels[-1][2])
        else:
            levels.append((time_s, time_s, next_cents))
    levels[-1] = (levels[-1][0], max(note.duration_s, levels[-1][1]), levels[-1][2])
    inside = [level for level in levels if level[0] <= note.duration_s]
    beyond = levels[len(inside) : len(inside) + 1]  # tells which way a cut wave was going
    return [(start, min(end, note.duration_s), cents) for start, end, cents in inside] + beyond
