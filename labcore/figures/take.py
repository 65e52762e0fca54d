"""The take written like music, with the fan of all waves beside it.

Rows are bars; the pitch line runs over the plain note; each wave ends in a head that is filled,
half or hollow: home, nearly, not yet. The fan lays all waves over each other from home.
Nothing is measured here.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go

from labcore.figures import look
from labcore.figures.click_marks import click_marks, other_click_bpm
from labcore.figures.fan import can_show_time, fan_traces
from labcore.figures.line import (
    ROW_GAP,
    Line,
    Scale,
    fret_words,
    landing_point,
    line_over_home,
    scale_for,
    wave_words,
)
from labcore.figures.strokes import (
    Point,
    Trace,
    gapped,
    head_shape,
    landing_heads,
    marks_at,
    note_group_path,
    stroke,
)
from labcore.figures.words import are_waves_told, is_judged
from labcore.figures.writing import Row, Writing, row_values, write
from labcore.findings import landing
from labcore.model import Landing, Report

ROW_PX = (66, 118)  # height of a row: the least when there are many, the most when there are few
ROWS_PX = 560  # what the rows of a page fill before they get smaller
HEADER_PX = (30, 64)  # above the rows: bare, and with a tempo
FOOTER_PX = 44
FAN_PX = 330  # the fan keeps this height, however many rows there are
# Where the rows end and the fan begins, as shares of the plot's width; the names of its levels
# stand between, and need a larger share of a narrow page.
ROWS_RIGHT, FAN_LEFT = 0.69, 0.8
ROWS_RIGHT_NARROW, FAN_LEFT_NARROW = 0.6, 0.76
LATE_SHARE = 0.2  # of a wave: how far behind a barline its end still belongs to the row before


@dataclass(frozen=True, slots=True)
class Page:
    """What is drawn at once: some rows of a writing, at one scale."""

    writing: Writing
    rows: tuple[Row, ...]
    scale: Scale

    @property
    def row_px(self) -> int:
        return int(np.clip(ROWS_PX / len(self.rows), *ROW_PX))

    @property
    def body_px(self) -> int:
        return max(self.row_px * len(self.rows), FAN_PX)

    def row_at(self, time_s: float) -> int | None:
        """Number of the row a time falls in; None when it is on another page."""
        inside = [r for r, row in enumerate(self.rows) if row.start_s <= time_s < row.end_s]
        return inside[0] if inside else None

    @property
    def units(self) -> float:
        """Height of the plot in rows."""
        return self.body_px / self.row_px


def take_figure(
    report: Report,
    *,
    model: Report | None = None,
    heads: bool = True,
    beats_per_bar: int = 4,
    page: int = 0,
    fan_in_time: bool = False,
) -> go.Figure:
    """The take written like music, and its fan.

    Parameters
    ----------
    report : the take as judged; bars are drawn when its task has a tempo.
    model : another take laid over it, dashed; both start at their own first beat or pluck.
    heads : False hides where the waves landed, for a reader who is to guess first; they are
        never shown of a take that cannot be judged.
    page : which twelve rows to show, counted from 0.
    fan_in_time : the fan shows early and late, where clicks tell them.
    """
    heads = heads and is_judged(report)
    line = line_over_home(report)
    writing = write(report, beats_per_bar=beats_per_bar)
    lines = [line] if model is None else [line, line_over_home(model)]
    shown = Page(writing, writing.page(page) or writing.page(0), scale_for(*lines))
    traces = [
        *_rulings(shown, row_count=len(shown.rows), width=writing.row_s, axes=""),
        *_beat_lines(shown),
        *_click_marks(report, page=shown),
        *_model_line(model, own=writing, page=shown, beats_per_bar=beats_per_bar),
        stroke(*_in_rows(line, page=shown), color=look.PITCH, width=2.2),
        *_row_heads(report, page=shown, heads=heads),
        *_rulings(shown, row_count=1, width=1.0, axes="2"),
        *_fan(report, line=line, scale=shown.scale, heads=heads, in_time=fan_in_time),
    ]
    in_time = fan_in_time and can_show_time(report)
    return go.Figure(traces, _layout(report, page=shown, heads=heads, in_time=in_time))


def _fan(report: Report, *, line: Line, **more: Any) -> list[Trace]:
    return fan_traces(report, line=line, axes="2", **more) if are_waves_told(report) else []


# --- the rows ---------------------------------------------------------------------------------


def _in_rows(line: Line, *, page: Page) -> tuple[Any, Any]:
    """The line cut at the rows' ends: seconds into the row, and height in the picture."""
    xs: list[Any] = []
    ys: list[Any] = []
    inside = page.scale.inside(line.cents)
    for number, row in enumerate(page.rows):
        held = (line.time_s >= row.start_s) & (line.time_s <= row.end_s)
        xs += [line.time_s[held] - row.start_s, [np.nan]]
        ys += [page.scale.height(inside[held], row=number), [np.nan]]
    return np.concatenate(xs), np.concatenate(ys)


