"""Small drawings for paper: the take in black on white, and where the finger goes."""

from collections.abc import Iterator, Sequence

import numpy as np
from markupsafe import Markup

from labcore.figures.line import Line, Scale, fret_words, landing_point, line_over_home, scale_for
from labcore.figures.writing import Row, Writing, write
from labcore.findings import landing
from labcore.model import Landing, Report, Technique

ROW_H, ROW_W, LEFT, GAP = 62.0, 600.0, 64.0, 9.0  # in units of the drawing
MOST_ROWS = 4
HEAD_R = 4.2
INK, SOFT = "#000", "#888"


def take_svg(report: Report | None) -> Markup:
    """Up to four rows of a take as on the screen, in black; without a take, rows to draw in."""
    if report is None or not report.take.notes:
        rows = [_row_frame(number, name=str(number + 1), ticks=()) for number in range(2)]
    else:
        rows = _rows(report)
    height = len(rows) * (ROW_H + GAP) + GAP
    return Markup(  # numbers and our own words only
        f'<svg class="take" viewBox="0 {-GAP:g} {LEFT + ROW_W + 6:g} {height:g}" '
        'preserveAspectRatio="xMinYMin" role="img" aria-label="the take, a bar a row" '
        f'xmlns="http://www.w3.org/2000/svg">{"".join(rows)}</svg>'
    )


def _rows(report: Report) -> list[str]:
    writing, line = write(report), line_over_home(report)
    scale = scale_for(line)
    return [
        "".join(_row(report, line=line, scale=scale, writing=writing, number=number))
        for number in range(min(len(writing.rows), MOST_ROWS))
    ]


def _row(
    report: Report, *, line: Line, scale: Scale, writing: Writing, number: int
) -> Iterator[str]:
    row, top = writing.rows[number], number * (ROW_H + GAP)
    ticks = [(_y(cents, scale=scale, top=top), fret_words(cents)) for cents in scale.ticks]
    yield _row_frame(number, name=row.name, ticks=ticks)
    yield from _beats(writing, row=row, top=top)
    yield _pitch(line, scale=scale, row=row, top=top)
    for cycle in report.cycles:
        time_s, cents = landing_point(cycle)
        if row.start_s <= time_s < row.end_s and np.isfinite(scale.inside(cents)):
            yield _head(landing(cycle), x=_x(time_s, row=row), y=_y(cents, scale=scale, top=top))


def _x(time_s: float, *, row: Row) -> float:
    return LEFT + ROW_W * (time_s - row.start_s) / (row.end_s - row.start_s)


def _y(cents: float, *, scale: Scale, top: float) -> float:
    return top + ROW_H * (scale.high - cents) / (scale.high - scale.low)


def _row_frame(number: int, *, name: str, ticks: Sequence[tuple[float, str]]) -> str:
    """The left edge of a row, its name, and levels to rule: how far down, and their words."""
    top = number * (ROW_H + GAP)
    parts = [
        _stroke(LEFT, top, LEFT, top + ROW_H, width=1.2),
        f'<text x="0" y="{top + 12:.1f}" font-size="11" font-weight="bold">{name}</text>',
    ]
    if not ticks:
        parts.append(_stroke(LEFT, top + 0.75 * ROW_H, LEFT + ROW_W, top + 0.75 * ROW_H, width=1))
    for y, words in ticks:
        plain = words == "plain"
        parts.append(_stroke(LEFT, y, LEFT + ROW_W, y, width=1.1 if plain else 0.4, soft=not plain))
        parts.append(
            f'<text x="{LEFT - 4:g}" y="{y + 3.5:.1f}" font-size="10" text-anchor="end">'
            f"{words}</text>"
        )
    return "".join(parts)


def _beats(writing: Writing, *, row: Row, top: float) -> Iterator[str]:
    if writing.beat_s is None:
        return
    for beat in range(1, writing.beats_per_bar):
        x = _x(row.start_s + beat * writing.beat_s, row=row)
        yield _stroke(x, top, x, top + ROW_H, width=0.5, soft=True)


def _pitch(line: Line, *, scale: Scale, row: Row, top: float) -> str:
    held = (line.time_s >= row.start_s) & (line.time_s <= row.end_s)
    cents = scale.inside(line.cents[held])
    pieces: list[str] = []
    down = False
    for time_s, value in zip(line.time_s[held], cents, strict=True):
        if not np.isfinite(value):
            down = False
            continue
        place = f"{_x(time_s, row=row):.1f},{_y(value, scale=scale, top=top):.1f}"
        pieces.append(f"{'L' if down else 'M'}{place}")
        down = True
    return f'<path d="{" ".join(pieces)}" fill="none" stroke="{INK}" stroke-width="1.3"/>'


