"""The next exercise and why: a walk over the takes, one rung at a time.

Rules (common practice, no source): up after two passes among the last three takes, on two days;
one rung down when two takes in a row fall clearly short; two rungs down after two weeks away; a
day off is never held against anybody. A take that cannot be judged counts neither way.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import Enum, auto
from itertools import pairwise

from labcore.beats import NOTE_VALUES, beat_s, switch_beats
from labcore.exercises.ladder import (
    MOST_DAYS_OF_SEVEN,
    OTHER_FRETS,
    TUNE,
    USUAL_FINGER,
    USUAL_FRET,
    USUAL_STRING,
    Band,
    Difficulty,
    Rung,
    ladder,
)
from labcore.exercises.past import HeldValue, PastTake, aware, past_take
from labcore.exercises.remedies import Remedy, remedy
from labcore.model import Context, Report, Technique, Verdict

LONG_GAP_DAYS = 14
RUNGS_DOWN_AFTER_A_GAP = 2
PASSES_NEEDED = 2
AMONG_TAKES = 3
FALLS_FOR_A_STEP_BACK = 2


class Outcome(Enum):
    """How a take stands to the pass mark of its rung."""

    PASSED = auto()
    NEARLY = auto()
    FELL = auto()  # outside even if the reading is off by two standard errors
    NOT_JUDGED = auto()


@dataclass(frozen=True, slots=True)
class Attempt:
    """A take held against a rung; ``short`` says in words what was missing."""

    outcome: Outcome
    recorded: datetime
    short: str = ""


@dataclass(frozen=True, slots=True)
class Exercise:
    """What to practise next, why, and what to do first about the last take."""

    rung: Rung
    why: str
    new: str  # the one new difficulty, in words; empty if nothing is new
    first: Remedy | None = None
    rest: str = ""  # a kind word on a day off, or empty


@dataclass(frozen=True, slots=True)
class _Place:
    """Where on the ladder a player stands, the takes since arriving there, and why there."""

    at: int
    why: str
    attempts: tuple[Attempt, ...] = field(default=())


def next_exercise(
    report: Report | None,
    history: Sequence[PastTake] = (),
    *,
    now: datetime | None = None,
) -> Exercise:
    """The exercise to play next, from this take (None: from the log alone) and earlier ones.

    ``now`` (default: this moment) carries a time zone. A report that is already in the history is
    not counted twice.

    >>> next_exercise(None).rung.name
    'plain'
    """
    now = datetime.now().astimezone() if now is None else aware(now)
    takes = sorted(_with_report(history, report=report, now=now), key=lambda take: take.recorded)
    technique = _technique(takes)
    rungs = ladder(technique)
    place = _walk([take for take in takes if _fits(take, technique=technique)], rungs=rungs)
    if takes and not _is_new(takes, report=report):
        place = _after_gap(place, rungs=rungs, away=now - takes[-1].recorded)
    known = frozenset().union(*(rung.difficulties for rung in rungs[: place.at]))
    return Exercise(
        rung=rungs[place.at],
        why=place.why,
        new=_new_words(rungs[place.at].difficulties - known) if place.at else "",
        first=_first_remedy(report),
        rest=_rest_words(takes, now=now),
    )


def _with_report(
    history: Iterable[PastTake], *, report: Report | None, now: datetime
) -> list[PastTake]:
    takes = list(history)
    if report is not None and not _logged(takes, report=report):
        takes.append(past_take(report, recorded=now))
    return takes


def _logged(takes: Iterable[PastTake], *, report: Report) -> bool:
    return any(take.sha256 == report.take.facts.sha256 for take in takes)


def _is_new(takes: Sequence[PastTake], *, report: Report | None) -> bool:
    return report is not None and takes[-1].sha256 == report.take.facts.sha256


def _technique(takes: Sequence[PastTake]) -> Technique:
    """The technique said last; bending from the fret where none was said."""
    for take in reversed(takes):
        if take.task.technique is Technique.HELD_BEND:
            return Technique.BEND
        if take.task.technique is not Technique.NOT_SAID:
            return take.task.technique
    return Technique.BEND


def _fits(take: PastTake, *, technique: Technique) -> bool:
    same = {technique, Technique.NOT_SAID}
    if technique is Technique.BEND:
        same.add(Technique.HELD_BEND)
    return take.task.technique in same


# --- the walk -------------------------------------------------------------------------------


def _walk(takes: Sequence[PastTake], *, rungs: Sequence[Rung]) -> _Place:
    place = _Place(0, "The ladder starts here: a plain note first.")
    started = False
    for i, take in enumerate(takes):
        if i:
            place = _after_gap(place, rungs=rungs, away=take.recorded - takes[i - 1].recorded)
        at = _rung_of(take, rungs=rungs, near=place.at)
        if at is None:
            continue
        if not started or (take.exercise is not None and at > place.at):
            place, started = _Place(at, f"You are at “{rungs[at].title}”."), True
        if at == place.at:
            place = _step(place, attempt=attempt(take, rung=rungs[at]), rungs=rungs)
    return place


def _after_gap(place: _Place, *, rungs: Sequence[Rung], away: timedelta) -> _Place:
    if away < timedelta(days=LONG_GAP_DAYS) or place.at == 0:
        return place
    lower = max(0, place.at - RUNGS_DOWN_AFTER_A_GAP)
    why = (
        f"Welcome back. After {away.days} days away the hand is softer than the memory, so start "
        f"a little below “{rungs[place.at].title}” and climb again."
    )
    return _Place(lower, why)


def _rung_of(take: PastTake, *, rungs: Sequence[Rung], near: int) -> int | None:
    """The rung a take belongs to: the one it names, else the nearest that it fits, else None."""
    if take.exercise is not None:
        return next((i for i, rung in enumerate(rungs) if rung.name == take.exercise), None)
    fitting = [i for i, rung in enumerate(rungs) if _could_be(take, rung=rung)]
    return min(fitting, key=lambda i: abs(i - near), default=None)


def _could_be(take: PastTake, *, rung: Rung) -> bool:
    """Whether a take without a name can count for this rung: only rungs of one note value."""
    asked = rung.task
    if asked.cycles_per_beat is None or rung.form.demanding:
        return False
    if (take.task.tempo_bpm, take.task.cycles_per_beat) != (asked.tempo_bpm, rung.values[0]):
        return False
    return _same_place(take.context, rung=rung)


def _same_place(context: Context, *, rung: Rung) -> bool:
    """Whether finger, string and fret are the rung's; what was not said is the usual place."""
    usual_fret = rung.fret == USUAL_FRET and context.fret not in OTHER_FRETS
    return (
        (context.finger or USUAL_FINGER) == rung.finger
        and (context.string or USUAL_STRING) == rung.string
        and (usual_fret or context.fret == rung.fret)
    )


