"""A recording as the bytes of a file: FLAC to keep, WAV to play."""

import io

import numpy as np
from numpy.typing import NDArray

from labcore.model import Recording


def flac_bytes(recording: Recording) -> bytes:
    """The take as FLAC of 24 bits: small, and exact for all that came from up to 24 bits.

    A channel kept beside it is kept again, or a metronome in it would be lost. A take that goes
    over full scale is brought down to it as a whole.
    """
    samples = _within_full_scale(recording.samples)
    if recording.beside is not None:
        samples = np.stack([samples, recording.beside], axis=1)
    return _written(samples, recording, file_format="FLAC", subtype="PCM_24")


def wav_bytes(recording: Recording) -> bytes:
    """The take as mono WAV of 16 bits, which every page and player plays."""
    samples = _within_full_scale(recording.samples)
    return _written(samples, recording, file_format="WAV", subtype="PCM_16")


def _written(
    samples: NDArray[np.float32], recording: Recording, *, file_format: str, subtype: str
) -> bytes:
    import soundfile  # here, for hearing and judging samples needs numpy alone

    held = io.BytesIO()
    soundfile.write(
        held,
        samples,
        round(recording.sample_rate_hz),
        format=file_format,
        subtype=subtype,
    )
    return held.getvalue()


def _within_full_scale(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    peak = float(np.max(np.abs(samples)))
    return samples / np.float32(peak) if peak > 1.0 else samples
