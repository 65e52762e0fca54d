"""Step 1b: take mains hum out, and nothing else.

Hum is what a steady comb at multiples of 50 or 60 Hz keeps saying while the notes come and go.
Each multiple is measured in half-second blocks and believed where its surroundings are quiet, so
a loud note nearby counts for little and the gaps between notes for much.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.decimate import Sound, Working, thinned
from labcore.units import SILENCE_DB

MAINS_HZ = (50.0, 60.0)
THIN = 6  # one sample in six is enough for the multiples, and six times cheaper
MULTIPLES = 12  # 600 or 720 Hz: above, hum is a hiss that robs no pitch
DRIFT_HZ = 0.12  # mains stay within 0.1 Hz of their nominal frequency nearly always (from memory)
DRIFT_STEP_HZ = 0.002  # 0.1 turn at the tenth multiple over five seconds
BLOCK_S = 0.5  # a Hann window this long parts partials 4 Hz apart
SECTION_S = 10.0  # mains frequency is taken as constant for so long
LEAST_S = 1.0  # in a shorter sound a held note looks like hum
LEAST_MULTIPLES = 2  # a single steady tone is a note, not hum
BELIEVED_POWER = 12.0  # power over its own variance: 3.5 sigma
STEADY_SHARE = 0.12  # in quiet blocks a multiple stays within so much of its mean ...
SIGMAS = 2.0  # ... and so many times what is beside it

PAUSE_S = 0.1  # whole periods of 50 and of 60 Hz: hum is equally loud in every such piece
PAUSE_SHARE = 0.05  # a recorder may start late, but in so many pieces the hum must sound too
LEAST_SHARE = 0.5  # of its power: noise may cancel some
LEFT_OVER_HZ = 1.0  # a coarse pitch is this sure of a steady tone
SINE_DB = 3.01  # an amplitude of 1 is this much above its root mean square

Complexes = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Comb:
    """Hum of one section: multiples of ``hz`` with complex amplitudes, phase at sample 0."""

    hz: float
    amplitude: Complexes  # shape (MULTIPLES,), 0 where there is none


@dataclass(frozen=True, slots=True)
class Blocks:
    """What a section says at each multiple, block by block; shape (blocks, MULTIPLES)."""

    centre_s: Floats  # shape (blocks,)
    value: Complexes  # phase referred to time 0
    trust: Floats  # one over the power beside the multiple


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A sound without hum, and what the hum was (re full scale; `SILENCE_DB` for none)."""

    sound: Working
    hum_db: float
    mains_hz: float  # 0 for none

    def is_hum(self, hz: Floats, *, level_db: float) -> bool:
        """Whether a pitch line is a multiple of the mains that stayed in the sound.

        One on which a held note stood cannot be told from it; alone, it is a soft line that keeps
        to the multiple as no string does.
        """
        if self.mains_hz == 0.0 or level_db > self.hum_db:
            return False
        off = hz - self.mains_hz * np.round(hz / self.mains_hz)
        return bool(np.quantile(np.abs(off), 0.8) < LEFT_OVER_HZ)


