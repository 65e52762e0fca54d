"""The words of the take panel as HTML: what was heard, one praise, one thing to work on, all rows.

Everything that came from outside (names of files and players, a teacher's words) is escaped.
"""

from dataclasses import fields
from html import escape

from labcore.beats import NOTE_VALUES
from labcore.exercises import remedy
from labcore.figures.words import is_judged, landing_counts
from labcore.findings import bands, choose, describe
from labcore.model import Finding, Landing, Measure, Measures, Report, Verdict

CENTS_EXPLAINED = "100 cents = one fret"
# A mark before each sentence, so that praise and work are told apart without colour.
MARKS = {Verdict.SETTLED: "+", Verdict.NEARLY: "!", Verdict.WORK: "!", Verdict.NOT_ENOUGH: "?"}


def words_html(report: Report, *, guess: str | None = None, first: str | None = None) -> str:
    """What a player reads first: description, one praise, one thing to work on, one remedy.

    ``first`` is the kind of a finding that the teacher wants to be said before all others.
    """
    choice = choose(report)
    lead = next((f for f in report.findings if f.kind == first), None)
    praise, work = choice.praise, choice.work
    if lead is not None and lead.verdict is Verdict.SETTLED:
        praise = lead
    elif lead is not None:
        work = lead
    said = [_said("praise", praise), _said("work", work) + _to_do(report, finding=work)]
    parts = [
        *[_line("heard", "", remark) for remark in report.take.facts.warnings],
        *_guessed(report, guess=guess),
        _line("heard", "", _explained(" ".join(describe(report) if is_judged(report) else ()))),
        *(said[::-1] if lead is not None and lead is work else said),
    ]
    inside = "".join(parts) or _line("heard", "", "There is nothing to say about this take.")
    return f'<div class="labcore-says" role="region" aria-label="what I heard">{inside}</div>'


def _line(kind: str, mark: str, sentence: str) -> str:
    if not sentence:
        return ""
    sign = f'<span class="labcore-mark" aria-hidden="true">{mark}</span>' if mark else ""
    return f'<p class="labcore-{kind}">{sign}{escape(sentence)}</p>'


def _explained(sentence: str) -> str:
    """Cents are explained where they first appear on the screen."""
    return sentence.replace(" cents", f" cents ({CENTS_EXPLAINED})", 1)


def _guessed(report: Report, *, guess: str | None) -> list[str]:
    counts = landing_counts(report)
    judged = sum(counts[kind] for kind in Landing if kind is not Landing.UNKNOWN)
    if guess not in ("all", "most", "few") or not judged:
        return []
    told = f"Your guess was “{guess}”: {counts[Landing.HOME]} of {judged} came home."
    return [_line("heard", "", told)]


def _said(kind: str, finding: Finding | None) -> str:
    if finding is None:
        return ""
    mark = MARKS[finding.verdict]
    if finding.overruled_by is None:
        return _line(kind, mark, finding.sentence)
    return _line(kind, mark, f"{finding.overruled_by} (the teacher's words)")


def _further(report: Report) -> str:
    """Where to go from a take that asks for no work: one new difficulty, and no order."""
    named = {fit.named for fit in report.stretches}
    value = named.pop() if len(named) == 1 else None
    tempo_bpm = report.task.tempo_bpm or 0.0
    at_ease = value is not None and tempo_bpm / 60.0 * (value + 1) < bands.NERVOUS_HZ
    if value is not None and value < max(NOTE_VALUES) and at_ease:
        return (
            f"Nothing to mend here. If you like, take {value + 1} to the click at the same tempo, "
            "or play the same with another finger."
        )
    return "Nothing to mend here. If you like, play the same with another finger or string."


