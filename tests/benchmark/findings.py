"""Are the right faults found, and no others? Some thousands of takes of known truth, as sound.

    python -m tests.benchmark.findings                    400 takes
    python -m tests.benchmark.findings --takes 3000       the table of the README
    python -m tests.benchmark.findings --seed 2           other takes
    python -m tests.benchmark.findings --wrong            every take that came out wrong, by number
    python -m tests.benchmark.findings --only 17          what is said of one take

Prints Markdown. Every take is made into sound, heard and judged as a player's would be; the same
number and seed give the same take on every machine, whatever ``--workers`` says.
"""

import argparse
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

from labcore.analysis import hear, judge
from labcore.model import Finding, Report, Verdict
from tests.benchmark.findings_takes import (
    EVERYTHING,
    FAIR,
    FAULTLESS,
    PLANTED,
    UNJUDGEABLE,
    KnownTake,
    known_take,
)
from tests.made import sound_of

CLEAR = 2.0  # a fault this many times as large as the edge of its band must be found
# What may truly be said of a fault besides its own kind, because it cannot be without it.
FOLLOWS = {
    "even_time": ("lock",),  # waves of uneven length cannot all sit on an even grid
    "tempo": ("lock",),  # nor can waves of another speed
    "drift": ("tempo", "lock"),  # a speed that changes is told as one; nor can such waves sit there
    "return": (
        "plain_note",
    ),  # waves that rest where they stop short begin from a note moved there
    "direction": ("return",),  # lows under the plain note do not come back to it
    "both_ways": ("note_value",),  # each swing of the hand bends the string twice: twice the waves
}
NAMED_AS = {"drift": "tempo"}
# A fault that hides another one, so that the chain is right to be silent about the second: waves
# of uneven length or width have neither a speed nor a place on the click, too shy ones are not
# counted and double the length of their neighbours, and a wandering plain note is no home.
HIDES = {
    "even_width": ("even_time", "tempo", "lock", "note_value"),
    "even_time": ("tempo", "lock", "note_value"),
    "plain_note": ("return", "direction"),
}


@dataclass(frozen=True)
class Outcome:
    """What was said of a take, against what is true of it."""

    take: KnownTake
    findings: tuple[Finding, ...]

    def verdict(self, kind: str) -> Verdict | None:
        return next((f.verdict for f in self.findings if f.kind == kind), None)

    @property
    def named(self) -> set[str]:
        """The faults that were named."""
        return {f.kind for f in self.findings if f.verdict is Verdict.WORK}

    @property
    def true(self) -> set[str]:
        """The faults that may be named: those beyond their band, and what follows from any.

        A speed within its band walks off the click all the same, in long enough a bar.
        """
        kinds = {fault.kind for fault in self.take.faults if fault.size >= 1.0}
        return kinds.union(*(FOLLOWS.get(fault.kind, ()) for fault in self.take.faults))

    @property
    def invented(self) -> set[str]:
        """The worst error: a fault named that is not there."""
        return self.named - self.true

    def found(self, kind: str) -> str:
        """How a planted fault fared: found, undecided or missed."""
        if self.named & {kind, *FOLLOWS.get(kind, ())}:
            return "found"
        if self.verdict(NAMED_AS.get(kind, kind)) in (Verdict.SETTLED, Verdict.NEARLY):
            return "missed"
        return "undecided"

    @property
    def declined(self) -> bool:
        """Whether nothing was said of what cannot be judged, and nothing was faulted."""
        said = {f.kind for f in self.findings if f.verdict is not Verdict.NOT_ENOUGH}
        if EVERYTHING in self.take.declines:
            return not said
        return not self.named & {*self.take.declines} and not said & {*self.take.declines}

    @property
    def wrong(self) -> bool:
        """Whether a teacher would shake their head."""
        if self.take.group == UNJUDGEABLE:
            return not self.declined
        clear = [f for f in self.take.faults if f.size >= CLEAR]
        lost = [f for f in clear if self.found(f.kind) != "found" and not _hidden(f.kind, self)]
        return bool(self.invented or lost)


def _hidden(kind: str, outcome: Outcome) -> bool:
    """Whether another planted fault, which was named, hides this one."""
    others = {fault.kind for fault in outcome.take.faults if fault.kind != kind}
    return any(kind in HIDES.get(other, ()) for other in others & outcome.named)


def outcome_of(number: int, *, seed: int) -> Outcome:
    """The take of this number, made into sound, heard and judged."""
    take = known_take(number, seed=seed)
    return Outcome(take, report_of(take, seed=seed).findings)


def report_of(take: KnownTake, *, seed: int) -> Report:
    """The whole chain on the sound of a take."""
    return judge(hear(sound_of(take.description, seed=seed + take.number)), take.task)


