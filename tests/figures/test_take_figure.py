"""The take written like music: what is drawn is what the report holds."""

import json
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import plotly.graph_objects as go
import pytest

from labcore.figures import look
from labcore.figures.line import ROW_GAP, line_over_home, scale_for
from labcore.figures.take import take_figure
from labcore.figures.words import take_words
from labcore.model import Finding, Report, Verdict

CENTS_TOLERANCE = 0.6
MOST_BYTES = 200_000  # a figure travels at every move of a slider


def traces(figure: go.Figure, *, color: str, axis: str = "x") -> list[go.Scatter]:
    return [t for t in figure.data if t.line.color == color and t.xaxis == axis]


def markers(figure: go.Figure, *, axis: str) -> list[go.Scatter]:
    return [t for t in figure.data if t.mode == "markers" and t.hovertemplate and t.xaxis == axis]


def filled(figure: go.Figure, *, axis: str = "x") -> int:
    whole = [
        t
        for t in markers(figure, axis=axis)
        if t.marker.color == look.WAVE_HEAD and t.marker.line.width == 2 and not t.marker.symbol
    ]
    return sum(len(t.x) for t in whole)


def hollow(figure: go.Figure, *, axis: str = "x") -> int:
    rings = [t for t in markers(figure, axis=axis) if t.marker.color == look.PAPER]
    return sum(len(t.x) for t in rings)


def test_the_pitch_line_stands_at_the_planted_cents(report_from: Callable[..., Report]) -> None:
    report = report_from(landings_cents=(0.0,), width_cents=50.0, bars=1)
    line = line_over_home(report)
    wave = report.cycles[4]
    top = np.interp(wave.turn_s, line.time_s, line.cents)
    assert top == pytest.approx(wave.extent_cents, abs=CENTS_TOLERANCE)
    scale = scale_for(line)
    assert scale.height(scale.high, row=2.0) == pytest.approx(-2.0 - ROW_GAP)
    assert scale.height(scale.low, row=2.0) == pytest.approx(-3.0)


def test_the_line_is_drawn_where_time_and_pitch_put_it(report_from: Callable[..., Report]) -> None:
    report = report_from(bars=2)
    figure = take_figure(report)
    (pitch,) = traces(figure, color=look.PITCH)
    scale = scale_for(line_over_home(report))
    bar_s = 4 * 60.0 / 72.0
    wave = report.cycles[11]  # in the second bar
    expected = scale.height(wave.extent_cents, row=1.0)
    x, y = np.asarray(pitch.x, dtype=float), np.asarray(pitch.y, dtype=float)
    here = (np.abs(x - (wave.turn_s - 2 * bar_s)) < 0.004) & (y < -1.0)
    assert here.any()
    assert np.max(y[here]) == pytest.approx(expected, abs=0.1)


def test_heads_are_filled_half_or_hollow_as_the_waves_landed(
    report_from: Callable[..., Report],
) -> None:
    # 2, -3 and 1 cents are home, 14 nearly, 30 not yet; 36 waves go round these five.
    report = report_from(landings_cents=(2.0, -3.0, 14.0, 1.0, 30.0), bars=4)
    figure = take_figure(report)
    assert len(report.cycles) == 36
    assert (filled(figure), hollow(figure)) == (22, 7)
    assert (filled(figure, axis="x2"), hollow(figure, axis="x2")) == (22, 7)


def test_a_reader_who_guesses_sees_no_landing(report_from: Callable[..., Report]) -> None:
    report = report_from()
    figure = take_figure(report, heads=False)
    assert (filled(figure), hollow(figure)) == (0, 0)
    assert not markers(figure, axis="x2")
    pointed_at = {text for t in markers(figure, axis="x") for text in t.text}
    assert not any("came back" in text for text in pointed_at)
    assert "home" not in take_words(report, heads=False)


def test_a_take_that_cannot_be_judged_shows_no_landing(report_from: Callable[..., Report]) -> None:
    gate = Finding("two_strings", Verdict.NOT_ENOUGH, "Two strings ring.", "both were heard")
    report = replace(report_from(), findings=(gate,))
    figure = take_figure(report)
    assert (filled(figure), hollow(figure)) == (0, 0)
    assert "home" not in take_words(report)


