"""What the ladder needs to know of a take: when, what was asked, what was measured."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

from labcore.errors import LabError
from labcore.model import Context, Measure, Report, Task

_NOTHING_ASKED = Task()
_NOTHING_SAID = Context()


def aware(moment: datetime) -> datetime:
    """The moment itself, checked to carry its time zone: else no day can be told."""
    if not isinstance(moment, datetime):
        raise LabError(
            f"{moment!r:.40} is no moment; give a datetime with its time zone, or leave it out."
        )
    if moment.tzinfo is None:
        raise LabError(
            f"{moment:%Y-%m-%d %H:%M} carries no time zone; give one, so that takes of one day "
            "can be told from takes of two."
        )
    return moment


@dataclass(frozen=True, slots=True)
class HeldValue:
    """A stretch of a take that stayed in one note value; ``named`` is 1 to 6 or None."""

    named: int | None
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class PastTake:
    """A take as remembered: no sound and no pitch line, only what it said.

    ``recorded`` carries its time zone, so that 'the same day' means the player's own day.
    ``exercise`` is the name of the rung it was played for, if the player said so.
    """

    recorded: datetime
    task: Task = _NOTHING_ASKED
    context: Context = _NOTHING_SAID
    measures: Mapping[str, Measure] = field(default_factory=dict)
    held: tuple[HeldValue, ...] = ()
    exercise: str | None = None
    take_id: str = ""
    sha256: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        aware(self.recorded)
        object.__setattr__(self, "measures", MappingProxyType(dict(self.measures)))

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        values = (self.recorded, self.task, self.context, dict(self.measures), self.held)
        return type(self), (*values, self.exercise, self.take_id, self.sha256, self.remark)


def past_take(report: Report, *, recorded: datetime, exercise: str | None = None) -> PastTake:
    """A report as the ladder remembers it."""
    return PastTake(
        recorded=recorded,
        task=report.task,
        context=report.context,
        measures={name: value for name, value in report.measures.named() if value is not None},
        held=tuple(HeldValue(fit.named, fit.start_s, fit.end_s) for fit in report.stretches),
        exercise=exercise,
        sha256=report.take.facts.sha256,
    )