def outcomes_of(numbers: Sequence[int], *, seed: int, workers: int = 1) -> list[Outcome]:
    """All takes, in order, in this process or in several."""
    one = partial(outcome_of, seed=seed)
    if workers <= 1:
        return [one(number) for number in numbers]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(one, numbers, chunksize=8))


# --- the tables --------------------------------------------------------------------------------


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines)


def share(part: int, whole: int) -> str:
    """A count and its share.

    >>> share(19, 20)
    '19 of 20 (95 %)'
    """
    return f"{part} of {whole} ({100.0 * part / whole:.3g} %)" if whole else "none"


def of_kind(outcomes: Sequence[Outcome], kind: str, *, pairs: bool) -> list[Outcome]:
    """Planted takes of a kind, alone or in pairs."""
    return [
        one
        for one in outcomes
        if (len(one.take.faults) > 1) == pairs and kind in {f.kind for f in one.take.faults}
    ]


def planted_rows(outcomes: Sequence[Outcome]) -> Iterable[list[str]]:
    """One row a planted kind: how it fared alone where it is clear, and where it is smaller."""
    alone = [one for one in outcomes if len(one.take.faults) == 1]
    for kind in sorted({one.take.faults[0].kind for one in alone}):
        takes = of_kind(alone, kind, pairs=False)
        yield planted_row(kind, takes, kind=kind)
    yield planted_row("**all, alone**", alone)


def planted_row(name: str, takes: Sequence[Outcome], *, kind: str | None = None) -> list[str]:
    """Found, undecided, missed and other fault named, of clear faults; found, of smaller ones."""
    sizes = [(one, one.take.faults[0]) for one in takes]
    clear = [one for one, fault in sizes if fault.size >= CLEAR or fault.kind == "note_value"]
    middle = [one for one, fault in sizes if one not in clear and fault.size >= 1.0]
    small = [one for one, fault in sizes if fault.size < 1.0]
    fates = [one.found(one.take.faults[0].kind) for one in clear]
    return [
        name,
        share(fates.count("found"), len(clear)),
        str(fates.count("undecided")),
        str(fates.count("missed")),
        str(sum(bool(one.invented) for one in takes)),
        share(sum(one.found(one.take.faults[0].kind) == "found" for one in middle), len(middle)),
        share(sum(bool(one.invented) for one in small), len(small)),
    ]


PLANTED_HEAD = (
    "planted alone",
    "found, over twice the band",
    "undecided",
    "missed",
    "other fault named",
    "found, one to two bands",
    "named, within the band",
)


def pair_rows(outcomes: Sequence[Outcome]) -> Iterable[list[str]]:
    """Two faults at once: at least one named, both named or hidden, a third named."""
    pairs = [one for one in outcomes if len(one.take.faults) > 1]
    least = [one for one in pairs if one.named & one.true]
    both = [one for one in least if not one.wrong or one.invented]
    yield ["at least one of the two named", share(len(least), len(pairs))]
    yield ["both named, or the second hidden by the first", share(len(both), len(pairs))]
    yield ["a third fault named", share(sum(bool(one.invented) for one in pairs), len(pairs))]


def group_rows(outcomes: Sequence[Outcome]) -> Iterable[list[str]]:
    """Faultless, unjudgeable and fair takes."""
    for group, words in (
        (FAULTLESS, "faultless: a fault named"),
        (FAIR, "fair music: a fault named"),
    ):
        takes = [one for one in outcomes if one.take.group == group]
        yield [words, share(sum(bool(one.named) for one in takes), len(takes))]
    takes = [one for one in outcomes if one.take.group == UNJUDGEABLE]
    yield ["unjudgeable: declined", share(sum(one.declined for one in takes), len(takes))]


def report(outcomes: Sequence[Outcome]) -> str:
    """Both tables."""
    planted = [one for one in outcomes if one.take.group == PLANTED]
    rest = [*pair_rows(planted), *group_rows(outcomes)]
    return f"{table(PLANTED_HEAD, planted_rows(planted))}\n\n{table(('other takes', ''), rest)}"


def told(one: Outcome) -> str:
    """A take and what was said of it, on one line."""
    said = "; ".join(f"{f.kind}: {f.verdict} ({f.evidence})" for f in one.findings)
    asked = one.take.task
    return (
        f"- {one.take.name} [{one.take.group}; {asked.technique}, {asked.cycles_per_beat} at "
        f"{asked.tempo_bpm}]: {said}"
    )


def main() -> None:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--takes", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--wrong", action="store_true", help="list every take that came out wrong")
    parser.add_argument("--only", type=int, help="one take, by its number")
    chosen = parser.parse_args()
    if chosen.only is not None:
        print(told(outcome_of(chosen.only, seed=chosen.seed)))
        return
    outcomes = outcomes_of(range(chosen.takes), seed=chosen.seed, workers=chosen.workers)
    print(report(outcomes))
    if chosen.wrong:
        print("\n" + "\n".join(told(one) for one in outcomes if one.wrong))


if __name__ == "__main__":
    main()