def _step(place: _Place, *, attempt: Attempt, rungs: Sequence[Rung]) -> _Place:
    attempts = (*place.attempts, attempt)
    title = rungs[place.at].title
    if _passed(attempts):
        if place.at + 1 == len(rungs):
            return _Place(place.at, "That was the top. Mix the rungs as you like from here.")
        return _Place(place.at + 1, f"“{title}” has passed on two days.")
    if _fell(attempts):
        why = f"The last two takes of “{title}” fell short: {attempt.short}. One step back."
        if place.at == 0:
            why = f"Not yet: {attempt.short}. Once more, slowly; this one carries all the others."
        return _Place(max(0, place.at - 1), why)
    return _Place(place.at, _stay_words(attempts, title=title), attempts)


def _passed(attempts: Sequence[Attempt]) -> bool:
    judged = [one for one in attempts if one.outcome is not Outcome.NOT_JUDGED]
    passes = [one for one in judged[-AMONG_TAKES:] if one.outcome is Outcome.PASSED]
    return len(passes) >= PASSES_NEEDED and len({one.recorded.date() for one in passes}) > 1


def _fell(attempts: Sequence[Attempt]) -> bool:
    judged = [one for one in attempts if one.outcome is not Outcome.NOT_JUDGED]
    last = judged[-FALLS_FOR_A_STEP_BACK:]
    return len(last) == FALLS_FOR_A_STEP_BACK and all(one.outcome is Outcome.FELL for one in last)


def _stay_words(attempts: Sequence[Attempt], *, title: str) -> str:
    last = attempts[-1]
    if last.outcome is Outcome.PASSED:
        return f"A take of “{title}” has passed. One more on another day, and you move on."
    if last.outcome is Outcome.NOT_JUDGED:
        return f"Not enough to say about “{title}” yet: {last.short}. Play it once more."
    return f"“{title}” once more; not there yet: {last.short}."


# --- one take against one rung --------------------------------------------------------------


