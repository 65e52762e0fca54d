"""From a pitch contour to its notes, their plain parts, and the pitch a vibrato comes home to.

A note lasts from a pluck to its end, to the next pluck, or to a glide that leads to a new pitch
and stays there: a bend held a half-tone higher is a new note with a home of its own. A plain part
is a stretch of a note without vibrato; home is read from plain parts, never from a tuner.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from labcore.model import (
    Floats,
    Home,
    HomeSource,
    Note,
    PitchContour,
    Place,
    PlainPart,
    Task,
    Technique,
    Turn,
    TurnKind,
)
from labcore.units import cents_between, shifted_hz

LEAST_NOTE_S = 0.15  # bare metronome clicks are shorter
BRIDGED_S = 0.06  # a hole this short (a click, a string noise) does not end a note
# A damped string falls silent within 30 to 60 ms; one that rings down loses less than 80 dB a
# second even in its tenth partial, which is 5 dB in this time. What a room still sounds is no note.
DAMPED_S, DAMPED_DB = 0.06, 8.0
NEXT_PLUCK_S = 0.03  # the level rises this long before the pluck that ends a note
# A bend, a slide or a hammer-on leads to a new note when the pitch before it and the pitch after
# it stay apart by more than this: well over half a fret, so that a vibrato which fails to come
# home (it stops 20 to 50 cents short) is still one note, and a half-tone bend is two.
GLIDE_CENTS = 65.0
GLIDE_VIEW_S = 0.50  # three quarters of a period of the slowest vibrato, 1.5 a second
LEAST_GLIDE_VIEW_S = 0.25
GLIDE_S = 0.08  # half the time a quick glide takes; slower ones are seen all the same

# The pitch of a pluck starts a few cents sharp and settles in 150 to 300 ms (tension modulation).
SETTLING_S = 0.15
RELEASE_S = 0.10  # the last moment of a note is no longer held
LEAST_PLAIN_S = 0.25
READ_S = 0.6  # of a plain part, the stretch nearest the vibrato gives its pitch
SLIDE_VIEW_S, SLIDE_CENTS = 0.05, 12.0  # a plain note never moves this far this quickly
# A pitch that is held, curls to another within this time and is held again has not wandered: the
# waves start from the second. A plain note that sags or creeps is at rest nowhere.
CURL_CENTS, CURL_S = 20.0, 0.45
STILL_S, STILL_CENTS, STILL_PART = 0.2, 2.5, 0.9  # held: so long, so near, for so much of it
MOST_WANDER_CENTS = 30.0  # a stretch that wanders more is not plain
CREEPING_LEG = 2.5  # times as long as the others: no leg of a wave
# After the waves: further than this from the last turn, and than this share of the leg that led
# there, is a wave cut off.
LANDED_CENTS, LANDED_SHARE, LEAST_LANDED_CENTS = 10.0, 0.2, 3.0
COHERENCE_S = 0.15  # a held pitch wanders slowly: its values are independent this far apart

SAME_PITCH_CENTS = 60.0  # plain parts closer than this belong to the same fretted pitch
# Direction index D: 1 up only, 0 both ways, -1 down only (the borders lie half way).
PLACE_BORDER = 0.5
HELD_CENTS = 20.0  # a held bend's own plain pitch lies no farther below its waves than this
# Of that fall at most half is left when the first three waves have come home, and the plain note
# before them is level, its drift less than this share (tried with plucks of 12 to 30 cents sharp,
# whose note falls by itself, and with strings that give way over one to four waves).
NUT_WAVES, NUT_AT_ONCE, NUT_LEVEL = 3, 0.5, 0.08
NUT_CENTS = 6.0  # a plain note that ends this much lower than it began points at nut or tuning


@dataclass(frozen=True, slots=True)
class Span:
    """Where one note sounds."""

    onset_s: float
    offset_s: float


# --- where the notes are -----------------------------------------------------------------------


def find_spans(contour: PitchContour) -> tuple[Span, ...]:
    """The notes of a contour in order: voiced stretches, cut at plucks and at lasting glides."""
    spans: list[Span] = []
    for first, last in _voiced_runs(contour):
        for piece in _cut_at_attacks(contour, first, last):
            spans.extend(_cut_at_glides(contour, _until_damped(contour, piece)))
    return tuple(span for span in spans if span.offset_s - span.onset_s >= LEAST_NOTE_S)


def _voiced_runs(contour: PitchContour) -> Iterator[tuple[int, int]]:
    """First and last frame of each voiced stretch, holes up to `BRIDGED_S` bridged."""
    voiced = np.flatnonzero(contour.voiced)
    if voiced.size == 0:
        return
    breaks = np.flatnonzero(np.diff(voiced) * contour.step_s > BRIDGED_S)
    starts = np.concatenate([[0], breaks + 1])
    ends = np.concatenate([breaks, [voiced.size - 1]])
    for start, end in zip(starts, ends, strict=True):
        yield int(voiced[start]), int(voiced[end])


def _cut_at_attacks(contour: PitchContour, first: int, last: int) -> Iterator[Span]:
    start_s, end_s = float(contour.time_s[first]), float(contour.time_s[last])
    inside = (contour.attack_s > start_s + LEAST_NOTE_S / 2) & (contour.attack_s < end_s)
    edges = [start_s, *map(float, contour.attack_s[inside]), end_s]
    for onset_s, offset_s in pairwise(edges):
        yield Span(onset_s, offset_s)


def _until_damped(contour: PitchContour, span: Span) -> Span:
    """The note up to where its level falls at once and stays down: there the string was damped."""
    end_s = span.offset_s - NEXT_PLUCK_S
    inside = contour.frames(span.onset_s, end_s)
    time_s, level_db = contour.time_s[inside], contour.level_db[inside]
    ahead = max(round(DAMPED_S / contour.step_s), 1)
    loudest_db = np.maximum.accumulate(level_db[::-1])[::-1]  # from each frame on
    falls = level_db[:-ahead] - loudest_db[ahead:] > DAMPED_DB
    falls &= time_s[:-ahead] > span.onset_s + LEAST_NOTE_S
    if not falls.any():
        return span  # it rang until its end
    return Span(span.onset_s, float(time_s[np.argmax(falls)]))


def _cut_at_glides(contour: PitchContour, span: Span) -> Iterator[Span]:
    """Cut where the pitch moves to a new level and stays there."""
    inside = contour.frames(span.onset_s, span.offset_s)
    time_s, hz = contour.time_s[inside], contour.frequency_hz[inside]
    held = np.isfinite(hz)
    if held.sum() < 3:
        yield span
        return
    cents = cents_between(np.interp(time_s, time_s[held], hz[held]), float(np.nanmedian(hz)))
    onset_s = span.onset_s
    for leave, arrive in _glides(cents, step_s=contour.step_s):
        yield Span(onset_s, float(time_s[leave]))
        onset_s = float(time_s[arrive])
    yield Span(onset_s, span.offset_s)


def _glides(cents: Floats, *, step_s: float) -> list[tuple[int, int]]:
    """Frames where the pitch leaves an old level for good, and where it arrives at the new one.

    A glide is where all that the pitch does in the time before and all that it does in the time
    after lie apart. A vibrato, however wide, passes its own middle within half a period, so its
    two sides always overlap.
    """
    gap = _gaps(cents, step_s=step_s)
    glides: list[tuple[int, int]] = []
    reach = round(GLIDE_VIEW_S / step_s)
    while gap.size and np.max(gap) > GLIDE_CENTS:
        middle = int(np.argmax(gap))
        glides.append(_glide_edges(cents, middle, reach=reach, skip=round(GLIDE_S / step_s)))
        gap[max(0, middle - reach) : middle + reach] = 0.0
    return sorted(glides)


def _gaps(cents: Floats, *, step_s: float) -> Floats:
    """For each frame, how far the range of pitch before it and the range after it lie apart."""
    reach, skip = round(GLIDE_VIEW_S / step_s), round(GLIDE_S / step_s)
    least = round(LEAST_GLIDE_VIEW_S / step_s)
    pad = reach + skip
    padded = np.concatenate([np.full(pad, np.nan), cents, np.full(pad, np.nan)])
    views = sliding_window_view(padded, reach)
    before, after = views[: cents.size], views[pad + skip :][: cents.size]
    enough = (np.isfinite(before).sum(1) >= least) & (np.isfinite(after).sum(1) >= least)
    low_a, high_a = np.fmin.reduce(after, axis=1), np.fmax.reduce(after, axis=1)
    low_b, high_b = np.fmin.reduce(before, axis=1), np.fmax.reduce(before, axis=1)
    gap = np.fmax(low_a - high_b, low_b - high_a)
    return np.where(enough & np.isfinite(gap), gap, 0.0)


def _glide_edges(cents: Floats, middle: int, *, reach: int, skip: int) -> tuple[int, int]:
    before = cents[max(0, middle - skip - reach) : max(1, middle - skip)]
    after = cents[middle + skip : middle + skip + reach]
    way = np.sign(np.median(after) - np.median(before))
    far, near = way * cents, way * before
    last_old = int(np.flatnonzero(far[: middle + skip] <= near.max() + 2.0)[-1])
    first_new = middle + int(np.argmax(far[middle:] >= (way * after).min()))
    return last_old, max(first_new, last_old + 1)


# --- plain parts -------------------------------------------------------------------------------


def find_plain_parts(
    contour: PitchContour, *, span: Span, turns: Sequence[Turn]
) -> tuple[PlainPart, ...]:
    """The stretches of a note that are held: before the waves, between groups, after them.

    Waves leave a plain part at a turn and come back at a turn of the same kind, so a pair of
    neighbours of one kind has a plain part between them.
    """
    start_s, end_s = span.onset_s + SETTLING_S, span.offset_s - RELEASE_S
    if not turns:
        part = _plain_part(contour, start_s=start_s, end_s=end_s)
        return (part,) if part else ()
    gaps = [(start_s, _first_wave_s(turns, plain_from_s=start_s))]
    gaps += [(a.time_s, b.time_s) for a, b in pairwise(turns) if a.kind is b.kind]
    parts = [_plain_part(contour, start_s=max(a, start_s), end_s=min(b, end_s)) for a, b in gaps]
    before = turns[-2] if len(turns) > 1 else None
    parts.append(_landing(contour, turns[-1], before=before, end_s=end_s))
    return tuple(part for part in parts if part is not None)


def _first_wave_s(turns: Sequence[Turn], *, plain_from_s: float) -> float:
    """Where the waves begin: a first leg from the pluck on, far longer than the others, is none.

    Unless the pitch is held where that leg ends: then it led from one plain note to another.
    """
    legs_s = np.diff([turn.time_s for turn in turns])
    at_once = turns[0].time_s < plain_from_s + LEAST_PLAIN_S
    creeps = legs_s.size > 2 and legs_s[0] > CREEPING_LEG * np.median(legs_s[1:])
    a_leg = len(turns) > 1 and turns[0].kind is not turns[1].kind
    a_leg &= len(turns) < 3 or turns[1].kind is not turns[2].kind
    return turns[1].time_s if at_once and a_leg and creeps else turns[0].time_s


def _landing(
    contour: PitchContour, last: Turn, *, before: Turn | None, end_s: float
) -> PlainPart | None:
    """The plain part the waves land on; None where a wave was under way when the note ended."""
    part = _plain_part(contour, start_s=last.time_s, end_s=end_s)
    if part is None:
        return None
    leg = abs(cents_between(last.hz, before.hz)) if before else 0.0
    stays = min(LANDED_CENTS, max(LANDED_SHARE * leg, LEAST_LANDED_CENTS))
    return part if abs(cents_between(part.hz, last.hz)) <= stays else None


def _plain_part(contour: PitchContour, *, start_s: float, end_s: float) -> PlainPart | None:
    if end_s - start_s < LEAST_PLAIN_S:
        return None
    inside = contour.voiced_frames(start_s, end_s)
    if inside.size * contour.step_s < 0.8 * LEAST_PLAIN_S:
        return None
    time_s, hz = contour.time_s[inside], contour.frequency_hz[inside]
    settled = _after_slides(hz, step_s=contour.step_s)
    settled += _after_curl(hz[settled:], step_s=contour.step_s)
    time_s, hz = time_s[settled:], hz[settled:]
    if time_s.size * contour.step_s < 0.8 * LEAST_PLAIN_S:
        return None
    read = time_s >= time_s[-1] - READ_S
    pitch_hz = float(np.median(hz[read]))
    cents = cents_between(hz[read], pitch_hz)
    wander = _robust_spread(cents)
    if wander > MOST_WANDER_CENTS:
        return None
    error = _plain_error(cents, noise_cents=float(np.median(contour.error_cents[inside])),
                         step_s=contour.step_s)  # fmt: skip
    moved = _moved_cents(contour.frequency_hz[inside], pitch_hz, step_s=contour.step_s)
    return PlainPart(start_s, end_s, pitch_hz, error, wander, moved if settled else 0.0)


def _moved_cents(hz: Floats, pitch_hz: float, *, step_s: float) -> float:
    """How far a part moved from the pitch it begins with; 0 where that is not held, or is far."""
    first = cents_between(hz[: round(STILL_S / step_s)], pitch_hz)
    level = float(np.median(first))
    held = np.mean(np.abs(first - level) <= STILL_CENTS) > STILL_PART
    return -level if held and abs(level) <= GLIDE_CENTS else 0.0


def _after_slides(hz: Floats, *, step_s: float) -> int:
    """The first frame after the last quick glide: a slide or a hammer-on is not a plain note."""
    reach = max(round(SLIDE_VIEW_S / step_s), 1)
    if hz.size <= 2 * reach:
        return 0
    moved = np.abs(cents_between(hz[reach:], hz[:-reach]))
    sliding = np.flatnonzero(moved > SLIDE_CENTS)
    return int(sliding[-1]) + 2 * reach if sliding.size else 0


def _after_curl(hz: Floats, *, step_s: float) -> int:
    """The first frame of a second held pitch, one move away from the first; 0 without one."""
    still, most = round(STILL_S / step_s), round(CURL_S / step_s)
    if hz.size < 2 * still:
        return 0
    cents = cents_between(hz, float(np.median(hz[-still:])))
    away = np.flatnonzero(np.abs(cents) > STILL_CENTS)
    arrives = int(away[-1]) + 1 if away.size else 0
    before = cents[: max(arrives - most, still)][-still:]
    first = float(np.median(before))
    held = np.mean(np.abs(before - first) <= STILL_CENTS) > STILL_PART
    near = np.flatnonzero(np.abs(cents[:arrives] - first) <= STILL_CENTS)
    moves = near.size > 0 and arrives - near[-1] <= most and abs(first) >= CURL_CENTS
    return arrives if held and moves and hz.size - arrives >= still else 0


def _robust_spread(cents: Floats) -> float:
    """Standard deviation as the 10 to 90 % range would give it for a normal distribution."""
    low, high = np.percentile(cents, [10, 90])
    return float(high - low) / 2.563


def _plain_error(cents: Floats, *, noise_cents: float, step_s: float) -> float:
    """How well the held pitch is known: noise, wandering, and how far it drifts from its middle."""
    independent = max(cents.size * step_s / COHERENCE_S, 1.0)
    half = cents.size // 2
    drift = float(np.median(cents[half:]) - np.median(cents[:half])) if half else 0.0
    wander = _robust_spread(cents)
    return float(np.sqrt(noise_cents**2 / independent + wander**2 / independent + drift**2))


# --- home --------------------------------------------------------------------------------------


def find_home(note: Note, *, task: Task, others: Sequence[Note] = ()) -> Home | None:
    """The pitch the waves of a note come home to, and where in the waves it lies.

    ``others`` are the other notes of the take: a plain part of the same pitch among them serves
    when the note has none. None when the note has neither waves nor a plain part.
    """
    reading = _read_home(note, task=task, others=others)
    if reading is None:
        return _home_from_waves(note, task=task)
    place = _place(note, reading, task=task)
    return Home(reading.hz, reading.error_cents, place, reading.source,
                reading.start_s, reading.end_s)  # fmt: skip


def direction_index(lows_cents: Floats, highs_cents: Floats) -> float:
    """D = (P + V) / (P - V) of the median high P and the median low V, in cents above home.

    1 is up only, 0 is both ways alike, -1 is down only; above 1 the waves never come home.

    >>> direction_index(np.zeros(3), np.full(3, 50.0))
    1.0
    """
    low, high = float(np.median(lows_cents)), float(np.median(highs_cents))
    return (high + low) / (high - low)


def direction_error(extent_cents: float, *, home_error_cents: float) -> float:
    """Standard error of D: 2 e / E for an error e of home and waves E wide."""
    return 2.0 * home_error_cents / extent_cents


def _read_home(note: Note, *, task: Task, others: Sequence[Note]) -> Home | None:
    if task.home_hz is not None:
        return Home(task.home_hz, 1.0, Place.UNKNOWN, HomeSource.GIVEN)
    before, after = _around_waves(note)
    if task.technique is Technique.HELD_BEND:
        before, after = _if_held(before, note), _if_held(after, note)
    if before and after and _nut_holds(note, before=before, after=after):
        return _home_of(after, HomeSource.LANDING)
    if before:
        return _home_of(before, HomeSource.STRAIGHT)
    if after:
        return _home_of(after, HomeSource.LANDING)
    return _home_elsewhere(note, others, task=task)


def _around_waves(note: Note) -> tuple[PlainPart | None, PlainPart | None]:
    """The plain part the waves start from, and the first one after them."""
    if not note.turns:
        return (note.plain_parts[0] if note.plain_parts else None), None
    first_s = note.turns[0].time_s
    before = [part for part in note.plain_parts if part.end_s <= first_s + 1e-6]
    after = [part for part in note.plain_parts if part.start_s >= first_s - 1e-6]
    return (before[-1] if before else None), (after[-1] if after else None)


def _if_held(part: PlainPart | None, note: Note) -> PlainPart | None:
    """On a held bend the fretted note below is no home, but a pitch the waves sag from is one."""
    if part is None or not note.turns:
        return part
    low, high = _levels(note)
    above_low, above_high = cents_between(part.hz, low), cents_between(part.hz, high)
    return part if above_low >= -HELD_CENTS and above_high <= SAME_PITCH_CENTS else None


def _home_of(part: PlainPart, source: HomeSource) -> Home:
    return Home(part.hz, part.error_cents, Place.UNKNOWN, source, part.start_s, part.end_s)


def plain_shift_cents(note: Note) -> float | None:
    """How far the plain note after the waves lies above the one before; None without both."""
    before, after = _around_waves(note)
    if before is None or after is None:
        return None
    return cents_between(after.hz, before.hz)


def fell_at_once(note: Note) -> bool:
    """Whether the plain note had fallen by most of `plain_shift_cents` after the first waves.

    A string that hangs in the nut has; a hard pluck that settles falls little by little, and the
    plain note before the waves falls already.
    """
    before, after = _around_waves(note)
    lows = [turn.hz for turn in note.turns[1:] if turn.kind is TurnKind.LOW]
    if before is None or after is None or not lows:
        return False
    fall = cents_between(before.hz, after.hz)
    is_level = before.error_cents < NUT_LEVEL * fall
    left = [abs(cents_between(low, after.hz)) for low in lows[:NUT_WAVES]]
    return is_level and min(left) < NUT_AT_ONCE * fall


def _nut_holds(note: Note, *, before: PlainPart, after: PlainPart) -> bool:
    """The string itself came back flat: plain note and waves agree with each other afterwards."""
    shift = cents_between(after.hz, before.hz)
    lows = [turn.hz for turn in note.turns if turn.kind is TurnKind.LOW]
    if shift > -NUT_CENTS or not lows:
        return False
    return abs(cents_between(float(np.median(lows)), after.hz)) < NUT_CENTS


def _home_elsewhere(note: Note, others: Sequence[Note], *, task: Task) -> Home | None:
    """A plain part of the same pitch in another note of the take, the best known one."""
    if not note.turns:
        return None
    lows, highs = _levels(note)
    bottom, top = shifted_hz(lows, -SAME_PITCH_CENTS), shifted_hz(highs, SAME_PITCH_CENTS)
    parts = [p for other in others for p in other.plain_parts if bottom <= p.hz <= top]
    if task.technique is Technique.HELD_BEND:
        parts = [part for part in parts if _if_held(part, note)]
    if not parts:
        return None
    best = min(parts, key=lambda part: part.error_cents)
    # Two plain notes of one fret differ with the grip: what the others vary among themselves.
    apart = np.array([cents_between(part.hz, best.hz) for part in parts])
    error = float(np.hypot(best.error_cents, np.std(apart)) + 1.0)
    return Home(best.hz, error, Place.UNKNOWN, HomeSource.ELSEWHERE, best.start_s, best.end_s)


def _levels(note: Note) -> tuple[float, float]:
    lows = [turn.hz for turn in note.turns if turn.kind is TurnKind.LOW]
    highs = [turn.hz for turn in note.turns if turn.kind is TurnKind.HIGH]
    both = [turn.hz for turn in note.turns]
    return float(np.median(lows or both)), float(np.median(highs or both))


def _home_from_waves(note: Note, *, task: Task) -> Home | None:
    """Without any plain note: the level of the waves themselves, which judges nothing."""
    if not note.turns:
        return None
    low, high = _levels(note)
    place = asked_place(task)
    hz = {Place.TOP: high, Place.MIDDLE: float(np.sqrt(low * high))}.get(place, low)
    return Home(hz, max(turn.error_cents for turn in note.turns), place, HomeSource.WAVES)


def asked_place(task: Task) -> Place:
    """Where in the waves home lies, as far as the player said."""
    if task.home is not Place.UNKNOWN:
        return task.home
    return {Technique.BEND: Place.BOTTOM, Technique.ROLL: Place.MIDDLE}.get(
        task.technique, Place.UNKNOWN
    )


def _place(note: Note, reading: Home, *, task: Task) -> Place:
    """What the player says wins; otherwise what the direction of the waves shows beyond doubt."""
    asked = asked_place(task)
    if asked is not Place.UNKNOWN or not note.turns:
        return asked
    low, high = _levels(note)
    extent = cents_between(high, low)
    if extent <= 0.0:
        return Place.UNKNOWN
    index = (cents_between(high, reading.hz) + cents_between(low, reading.hz)) / extent
    doubt = 2.0 * direction_error(extent, home_error_cents=reading.error_cents)
    if index - doubt > PLACE_BORDER:
        return Place.BOTTOM
    if index + doubt < -PLACE_BORDER:
        return Place.TOP
    return Place.MIDDLE if abs(index) + doubt < PLACE_BORDER else Place.UNKNOWN
