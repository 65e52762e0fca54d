"""From a note's pitch to its turning points, and from turning points to vibrato cycles.

Turning points are found knowing no tempo and no home; cycles are paired afterwards, from low to
low, or from high to high where home is on top. A turning point is the vertex of a curve fitted
around it: a parabola leans when the two halves of a wave differ in length, and the largest sample
is noisy.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike

from labcore.model import (
    Dropped,
    Floats,
    Home,
    HomeSource,
    Note,
    PitchContour,
    Place,
    Turn,
    TurnKind,
    VibratoCycle,
)
from labcore.units import cents_between, shifted_hz

LEAST_LEG_CENTS = 4.0  # a smaller turn is not told from the wobble of the string itself
LEG_ERRORS = 5.0  # nor is one of fewer standard errors of the contour there
LEAST_LEG_SHARE = 0.25  # of the legs around it: a smaller one is a shiver on the way
NEIGHBOURS = 4  # legs on either side that a leg is compared with
HOLE_S = 0.06  # a longer hole in the contour parts the waves on its two sides
AFTER_PLUCK_S = 0.06  # the attack is not for grading ...
BEFORE_END_S = 0.02  # ... nor the last moment, when the damped string has no one pitch
# The damping begins up to 30 ms before the next pluck, and the contour sees it 25 ms ahead: what
# turns here may be the damping's own, so only the leg that led here is believed.
DAMPING_S = 0.06
VERTEX_SHARE = 0.20  # of the cycle on either side of a turning point goes into its fit
VERTEX_LEG_SHARE = 0.45  # but never more than this of the shorter leg
# Newton's steps to the vertex, in units of the reach: how many, how far, how boldly, how exactly.
VERTEX_ROUNDS, VERTEX_MOVE, VERTEX_CALM, VERTEX_DONE = 6, 0.5, 0.8, 1e-4
LEAST_FOR_FOURTH = 7  # frames that a fourth-order term needs beside the others
LEAST_PAUSE_S = 0.30  # a rest at home as long as this, and longer than the wave, is a plain part
PAUSE_WAVES = 1.2
# Unless so many steps or more from far turn to far turn differ by less than this: a rest between
# two groups of waves makes one step 2.2 times as long as the others, or longer (arithmetic).
LEAST_RHYTHM, RHYTHM_RATIO, RHYTHM_SHARE = 2, 1.6, 0.6  # ... and more than this share of them
RESTING = 2.0  # times as long as a round turn is flat: a short rest within the wave
FLAT_SHARE = 0.10  # of a leg: how far a rest may wander and still be a rest
FLAT_CENTS = 3.0
STILL_FRAMES, STILL_SHARE = 5, 0.12  # a leg that moves more than this at the very end goes on
LANDING_S = 0.06  # the level of an edge is read over this stretch of the rest beside it
EDGE_ROUNDS, EDGE_DONE_CENTS = 12, 1.0  # until the level of a rest that creeps is found
# A leg may be held on its way for this long, and this share of it away from the turn.
HELD_S, HELD_AWAY_SHARE = 0.2, 0.2
PAUSING_LEG = 1.2  # a leg this many times as long as its moving part pauses on the way

LEAST_EXTENT_CENTS = 7.0
MOST_EXTENT_CENTS = 300.0
LEAST_CYCLE_S = 1 / 11.0  # vibrato runs at 1.5 to 9 a second; a margin above, and below it
MOST_CYCLE_S = 1 / 0.7  # down to one slow wave to the click, the first rung of the ladder
MOST_TILT = 0.6  # of the extent: how far the two ends of a wave may lie apart
MOST_TILT_CENTS = 15.0
AT_HOME_SHARE = 0.5  # of a wave round home: an end this near to home is home, not a far side
HALF_WAVE = "it only leaves home or comes back to it"
AT_HOME_CENTS = 10.0  # a wave that sets out from home, or lands there, may be tilted all the same
ODD_LENGTH = 3.0  # a wave this many times longer or shorter than its neighbours is no wave
# One far longer than its neighbours holds two where the smaller could not be seen: on the slope of
# a first wave that leaves home for good, or in noise that hides more than this share of a wave.
HOLDS_TWO, HIDING_SHARE = 1.5, 0.6
LEAST_VOICED = 0.9


# --- turning points ----------------------------------------------------------------------------


def find_turns(contour: PitchContour, *, start_s: float, end_s: float) -> tuple[Turn, ...]:
    """Turning points of the pitch between two times, ascending; empty where the note is plain."""
    turns: list[Turn] = []
    start_s, end_s = start_s + AFTER_PLUCK_S, end_s - BEFORE_END_S
    for first, last in _pieces(contour, start_s=start_s, end_s=end_s):
        turns.extend(_Piece(contour, first, last).turns(damping_s=end_s + BEFORE_END_S - DAMPING_S))
    widest = max((abs(cents_between(b.hz, a.hz)) for a, b in pairwise(turns)), default=0.0)
    return tuple(turns) if widest >= LEAST_EXTENT_CENTS else ()


def _pieces(contour: PitchContour, *, start_s: float, end_s: float) -> Iterator[tuple[int, int]]:
    frames = contour.voiced_frames(start_s, end_s)
    if frames.size == 0:
        return
    breaks = np.flatnonzero(np.diff(frames) * contour.step_s > HOLE_S)
    edges = [-1, *breaks.tolist(), frames.size - 1]
    for before, last in pairwise(edges):
        if last - before >= 8:
            yield int(frames[before + 1]), int(frames[last])


class _Piece:
    """An unbroken stretch of one note's contour, in cents around its own middle."""

    def __init__(self, contour: PitchContour, first: int, last: int) -> None:
        view = slice(first, last + 1)
        time_s, hz = contour.time_s[view], contour.frequency_hz[view]
        held = np.isfinite(hz)
        self.reference_hz = float(np.median(hz[held]))
        self.time_s: Floats = time_s
        self.cents: Floats = np.interp(
            time_s, time_s[held], cents_between(hz[held], self.reference_hz)
        )
        self.error: Floats = np.interp(time_s, time_s[held], contour.error_cents[view][held])
        self.ends_turning = False  # whether the piece was cut at a turn

    def turns(self, *, damping_s: float) -> list[Turn]:
        """Turning points of the piece; after ``damping_s`` none but the end of a leg."""
        least = np.maximum(LEAST_LEG_CENTS, LEG_ERRORS * self.error)
        extremes = self._until_damped(zigzag(self.cents, least=least), damping_s=damping_s)
        extremes = without_shivers(extremes, self.cents)
        if len(extremes) < 2:
            return []
        turns: list[Turn] = self._edge(extremes[1], extremes[0])
        inner = list(zip(extremes, extremes[1:], extremes[2:], strict=False))
        steps_s = [self._usual_step_s(extremes[2:-1:2]), self._usual_step_s(extremes[1:-1:2])]
        for place, (before, here, after) in enumerate(inner):
            outermost = place in (0, len(inner) - 1)
            longest_s = min(MOST_CYCLE_S, RHYTHM_RATIO * steps_s[place % 2])
            even = bool(self.time_s[after] - self.time_s[before] <= longest_s)
            turns.extend(self._inner(before, here, after, outermost=outermost, even=even))
        turns.extend(self._edge(extremes[-2], extremes[-1]))
        return turns

    def _until_damped(self, extremes: list[int], *, damping_s: float) -> list[int]:
        """Without what turns after ``damping_s``, but for the end of a leg like those before it.

        A leg that was at rest by then ends there, whatever the pitch does while it is damped.
        """
        sure = int(np.count_nonzero(self.time_s[extremes] < damping_s))
        kept = extremes[: sure + 1]
        if sure == 0 or len(kept) == sure:
            return kept
        legs = np.abs(np.diff(self.cents[kept]))
        frame = int(np.searchsorted(self.time_s, damping_s))
        if legs.size > 1 and legs[-1] < LEAST_LEG_SHARE * np.median(legs[-1 - NEIGHBOURS : -1]):
            self._end_at(frame)
            return kept[:-1]
        before = self.cents[max(frame - STILL_FRAMES, kept[-2])]
        if abs(self.cents[frame] - before) <= STILL_SHARE * legs[-1] + FLAT_CENTS / 2.0:
            self._end_at(frame)
            away = np.abs(self.cents[kept[-2] :] - self.cents[kept[-2]])
            return [*kept[:-1], kept[-2] + int(np.argmax(away))]
        self.ends_turning = len(extremes) > len(kept)
        self._end_at(kept[-1])
        return kept

    def _end_at(self, last: int) -> None:
        view = slice(0, last + 1)
        self.time_s, self.cents, self.error = self.time_s[view], self.cents[view], self.error[view]

    def _usual_step_s(self, turns: list[int]) -> float:
        """Seconds from turn to turn where most follow each other as waves do, else 0.

        The lower quartile, so that a push that was left out spoils its own step only.
        """
        steps = np.diff(self.time_s[turns])
        if steps.size < LEAST_RHYTHM:
            return 0.0
        usual_s = float(np.percentile(steps, 25.0, method="lower"))
        alike = steps <= min(MOST_CYCLE_S, RHYTHM_RATIO * usual_s)
        return usual_s if np.mean(alike) > RHYTHM_SHARE else 0.0

    def _inner(
        self, before: int, here: int, after: int, *, outermost: bool, even: bool
    ) -> list[Turn]:
        """The turn at ``here``; two of them when the player rests there for a while.

        A rest at the outermost turn lies before the waves, where the player pushed up to the note
        say, or after them: however slow they are, it is no part of one. Other rests are, where the
        turns on their far sides come evenly: one push to the click leaves time to rest at home.
        """
        left, right = self._rest(before, here), self._rest(after, here)
        pause_s = right - left
        wave_s = self.time_s[after] - self.time_s[before] - pause_s
        round_s = self._round_s(before, here) + self._round_s(after, here)
        rests = pause_s > RESTING * round_s
        between = pause_s >= PAUSE_WAVES * wave_s and not even
        if pause_s >= LEAST_PAUSE_S and (between or (rests and outermost)):
            return self._edge(before, here) + self._edge(after, here)
        if rests:
            high = bool(self.cents[here] > self.cents[before])
            return [self._resting(left, right, here, high, rest_s=pause_s - round_s)]
        # A leg is twice the way to its middle: a rest at its far end does not lengthen it.
        legs_s = [
            2.0 * abs(self.time_s[here] - self._crossing_s(here, far)) for far in (before, after)
        ]
        reach_s = min(VERTEX_SHARE * sum(legs_s), VERTEX_LEG_SHARE * min(legs_s))
        time_s, cents = vertex(self.time_s, self.cents, here, reach_s=reach_s)
        return [self._turn(time_s, cents, here, self.cents[here] > self.cents[before])]

    def _resting(
        self, left_s: float, right_s: float, here: int, high: bool, *, rest_s: float
    ) -> Turn:
        """The middle of a short rest: where in it the pitch is lowest is chance."""
        level = np.median(self.cents[(self.time_s >= left_s) & (self.time_s <= right_s)])
        return self._turn((left_s + right_s) / 2.0, float(level), here, high, rest_s=rest_s)

    def _round_s(self, far: int, here: int) -> float:
        """How long a half cosine from ``far`` would be as good as at rest when it arrives.

        It takes a third of its time from one quarter of its way to three, which a rest at either
        of its ends does not lengthen.
        """
        first_s, last_s = (self._crossing_s(far, here, share=share) for share in (0.25, 0.75))
        leg_s = 3.0 * abs(last_s - first_s)
        return float(leg_s * self._flat_share(abs(self.cents[far] - self.cents[here])))

    def _edge(self, turn: int, rest: int) -> list[Turn]:
        """Where a wave leaves its rest or lands on it, ``rest`` being the far end of the leg.

        A rest has no vertex. The leg is taken to be as steep after its middle as before, so it
        meets the rest as far from its middle as its turn does on the other side. A rest that
        creeps to its pitch has no one level: the level beside the edge is asked until it stays.
        """
        if self._still_moving(turn, rest):
            return []
        high = bool(self.cents[rest] > self.cents[turn])
        cents = self._first_held(turn, rest)
        for _ in range(EDGE_ROUNDS):
            edge_s = self._edge_s(turn, rest, rest_cents=cents)
            level = self._level_beside(edge_s, away=1.0 if rest > turn else -1.0)
            if level is None or abs(level - self.cents[turn]) < LEAST_LEG_CENTS:
                return []
            if abs(level - cents) < EDGE_DONE_CENTS:
                return [self._turn(edge_s, level, rest, high)]
            cents = level
        return []

    def _first_held(self, turn: int, rest: int) -> float:
        """The level at which the pitch is first held, seen from ``turn``; else that of ``rest``.

        A player curls up to a note, holds it and waves from there: the leg that ends far below, at
        the fret, is a wave's leg only down to where it was held.
        """
        way = 1 if rest > turn else -1
        cents = self.cents[np.arange(turn, rest + way, way)]
        gone = np.abs(cents - cents[0])
        first = int(np.argmax(gone > HELD_AWAY_SHARE * gone[-1]))
        wide = max(round(HELD_S / self._step_s), 2)
        if cents.size - first < wide:
            return float(cents[-1])
        views = sliding_window_view(cents[first:], wide)
        held = np.ptp(views, axis=1) <= FLAT_CENTS
        return float(np.median(views[int(np.argmax(held))])) if held.any() else float(cents[-1])

    def _edge_s(self, turn: int, rest: int, *, rest_cents: float) -> float:
        """As far from the middle of the leg as its turn, for a rest of this level.

        A leg that pauses on the way is far longer than that: it is told by where the rest ends,
        which a half cosine shows when it has gone the share by which a rest may wander.
        """
        turn_s = float(self.time_s[turn])
        mirrored_s = 2.0 * self._crossing_s(turn, rest, rest_cents=rest_cents) - turn_s
        leg = abs(self.cents[turn] - self.cents[rest])
        flat_s = turn_s + (self._rest(turn, rest) - turn_s) / (1.0 - self._flat_share(leg))
        pauses = abs(mirrored_s - turn_s) > PAUSING_LEG * abs(flat_s - turn_s)
        return float(flat_s if pauses else mirrored_s)

    def _level_beside(self, edge_s: float, *, away: float) -> float | None:
        """The level of the rest next to an edge; None where the piece does not reach there."""
        if not self.time_s[0] - self._step_s <= edge_s <= self.time_s[-1] + self._step_s:
            return None
        near = (self.time_s - edge_s) * away
        level = self.cents[(near >= -self._step_s) & (near <= LANDING_S)]
        return float(np.median(level)) if level.size else None

    def _still_moving(self, turn: int, rest: int) -> bool:
        """Whether the piece ends in the middle of the leg, before the pitch came to rest."""
        if self.ends_turning and rest > turn:
            return False
        last = self.cents.size - 1 if rest > turn else 0
        back = last - STILL_FRAMES if rest > turn else STILL_FRAMES
        if not 0 <= back < self.cents.size or abs(rest - last) > STILL_FRAMES:
            return False
        leg = abs(self.cents[turn] - self.cents[rest])
        moved = float(abs(self.cents[last] - self.cents[back]))
        return moved > STILL_SHARE * float(leg) + FLAT_CENTS / 2.0

    def _crossing_s(
        self, turn: int, rest: int, *, rest_cents: float | None = None, share: float = 0.5
    ) -> float:
        """When the leg from ``turn`` to ``rest`` has gone this share of its way, at first."""
        way = 1 if rest > turn else -1
        frames = np.arange(turn, rest + way, way)
        level = self.cents[rest] if rest_cents is None else rest_cents
        gone = (self.cents[frames] - self.cents[turn]) / (level - self.cents[turn])
        past = max(int(np.argmax(gone >= share)), 1)
        return float(
            np.interp(share, gone[past - 1 : past + 1], self.time_s[frames][past - 1 : past + 1])
        )

    def _rest(self, turn: int, rest: int) -> float:
        """The time, seen from ``turn``, at which the pitch is first as good as at rest."""
        way = 1 if rest > turn else -1
        frames = np.arange(turn, rest + way, way)
        leg = abs(self.cents[turn] - self.cents[rest])
        flat = np.abs(self.cents[frames] - self.cents[rest]) <= self._flat_cents(leg)
        return float(self.time_s[frames[int(np.argmax(flat))]])

    def _flat_cents(self, leg: float) -> float:
        return max(FLAT_SHARE * leg, FLAT_CENTS)

    def _flat_share(self, leg: float) -> float:
        """Share of its time that a half cosine of this height spends as good as at rest."""
        return float(np.arccos(1.0 - 2.0 * min(self._flat_cents(leg) / leg, 0.5)) / np.pi)

    def _turn(
        self, time_s: float, cents: float, frame: int, high: bool, *, rest_s: float = 0.0
    ) -> Turn:
        kind = TurnKind.HIGH if high else TurnKind.LOW
        hz, error = shifted_hz(self.reference_hz, cents), float(self.error[frame])
        return Turn(time_s, hz, error, kind, rest_s)

    @property
    def _step_s(self) -> float:
        return float(self.time_s[1] - self.time_s[0])


