"""Weeks and fingers side by side: what changed, said only where takes are many enough to tell.

A player is held against nobody but themselves, and like is held against like: one technique, one
note value, one tempo. (That comparing with oneself costs nothing, while a ranking does, follows
Bursztyn & Jensen 2015, abstract; the numbers below are common practice, no source.)
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

import numpy as np

from labcore.beats import NOTE_VALUES
from labcore.exercises.ladder import USUAL_FINGER
from labcore.exercises.past import PastTake
from labcore.model import Measure

MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
FEW_TAKES = 4  # fewer takes than this show themselves, but tell no change
SURE = 2.0  # standard errors a change needs to be spoken of
# Standard error of a median over that of a mean, for many values spread like a normal curve.
MEDIAN_OVER_MEAN = float(np.sqrt(np.pi / 2.0))


@dataclass(frozen=True, slots=True)
class Aspect:
    """A measure as progress is told in it."""

    measure: str
    words: str
    unit: str
    more_is_better: bool
    better: str  # how a change for the better is said
    worse: str


ASPECTS = (
    Aspect(
        "returned_share",
        "waves that came home",
        "%",
        True,
        "more waves came home",
        "fewer waves came home",
    ),
    Aspect(
        "extent_evenness",
        "even width, spread",
        "%",
        False,
        "the waves were more alike in width",
        "the waves were less alike in width",
    ),
    Aspect(
        "time_evenness",
        "even time, spread",
        "%",
        False,
        "the waves were more alike in length",
        "the waves were less alike in length",
    ),
    Aspect(
        "asynchrony",
        "around the click, spread",
        "ms",
        False,
        "the waves sat more tightly on the click",
        "the waves sat less tightly on the click",
    ),
)


@dataclass(frozen=True, slots=True)
class Group:
    """Takes that stand together in a picture: one week, or one finger."""

    label: str
    takes: tuple[PastTake, ...]  # oldest first

    def values(self, measure: str) -> tuple[float, ...]:
        """The measure of every take that has it, oldest first."""
        return tuple(found.value for take in self.takes if (found := take.measures.get(measure)))

    def summary(self, measure: str) -> "Summary | None":
        """The middle and the spread of a measure; None when no take has it."""
        values = self.values(measure)
        if not values:
            return None
        low, high = (float(value) for value in np.percentile(values, [25, 75]))
        return Summary(float(median(values)), low, high, len(values))


@dataclass(frozen=True, slots=True)
class Summary:
    """The middle value, the middle half, and how many takes it rests on."""

    middle: float
    low: float
    high: float
    takes: int

    @property
    def few(self) -> bool:
        return self.takes < FEW_TAKES


def like_the_last(takes: Sequence[PastTake]) -> tuple[PastTake, ...]:
    """The takes that asked for what the newest one asked: technique, tempo, note value."""
    if not takes:
        return ()
    newest = max(takes, key=lambda take: take.recorded)
    return tuple(take for take in takes if _asked(take) == _asked(newest))


def _asked(take: PastTake) -> tuple[object, ...]:
    return take.task.technique, take.task.tempo_bpm, take.task.cycles_per_beat


def by_week(takes: Iterable[PastTake], *, most: int = 8) -> tuple[Group, ...]:
    """Takes by calendar week, oldest first; weeks without a take are left out, and that is fine."""
    weeks: dict[date, list[PastTake]] = defaultdict(list)
    for take in sorted(takes, key=lambda take: take.recorded):
        day = take.recorded.date()
        weeks[day - timedelta(days=day.weekday())].append(take)
    mondays = sorted(weeks)[-most:]
    labels = _week_labels(mondays)
    return tuple(
        Group(label, tuple(weeks[day])) for label, day in zip(labels, mondays, strict=True)
    )


def _week_labels(mondays: Sequence[date]) -> list[str]:
    """Day and month; where the weeks are of several years, the first of each says which."""
    labels = [f"{monday.day} {MONTHS[monday.month - 1]}" for monday in mondays]
    first = {monday.year: index for index, monday in reversed(list(enumerate(mondays)))}
    if len(first) > 1:
        for year, index in first.items():
            labels[index] += f" {year}"
    return labels


def by_finger(takes: Iterable[PastTake]) -> tuple[Group, ...]:
    """Takes by finger, 1 to 4; what was not said is the usual third finger's."""
    fingers: dict[int, list[PastTake]] = defaultdict(list)
    for take in sorted(takes, key=lambda take: take.recorded):
        fingers[take.context.finger or USUAL_FINGER].append(take)
    return tuple(Group(f"finger {finger}", tuple(fingers[finger])) for finger in sorted(fingers))


