"""A folder of takes heard in one go: each seat's report, or the sentence that says why not."""

import csv
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from io import StringIO

from labcore.analysis import analyse_many, judge
from labcore.errors import LabError
from labcore.exercises import Seat, next_exercise
from labcore.findings import choose
from labcore.model import Measures, Report
from labcore.practice_log import as_cell

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class ClassTake:
    """One seat's take: a report, or a problem in a sentence."""

    seat: Seat
    report: Report | None
    problem: str = ""


def hear_class(
    seats: Sequence[Seat], *, executor: Executor | None = None, progress: Progress | None = None
) -> tuple[ClassTake, ...]:
    """Hear every seat's take and judge it by what that seat was asked.

    ``executor`` is any ``concurrent.futures.Executor``; None takes one file after the other.
    ``progress`` is called with how many are done, and how many there are.
    """
    takes = []
    for take in _heard(seats, executor=executor):
        takes.append(take)
        if progress is not None:
            progress(len(takes), len(seats))
    return tuple(takes)


def _heard(seats: Sequence[Seat], *, executor: Executor | None) -> Iterator[ClassTake]:
    results = analyse_many([seat.path for seat in seats], executor=executor)
    for seat, result in zip(seats, results, strict=True):
        if isinstance(result, LabError):
            yield ClassTake(seat, None, str(result))
        else:
            yield ClassTake(seat, judge(result.take, seat.task, context=seat.context))


def class_csv(takes: Sequence[ClassTake]) -> str:
    """The teacher's table as CSV text: who needs what, and every measure. Names are in it."""
    names = [name for name, _ in Measures().named()]
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["file", "player", "praise", "work on", "next exercise", "problem", *names])
    for take in takes:
        writer.writerow([as_cell(cell) for cell in _line(take, names=names)])
    return out.getvalue()


def _line(take: ClassTake, *, names: Sequence[str]) -> list[str | float]:
    who: list[str | float] = [take.seat.path.name, take.seat.context.player]
    if take.report is None:
        return [*who, "", "", "", take.problem, *("" for _ in names)]
    choice = choose(take.report)
    said = [one.sentence if one else "" for one in (choice.praise, choice.work)]
    measures = dict(take.report.measures.named())
    values = [m.value if (m := measures[name]) is not None else "" for name in names]
    return [*who, *said, next_exercise(take.report).rung.title, "", *values]
