"""Clicks, note values and another tempo in the rows; where a note's line ends."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from labcore.figures import look
from labcore.figures.click_marks import click_marks, covered_clicks
from labcore.figures.line import line_over_home
from labcore.figures.take import take_figure
from labcore.figures.words import take_words
from labcore.figures.writing import row_values, write
from labcore.model import ClickSource, ClickTrack, Finding, GridFit, Report, Verdict

BEAT_S = 60.0 / 72.0
MakeReport = Callable[..., Report]


def with_clicks(report: Report, time_s: np.ndarray) -> Report:
    track = ClickTrack(time_s, ClickSource.HEARD, 0.001)
    return replace(report, take=replace(report.take, clicks=track))


def triangles(figure: go.Figure) -> list[tuple[float, float, str]]:
    marks = [t for t in figure.data if str(t.marker.symbol).startswith("triangle-down")]
    return sorted(
        (float(x), float(y), str(t.marker.symbol))
        for t in marks
        for x, y in zip(t.x, t.y, strict=True)
    )


def texts(figure: go.Figure) -> str:
    return " | ".join(str(note.text) for note in figure.layout.annotations)


# --- clicks ---------------------------------------------------------------------------------------


def test_a_click_a_hair_before_the_barline_stands_at_its_own_bar(report_from: MakeReport) -> None:
    report = report_from(bars=3)
    early_s = np.where(np.arange(16) % 4 == 0, 0.002, 0.0)  # every beat one comes 2 ms early
    clicks_s = np.arange(16) * BEAT_S - early_s
    report = with_clicks(report, clicks_s[1:])
    marks = click_marks(report, writing=write(report), rows=write(report).rows)
    assert [mark.row for mark in marks] == [0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2]
    assert [mark.into_row_s for mark in marks[::4]] == pytest.approx([0.0] * 3, abs=0.004)
    assert len(triangles(take_figure(report))) == 12


def test_no_click_is_drawn_outside_its_axis(report_from: MakeReport) -> None:
    report = report_from(bars=2)
    report = with_clicks(report, np.arange(14) * BEAT_S - 0.003)
    drawn = triangles(take_figure(report))
    assert len(drawn) == 9  # eight beats and the click that closes the last bar
    assert all(0.0 <= x <= write(report).row_s for x, _, _ in drawn)


def test_a_click_under_a_pluck_is_drawn_hollow_at_its_place(report_from: MakeReport) -> None:
    report = report_from(bars=2)  # one pluck, on the click at 4 beats
    heard = np.delete(np.arange(14) * BEAT_S, 4)
    drawn = triangles(take_figure(with_clicks(report, heard)))
    hollow = [(x, y) for x, y, symbol in drawn if symbol.endswith("open")]
    assert hollow == [pytest.approx((0.0, max(y for _, y, _ in drawn)), abs=0.001)]
    assert len(drawn) == 9


def test_where_no_pluck_is_nothing_is_added_to_what_was_heard() -> None:
    two_bars_off = np.concatenate([np.arange(8), np.arange(16, 24)]) * BEAT_S
    clicks = ClickTrack(two_bars_off, ClickSource.HEARD, 0.001)
    assert covered_clicks(clicks, attack_s=np.array([4.0, 20.0]) * BEAT_S).size == 0
    assert covered_clicks(clicks, attack_s=np.array([10.0]) * BEAT_S) == pytest.approx(10 * BEAT_S)


def test_a_click_of_another_tempo_is_said_in_header_and_words(report_from: MakeReport) -> None:
    report = report_from()  # its clicks run at 72
    slower = replace(report, task=replace(report.task, tempo_bpm=66.0))
    assert "the click runs at 72" in texts(take_figure(slower))
    assert "the click in the take runs at 72" in take_words(slower)
    for same in (report, replace(report, task=replace(report.task, tempo_bpm=72.2))):
        assert "runs at" not in texts(take_figure(same)) + take_words(same)


# --- note values ----------------------------------------------------------------------------------


def changing(report: Report) -> Report:
    """The same waves, named two to the click in the first two bars and three after them."""
    half = len(report.cycles) // 2
    first = report.stretches[0]

    def part(index: np.ndarray, named: int) -> GridFit:
        return replace(first, cycle=index, asynchrony_s=np.zeros(index.size), named=named)

    everything = np.arange(len(report.cycles))
    fits = (part(everything[:half], 2), part(everything[half:], 3))
    return replace(report, stretches=fits)


def test_each_row_says_the_note_value_that_changed(report_from: MakeReport) -> None:
    report = changing(report_from(bars=4, waves_per_beat=None))
    assert [row_values(report, row=row) for row in write(report).rows] == [(2,), (2,), (3,), (3,)]
    said = texts(take_figure(report))
    assert said.count("2 to the click") == said.count("3 to the click") == 1
    assert "played 2 and 3 to the click" in take_words(report)


def test_a_row_that_changes_inside_says_both(report_from: MakeReport) -> None:
    report = changing(report_from(bars=3, waves_per_beat=None))
    assert "2, then 3 to the click" in texts(take_figure(report))


def test_what_was_asked_and_played_is_not_said_again(report_from: MakeReport) -> None:
    said = texts(take_figure(report_from(bars=4, waves_per_beat=3)))
    assert said.count("3 to the click") == 1  # in the header
    other = texts(take_figure(report_from(bars=4, waves_per_beat=4)))
    assert other.count("4 to the click") == other.count("3 to the click") == 1


# --- what cannot be judged ------------------------------------------------------------------------


def test_two_strings_have_no_waves_in_picture_or_words(report_from: MakeReport) -> None:
    gate = Finding("two_strings", Verdict.NOT_ENOUGH, "Two strings ring.", "both were heard")
    report = replace(report_from(), findings=(gate,))
    figure = take_figure(report)
    assert "no waves are counted" in take_words(report)
    assert "36 waves" not in take_words(report) + texts(figure)
    assert "to the click" not in texts(figure).replace("3 to the click", "", 1)
    fan = [
        t for t in figure.data if t.xaxis == "x2" and t.line.color in (look.PITCH, look.SOFT_INK)
    ]
    assert fan == []


# --- where the line ends --------------------------------------------------------------------------


def test_the_line_ends_where_the_string_is_let_go(report_from: MakeReport) -> None:
    report = report_from(bars=1)
    contour, note = report.take.contour, report.take.notes[0]
    let_go_s = note.offset_s - 0.05
    after = (contour.time_s > let_go_s) & (contour.time_s <= note.offset_s)
    hz, level = contour.frequency_hz.copy(), contour.level_db.copy()
    hz[after] *= 2 ** (-80 / 1200)  # what a window reads that reaches over the end
    level[after] -= 15.0
    spiked = replace(contour, frequency_hz=hz, level_db=level)
    line = line_over_home(replace(report, take=replace(report.take, contour=spiked)))
    shown = line.time_s[np.isfinite(line.cents)]
    assert shown[-1] == pytest.approx(let_go_s, abs=2 * contour.step_s)
    assert np.nanmin(line.cents) > -20.0


@pytest.mark.parametrize("wobble_db", [0.0, 1.5])
def test_a_note_that_only_fades_is_drawn_to_its_end(
    report_from: MakeReport, wobble_db: float
) -> None:
    report = report_from(bars=1)
    contour = report.take.contour
    level = contour.level_db + wobble_db * np.sin(2 * np.pi * 5.3 * contour.time_s)
    take = replace(report.take, contour=replace(contour, level_db=level))
    line = line_over_home(replace(report, take=take))
    shown = line.time_s[np.isfinite(line.cents)]
    assert shown[-1] == pytest.approx(report.take.notes[0].offset_s, abs=0.01)