def since_last_week(takes: Sequence[PastTake]) -> tuple[str, ...]:
    """Sentences on what changed from the week before the newest one to the newest one.

    Only takes like the newest one are compared, finger by finger the same; a change is told where
    it is at least two standard errors large and both weeks hold four takes or more.
    """
    like = _same_finger(like_the_last(takes))
    weeks = by_week(like)
    if len(weeks) < 2:
        return ("There is one week of such takes so far; from the next one on they are compared.",)
    before, now = weeks[-2], weeks[-1]
    opening = (
        f"Week of {now.label} beside the week of {before.label}, {_task_words(like[-1])}: "
        f"{_count(now)} and {_count(before)}."
    )
    told = [words for aspect in ASPECTS if (words := _change(aspect, before=before, now=now))]
    return (opening, *(told or ("No change that could be told from chance. That is normal.",)))


def _same_finger(takes: Sequence[PastTake]) -> tuple[PastTake, ...]:
    if not takes:
        return ()
    finger = max(takes, key=lambda take: take.recorded).context.finger
    same = [take for take in takes if take.context.finger == finger]
    return tuple(sorted(same, key=lambda take: take.recorded))


def _count(group: Group) -> str:
    number = len(group.takes)
    words = "1 take" if number == 1 else f"{number} takes"
    return f"{words}, few" if number < FEW_TAKES else words


def _task_words(take: PastTake) -> str:
    finger = f"finger {take.context.finger or USUAL_FINGER}"
    if take.task.tempo_bpm is None:
        return f"without a click, {finger}"
    value = take.task.cycles_per_beat
    named = "the click" if value is None else f"{value} to the click ({NOTE_VALUES[value]})"
    return f"{named} at {take.task.tempo_bpm:g}, {finger}"


def _change(aspect: Aspect, *, before: Group, now: Group) -> str | None:
    old, new = before.summary(aspect.measure), now.summary(aspect.measure)
    if old is None or new is None or old.few or new.few:
        return None
    doubt = np.hypot(_error(before, aspect.measure), _error(now, aspect.measure))
    change = new.middle - old.middle
    if abs(change) < SURE * doubt or not _shows(change, unit=aspect.unit):
        return None
    words = aspect.better if (change > 0) == aspect.more_is_better else aspect.worse
    unit = " %" if aspect.unit == "%" else f" {aspect.unit}"
    values = f"{new.middle:.0f}{unit} in the middle take, {old.middle:.0f}{unit} the week before"
    sentence = f"{words}: {values}."
    return sentence[0].upper() + sentence[1:]


def _shows(change: float, *, unit: str) -> bool:
    """Whether the change is seen in the rounded numbers at all."""
    return abs(change) >= (1.0 if unit else 0.01)


def _error(group: Group, measure: str) -> float:
    """Standard error of the middle: from take to take, and of each reading."""
    found: list[Measure] = [m for take in group.takes if (m := take.measures.get(measure))]
    values = np.array([one.value for one in found])
    reading = np.array([one.error or 0.0 for one in found])
    between = values.std(ddof=1) / np.sqrt(values.size)
    within = np.sqrt(np.sum(reading**2)) / values.size
    return float(MEDIAN_OVER_MEAN * max(between, within))
