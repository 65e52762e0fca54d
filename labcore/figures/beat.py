"""Pictures of the beat: one bar of ideal waves, the scale of speeds, and the trap of the grids."""

from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go

from labcore.beats import NOTE_VALUES, beat_s, wave_rate_hz
from labcore.exercises.syllables import SYLLABLES
from labcore.figures import look
from labcore.figures.physics import Place, assembled, axes_at, bare_axes, corner, label
from labcore.figures.strokes import Trace, gapped, marks_at, stroke
from labcore.metre import resultant
from labcore.model import Floats

BAR_BEATS, PLAIN_BEATS = 4, 1
SPEEDS_HZ = (0.0, 12.0)
SMALL_NAMES_PX = 13
# Most waves to the click whose syllables fit on one line in full type, in small type, and on a
# narrow page; with more, every other syllable is set a line lower.
ROOM_FOR_SYLLABLES, ROOM_FOR_SMALL_ONES, ROOM_WHEN_NARROW = 2, 3, 2
WORDS_Y, LOWER_WORDS_Y = -0.3, -0.54
HAND_LIMIT_HZ = (5.0, 7.0)


@dataclass(frozen=True, slots=True)
class Range:
    """A stretch of the scale of speeds, in waves or movements a second."""

    name: str
    low_hz: float
    high_hz: float


# Fujii et al. 2009 (abstract): the limit commonly assumed for tapping with one hand. Timmers &
# Desain 2000, as they sum up others: singers. Gough 2005 (first page): the violin. Repp 2003
# (abstract): a click on every note stops helping at 200 to 250 ms from one to the next.
RANGES = (
    Range("clicks on every wave help", 0.0, 4.0),
    Range("violins", 4.0, 6.0),
    Range("singers", 5.5, 8.0),
    Range("one hand taps at most", *HAND_LIMIT_HZ),
)

BAR_ROW = Place("", (0.0, 1.0), (0.50, 1.0))
SPEED_ROW = Place("2", (0.0, 1.0), (0.0, 0.38))


# --- one bar, and how fast it is ------------------------------------------------------------------


def beat_figure(tempo_bpm: float, *, cycles_per_beat: int) -> go.Figure:
    """One bar of the practice form above, where its speed lies among others below.

    A player's line runs through the bar.
    """
    bar_s = BAR_BEATS * beat_s(tempo_bpm)
    traces = [*_bar(cycles_per_beat), *_speeds(tempo_bpm, cycles_per_beat=cycles_per_beat)]
    top, bottom = BAR_ROW.y[1], BAR_ROW.y[0]
    row = {"start_s": 0.0, "end_s": bar_s, "x0": 0.0, "x1": 1.0, "y0": 1 - top, "y1": 1 - bottom}
    speed = _speed_words(tempo_bpm, cycles_per_beat=cycles_per_beat)
    narrow = {"annotations": [*_bar_words(cycles_per_beat, room=ROOM_WHEN_NARROW), *speed]}
    layout = {
        **bare_axes(BAR_ROW, x_range=(-0.02, BAR_BEATS + 0.02), y_range=(-0.62, 1.25)),
        **axes_at(
            SPEED_ROW, x="waves a second", y="", x_range=SPEEDS_HZ, y_range=(-0.7, len(RANGES) + 1)
        ),
        "annotations": [*_bar_words(cycles_per_beat, room=ROOM_FOR_SMALL_ONES), *speed],
        "meta": {"rows": [row]},
    }
    layout["yaxis2"] = {**layout["yaxis2"], "visible": False}
    layout["margin"] = {"l": 24, "r": 24, "t": 14, "b": 52, "autoexpand": False}
    return assembled(traces, layout=layout, height_px=420, narrow=narrow)


