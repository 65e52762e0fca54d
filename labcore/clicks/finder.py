"""From what stands out to a click track, or to None."""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from labcore.beats import beat_s, check_tempo
from labcore.clicks.align import MOST_BEATS, Aligned, aligned
from labcore.clicks.bursts import Bursts, bursts, rings_on
from labcore.clicks.comb import LEAST_PERIOD_S, Gains, Guess, best_run, gains, guesses, near_guess
from labcore.clicks.fold import adds_sound, heard_again, is_every_second
from labcore.model import ClickSource, ClickTrack, Floats, Recording

# Long takes are heard in windows that overlap, so that memory stays bounded and a clock that
# runs a little off is followed.
WINDOW_S, WINDOW_STEP_S, WHOLE_S = 24.0, 20.0, 30.0

ROUNDS = 2
FLAT_FRAMES = 7
CLEAR_DB = 6.0
LEAST_CLICKS = 4  # a count-in of one bar
SAME_GUESS = 0.01  # of a period
TRIED = 4  # the best guesses that are looked at closely
# All below were set on made takes (tests/test_clicks.py says which); no source.
LEAST_SCORE_DB = 24.0
MOST_SPREAD_S = 0.002  # a machine; players re-plucking to a click scatter by 5 to 20 ms
LEAST_NEAR = 0.7
LEAST_LIKENESS = 0.5
LEAST_PRESENT = 0.7  # of the beats of a run that no pluck hides
MANY_CLICKS = 12
EXACT_SPREAD_S, EXACT_NEAR, LEAST_IF_EXACT = 0.001, 0.85, 0.45
SWUNG_LEAST, SWUNG_MOST = 0.2, 0.8  # of a class of beats that sound
WELL_HEARD_DB = 4.0
LEAST_END = 0.5  # of the usual gain: where faint clicks are heard again, ends may be chance
MOST_HOLE = 3  # beats that are taken to sound unheard, between two that are heard
MOST_HIDDEN, HIDDEN_IF_MANY = 0.34, 0.5  # of the beats of a run
MOST_CHANGE = 0.05  # of a guessed period
FEW_CLICKS, FEW_LIKENESS = 12, 0.75
AGREED_CLICKS, AGREED_NEAR = 24, 0.95  # by chance one in three lies as near, a player's one in two
MOST_STRAY = 0.34  # strong short sounds off the series, per click of it
STRAY_SHARE, STRAY_S = 0.6, 0.025
SAME_PERIOD, SAME_TIME_S = 0.003, 0.015  # what one window's series may differ from its neighbour's


@dataclass(frozen=True, slots=True, eq=False)
class _Series:
    """An even series that was believed."""

    score: float
    line: Aligned
    beats: NDArray[np.intp]
    start_s: float  # of the window it was heard in
    is_plucked: bool  # as even as a machine, but of notes
    is_clear: bool  # heard well, click by click

    @property
    def time_s(self) -> Floats:
        return np.asarray(self.start_s + self.line.first_s + self.line.period_s * self.beats)


@dataclass(frozen=True, slots=True, eq=False)
class _Window:
    """A part of the sound that is listened to at once."""

    samples: NDArray[np.float32]
    rate_hz: float
    start_s: float


@dataclass(frozen=True, slots=True, eq=False)
class _Try:
    """A guess, and how the sound was listened to for it."""

    guess: Guess
    found: Gains
    heard: Bursts


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """The beats of a run, where the frames see them, and which sound or are hidden by a pluck."""

    beats: NDArray[np.intp]
    frames: NDArray[np.intp]
    gain_db: Floats

    @property
    def sounding(self) -> NDArray[np.bool_]:
        return np.asarray(self.gain_db > 0.0)

    @property
    def hidden(self) -> NDArray[np.bool_]:
        return np.asarray(self.gain_db == 0.0)


def find_clicks(recording: Recording, *, tempo_bpm: float | None = None) -> ClickTrack | None:
    """The metronome heard in a recording; None if there is no even series of short sounds.

    At least four clicks at 40 to 240 a minute, of any sound, also under a note, also only as a
    count-in before the first note; their tempo is what sounds, be it beats or eighths
    (`tempo_candidates`). A click that falls on a pluck is placed by its neighbours; one under the
    first pluck, with none before it, is not claimed. The times are those of the even series, the
    beginning of each click. 30 dB under the playing most are found (60 of 62 made takes), fewer
    where one wave falls on each click (111 of 146), which is then as regular as the clicks.

    Parameters
    ----------
    tempo_bpm : float, optional
        A tempo to try first; any other is found as well.

    Raises
    ------
    LabError
        If ``tempo_bpm`` is no tempo.
    """
    hints: tuple[float, ...] = ()
    if tempo_bpm is not None:
        check_tempo(tempo_bpm)
        hints = (beat_s(tempo_bpm), beat_s(tempo_bpm) / 2.0)
    found = [
        _in_window(samples, start_s=start_s, rate_hz=recording.sample_rate_hz, hints=hints)
        for start_s, samples in _windows(recording)
    ]
    parts = _one_metronome(found)
    if not parts:
        return None
    time_s = np.concatenate([part.time_s for part in parts])
    time_s = _without_twins(np.sort(time_s), apart_s=parts[0].line.period_s / 2.0)
    spread_s = float(np.median([part.line.spread_s for part in parts]))
    return ClickTrack(time_s, ClickSource.HEARD, spread_s)


