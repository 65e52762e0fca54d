"""Target pitch lines for `retuned`: a player's own waves with one thing mended, or made worse.

Each function takes a `Report` and a ``strength``: 1 mends wholly, 0.5 by half, 0 leaves the line
as it is, and -1 makes the fault twice as large, to be heard. What is not mended stays the
player's own: the shape, the small shivers, the plain note.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from labcore.errors import LabError
from labcore.model import Floats, Home, HomeSource, Place, Report, VibratoCycle
from labcore.units import cents_between, shifted_hz

LEAST_STRENGTH, MOST_STRENGTH = -3.0, 1.0
MOST_STRETCH = 4.0  # a wave is never made wider, or quicker, by more than this
SAME_TEMPO = 0.03  # clicks this near to the tempo asked are its clicks
LEAST_STEADY = 0.5  # below this concentration the average distance to the click means nothing
LEAST_WIDTH_CENTS = 3.0  # narrower waves are left alone: there is nothing to scale


def every_wave_home(report: Report, *, strength: float = 1.0) -> Floats:
    """The pitch line with each wave set down on home, as wide as it was; Hz, one a frame.

    NaN where nothing changes. The whole wave is moved, by a line drawn through where the waves
    came back to (for a home in the middle: through their centres).
    """
    _check(report, strength)
    target = _untouched(report)
    for home, cycles in _notes(report):
        if home is None:
            continue
        begin_s = _plain_end(report, cycles)
        time_s, away_cents = _away(cycles, home)
        if begin_s < cycles[0].start_s:  # the plain note before the waves stays where it is
            time_s = np.concatenate([[begin_s], time_s])
            away_cents = np.concatenate([[0.0], away_cents])
        inside, cents = _line(report, cycles, home, begin_s=begin_s)
        now_s = report.take.contour.time_s[inside]
        moved = cents - strength * np.interp(now_s, time_s, away_cents)
        target[inside] = shifted_hz(home.hz, moved)
    return _something(target, "home is not known in any note: play it plain once")


def even_width(report: Report, *, strength: float = 1.0) -> Floats:
    """The pitch line with every wave as wide as the trend of its note; Hz, NaN where unchanged.

    The trend is a straight line through the widths, so that a swell stays a swell.
    """
    _check(report, strength)
    target = _untouched(report)
    for home, cycles in _notes(report):
        if len(cycles) < 2:
            continue
        base = home or _lowest(cycles)
        inside, cents = _line(report, cycles, base, begin_s=cycles[0].start_s)
        now_s = report.take.contour.time_s[inside]
        centre = _centre(cycles, base, now_s)
        scale = _scale(cycles, now_s, strength, middle=base.place is Place.MIDDLE)
        target[inside] = shifted_hz(base.hz, centre + (cents - centre) * scale)
    return _something(target, "there are no two waves in one note")


def on_the_grid(report: Report, *, strength: float = 1.0) -> Floats:
    """The pitch line with every wave beginning on its grid line; Hz, NaN where unchanged.

    Waves that follow one another take neighbouring lines, of the note value that was played.
    The player's average distance to the click stays (it holds the recording's delay too), unless
    there is no average to speak of.
    """
    _check(report, strength)
    target = _untouched(report)
    beat_s, click_s = _beat(report)
    for stretch in report.stretches:
        if stretch.named is None or beat_s is None:
            continue
        step_s = beat_s / stretch.named
        starts = np.array([report.cycles[number].start_s for number in stretch.cycle])
        line_s = _a_line(starts, step_s, click_s=click_s, steady=stretch.concentration)
        for run in _runs([report.cycles[number] for number in stretch.cycle]):
            _set_on_lines(target, report, run, line_s, step_s, strength)
    return _something(target, "no note value was found to set the waves on")


def _beat(report: Report) -> tuple[float | None, float | None]:
    """Seconds from beat to beat, and a moment on the beat; None where not known."""
    clicks, asked = report.take.clicks, report.task.tempo_bpm
    if clicks is None or clicks.time_s.size < 2:
        return (60.0 / asked if asked else None), report.task.beat_origin_s
    heard = 60.0 / clicks.tempo_bpm
    if asked and abs(60.0 / asked / heard - 1.0) > SAME_TEMPO:
        return 60.0 / asked, report.task.beat_origin_s
    number = np.round((clicks.time_s - clicks.time_s[0]) / heard)
    step_s, first_s = np.polyfit(number, clicks.time_s, 1)
    return float(step_s), float(first_s)


def _a_line(starts: Floats, step_s: float, *, click_s: float | None, steady: float) -> float:
    """The time of one grid line: the waves' own average, or the click where they have none."""
    if click_s is not None and steady < LEAST_STEADY:
        return click_s
    angle = float(np.angle(np.mean(np.exp(2j * np.pi * starts / step_s))))
    return angle / (2.0 * np.pi) * step_s


def _runs(cycles: Sequence[VibratoCycle]) -> list[list[VibratoCycle]]:
    """Waves of one note, in order; a gap inside a note is bridged later."""
    runs: list[list[VibratoCycle]] = []
    for cycle in cycles:
        if runs and runs[-1][-1].note == cycle.note:
            runs[-1].append(cycle)
        else:
            runs.append([cycle])
    return runs


