"""The sound of a described take: a plucked string, clicks, room, hum, noise and drive.

A string is a sum of its partials. All follow one phase, the integral of the pitch line, so the
pitch of the sound is the pitch of the line at every sample. Amplitudes follow the ideal string
plucked at a share p of its length, sin(pi q p) / q^n (textbook; n = 2 for its path, 1 for its
speed). How fast the partials die is a plain made-up law (`DECAY_PER_PARTIAL`), no model.
"""

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.synthesis.description import (
    NOTE_PEAK_DB,
    ClickKind,
    NoteDescription,
    TakeDescription,
    line_through,
    pitch_cents,
)

MOST_PARTIALS = 40
TOP_SHARE = 0.45  # of the sample rate: no partial above, also with the pitch bent up
SILENT_NEPERS = 11.0  # a partial 96 dB down is not computed further: 16 bits end there
# Decay time of partial q is divided by 1 + this (q - 1). With 2 s for the first partial that is
# 4 dB a second for it and 22 for the tenth, within what ten public recordings of guitar notes do
# (3 to 14 and 16 to 77).
DECAY_PER_PARTIAL = 0.45
ATTACK_S = 0.002
RELEASE_S = 0.03  # the finger leaves or the next pluck damps the string
PICK_S, PICK_DB = 0.006, -18.0  # noise of the plectrum, re the note's peak; chosen, not measured
PEAK_WINDOW_S = 0.05  # the note is scaled by its peak in this first stretch
CLICK_S = 0.03
# hertz of an ordinary and an accented click, and their decay time in seconds; chosen, not measured
CLICK_SOUNDS = {
    ClickKind.TICK: (2400.0, 3200.0, 0.003),
    ClickKind.BEEP: (1000.0, 1500.0, 0.012),
    ClickKind.WOOD: (700.0, 950.0, 0.005),
}
HUM_PARTIALS = {1: 1.0, 2: 0.5, 3: 0.6, 5: 0.25}


def amplitude(level_db: float) -> float:
    """Amplitude of a level in dB; 1 is 0 dB.

    >>> amplitude(-20.0)
    0.1
    """
    return float(10.0 ** (level_db / 20.0))


def phase_cycles(frequency_hz: Floats, *, sample_rate_hz: float) -> Floats:
    """Integral of ``frequency_hz`` (one a sample) in whole turns, starting at 0; same shape."""
    middle = (frequency_hz[1:] + frequency_hz[:-1]) / (2.0 * sample_rate_hz)
    return np.concatenate([[0.0], np.cumsum(middle)])


def _sine(turns: Floats) -> NDArray[np.float32]:
    """Sine of whole turns; float32 is fast, but exact enough only near zero."""
    small = (turns - np.floor(turns)).astype(np.float32)
    return np.asarray(np.sin(np.float32(2.0 * np.pi) * small), dtype=np.float32)


def plucked(
    frequency_hz: Floats,
    *,
    sample_rate_hz: float,
    decay_s: float = 2.0,
    pluck_position: float = 0.13,
    brightness: float = 0.6,
    tone_hz: float = 6000.0,
    inharmonicity: float = 1e-4,
) -> Floats:
    """A plucked string that follows ``frequency_hz``, one value a sample; peak about 1.

    The first partial has exactly that frequency; partial q lies at
    q sqrt((1 + B q^2) / (1 + B)) times it.
    """
    phase = phase_cycles(frequency_hz, sample_rate_hz=sample_rate_hz)
    top_hz = float(np.max(frequency_hz))
    sound = np.zeros(frequency_hz.size, dtype=np.float32)
    for q in range(1, MOST_PARTIALS + 1):
        ratio = q * np.sqrt((1.0 + inharmonicity * q * q) / (1.0 + inharmonicity))
        if q > 1 and ratio * top_hz > TOP_SHARE * sample_rate_hz:
            break
        dies_s = decay_s / (1.0 + DECAY_PER_PARTIAL * (q - 1))
        weight = np.sin(np.pi * q * pluck_position) / q ** (2.0 - brightness)
        weight /= 1.0 + (q * top_hz / tone_hz) ** 4
        length = min(sound.size, int(SILENT_NEPERS * dies_s * sample_rate_hz) + 1)
        dying = np.exp(np.linspace(0.0, -length / (dies_s * sample_rate_hz), length, dtype="f4"))
        sound[:length] += np.float32(weight) * dying * _sine(ratio * phase[:length])
    start = sound[: max(1, int(PEAK_WINDOW_S * sample_rate_hz))]
    return sound.astype(np.float64) / max(float(np.max(np.abs(start))), 1e-12)