def _windows(recording: Recording) -> list[tuple[float, NDArray[np.float32]]]:
    """Starts and samples of the windows; views, no copies."""
    if recording.duration_s <= WHOLE_S:
        return [(0.0, recording.samples)]
    rate_hz = recording.sample_rate_hz
    starts = np.arange(0.0, recording.duration_s - (WINDOW_S - WINDOW_STEP_S), WINDOW_STEP_S)
    return [
        (first / rate_hz, recording.samples[first : first + round(WINDOW_S * rate_hz)])
        for first in (round(start * rate_hz) for start in starts)
    ]


def _in_window(
    samples: NDArray[np.float32], *, start_s: float, rate_hz: float, hints: tuple[float, ...]
) -> _Series | None:
    """The best believable series of one window."""
    window = _Window(samples, rate_hz, start_s)
    heard = bursts(samples, sample_rate_hz=rate_hz)
    found = gains(heard)
    ranked = _distinct(guesses(found, periods_s=hints))[:TRIED]
    series = _first_believed([_Try(guess, found, heard) for guess in ranked], window)
    if series is None or not (series.is_plucked or series.is_clear):
        series = _heard_again(ranked, found, heard, window)
    return None if series is None or series.is_plucked else series


def _heard_again(
    ranked: list[Guess], found: Gains, heard: Bursts, window: _Window
) -> _Series | None:
    """The best series of clicks too faint to be told one by one, by what they have in common.

    Every second click of a series is a series too: it is not believed where the finer one, with
    more to speak for it, was not.
    """
    tries = []
    periods = _periods_again(ranked, heard)
    for period, shared in heard_again(heard, found=found, periods=periods):
        again = gains(shared)
        tries.append(_Try(near_guess(again, period=period), again, shared))
    tries.sort(key=lambda one: -one.guess.score)
    guessed = [*ranked, *(one.guess for one in tries)]
    return _first_believed([one for one in tries if not _is_part(one.guess, guessed)], window)


def _first_believed(tries: list[_Try], window: _Window) -> _Series | None:
    for one in tries:
        if one.guess.score < LEAST_SCORE_DB or one.found.events.size < LEAST_CLICKS:
            return None
        series = _believed(one.guess, one.found, one.heard, window)
        if series is not None:
            return series
    return None


def _is_part(guess: Guess, others: list[Guess]) -> bool:
    """True if a better guess has two, three ... beats where this one has one."""
    times = [guess.period / other.period for other in others if other.score > guess.score]
    return any(round(n) >= 2 and abs(n / round(n) - 1.0) <= SAME_GUESS for n in times)


def _periods_again(ranked: list[Guess], heard: Bursts) -> list[float]:
    """The periods of the guesses, and a half and a quarter: of faint clicks some are missed."""
    periods: list[float] = []
    for guess in ranked:
        for part in (1, 2, 4):
            period = guess.period / part
            known = any(abs(period / other - 1.0) <= SAME_GUESS for other in periods)
            if not known and period * heard.step_s >= LEAST_PERIOD_S:
                periods.append(period)
    return periods


def _distinct(ranked: list[Guess]) -> list[Guess]:
    """Without those of nearly the same period as a better one."""
    kept: list[Guess] = []
    for guess in ranked:
        if all(abs(guess.period / other.period - 1.0) > SAME_GUESS for other in kept):
            kept.append(guess)
    return kept


def _believed(guess: Guess, found: Gains, heard: Bursts, window: _Window) -> _Series | None:
    """The series behind a guess, placed exactly, if it is even, like itself and alone."""
    refined = _refined(guess, found, heard, samples=window.samples, rate_hz=window.rate_hz)
    if refined is None:
        return None
    run, line = refined
    is_clear = bool(np.median(run.gain_db[run.sounding]) >= WELL_HEARD_DB)
    clicks = int(run.sounding.sum())
    whole = _is_whole(run, line) and _is_even(line, clicks=clicks, is_clear=is_clear)
    alone = _strays(run, found, heard) <= MOST_STRAY * clicks
    if not whole or not alone or not adds_sound(heard, frames=run.frames[run.sounding]):
        return None
    is_plucked = rings_on(heard, frames=run.frames[run.sounding | run.hidden])
    beats = _kept_beats(run, least_end=0.0 if heard.ear is None else LEAST_END)
    series = _Series(guess.score, line, beats, window.start_s, is_plucked, is_clear)
    halved = is_every_second(heard, found=found, frames=run.frames)
    return _twice_as_fast(series) if halved else series


