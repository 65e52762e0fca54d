"""What the picture of a take shows, in a sentence: the text alternative under it."""

from collections import Counter

from labcore.figures.click_marks import other_click_bpm
from labcore.findings import landing
from labcore.findings.bands import LEAST_WAVES
from labcore.findings.words import listed, seconds
from labcore.model import Landing, Report, Verdict
from labcore.units import nearest_note

LANDING_WORDS = {
    Landing.HOME: "came home",
    Landing.NEARLY: "nearly came home",
    Landing.NOT_YET: "did not come home yet",
}

GATES = ("confidence", "two_strings")  # findings that say a take cannot be judged at all


def is_judged(report: Report) -> bool:
    """Whether the waves may be told apart as home, nearly, not yet: no gate stands before them."""
    return not any(f.kind in GATES and f.verdict is Verdict.NOT_ENOUGH for f in report.findings)


def are_waves_told(report: Report) -> bool:
    """Whether there are waves to count: what the tracker makes of two strings or of speech is none.

    A few good waves are counted and shown, though they are too few to be judged.
    """
    return is_judged(report) or len(report.cycles) < LEAST_WAVES


def landing_counts(report: Report) -> Counter[Landing]:
    """How many waves landed where; all unknown in a take that cannot be judged."""
    if not is_judged(report):
        return Counter({Landing.UNKNOWN: len(report.cycles)})
    return Counter(landing(cycle) for cycle in report.cycles)


def take_words(report: Report, *, heads: bool = True, model: Report | None = None) -> str:
    """One sentence with what a reader sees in `take_figure`.

    ``heads`` is False while the reader is to guess where the waves landed.
    """
    if not report.take.notes:
        return f"{report.take.facts.name}: no note was heard, so there is nothing to draw."
    parts = [_asked(report), _waves(report)]
    if heads and (landed := _landed(report)):
        parts.append(landed)
    if model is not None:
        parts.append(f"the dashed line is {model.take.facts.name}")
    return f"{report.take.facts.name}: {'; '.join(p for p in parts if p)}."


def _asked(report: Report) -> str:
    task = report.task
    if task.tempo_bpm is None:
        return "free playing, no click"
    value = f", {task.cycles_per_beat} to the click" if task.cycles_per_beat else ""
    other = other_click_bpm(report)
    but = "" if other is None else f" (the click in the take runs at {other:g})"
    return f"bars at {task.tempo_bpm:g}{value}{but}{_played(report)}"


def _played(report: Report) -> str:
    """The note values heard, where they are not simply the one that was asked."""
    named = [fit.named for fit in report.stretches if fit.named is not None]
    values = [v for k, v in enumerate(named) if named[k - 1 : k] != [v]]
    if not values or not are_waves_told(report) or values == [report.task.cycles_per_beat]:
        return ""
    return f", played {listed([str(value) for value in values])} to the click"


def _waves(report: Report) -> str:
    homes = [judged.home for judged in report.notes if judged.home]
    on = f" on {nearest_note(homes[0].hz)[0]}" if homes else ""
    count = len(report.cycles)
    if not are_waves_told(report):
        return _untold(report)
    if count == 0:
        return f"a plain note{on}, no waves"
    width = report.measures.extent
    wide = "" if width is None else f", {width.value:.0f} cents wide from bottom to top"
    return f"{'one wave' if count == 1 else f'{count} waves'}{on}{wide}"


def _untold(report: Report) -> str:
    two = any(f.kind == "two_strings" for f in report.findings)
    return (
        "another sound rings beside the note, so no waves are counted"
        if two
        else "no waves are counted"
    )


def _landed(report: Report) -> str:
    counts = landing_counts(report)
    told = [f"{counts[kind]} {words}" for kind, words in LANDING_WORDS.items() if counts[kind]]
    return ", ".join(told)


def lasting(duration_s: float) -> str:
    """How long a sound is, as people say it.

    >>> lasting(14.2), lasting(1.04), lasting(0.6)
    ('14 seconds', '1 second', '0.6 seconds')
    """
    return f"{duration_s:.0f} seconds" if duration_s >= 2.0 else seconds(duration_s)
