"""Of all findings, the one praise and the one thing to work on that a player meets first."""

from dataclasses import dataclass

from labcore.findings import bands, words
from labcore.model import Finding, Report, Verdict

# A praise is for what the player did; that a note stands still comes last among them.
PRAISE_ORDER = ("return", "lock", "even_width", "even_time", "direction", "tempo", "note_value",
                "plain_note")  # fmt: skip
GROWTH_PERCENT_A_SECOND = 15.0  # a slower change of width is not spoken of (common practice)
LATE_START_S = 0.5


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


GATES = ("confidence", "two_strings", "click")


def describe(report: Report) -> tuple[str, ...]:
    """What was heard, in words that judge nothing: speed, width, direction, growth, late start."""
    measures = report.measures
    rate, width = measures.rate, measures.extent
    if rate is None or width is None:
        return ()
    sentences = [
        words.HEARD.format(
            rate=words.capital("about " + words.rate(rate.value)),
            width=words.cents(width.value),
            direction=_direction(report),
        )
    ]
    trend = measures.extent_trend
    if (
        trend is not None
        and abs(trend.value) - 2.0 * (trend.error or 0.0) > GROWTH_PERCENT_A_SECOND
    ):
        sentences.append(words.GROWS if trend.value > 0 else words.SHRINKS)
    delay = measures.onset_delay
    if delay is not None and delay.value >= LATE_START_S:
        sentences.append(words.LATE_START.format(seconds=words.seconds(delay.value)))
    return tuple(sentences)


def _direction(report: Report) -> str:
    measure = report.measures.direction
    if measure is None or 2.0 * (measure.error or 0.0) > 2.0 * bands.TELLING_ERROR:
        return ""
    low, high = bands.CLEAN_ONE_WAY
    if low <= measure.value <= high:
        return words.HEARD_UP
    if low <= -measure.value <= high:
        return words.HEARD_DOWN
    return words.HEARD_BOTH if abs(measure.value) <= bands.SIDES_ALIKE else ""