def _head(kind: Landing, *, x: float, y: float) -> str:
    if kind is Landing.UNKNOWN:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.6" fill="{SOFT}"/>'
    fill = INK if kind is Landing.HOME else "#fff"
    circle = (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{HEAD_R}" fill="{fill}" stroke="{INK}" '
        'stroke-width="1.2"/>'
    )
    if kind is not Landing.NEARLY:
        return circle
    return circle + (
        f'<path d="M{x - HEAD_R:.1f},{y:.1f} A{HEAD_R},{HEAD_R} 0 0 0 {x + HEAD_R:.1f},{y:.1f} Z" '
        f'fill="{INK}"/>'
    )


def _stroke(x0: float, y0: float, x1: float, y1: float, *, width: float, soft: bool = False) -> str:
    return (
        f'<line x1="{x0:.1f}" y1="{y0:.1f}" x2="{x1:.1f}" y2="{y1:.1f}" '
        f'stroke="{SOFT if soft else INK}" stroke-width="{width}"/>'
    )


# --- the hand ---------------------------------------------------------------------------------

_NECK_W, _NECK_H = 190.0, 92.0


def hand_svg(technique: Technique, *, string: int) -> Markup:
    """A piece of the neck from the front: where the finger is, and which way it moves."""
    parts = [_stroke(x, 6, x, 72, width=1.4) for x in (40.0, 150.0)]
    parts += [
        _stroke(8, 10 + 11.6 * i, 182, 10 + 11.6 * i, width=0.6 + 0.25 * i, soft=i + 1 != string)
        for i in range(6)
    ]
    y = 10 + 11.6 * (min(max(string, 1), 6) - 1)
    parts.append(f'<ellipse cx="95" cy="{y:.1f}" rx="12" ry="8" fill="#fff" stroke="{INK}"/>')
    parts += _arrows(technique, y=y)
    words = _HAND_WORDS.get(technique, _HAND_WORDS[Technique.BEND])
    parts.append(f'<text x="95" y="88" font-size="9.2" text-anchor="middle">{words}</text>')
    return Markup(  # numbers and our own words only
        f'<svg class="hand" viewBox="0 0 {_NECK_W:g} {_NECK_H:g}" role="img" '
        f'aria-label="{words}" xmlns="http://www.w3.org/2000/svg">{"".join(parts)}</svg>'
    )


_HAND_WORDS = {
    Technique.BEND: "push toward the middle, let go, home",
    Technique.HELD_BEND: "bend up, hold, let it fall and return",
    Technique.ROLL: "roll along the string, both ways",
    Technique.CIRCLE: "small circles, the tip stays",
    Technique.ARM: "finger holds still, the arm leans",
}


def _arrows(technique: Technique, *, y: float) -> list[str]:
    toward = 1.0 if y < 39.0 else -1.0  # the middle of the neck lies at 39
    if technique is Technique.ROLL:
        return [_arrow(112, y, 138, y), _arrow(78, y, 52, y)]
    if technique is Technique.CIRCLE:
        return [
            f'<path d="M112,{y:.1f} a17,13 0 1 1 -8,-11" fill="none" stroke="{INK}" '
            'stroke-width="1.6"/>',
            _arrow(101, y - 13.5, 106, y - 10.5),
        ]
    if technique is Technique.ARM:
        return []
    return [
        _arrow(88, y + 9 * toward, 88, y + 29 * toward),
        _arrow(102, y + 29 * toward, 102, y + 9 * toward),
    ]


def _arrow(x0: float, y0: float, x1: float, y1: float) -> str:
    along = np.array([x1 - x0, y1 - y0])
    along = along / np.hypot(*along)
    aside = np.array([-along[1], along[0]])
    tip = np.array([x1, y1])
    left, right = tip - 6 * along + 3.2 * aside, tip - 6 * along - 3.2 * aside
    head = " ".join(f"{x:.1f},{y:.1f}" for x, y in (tip, left, right))
    return _stroke(x0, y0, x1, y1, width=1.6) + f'<polygon points="{head}" fill="{INK}"/>'