def _set_on_lines(
    target: Floats,
    report: Report,
    run: Sequence[VibratoCycle],
    line_s: float,
    step_s: float,
    strength: float,
) -> None:
    played, number = [run[0].start_s], [0]
    for cycle in run:
        for time_s in (cycle.start_s, cycle.end_s):
            if time_s - played[-1] > 0.3 * step_s:  # else it is the end of the wave before
                alone = time_s == cycle.end_s
                number.append(number[-1] + (1 if alone else round((time_s - played[-1]) / step_s)))
                played.append(time_s)
    lines = line_s + step_s * np.array(number)
    lines += step_s * round(float(np.median(np.array(played) - lines)) / step_s)
    wanted = np.array(played) + strength * (lines - np.array(played))
    if np.any(np.diff(wanted) * MOST_STRETCH < np.diff(played)):
        return  # waves that would overtake each other cannot be set in order
    contour = report.take.contour
    first_s, last_s = min(played[0], wanted[0]), max(played[-1], wanted[-1])
    inside = (contour.time_s >= first_s) & (contour.time_s <= last_s) & contour.voiced
    read_s = np.interp(contour.time_s[inside], wanted, played)
    heard_s, heard_hz = contour.time_s[contour.voiced], contour.frequency_hz[contour.voiced]
    target[inside] = np.exp(np.interp(read_s, heard_s, np.log(heard_hz)))


# --- pieces -----------------------------------------------------------------------------------


def _check(report: Report, strength: float) -> None:
    if not LEAST_STRENGTH <= strength <= MOST_STRENGTH:
        raise LabError(
            f"The strength is {strength:g}; it must lie between {LEAST_STRENGTH:g} (the fault "
            f"much larger) and {MOST_STRENGTH:g} (mended)."
        )
    if not report.cycles:
        raise LabError("There are no waves in this take, so there is nothing to mend.")


def _untouched(report: Report) -> Floats:
    return np.full(report.take.contour.time_s.size, np.nan)


def _something(target: Floats, why_not: str) -> Floats:
    if not np.any(np.isfinite(target)):
        raise LabError(f"Nothing could be mended here: {why_not}.")
    return target


def _notes(report: Report) -> list[tuple[Home | None, list[VibratoCycle]]]:
    return [
        (note.home, [report.cycles[number] for number in note.cycles])
        for note in report.notes
        if note.cycles
    ]


def _plain_end(report: Report, cycles: Sequence[VibratoCycle]) -> float:
    """Where the last plain part before the waves ends, or where they begin."""
    parts = report.take.notes[cycles[0].note].plain_parts
    ends = [part.end_s for part in parts if part.end_s < cycles[0].start_s]
    return max(ends, default=cycles[0].start_s)


def _line(
    report: Report, cycles: Sequence[VibratoCycle], home: Home, *, begin_s: float
) -> tuple[NDArray[np.bool_], Floats]:
    """Which frames belong to the waves, and their pitch in cents above home.

    The note's ringing on after its last wave belongs to it, so that no jump is made there.
    """
    contour, note = report.take.contour, report.take.notes[cycles[0].note]
    inside = (contour.time_s >= begin_s) & (contour.time_s < note.offset_s)
    inside &= contour.voiced
    return inside, cents_between(contour.frequency_hz[inside], home.hz)


def _away(cycles: Sequence[VibratoCycle], home: Home) -> tuple[Floats, Floats]:
    """Moments, and how far above home the waves lie there."""
    if home.place is Place.MIDDLE:
        pairs = [(cycle.turn_s, cycle.return_cents or 0.0) for cycle in cycles]
    else:
        turns = {t.time_s: t.hz for cycle in cycles for t in (cycle.start, cycle.end)}
        pairs = [(time_s, cents_between(hz, home.hz)) for time_s, hz in sorted(turns.items())]
    time_s, cents = np.array(pairs).T
    return time_s, cents


def _lowest(cycles: Sequence[VibratoCycle]) -> Home:
    """Something to count cents from where home is not known."""
    hz = min(cycle.start.hz for cycle in cycles)
    return Home(hz, 0.0, Place.UNKNOWN, HomeSource.WAVES)


def _centre(cycles: Sequence[VibratoCycle], home: Home, now_s: Floats) -> Floats:
    """The line the widths are scaled around: through the waves' ends, or through their middles."""
    if home.place is not Place.MIDDLE:
        return np.interp(now_s, *_away(cycles, home))
    middles = [
        (cents_between(c.turn.hz, home.hz) * 2 + _ends_cents(c, home.hz)) / 4 for c in cycles
    ]
    return np.interp(now_s, [cycle.turn_s for cycle in cycles], middles)


def _ends_cents(cycle: VibratoCycle, hz: float) -> float:
    return cents_between(cycle.start.hz, hz) + cents_between(cycle.end.hz, hz)


def _scale(
    cycles: Sequence[VibratoCycle], now_s: Floats, strength: float, *, middle: bool
) -> Floats:
    """How much wider the line is made at each moment."""
    turn_s = np.array([cycle.turn_s for cycle in cycles])
    width = np.maximum([cycle.extent_cents for cycle in cycles], LEAST_WIDTH_CENTS)
    slope = np.polyfit(turn_s, width, 1) if len(cycles) >= 4 else np.array([np.mean(width)])
    trend = np.maximum(np.polyval(slope, turn_s), LEAST_WIDTH_CENTS)
    factor = np.clip((trend / width) ** strength, 1.0 / MOST_STRETCH, MOST_STRETCH)
    if middle:
        return np.interp(now_s, turn_s, factor)
    return _stepped(cycles, now_s, factor)


def _stepped(cycles: Sequence[VibratoCycle], now_s: Floats, factor: Floats) -> Floats:
    """One factor a wave; it may jump at the ends of waves, where the line crosses its base."""
    scale = np.ones(now_s.size)
    for cycle, value in zip(cycles, factor, strict=True):
        scale[(now_s >= cycle.start_s) & (now_s < cycle.end_s)] = value
    return scale
