"""Any file, bytes or microphone samples to a checked mono `Recording`.

Conventions
-----------
Full scale is 1. One channel of a stereo take is chosen, never the sum of two (turned round against
each other, they would cancel). A file is read in blocks and never trusted: whatever is in it, the
answer is a `Recording` or one `LabError`.
"""

from labcore.audio.load import load_recording
from labcore.audio.samples import recording_from_samples
from labcore.audio.save import flac_bytes, wav_bytes

__all__ = ["flac_bytes", "load_recording", "recording_from_samples", "wav_bytes"]