def zigzag(cents: Floats, *, least: ArrayLike) -> list[int]:
    """Frames of alternating lows and highs that lie at least ``least`` cents apart.

    ``least`` is one for all frames, or one each where some are known better than others. The
    first and the last frame given are the far ends of the outermost legs, not turns.

    >>> zigzag(np.array([0.0, 1.0, 9.0, 8.0, 0.0, 1.0]), least=5.0)
    [0, 2, 4]
    """
    low = high = 0
    extremes: list[int] = []
    rising: bool | None = None
    leasts = np.broadcast_to(np.asarray(least, dtype=float), cents.shape).tolist()
    for frame, (value, least) in enumerate(zip(cents.tolist(), leasts, strict=True)):
        if value > cents[high]:
            high = frame
        if value < cents[low]:
            low = frame
        if rising is not False and cents[high] - value >= least:
            extremes.append(high)
            rising, low, high = False, frame, frame
        elif rising is not True and value - cents[low] >= least:
            extremes.append(low)
            rising, low, high = True, frame, frame
    if rising is not None:
        extremes.append(high if rising else low)
    return extremes


def without_shivers(extremes: Sequence[int], cents: Floats) -> list[int]:
    """Take out pairs of turns that are small beside the legs around them, smallest first.

    Small legs at the two ends are the wobble of the plain note before or after the waves.
    """
    kept = _without_wobble(_without_wobble(extremes, cents)[::-1], cents)[::-1]
    while len(kept) > 4:
        legs = np.abs(np.diff(cents[kept]))
        small = np.array([
            leg / np.median(legs[max(0, i - NEIGHBOURS) : i + NEIGHBOURS + 1])
            for i, leg in enumerate(legs)
        ])  # fmt: skip
        small[[0, -1]] = np.inf
        least = int(np.argmin(small))
        if small[least] >= LEAST_LEG_SHARE:
            break
        del kept[least : least + 2]
    return kept


