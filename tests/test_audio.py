"""Recordings in: every format against what was written, every fault against its sentence.

Sound is written by the standard library, soundfile and PyAV, never by labcore; the note is made
here. Tolerances are named; lossy codings are compared by level and time, not sample by sample.
"""

import gc
import hashlib
import io
import math
import struct
import wave
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from labcore.audio import flac_bytes, load_recording, recording_from_samples, wav_bytes
from labcore.errors import LabError
from labcore.model import Recording

RATE_HZ = 44100
NOTE_HZ = 196.0  # the open third string
LEVEL_TOLERANCE_DB = 0.5  # of a lossy coding
LAG_TOLERANCE_S = 0.001  # of a lossy coding, whose silent lead-in must be gone
STEP_16 = 1.0 / 32768.0

Sound = NDArray[np.float64]


def ringing_note(seconds: float = 2.0, *, rate_hz: int = RATE_HZ, peak: float = 0.5) -> Sound:
    """A dying note with five partials and a hard start, after 0.1 s of nothing."""
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz - 0.1
    partials = [
        np.sin(2.0 * np.pi * NOTE_HZ * q * time_s) * np.exp(-time_s * (1 + q) / 2) / q
        for q in range(1, 6)
        if q * NOTE_HZ < 0.45 * rate_hz
    ]
    note = np.where(time_s >= 0.0, np.sum(partials, axis=0), 0.0)
    return np.asarray(peak * note / np.max(np.abs(note)), dtype=np.float64)


def written(sound: Sound, file_format: str, subtype: str | None, rate_hz: int = RATE_HZ) -> bytes:
    held = io.BytesIO()
    soundfile.write(held, sound, rate_hz, format=file_format, subtype=subtype)
    return held.getvalue()


def phone_written(sound: Sound, container: str, codec: str, rate_hz: int = 48000) -> bytes:
    """Sound as a phone or a page makes it, written by FFmpeg; ``sound`` is mono."""
    held = io.BytesIO()
    with av.open(held, "w", format=container) as output:
        stream = output.add_stream(codec, rate=rate_hz)
        stream.layout = "mono"
        stream.codec_context.open()
        _encode(sound, output, stream, rate_hz)
    return held.getvalue()


def _encode(sound: Sound, output: Any, stream: Any, rate_hz: int) -> None:
    frame = av.AudioFrame.from_ndarray(
        sound[np.newaxis].astype(np.float32), format="fltp", layout="mono"
    )
    frame.sample_rate, frame.time_base, frame.pts = rate_hz, Fraction(1, rate_hz), 0
    coder = stream.codec_context
    cut = av.AudioResampler(coder.format, coder.layout, rate_hz, coder.frame_size or 1024)
    for part in [*cut.resample(frame), *cut.resample(None)]:
        output.mux(stream.encode(part))
    output.mux(stream.encode(None))


def film(sound: Sound | None, rate_hz: int = 48000) -> bytes:
    """A small film, with or without sound."""
    held = io.BytesIO()
    with av.open(held, "w", format="mp4") as output:
        pictures = output.add_stream("mpeg4", rate=10)
        pictures.width, pictures.height, pictures.pix_fmt = 64, 48, "yuv420p"
        stream = output.add_stream("aac", rate=rate_hz) if sound is not None else None
        if stream is not None:
            stream.layout = "mono"
            stream.codec_context.open()
        for _ in range(20):
            picture = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
            output.mux(pictures.encode(picture))
        output.mux(pictures.encode(None))
        if stream is not None and sound is not None:
            _encode(sound, output, stream, rate_hz)
    return held.getvalue()