def without_hum(sound: Working) -> Cleaned:
    """The sound less its steady mains comb; the same sound where there is none."""
    size = sound.samples.size
    length = min(size, round(SECTION_S * sound.rate_hz))
    if length < LEAST_S * sound.rate_hz:
        return Cleaned(sound, SILENCE_DB, 0.0)
    starts = section_starts(size, length)
    low = Working(thinned(sound.samples, factor=THIN), sound.rate_hz / THIN)
    combs = [find_comb(low, start=a // THIN, stop=(a + length) // THIN) for a in starts]
    loudest = max(float(np.linalg.norm(comb.amplitude)) for comb in combs)
    if loudest == 0.0:
        return Cleaned(sound, SILENCE_DB, 0.0)
    clean = sound.samples.copy()
    for start, comb in zip(starts, combs, strict=True):
        _take_out(clean, comb=comb, start=start, length=length, starts=starts, sound=sound)
    mains_hz = float(np.median([comb.hz for comb in combs if comb.amplitude.any()]))
    hum_db = 20.0 * float(np.log10(loudest)) - SINE_DB
    return Cleaned(Working(clean, sound.rate_hz), hum_db, mains_hz)


def section_starts(size: int, length: int) -> list[int]:
    """Sections that overlap by half, the last one ending where the sound ends.

    >>> section_starts(100, 40)
    [0, 20, 40, 60]
    """
    count = int(np.ceil(2.0 * (size - length) / length)) + 1
    return [int(start) for start in np.linspace(0, size - length, count)]


def find_comb(sound: Working, *, start: int, stop: int) -> Comb:
    """The mains comb of one section, with zero amplitude where nothing steady is found."""
    piece = sound.samples[start:stop]
    time_s = start / sound.rate_hz
    found = [
        fit_comb(project(piece, mains_hz=hz, rate_hz=sound.rate_hz, start_s=time_s), mains_hz=hz)
        for hz in MAINS_HZ
    ]
    loudest = max(found, key=lambda comb: float(np.sum(np.abs(comb.amplitude))))
    power = 0.5 * float(np.sum(np.square(np.abs(loudest.amplitude))))
    if quietest_power(piece, rate_hz=sound.rate_hz) < LEAST_SHARE * power:
        return Comb(loudest.hz, np.zeros_like(loudest.amplitude))
    return loudest


def quietest_power(piece: Sound, *, rate_hz: float) -> float:
    """Power of the sound where it is softest: hum never pauses, a held note does."""
    length = round(PAUSE_S * rate_hz)
    whole = piece[: piece.size // length * length].reshape(-1, length)
    power = np.mean(np.square(whole, dtype=np.float64), axis=1)
    return float(np.quantile(power, PAUSE_SHARE))


def project(piece: Sound, *, mains_hz: float, rate_hz: float, start_s: float) -> Blocks:
    """Measure every multiple in every block, and the power just beside it.

    Beside means at the zeros of the Hann window, where the hum itself is silent.
    """
    length = round(BLOCK_S * rate_hz)
    windows = np.lib.stride_tricks.sliding_window_view(piece, length)[:: length // 2]
    tones = probes(mains_hz, length=length, rate_hz=rate_hz)
    # Not a matrix product: that would be shared out among threads, see `frames.product`.
    value = np.einsum("bn,nc->bc", windows.astype(np.complex128), tones)
    multiples = mains_hz * np.arange(1, MULTIPLES + 1)
    begin_s = start_s + np.arange(len(windows)) * (length // 2) / rate_hz
    on, below, above = np.split(value, 3, axis=1)
    on = on * np.exp(-2j * np.pi * np.outer(begin_s, multiples))
    power = np.square(np.abs(below)) + np.square(np.abs(above))
    return Blocks(begin_s + 0.5 * BLOCK_S, on, 1.0 / (power + 1e-14))


@cache
def probes(mains_hz: float, *, length: int, rate_hz: float) -> Complexes:
    """Windowed tones at, below and above each multiple; shape (length, 3 * MULTIPLES)."""
    window = np.hanning(length + 1)[:-1]
    multiples = mains_hz * np.arange(1, MULTIPLES + 1)
    beside_hz = 2.0 / BLOCK_S
    pitches = np.concatenate([multiples, multiples - beside_hz, multiples + beside_hz])
    turns = np.outer(np.arange(length) / rate_hz, pitches)
    return np.asarray(np.exp(-2j * np.pi * turns) * (window / window.sum())[:, None])


def fit_comb(blocks: Blocks, *, mains_hz: float) -> Comb:
    """The frequency near ``mains_hz`` that explains most, and what it explains there."""
    steps = np.arange(-DRIFT_HZ, DRIFT_HZ + 0.5 * DRIFT_STEP_HZ, DRIFT_STEP_HZ)
    gains = total_gain(blocks, drifts_hz=steps)
    drift = float(steps[gains.argmax()]) + DRIFT_STEP_HZ * vertex(gains)
    turned, total = turned_back(blocks, drift_hz=drift), blocks.trust.sum(axis=0)
    amplitude = (blocks.trust * turned).sum(axis=0) / total
    believed = explained(blocks, drift_hz=drift) > BELIEVED_POWER
    believed &= is_steady(turned, amplitude, trust=blocks.trust)
    if believed.sum() < LEAST_MULTIPLES:
        believed[:] = False
    return Comb(mains_hz + drift, np.where(believed, 2.0 * amplitude, 0.0))


def total_gain(blocks: Blocks, *, drifts_hz: Floats) -> Floats:
    """`explained`, summed over the multiples, for many drifts at once."""
    turn = np.exp(-2j * np.pi * np.outer(drifts_hz, blocks.centre_s))
    weighted, total = blocks.trust * blocks.value, blocks.trust.sum(axis=0)
    gain, power = np.zeros(drifts_hz.size), np.ones_like(turn)
    for m in range(MULTIPLES):
        power = power * turn  # the drift of multiple m + 1
        gain += np.square(np.abs((power * weighted[:, m]).sum(axis=1))) / total[m]
    return gain


def turned_back(blocks: Blocks, *, drift_hz: float) -> Complexes:
    """Block values as they would be if the mains ran at the nominal frequency."""
    number = np.arange(1, MULTIPLES + 1)
    turns = np.outer(drift_hz * blocks.centre_s, number)
    return np.asarray(blocks.value * np.exp(-2j * np.pi * turns))


def explained(blocks: Blocks, *, drift_hz: float) -> Floats:
    """Power of each multiple over its own variance, if the mains are off by ``drift_hz``."""
    mean = (blocks.trust * turned_back(blocks, drift_hz=drift_hz)).sum(axis=0)
    return np.asarray(np.square(np.abs(mean)) / blocks.trust.sum(axis=0))


def vertex(values: Floats) -> float:
    """Where between samples the largest value lies, by a parabola: -0.5 to 0.5 steps from it."""
    best = int(values.argmax())
    if best in (0, values.size - 1):
        return 0.0
    a, b, c = values[best - 1 : best + 2]
    return float(0.5 * (a - c) / min(a - 2.0 * b + c, -1e-12))


def is_steady(turned: Complexes, amplitude: Complexes, *, trust: Floats) -> NDArray[np.bool_]:
    """Whether each multiple is the same in the quieter half of the blocks; shape (MULTIPLES,).

    The same but for what sounds beside it; a string on a multiple fades from block to block.
    """
    allowed = STEADY_SHARE * np.abs(amplitude) + SIGMAS / np.sqrt(trust)
    off = np.abs(turned - amplitude) / allowed
    quiet = np.argsort(-trust, axis=0)[: (len(off) + 1) // 2]
    return np.asarray(np.median(np.take_along_axis(off, quiet, axis=0), axis=0) < 1.0)


def _take_out(
    clean: Sound, *, comb: Comb, start: int, length: int, starts: list[int], sound: Working
) -> None:
    """Subtract one section's comb from ``clean``, faded against its neighbours."""
    if not comb.amplitude.any():
        return
    n = np.arange(start, start + length)
    turn = np.exp(2j * np.pi * np.mod(n * (comb.hz / sound.rate_hz), 1.0)).astype(np.complex64)
    power, hum = np.ones_like(turn), np.zeros(length, dtype=np.float32)
    for amplitude in comb.amplitude.astype(np.complex64):
        power = power * turn
        hum += (amplitude * power).real
    clean[start : start + length] -= hum * fade(start, length=length, starts=starts)


def fade(start: int, *, length: int, starts: list[int]) -> NDArray[np.float32]:
    """Straight fades from the middle of a section to those of its neighbours; they add up to 1.

    From middle to middle, because sections that overlap by more than half meet three at a time.
    """
    middles = [one + length / 2 for one in starts]
    here = np.arange(start, start + length)
    return np.interp(here, middles, [one == start for one in starts]).astype(np.float32)