def _edges(size: int, *, sample_rate_hz: float) -> Floats:
    gain = np.ones(size)
    rise = min(int(ATTACK_S * sample_rate_hz), size // 2)
    fall = min(int(RELEASE_S * sample_rate_hz), size // 2)
    gain[:rise] = 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / max(rise, 1))
    gain[size - fall :] = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, fall + 1) / max(fall, 1))
    return gain


def _pick_noise(size: int, *, sample_rate_hz: float, rng: np.random.Generator) -> Floats:
    noise = np.diff(rng.standard_normal(size + 1))
    decay = np.exp(-np.arange(size) / (PICK_S / 3.0 * sample_rate_hz))
    return amplitude(PICK_DB) * 0.35 * noise * decay


def note_sound(
    note: NoteDescription,
    *,
    sample_rate_hz: float,
    rng: np.random.Generator,
    delay_s: float = 0.0,
    second_hz: float | None = None,
) -> Floats:
    """One note from its first sample on, at its level; ``delay_s`` places it between samples.

    With ``second_hz`` the same pluck is heard on another string, steady at that pitch.
    """
    size = round(note.duration_s * sample_rate_hz)
    time_s = np.arange(size) / sample_rate_hz + delay_s
    if second_hz is None:
        frequency_hz = note.hz * 2.0 ** (pitch_cents(note, time_s) / 1200.0)
    else:
        frequency_hz = np.full(size, second_hz)
    sound = plucked(
        frequency_hz,
        sample_rate_hz=sample_rate_hz,
        decay_s=note.decay_s,
        pluck_position=note.pluck_position,
        brightness=note.brightness,
        tone_hz=note.tone_hz,
        inharmonicity=note.inharmonicity,
    )
    if note.loudness_knots:
        sound *= 10.0 ** (line_through(note.loudness_knots, time_s) / 20.0)
    burst = min(size, int(4 * PICK_S * sample_rate_hz))
    sound[:burst] += _pick_noise(burst, sample_rate_hz=sample_rate_hz, rng=rng)
    return (
        note.level * amplitude(NOTE_PEAK_DB) * sound * _edges(size, sample_rate_hz=sample_rate_hz)
    )


def click_sound(kind: ClickKind, *, sample_rate_hz: float, accent: bool = False) -> Floats:
    """One metronome click, peak 1, `CLICK_S` long."""
    ordinary_hz, accent_hz, decay_s = CLICK_SOUNDS[kind]
    time_s = np.arange(int(CLICK_S * sample_rate_hz)) / sample_rate_hz
    hz = accent_hz if accent else ordinary_hz
    sound = np.sin(2.0 * np.pi * hz * time_s) * np.exp(-time_s / decay_s)
    if kind is ClickKind.WOOD:  # a hollow body: two tones that do not fit each other
        sound += 0.5 * np.sin(2.0 * np.pi * 1.593 * hz * time_s) * np.exp(-2.0 * time_s / decay_s)
    sound *= np.minimum(1.0, (time_s[-1] - time_s) / 0.002)
    return np.asarray(sound / np.max(np.abs(sound)), dtype=np.float64)


def add_at(track: Floats, sound: Floats, *, start: int) -> None:
    """Add ``sound`` to ``track`` in place from sample ``start``; what hangs over is cut."""
    stop = min(track.size, start + sound.size)
    track[start:stop] += sound[: max(stop - start, 0)]


