"""What a phone or a browser makes, decoded by PyAV: M4A and AAC, MP4 with sound, WebM, CAF, ALAC.

PyAV (the ``av`` package, with FFmpeg in it) is an optional extra and is imported only when
libsndfile could not read a file.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

from labcore.audio.decode import Block, CutOffError, Header, NoDecoderError, Sound, without_first
from labcore.audio.sniff import Kind
from labcore.audio.sources import Source, SteadyReader
from labcore.errors import LabError

INSTALL = 'python -m pip install "vibrato-lessons[phone]"'
# A crafted file may name other files or web addresses to read on from: none is followed.
SHUT_IN = {"protocol_whitelist": "none", "enable_drefs": "0"}


NO_LENGTH = ("aac", "amr", "mp3")  # no header says it: FFmpeg guesses from the bit rate


def phone_sound(source: Source, *, kind: Kind) -> Sound:
    """The file as PyAV reads it, or `NoDecoderError`.

    Raises
    ------
    LabError
        If PyAV is not installed, or if there are only pictures in the file.
    """
    try:
        import av  # noqa: F401  # seen here, so that a missing one is told apart from a bad file
    except ImportError as error:
        raise LabError(
            f"{source.what} is {kind.words}, which needs one more package: run {INSTALL}, drop "
            "the file on the page of the lesson, or send it as WAV."
        ) from error
    try:
        with _opened(source, kind=kind) as (container, stream):
            header = _header(container, stream)
    except LabError:
        raise
    except Exception as error:  # whatever a damaged file makes of the library
        raise NoDecoderError from error
    return Sound(header, lambda first_frame: _blocks(source, kind=kind, first_frame=first_frame))


@contextmanager
def _opened(source: Source, *, kind: Kind) -> Iterator[tuple[Any, Any]]:
    import av

    reader = SteadyReader(source.stream, size=source.size)
    with av.open(reader, format=kind.av_format, container_options=SHUT_IN) as container:
        if not container.streams.audio:
            raise LabError(
                f"{source.what} has no sound in it, only pictures or text; record with sound."
            )
        yield container, container.streams.audio[0]


def _header(container: Any, stream: Any) -> Header:
    """Rate and channels of the first frame: what a stream announces may differ from it."""
    frame = next(container.decode(stream))
    length_s = None
    if container.format.name in NO_LENGTH:
        return Header(frame.sample_rate, frame.layout.nb_channels, None)
    if stream.duration and stream.time_base:
        length_s = float(stream.duration * stream.time_base)
    elif container.duration:
        length_s = container.duration / 1e6  # FFmpeg counts a container's time in microseconds
    frames = round(length_s * frame.sample_rate) if length_s and length_s > 0 else None
    return Header(frame.sample_rate, frame.layout.nb_channels, frames)


def _blocks(source: Source, *, kind: Kind, first_frame: int) -> Iterator[Block]:
    try:
        with _opened(source, kind=kind) as (container, stream):
            yield from without_first(_frames(container, stream), frames=first_frame)
    except GeneratorExit:
        raise
    except Exception as error:  # whatever a damaged file makes of the library
        raise CutOffError from error


def _frames(container: Any, stream: Any) -> Iterator[Block]:
    import av

    floats = av.AudioResampler(format="fltp")  # keeps rate and channels
    first = None
    for frame in container.decode(stream):
        kind = frame.sample_rate, frame.layout.nb_channels
        first = first or kind
        if kind != first:  # no recorder does that: damaged
            raise CutOffError
        for part in floats.resample(frame):
            yield np.ascontiguousarray(part.to_ndarray().T, dtype=np.float32)
