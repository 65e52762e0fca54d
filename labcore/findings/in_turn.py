"""The note values of a take that are more than a stumble on the way."""

from labcore.findings.bands import NAME_PERCENT, VALUE_BEATS
from labcore.model import GridFit, Report


def values_in_turn(report: Report) -> list[int]:
    """The note values that were held near their names for a while, in the order they came in."""
    held: dict[int, float] = {}
    for fit in report.stretches:
        if fit.named is not None and abs(fit.rate_error_percent or 0.0) <= NAME_PERCENT:
            held[fit.named] = held.get(fit.named, 0.0) + _beats(report, fit)
    return [value for value, beats in held.items() if beats >= VALUE_BEATS]


def _beats(report: Report, fit: GridFit) -> float:
    """How long the waves of a stretch take, in beats of the tempo asked."""
    waves_s = sum(report.cycles[int(index)].duration_s for index in fit.cycle)
    return waves_s * (report.task.tempo_bpm or 0.0) / 60.0