def attempt(take: PastTake, *, rung: Rung) -> Attempt:
    """How a take stands to the pass mark of a rung."""
    parts = [_value_outcome(take, rung=rung), *(_band_outcome(take, band) for band in rung.bands)]
    for outcome in (Outcome.FELL, Outcome.NOT_JUDGED, Outcome.NEARLY):
        for found, words in parts:
            if found is outcome:
                return Attempt(outcome, take.recorded, words)
    return Attempt(Outcome.PASSED, take.recorded)


def _band_outcome(take: PastTake, band: Band) -> tuple[Outcome, str]:
    measure = take.measures.get(band.measure)
    if measure is None:
        return Outcome.NOT_JUDGED, f"it could not be measured whether {band.words}"
    if band.missed(measure):
        return Outcome.FELL, f"the aim is that {band.words}"
    if band.holds(measure):
        return Outcome.PASSED, ""
    return Outcome.NEARLY, f"it is at the edge whether {band.words}"


def _value_outcome(take: PastTake, *, rung: Rung) -> tuple[Outcome, str]:
    if rung.tempo_bpm is None or rung.form is TUNE:
        return Outcome.PASSED, ""
    if not take.held:
        return Outcome.NOT_JUDGED, "no steady speed was found in it"
    if len(rung.values) == 1:
        return _single_value(take, value=rung.values[0])
    return _switched_values(take, rung=rung)


def _single_value(take: PastTake, *, value: int) -> tuple[Outcome, str]:
    longest = max(take.held, key=lambda held: held.end_s - held.start_s)
    if longest.named is None:
        return Outcome.NOT_JUDGED, "the note value could not be named"
    if longest.named != value:
        return (
            Outcome.FELL,
            f"{longest.named} to the click, where {value} {'was' if value == 1 else 'were'} asked",
        )
    return Outcome.PASSED, ""


def _switched_values(take: PastTake, *, rung: Rung) -> tuple[Outcome, str]:
    # A change that was not found may be our mistake, so it never counts as a fall.
    held = _joined(take.held)
    names = [one.named for one in held]
    wanted = list(rung.values)
    starts = [i for i in range(len(names)) if names[i : i + len(wanted)] == wanted]
    if not starts:
        return Outcome.NEARLY, "not every change of note value was found"
    beat = beat_s(rung.tempo_bpm or 60.0)
    if any(_in_time(held[i : i + len(wanted)], beat=beat) for i in starts):
        return Outcome.PASSED, ""
    return Outcome.NEARLY, "the new speed came a little late"


def _joined(held: Iterable[HeldValue]) -> list[HeldValue]:
    """Neighbours of one note value as one; stretches without a name left out."""
    joined: list[HeldValue] = []
    for one in held:
        if one.named is None:
            continue
        if joined and joined[-1].named == one.named:
            joined[-1] = HeldValue(one.named, joined[-1].start_s, one.end_s)
        else:
            joined.append(one)
    return joined


def _in_time(held: Sequence[HeldValue], *, beat: float) -> bool:
    return all(
        after.start_s - before.end_s <= beat * switch_beats(before.named or 0, after.named or 0)
        for before, after in pairwise(held)
    )


# --- words ----------------------------------------------------------------------------------


def _new_words(new: Iterable[Difficulty]) -> str:
    return " and ".join(sorted(_difficulty_words(*one) for one in new))


def _difficulty_words(kind: str, value: str | float) -> str:
    if kind == "note value" and isinstance(value, int):
        return f"{value} to the click ({NOTE_VALUES[value]})"
    if kind == "tempo":
        return f"the click at {value:g}"
    if kind == "bars each":
        return f"a change every {value:g} bars" if value != 1 else "a change every bar"
    return str(value) if kind == "form" else f"{kind} {value}"


def _first_remedy(report: Report | None) -> Remedy | None:
    if report is None:
        return None
    work = (
        one for one in report.findings if one.verdict is Verdict.WORK and one.overruled_by is None
    )
    first = next(work, None)
    return None if first is None else remedy(first.kind, report=report)


def _rest_words(takes: Iterable[PastTake], *, now: datetime) -> str:
    since = now - timedelta(days=7)
    days = {take.recorded.date() for take in takes if since < take.recorded <= now}
    if len(days) < MOST_DAYS_OF_SEVEN:
        return ""
    return f"You have played on {len(days)} of the last seven days: tomorrow is free."