def lag_s(recording: Recording, sound: Sound) -> float:
    """How much later the recording has the sound, by their cross-correlation."""
    size = recording.samples.size + sound.size
    across = np.fft.irfft(
        np.fft.rfft(recording.samples, size) * np.conj(np.fft.rfft(sound, size)), size
    )
    best = int(np.argmax(across))
    return (best if best < size // 2 else best - size) / recording.sample_rate_hz


def level_db(sound: NDArray[Any]) -> float:
    return float(10.0 * np.log10(np.mean(np.asarray(sound, dtype=float) ** 2)))


# --- what comes in ---------------------------------------------------------------------------

EXACT = [
    ("WAV", "PCM_U8", 1 / 128),
    ("WAV", "PCM_16", STEP_16),
    ("WAV", "PCM_24", 2**-23),
    ("WAV", "PCM_32", 2**-23),
    ("WAV", "FLOAT", 1e-7),
    ("WAV", "DOUBLE", 1e-7),
    ("WAV", "ULAW", 0.02),
    ("WAVEX", "PCM_24", 2**-23),
    ("RF64", "PCM_16", STEP_16),
    ("FLAC", "PCM_16", STEP_16),
    ("FLAC", "PCM_24", 2**-23),
    ("AIFF", "PCM_16", STEP_16),
    ("AIFF", "FLOAT", 1e-7),
    ("CAF", "PCM_24", 2**-23),
    ("CAF", "ALAC_16", STEP_16),
]


@pytest.mark.parametrize(("file_format", "subtype", "step"), EXACT)
def test_a_lossless_file_comes_back_to_the_step(
    file_format: str, subtype: str, step: float
) -> None:
    note = ringing_note()
    recording = load_recording(written(note, file_format, subtype))
    assert recording.samples.dtype == np.float32
    assert recording.sample_rate_hz == RATE_HZ
    assert recording.samples.size == note.size
    assert np.max(np.abs(recording.samples - note)) <= step
    assert recording.warnings == ()


def test_samples_written_by_the_standard_library_come_back() -> None:
    note = np.round(ringing_note() * 32767).astype("<i2")
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(note.tobytes())
    assert np.array_equal(load_recording(held.getvalue()).samples, note.astype("f4") / 32768)


LOSSY: list[tuple[str, Callable[[Sound], bytes], int]] = [
    ("vorbis", lambda s: written(s, "OGG", "VORBIS", 48000), 48000),
    ("opus", lambda s: written(s, "OGG", "OPUS", 48000), 48000),
    ("mp3", lambda s: written(s, "MP3", None, 48000), 48000),
    ("m4a", lambda s: phone_written(s, "ipod", "aac"), 48000),
    ("mp4", lambda s: phone_written(s, "mp4", "aac"), 48000),
    ("film", film, 48000),
    ("webm", lambda s: phone_written(s, "webm", "libopus"), 48000),
    ("alac", lambda s: phone_written(s, "ipod", "alac"), 48000),
    ("mov pcm", lambda s: phone_written(s, "mov", "pcm_s16le"), 48000),
]


@pytest.mark.parametrize(
    ("write", "rate_hz"), [each[1:] for each in LOSSY], ids=[each[0] for each in LOSSY]
)
def test_what_a_phone_or_a_page_makes_comes_back_in_time_and_level(
    write: Callable[[Sound], bytes], rate_hz: int
) -> None:
    note = ringing_note(rate_hz=rate_hz)
    recording = load_recording(write(note))
    assert recording.sample_rate_hz == rate_hz
    assert recording.duration_s == pytest.approx(2.0, abs=0.05)
    assert abs(lag_s(recording, note)) <= LAG_TOLERANCE_S
    assert level_db(recording.samples[: note.size]) == pytest.approx(
        level_db(note), abs=LEVEL_TOLERANCE_DB
    )
    assert recording.warnings == ()


@pytest.mark.parametrize(
    ("file_format", "subtype"),
    [("OGG", "VORBIS"), ("OGG", "OPUS"), ("MP3", None), ("FLAC", "PCM_16"), ("CAF", "ALAC_16")],
)
@pytest.mark.parametrize("first", [0, 30000])
def test_reading_in_blocks_is_reading_at_once(
    file_format: str, subtype: str | None, first: int
) -> None:
    data = written(ringing_note(rate_hz=48000), file_format, subtype, 48000)
    at_once, _ = soundfile.read(io.BytesIO(data), dtype="float32")
    recording = load_recording(data, start_s=first / 48000)
    assert np.max(np.abs(recording.samples - at_once[first:])) < 2e-4


def test_bare_aac_comes_in_with_its_lead_in() -> None:
    note = ringing_note(rate_hz=48000)
    recording = load_recording(phone_written(note, "adts", "aac"))
    assert 0.0 <= lag_s(recording, note) < 0.06  # nothing in the file says how long the lead-in is


@pytest.mark.parametrize("rate_hz", [8000, 11025, 16000, 22050, 48000, 88200, 96000, 192000])
def test_every_sample_rate_is_kept(rate_hz: int) -> None:
    recording = load_recording(written(ringing_note(rate_hz=rate_hz), "WAV", "PCM_16", rate_hz))
    assert recording.sample_rate_hz == rate_hz
    assert recording.duration_s == pytest.approx(2.0)


@pytest.mark.parametrize("as_what", ["path", "text path", "bytes", "view", "file", "stream"])
def test_a_file_may_be_given_in_any_way(tmp_path: Path, as_what: str) -> None:
    path = tmp_path / "bänk 3 – take.wav"
    path.write_bytes(written(ringing_note(), "WAV", "PCM_16"))

    class Stream:  # the body of a request: it can only be read on
        def __init__(self) -> None:
            self.held = io.BytesIO(path.read_bytes())

        def read(self, size: int = -1) -> bytes:
            return self.held.read(min(size, 1000))

    given: Any = {
        "path": path,
        "text path": str(path),
        "bytes": path.read_bytes(),
        "view": memoryview(path.read_bytes()),
        "stream": Stream(),
    }.get(as_what)
    if as_what == "file":
        with path.open("rb") as file:
            file.read(100)  # wherever it stands
            recording = load_recording(file)
            assert not file.closed
    else:
        recording = load_recording(given)
    expected = load_recording(path)
    assert recording.sha256 == expected.sha256
    assert expected.name == "bänk 3 – take"
    assert load_recording(path, name="bench 3").name == "bench 3"


def test_the_digest_is_that_of_the_mono_float_samples() -> None:
    recording = recording_from_samples(ringing_note(), sample_rate_hz=RATE_HZ)
    raw = recording.samples.astype("<f4").tobytes()
    assert recording.sha256 == hashlib.sha256(raw).hexdigest()
    assert not recording.samples.flags.writeable


# --- a part of it ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "write",
    [
        lambda s: written(s, "WAV", "PCM_16"),
        lambda s: written(s, "FLAC", "PCM_16"),
        lambda s: phone_written(s, "ipod", "alac", RATE_HZ),
    ],
    ids=["wav", "flac", "alac"],
)
def test_a_part_is_what_stands_there(write: Callable[[Sound], bytes]) -> None:
    note = ringing_note(4.0)
    part = load_recording(write(note), start_s=1.25, end_s=3.0)
    first = round(1.25 * RATE_HZ)
    assert part.duration_s == pytest.approx(1.75, abs=1e-4)
    assert np.max(np.abs(part.samples - note[first : first + part.samples.size])) <= STEP_16
    assert part.warnings == ()