def _rulings(page: Page, *, row_count: int, width: float, axes: str) -> list[Trace]:
    """Level lines: home strong, whole frets thin, shares of a fret dotted."""
    groups = (
        ([c for c in page.scale.ticks if c % 100.0], {"color": look.GRID, "dash": "1px,4px"}),
        ([c for c in page.scale.ticks if c and not c % 100.0], {"color": look.GRID}),
        ([0.0], {"color": look.PLAIN_NOTE, "width": 1.6}),
    )
    traces = []
    for levels, style in groups:
        row, cents = np.meshgrid(np.arange(row_count, dtype=float), np.array(levels))
        height = page.scale.height(cents, row=row).ravel()
        across = np.tile([0.0, width], (height.size, 1))
        x, y = gapped(across, np.column_stack([height, height]))
        traces.append(stroke(x, y, axes=axes, **style))
    return traces


def _beat_lines(page: Page) -> list[Trace]:
    """Subdivision lines thin and dotted, beats firmer, barlines dark."""
    writing = page.writing
    if writing.beat_s is None:
        return []
    parts = writing.waves_per_beat or 1
    step = np.arange(writing.beats_per_bar * parts + 1)
    beat = step % parts == 0
    barline = step % (writing.beats_per_bar * parts) == 0
    seconds = step * writing.beat_s / parts
    return [
        _uprights(seconds[~beat], page=page, color=look.GRID, dash="2px,3px"),
        _uprights(seconds[beat & ~barline], page=page, color=look.GRID, width=1.6),
        _uprights(seconds[barline], page=page, color=look.INK, width=1.6),
    ]


def _uprights(seconds: Any, *, page: Page, **style: Any) -> Trace:
    count = len(page.rows)
    x = np.tile(seconds, count)
    row = np.repeat(np.arange(count, dtype=float), len(seconds))
    ends = [page.scale.height(c, row=row) for c in (page.scale.low, page.scale.high)]
    return stroke(*gapped(np.column_stack([x, x]), np.column_stack(ends)), **style)


def _click_marks(report: Report, *, page: Page) -> list[Trace]:
    """Clicks in the recording: a short mark on the top edge of the row, hollow under a pluck."""
    marks = click_marks(report, writing=page.writing, rows=page.rows)
    traces = []
    for is_heard, symbol in ((True, "triangle-down"), (False, "triangle-down-open")):
        found = [mark for mark in marks if mark.is_heard is is_heard]
        x, y = [mark.into_row_s for mark in found], [-mark.row - ROW_GAP for mark in found]
        if found:
            marker = {"symbol": symbol, "size": 9, "color": look.CLICK}
            traces.append(marks_at(x, y, marker=marker))
    return traces


def _model_line(
    model: Report | None, *, own: Writing, page: Page, beats_per_bar: int
) -> list[Trace]:
    if model is None:
        return []
    other = write(model, beats_per_bar=beats_per_bar)
    moved_s = own.rows[0].start_s - other.rows[0].start_s
    line = line_over_home(model)
    x, y = _in_rows(Line(line.time_s + moved_s, line.cents), page=page)
    return [stroke(x, y, color=look.MODEL_TAKE, width=2.6, dash="7px,4px")]


def _row_heads(report: Report, *, page: Page, heads: bool) -> list[Trace]:
    if not are_waves_told(report):
        return []
    placed: dict[Landing, list[Point]] = {kind: [] for kind in Landing}
    for number, cycle in enumerate(report.cycles, start=1):
        time_s, cents = landing_point(cycle)
        # A wave that lands on a barline, or a little behind it, ends its own row.
        row = page.row_at(time_s - LATE_SHARE * cycle.duration_s)
        if row is None or not np.isfinite(page.scale.inside(cents)):
            continue
        kind = landing(cycle) if heads else Landing.UNKNOWN
        words = wave_words(cycle, number=number) if heads else f"wave {number}"
        height = float(page.scale.height(cents, row=row))
        into_row_s = min(time_s - page.rows[row].start_s, page.writing.row_s)
        placed[kind].append((into_row_s, height, words))
    return landing_heads(placed, axes="")


# --- the frame ----------------------------------------------------------------------------------


