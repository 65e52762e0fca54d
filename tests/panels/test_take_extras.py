"""The extras of lesson 07: the click, the mended way home, millimetres, the log."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from labcore.analysis import hear, judge
from labcore.errors import LabError
from labcore.findings import landing
from labcore.model import Context, Landing, Recording, Report, Take, Task
from labcore.panels import take_extras
from labcore.panels.demo import DemoTake
from labcore.panels.hearing import homecoming_mended, with_click
from labcore.panels.take_extras import keep_in_log, push_words

Demo = tuple[DemoTake, Recording, Take]


@pytest.fixture(scope="module")
def report(short_of_home: Demo) -> Report:
    demo, _, take = short_of_home
    return judge(take, Task(tempo_bpm=72.0, cycles_per_beat=3), context=demo.context)


def test_the_click_falls_on_every_beat(short_of_home: Demo, report: Report) -> None:
    recording = short_of_home[1]
    clicked = with_click(recording, report)
    assert clicked.samples.size == recording.samples.size
    scale = np.max(np.abs(clicked.samples)) / np.max(np.abs(recording.samples))
    added = np.abs(clicked.samples - min(scale, 1.0) * recording.samples)
    at = np.flatnonzero(added > 0.3 * np.max(added)) / recording.sample_rate_hz
    beats = np.unique(np.round((at - at[0]) * 72.0 / 60.0, 1))
    assert beats == pytest.approx(np.round(beats), abs=0.11)
    assert np.round(beats).max() >= recording.duration_s * 72.0 / 60.0 - 2


def test_there_is_no_click_to_add_without_a_tempo(short_of_home: Demo) -> None:
    _, recording, take = short_of_home
    with pytest.raises(LabError, match="No click is chosen"):
        with_click(recording, judge(take))


@pytest.mark.slow
def test_the_mended_take_comes_home(short_of_home: Demo, report: Report) -> None:
    mended = judge(hear(homecoming_mended(short_of_home[1], report)), report.task)

    def home(one: Report) -> int:
        return sum(landing(cycle) is Landing.HOME for cycle in one.cycles)

    assert home(report) == 0
    assert home(mended) > 0.8 * len(mended.cycles)


def test_millimetres_need_string_and_fret(report: Report) -> None:
    assert "where you played" in push_words(replace(report, context=Context()))
    told = push_words(report)
    assert "mm across the fret" in told
    assert "9-42" in told


def test_nothing_is_kept_without_a_nickname(short_of_home: Demo, report: Report) -> None:
    with pytest.raises(LabError, match="nickname"):
        keep_in_log(short_of_home[1], replace(report, context=Context()))


def test_a_kept_take_is_in_the_log(
    short_of_home: Demo, report: Report, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_log = take_extras.open_log
    monkeypatch.setattr(take_extras, "open_log", lambda: open_log(tmp_path / "log.sqlite"))
    assert "bench 1" in keep_in_log(short_of_home[1], report)
    assert len(open_log(tmp_path / "log.sqlite").history("bench 1")) == 1