def test_a_part_past_the_end_ends_with_the_file() -> None:
    part = load_recording(written(ringing_note(3.0), "WAV", "PCM_16"), start_s=1.0, end_s=9.0)
    assert part.duration_s == pytest.approx(2.0)
    assert part.warnings == ()


@pytest.mark.parametrize(
    ("start_s", "end_s", "says"),
    [
        (-1.0, None, "start at 0 or later"),
        (1.0, 1.2, "at least 0.5 s after"),
        (2.0, 1.0, "at least 0.5 s after"),
        (math.nan, None, "start at 0 or later"),
        (0.0, math.nan, "at least 0.5 s after"),
        (5.0, None, "lasts 3.0 s"),
        ("now", None, "give seconds"),
    ],
)
def test_an_impossible_part_is_refused(start_s: Any, end_s: Any, says: str) -> None:
    data = written(ringing_note(3.0), "WAV", "PCM_16")
    with pytest.raises(LabError, match=says):
        load_recording(data, start_s=start_s, end_s=end_s)


# --- channels --------------------------------------------------------------------------------


def noise(size: int, *, level: float, seed: int = 1) -> Sound:
    return level * np.random.default_rng(seed).standard_normal(size)


def chosen_channel(channels: list[Sound]) -> tuple[int, Recording]:
    """Which channel came in, by which one it is equal to."""
    recording = load_recording(written(np.stack(channels, axis=1), "WAV", "FLOAT"))
    off = [float(np.max(np.abs(recording.samples - channel))) for channel in channels]
    assert min(off) < 1e-6
    return int(np.argmin(off)), recording


