"""How a take is written: cut into rows as music is, one bar a row, beat one at the left edge.

Without a click there are no bars; then a row is a few seconds long.
"""

from dataclasses import dataclass

import numpy as np

from labcore.metre import Beat, find_beat
from labcore.model import BeatOrigin, Report

FREE_ROW_S = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)  # row lengths to choose from without a click
FREE_ROWS = 6  # as many rows as fit a screen; longer rows are taken before there are more
LEAD_S = 0.15  # what is shown before the first pluck without a click
ROWS_A_PAGE = 12
AHEAD_SHARE = 0.06  # of a bar: how early the first pluck may come and still be on its beat one
EARLY_STEPS = 0.25  # of a wave: the same where beat one is fitted to the waves
ROW_WAVES = 2  # of one note value, before a row is said to have it
FULL_SHARE = 0.02  # a last bar with less sound than this is not written


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the writing."""

    start_s: float
    end_s: float
    name: str  # the bar's number, or the second it starts at


@dataclass(frozen=True, slots=True)
class Writing:
    """All rows of a take, and the beat they are written to (None: no click)."""

    rows: tuple[Row, ...]
    tempo_bpm: float | None = None
    beat_s: float | None = None
    beats_per_bar: int = 4
    waves_per_beat: int | None = None

    @property
    def row_s(self) -> float:
        """Length of a row in seconds; all rows are equally long."""
        return self.rows[0].end_s - self.rows[0].start_s

    def page(self, number: int) -> tuple[Row, ...]:
        """The rows of page ``number``, counted from 0."""
        return self.rows[number * ROWS_A_PAGE : (number + 1) * ROWS_A_PAGE]

    @property
    def pages(self) -> int:
        return -(-len(self.rows) // ROWS_A_PAGE)


def sounding_span_s(report: Report) -> tuple[float, float]:
    """First pluck and last end in seconds; the whole recording when no note was heard."""
    notes = report.take.notes
    if not notes:
        return 0.0, report.take.facts.duration_s
    return notes[0].onset_s, max(note.offset_s for note in notes)


def first_beat_s(report: Report, *, beat: Beat, beats_per_bar: int) -> float:
    """A time on beat one.

    Where the reader puts it, else the beat most notes are plucked on: clicks tell where beats
    fall, not which of them opens a bar. Without clicks the beats are fitted to the waves.
    """
    if beat.origin is BeatOrigin.GIVEN or not report.take.notes:
        return beat.origin_s
    line_s = _a_beat_s(report, beat=beat)
    onsets = np.array([note.onset_s for note in report.take.notes])
    numbers = np.round((onsets - line_s) / beat.step_s).astype(int) % beats_per_bar
    return line_s + beat.step_s * float(np.argmax(np.bincount(numbers)))


def _a_beat_s(report: Report, *, beat: Beat) -> float:
    """A time on any beat; where it is fitted, the grid line under the first pluck."""
    if beat.origin is not BeatOrigin.FITTED:
        return beat.origin_s
    onset_s = sounding_span_s(report)[0]
    fit = report.longest_stretch
    if fit is None or fit.named is None:
        return onset_s
    line_s, step_s = beat.origin_s + fit.offset_s, beat.step_s / fit.named
    return line_s + step_s * float(np.floor((onset_s - line_s) / step_s + EARLY_STEPS))


def write(report: Report, *, beats_per_bar: int = 4) -> Writing:
    """Cut a take into rows: bars when a tempo was asked, else a few seconds each."""
    beat = find_beat(report.task, clicks=report.take.clicks)
    if beat is None:
        return Writing(_free_rows(report))
    return Writing(
        _bars(report, beat=beat, beats_per_bar=beats_per_bar),
        tempo_bpm=report.task.tempo_bpm,
        beat_s=beat.step_s,
        beats_per_bar=beats_per_bar,
        waves_per_beat=report.task.cycles_per_beat,
    )


def _bars(report: Report, *, beat: Beat, beats_per_bar: int) -> tuple[Row, ...]:
    start_s, end_s = sounding_span_s(report)
    origin_s = first_beat_s(report, beat=beat, beats_per_bar=beats_per_bar)
    bar_s = beats_per_bar * beat.step_s
    # A pluck a little ahead of beat one still belongs to that bar.
    first = int(np.floor((start_s - origin_s) / bar_s + AHEAD_SHARE))
    last = max(int(np.ceil((end_s - origin_s) / bar_s - FULL_SHARE)), first + 1)
    return tuple(
        Row(origin_s + k * bar_s, origin_s + (k + 1) * bar_s, str(k - first + 1))
        for k in range(first, last)
    )


def _free_rows(report: Report) -> tuple[Row, ...]:
    start_s, end_s = sounding_span_s(report)
    start_s = max(0.0, start_s - LEAD_S)
    fitting = [row_s for row_s in FREE_ROW_S if row_s * FREE_ROWS >= end_s - start_s]
    row_s = fitting[0] if fitting else FREE_ROW_S[-1]
    count = max(1, int(np.ceil((end_s - start_s) / row_s - FULL_SHARE)))
    starts = start_s + row_s * np.arange(count)
    return tuple(Row(float(s), float(s + row_s), f"{s:.0f} s") for s in starts)


def row_values(report: Report, *, row: Row) -> tuple[int, ...]:
    """The note values heard in a row, in their order; empty where none was named."""
    values: list[int] = []
    for fit in report.stretches:
        waves = [report.cycles[int(index)] for index in fit.cycle]
        middles = [(wave.start_s + wave.end_s) / 2.0 for wave in waves]
        inside = sum(row.start_s <= middle_s < row.end_s for middle_s in middles)
        if fit.named is not None and inside >= ROW_WAVES and values[-1:] != [fit.named]:
            values.append(fit.named)
    return tuple(values)