def _layout(report: Report, *, page: Page, heads: bool, in_time: bool) -> dict[str, Any]:
    header_px = HEADER_PX[page.writing.beat_s is not None]
    headings = _headings(report, page=page, heads=heads)
    return {
        **look.base_layout(height_px=page.body_px + header_px + FOOTER_PX),
        "margin": {"l": 86, "r": 16, "t": header_px, "b": FOOTER_PX, "autoexpand": False},
        **_row_axes(page),
        **_fan_axes(page),
        "annotations": [*headings, *_fan_words(report, page=page, in_time=in_time)],
        "shapes": [*_tempo_notes(page.writing), *(_legend_heads() if heads else [])],
        "meta": {
            "rows": _places(page, rows_right=ROWS_RIGHT),
            "narrow": {
                "xaxis": {"domain": [0.0, ROWS_RIGHT_NARROW]},
                "xaxis2": {"domain": [FAN_LEFT_NARROW, 1.0]},
                "annotations": [
                    *headings,
                    *_fan_words(report, page=page, in_time=in_time, is_narrow=True),
                ],
                "meta": {"rows": _places(page, rows_right=ROWS_RIGHT_NARROW)},
            },
        },
    }


def _bare_axis(**more: Any) -> dict[str, Any]:
    return {
        "showgrid": False,
        "zeroline": False,
        "showline": False,
        "ticks": "",
        "fixedrange": True,
        "automargin": False,
        "tickfont": {"size": look.SMALL_PX, "color": look.SOFT_INK},
        **more,
    }


def _row_axes(page: Page) -> dict[str, Any]:
    writing, scale = page.writing, page.scale
    if writing.beat_s is None:
        ticks = [float(second) for second in range(int(writing.row_s) + 1)]
        names = [f"{second:.0f} s" for second in ticks]
    else:
        ticks = [k * writing.beat_s for k in range(writing.beats_per_bar)]
        names = [f"beat {k + 1}" if k == 0 else str(k + 1) for k in range(writing.beats_per_bar)]
    rows = range(len(page.rows))
    levels = [float(scale.height(c, row=r)) for r in rows for c in scale.ticks]
    words = [_level_words(c, first=r == 0) for r in rows for c in scale.ticks]
    return {
        "xaxis": _bare_axis(
            domain=[0.0, ROWS_RIGHT],
            range=[0.0, writing.row_s],
            anchor="free",
            position=max(0.0, 1.0 - len(page.rows) / page.units),
            tickvals=ticks,
            ticktext=names,
        ),
        "yaxis": _bare_axis(
            range=[-page.units, 0.0], tickvals=levels, ticktext=words, ticklabelstandoff=6
        ),
    }


def _level_words(cents: float, *, first: bool) -> str:
    """Shares of a fret; the first row says the cents as well, small."""
    words = fret_words(cents)
    if not first or not cents:
        return words
    return f"<span style='font-size:10px'>{cents:.0f} c</span> {words}"


def _fan_axes(page: Page) -> dict[str, Any]:
    low = 1.0 - FAN_PX / page.body_px
    ticks = page.scale.ticks
    return {
        "xaxis2": _bare_axis(
            domain=[FAN_LEFT, 1.0],
            range=[-0.06, 1.08],
            anchor="y2",
            showticklabels=False,
        ),
        "yaxis2": _bare_axis(
            domain=[low, 1.0],
            range=[-1.0, 0.0],
            anchor="x2",
            tickvals=[float(page.scale.height(c, row=0.0)) for c in ticks],
            ticktext=[fret_words(c) if c else "home" for c in ticks],
            ticklabelstandoff=4,
        ),
    }


def _places(page: Page, *, rows_right: float) -> list[dict[str, float]]:
    """Where time lies, for the running line: shares of the plot from its top left."""
    return [
        {
            "start_s": round(row.start_s, 4),
            "end_s": round(row.end_s, 4),
            "x0": 0.0,
            "x1": rows_right,
            "y0": (number + ROW_GAP) / page.units,
            "y1": (number + 1.0) / page.units,
        }
        for number, row in enumerate(page.rows)
    ]


def _note(text: str, **place: Any) -> dict[str, Any]:
    return {
        "text": text,
        "showarrow": False,
        "xref": "paper",
        "yref": "paper",
        "yanchor": "middle",
        "xanchor": "left",
        **place,
    }


MARK_PX = 36  # the tempo mark's height above the rows
LEGEND_Y_PX = -33  # under the beats, where a narrow picture has room for it too
LEGEND_PX = {Landing.HOME: -222, Landing.NEARLY: -152, Landing.NOT_YET: -70}


def _headings(report: Report, *, page: Page, heads: bool) -> list[dict[str, Any]]:
    serif = {"family": look.SERIF, "size": 15, "color": look.SOFT_INK}
    values = _values_words(report, rows=page.rows)
    numbers = [
        _note(
            f"<i>{row.name}</i>{values[number]}",
            xref="x",
            yref="y",
            x=0.0,
            y=-number - ROW_GAP,
            yanchor="bottom",
            xshift=3,
            font=serif,
        )
        for number, row in enumerate(page.rows)
    ]
    legend = _legend_words() if heads else []
    return [
        *numbers,
        *_tempo_words(page.writing),
        *_click_words(report, writing=page.writing),
        *legend,
    ]