@pytest.mark.parametrize("place", [0, 1])
def test_a_dead_channel_is_left_and_told(place: int) -> None:
    note = ringing_note()
    channels = [np.zeros(note.size), np.zeros(note.size)]
    channels[place] = note
    chosen, recording = chosen_channel(channels)
    assert chosen == place
    assert any("channels is dead" in warning for warning in recording.warnings)


@pytest.mark.parametrize("place", [0, 1])
@pytest.mark.parametrize(
    "other",
    [
        noise(2 * RATE_HZ, level=0.3),  # louder than the note
        0.3 * np.sin(2 * np.pi * 50 * np.arange(2 * RATE_HZ) / RATE_HZ),  # hum, louder
        0.1 * ringing_note() + noise(2 * RATE_HZ, level=0.05),  # the room
        0.5 * ringing_note(),  # farther away
    ],
    ids=["noise", "hum", "room", "farther"],
)
def test_the_channel_with_the_steadier_note_is_taken(place: int, other: Sound) -> None:
    channels = [other, other]
    channels[place] = ringing_note()
    chosen, recording = chosen_channel(channels)
    assert chosen == place
    assert not any("dead" in warning for warning in recording.warnings)


def test_channels_turned_against_each_other_do_not_cancel() -> None:
    note = ringing_note()
    recording = load_recording(written(np.stack([note, -note], axis=1), "FLAC", "PCM_24"))
    assert level_db(recording.samples) == pytest.approx(level_db(note), abs=0.01)


def test_of_six_channels_the_one_with_the_note_is_taken() -> None:
    channels = [noise(2 * RATE_HZ, level=0.01, seed=seed) for seed in range(6)]
    channels[4] = ringing_note()
    assert chosen_channel(channels)[0] == 4


@pytest.mark.parametrize("turned", [False, True])
def test_samples_of_two_channels_may_lie_either_way(turned: bool) -> None:
    both = np.stack([np.zeros(RATE_HZ), ringing_note(1.0)], axis=1)
    recording = recording_from_samples(both.T if turned else both, sample_rate_hz=RATE_HZ)
    assert np.allclose(recording.samples, both[:, 1])


def test_a_long_stereo_file_is_decoded_twice_and_comes_out_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    data = written(np.stack([np.zeros(88200), ringing_note()], axis=1), "FLAC", "PCM_16")
    held = load_recording(data)
    monkeypatch.setattr("labcore.audio.limits.HELD_SAMPLES", 1000)
    assert load_recording(data).sha256 == held.sha256


# --- scales of samples -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dtype", "full"), [(np.int8, 128.0), (np.int16, 32768.0), (np.int32, 2147483648.0)]
)
def test_whole_numbers_have_the_full_scale_of_their_type(dtype: Any, full: float) -> None:
    note = ringing_note(1.0)
    recording = recording_from_samples((note * (full - 1)).astype(dtype), sample_rate_hz=RATE_HZ)
    assert np.max(np.abs(recording.samples - note)) < 1.5 / full + 1e-6


def test_bytes_have_their_middle_at_128() -> None:
    note = ringing_note(1.0)
    given = (128.0 + 127.0 * note).astype(np.uint8)
    recording = recording_from_samples(given, sample_rate_hz=RATE_HZ)
    assert np.max(np.abs(recording.samples - note)) < 2 / 128


def test_floats_in_another_scale_are_brought_down_and_it_is_told() -> None:
    recording = recording_from_samples(ringing_note() * 32767, sample_rate_hz=RATE_HZ)
    assert np.max(np.abs(recording.samples)) == pytest.approx(1.0)
    assert "brought down" in recording.warnings[0]


