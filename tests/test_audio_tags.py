"""What is written beside the sound in a file: whatever it says, and however long it says it is.

Tags are written by libsndfile and FFmpeg. They are never read, so nothing in them can reach a
page: a recording is called by its file's name, and the sound is the same with and without them.
"""

import io
import struct
import tracemalloc
from collections.abc import Callable
from typing import Any

import av
import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labcore.audio import load_recording
from labcore.errors import LabError
from labcore.model import Recording

RATE_HZ = 16_000
HOSTILE = "<script>alert(1)</script> ../../up \u202e {{ 7 * 7 }} %s" * 20
LYING = (0, 1, 7, 8, 0x7FFF_FFFF, 0x8000_0000, 0xFFFF_FFF0, 0xFFFF_FFFF)
MOST_MB = 8.0  # beside the file itself, which is given as bytes; the sound is 64 kB as floats


def sound() -> Any:
    time_s = np.arange(RATE_HZ) / RATE_HZ
    return 0.5 * np.sin(2 * np.pi * 220 * time_s) * np.exp(-time_s)


def by_soundfile(form: str, subtype: str, *, tag: str) -> bytes:
    held = io.BytesIO()
    with soundfile.SoundFile(held, "w", RATE_HZ, 1, format=form, subtype=subtype) as file:
        if tag:
            file.title = file.artist = file.comment = file.album = tag
        file.write(sound())
    return held.getvalue()


def by_av(*, tag: str) -> bytes:
    held = io.BytesIO()
    with av.open(held, "w", format="ipod") as output:
        if tag:
            output.metadata.update(title=tag, artist=tag, comment=tag)
        stream = output.add_stream("aac", rate=RATE_HZ, layout="mono")
        frame = av.AudioFrame.from_ndarray(
            sound()[np.newaxis].astype(np.float32), format="fltp", layout="mono"
        )
        frame.sample_rate = RATE_HZ
        output.mux(stream.encode(frame))
        output.mux(stream.encode(None))
    return held.getvalue()


WRITERS: dict[str, Callable[..., bytes]] = {
    "wav": lambda tag: by_soundfile("WAV", "PCM_16", tag=tag),
    "flac": lambda tag: by_soundfile("FLAC", "PCM_16", tag=tag),
    "vorbis": lambda tag: by_soundfile("OGG", "VORBIS", tag=tag),
    "aiff": lambda tag: by_soundfile("AIFF", "PCM_16", tag=tag),
    "mp3": lambda tag: by_soundfile("MP3", "MPEG_LAYER_III", tag=tag),
    "m4a": lambda tag: by_av(tag=tag),
}


def loaded(data: bytes) -> tuple[Recording | None, str]:
    """The recording, or the sentence that refuses it; within the bound of memory."""
    tracemalloc.start()
    try:
        recording, said = load_recording(data), ""
    except LabError as error:
        recording, said = None, str(error)
    finally:
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    # A copy of the bytes is held while they are read.
    assert peak / 1e6 < MOST_MB + 2e-6 * len(data), f"{peak / 1e6:.1f} MB"
    return recording, said


@pytest.mark.parametrize("kind", sorted(WRITERS))
def test_hostile_tags_change_nothing_and_are_not_shown(kind: str) -> None:
    plain, tagged = WRITERS[kind](tag=""), WRITERS[kind](tag=HOSTILE)
    assert len(tagged) > len(plain)
    without, _ = loaded(plain)
    having, said = loaded(tagged)
    assert without is not None
    assert having is not None, said
    np.testing.assert_array_equal(having.samples, without.samples)
    assert having.facts == without.facts


def id3(size: int, *, told: int | None = None) -> bytes:
    """An ID3v2 tag (id3.org, ID3v2.4 section 3.1): its length stands in four bytes of 7 bits."""
    told = size if told is None else told
    return b"ID3\4\0\0" + bytes((told >> shift) & 0x7F for shift in (21, 14, 7, 0)) + bytes(size)


@pytest.mark.parametrize("size", [0, 1000, 65_526, 65_536, 3_000_000])
@pytest.mark.parametrize("kind", ["mp3", "flac"])
def test_a_long_tag_before_the_sound_is_passed_over(kind: str, size: int) -> None:
    without, _ = loaded(WRITERS[kind](tag=""))
    having, said = loaded(id3(size) + WRITERS[kind](tag=""))
    assert without is not None
    assert having is not None, said
    assert having.duration_s == pytest.approx(without.duration_s, abs=0.1)


def chunk(letters: bytes, data: bytes, *, told: int) -> bytes:
    return letters + struct.pack("<I", told) + data


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    st.sampled_from([b"LIST", b"INFO", b"id3 ", b"bext", b"cue ", b"smpl", b"fmt ", b"\0\0\0\0"]),
    st.sampled_from(LYING) | st.integers(0, 2**32 - 1),
    st.binary(max_size=200) | st.just(b"INFOINAM\xff\xff\xff\xff" + HOSTILE.encode()),
    st.booleans(),
)
def test_a_part_of_a_wav_that_lies_about_its_length_is_read_or_refused(
    letters: bytes, told: int, data: bytes, is_first: bool
) -> None:
    plain = WRITERS["wav"](tag="")
    place = 12 if is_first else 36  # before the format, or between it and the sound
    recording, said = loaded(plain[:place] + chunk(letters, data, told=told) + plain[place:])
    assert (recording is None) == bool(said)
    if recording is not None:
        assert recording.name == "take"
        assert "script" not in " ".join(recording.warnings)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(["flac", "vorbis", "m4a", "aiff"]), st.sampled_from(LYING), st.data())
def test_a_tag_that_lies_about_its_length_is_read_or_refused(
    kind: str, told: int, data: Any
) -> None:
    tagged = bytearray(WRITERS[kind](tag=HOSTILE))
    first = tagged.find(b"<script>")
    assert first > 8
    place = data.draw(st.integers(max(first - 40, 0), first - 4))  # where its lengths stand
    tagged[place : place + 4] = told.to_bytes(4, data.draw(st.sampled_from(["little", "big"])))
    recording, said = loaded(bytes(tagged))
    assert (recording is None) == bool(said)
    assert "script" not in said
