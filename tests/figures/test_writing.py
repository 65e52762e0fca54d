"""How a take is cut into rows."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from labcore.figures.writing import first_beat_s, write
from labcore.metre import find_beat
from labcore.model import Report

TIME_TOLERANCE_S = 0.002


def test_bars_start_on_the_first_beat_after_the_count_in(
    report_from: Callable[..., Report],
) -> None:
    rows = write(report_from(tempo_bpm=72.0, bars=3)).rows
    bar_s = 4 * 60.0 / 72.0
    expected = [bar_s * k for k in (1, 2, 3)]  # bar 0 is the count-in, where nothing sounds
    assert [row.start_s for row in rows] == pytest.approx(expected, abs=TIME_TOLERANCE_S)
    assert [row.name for row in rows] == ["1", "2", "3"]


def test_a_bar_of_three_is_three_beats_long(report_from: Callable[..., Report]) -> None:
    writing = write(report_from(), beats_per_bar=3)
    assert writing.row_s == pytest.approx(3 * 60.0 / 72.0, abs=TIME_TOLERANCE_S)


def test_without_a_click_rows_are_seconds_and_few(report_from: Callable[..., Report]) -> None:
    writing = write(report_from(tempo_bpm=None, waves_per_beat=None, bars=6))
    lengths = [row.end_s - row.start_s for row in writing.rows]
    assert writing.beat_s is None
    assert len(writing.rows) <= 6
    assert np.allclose(lengths, writing.row_s)


def test_every_moment_of_sound_is_in_exactly_one_row(report_from: Callable[..., Report]) -> None:
    for tempo_bpm in (None, 60.0, 72.0, 131.0):
        report = report_from(tempo_bpm=tempo_bpm)
        note = report.take.notes[0]
        rows = write(report).rows
        # The ends are left out: a pluck a little early belongs to the bar it opens.
        for time_s in np.linspace(note.onset_s + 0.1, note.offset_s - 0.1, 50):
            inside = [row for row in rows if row.start_s <= time_s < row.end_s]
            assert len(inside) == 1, f"{time_s:.2f} s at {tempo_bpm} bpm is in {len(inside)} rows"


def test_without_clicks_beat_one_is_the_grid_line_under_the_pluck(
    report_from: Callable[..., Report],
) -> None:
    report = report_from(clicks=False)
    beat = find_beat(report.task, clicks=None)
    assert beat is not None
    onset_s = report.take.notes[0].onset_s
    assert first_beat_s(report, beat=beat, beats_per_bar=4) == pytest.approx(
        onset_s, abs=TIME_TOLERANCE_S
    )


def test_a_long_take_is_cut_into_pages_of_twelve_rows(report_from: Callable[..., Report]) -> None:
    writing = write(report_from(bars=15))
    assert [len(writing.page(k)) for k in range(writing.pages)] == [12, 3]


def test_beat_one_is_the_beat_most_notes_are_plucked_on(report_from: Callable[..., Report]) -> None:
    whole = report_from(bars=3)
    late = replace(whole.take.clicks, time_s=whole.take.clicks.time_s[2:])  # two clicks unheard
    report = replace(whole, take=replace(whole.take, clicks=late))
    expected = [row.start_s for row in write(whole).rows]
    assert [row.start_s for row in write(report).rows] == pytest.approx(
        expected, abs=TIME_TOLERANCE_S
    )