@pytest.mark.parametrize(
    ("samples", "says"),
    [
        (np.zeros((3, 3, 3)), "shape"),
        (np.float64(0.1), "shape"),
        ([], "shape"),
        (np.zeros((40000, 9)), "9 channels"),
        (np.arange(44100), "type int64"),
        (np.array(["a"] * 44100), "type <U1"),
        (np.ones(44100, dtype=complex), "type complex128"),
        (np.ones(44100, dtype=bool), "type bool"),
        ([[1.0, 2.0], [3.0]], "no even table"),
    ],
)
def test_samples_that_are_none_are_refused(samples: Any, says: str) -> None:
    with pytest.raises(LabError, match=says):
        recording_from_samples(samples, sample_rate_hz=RATE_HZ)


@pytest.mark.parametrize("rate_hz", [0, -44100, 7999, 192001, math.nan, math.inf, None, "fast"])
def test_a_sample_rate_outside_what_is_heard_is_refused(rate_hz: Any) -> None:
    with pytest.raises(LabError, match="sample rate"):
        recording_from_samples(ringing_note(), sample_rate_hz=rate_hz)


# --- warnings --------------------------------------------------------------------------------


def warnings_of(sound: Sound, rate_hz: int = RATE_HZ) -> tuple[str, ...]:
    return load_recording(written(sound, "WAV", "FLOAT", rate_hz)).warnings


def test_cut_off_tops_are_told_with_their_share() -> None:
    loud = np.clip(4.0 * ringing_note(), -1.0, 1.0)
    share = 100 * np.mean(np.abs(loud) >= 1.0)
    (warning,) = load_recording(written(loud, "WAV", "PCM_16")).warnings
    told = float(warning.split("(")[1].split(" %")[0])
    assert told == pytest.approx(share, rel=0.25)  # runs shorter than four are not counted


def test_tops_cut_off_and_turned_down_later_are_told() -> None:
    assert "cut off" in warnings_of(0.4 * np.clip(3.0 * ringing_note(), -0.9, 1.0))[0]


@pytest.mark.parametrize("hz", [41.2, 82.4, 196.0, 659.0])
@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "FLOAT"])
@pytest.mark.parametrize("rate_hz", [44100, 96000])
def test_a_smooth_sound_at_full_scale_is_not_called_cut_off(
    hz: float, subtype: str, rate_hz: int
) -> None:
    sine = 0.9999 * np.sin(2 * np.pi * hz * np.arange(2 * rate_hz) / rate_hz)
    assert load_recording(written(sine, "WAV", subtype, rate_hz)).warnings == ()


def test_a_driven_amplifier_is_not_called_cut_off() -> None:
    assert warnings_of(0.8 * np.tanh(8.0 * ringing_note())) == ()


def test_a_very_quiet_take_is_told() -> None:
    (warning,) = warnings_of(ringing_note(peak=0.003))
    assert "very quiet" in warning


@pytest.mark.parametrize("rate_hz", [8000, 16000])
def test_the_rate_of_a_headset_is_told(rate_hz: int) -> None:
    (warning,) = warnings_of(ringing_note(rate_hz=rate_hz), rate_hz)
    assert "headset" in warning
    assert f"{rate_hz // 1000} kHz" in warning


def test_an_offset_is_taken_out_and_told() -> None:
    recording = load_recording(written(ringing_note(peak=0.4) + 0.1, "WAV", "FLOAT"))
    assert abs(float(np.mean(recording.samples))) < 1e-4
    assert "shifted off its middle by 10 %" in recording.warnings[0]


def test_a_good_take_has_no_warnings() -> None:
    assert warnings_of(ringing_note() + noise(2 * RATE_HZ, level=1e-3)) == ()


# --- what is wrong with a file ----------------------------------------------------------------


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(LabError, match=r"There is no file .*take\.wav"):
        load_recording(tmp_path / "take.wav")


def test_an_empty_file_is_not_left_open(tmp_path: Path) -> None:
    path = tmp_path / "nothing in it.wav"
    path.touch()
    with pytest.raises(LabError, match="is empty"):
        load_recording(path)
    gc.collect()  # an open file would be warned of now, and warnings are errors


def test_a_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(LabError, match="is a folder"):
        load_recording(tmp_path)


@pytest.mark.parametrize("path", ["no\0name.wav", "x" * 5000])
def test_an_impossible_name_is_refused(path: str) -> None:
    with pytest.raises(LabError, match=r"cannot be opened|There is no file"):
        load_recording(path)