def beat_words(tempo_bpm: float, *, cycles_per_beat: int) -> str:
    """What `beat_figure` shows, in a sentence."""
    rate_hz = wave_rate_hz(tempo_bpm, cycles_per_beat=cycles_per_beat)
    waves = "one wave" if cycles_per_beat == 1 else f"{cycles_per_beat} waves"
    name = NOTE_VALUES[cycles_per_beat]
    return (
        f"{waves.capitalize()} to the click ({name}) at {tempo_bpm:.0f} clicks a minute: "
        f"{rate_hz:.1f} waves a second, {1000 / rate_hz:.0f} ms each. {speed_remark(rate_hz)}"
    )


def speed_remark(rate_hz: float) -> str:
    """What a speed asks of a hand, in a sentence.

    >>> speed_remark(8.0)
    'That is faster than one hand is commonly thought to tap.'
    """
    low, high = HAND_LIMIT_HZ
    if rate_hz > high:
        return "That is faster than one hand is commonly thought to tap."
    if rate_hz >= low:
        return "That is at the edge of what one hand is commonly thought to tap."
    if rate_hz < 2.0:
        return "Slow enough to hear every wave as a movement of its own."
    return "One hand is commonly thought to tap faster than that."


def _bar(cycles_per_beat: int) -> list[Trace]:
    """The lines of the beat and of its parts, the plain note, and the pitch over it."""
    parts = np.arange(0, BAR_BEATS * cycles_per_beat + 1) / cycles_per_beat
    clicks = np.arange(BAR_BEATS + 1.0)
    return [
        _uprights(parts, low=-0.08, high=1.05, color=look.GRID, width=1.0),
        _uprights(clicks, low=-0.18, high=1.15, color=look.SOFT_INK, width=2.0),
        stroke([0.0, BAR_BEATS], [0.0, 0.0], color=look.PLAIN_NOTE, width=1.6),
        stroke(*_ideal(cycles_per_beat), color=look.PITCH, width=3.0),
        marks_at(clicks[:-1], np.full(BAR_BEATS, 1.2),
                 marker={"symbol": "triangle-down", "size": 13, "color": look.CLICK}),
    ]  # fmt: skip


def _ideal(cycles_per_beat: int) -> tuple[Floats, Floats]:
    beats = np.linspace(0.0, BAR_BEATS, 1201)
    moving = beats >= PLAIN_BEATS
    wave = 0.5 - 0.5 * np.cos(2.0 * np.pi * cycles_per_beat * (beats - PLAIN_BEATS))
    return beats, np.where(moving, wave, 0.0)


def _uprights(x: Floats, *, low: float, high: float, color: str, width: float) -> Trace:
    across = np.column_stack([x, x])
    ends = np.tile([low, high], (x.size, 1))
    return stroke(*gapped(across, ends), color=color, width=width)


def _bar_words(cycles_per_beat: int, *, room: int) -> list[dict[str, object]]:
    written = [label("plain", x=0.5, y=WORDS_Y)]
    size = look.TEXT_PX if cycles_per_beat <= ROOM_FOR_SYLLABLES else SMALL_NAMES_PX
    second_y = WORDS_Y if cycles_per_beat <= room else LOWER_WORDS_Y
    syllables = SYLLABLES[cycles_per_beat] * (BAR_BEATS - PLAIN_BEATS)
    for place, syllable in enumerate(syllables):
        middle = PLAIN_BEATS + (place + 0.5) / cycles_per_beat
        y = second_y if place % 2 else WORDS_Y
        written.append(label(syllable, x=middle, y=y, size=size))
    return written