def test_the_tempo_stands_in_the_header_and_is_absent_without_a_click(
    report_from: Callable[..., Report],
) -> None:
    asked = take_figure(report_from(tempo_bpm=72.0, waves_per_beat=3))
    words = [note.text for note in asked.layout.annotations]
    assert "= 72" in words
    assert "3 to the click" in words
    free = take_figure(report_from(tempo_bpm=None, waves_per_beat=None))
    assert not any("click" in (note.text or "") for note in free.layout.annotations)
    assert not any((note.text or "").startswith("=") for note in free.layout.annotations)


def test_time_runs_through_every_row_without_a_gap(report_from: Callable[..., Report]) -> None:
    rows = take_figure(report_from(bars=5)).layout.meta["rows"]
    assert len(rows) == 5
    for row, following in pairwise(rows):
        assert row["end_s"] == pytest.approx(following["start_s"], abs=1e-3)
        assert row["y1"] <= following["y0"] + 1e-9


def test_a_figure_of_twenty_seconds_is_cheap_to_send(report_from: Callable[..., Report]) -> None:
    text = take_figure(report_from(bars=6)).to_json()
    assert len(text) < MOST_BYTES, f"{len(text)} bytes"
    assert json.loads(text)["layout"]["height"] > 0


def test_another_take_is_laid_over_dashed_from_its_own_beat_one(
    report_from: Callable[..., Report],
) -> None:
    own = report_from(bars=2)
    model = report_from(bars=2, clicks=False, landings_cents=(0.0,))  # it starts 3 s earlier
    (laid,) = traces(take_figure(own, model=model), color=look.MODEL_TAKE)
    assert laid.line.dash != "solid"
    first = float(np.asarray(laid.x, dtype=float)[np.isfinite(np.asarray(laid.y, dtype=float))][0])
    assert first == pytest.approx(0.0, abs=0.01)


def test_the_words_count_what_the_heads_show(report_from: Callable[..., Report]) -> None:
    words = take_words(report_from(landings_cents=(2.0, -3.0, 14.0, 1.0, 30.0), bars=4))
    assert "36 waves" in words
    assert "22 came home, 7 nearly came home, 7 did not come home yet" in words
    assert "bars at 72, 3 to the click" in words


def test_a_take_without_a_click_is_called_free_playing(report_from: Callable[..., Report]) -> None:
    words = take_words(report_from(tempo_bpm=None, waves_per_beat=None))
    assert "free playing, no click" in words
    assert "late" not in words


def fan_starts(figure: go.Figure) -> np.ndarray:
    """Where each wave of the fan begins, in shares of a wave."""
    strokes = [t for t in figure.data if t.xaxis == "x2" and t.line.color == look.SOFT_INK]
    x = np.asarray(strokes[0].x, dtype=float)
    return x[np.flatnonzero(np.isnan(np.concatenate([[np.nan], x[:-1]])))]


def test_late_waves_stand_to_the_right_in_the_fan_when_it_is_asked_for(
    report_from: Callable[..., Report],
) -> None:
    report = report_from(bars=2)
    late_s = np.where(np.arange(len(report.cycles)) % 2, 0.02, -0.02)
    fit = replace(report.stretches[0], asynchrony_s=late_s)
    report = replace(report, stretches=(fit,))
    assert np.ptp(fan_starts(take_figure(report))) < 0.03
    starts = fan_starts(take_figure(report, fan_in_time=True))
    wave_s = 60.0 / 72.0 / 3
    assert starts[1::2].mean() - starts[::2].mean() == pytest.approx(0.04 / wave_s, abs=0.02)


def test_early_and_late_are_never_shown_where_the_beat_is_fitted(
    report_from: Callable[..., Report],
) -> None:
    report = report_from(clicks=False)
    late = replace(report.stretches[0], asynchrony_s=np.linspace(-0.03, 0.03, len(report.cycles)))
    figure = take_figure(replace(report, stretches=(late,)), fan_in_time=True)
    assert np.ptp(fan_starts(figure)) < 0.03
    assert not any(note.text in ("early", "late") for note in figure.layout.annotations)