@pytest.mark.parametrize("given", [None, 7, ["take.wav"]])
def test_something_that_holds_no_bytes_is_refused(given: Any) -> None:
    with pytest.raises(LabError, match=f"from {type(given).__name__}"):
        load_recording(given)


def test_a_file_opened_as_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(written(ringing_note(), "WAV", "PCM_U8"))
    with path.open(encoding="latin-1") as file, pytest.raises(LabError, match="opened as text"):
        load_recording(file)  # type: ignore[arg-type]
    with pytest.raises(LabError, match="opened as text"):
        load_recording(io.StringIO("abc"))  # type: ignore[arg-type]


def test_a_closed_file_is_refused() -> None:
    file = io.BytesIO(b"RIFF")
    file.close()
    with pytest.raises(LabError, match="open it again"):
        load_recording(file)


def test_a_stream_that_breaks_is_refused() -> None:
    class Broken:
        def read(self, size: int = -1) -> bytes:
            raise ConnectionError("the line is down")

    with pytest.raises(LabError, match="the line is down"):
        load_recording(Broken())  # type: ignore[arg-type]


OTHER_THINGS = [
    (b"", "is empty"),
    (b"Dear diary, today I practised." * 40, "is text"),
    ("Übung am Morgen\n".encode() * 40, "is text"),
    (b"%PDF-1.7\n" + bytes(500), "a PDF"),
    (b"\x89PNG\r\n\x1a\n" + bytes(500), "a picture"),
    (b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(500), "a picture"),
    (b"GIF89a" + bytes(500), "a picture"),
    (b"RIFF\x24\x00\x00\x00WEBPVP8 " + bytes(500), "a picture"),
    (b"\x00\x00\x00\x18ftypheic" + bytes(500), "a picture"),
    (b"PK\x03\x04" + bytes(500), "a zip"),
    (b"MThd\x00\x00\x00\x06" + bytes(500), "is a MIDI file of notes, not sound; give"),
    (bytes(5000), "is of no kind that is known here; give"),
    (b"#EXTM3U\nfile:///etc/hostname\n" * 20, "is text"),
    (b"ffconcat version 1.0\nfile take.wav\n" * 20, "is text"),
    (b"RIFF", "no kind that is known|text"),
    (b"RIFF\x24\x00\x00\x00WAVE", "no sound in it can be read"),
    (b"fLaC" + bytes(60), "no sound in it can be read"),
    (b"OggS" + bytes(60), "no sound in it can be read"),
    (b"\x00\x00\x00\x18ftypM4A " + bytes(60), "no sound in it can be read"),
    (b"\x1aE\xdf\xa3" + bytes(60), "no sound in it can be read"),
]


@pytest.mark.parametrize(("data", "says"), OTHER_THINGS)
def test_what_is_no_sound_is_called_by_its_name(data: bytes, says: str) -> None:
    with pytest.raises(LabError, match=says):
        load_recording(data)


def test_a_film_without_sound_is_refused() -> None:
    with pytest.raises(LabError, match="no sound in it, only pictures"):
        load_recording(film(None))


def test_without_pyav_the_way_to_install_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    data = phone_written(ringing_note(rate_hz=48000), "ipod", "aac")
    monkeypatch.setitem(__import__("sys").modules, "av", None)
    with pytest.raises(LabError, match=r"vibrato-lessons\[phone\].*WAV"):
        load_recording(data)


@pytest.mark.parametrize(
    ("sound", "says"),
    [
        (np.zeros(RATE_HZ), "silent .every sample is the same"),
        (np.full(RATE_HZ, 0.25), "silent .every sample is the same"),
        (noise(RATE_HZ, level=1e-5), "silent .loudest -100 dB"),
        (ringing_note()[4000:10000], r"lasts 0\.14 s; at least 0\.5 s"),
    ],
    ids=["zeros", "constant", "silence", "short"],
)
def test_a_take_without_a_note_is_refused(sound: Sound, says: str) -> None:
    with pytest.raises(LabError, match=says):
        load_recording(written(sound, "WAV", "FLOAT"))


