"""The recorder without a browser: what the page sends, played by hand."""

import errno
import json
import stat
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import Mock

import numpy as np
import pytest
from numpy.typing import NDArray

from labcore.errors import LabError
from labcore.model import ClickSource, ClickTrack, Recording, Take
from labcore.panels import recorder as recorder_module
from labcore.panels import take_panel
from labcore.panels.recorder import NOT_CALIBRATED, RADIO, Recorder, is_by_radio
from labcore.panels.recorder_beside import with_recorder
from labcore.panels.recorder_delay import sweep
from labcore.panels.recorder_files import InputSettings, RecordedTake
from labcore.panels.take_panel import TakePanel

RATE_HZ = 16_000.0
CLEAN = {
    "label": "Built-in",
    "output_label": "Built-in",
    "track_rate_hz": 48_000,
    "echo_cancellation": False,
    "noise_suppression": False,
    "gain_control": False,
    "output_delay_s": 0.02,
}
CLICK_S = [0.3 + k * 60.0 / 80.0 for k in range(8)]


def a_note() -> NDArray[np.float32]:
    time_s = np.arange(int(6.0 * RATE_HZ)) / RATE_HZ
    return (0.2 * np.sin(2 * np.pi * 220.0 * time_s)).astype(np.float32)


class Desk:
    """A recorder, what it handed on, and what it told the page."""

    def __init__(self, folder: Path) -> None:
        self.taken: list[RecordedTake] = []
        self.told: list[dict[str, Any]] = []
        self.recorder = Recorder(on_take=self.taken.append, folder=folder)
        self.recorder.send = self.told.append
        self.tell = self.recorder._answer

    def start(self, *, purpose: str = "take", **of_input: Any) -> None:
        content = {
            "kind": "start",
            "take": "x",
            "purpose": purpose,
            "rate_hz": RATE_HZ,
            "input": {**CLEAN, **of_input},
            "tempo_bpm": 80.0,
            "cycles_per_beat": 4,
            "beats_per_bar": 4,
        }
        self.tell(None, content, [])

    def part(self, samples: NDArray[np.float32], *, number: int = 0, first: int = 0) -> None:
        content = {"kind": "part", "take": "x", "number": number, "first": first}
        self.tell(None, {**content, "click_s": CLICK_S}, [memoryview(samples.tobytes())])

    def end(self, *, parts: int, samples: int, frames: int, **more: Any) -> None:
        content = {"kind": "end", "take": "x", "parts": parts, "samples": samples}
        self.tell(None, {**content, "frames": frames, "click_s": CLICK_S, **more}, [])

    def record(self, samples: NDArray[np.float32], **start: Any) -> None:
        self.start(**start)
        half = samples.size // 2
        self.part(samples[:half], number=0, first=0)
        self.part(samples[half:], number=1, first=half)
        self.end(parts=2, samples=samples.size, frames=samples.size)

    def said(self, kind: str) -> list[dict[str, Any]]:
        return [message for message in self.told if message["kind"] == kind]


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path / "takes")


def test_a_take_arrives_with_what_was_chosen_and_is_kept(desk: Desk) -> None:
    desk.record(a_note())
    (take,) = desk.taken
    np.testing.assert_array_equal(take.recording.samples, a_note())
    assert (take.tempo_bpm, take.cycles_per_beat) == (80.0, 4)
    assert take.click_s == tuple(CLICK_S)
    assert desk.said("have") == [{"kind": "have", "take": "x"}]
    assert [line["name"] for line in desk.recorder.takes] == [take.name]


def test_a_kept_take_comes_back_as_it_was(desk: Desk) -> None:
    desk.record(a_note())
    desk.tell(None, {"kind": "choose", "name": desk.taken[0].name}, [])
    first, again = desk.taken
    assert np.max(np.abs(first.recording.samples - again.recording.samples)) < 2.0**-23
    assert again.click_s == first.click_s
    assert again.settings == first.settings
    assert set(first.recording.warnings) <= set(again.recording.warnings)


def test_the_note_beside_the_sound_can_be_read_by_anyone(desk: Desk) -> None:
    desk.record(a_note())
    told = json.loads(next(desk.recorder.folder.folder.glob("take-*.json")).read_text())
    assert told["clicks_sent_s"] == CLICK_S
    assert told["tempo_bpm"] == 80.0
    assert told["input"]["label"] == "Built-in"
    assert told["gaps"] == []


