"""The pitch line against home, and where a pitch stands in a row."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from labcore.model import Floats, Place, Report, VibratoCycle
from labcore.units import cents_between

ROW_GAP = 0.16  # share of a row left free above it
CENTS_STEPS = (25.0, 50.0, 75.0, 100.0, 150.0, 200.0, 300.0, 400.0)  # ends a row's scale may have
FRET_WORDS = {0.0: "", 25.0: "¼", 50.0: "½", 75.0: "¾"}


@dataclass(frozen=True, slots=True)
class Line:
    """A pitch line against home: times and cents, NaN between the notes."""

    time_s: Floats
    cents: Floats


@dataclass(frozen=True, slots=True)
class Scale:
    """Cents shown in a row, from ``low`` under home to ``high`` above it."""

    low: float
    high: float

    def inside(self, cents: Any) -> Floats:
        """The same with NaN where a value would leave its row."""
        room = 0.06 * (self.high - self.low)
        ok = (cents >= self.low - room) & (cents <= self.high + room)
        return np.where(ok, cents, np.nan)

    def height(self, cents: Any, *, row: Any) -> Any:
        """Where a pitch stands in the picture; row 0 is on top, each row is one unit high."""
        share = (cents - self.low) / (self.high - self.low)
        return -(row + 1.0) + share * (1.0 - ROW_GAP)

    @property
    def ticks(self) -> list[float]:
        """Levels to rule and name, in cents: quarter, half or whole frets, home among them."""
        span = self.high - self.low
        step = 25.0 if span <= 75.0 else 50.0 if span <= 250.0 else 100.0
        first, last = int(np.ceil(self.low / step)), int(np.floor(self.high / step))
        return [step * k for k in range(first, last + 1) if step * k > self.low]


def fret_words(cents: float) -> str:
    """A level in shares of a fret, as it is written beside the rows.

    >>> fret_words(50.0), fret_words(100.0), fret_words(-150.0), fret_words(0.0)
    ('½ fret', '1 fret', '-1½ fret', 'plain')
    """
    if cents == 0.0:
        return "plain"
    whole, part = divmod(abs(cents), 100.0)
    share = f"{int(whole) or ''}{FRET_WORDS[part]}"
    return f"{'-' if cents < 0 else ''}{share} fret"


def line_over_home(report: Report) -> Line:
    """The pitch line in cents above the home of each note.

    A note whose home is not known is drawn around the middle of what was heard of it.
    """
    contour = report.take.contour
    cents = np.full(contour.time_s.size, np.nan)
    for note, judged in zip(report.take.notes, report.notes, strict=True):
        held = (contour.time_s >= note.onset_s) & (contour.time_s <= note.offset_s)
        hz = contour.frequency_hz[held]
        if not np.isfinite(hz).any():
            continue
        home_hz = judged.home.hz if judged.home else float(np.nanmedian(hz))
        cents[held] = cents_between(hz, home_hz)
    return Line(contour.time_s, cents)


def scale_for(*lines: Line) -> Scale:
    """Room for nearly all of the lines, in whole steps of quarter frets."""
    heard = np.concatenate([line.cents[np.isfinite(line.cents)] for line in lines])
    if heard.size == 0:
        return Scale(-25.0, 100.0)
    low, high = (float(v) for v in np.percentile(heard, [1, 99]))
    room = 0.04 * (high - low)
    top = next((s for s in CENTS_STEPS[1:] if s >= high + room), CENTS_STEPS[-1])
    bottom = next((s for s in CENTS_STEPS if s >= room - low), CENTS_STEPS[-1])
    return Scale(-bottom, top)


def landing_point(cycle: VibratoCycle) -> tuple[float, float]:
    """Where a wave's head stands: time in seconds, cents above home (NaN without a home).

    At the wave's end; a wave round its home has its head at the turn's time, on the level of the
    wave's middle.
    """
    if cycle.home is None:
        return cycle.end_s, float("nan")
    if cycle.home.place is Place.MIDDLE:
        return cycle.turn_s, float(cycle.return_cents or 0.0)
    return cycle.end_s, cents_between(cycle.end.hz, cycle.home.hz)


def wave_words(cycle: VibratoCycle, *, number: int) -> str:
    """What the picture says when a wave's head is pointed at."""
    words = f"wave {number}: {cycle.extent_cents:.0f} cents wide, bottom to top"
    if cycle.return_cents is None:
        return words
    away = round(cycle.return_cents)
    if away == 0:
        return f"{words}<br>came back to home"
    return f"{words}<br>came back {abs(away)} cents {'above' if away > 0 else 'below'} home"