def _without_wobble(extremes: Sequence[int], cents: Floats) -> list[int]:
    """The extremes from the first leg on that is not small beside the next ones."""
    kept = list(extremes)
    while len(kept) > 2:
        legs = np.abs(np.diff(cents[kept]))
        if legs[0] >= LEAST_LEG_SHARE * np.median(legs[1 : 1 + NEIGHBOURS]):
            break
        del kept[0]
    return kept


def vertex(time_s: Floats, cents: Floats, frame: int, *, reach_s: float) -> tuple[float, float]:
    """Time and level of a turning point, from the contour within ``+-reach_s`` of a frame.

    Two half parabolas meet at the vertex, each as bent as its own side, with one fourth-order
    term for both: exact for a cosine, and a wave that rises faster than it falls does not pull
    its turning points to the slow side, as one polynomial would let it.
    """
    step_s = float(time_s[1] - time_s[0])
    reach = max(round(reach_s / step_s), 2)
    view = slice(max(0, frame - reach), frame + reach + 1)
    x = (time_s[view] - time_s[frame]) / (reach * step_s)
    at, level = 0.0, float(cents[frame])
    if x.size < 5:
        return float(time_s[frame]), level
    for _ in range(VERTEX_ROUNDS):
        level, slope, before, after = _two_sided(x - at, cents[view])
        bend = after if slope * after < 0.0 else before
        if slope * bend == 0.0:
            break
        move = float(np.clip(-slope / (2.0 * bend), -VERTEX_MOVE, VERTEX_MOVE))
        at = float(np.clip(at + VERTEX_CALM * move, -1.0, 1.0))
        if abs(move) < VERTEX_DONE:
            break
    return float(time_s[frame] + at * reach * step_s), level