def _twice_as_fast(series: _Series) -> _Series:
    """The same clicks and those half way between two that follow each other."""
    beats = series.beats
    between = 2 * beats[:-1][np.diff(beats) == 1] + 1
    return replace(
        series,
        line=replace(series.line, period_s=series.line.period_s / 2.0),
        beats=np.sort(np.concatenate([2 * beats, between])),
    )


def _refined(
    guess: Guess,
    found: Gains,
    heard: Bursts,
    *,
    samples: NDArray[np.float32],
    rate_hz: float,
) -> tuple[_Run, Aligned] | None:
    """The run of beats behind a guess, and the exact line through it."""
    period_s, phase_s = _on_top(guess, found, heard)
    refined = None
    for _ in range(ROUNDS):  # the second with the exact period, which reaches further
        run = _run(found, period_s=period_s, phase_s=phase_s)
        line = _placed(run, heard, samples=samples, rate_hz=rate_hz)
        if line is None or abs(line.period_s / period_s - 1.0) > MOST_CHANGE:
            return None
        refined = run, line
        # Frames see a click a little after it begins: what they see keeps its distance.
        seen_s = run.frames[run.sounding] * found.step_s
        begun_s = line.first_s + line.period_s * run.beats[run.sounding]
        period_s, phase_s = line.period_s, line.first_s + float(np.median(seen_s - begun_s))
    return refined


def _on_top(guess: Guess, found: Gains, heard: Bursts) -> tuple[float, float]:
    """Period and phase of a guess in seconds, on the middles of its clearest clicks.

    Gains are capped, and so flat on top of a loud click: a guess may lie beside its middle.
    """
    period_s, phase_s = guess.period * found.step_s, guess.phase * found.step_s
    run = _run(found, period_s=period_s, phase_s=phase_s)
    clear = heard.all[run.frames] >= CLEAR_DB
    if clear.sum() < LEAST_CLICKS:
        return period_s, phase_s
    at = run.frames[clear][:, None] + np.arange(-FLAT_FRAMES, FLAT_FRAMES + 1)
    level = np.where((at >= 0) & (at < heard.all.size), heard.all[at % heard.all.size], 0.0)
    level = np.where(level >= level.max(axis=1, keepdims=True) / 2.0, level, 0.0)
    middle_s = (at * level).sum(axis=1) / level.sum(axis=1) * found.step_s
    line = np.polyfit(run.beats[clear], middle_s, 1)
    off_s = np.abs(middle_s - np.polyval(line, run.beats[clear]))
    return (line[0], line[1]) if np.median(off_s) < found.step_s else (period_s, phase_s)


def _run(found: Gains, *, period_s: float, phase_s: float) -> _Run:
    """The best run of the beats at this period and phase."""
    period, phase = period_s / found.step_s, phase_s / found.step_s
    first = int(np.ceil(-phase / period))
    last = int(np.floor((found.gain_db.size - 1 - phase) / period))
    beats = np.arange(first, last + 1)
    frames = np.clip(np.rint(phase + beats * period).astype(int), 0, found.gain_db.size - 1)
    start, end = best_run(found.gain_db[frames])
    chosen = slice(start, end + 1)
    return _Run(beats[chosen], frames[chosen], found.gain_db[frames[chosen]])


def _placed(
    run: _Run, heard: Bursts, *, samples: NDArray[np.float32], rate_hz: float
) -> Aligned | None:
    """The exact series through the clearest clicks of a run; None if they are too few."""
    if run.sounding.sum() < LEAST_CLICKS:
        return None
    clearest = np.sort(
        np.argsort(-run.gain_db, kind="stable")[: min(MOST_BEATS, run.sounding.sum())]
    )
    return aligned(
        samples,
        sample_rate_hz=rate_hz,
        heard=heard,
        beats=run.beats[clearest],
        frames=run.frames[clearest],
    )