def _speeds(tempo_bpm: float, *, cycles_per_beat: int) -> list[Trace]:
    """A bar for each range, and the note values of this tempo on a line above them."""
    line = float(len(RANGES))
    ranges = [
        stroke([r.low_hz, r.high_hz], [row, row], color=look.SKY, width=9.0)
        for row, r in enumerate(reversed(RANGES))
    ]
    rates = np.array([wave_rate_hz(tempo_bpm, cycles_per_beat=k) for k in NOTE_VALUES])
    seen = rates <= SPEEDS_HZ[1]
    chosen = rates[cycles_per_beat - 1]
    return [
        {**trace, "xaxis": "x2", "yaxis": "y2"}
        for trace in (
            *ranges,
            stroke([chosen, chosen], [-0.6, line], color=look.PITCH, width=2.0, dash="dot"),
            marks_at(rates[seen], np.full(int(seen.sum()), line),
                     marker={"size": 22, "color": look.PAPER,
                             "line": {"width": 2, "color": look.INK}}),
            marks_at([chosen] if chosen <= SPEEDS_HZ[1] else [], [line],
                     marker={"size": 26, "color": look.PITCH}),
        )
    ]  # fmt: skip


def _speed_words(tempo_bpm: float, *, cycles_per_beat: int) -> list[dict[str, object]]:
    line = float(len(RANGES))
    written = [corner("waves to the click at this tempo", y=line + 0.75, axes="2")]
    for value in NOTE_VALUES:
        rate_hz = wave_rate_hz(tempo_bpm, cycles_per_beat=value)
        if rate_hz <= SPEEDS_HZ[1]:
            ink = look.PAPER if value == cycles_per_beat else look.INK
            written.append(label(str(value), x=rate_hz, y=line, axes="2", color=ink))
    for row, r in enumerate(reversed(RANGES)):
        words = label(r.name, x=r.high_hz + 0.12, y=row, axes="2", anchor="left",
                      size=SMALL_NAMES_PX)  # fmt: skip
        written.append(words)
    return written


# --- the trap -------------------------------------------------------------------------------------

TRAP_BEATS = 2
GRIDS = (2, 3, 4, 5, 6)
TRAP_MARGINS = {"l": 118, "r": 88}  # px, for the words beside the lines


def trap_figure(played: int) -> go.Figure:
    """Even waves of one note value against the grids of all, with how well each seems to fit."""
    moments = np.arange(TRAP_BEATS * played) / played
    traces: list[Trace] = []
    words = []
    for row, grid in enumerate(reversed(GRIDS)):
        lines = np.arange(TRAP_BEATS * grid + 1) / grid
        on = np.abs(moments * grid - np.round(moments * grid)) < 1e-9
        traces += [
            _uprights(lines, low=row - 0.3, high=row + 0.3, color=look.SOFT_INK, width=1.5),
            marks_at(moments[on], np.full(int(on.sum()), row), marker=_dot(filled=True)),
            marks_at(moments[~on], np.full(int((~on).sum()), row), marker=_dot(filled=False)),
        ]
        fit = round(resultant(2.0 * np.pi * moments * grid)[0], 2) + 0.0
        words += [
            {**label(f"{grid} to the click", x=0.0, y=row, anchor="right"), "xshift": -12},
            {**label(f"fit {100 * fit:.0f} %", x=TRAP_BEATS, y=row, anchor="left"), "xshift": 12},
        ]
    layout = {
        **bare_axes(Place("", (0.0, 1.0), (0.0, 1.0)), x_range=(0.0, TRAP_BEATS),
                    y_range=(-0.6, len(GRIDS) - 0.3)),
        "annotations": words,
        "margin": {**TRAP_MARGINS, "t": 10, "b": 10, "autoexpand": False},
    }  # fmt: skip
    return assembled(traces, layout=layout, height_px=330)


def trap_words(played: int) -> str:
    """What `trap_figure` shows, in a sentence."""
    fits = [grid for grid in GRIDS if grid % played == 0]
    seem = " and ".join(str(grid) for grid in fits)
    return (
        f"Even waves, {played} to the click, as dots on the lines of five note values. They sit "
        f"perfectly on the grid of {seem}; a filled dot lies on a line, a hollow one between."
    )


def _dot(*, filled: bool) -> dict[str, object]:
    line = {"width": 2, "color": look.PITCH}
    return {"size": 13, "color": look.PITCH if filled else look.PAPER, "line": line}
