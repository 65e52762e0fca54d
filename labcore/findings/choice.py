"""Of all findings, the one praise and the one thing to work on that a player meets first."""

from dataclasses import dataclass

import numpy as np

from labcore.beats import NOTE_VALUES
from labcore.findings import bands, homes, words
from labcore.findings.in_turn import values_in_turn
from labcore.model import Finding, Measure, Report, Verdict

# A praise is for what the player did; that a note stands still comes last among them.
PRAISE_ORDER = ("return", "lock", "even_width", "even_time", "direction", "tempo", "note_value",
                "plain_note")  # fmt: skip
GATES = ("confidence", "two_strings", "click")  # kinds that keep a take from being judged


@dataclass(frozen=True, slots=True)
class Choice:
    """What stands first on the screen; either may be None."""

    praise: Finding | None
    work: Finding | None


def choose(report: Report) -> Choice:
    """The most important thing to work on, else the nearest miss, else what cannot be said."""
    by_verdict: dict[Verdict, list[Finding]] = {verdict: [] for verdict in Verdict}
    for finding in report.findings:
        if finding.overruled_by is None:
            by_verdict[finding.verdict].append(finding)
    settled = {finding.kind: finding for finding in by_verdict[Verdict.SETTLED]}
    praise = next((settled[kind] for kind in PRAISE_ORDER if kind in settled), None)
    first = by_verdict[Verdict.WORK] or by_verdict[Verdict.NEARLY]
    gate = [f for f in by_verdict[Verdict.NOT_ENOUGH] if praise is None or f.kind in GATES]
    return Choice(praise, next(iter(first or gate), None))


def describe(report: Report) -> tuple[str, ...]:
    """What was heard, in words that judge nothing: speed, width, direction, growth, late start."""
    measures = report.measures
    rate, width = measures.rate, measures.extent
    if width is None:
        return ()
    sentences = [_heard(report, rate, width)]
    trend = measures.extent_trend
    if (
        trend is not None
        and abs(trend.value) - 2.0 * (trend.error or 0.0) > bands.GROWTH_PERCENT_A_SECOND
    ):
        sentences.append(words.GROWS if trend.value > 0 else words.SHRINKS)
    delay = measures.onset_delay
    late = delay is not None and delay.value >= bands.LATE_START_S
    if delay is not None and late and not homes.plain_moved(report):
        sentences.append(words.LATE_START.format(seconds=words.seconds(delay.value)))
    cut = _cut_off(report)
    if cut:
        verb = "wave is" if cut == 1 else "waves are"
        sentences.append(words.CUT_OFF.format(waves=words.capital(f"{words.number(cut)} {verb}")))
    return tuple(sentences)


def _heard(report: Report, rate: Measure | None, width: Measure) -> str:
    """Speed, width and direction; the note values instead of one speed where they change."""
    wide, direction = _wide(report, width), _direction(report)
    if rate is None:
        waves = words.capital(words.count(width.n, "wave"))
        form = words.HEARD_ONE if width.n == 1 else words.HEARD_ALONE
        return form.format(waves=waves, width=wide, direction=direction)
    names = values_in_turn(report)
    if len(names) > 1:
        values = words.capital(words.listed([NOTE_VALUES[k] for k in names]))
        return words.HEARD_IN_TURN.format(values=values, width=wide, direction=direction)
    speed = words.capital("about " + words.rate(rate.value))
    return words.HEARD.format(rate=speed, width=wide, direction=direction)


def _wide(report: Report, width: Measure) -> str:
    """One width; two where the waves have no common one."""
    if (width.spread or 0.0) <= bands.ONE_WIDTH * width.value:
        return words.cents(width.value)
    low, high = np.percentile([wave.extent_cents for wave in report.cycles], [10.0, 90.0])
    return words.RANGE.format(low=f"{low:.0f}", high=words.cents(high))


def _cut_off(report: Report) -> int:
    """Waves that had turned but not come back when their note ended."""
    notes = zip(report.take.notes, report.notes, strict=True)
    return sum(
        judged.cycles != ()
        and note.turns[-1].kind is report.cycles[judged.cycles[-1]].turn.kind
        and note.turns[-1].time_s > report.cycles[judged.cycles[-1]].end_s
        and not any(part.start_s >= note.turns[-1].time_s for part in note.plain_parts)
        for note, judged in notes
    )


def _direction(report: Report) -> str:
    measure = report.measures.direction
    if measure is None or (measure.error or 0.0) > bands.TELLING_ERROR:
        return ""
    low, high = bands.CLEAN_ONE_WAY
    if low <= abs(measure.value) <= high:
        clean, known = homes.one_way(report, up=measure.value > 0.0)
        if clean < bands.HOME_SETTLED * known:
            return ""
        return words.HEARD_UP if measure.value > 0.0 else words.HEARD_DOWN
    return words.HEARD_BOTH if abs(measure.value) <= bands.SIDES_ALIKE else ""