def _two_sided(x: Floats, cents: Floats) -> tuple[float, float, float, float]:
    """Level and slope at 0, and the bend on either side of it."""
    square = x**2
    terms = [np.ones_like(x), x, square * (x < 0.0), square * (x >= 0.0)]
    if x.size >= LEAST_FOR_FOURTH:
        terms.append(square**2)
    fit = np.linalg.lstsq(np.column_stack(terms), cents, rcond=None)[0]
    return float(fit[0]), float(fit[1]), float(fit[2]), float(fit[3])


# --- cycles ------------------------------------------------------------------------------------


def pair_cycles(
    note: Note,
    *,
    index: int,
    home: Home | None,
    contour: PitchContour,
    usual: Place = Place.UNKNOWN,
) -> tuple[tuple[VibratoCycle, ...], tuple[Dropped, ...]]:
    """The waves of a note, and those that were heard but do not count, each with its reason.

    ``usual`` is where home lies in the take's other notes, for a note that does not tell: waves
    counted from low to low in one note and from high to high in the next would seem off the beat.
    """
    where = usual if home is None or home.place is Place.UNKNOWN else home.place
    outer = TurnKind.HIGH if where is Place.TOP else TurnKind.LOW
    turns = note.turns
    whole = [
        (VibratoCycle(index, a, b, c, home), _is_half(turns, first, home=home))
        for first, (a, b, c) in enumerate(zip(turns, turns[1:], turns[2:], strict=False))
        if a.kind is c.kind is outer and b.kind is not outer
    ]
    lengths = [wave.duration_s for wave, _ in whole]
    cycles: list[VibratoCycle] = []
    dropped: list[Dropped] = []
    for place, (wave, half) in enumerate(whole):
        beside = lengths[max(0, place - 2) : place] + lengths[place + 1 : place + 3]
        why = HALF_WAVE if half else _fault(wave, beside=beside, contour=contour)
        if why is None:
            cycles.append(wave)
        else:
            dropped.append(Dropped(wave.start_s, wave.end_s, why))
    return tuple(cycles), tuple(dropped)


