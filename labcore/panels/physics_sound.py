"""What the physics lessons let you hear: a plucked string that follows a pitch line."""

from collections.abc import Callable, Sequence

import numpy as np

from labcore.audio import wav_bytes
from labcore.model import Floats, Recording
from labcore.physics.sounding import inharmonicity
from labcore.physics.strings import FrettedString
from labcore.synthesis import NoteDescription, TakeDescription, made_recording, synthesise

Line = Callable[[Floats], Floats]  # seconds in, cents above the plain note out

KNOT_S = 0.008  # finer than a quarter of a hundredth of the quickest wave
SEED = 72  # the pick noise is the same at every press
WIDEST_CENTS = 1150.0  # a slack string is not sounded
TAIL_S = 0.25


def note_for(
    at: FrettedString,
    line: Line,
    *,
    duration_s: float,
    loudness: Sequence[tuple[float, float]] = (),
) -> NoteDescription:
    """One pluck of a fretted string that follows ``line``: seconds in, cents above plain out."""
    time_s = np.arange(0.0, duration_s, KNOT_S)
    cents = np.clip(line(time_s), -WIDEST_CENTS, WIDEST_CENTS)
    return NoteDescription(
        onset_s=0.0,
        duration_s=duration_s + TAIL_S,
        hz=at.plain_hz,
        knots=tuple(zip(time_s.tolist(), cents.tolist(), strict=True)),
        decay_s=3.0,
        inharmonicity=inharmonicity(at),
        loudness_knots=tuple(loudness),
    )


def note_wav(note: NoteDescription) -> bytes:
    """The sound file of one note."""
    return wav_bytes(chord([note]))


def chord(notes: Sequence[NoteDescription]) -> Recording:
    """Several notes plucked at once, as one recording at the level of one."""
    sounds = []
    for note in notes:
        take = TakeDescription("note", note.duration_s, (note,), noise_db=None)
        sounds.append(synthesise(take, rng=np.random.default_rng(SEED))[0])
    total = np.sum([sound.samples for sound in sounds], axis=0) / np.sqrt(len(sounds))
    peak = max(1.0, float(np.max(np.abs(total))))
    return made_recording(total / peak, sample_rate_hz=sounds[0].sample_rate_hz, name="note")