def _is_whole(run: _Run, line: Aligned) -> bool:
    """True if enough beats of the run sound, and those that do not follow no pattern.

    The exacter the clicks agree, the more of them may be lost under the playing.
    """
    sounding = int(run.sounding.sum())
    exact = line.spread_s <= EXACT_SPREAD_S and line.near_share >= EXACT_NEAR
    many = sounding >= MANY_CLICKS
    least = LEAST_IF_EXACT if exact and many else LEAST_PRESENT
    expected = ~run.hidden & ~_is_in_long_hole(run)
    return (
        sounding >= least * int(expected.sum())
        and int(run.hidden.sum()) <= (HIDDEN_IF_MANY if many else MOST_HIDDEN) * run.beats.size
        and np.median(np.diff(run.beats[run.sounding | run.hidden])) == 1.0
        and not _is_swung(run)
    )


def _is_swung(run: _Run) -> bool:
    """True if every second or third beat is missing: long-short clicks on a finer grid."""
    counted = ~run.hidden
    for count in (2, 3):
        shares = [
            float(np.mean(run.sounding[chosen]))
            for first in range(count)
            if (chosen := counted & (run.beats % count == first)).any()
        ]
        if min(shares) < SWUNG_LEAST and max(shares) > SWUNG_MOST:
            return True
    return False


def _kept_beats(run: _Run, *, least_end: float) -> NDArray[np.intp]:
    """The beats that sound or that a note hides, from the first that is no chance to the last.

    A click that is heard well where it is heard is really missing elsewhere; one that is barely
    heard is taken to go on through short holes.
    """
    usual_db = float(np.median(run.gain_db[run.sounding]))
    clear = np.flatnonzero(run.gain_db >= least_end * usual_db)
    kept = run.sounding | run.hidden if usual_db >= WELL_HEARD_DB else ~_is_in_long_hole(run)
    inside = slice(clear[0], clear[-1] + 1)
    return run.beats[inside][kept[inside]]


def _is_in_long_hole(run: _Run) -> NDArray[np.bool_]:
    """Which beats lie in a stretch of more than `MOST_HOLE` without a click: it was off."""
    sure = run.beats[run.sounding | run.hidden]
    before = sure[np.clip(np.searchsorted(sure, run.beats, side="right") - 1, 0, sure.size - 1)]
    after = sure[np.clip(np.searchsorted(sure, run.beats), 0, sure.size - 1)]
    return np.asarray(after - before > MOST_HOLE + 1)


def _is_even(line: Aligned, *, clicks: int, is_clear: bool) -> bool:
    """True if the clicks are as even and as like each other as a machine's.

    Few clicks, and faint ones, must agree better: chance makes less of many.
    """
    few = clicks < FEW_CLICKS
    beyond_chance = clicks >= AGREED_CLICKS and line.near_share >= AGREED_NEAR
    loosely = beyond_chance or (is_clear and not few)
    return (
        line.near_share >= LEAST_NEAR
        and line.spread_s <= (MOST_SPREAD_S if loosely else EXACT_SPREAD_S)
        and line.likeness >= (FEW_LIKENESS if few else LEAST_LIKENESS)
    )


def _strays(run: _Run, found: Gains, heard: Bursts) -> int:
    """How many short sounds as strong as the clicks lie beside the series, within its run."""
    strong = STRAY_SHARE * float(np.median(heard.all[run.frames[run.sounding]]))
    inside = found.events[(found.events > run.frames[0]) & (found.events < run.frames[-1])]
    inside = inside[heard.all[inside] >= strong]
    distance = np.abs(inside[:, None] - run.frames).min(axis=1, initial=heard.all.size)
    return int(np.sum(distance * found.step_s > STRAY_S))


def _one_metronome(found: list[_Series | None]) -> list[_Series]:
    """The windows' series that carry on the best one, in order of time."""
    heard = [series for series in found if series is not None]
    if not heard:
        return []
    best = heard.index(max(heard, key=lambda series: series.score))
    kept = [heard[best]]
    for series in heard[best + 1 :]:
        if _carries_on(kept[-1], series):
            kept.append(series)
    for series in heard[:best][::-1]:
        if _carries_on(kept[0], series):
            kept.insert(0, series)
    return kept


def _carries_on(one: _Series, other: _Series) -> bool:
    if abs(one.line.period_s / other.line.period_s - 1.0) > SAME_PERIOD:
        return False
    near, far = (one.time_s[-1], other.time_s[0])
    if far < one.time_s[0]:
        near, far = one.time_s[0], other.time_s[-1]
    off = (far - near) / one.line.period_s
    return bool(abs(off - round(off)) * one.line.period_s < SAME_TIME_S)


def _without_twins(time_s: Floats, *, apart_s: float) -> Floats:
    """Where windows overlap a click was heard twice; the first stands."""
    kept = [True, *(later - earlier > apart_s for earlier, later in pairwise(time_s))]
    return np.asarray(time_s[np.array(kept)])