def _is_half(turns: Sequence[Turn], first: int, *, home: Home | None) -> bool:
    """Whether a wave only leaves a home that may lie in the middle, or only comes back to it."""
    if home is None or home.source is HomeSource.WAVES:
        return False
    if home.place not in (Place.MIDDLE, Place.UNKNOWN):
        return False
    leaves = first == 0 or turns[first - 1].kind is turns[first].kind
    last = first + 2
    lands = last == len(turns) - 1 or turns[last + 1].kind is turns[last].kind
    ends = [turns[first]] * leaves + [turns[last]] * lands
    far = abs(cents_between(turns[first + 1].hz, home.hz))
    return any(abs(cents_between(turn.hz, home.hz)) < AT_HOME_SHARE * far for turn in ends)


def _fault(wave: VibratoCycle, *, beside: Sequence[float], contour: PitchContour) -> str | None:
    """Why a wave does not count, or None."""
    extent, length_s = wave.extent_cents, wave.duration_s
    inside = contour.frames(wave.start_s, wave.end_s)
    typical_s = float(np.median(beside)) if beside else length_s
    if not LEAST_CYCLE_S <= length_s <= MOST_CYCLE_S:
        return "it is too long or too short for a vibrato"
    if np.isfinite(contour.frequency_hz[inside]).mean() < LEAST_VOICED:
        return "the sound breaks off inside it"
    if not LEAST_EXTENT_CENTS <= extent <= MOST_EXTENT_CENTS:
        return "it is too narrow or too wide for a vibrato"
    if _slides_away(wave):
        return "the pitch slides away from under it"
    if not typical_s / ODD_LENGTH <= length_s <= typical_s * ODD_LENGTH:
        return "it is far longer or shorter than the waves beside it"
    if length_s > HOLDS_TWO * typical_s and _may_hold_two(wave, contour.error_cents[inside]):
        return "it may hold another wave that is too small to be seen"
    return None


