"""Whatever is handed in: a clear sentence, and nothing worse."""

import io
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from labcore.analysis import analyse, analyse_many, hear, judge
from labcore.audio import load_recording, recording_from_samples, wav_bytes
from labcore.errors import LabError
from labcore.findings import choose
from labcore.model import Recording, Report, Task, Technique, Verdict
from labcore.synthesis import NoteDescription, TakeDescription, waves
from tests.judging.takes import one_note
from tests.made import sound_of

RATE_HZ = 44100
TASK = Task(72.0, 3, Technique.BEND)
GOOD = sound_of(
    one_note("good", waves(10, rate_hz=3.6, extent_cents=50, start_s=0.9), length_s=4.0)
)


def encoded(samples: NDArray[np.float32], *, form: str, rate_hz: int = RATE_HZ) -> bytes:
    held = io.BytesIO()
    subtype = {"OGG": "VORBIS", "MP3": "MPEG_LAYER_III"}.get(form)
    soundfile.write(held, samples, rate_hz, format=form, subtype=subtype)
    return held.getvalue()


def from_a_phone(samples: NDArray[np.float32], *, container: str) -> bytes:
    """AAC in M4A or MP4, as a phone writes it, by PyAV's own encoder."""
    held = io.BytesIO()
    with av.open(held, "w", format=container) as output:
        stream = output.add_stream("aac", rate=RATE_HZ, layout="mono")
        frame = av.AudioFrame.from_ndarray(samples[np.newaxis, :], format="fltp", layout="mono")
        frame.sample_rate = RATE_HZ
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            output.mux(packet)
    return held.getvalue()


@pytest.mark.parametrize("form", ["WAV", "FLAC", "OGG", "MP3", "AIFF"])
def test_every_usual_file_tells_the_same_story(form: str) -> None:
    report = analyse(load_recording(encoded(GOOD.samples, form=form)))
    assert len(report.cycles) == 10
    assert report.measures.extent is not None
    assert report.measures.extent.value == pytest.approx(50.0, abs=1.0)


@pytest.mark.parametrize("container", ["ipod", "mp4"])
def test_what_a_phone_makes_tells_the_same_story(container: str, tmp_path: Path) -> None:
    path = tmp_path / "take.m4a"
    path.write_bytes(from_a_phone(GOOD.samples, container=container))
    report = analyse(load_recording(path))
    assert len(report.cycles) == 10
    assert report.measures.extent is not None
    assert report.measures.extent.value == pytest.approx(50.0, abs=1.0)


@pytest.mark.parametrize("rate_hz", [8000, 11025, 22050, 48000, 96000, 192000])
def test_every_rate_tells_the_same_story(rate_hz: int) -> None:
    knots = waves(10, rate_hz=3.6, extent_cents=50, start_s=0.9)
    recording = sound_of(one_note("rate", knots, length_s=4.0, sample_rate_hz=float(rate_hz)))
    report = judge(hear(recording))
    assert len(report.cycles) == 10
    assert report.measures.extent is not None
    assert report.measures.extent.value == pytest.approx(50.0, abs=1.0)


@pytest.mark.parametrize("dead", [0, 1])
def test_a_dead_channel_is_passed_over(dead: int) -> None:
    stereo = np.column_stack([GOOD.samples, GOOD.samples])
    stereo[:, dead] = 0.0
    report = analyse(recording_from_samples(stereo, sample_rate_hz=RATE_HZ))
    assert len(report.cycles) == 10


def wrong_header() -> bytes:
    """A WAV that claims a rate no recorder has."""
    data = bytearray(encoded(GOOD.samples, form="WAV"))
    data[24:28] = (1_000_000).to_bytes(4, "little")
    return bytes(data)


