"""Ladders of which it is known where the note value changes and how long the change takes."""

from collections.abc import Sequence

import numpy as np

from labcore.beats import beat_s
from labcore.model import Floats, Task
from labcore.synthesis import NoteDescription, TakeDescription, click_times, varied, waves

TEMPO_BPM = 72.0
BEAT_S = beat_s(TEMPO_BPM)
BEATS_A_BAR, PLAIN_BEATS = 4, 1
BAR_S = BEATS_A_BAR * BEAT_S
FIRST_S = BAR_S + 0.3  # a count-in of one bar
NOTE_HZ = 329.6276  # MIDI Tuning Standard, note 64
WIDTHS = {
    1: 60.0,
    2: 60.0,
    3: 52.0,
    4: 44.0,
    5: 37.0,
    6: 31.0,
}  # narrower where faster, as hands do
JITTER_S = 0.006  # one sigma of a moment, about what listeners just notice
ASK = Task(tempo_bpm=TEMPO_BPM)


def plain_ladder(values: Sequence[int]) -> list[Floats]:
    """Bar by bar the moments (beats after beat 1) of waves that change at once."""
    return [_grid(value, first=float(PLAIN_BEATS), last=float(BEATS_A_BAR)) for value in values]


def _grid(value: int, *, first: float, last: float) -> Floats:
    return np.linspace(first, last, round((last - first) * value) + 1)


def late(values: Sequence[int], *, beats: int) -> list[Floats]:
    """The same, but after each change the old value goes on for some beats."""
    bars = []
    for place, value in enumerate(values):
        old = values[place - 1] if place else value
        lag = beats if value != old else 0
        middle = PLAIN_BEATS + float(lag)
        before = _grid(old, first=float(PLAIN_BEATS), last=middle)
        after = _grid(value, first=middle, last=float(BEATS_A_BAR))
        bars.append(np.concatenate([before[:-1], after]))
    return bars


def lost(values: Sequence[int], *, lengths: Sequence[float]) -> list[Floats]:
    """The same, but the first waves after each change have lengths of their own.

    ``lengths`` are in waves of the new value; they end on its grid again.
    """
    bars = []
    for place, value in enumerate(values):
        moments = _grid(value, first=float(PLAIN_BEATS), last=float(BEATS_A_BAR))
        if place and value != values[place - 1]:
            taken = round(sum(lengths))
            own = moments[0] + np.cumsum([0.0, *lengths]) / value
            moments = np.concatenate([own, moments[taken + 1 :]])
        bars.append(moments)
    return bars


def waves_until_there(moments: Floats, *, value: int, within_s: float) -> int:
    """By the definition: waves before three in a row lie near neighbouring lines of the bar."""
    line = np.round((moments - PLAIN_BEATS) * value)
    near = np.abs(moments - PLAIN_BEATS - line / value) * BEAT_S <= within_s
    follows = near[:-1] & near[1:] & (np.diff(line) == 1)
    return next(k for k in range(near.size) if follows[k : k + 2].all())


def sliding(first: float, last: float, *, bars: int) -> list[Floats]:
    """Bars in which the speed slides from one number of waves to the click to another."""
    played = bars * (BEATS_A_BAR - PLAIN_BEATS)
    found = []
    for bar in range(bars):
        begin = bar * (BEATS_A_BAR - PLAIN_BEATS)
        fine = np.linspace(0.0, BEATS_A_BAR - PLAIN_BEATS, 2001)
        speed = first + (last - first) * (begin + fine) / played
        count = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2.0 * np.diff(fine))])
        found.append(PLAIN_BEATS + np.interp(np.arange(int(count[-1]) + 1), count, fine))
    return found


def in_one_note(values: Sequence[int], *, beats_each: int) -> list[Floats]:
    """One long note: a plain beat, then each value for some beats, without a gap."""
    moments = [float(PLAIN_BEATS)]
    for value in values:
        moments += list(_grid(value, first=moments[-1], last=moments[-1] + beats_each)[1:])
    return [np.array(moments)]


def take_of(
    bars: Sequence[Floats],
    *,
    seed: int = 1,
    jitter_s: float = JITTER_S,
    early_s: float = 0.015,
    width_spread_percent: float = 5.0,
    bar_s: float = BAR_S,
    name: str = "ladder",
) -> TakeDescription:
    """A take of such bars, one pluck a bar, played by a person a little before the click."""
    rng = np.random.default_rng(seed)
    notes = []
    for place, moments in enumerate(bars):
        times = moments * BEAT_S + np.clip(rng.normal(size=moments.size), -2.2, 2.2) * jitter_s
        lengths = np.diff(moments)
        width = np.array([WIDTHS[int(np.clip(round(1.0 / x), 1, 6))] for x in lengths])
        spread = varied(width, count=width.size, spread_percent=width_spread_percent, rng=rng)
        knots = waves(width.size, cycle_times_s=np.maximum(times, 0.0), extent_cents=spread)
        onset_s = round(FIRST_S - early_s + place * bar_s, 6)
        longest_s = max(bar_s, knots[-1][0] + 0.3) if len(bars) == 1 else bar_s
        notes.append(NoteDescription(onset_s, longest_s - 1e-6, NOTE_HZ, knots=knots, decay_s=3.0))
    duration_s = notes[-1].offset_s + 0.2
    clicks = click_times(TEMPO_BPM, beats=int((duration_s - 0.4) / BEAT_S), first_s=0.3)
    return TakeDescription(name, duration_s, tuple(notes), click_s=clicks, noise_db=-70.0)