def _may_hold_two(wave: VibratoCycle, error_cents: Floats) -> bool:
    known = error_cents[np.isfinite(error_cents)]
    hidden_cents = LEG_ERRORS * float(np.median(known)) if known.size else 0.0
    return _tilted(wave) or hidden_cents > HIDING_SHARE * wave.extent_cents


def _slides_away(wave: VibratoCycle) -> bool:
    """Whether the two ends of a wave lie too far apart for one wave."""
    return _tilted(wave) and not _touches_home(wave)


def _tilted(wave: VibratoCycle) -> bool:
    tilt = abs(cents_between(wave.end.hz, wave.start.hz))
    return tilt > max(MOST_TILT * wave.extent_cents, MOST_TILT_CENTS)


def _touches_home(wave: VibratoCycle) -> bool:
    """Whether either end lies at home: the first wave out, or the last one back."""
    if wave.home is None:
        return False
    ends = (cents_between(end.hz, wave.home.hz) for end in (wave.start, wave.end))
    return any(abs(end) <= AT_HOME_CENTS for end in ends)


def columns(cycles: Sequence[VibratoCycle]) -> dict[str, Floats]:
    """The waves as arrays, shape (waves,), where algebra helps; NaN for a return without home."""
    names = ("start_s", "turn_s", "end_s", "duration_s", "extent_cents")
    table = {name: np.array([getattr(c, name) for c in cycles], dtype=float) for name in names}
    returns = [np.nan if c.return_cents is None else c.return_cents for c in cycles]
    table["return_cents"] = np.array(returns, dtype=float)
    table["note"] = np.array([c.note for c in cycles], dtype=float)
    return table
