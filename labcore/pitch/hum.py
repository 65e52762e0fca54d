"""Step 1b: take mains hum out, and nothing else.

Hum is what a steady comb at multiples of 50 or 60 Hz keeps saying while the notes come and go.
Each multiple is measured in half-second blocks and believed where its surroundings are quiet, so
a loud note nearby counts for little and the gaps between notes for much.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.decimate import Sound, Working

MAINS_HZ = (50.0, 60.0)
MULTIPLES = 12  # 600 or 720 Hz: above, hum is a hiss that robs no pitch
DRIFT_HZ = 0.12  # mains stay within 0.1 Hz of their nominal frequency nearly always (from memory)
DRIFT_STEP_HZ = 0.002  # 0.1 turn at the tenth multiple over five seconds
BLOCK_S = 0.5  # a Hann window this long parts partials 4 Hz apart
SECTION_S = 10.0  # mains frequency is taken as constant for so long
LEAST_S = 1.0  # in a shorter sound a held note looks like hum
LEAST_MULTIPLES = 2  # a single steady tone is a note, not hum
BELIEVED_POWER = 12.0  # power over its own variance: 3.5 sigma
STEADY_SHARE = 0.5  # in quiet blocks a multiple stays within so much of its mean

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


def without_hum(sound: Working) -> Working:
    """The sound less its steady mains comb; the same sound where there is none."""
    size = sound.samples.size
    length = min(size, round(SECTION_S * sound.rate_hz))
    if length < LEAST_S * sound.rate_hz:
        return sound
    starts = section_starts(size, length)
    combs = [find_comb(sound, start=start, stop=start + length) for start in starts]
    if not any(comb.amplitude.any() for comb in combs):
        return sound
    clean = sound.samples.copy()
    for start, comb in zip(starts, combs, strict=True):
        _take_out(clean, comb=comb, start=start, length=length, starts=starts, sound=sound)
    return Working(clean, sound.rate_hz)


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
    return max(found, key=lambda comb: float(np.sum(np.abs(comb.amplitude))))


def project(piece: Sound, *, mains_hz: float, rate_hz: float, start_s: float) -> Blocks:
    """Measure every multiple in every block, and the power just beside it.

    Beside means at the zeros of the Hann window, where the hum itself is silent.
    """
    length = round(BLOCK_S * rate_hz)
    windows = np.lib.stride_tricks.sliding_window_view(piece, length)[:: length // 2]
    n = np.arange(length)
    window = np.hanning(length + 1)[:-1]
    beside_hz = 2.0 / BLOCK_S
    multiples = mains_hz * np.arange(1, MULTIPLES + 1)
    pitches = np.concatenate([multiples, multiples - beside_hz, multiples + beside_hz])
    tones = np.exp(-2j * np.pi * np.outer(n / rate_hz, pitches)) * (window / window.sum())[:, None]
    columns = np.concatenate([tones.real, tones.imag], axis=1).astype(np.float32)
    product = (windows @ columns).astype(np.float64)
    value = product[:, : pitches.size] + 1j * product[:, pitches.size :]
    begin_s = start_s + np.arange(len(windows)) * (length // 2) / rate_hz
    on, below, above = np.split(value, 3, axis=1)
    on = on * np.exp(-2j * np.pi * np.outer(begin_s, multiples))
    power = np.square(np.abs(below)) + np.square(np.abs(above))
    return Blocks(begin_s + 0.5 * BLOCK_S, on, 1.0 / (power + 1e-14))


def fit_comb(blocks: Blocks, *, mains_hz: float) -> Comb:
    """The frequency near ``mains_hz`` that explains most, and what it explains."""
    drift = np.arange(-DRIFT_HZ, DRIFT_HZ + 0.5 * DRIFT_STEP_HZ, DRIFT_STEP_HZ)
    number = np.arange(1, MULTIPLES + 1)
    turn = np.exp(-2j * np.pi * drift[:, None] * blocks.centre_s)
    mean = np.empty((drift.size, MULTIPLES), dtype=complex)
    power_of_turn = np.ones_like(turn)
    for m in range(MULTIPLES):
        power_of_turn = power_of_turn * turn
        mean[:, m] = power_of_turn @ (blocks.trust[:, m] * blocks.value[:, m])
    total = blocks.trust.sum(axis=0)
    gain = np.square(np.abs(mean)) / total
    best = int(gain.sum(axis=1).argmax())
    amplitude = mean[best] / total
    steady = is_steady(
        blocks,
        amplitude,
        turn=np.exp(-2j * np.pi * drift[best] * np.outer(blocks.centre_s, number)),
    )
    believed = (gain[best] > BELIEVED_POWER) & steady
    if believed.sum() < LEAST_MULTIPLES:
        believed[:] = False
    return Comb(mains_hz + float(drift[best]), np.where(believed, 2.0 * amplitude, 0.0))


def is_steady(blocks: Blocks, amplitude: Complexes, *, turn: Complexes) -> NDArray[np.bool_]:
    """Whether each multiple is the same in the quieter half of the blocks; shape (MULTIPLES,)."""
    off = np.abs(blocks.value * turn - amplitude)
    half = (len(off) + 1) // 2
    quiet = np.argsort(-blocks.trust, axis=0)[:half]
    typical = np.median(np.take_along_axis(off, quiet, axis=0), axis=0)
    return np.asarray(typical < STEADY_SHARE * np.abs(amplitude))


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
    """Straight fades over the overlap with the sections before and after; they add up to 1."""
    place = starts.index(start)
    weight = np.ones(length)
    if place > 0:
        overlap = starts[place - 1] + length - start
        weight[:overlap] *= np.arange(overlap) / overlap
    if place + 1 < len(starts):
        overlap = start + length - starts[place + 1]
        weight[length - overlap :] *= 1.0 - np.arange(overlap) / overlap
    return weight.astype(np.float32)