def click_track(
    click_s: tuple[float, ...],
    *,
    size: int,
    sample_rate_hz: float,
    kind: ClickKind,
    level_db: float,
    accent_every: int = 0,
) -> Floats:
    """Clicks at ``click_s`` (to the nearest sample), peaking at ``level_db``; shape (size,)."""
    track = np.zeros(size)
    plain = click_sound(kind, sample_rate_hz=sample_rate_hz)
    accent = click_sound(kind, sample_rate_hz=sample_rate_hz, accent=True)
    for index, time_s in enumerate(click_s):
        chosen = accent if accent_every and index % accent_every == 0 else plain
        add_at(track, amplitude(level_db) * chosen, start=round(time_s * sample_rate_hz))
    return track


def in_room(
    sound: Floats,
    *,
    room_s: float,
    room_db: float,
    sample_rate_hz: float,
    rng: np.random.Generator,
) -> Floats:
    """The sound with a short made-up room after it: decaying noise of energy ``room_db``."""
    size = max(1, int(min(room_s, 2.0) * sample_rate_hz))
    time_s = np.arange(size) / sample_rate_hz
    tail = rng.standard_normal(size) * np.exp(-np.log(1000.0) * time_s / room_s)
    tail[: int(0.004 * sample_rate_hz)] = 0.0  # the nearest wall is a little over half a metre away
    tail *= amplitude(room_db) / np.sqrt(np.sum(tail**2) + 1e-30)
    length = int(2 ** np.ceil(np.log2(sound.size + size)))
    wet = np.fft.irfft(np.fft.rfft(sound, length) * np.fft.rfft(tail, length), length)
    return sound + wet[: sound.size]


def driven(sound: Floats, *, drive: float) -> Floats:
    """Soft clipping; a sound at the note's peak keeps its size."""
    if drive <= 0.0:
        return sound
    peak = amplitude(NOTE_PEAK_DB)
    return np.asarray(peak * np.tanh(drive * sound / peak) / np.tanh(drive), dtype=np.float64)


def _hum(take: TakeDescription, size: int) -> Floats:
    if take.hum_db is None:
        return np.zeros(size)
    time_s = np.arange(size) / take.sample_rate_hz
    parts = [
        weight * np.sin(2.0 * np.pi * q * take.hum_hz * time_s + q)
        for q, weight in HUM_PARTIALS.items()
    ]
    return np.asarray(amplitude(take.hum_db) * np.sum(parts, axis=0), dtype=np.float64)


def _strings(take: TakeDescription, size: int, rng: np.random.Generator) -> Floats:
    track = np.zeros(size)
    rate = take.sample_rate_hz
    for note in take.notes:
        start = int(np.ceil(note.onset_s * rate - 1e-6))
        delay_s = start / rate - note.onset_s
        sound = note_sound(note, sample_rate_hz=rate, rng=rng, delay_s=delay_s)
        add_at(track, sound, start=start)
        if take.second_hz is not None:
            other = note_sound(note, sample_rate_hz=rate, rng=rng, second_hz=take.second_hz)
            add_at(track, amplitude(take.second_db - NOTE_PEAK_DB) * other, start=start)
    return track


def take_sound(take: TakeDescription, *, rng: np.random.Generator) -> NDArray[np.float32]:
    """All of a take, clipped at full scale as a recorder would; shape (samples,)."""
    rate, size = take.sample_rate_hz, round(take.duration_s * take.sample_rate_hz)
    sound = _strings(take, size, rng) + _hum(take, size)
    sound = driven(sound, drive=take.drive)
    sound += click_track(
        take.click_s,
        size=size,
        sample_rate_hz=rate,
        kind=take.click_kind,
        level_db=take.click_db,
        accent_every=take.accent_every,
    )
    if take.room_s > 0.0:
        sound = in_room(
            sound, room_s=take.room_s, room_db=take.room_db, sample_rate_hz=rate, rng=rng
        )
    if take.noise_db is not None:
        sound += amplitude(take.noise_db) * rng.standard_normal(size)
    return np.clip(sound, -1.0, 1.0).astype(np.float32)