REFUSED = {
    "an empty file": (b"", "empty"),
    "a text": (b"Dear teacher, here is my take.\n" * 40, "no sound|not sound|text"),
    "random bytes": (np.random.default_rng(1).bytes(4000), "sound"),
    "a header alone": (encoded(GOOD.samples, form="WAV")[:44], "0.5 s|cut off|at least"),
    "a wrong rate": (wrong_header(), "samples a second.*Export"),
    "silence": (encoded(np.zeros(2 * RATE_HZ, np.float32), form="WAV"), "silent"),
    "too short": (encoded(GOOD.samples[: RATE_HZ // 5], form="WAV"), r"at least 0\.5 s"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_cannot_be_used_is_refused_in_words(name: str) -> None:
    data, words = REFUSED[name]
    with pytest.raises(LabError, match=words) as refusal:
        load_recording(data)
    assert str(refusal.value).endswith(".")


def test_half_an_hour_is_the_most_and_a_part_is_offered() -> None:
    held = io.BytesIO()
    with soundfile.SoundFile(held, "w", 8000, 1, format="FLAC") as file:
        for _ in range(31):
            file.write(np.zeros(8000 * 60, dtype=np.float32))
    with pytest.raises(LabError, match=r"31 minutes.*start_s and end_s"):
        load_recording(held.getvalue())


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    with pytest.raises(LabError, match="no file"):
        load_recording(tmp_path / "nothing.wav")
    with pytest.raises(LabError, match="folder"):
        load_recording(tmp_path)


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_samples_that_are_no_numbers(value: float) -> None:
    few, many = GOOD.samples.copy(), GOOD.samples.copy()
    few[50_000:50_003] = value
    many[50_000:60_000] = value
    mended = recording_from_samples(few, sample_rate_hz=RATE_HZ)
    assert any("filled in" in warning for warning in mended.warnings)
    assert len(analyse(mended).cycles) == 10
    with pytest.raises(LabError, match="no numbers"):
        recording_from_samples(many, sample_rate_hz=RATE_HZ)


def test_a_file_cut_off_is_used_as_far_as_it_goes() -> None:
    data = encoded(GOOD.samples, form="WAV")
    recording = load_recording(data[: int(0.8 * len(data))])
    assert any("cut off" in warning for warning in recording.warnings)
    assert len(analyse(recording).cycles) >= 6


def test_clipping_is_warned_of_and_still_analysed() -> None:
    loud = np.clip(3.0 * GOOD.samples / np.abs(GOOD.samples).max(), -0.9, 0.9)
    recording = recording_from_samples(loud, sample_rate_hz=RATE_HZ)
    assert any("cut off" in warning for warning in recording.warnings)
    report = analyse(recording)
    assert report.measures.extent is not None
    assert report.measures.extent.value == pytest.approx(50.0, abs=1.5)


# --- sound that is no single string ------------------------------------------------------------


def of_samples(samples: NDArray[np.float64]) -> Recording:
    return recording_from_samples(samples, sample_rate_hz=RATE_HZ)


def plucked(hz: float, *, level: float = 1.0) -> NDArray[np.float64]:
    note = NoteDescription(0.3, 4.5, hz, level=level)
    return np.asarray(sound_of(TakeDescription("one", 5.0, (note,))).samples, dtype=float)


def hum(mains_hz: float) -> Recording:
    time_s = np.arange(5 * RATE_HZ) / RATE_HZ
    return of_samples(
        0.1 * sum(np.sin(2 * np.pi * mains_hz * k * time_s) / k for k in range(1, 10))
    )


def noise() -> Recording:
    return of_samples(0.1 * np.random.default_rng(2).normal(size=4 * RATE_HZ))


def chord() -> Recording:
    return of_samples(0.3 * (plucked(196.0) + plucked(246.9) + plucked(329.6)))


def speech() -> Recording:
    """Voiced syllables with gliding pitch and formants, as the source-filter model has them."""
    rng = np.random.default_rng(5)
    out = np.zeros(6 * RATE_HZ)
    for start_s in np.arange(0.2, 5.5, 0.24):
        length = int(rng.uniform(0.1, 0.2) * RATE_HZ)
        pitch = rng.uniform(95, 160) * np.linspace(1, rng.uniform(0.75, 1.25), length)
        phase = 2 * np.pi * np.cumsum(pitch) / RATE_HZ
        formants = rng.uniform([300, 900, 2200], [800, 1900, 3000])
        syllable = np.zeros(length)
        for k in range(1, 30):
            gain = sum(1 / (1 + ((k * pitch - f) / 90) ** 2) for f in formants)
            syllable += gain * np.sin(k * phase)
        first = int(start_s * RATE_HZ)
        out[first : first + length] += 0.05 * np.hanning(length) * syllable
    return of_samples(out + 0.0005 * rng.normal(size=out.size))


UNJUDGED = {
    "hum at 50 Hz": lambda: hum(50.0),
    "hum at 60 Hz": lambda: hum(60.0),
    "noise": noise,
    "a chord": chord,
    "speech": speech,
    "a plain note": lambda: of_samples(plucked(247.0)),
}


@pytest.mark.parametrize("name", UNJUDGED)
@pytest.mark.parametrize("task", [TASK, Task()], ids=["asked", "not asked"])
def test_what_is_no_vibrato_of_one_string_is_declined(name: str, task: Task) -> None:
    report = judge(hear(UNJUDGED[name]()), task)
    assert [finding.verdict for finding in report.findings] == [Verdict.NOT_ENOUGH], said(report)
    chosen = choose(report)
    assert chosen.praise is None
    assert chosen.work is not None
    assert chosen.work.sentence.startswith(("Not enough to say", "Heard, not judged"))


def test_a_chord_is_told_from_a_string() -> None:
    report = judge(hear(chord()), TASK)
    assert [finding.kind for finding in report.findings] == ["two_strings"], said(report)


def said(report: Report) -> str:
    return "; ".join(f"{f.kind}: {f.verdict}: {f.sentence}" for f in report.findings)


def test_sound_made_outside_comes_back_as_it_was() -> None:
    again = load_recording(wav_bytes(GOOD))
    assert again.duration_s == pytest.approx(GOOD.duration_s)
    assert np.abs(again.samples - GOOD.samples).max() < 1e-4


class Stopped(Executor):
    """Processes of which one was killed, as a system out of memory does."""

    def map(self, *_: Any, **__: Any) -> Iterator[Any]:
        raise BrokenExecutor


def test_a_process_that_was_killed_is_told_in_a_sentence() -> None:
    with pytest.raises(LabError, match="for want of memory"):
        list(analyse_many([Path("take.wav")], executor=Stopped()))
