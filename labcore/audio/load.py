"""From a file to a `Recording`: which decoder, which part, which channel."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.audio import limits
from labcore.audio.channels import Choice, best_channel
from labcore.audio.decode import Block, CutOffError, Header, NoDecoderError, Sound
from labcore.audio.halving import halved
from labcore.audio.phone import phone_sound
from labcore.audio.samples import check_channels, check_duration, checked_rate_hz, checked_recording
from labcore.audio.sniff import Kind, kind_of
from labcore.audio.sources import Given, Source, open_source
from labcore.errors import LabError
from labcore.model import Recording

Row = NDArray[np.float32]  # shape (frames,)


def load_recording(
    source: Given, *, name: str | None = None, start_s: float = 0.0, end_s: float | None = None
) -> Recording:
    """A checked mono `Recording` of a sound file, or of a part of it.

    WAV, FLAC, OGG, MP3 and AIFF are read by libsndfile; M4A/AAC, MP4 and WebM (also video with
    sound), CAF and ALAC by PyAV, the extra ``[phone]``. Of several channels the best is taken.

    Parameters
    ----------
    source : path, bytes, or binary file
        A file that can be wound back is read from its start, wherever it stands.
    name : str, optional
        What to call it; else the name of the file.
    start_s, end_s : float
        The part to take, in seconds of the file; the recording then begins at ``start_s``.

    Raises
    ------
    LabError
        Whatever is wrong with the file: a reader never sees another exception. What is only
        doubtful (clipping, a file cut off) is told in ``Recording.warnings``.
    """
    start_s, end_s = _checked_part(start_s, end_s=end_s)
    opened = open_source(source, name=name)
    try:
        return _loaded(opened, name=name or opened.name, start_s=start_s, end_s=end_s)
    except MemoryError as error:
        raise LabError(
            f"{opened.what} is too large for this computer; give a part by start_s and end_s."
        ) from error
    finally:
        if opened.is_ours:
            opened.stream.close()


def _checked_part(start_s: float, *, end_s: float | None) -> tuple[float, float]:
    """Start and end as floats; the end of the file is infinity."""
    try:
        start, end = float(start_s), math.inf if end_s is None else float(end_s)
    except (TypeError, ValueError, OverflowError) as error:
        raise LabError(
            f"The part from {start_s!s:.40} to {end_s!s:.40} was asked for; give seconds."
        ) from error
    if not (0.0 <= start < math.inf and end - start >= limits.LEAST_DURATION_S - 1e-9):
        raise LabError(
            f"The part from {start:g} s to {end:g} s was asked for; start at 0 or later and end "
            f"at least {limits.LEAST_DURATION_S:g} s after it."
        )
    return start, end


def _loaded(source: Source, *, name: str, start_s: float, end_s: float) -> Recording:
    kind = kind_of(source)
    sound = _decoded(source, kind=kind)
    rate_hz = checked_rate_hz(sound.header.sample_rate_hz)
    check_channels(sound.header.channels)
    part = _part(source, sound.header, start_s=start_s, end_s=end_s)
    reading = _Reading(sound, part)
    choice, held = Choice(0), None
    if sound.header.channels > 1:
        held = _held(iter(reading))
        choice = best_channel(held or reading, sample_rate_hz=rate_hz)
    halvings = _halvings(part)

    def row_of(channel: int) -> Row:
        return _joined(_rows(iter(held or reading), channel=channel, halvings=halvings))

    mono = row_of(choice.channel)
    beside = None if choice.beside is None else row_of(choice.beside)
    remarks = [choice.remark] if choice.remark else []
    if reading.is_cut(kind):
        remarks.append(_cut_remark(source, reading))
    return checked_recording(
        mono,
        sample_rate_hz=rate_hz / 2**halvings,
        name=name,
        warnings=remarks,
        beside=beside,
    )


def _decoded(source: Source, *, kind: Kind) -> Sound:
    """The file through the first decoder that reads it."""
    from labcore.audio.sndfile import sndfile_sound  # here, for samples need no decoder

    try:
        return phone_sound(source, kind=kind) if kind.av_only else sndfile_sound(source)
    except NoDecoderError:
        pass
    try:
        return phone_sound(source, kind=kind)
    except NoDecoderError as error:
        raise LabError(
            f"{source.what} begins like {kind.words}, but no sound in it can be read: it may be "
            "damaged or cut off. Copy it again, or save it as WAV."
        ) from error


@dataclass(frozen=True, slots=True)
class _Part:
    """What is to be read, in frames; ``announced`` is what the file says there is of it."""

    first: int
    wanted: float  # infinity: to the end
    announced: float | None
    rate_hz: float


def _part(source: Source, header: Header, *, start_s: float, end_s: float) -> _Part:
    """The frames to read; `LabError` where the header already says that it cannot be done."""
    rate_hz = header.sample_rate_hz
    announced_s = None
    if header.announced_s is not None:
        announced_s = min(end_s, header.announced_s) - start_s
        if start_s > 0.0 and announced_s < limits.LEAST_DURATION_S:
            raise LabError(
                f"{source.what} lasts {header.announced_s:.1f} s, and the part from {start_s:g} s "
                "on was asked for; start earlier."
            )
    longest_s = end_s - start_s if announced_s is None else announced_s
    if limits.MOST_DURATION_S < longest_s < math.inf:
        check_duration(longest_s)
    announced = None if announced_s is None else announced_s * rate_hz
    wanted = (end_s - start_s) * rate_hz
    return _Part(
        round(start_s * rate_hz),
        round(wanted) if wanted < math.inf else math.inf,
        announced,
        rate_hz,
    )


@dataclass(slots=True)
class _Reading:
    """A part of a file, block by block and as often as needed; it counts what came."""

    sound: Sound
    part: _Part
    frames: int = 0
    lost_its_way: bool = False

    def __iter__(self) -> Iterator[Block]:
        self.frames, self.lost_its_way = 0, False
        try:
            for block in self.sound.blocks(self.part.first):
                left = self.part.wanted - self.frames
                block = block[: int(left)] if left < len(block) else block
                self.frames += len(block)
                if self.frames > limits.MOST_DURATION_S * self.part.rate_hz + len(block):
                    check_duration(self.frames / self.part.rate_hz)
                yield block
                if self.frames >= self.part.wanted:
                    return
        except CutOffError:  # a damaged file simply ends
            self.lost_its_way = True

    def is_cut(self, kind: Kind) -> bool:
        """True if less came than was asked for and promised."""
        if self.frames >= self.part.wanted:
            return False
        short = self.part.announced is not None and (
            self.part.announced - self.frames > limits.CUT_S * self.part.rate_hz
        )
        return self.lost_its_way or kind.truncated or short


def _held(blocks: Iterator[Block]) -> list[Block] | None:
    """All blocks, if they are few; None if they are better decoded twice than held."""
    held, samples = [], 0
    for block in blocks:
        held.append(block)
        samples += block.size
        if samples > limits.HELD_SAMPLES:
            return None
    return held


def _halvings(part: _Part) -> int:
    """How often to halve the rate while reading: only of long takes at high rates."""
    frames = part.wanted if part.announced is None else part.announced
    if frames <= limits.LONG_S * part.rate_hz:
        return 0
    return int(max(math.log2(part.rate_hz / limits.LONG_RATE_HZ), 0.0))


def _rows(blocks: Iterator[Block], *, channel: int, halvings: int) -> Iterator[Row]:
    """One channel of the blocks, at the rate it is kept at."""
    rows: Iterator[Row] = (block[:, channel].copy() for block in blocks)
    for _ in range(halvings):
        rows = halved(rows)
    return rows


def _joined(rows: Iterator[Row]) -> Row:
    """All rows in one, growing by doubling, so that no more than that is ever held."""
    joined, size = np.empty(limits.BLOCK_FRAMES, dtype=np.float32), 0
    for row in rows:
        if size + row.size > joined.size:
            joined = np.concatenate([joined, np.empty_like(joined)])
        joined[size : size + row.size] = row
        size += row.size
    return joined[:size]


def _cut_remark(source: Source, reading: _Reading) -> str:
    """The remark on a file that is cut off; `LabError` if too little of it is left."""
    read_s = reading.frames / reading.part.rate_hz
    if read_s < limits.LEAST_DURATION_S:
        raise LabError(
            f"{source.what} is damaged or cut off: only {read_s:.2g} s could be read, at least "
            f"{limits.LEAST_DURATION_S:g} s are needed. Copy it again."
        )
    return f"{source.what} is cut off or damaged: the first {read_s:.1f} s are used."
