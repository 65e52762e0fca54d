"""A report as plain rows: the one table behind the log, its exports and the class picture."""

from collections.abc import Iterator

from labcore.model import Report

WHOLE_TAKE = -1
Row = dict[str, str | int | float | None]


def rows(report: Report) -> Iterator[Row]:
    """One dictionary a measure: take, note (-1 is the whole take), name, value, spread, ...

    ``pandas.DataFrame(rows(report))`` makes a table of it for whoever has pandas.
    """
    for name, measure in report.measures.named():
        if measure is not None:
            yield {
                "take": report.take.facts.name,
                "note": WHOLE_TAKE,
                "name": name,
                "value": measure.value,
                "spread": measure.spread,
                "error": measure.error,
                "unit": measure.unit,
                "n": measure.n,
            }
