"""Numbers with unit, count, spread and error from a take's waves; one row a `Measures` field.

Every spread here is taken around a smooth trend, wave by wave within one pluck and one note
value: a swell, a dying note or a gathering of speed is music, and is reported by rows of its own.
A row that cannot be measured is None and says why in ``declined``. Each row is a function of
`Heard`; the modules hold them by family: `time`, `width`, `home`, `shape`, `quality`.
"""

from collections.abc import Callable, Sequence

from labcore.measures import home, quality, shape, time, width
from labcore.measures.heard import DeclinedError, Heard
from labcore.measures.home import HOME_CENTS
from labcore.measures.quality import STRAY_DB
from labcore.metre import Beat
from labcore.model import GridFit, Measure, Measures, NoteReport, Take, VibratoCycle

__all__ = ["HOME_CENTS", "STRAY_DB", "measure"]

Row = Callable[[Heard], Measure]

ROWS: dict[str, Row] = {
    "plain_note": home.plain_note,
    "rate": time.rate,
    "cycles_per_beat": time.cycles_per_beat,
    "rate_error": time.rate_error,
    "time_evenness": time.time_evenness,
    "lock": time.lock,
    "asynchrony": time.asynchrony,
    "offset": time.offset,
    "drift": time.drift,
    "extent": width.extent,
    "extent_evenness": width.extent_evenness,
    "extent_trend": width.extent_trend,
    "return_to_pitch": home.return_to_pitch,
    "returned_share": home.returned_share,
    "undershoot": home.undershoot,
    "direction": home.direction,
    "mean_shift": home.mean_shift,
    "shape": shape.shape,
    "rise_share": shape.rise_share,
    "roughness": shape.roughness,
    "onset_delay": shape.onset_delay,
    "finish": home.finish,
    "amplitude_modulation": shape.amplitude_modulation,
    "alternation": width.alternation,
    "swing": time.swing,
    "confidence": quality.confidence,
}


def measure(
    take: Take,
    *,
    notes: Sequence[NoteReport],
    cycles: Sequence[VibratoCycle],
    stretches: Sequence[GridFit] = (),
    beat: Beat | None = None,
) -> Measures:
    """All rows of a take; a row is None where the take does not tell, with the reason beside."""
    heard = Heard(take, notes, cycles, stretches, beat)
    rows: dict[str, Measure] = {}
    declined: dict[str, str] = {}
    for name, row in ROWS.items():
        try:
            rows[name] = row(heard)
        except DeclinedError as reason:
            declined[name] = str(reason)
    return Measures(**rows, declined=declined)
