"""A player's own sound given another pitch line, without moving it in time.

The method is time-varying resampling. With the phase P(t) of the note as played and the phase
Q(t) of the line it is to follow (integrals of pitch, in cycles), the sound at t is read where
P = Q(t) + c. A whole number c leaves the pitch as it is and says which period is heard, so it is
changed, with a short cross-fade, whenever the reading point has strayed by `STRAY_CYCLES`: the
beat stays where it was to within about one period of the string, and attacks are not moved.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from labcore.errors import LabError
from labcore.model import Floats, PitchContour, Recording
from labcore.synthesis.sound import phase_cycles
from labcore.synthesis.take import made_recording

STRAY_CYCLES = 0.75  # half a period is the least that cannot flutter to and fro; a little more
FADE_S = 0.012  # cross-fade from one period to the next
BEFORE_ATTACK_S = (0.008, 0.003)  # the old note fades into the untouched attack between these
MOST_CHANGE = 2.0  # an octave; more is a mistake in the target
HALF_TAPS = 16  # of the windowed sinc
KAISER_BETA = 9.0  # about 90 dB of stop band (Kaiser 1974, from memory)
TABLE_STEPS = 512  # positions between two samples; linear in between: error below -100 dB
BLOCK = 1 << 16  # samples read at once, so that memory stays small


@dataclass(frozen=True, slots=True)
class _Stretch:
    """From one attack to the next, in samples, with both phases in cycles (shape (samples,))."""

    first: int
    played: Floats
    wanted: Floats


def retuned(recording: Recording, *, contour: PitchContour, target_hz: Floats) -> Recording:
    """The recording with its pitch moved to ``target_hz``, one value a frame of ``contour``.

    Where the contour or the target has no pitch (NaN) the sound stays as it is. Loudness, attacks
    and time stay: nothing moves by more than about one period of the note.
    """
    target = np.asarray(target_hz, dtype=np.float64)
    _check(contour, target)
    samples = recording.samples.astype(np.float64)
    ratio = np.where(contour.voiced & np.isfinite(target), target / contour.frequency_hz, 1.0)
    if np.any(ratio > MOST_CHANGE) or np.any(ratio < 1.0 / MOST_CHANGE):
        raise LabError("The target lies more than an octave from the note; give one nearer to it.")
    sound = samples.copy()
    for stretch in _stretches(contour, ratio, recording):
        _resound(sound, samples, stretch, sample_rate_hz=recording.sample_rate_hz)
    return made_recording(
        np.clip(sound, -1.0, 1.0).astype(np.float32),
        sample_rate_hz=recording.sample_rate_hz,
        name=recording.name,
    )


def _check(contour: PitchContour, target: Floats) -> None:
    if target.shape != contour.time_s.shape:
        raise LabError(
            f"{target.size} target pitches for {contour.time_s.size} frames; give one a frame."
        )
    if np.any(target <= 0.0) or np.any(np.isinf(target)):
        raise LabError("A target pitch must be above 0 Hz, or NaN where nothing is to change.")
    if not np.any(contour.voiced):
        raise LabError("No pitch was found in this take, so there is nothing to re-tune.")


def _filled(values: Floats, known: NDArray[np.bool_]) -> Floats:
    frames = np.arange(values.size)
    return np.interp(frames, frames[known], values[known])


def _stretches(contour: PitchContour, ratio: Floats, recording: Recording) -> list[_Stretch]:
    rate, size = recording.sample_rate_hz, recording.samples.size
    time_s = np.arange(size) / rate
    played = np.interp(time_s, contour.time_s, _filled(contour.frequency_hz, contour.voiced))
    wanted = played * np.exp(np.interp(time_s, contour.time_s, np.log(ratio)))
    starts = [0, *(round(attack_s * rate) for attack_s in contour.attack_s), size]
    bounds = sorted({min(max(start, 0), size) for start in starts})
    stretches = []
    for first, last in pairwise(bounds):
        both = (phase_cycles(hz[first:last], sample_rate_hz=rate) for hz in (played, wanted))
        stretches.append(_Stretch(first, *both))
    return stretches


def whole_cycles(ahead: Floats) -> tuple[list[int], list[int]]:
    """Where the reading point jumps, and by how many cycles it is then set off.

    ``ahead`` is how many cycles the played phase lies ahead of the wanted one, a sample each.
    Returns the first sample of each piece and its whole number of cycles, both beginning at 0.

    >>> whole_cycles(np.array([0.0, 0.5, 0.8, 1.2, 1.6, 1.9]))
    ([0, 2, 5], [0, 1, 2])
    """
    starts, offsets = [0], [0]
    at = 0
    while True:
        astray = np.abs(ahead[at:] - offsets[-1]) > STRAY_CYCLES
        if not np.any(astray):
            return starts, offsets
        at += int(np.argmax(astray))
        starts.append(at)
        offsets.append(round(float(ahead[at])))


def _resound(sound: Floats, samples: Floats, stretch: _Stretch, *, sample_rate_hz: float) -> None:
    """Write the re-tuned stretch into ``sound``."""
    size = stretch.played.size
    starts, offsets = whole_cycles(stretch.played - stretch.wanted)
    if offsets == [0] and np.max(np.abs(stretch.played - stretch.wanted)) < 1e-9:
        return
    half = max(1, int(FADE_S / 2.0 * sample_rate_hz))
    made, weight = np.zeros(size), np.zeros(size)
    for index, offset in enumerate(offsets):
        last = starts[index + 1] if index + 1 < len(starts) else size
        begin, end = max(starts[index] - half, 0), min(last + half, size)
        gain = _piece_gain(begin, end, starts[index], last, half=half, size=size)
        at = np.interp(stretch.wanted[begin:end] + offset, stretch.played, np.arange(size))
        made[begin:end] += gain * read_between(samples, at + stretch.first)
        weight[begin:end] += gain
    made /= np.maximum(weight, 1e-9)  # two jumps close together still add up to one
    _blend_ends(made, samples, stretch, sample_rate_hz=sample_rate_hz)
    sound[stretch.first : stretch.first + size] = made


def _piece_gain(begin: int, end: int, first: int, last: int, *, half: int, size: int) -> Floats:
    sample = np.arange(begin, end)
    gain = np.ones(sample.size)
    if first > 0:
        gain *= np.clip((sample - first + half) / (2.0 * half), 0.0, 1.0)
    if last < size:
        gain *= np.clip((last + half - sample) / (2.0 * half), 0.0, 1.0)
    return gain


def _blend_ends(made: Floats, samples: Floats, stretch: _Stretch, *, sample_rate_hz: float) -> None:
    """Before the next attack the made sound gives way to the untouched one."""
    size = made.size
    if stretch.first + size >= samples.size:
        return
    left = (size - np.arange(size)) / sample_rate_hz
    early, late = BEFORE_ATTACK_S
    share = np.clip((left - late) / (early - late), 0.0, 1.0)
    made *= share
    made += (1.0 - share) * samples[stretch.first : stretch.first + size]


# --- reading between samples --------------------------------------------------------------------


def _sinc_table() -> Floats:
    """Windowed sinc at ``TABLE_STEPS`` + 1 positions between samples; rows are positions."""
    share = np.arange(TABLE_STEPS + 1)[:, None] / TABLE_STEPS
    distance = share - np.arange(-HALF_TAPS + 1, HALF_TAPS + 1)[None, :]
    inside = np.clip(1.0 - (distance / HALF_TAPS) ** 2, 0.0, None)
    window = np.i0(KAISER_BETA * np.sqrt(inside)) / np.i0(KAISER_BETA)
    table = np.sinc(distance) * window
    return np.asarray(table / table.sum(axis=1, keepdims=True), dtype=np.float64)


SINC_TABLE = _sinc_table()


def read_between(samples: Floats, at: Floats) -> Floats:
    """Values of ``samples`` at the fractional positions ``at``; zero beyond both ends."""
    padded = np.concatenate([np.zeros(HALF_TAPS), samples, np.zeros(HALF_TAPS + 1)])
    place = np.clip(at, 0.0, samples.size - 1.0)
    out = np.empty(at.size)
    for begin in range(0, at.size, BLOCK):
        part = place[begin : begin + BLOCK]
        whole = np.floor(part).astype(np.int64)
        fine = (part - whole) * TABLE_STEPS
        row = np.minimum(fine.astype(np.int64), TABLE_STEPS - 1)
        blend = (fine - row)[:, None]
        taps = (1.0 - blend) * SINC_TABLE[row] + blend * SINC_TABLE[row + 1]
        windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * HALF_TAPS)
        out[begin : begin + BLOCK] = np.einsum("ij,ij->i", taps, windows[whole + 1])
    return out