def test_over_half_an_hour_is_refused_and_a_part_is_offered() -> None:
    rate_hz = 8000
    long = np.zeros(rate_hz * 1801, dtype=np.int16)
    long[: 2 * rate_hz] = ringing_note(rate_hz=rate_hz) * 32767
    data = written(long, "WAV", "PCM_16", rate_hz)
    with pytest.raises(LabError, match=r"30 minutes; at most 30 .* start_s and end_s"):
        load_recording(data)
    assert load_recording(data, end_s=1.5).duration_s == pytest.approx(1.5)


def test_a_few_lost_samples_are_filled_in_and_told() -> None:
    note = ringing_note()
    broken = note.copy()
    broken[[5000, 20000, 20001]] = [np.nan, np.inf, -np.inf]
    recording = load_recording(written(broken, "WAV", "FLOAT"))
    assert "3 lost samples were filled in." in recording.warnings
    assert np.max(np.abs(recording.samples - note)) < 0.02  # a line over three samples


@pytest.mark.parametrize("lost", [slice(100, 5000), slice(0, 88200, 1000), slice(300, 305)])
def test_many_lost_samples_are_counted_and_refused(lost: slice) -> None:
    broken = ringing_note()
    broken[lost] = np.nan
    count = int(np.isnan(broken).sum())
    with pytest.raises(LabError, match=f"{count} of 88200 samples are no numbers"):
        load_recording(written(broken, "WAV", "FLOAT"))


def test_lost_samples_at_both_ends_are_filled_in() -> None:
    broken = ringing_note()
    broken[[0, -1]] = np.nan
    assert np.all(np.isfinite(load_recording(written(broken, "WAV", "FLOAT")).samples))


def test_numbers_too_large_for_a_float_are_refused_as_lost() -> None:
    with pytest.raises(LabError, match="no numbers"):
        recording_from_samples(ringing_note() * 1e300, sample_rate_hz=RATE_HZ)


# --- headers that lie -------------------------------------------------------------------------


def wav_with(**changes: int) -> bytes:
    """A 16-bit mono WAV with some fields of its header changed."""
    data = (np.round(ringing_note() * 32767)).astype("<i2").tobytes()
    parts = {
        "coding": 1,
        "channels": 1,
        "rate_hz": RATE_HZ,
        "bytes_a_second": 2 * RATE_HZ,
        "frame_bytes": 2,
        "bits": 16,
        "data_bytes": len(data),
        "riff_bytes": 36 + len(data),
    } | changes
    head = struct.pack("<4sI4s4sI", b"RIFF", parts["riff_bytes"], b"WAVE", b"fmt ", 16)
    names = ("coding", "channels", "rate_hz", "bytes_a_second", "frame_bytes", "bits")
    head += struct.pack("<HHIIHH", *(parts[name] for name in names))
    return head + struct.pack("<4sI", b"data", parts["data_bytes"]) + data


def test_the_hand_written_header_is_good() -> None:
    assert load_recording(wav_with()).duration_s == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"channels": 0}, "0 channels; 1 to 8"),
        ({"channels": 9, "frame_bytes": 18, "bytes_a_second": 18 * RATE_HZ}, "9 channels; 1 to 8"),
        ({"channels": 1024, "frame_bytes": 2048, "bytes_a_second": 2048 * RATE_HZ}, "channels"),
        ({"rate_hz": 0, "bytes_a_second": 0}, "0 Hz"),
        ({"rate_hz": 4000, "bytes_a_second": 8000}, "4000 Hz"),
        ({"rate_hz": 384000, "bytes_a_second": 768000}, "384000 Hz"),
        ({"rate_hz": 48000}, "48000 samples a second in one place and 44100 in another"),
        ({"coding": 0x1234}, "no sound in it can be read"),
    ],
)
def test_a_header_that_cannot_be_is_refused(changes: dict[str, int], says: str) -> None:
    with pytest.raises(LabError, match=says):
        load_recording(wav_with(**changes))


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF])
def test_a_recorder_that_never_came_to_write_the_size_is_read_to_the_end(size: int) -> None:
    recording = load_recording(wav_with(data_bytes=size, riff_bytes=size))
    assert recording.duration_s == pytest.approx(2.0)
    assert recording.warnings == ()


