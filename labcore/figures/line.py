"""The pitch line against home, and where a pitch stands in a row."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from labcore.model import Floats, Note, PitchContour, Place, Report, VibratoCycle
from labcore.units import cents_between

ROW_GAP = 0.16  # share of a row left free above it
CENTS_STEPS = (25.0, 50.0, 75.0, 100.0, 150.0, 200.0, 300.0, 400.0)  # ends a row's scale may have
FRET_WORDS = {0.0: "", 25.0: "¼", 50.0: "½", 75.0: "¾"}
# A note ends in a release or under the next pluck, and a window that reaches into either reads a
# pitch that nobody played. Looked for only in the last moment of a note (project choices, from
# the demo takes: the reading windows are up to 70 ms long, and plucked notes fade more slowly).
RELEASE_S = 0.1
RELEASE_STRAY_DB = -24.0  # another sound this near the note
RELEASE_LEVEL_DB = 1.0  # the level leaves its fading by this much,
RELEASE_WOBBLES = 3.0  # and by as many times what it wobbled around it before


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
    ('½ fret', '1 fret', '−1½ fret', 'plain')
    """
    if cents == 0.0:
        return "plain"
    whole, part = divmod(abs(cents), 100.0)
    share = f"{int(whole) or ''}{FRET_WORDS[part]}"
    return f"{'−' if cents < 0 else ''}{share} fret"


def line_over_home(report: Report) -> Line:
    """The pitch line in cents above the home of each note.

    A note whose home is not known is drawn around the middle of what was heard of it. The line
    of a note ends where the string is let go or plucked anew.
    """
    contour = report.take.contour
    cents = np.full(contour.time_s.size, np.nan)
    for note, judged in zip(report.take.notes, report.notes, strict=True):
        end_s = usable_end_s(note, contour=contour)
        held = contour.frames(note.onset_s, end_s)
        hz = contour.frequency_hz[held]
        if not np.isfinite(hz).any():
            continue
        home_hz = judged.home.hz if judged.home else float(np.nanmedian(hz))
        cents[held] = cents_between(hz, home_hz)
    return Line(contour.time_s, cents)


def usable_end_s(note: Note, *, contour: PitchContour) -> float:
    """The time up to which a note's pitch is its own: before its release, or the next pluck."""
    near = contour.frames(note.offset_s - 3.0 * RELEASE_S, note.offset_s)
    time_s, level_db, stray_db = (
        contour.time_s[near],
        contour.level_db[near],
        contour.stray_db[near],
    )
    last = np.flatnonzero((time_s > note.offset_s - RELEASE_S) & (time_s <= note.offset_s))
    before = (time_s > note.offset_s - 3.0 * RELEASE_S) & (time_s <= note.offset_s - RELEASE_S)
    if last.size == 0 or np.count_nonzero(before) < 3:
        return note.offset_s
    fading = np.polyfit(time_s[before] - note.offset_s, level_db[before], 1)
    off_db = level_db[last] - np.polyval(fading, time_s[last] - note.offset_s)
    wobble_db = np.std(level_db[before] - np.polyval(fading, time_s[before] - note.offset_s))
    released = np.abs(off_db) > max(RELEASE_LEVEL_DB, RELEASE_WOBBLES * float(wobble_db))
    if not np.any(stray_db[before] > RELEASE_STRAY_DB):  # no second string all along
        released |= stray_db[last] > RELEASE_STRAY_DB
    steady = np.flatnonzero(~released)
    if steady.size == 0 or steady[-1] == last.size - 1:
        return note.offset_s  # a note that ends as it was
    return float(time_s[last[steady[-1]]])


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

    Where the wave is back, before any rest; a wave round its home has its head at the turn's time,
    on the level of the wave's middle.
    """
    if cycle.home is None:
        return cycle.back_s, float("nan")
    if cycle.home.place is Place.MIDDLE:
        return cycle.turn_s, float(cycle.return_cents or 0.0)
    return cycle.back_s, cents_between(cycle.end.hz, cycle.home.hz)


def wave_words(cycle: VibratoCycle, *, number: int) -> str:
    """What the picture says when a wave's head is pointed at."""
    words = f"wave {number}: {cycle.extent_cents:.0f} cents wide, bottom to top"
    if cycle.return_cents is None:
        return words
    away = round(cycle.return_cents)
    if away == 0:
        return f"{words}<br>came back to home"
    return f"{words}<br>came back {abs(away)} cents {'above' if away > 0 else 'below'} home"
