"""What stands on a sheet: records in, words and small drawings out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from labcore.beats import NOTE_VALUES, wave_rate_hz
from labcore.errors import LabError
from labcore.exercises import Exercise, PastTake, Rung, next_exercise, remedy, spoken
from labcore.exercises.ladder import USUAL_TEMPO_BPM
from labcore.findings import choose
from labcore.model import Report, Verdict

LONGEST_LABEL = 60


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page. Empty words are lines to write on."""

    player: str
    day: str
    guitar: str
    rung: Rung
    why: str
    report: Report | None
    praise: str
    work: str
    remedy: str

    @property
    def tempo_bpm(self) -> float:
        return self.rung.tempo_bpm or USUAL_TEMPO_BPM

    @property
    def values(self) -> tuple[int, ...]:
        """Note values to engrave, each once, in the order played; (0,) is a plain note."""
        return tuple(dict.fromkeys(self.rung.values)) or (0,)

    @property
    def value_words(self) -> str:
        """The note value as it is said: '3 to the click (triplets)'."""
        if not self.rung.values or self.rung.tempo_bpm is None:
            return "without a click"
        if len(self.rung.values) == 1:
            value = self.rung.values[0]
            return f"{value} to the click ({NOTE_VALUES[value]})"
        return ", ".join(map(str, self.rung.values)) + " to the click"

    @property
    def speeds(self) -> tuple[tuple[int, str, str, str], ...]:
        """The table of note values at this tempo: number, name, syllables, waves a second."""
        return tuple(
            (
                value,
                name,
                spoken(value),
                f"{wave_rate_hz(self.tempo_bpm, cycles_per_beat=value):.1f}",
            )
            for value, name in NOTE_VALUES.items()
        )


def sheet(
    report: Report | None = None,
    *,
    exercise: Exercise | Rung | None = None,
    history: Sequence[PastTake] = (),
    player: str | None = None,
    on: date | None = None,
    guitar: str = "",
) -> Sheet:
    """A sheet for a take, or without one a sheet to fill in by hand.

    Without an ``exercise`` the next one is chosen from the take and the ``history``. The player is
    the report's, unless given; a label, never a full name.
    """
    chosen = next_exercise(report, history) if exercise is None else exercise
    rung, why = (chosen, "") if isinstance(chosen, Rung) else (chosen.rung, chosen.why)
    praise, work, todo = ("", "", "") if report is None else _said(report)
    label = player if player is not None else report.context.player if report else ""
    return Sheet(
        player=_short(label),
        day=_day_words(on),
        guitar=_short(guitar or (report.context.guitar if report else "")),
        rung=rung,
        why=why,
        report=report,
        praise=praise,
        work=work,
        remedy=todo,
    )


def _said(report: Report) -> tuple[str, str, str]:
    """One praise, one finding, and what to do about it now."""
    choice = choose(report)
    praise = choice.praise.sentence if choice.praise else ""
    if choice.work is None:
        return praise, "", ""
    open_ = choice.work.verdict in (Verdict.WORK, Verdict.NEARLY, Verdict.NOT_ENOUGH)
    todo = remedy(choice.work.kind, report=report).sentence if open_ else ""
    return praise, choice.work.sentence, todo


def _short(label: str) -> str:
    if len(label) > LONGEST_LABEL:
        raise LabError(
            f"The label has {len(label)} letters; up to {LONGEST_LABEL} fit a sheet. A nickname "
            "will do."
        )
    return label


def _day_words(day: date | None) -> str:
    """A date that reads the same everywhere; no date is a line to write on."""
    return "" if day is None else day.isoformat()
