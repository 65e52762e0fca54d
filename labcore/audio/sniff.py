"""What a file is by its first bytes, and whether its header contradicts itself.

The letters at the start of a file are those of the formats' own specifications (RIFF/WAVE, FLAC
RFC 9639, Ogg RFC 3533, AIFF, ISO base media file format, Matroska RFC 9559; from memory).
"""

import struct
from dataclasses import dataclass, replace

from labcore.audio.sources import Source, SteadyReader
from labcore.errors import LabError

HEAD_BYTES = 65_536
STREAMED_SIZES = (0, 0xFFFF_FFFF, 0x7FFF_FFFF)  # written before the length was known
MOST_CHUNKS = 1000
RATE_CONTRADICTION = 0.01


@dataclass(frozen=True, slots=True)
class Kind:
    """What the first bytes say."""

    words: str
    av_format: str  # what PyAV calls it
    av_only: bool = False  # libsndfile does not read it at all
    truncated: bool = False  # the header promises more bytes than there are


OTHERS = (
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"BM", "a picture (BMP)"),
    (b"II*\0", "a picture (TIFF)"),
    (b"MM\0*", "a picture (TIFF)"),
    (b"PK\x03\x04", "a zip archive or an office document"),
    (b"\x1f\x8b", "a packed archive"),
    (b"7z\xbc\xaf", "a packed archive"),
    (b"Rar!", "a packed archive"),
    (b"MThd", "a MIDI file of notes"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"SQLite format 3", "a database"),
)
STILLS = (b"heic", b"heix", b"mif1", b"avif", b"msf1")  # pictures in the same box as MP4


def kind_of(source: Source) -> Kind:
    """Which decoder to ask, from the first bytes.

    Raises
    ------
    LabError
        When the file is plainly something else, or a WAV header contradicts itself.
    """
    reader = SteadyReader(source.stream, size=source.size)
    head = reader.read(HEAD_BYTES)
    kind = _sound_kind(head, size=source.size)
    if kind is not None and kind.av_format == "ogg":
        reader.seek(max(source.size - HEAD_BYTES, 0))
        kind = replace(kind, truncated=_ogg_is_cut(reader.read(HEAD_BYTES)))
    if kind is None:
        other = _other_words(head)
        what = f"{other}, not sound" if other else "of no kind that is known here"
        raise LabError(f"{source.what} is {what}; give a WAV, FLAC, OGG, MP3, AIFF or M4A file.")
    return kind


def _sound_kind(head: bytes, *, size: int) -> Kind | None:
    if head[:4] in (b"RIFF", b"RIFX", b"RF64") and head[8:12] == b"WAVE":
        return _wav_kind(head, size=size)
    if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        return Kind("AIFF", "aiff", truncated=_promised(head, size=size, order=">"))
    if head[4:8] in (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip"):
        return None if head[8:12] in STILLS else Kind("M4A or MP4", "mov", av_only=True)
    for start, kind in (
        (b"fLaC", Kind("FLAC", "flac")),
        (b"OggS", Kind("OGG", "ogg")),
        (b"caff", Kind("CAF", "caf")),
        (b"\x1aE\xdf\xa3", Kind("WebM", "matroska", av_only=True)),
        (b"#!AMR", Kind("AMR", "amr", av_only=True)),
    ):
        if head.startswith(start):
            return kind
    if head.startswith(b"ID3") and len(head) >= 10:  # a tag before the sound, usually of an MP3
        return _sound_kind(head[10 + _tag_size(head) :], size=size) or Kind("MP3", "mp3")
    return _frame_kind(head)


def _tag_size(head: bytes) -> int:
    """Size of an ID3v2 tag: four bytes of seven bits (id3.org, ID3v2.4 section 6.2)."""
    return sum((byte & 0x7F) << (7 * place) for place, byte in enumerate(head[9:5:-1]))


def _ogg_is_cut(tail: bytes) -> bool:
    """True unless the last page is whole and marked as the last (RFC 3533, section 6)."""
    page = tail[max(tail.rfind(b"OggS"), 0) :]
    if len(page) < 27:
        return True
    segments = page[26]
    return len(page) < 27 + segments + sum(page[27 : 27 + segments]) or not page[5] & 0x04


def _frame_kind(head: bytes) -> Kind | None:
    """MP3 and bare AAC have no letters at their start, only eleven or twelve set bits."""
    head = head.lstrip(b"\0")
    if len(head) < 4 or head[0] != 0xFF or head.startswith(b"\xff\xd8\xff"):
        return None
    if head[1] & 0xF6 == 0xF0:
        return Kind("AAC", "aac", av_only=True)
    layered = head[1] & 0xE0 == 0xE0 and head[1] & 0x06 and head[2] & 0xF0 != 0xF0
    return Kind("MP3", "mp3") if layered else None


def _promised(head: bytes, *, size: int, order: str) -> bool:
    """True if the size in the outer chunk promises more bytes than the file has."""
    (announced,) = struct.unpack_from(f"{order}I", head, 4)
    return announced not in STREAMED_SIZES and announced + 8 > size + 1


def _wav_kind(head: bytes, *, size: int) -> Kind:
    """Checks the header of a WAV against itself; decoders believe only one half of it."""
    order = ">" if head[:4] == b"RIFX" else "<"
    place, truncated = 12, False
    for _ in range(MOST_CHUNKS):
        if place + 8 > len(head):
            break
        letters, length = (
            head[place : place + 4],
            struct.unpack_from(f"{order}I", head, place + 4)[0],
        )
        if letters == b"fmt " and place + 24 <= len(head):
            _check_format(struct.unpack_from(f"{order}HHIIHH", head, place + 8))
        if letters == b"data":
            truncated = length not in STREAMED_SIZES and place + 8 + length > size + 1
            break
        place += 8 + length + length % 2
    return Kind("WAV", "wav", truncated=truncated and head[:4] != b"RF64")


def _check_format(parts: tuple[int, ...]) -> None:
    coding, channels, rate_hz, bytes_a_second, frame_bytes, _ = parts
    if channels == 0:
        raise LabError("The sound has 0 channels; 1 to 8 are allowed. Save it as mono or stereo.")
    if rate_hz == 0:
        raise LabError(
            "The sample rate is 0 Hz; it must lie between 8000 and 192000. Save the recording at "
            "44100 or 48000 Hz."
        )
    plain = coding in (0x0001, 0x0003, 0xFFFE)  # whole numbers, floats, extensible
    if not plain or 0 in (bytes_a_second, frame_bytes):
        return
    other_hz = bytes_a_second / frame_bytes
    if abs(other_hz / rate_hz - 1.0) > RATE_CONTRADICTION:
        raise LabError(
            f"The header says {rate_hz} samples a second in one place and {other_hz:g} in "
            "another, so neither pitch nor time can be trusted. Export the recording again."
        )


def _other_words(head: bytes) -> str | None:
    """What a file is that is no sound; None where its beginning does not tell."""
    for start, words in OTHERS:
        if head.startswith(start):
            return words
    if head[4:8] == b"ftyp":
        return "a picture (HEIC or AVIF)"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "a picture (WebP)"
    sample = head[:4096]
    printable = sum(byte in b"\t\n\r" or 32 <= byte < 127 for byte in sample)
    if b"\0" not in sample and printable >= 0.8 * len(sample):
        return "text"
    return None
