"""Clicks over the rows of a take: each once, where it fell, and those a pluck covers as well."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from labcore.figures.writing import Row, Writing
from labcore.metre import even_series
from labcore.model import ClickSource, ClickTrack, Floats, Report

EARLY_S = 0.03  # a click this little before a barline opens the bar: the mark is as wide
COVERED_S = 0.08  # a pluck this near a click hides it from the finder (project choice)
TAKEN_STEPS = 0.25  # a place of the series this near a heard click is that click
TOLD_SHARE = 0.005  # tempos this near each other read the same


@dataclass(frozen=True, slots=True)
class Mark:
    """A click in the picture; ``is_heard`` is False where a pluck covers it."""

    row: int
    into_row_s: float
    is_heard: bool


def click_marks(report: Report, *, writing: Writing, rows: tuple[Row, ...]) -> list[Mark]:
    """The clicks of these rows of the writing."""
    clicks = report.take.clicks
    if clicks is None or clicks.time_s.size == 0:
        return []
    covered_s = covered_clicks(clicks, attack_s=report.take.contour.attack_s)
    is_end = rows[-1] is writing.rows[-1]
    return [
        Mark(row, min(max(time_s - rows[row].start_s, 0.0), writing.row_s), is_heard)
        for times, is_heard in ((clicks.time_s, True), (covered_s, False))
        for time_s, row in _in_rows(times, rows=rows, is_end=is_end)
    ]


def _in_rows(times: Floats, *, rows: tuple[Row, ...], is_end: bool) -> Iterator[tuple[float, int]]:
    """Each time with its row; the click that closes the last bar stands at that bar's end."""
    starts = np.array([row.start_s for row in rows])
    end_s = rows[-1].end_s + (EARLY_S if is_end else -EARLY_S)
    for time_s in times:
        row = int(np.searchsorted(starts, time_s + EARLY_S, side="right")) - 1
        if row >= 0 and time_s < end_s:
            yield float(time_s), row


def covered_clicks(clicks: ClickTrack, *, attack_s: Floats) -> Floats:
    """Times at which the even series of the clicks has a place, nothing was heard, and a pluck is.

    Only what lies between the clicks, or one step beyond them, is known to have sounded.
    """
    if clicks.source is not ClickSource.HEARD or clicks.time_s.size < 2 or attack_s.size == 0:
        return np.empty(0)
    step_s, origin_s = even_series(clicks.time_s)
    last = round((float(clicks.time_s[-1]) - origin_s) / step_s)
    places: Floats = np.asarray(origin_s + step_s * np.arange(-1, last + 2), dtype=np.float64)
    alone = _nearest(places, to=clicks.time_s) > TAKEN_STEPS * step_s
    return np.asarray(places[alone & (_nearest(places, to=attack_s) < COVERED_S)])


def _nearest(times: Floats, *, to: Floats) -> Floats:
    return np.asarray(np.min(np.abs(times[:, None] - to[None, :]), axis=1))


def other_click_bpm(report: Report) -> float | None:
    """Tempo of the clicks in the take where it is not the one that was set; None where it is."""
    clicks, asked_bpm = report.take.clicks, report.task.tempo_bpm
    if clicks is None or asked_bpm is None or clicks.time_s.size < 2:
        return None
    is_same = abs(clicks.tempo_bpm / asked_bpm - 1.0) <= TOLD_SHARE
    return None if is_same else round(clicks.tempo_bpm, 1)