def test_a_header_that_promises_gigabytes_sets_nothing_aside() -> None:
    recording = load_recording(wav_with(data_bytes=0x7FFFFFF0, riff_bytes=0x7FFFFFF0))
    assert recording.duration_s == pytest.approx(2.0)
    assert any("cut off" in warning for warning in recording.warnings)


def test_a_flac_that_promises_years_is_refused_unread() -> None:
    data = bytearray(written(ringing_note(), "FLAC", "PCM_16"))
    data[21] |= 0x0F  # the total of samples: 36 bits from the low half of this byte on
    data[22:26] = b"\xff\xff\xff\xff"
    with pytest.raises(LabError, match="minutes; at most 30"):
        load_recording(bytes(data))


TRUNCATED = [
    ("WAV", "PCM_16"),
    ("WAV", "PCM_24"),
    ("AIFF", "PCM_16"),
    ("FLAC", "PCM_16"),
    ("OGG", "VORBIS"),
    ("OGG", "OPUS"),
    ("CAF", "ALAC_16"),
]


@pytest.mark.parametrize(("file_format", "subtype"), TRUNCATED)
@pytest.mark.parametrize("share", [0.5, 0.9, 0.99])
def test_a_file_cut_off_is_used_as_far_as_it_goes(
    file_format: str, subtype: str, share: float
) -> None:
    note = np.tile(ringing_note(2.0, rate_hz=48000), 3)  # what is lost is loud, so large
    data = written(note, file_format, subtype, 48000)
    recording = load_recording(data[: int(share * len(data))])
    # A block of a coding, or a page of Ogg (a second or so), may be lost at the cut.
    assert 6.0 * share - 1.6 < recording.duration_s < 6.0 * share + 0.6
    assert any("cut off" in warning for warning in recording.warnings)


def test_a_web_recording_cut_off_is_used_as_far_as_it_goes() -> None:
    data = phone_written(np.tile(ringing_note(rate_hz=48000), 3), "webm", "libopus")
    recording = load_recording(data[: len(data) // 2])
    assert 2.0 < recording.duration_s < 4.0
    assert any("cut off" in warning for warning in recording.warnings)


def test_a_phone_recording_without_its_index_is_refused_with_advice() -> None:
    data = phone_written(ringing_note(rate_hz=48000), "ipod", "aac")
    with pytest.raises(LabError, match="damaged or cut off"):
        load_recording(data[: len(data) // 2])


def test_a_file_of_which_too_little_is_left_is_refused() -> None:
    data = written(ringing_note(), "WAV", "PCM_16")
    with pytest.raises(LabError, match=r"only 0\.2.* s could be read"):
        load_recording(data[: len(data) // 8])


def test_a_whole_file_is_never_called_cut_off() -> None:
    for _, write, rate_hz in LOSSY:
        assert load_recording(write(ringing_note(3.0, rate_hz=rate_hz))).warnings == ()


def test_an_mp3_behind_a_long_tag_is_read() -> None:
    tag = b"ID3\x03\x00\x00" + bytes([0, 0, 0x10, 0]) + bytes(0x10 << 7)
    data = tag + written(ringing_note(rate_hz=48000), "MP3", None, 48000)
    assert load_recording(data).duration_s == pytest.approx(2.0, abs=0.06)


# --- out again --------------------------------------------------------------------------------


def test_flac_out_is_exact_for_a_take_of_24_bits() -> None:
    recording = load_recording(written(ringing_note(), "WAV", "PCM_24"))
    again = load_recording(flac_bytes(recording))
    assert again.sha256 == recording.sha256


def test_wav_out_is_read_by_the_standard_library() -> None:
    recording = load_recording(written(ringing_note(), "FLAC", "PCM_16"))
    with wave.open(io.BytesIO(wav_bytes(recording))) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
        heard = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2") / 32768
    assert np.max(np.abs(heard - recording.samples)) <= STEP_16


def test_what_goes_over_full_scale_goes_out_whole() -> None:
    hot = recording_from_samples(ringing_note(peak=1.8), sample_rate_hz=RATE_HZ)
    heard, _ = soundfile.read(io.BytesIO(flac_bytes(hot)))
    assert np.max(np.abs(heard - hot.samples / 1.8)) < 1e-5
