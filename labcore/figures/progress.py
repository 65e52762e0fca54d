"""Weeks, or fingers, beside each other: a dot a take, a bar at the middle, few said to be few.

The picture is ruled like a score: one column a week as if it were a bar of music, one row a
measure, and up is the better way in every row. Nothing is measured here.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

from labcore.exercises import ASPECTS, Aspect, Group, Summary
from labcore.exercises.progress import FEW_TAKES
from labcore.figures import look
from labcore.figures.strokes import Trace, gapped, marks_at, stroke
from labcore.findings import bands

ROW_PX = 118
HEAD_PX = 40
FOOT_PX = 64  # three small lines on a narrow page
SIDE_PX = 66  # for the word at the dotted line
COLUMN_EDGE = 0.12  # of a column's width, left free at either side
MIDDLE_WIDTH = 0.36  # half of the middle bar's length, as a share of the column
ROW_GAP = 0.24  # of a row's height, left free above it
# Where a row ends: the level 'settled' begins at, and the value at the row's foot.
_SETTLED = {
    "returned_share": 100.0 * bands.HOME_SETTLED,
    "extent_evenness": bands.WIDTH_PERCENT[0],
    "time_evenness": bands.TIME_PERCENT[0],
}
_LEAST_FOOT = {
    "returned_share": 0.0,
    "extent_evenness": 30.0,
    "time_evenness": 15.0,
    "asynchrony": 30.0,
}
_TOP = {"returned_share": 100.0}  # every other row ends at 0, which is perfectly even


def progress_figure(groups: Sequence[Group], *, aspects: Sequence[Aspect] = ASPECTS) -> go.Figure:
    """Groups of takes as columns, measures as rows.

    Parameters
    ----------
    groups : from `labcore.exercises.by_week` or `by_finger`; each is one column.
    aspects : the measures to draw, one a row.
    """
    rows = [_Row(aspect, number, groups) for number, aspect in enumerate(aspects)]
    traces = [_frame(rows=len(rows), columns=len(groups))]
    for row in rows:
        traces += row.traces()
    return go.Figure(traces, _layout(rows, groups))


def progress_words(groups: Sequence[Group], *, aspects: Sequence[Aspect] = ASPECTS) -> str:
    """One sentence with what a reader sees in `progress_figure`."""
    if not groups:
        return "There are no takes yet, so there is nothing to draw."
    first, last = groups[0], groups[-1]
    told = []
    for aspect in aspects:
        ends = [(group, group.summary(aspect.measure)) for group in (first, last)]
        values = [_number(found, aspect, of=g.label) for g, found in ends if found]
        if values:
            told.append(f"{aspect.words} {' and '.join(dict.fromkeys(values))}")
    takes = sum(len(group.takes) for group in groups)
    counted = "1 take" if takes == 1 else f"{takes} takes"
    counted += f" in {len(groups)} columns, first and last" if len(groups) > 1 else ""
    return f"{counted}: {'; '.join(told)}." if told else f"{counted}, none of which was measured."


def _number(summary: Summary, aspect: Aspect, *, of: str) -> str:
    few = ", few takes" if summary.few else ""
    return f"{summary.middle:.0f} {aspect.unit} ({of}{few})"


class _Row:
    """One measure over all columns, and where its values stand in the picture."""

    def __init__(self, aspect: Aspect, number: int, groups: Sequence[Group]) -> None:
        self.aspect, self.number, self.groups = aspect, number, groups
        values = [value for group in groups for value in group.values(aspect.measure)]
        self.top = _TOP.get(aspect.measure, 0.0)
        least = _LEAST_FOOT.get(aspect.measure, 1.0)
        self.foot = (
            least
            if aspect.more_is_better
            else max([least, *(5.0 * np.ceil(v / 5.0) for v in values)])
        )

    def height(self, value: Any) -> Any:
        """Where a value stands; row 0 is on top, each row is one unit high."""
        share = (np.asarray(value, dtype=float) - self.foot) / (self.top - self.foot)
        return -(self.number + 1.0) + share * (1.0 - ROW_GAP)

    def traces(self) -> list[Trace]:
        return [*self._settled(), *self._middles(), *self._takes()]

    def _settled(self) -> list[Trace]:
        level = _SETTLED.get(self.aspect.measure)
        if level is None:
            return []
        y = self.height([level, level])
        return [stroke([0.0, len(self.groups)], y, color=look.SOFT_INK, dash="dot", width=1.5)]

    def _takes(self) -> list[Trace]:
        marker = {"size": 9, "color": look.OTHER, "line": {"width": 1, "color": look.INK}}
        points = [
            (column + place, value)
            for column, group in enumerate(self.groups)
            for place, value in zip(
                _places(group.values(self.aspect.measure)),
                group.values(self.aspect.measure),
                strict=True,
            )
        ]
        if not points:
            return []
        x, y = zip(*points, strict=True)
        return [marks_at(x, self.height(y), marker=marker)]

    def _middles(self) -> list[Trace]:
        """A thick bar at the middle and a thin one over the middle half; dashed for few takes."""
        traces = []
        for column, group in enumerate(self.groups):
            found = group.summary(self.aspect.measure)
            if found is not None:
                traces += self._middle(found, x=column + 0.5)
        return traces

    def _middle(self, found: Summary, *, x: float) -> list[Trace]:
        ends = np.array([[x - MIDDLE_WIDTH, x + MIDDLE_WIDTH]])
        level = self.height(np.full((1, 2), found.middle))
        dash = "dot" if found.few else "solid"
        middle = stroke(*gapped(ends, level), color=look.PITCH, width=4, dash=dash)
        half = self.height([found.low, found.high])
        spread = stroke([x, x], half, color=look.PITCH, width=14, opacity=0.25)
        return [middle] if found.few else [spread, middle]

    def ticks(self) -> tuple[list[float], list[str]]:
        middle = (self.top + self.foot) / 2.0
        values = [self.top, middle, self.foot]
        words = [f"{value:g} {self.aspect.unit}" for value in values]
        return [float(self.height(value)) for value in values], words


def _places(values: Sequence[float]) -> list[float]:
    """Where takes stand inside their column, oldest at the left."""
    inside = np.linspace(COLUMN_EDGE, 1.0 - COLUMN_EDGE, len(values))
    return [0.5] if len(values) == 1 else [float(place) for place in inside]


def _frame(*, rows: int, columns: int) -> Trace:
    """Bar lines between the columns, from the top of the first row to the foot of the last."""
    edges = np.arange(columns + 1, dtype=float)
    x = np.column_stack([edges, edges])
    y = np.tile([-float(rows), -ROW_GAP / 2.0], (columns + 1, 1))
    return stroke(*gapped(x, y), color=look.GRID, width=1.2)


def _layout(rows: Sequence[_Row], groups: Sequence[Group]) -> dict[str, Any]:
    ticks = [tick for row in rows for tick in row.ticks()[0]]
    words = [word for row in rows for word in row.ticks()[1]]
    layout = look.base_layout(height_px=HEAD_PX + FOOT_PX + ROW_PX * len(rows))
    layout["margin"] |= {"t": HEAD_PX, "b": FOOT_PX, "r": SIDE_PX}
    layout["xaxis"] = {
        "range": [0.0, max(len(groups), 1)],
        "tickvals": [column + 0.5 for column in range(len(groups))],
        "ticktext": [_column_words(group) for group in groups],
        "tickangle": 0,
        "fixedrange": True,
        "showgrid": False,
        "zeroline": False,
    }
    layout["yaxis"] = {
        "range": [-len(rows) - 0.05, 0.0],
        "tickvals": ticks,
        "ticktext": words,
        "tickfont": {"size": look.SMALL_PX},
        "fixedrange": True,
        "gridcolor": look.FAINT,
        "zeroline": False,
    }
    layout["annotations"] = [note for row in rows for note in _row_notes(row)]
    layout["meta"] = {"narrow": {"xaxis": {"ticktext": [_narrow_words(group) for group in groups]}}}
    return layout


def _column_words(group: Group) -> str:
    number = len(group.takes)
    count = "1 take" if number == 1 else f"{number} takes"
    few = ", few" if 0 < number < FEW_TAKES else ""
    return f"{group.label}<br><span style='font-size:{look.SMALL_PX}px'>{count}{few}</span>"


def _narrow_words(group: Group) -> str:
    """The same on a narrow page: one under the other, and small."""
    label, number = group.label.replace(" ", "<br>"), len(group.takes)
    return f"<span style='font-size:{look.SMALL_PX}px'>{label}<br>({number})</span>"


def _row_notes(row: _Row) -> list[dict[str, Any]]:
    """The row's name above it, and the word at the dotted line."""
    base = {"xref": "paper", "showarrow": False, "font": {"size": look.TEXT_PX}}
    name = f"<b>{row.aspect.words}</b>"
    top = -row.number - ROW_GAP / 2.0
    notes = [{**base, "x": 0.0, "y": top, "text": name, "xanchor": "left", "yanchor": "middle"}]
    level = _SETTLED.get(row.aspect.measure)
    if level is not None:
        words = {"x": 1.0, "y": float(row.height(level)), "text": "settled", "xanchor": "left"}
        notes.append({**base, **words, "xshift": 4, "font": {"size": look.SMALL_PX}})
    return notes
