"""What libsndfile reads: WAV, FLAC, OGG, MP3, AIFF. Imported when a file is opened, not before."""

from collections.abc import Iterator
from typing import Any

import soundfile

from labcore.audio.decode import Block, CutOffError, Header, NoDecoderError, Sound, without_first
from labcore.audio.sources import Source, SteadyReader

UNKNOWN_FRAMES = 2**62  # what libsndfile announces when it cannot tell
# One frame of FLAC: where a file is damaged, what stood before in the same read is lost.
READ_FRAMES = 4096


def sndfile_sound(source: Source) -> Sound:
    """The file as libsndfile reads it, or `NoDecoderError`."""
    try:
        with _opened(source) as sound:
            if sound.frames == 0:  # a recorder that broke off before it wrote how long it went
                raise NoDecoderError
            known = sound.frames < UNKNOWN_FRAMES
            header = Header(sound.samplerate, sound.channels, sound.frames if known else None)
    except Exception as error:  # whatever a damaged file makes of the library
        raise NoDecoderError from error
    return Sound(header, lambda first_frame: _blocks(source, first_frame=first_frame))


def _blocks(source: Source, *, first_frame: int) -> Iterator[Block]:
    try:
        with _opened(source) as sound:
            yield from without_first(_reads(sound), frames=first_frame - _wound(sound, first_frame))
    except (soundfile.SoundFileError, RuntimeError, ValueError, OSError) as error:
        raise CutOffError from error


def _reads(sound: Any) -> Iterator[Block]:
    while len(block := sound.read(READ_FRAMES, dtype="float32", always_2d=True)):
        yield block


def _wound(sound: Any, frames: int) -> int:
    """Winds forward if the file can be wound that far; how many frames were skipped.

    An MP3 is not: its frames lean on those before them, so the first ones after a jump are wrong.
    """
    if sound.format == "MP3" or not 0 < frames <= sound.frames < UNKNOWN_FRAMES:
        return 0
    return int(sound.seek(frames))


class _Forward(soundfile.SoundFile):  # type: ignore[misc]  # the library has no types
    """A sound file that is read on and on.

    Of one that can be wound, soundfile sets the place anew after every read, which breaks MP3.
    """

    def seekable(self) -> bool:
        return False


def _opened(source: Source) -> Any:
    return _Forward(SteadyReader(source.stream, size=source.size))