@pytest.mark.skipif(sys.platform == "win32", reason="file modes are another thing there")
def test_only_their_owner_may_read_the_takes(desk: Desk) -> None:
    desk.record(a_note())
    folder = desk.recorder.folder.folder
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    desk.start()  # one more is on its way
    modes = {stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()}
    assert len(list(folder.iterdir())) == 3
    assert modes == {0o600}


def test_a_take_is_forgotten_with_its_note(desk: Desk) -> None:
    desk.record(a_note())
    desk.tell(None, {"kind": "forget", "name": desk.taken[0].name}, [])
    assert list(desk.recorder.folder.folder.iterdir()) == []
    assert desk.recorder.takes == []


@pytest.mark.parametrize("name", ["../secret", "take-20260101-000000-zzzz", "delays", ""])
def test_only_takes_of_the_list_can_be_forgotten(desk: Desk, name: str) -> None:
    with pytest.raises(LabError, match="no take called"):
        desk.recorder.receive({"kind": "forget", "name": name})


@pytest.mark.parametrize("kind", ["choose", "forget", "open", "drop"])
def test_a_press_is_answered_whatever_comes_of_it(desk: Desk, kind: str) -> None:
    desk.tell(None, {"kind": kind, "name": "none such", "take": "none such"}, [])
    assert desk.told[0] == {"kind": "heard"}


def test_a_damaged_note_does_not_lose_the_sound(desk: Desk) -> None:
    desk.record(a_note())
    next(desk.recorder.folder.folder.glob("take-*.json")).write_text("{")
    desk.tell(None, {"kind": "choose", "name": desk.taken[0].name}, [])
    assert desk.taken[1].recording.duration_s == 6.0
    assert desk.taken[1].clicks is None


def test_a_lost_part_is_asked_for_again(desk: Desk) -> None:
    note = a_note()
    desk.start()
    desk.part(note[:40_000], number=0, first=0)
    desk.end(parts=2, samples=note.size, frames=note.size)
    assert desk.said("again") == [{"kind": "again", "take": "x", "parts": [1]}]
    assert desk.taken == []
    desk.part(note[40_000:], number=1, first=40_000)
    desk.end(parts=2, samples=note.size, frames=note.size, is_last_try=True)
    np.testing.assert_array_equal(desk.taken[0].recording.samples, note)


def test_a_part_lost_for_good_is_told_with_the_take(desk: Desk) -> None:
    note = a_note()
    desk.start()
    desk.part(note[:40_000], number=0, first=0)
    desk.end(parts=2, samples=note.size, frames=note.size, is_last_try=True)
    warnings = " ".join(desk.taken[0].recording.warnings)
    assert "broke off" in warnings
    assert "silence stands there" in warnings