def _values_words(report: Report, *, rows: tuple[Row, ...]) -> list[str]:
    """The note value heard in each row, where it is not the one written before it."""
    written: int | None = report.task.cycles_per_beat
    told = []
    for row in rows:
        values = row_values(report, row=row) if are_waves_told(report) else ()
        is_new = bool(values) and values != (written,)
        heard = ", then ".join(str(value) for value in values)
        words = f"{heard} to the click" if is_new else ""
        told.append(f"<span style='font-size:12px'>  {words}</span>" if words else "")
        written = values[-1] if values else written
    return told


def _fan_words(
    report: Report, *, page: Page, in_time: bool, is_narrow: bool = False
) -> list[dict[str, Any]]:
    told = _counted(len(report.cycles)) if are_waves_told(report) else "not counted"
    left, size = (FAN_LEFT_NARROW, look.SMALL_PX) if is_narrow else (FAN_LEFT, look.TEXT_PX)
    title = {"family": look.SERIF, "size": size, "color": look.SOFT_INK}
    small = {"size": look.SMALL_PX, "color": look.SOFT_INK}
    low = 1.0 - FAN_PX / page.body_px
    foot = {"y": low, "yshift": -12, "font": small}
    return [
        _note(told, x=left, y=1.0, yshift=-16, font=title),
        _note("early" if in_time else "out", x=left, **foot),
        _note("late" if in_time else "back", x=1.0, xanchor="right", **foot),
    ]


def _counted(waves: int) -> str:
    if waves == 0:
        return "no waves"
    return {1: "one wave", 2: "both waves"}.get(waves, f"all {waves} waves")


def _legend_words() -> list[dict[str, Any]]:
    return [
        _note(kind.value, x=1.0, y=0.0, xshift=shift + 11, yshift=LEGEND_Y_PX, font={"size": 14})
        for kind, shift in LEGEND_PX.items()
    ]


def _legend_heads() -> list[dict[str, Any]]:
    return [
        shape
        for kind, shift in LEGEND_PX.items()
        for shape in head_shape(kind, x=1.0, x_px=shift, y=0.0, y_px=LEGEND_Y_PX)
    ]


def _tempo_words(writing: Writing) -> list[dict[str, Any]]:
    """The tempo as it stands over a stave; absent when no click was chosen."""
    if writing.tempo_bpm is None:
        return []
    serif = {"family": look.SERIF, "size": 19, "color": look.INK}
    bpm = _note(f"= {writing.tempo_bpm:g}", x=0.0, y=1.0, xshift=14, yshift=MARK_PX, font=serif)
    parts = writing.waves_per_beat
    if parts is None:
        return [bpm]
    words = f"{parts} to the click"
    right = 104 + 13 * parts
    asked = _note(words, x=0.0, y=1.0, xshift=right, yshift=MARK_PX, font={**serif, "size": 17})
    tuplet = _note(
        f"<i>{parts}</i>",
        x=0.0,
        y=1.0,
        xshift=98 + 6.5 * (parts - 1),
        yshift=MARK_PX + 22,
        xanchor="center",
        font={**serif, "size": 13},
    )
    return [bpm, asked, tuplet] if parts in (3, 5, 6) else [bpm, asked]


def _click_words(report: Report, *, writing: Writing) -> list[dict[str, Any]]:
    """The tempo of the click in the take, where another one is set."""
    bpm = other_click_bpm(report)
    if bpm is None or writing.tempo_bpm is None:
        return []
    right = 90 if writing.waves_per_beat is None else 236 + 13 * writing.waves_per_beat
    small = {"size": look.SMALL_PX, "color": look.INK}
    words = f"<span style='color:{look.CLICK}'>▾</span> the click runs at {bpm:g}"
    return [_note(words, x=0.0, y=1.0, xshift=right, yshift=MARK_PX, font=small)]


def _tempo_notes(writing: Writing) -> list[dict[str, Any]]:
    if writing.beat_s is None:
        return []
    beat = {
        "type": "path",
        "xref": "paper",
        "yref": "paper",
        "xsizemode": "pixel",
        "ysizemode": "pixel",
        "xanchor": 0.0,
        "yanchor": 1.0,
        "fillcolor": look.INK,
        "fillrule": "nonzero",
        "line": {"width": 0},
    }
    marks = [{**beat, "path": note_group_path(1, x_px=0.0, y_px=MARK_PX - 8)}]
    if writing.waves_per_beat:
        notes = note_group_path(writing.waves_per_beat, x_px=94.0, y_px=MARK_PX - 8)
        marks.append({**beat, "path": notes})
    return marks