def _to_do(report: Report, *, finding: Finding | None) -> str:
    """What to do now: about the finding, or the next step where nothing asks for work.

    A sentence that declines to judge says itself what would help.
    """
    if not is_judged(report) or (finding and finding.verdict is Verdict.NOT_ENOUGH):
        return ""
    if finding is None or finding.verdict is Verdict.SETTLED:
        return _line("remedy", "→", _further(report))
    found = remedy(finding.kind, report=report)
    return _lines(found.sentence, found.listen, found.caution)


def _lines(doing: str, listen: str, caution: str) -> str:
    listening = f"Listen: {listen}" if listen else ""
    lines = [_line("remedy", "→", doing), _line("listen", "", listening)]
    return "".join([*lines, _line("caution", "", caution)])


# --- all measures ---------------------------------------------------------------------------------


def number_words(value: float, *, unit: str) -> str:
    """A number as it is printed in the table: as many digits as its unit deserves.

    >>> number_words(49.62, unit="cents"), number_words(3.6, unit="Hz"), number_words(0.98, unit="")
    ('50 cents', '3.6 a second', '0.98')
    """
    digits = {"cents": 0, "%": 0, "ms": 0, "Hz": 1, "s": 2, "dB": 1, "%/s": 1}.get(unit, 2)
    if digits == 0 and abs(value) < 10:
        digits = 1
    text = f"{value:.{digits}f}"
    text = text.lstrip("-") if float(text) == 0 else text
    spoken = {"Hz": "a second", "per beat": "to the click", "%/s": "% a second"}.get(unit, unit)
    return f"{text} {spoken}".strip()


def measures_html(report: Report) -> str:
    """Every measure with its uncertainty, spread and count; what is missing says why."""
    rows = []
    for part in fields(Measures):
        if part.name == "declined":
            continue
        found: Measure | None = getattr(report.measures, part.name)
        words = part.metadata["words"]
        if found is None:
            why = report.measures.declined.get(part.name, "not measured in this take")
            rows.append(_row(words, f"<td colspan='4' class='labcore-why'>{escape(why)}</td>"))
        else:
            rows.append(_row(words, _cells(found)))
    head = "<tr><th></th><th>value</th><th>give or take</th><th>varies by</th><th>from</th></tr>"
    foot = f"<p class='labcore-note'>{CENTS_EXPLAINED}. Width is always bottom to top.</p>"
    return f"<table class='labcore-table'>{head}{''.join(rows)}</table>{foot}"


def _size_words(size: float | None, *, unit: str) -> str:
    """A spread or an uncertainty; one too small to print is not printed as nothing at all."""
    if size is None:
        return ""
    words = number_words(size, unit=unit)
    digits, _, spoken = words.partition(" ")
    if size > 0 and float(digits) == 0:
        return f"under {digits[:-1]}1 {spoken}".strip()
    return words


def _row(words: str, cells: str) -> str:
    return f"<tr><th scope='row'>{escape(words)}</th>{cells}</tr>"


def _cells(found: Measure) -> str:
    parts = [
        number_words(found.value, unit=found.unit),
        _size_words(found.error and 2.0 * found.error, unit=found.unit),
        _size_words(found.spread, unit=found.unit),
        str(found.n),
    ]
    return "".join(f"<td>{escape(part)}</td>" for part in parts)


def evidence_html(report: Report) -> str:
    """Each finding with its verdict and the numbers it stands on, in order of importance."""
    items = [
        f"<li><b>{escape(f.sentence)}</b> <span class='labcore-verdict'>{escape(f.verdict)}</span>"
        f"<br>{escape(f.evidence)}{_overruled(f)}</li>"
        for f in report.findings
    ]
    left = [f"<li>{escape(d.why)}, at {d.start_s:.1f} s</li>" for d in report.dropped[:12]]
    more = f"<p>Heard but not counted:</p><ul>{''.join(left)}</ul>" if left else ""
    return f"<ol class='labcore-evidence'>{''.join(items)}</ol>{more}"


def _overruled(finding: Finding) -> str:
    if finding.overruled_by is None:
        return ""
    return f"<br>The teacher hears it differently: {escape(finding.overruled_by)}"
