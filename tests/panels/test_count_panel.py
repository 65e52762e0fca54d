"""The recorder of the lesson on counting: a take in, a number of waves to the click out."""

from dataclasses import replace
from pathlib import Path

import pytest

from labcore.analysis import judge
from labcore.errors import LabError
from labcore.model import ClickTrack, Recording, Take, Task
from labcore.panels import count_panel
from labcore.panels.count_panel import CountPanel, counted_words
from labcore.panels.demo import DemoTake
from labcore.panels.recorder_files import InputSettings, RecordedTake

Demo = tuple[DemoTake, Recording, Take]


@pytest.fixture
def panel(tmp_path: Path, short_of_home: Demo, monkeypatch: pytest.MonkeyPatch) -> CountPanel:
    """A panel that hears the demo take at once: 32 waves, three to the click at 72."""

    def hear(_recording: Recording, *, clicks: ClickTrack | None) -> Take:
        return replace(short_of_home[2], clicks=clicks)

    monkeypatch.setattr(count_panel, "hear", hear)
    return CountPanel(folder=tmp_path)


def recorded(demo: Demo, *, tempo_bpm: float | None, value: int | None) -> RecordedTake:
    clicks = tuple(demo[2].clicks.time_s) if tempo_bpm and demo[2].clicks else ()
    return RecordedTake(
        demo[1], InputSettings(), click_s=clicks, tempo_bpm=tempo_bpm, cycles_per_beat=value
    )


def test_it_stands_there_before_anything_was_recorded(panel: CountPanel) -> None:
    assert panel.picture is None
    assert panel.recorder in panel.children


def test_a_take_is_counted_against_the_click_it_was_played_to(
    panel: CountPanel, short_of_home: Demo
) -> None:
    panel.recorder._on_take(recorded(short_of_home, tempo_bpm=72.0, value=4))
    assert not panel.status.problem
    assert panel.status.text.startswith("32 waves counted, about 3.0 to the click.")
    assert "four were asked" in panel.status.text
    assert panel.picture is not None
    assert "bars at 72, 4 to the click" in panel.picture.words
    assert "home" not in panel.picture.words  # that question comes in the next lesson
    assert panel.player.sounds[0][:4] == b"RIFF"


def test_without_a_click_waves_are_counted_by_the_second(
    panel: CountPanel, short_of_home: Demo
) -> None:
    panel.open_take(recorded(short_of_home, tempo_bpm=None, value=None))
    assert "32 waves counted, 3.6 a second" in panel.status.text


def test_what_has_no_waves_says_why(short_of_home: Demo) -> None:
    plain = replace(short_of_home[2].notes[0], turns=())
    report = judge(replace(short_of_home[2], notes=(plain,)), Task(tempo_bpm=72.0))
    assert counted_words(report).startswith("Not enough to say")


def test_a_take_that_cannot_be_heard_is_a_sentence_and_the_one_before_stays(
    panel: CountPanel, short_of_home: Demo, monkeypatch: pytest.MonkeyPatch
) -> None:
    panel.open_take(recorded(short_of_home, tempo_bpm=72.0, value=3))
    assert panel.picture is not None
    before = panel.picture.words

    def refuse(_recording: Recording, *, clicks: ClickTrack | None) -> Take:
        raise LabError("Only silence came.")

    monkeypatch.setattr(count_panel, "hear", refuse)
    panel.open_take(recorded(short_of_home, tempo_bpm=72.0, value=3))
    assert (panel.status.text, panel.status.problem) == ("Only silence came.", True)
    assert panel.picture.words == before