def test_a_page_that_was_closed_in_the_middle_leaves_what_arrived(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.start()
    desk.part(a_note()[:48_000])
    desk.tell(None, {"kind": "hello"}, [])
    assert desk.recorder.unfinished == []  # it may still be playing, in another tab
    monkeypatch.setattr(recorder_module, "BROKE_OFF_S", -1.0)
    desk.tell(None, {"kind": "hello"}, [])
    (broken,) = desk.recorder.unfinished
    assert broken["take"] == "x"
    assert "broke off after 3 s" in broken["words"]
    desk.tell(None, {"kind": "open", "take": "x"}, [])
    assert desk.taken[0].recording.duration_s == 3.0
    assert desk.taken[0].click_s == tuple(CLICK_S)
    assert desk.recorder.unfinished == []


def started_anew(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """Another Python on the same folder, some seconds later; the first one is gone."""
    monkeypatch.setattr(recorder_module, "BROKE_OFF_S", -1.0)
    later = Desk(desk.recorder.folder.folder)
    later.tell(None, {"kind": "hello"}, [])
    return later


def parts_on_disk(desk: Desk) -> list[Path]:
    return list(desk.recorder.folder.folder.glob("arriving-*"))


def test_a_python_that_stops_in_the_middle_leaves_what_arrived_to_the_next(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = a_note()
    desk.start()
    desk.part(note[:16_000], number=0, first=0)
    desk.part(note[16_000:48_000], number=1, first=16_000)
    later = started_anew(desk, monkeypatch)
    (broken,) = later.recorder.unfinished
    assert "broke off after 3 s; what arrived until then is safe" in broken["words"]
    later.tell(None, {"kind": "open", "take": broken["take"]}, [])
    (take,) = later.taken
    np.testing.assert_array_equal(take.recording.samples, note[:48_000])
    assert take.click_s == tuple(CLICK_S)
    assert (take.tempo_bpm, take.settings.label) == (80.0, "Built-in")
    assert any("broke off" in words for words in take.recording.warnings)
    assert later.recorder.unfinished == []
    assert parts_on_disk(desk) == []


def test_a_file_that_ends_in_the_middle_of_a_part_is_read_up_to_it(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = a_note()
    desk.start()
    desk.part(note[:32_000], number=0, first=0)
    desk.part(note[32_000:], number=1, first=32_000)
    (path,) = parts_on_disk(desk)
    path.write_bytes(path.read_bytes()[:-1000])
    later = started_anew(desk, monkeypatch)
    later.tell(None, {"kind": "open", "take": "x"}, [])
    np.testing.assert_array_equal(later.taken[0].recording.samples, note[:32_000])


def test_a_take_that_is_whole_leaves_no_parts_and_one_that_is_running_is_not_offered(
    desk: Desk,
) -> None:
    desk.record(a_note())
    assert parts_on_disk(desk) == []
    desk.start()
    desk.part(a_note()[:16_000])
    beside = Desk(desk.recorder.folder.folder)  # another lesson, open at the same time
    beside.tell(None, {"kind": "hello"}, [])
    assert beside.recorder.unfinished == []
    desk.tell(None, {"kind": "drop", "take": "x"}, [])
    assert parts_on_disk(desk) == []


def test_a_damaged_file_of_parts_is_passed_over(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.start()
    desk.part(a_note()[:16_000])
    (path,) = parts_on_disk(desk)
    path.write_bytes(b"\x00" * 4000)
    later = started_anew(desk, monkeypatch)
    assert later.recorder.unfinished == []
    with pytest.raises(LabError, match="can no longer be read"):
        later.recorder.receive({"kind": "open", "take": "x"})


def test_the_measuring_of_a_delay_is_not_offered_as_a_take(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.start(purpose="delay")
    desk.part(a_note()[:16_000])
    assert started_anew(desk, monkeypatch).recorder.unfinished == []


def test_two_tabs_may_record_at_once(desk: Desk) -> None:
    note = a_note()
    told = {"purpose": "take", "rate_hz": RATE_HZ, "input": CLEAN, "tempo_bpm": 80.0}
    for take in ("one", "two"):
        desk.tell(None, {"kind": "start", "take": take, **told}, [])
    for take, sound in (("two", -note), ("one", note)):
        part = {"kind": "part", "take": take, "number": 0, "first": 0, "click_s": []}
        desk.tell(None, part, [memoryview(sound.tobytes())])
    for take in ("one", "two"):
        end = {"kind": "end", "take": take, "parts": 1, "samples": note.size, "frames": note.size}
        desk.tell(None, {**end, "click_s": []}, [])
    one, two = (take.recording.samples for take in desk.taken)
    np.testing.assert_array_equal(one, note)
    np.testing.assert_array_equal(two, -note)
    assert len(set(desk.recorder.folder.names())) == 2


def test_a_fresh_start_asks_the_page_for_everything_again(desk: Desk) -> None:
    desk.part(a_note()[:100])
    desk.end(parts=1, samples=100, frames=100)
    assert [message["kind"] for message in desk.told] == ["unknown", "unknown"]


def test_silence_is_a_sentence_and_no_take(desk: Desk) -> None:
    desk.record(np.zeros(96_000, np.float32))
    assert desk.taken == []
    assert "silent" in desk.said("say")[-1]["text"]


def test_half_a_take_that_could_not_be_kept_is_taken_away(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = OSError(errno.ENOSPC, "No space left on device")
    monkeypatch.setattr(Path, "replace", Mock(side_effect=full))
    desk.record(a_note())
    assert "No space left" in desk.said("say")[-1]["text"]
    assert list(desk.recorder.folder.folder.glob("*.part")) == []


def test_a_full_disk_does_not_lose_the_take(desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "takes").write_text("a file where the folder should be")
    desk.record(a_note())
    assert "cannot be kept" in desk.said("say")[-1]["text"]
    assert len(desk.taken) == 1


def test_effects_that_stay_on_are_told(desk: Desk) -> None:
    desk.record(a_note(), noise_suppression=True)
    assert any("still changes the sound" in w for w in desk.taken[0].recording.warnings)


# --- delay ----------------------------------------------------------------------------------------


def delayed_sweeps(delay_s: float) -> NDArray[np.float32]:
    samples = np.zeros(int(7.0 * RATE_HZ), np.float32)
    shape = 0.1 * sweep(sample_rate_hz=RATE_HZ)
    for sent_s in CLICK_S:
        at = round((sent_s + delay_s) * RATE_HZ)
        samples[at : at + shape.size] += shape.astype(np.float32)
    return samples


def test_without_a_delay_the_take_has_no_clicks_and_says_why(desk: Desk) -> None:
    desk.record(a_note())
    assert desk.taken[0].clicks is None
    assert NOT_CALIBRATED in desk.taken[0].recording.warnings


def test_a_measured_delay_moves_the_clicks_of_the_next_take(desk: Desk) -> None:
    desk.record(delayed_sweeps(0.05), purpose="delay")
    assert desk.taken == []
    assert "50.0 ms" in desk.said("say")[-1]["text"]
    desk.record(a_note())
    clicks = desk.taken[0].clicks
    assert clicks is not None
    assert clicks.source is ClickSource.KNOWN
    np.testing.assert_allclose(clicks.time_s, np.array(CLICK_S) + 0.05, atol=2e-4)
    assert NOT_CALIBRATED not in desk.taken[0].recording.warnings


def test_a_delay_is_remembered_by_the_next_recorder_but_not_for_another_input(desk: Desk) -> None:
    desk.record(delayed_sweeps(0.05), purpose="delay")
    later = Desk(desk.recorder.folder.folder)
    later.record(a_note())
    assert later.taken[0].clicks is not None
    later.record(a_note(), label="Interface")
    assert later.taken[1].clicks is None


def test_a_delay_that_cannot_be_heard_is_not_remembered(desk: Desk) -> None:
    desk.record(a_note(), purpose="delay")
    assert desk.said("say")[-1]["problem"]
    desk.record(a_note())
    assert desk.taken[0].clicks is None


@pytest.mark.parametrize(
    "of_input",
    [
        {"label": "Headset (Bluetooth)"},
        {"output_label": "Hands-Free earphones"},
        {"track_rate_hz": 16_000},
        {"output_delay_s": 0.25},
    ],
)
def test_sound_by_radio_switches_early_and_late_off(desk: Desk, of_input: dict[str, Any]) -> None:
    desk.record(delayed_sweeps(0.05), purpose="delay", **of_input)
    assert RADIO in desk.said("say")[-1]["text"]
    desk.record(a_note(), **of_input)
    assert desk.taken[0].clicks is None
    assert RADIO in desk.taken[0].recording.warnings


def test_a_cable_is_no_radio() -> None:
    assert not is_by_radio(InputSettings(label="USB Audio", track_rate_hz=44_100.0))


# --- in the take panel ----------------------------------------------------------------------------


def recorded(*, delay_s: float | None) -> RecordedTake:
    recording = Recording(a_note(), RATE_HZ, "my take", "0" * 64)
    return RecordedTake(
        recording,
        InputSettings(),
        click_s=tuple(CLICK_S),
        tempo_bpm=80.0,
        cycles_per_beat=4,
        delay_s=delay_s,
    )


@pytest.fixture
def given_clicks(
    short_of_home: tuple[Any, Recording, Take],
    hearings: list[str],
    monkeypatch: pytest.MonkeyPatch,
) -> list[ClickTrack | None]:
    """Makes hearing instant (after ``hearings`` did), and keeps the clicks it was given."""
    given: list[ClickTrack | None] = []

    def hear(_: Recording, *, clicks: ClickTrack | None = None) -> Take:
        given.append(clicks)
        return short_of_home[2]

    monkeypatch.setattr(take_panel, "hear", hear)
    return given


@pytest.mark.parametrize("delay_s", [None, 0.04])
def test_a_recorded_take_is_shown_against_what_it_was_played_to(
    given_clicks: list[ClickTrack | None],
    open_panel: Callable[..., TakePanel],
    tmp_path: Path,
    delay_s: float | None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[Recorder] = []
    monkeypatch.setattr(
        "labcore.panels.recorder_beside.Recorder",
        lambda **given: made.append(Recorder(**given)) or made[-1],
    )
    panel = with_recorder(open_panel(), folder=tmp_path)
    made[0]._on_take(recorded(delay_s=delay_s))
    assert panel.state.with_click
    assert (panel.state.tempo_bpm, panel.state.cycles_per_beat) == (80.0, 4)
    assert panel.state.take is not None
    assert (given_clicks[-1] is None) is (delay_s is None)
    if delay_s is None:
        assert panel.state.take.clicks is None
        assert "early or late" in panel._seen.report.measures.declined["offset"]
