"""What a room needs next: counts over many takes, made so that nobody is pointed at.

No names, no order of merit, no totals; for fewer than five takes words only, and nothing is said
about a fault that only one take has. (A ranking made pupils worse in one school study: Bursztyn &
Jensen 2015, abstract. The number five is common practice, no source.)
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labcore.model import Report, Verdict

LEAST_FOR_A_PICTURE = 5
LEAST_WITH_ONE_NEED = 2  # a fault of one take is that player's, not the room's

# In the order of importance in which findings are made; the words a room reads.
NEEDS = {
    "plain_note": "a steady plain note",
    "return": "coming home",
    "direction": "one direction",
    "both_ways": "one push a wave",
    "even_width": "even width",
    "pace": "slow and wide before quick",
    "even_time": "even time",
    "note_value": "the right note value",
    "tempo": "keeping the speed",
    "lock": "sitting on the click",
}


@dataclass(frozen=True, slots=True)
class Need:
    """How many takes of a room stand where in one matter."""

    kind: str
    work: int
    nearly: int
    settled: int

    @property
    def words(self) -> str:
        return NEEDS[self.kind]

    @property
    def judged(self) -> int:
        return self.work + self.nearly + self.settled

    @property
    def shown(self) -> bool:
        """Whether a picture may show it: enough takes that no dot is one player's."""
        return self.judged >= LEAST_FOR_A_PICTURE


@dataclass(frozen=True, slots=True)
class Room:
    """All takes of an evening together."""

    takes: int
    needs: tuple[Need, ...]  # in order of importance

    @property
    def may_show_picture(self) -> bool:
        return self.takes >= LEAST_FOR_A_PICTURE

    @property
    def next(self) -> Need | None:
        """What most takes have to work on, the more important of two alike; None if nothing."""
        shared = [need for need in self.needs if need.work >= LEAST_WITH_ONE_NEED]
        return max(shared, key=lambda need: need.work, default=None)

    def need(self, kind: str) -> Need | None:
        return next((need for need in self.needs if need.kind == kind), None)


def room_of(reports: Iterable[Report]) -> Room:
    """Count the verdicts of many takes; what a teacher overruled is left out."""
    kept = list(reports)
    return Room(len(kept), tuple(need for kind in NEEDS if (need := _need(kind, kept)).judged))


def _need(kind: str, reports: Sequence[Report]) -> Need:
    verdicts = [
        finding.verdict
        for report in reports
        for finding in report.findings
        if finding.kind == kind and finding.overruled_by is None
    ]
    return Need(
        kind,
        work=verdicts.count(Verdict.WORK),
        nearly=verdicts.count(Verdict.NEARLY),
        settled=verdicts.count(Verdict.SETTLED),
    )


def room_words(room: Room, *, before: Room | None = None) -> tuple[str, ...]:
    """What may be said aloud to the whole room; ``before`` is an earlier evening."""
    if room.takes == 0:
        return ("There are no takes yet.",)
    told = [_next_words(room)]
    if good := _good_words(room):
        told.append(good)
    if before is not None and (change := _change_words(room, before=before)):
        told.append(change)
    return tuple(told)


def _next_words(room: Room) -> str:
    need = room.next
    if need is None:
        return "No one thing stands out for the whole room: let each work on their own sheet."
    if not (room.may_show_picture and need.shown):
        return f"Next for the room: {need.words}."
    return f"Next for the room: {need.words}, in {need.work} of {need.judged} takes."


def _good_words(room: Room) -> str | None:
    """What more than half of all takes have settled."""
    good = [need for need in room.needs if 2 * need.settled > room.takes and need.judged > 1]
    if not good:
        return None
    *most, last = [need.words for need in good]
    return f"Already there for most: {', '.join(most)}{' and ' if most else ''}{last}."


def _change_words(room: Room, *, before: Room) -> str | None:
    need = before.next
    if need is None or not need.shown:
        return None
    now = room.need(need.kind)
    if now is None or not now.shown:
        return None
    old, new = need.work / need.judged, now.work / now.judged
    if abs(new - old) < 1.0 / min(need.judged, now.judged):
        return f"As last evening: {need.words}."
    if new < old:
        return (
            f"Since last evening: {need.words} has come closer, open in {now.work} of "
            f"{now.judged} takes after {need.work} of {need.judged}."
        )
    return f"Since last evening: {need.words} is open in more takes; that happens as tasks grow."
