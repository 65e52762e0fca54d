"""How well the take could be measured."""

import numpy as np
from numpy.typing import NDArray

from labcore.measures.heard import DeclinedError, Heard
from labcore.model import Measure, PitchContour

GOOD_ERROR_CENTS = 5.0  # a frame known worse than this is not measured well
# Another string this near the note's own level makes the waves doubtful; strings that ring along
# 10 to 25 dB below it are told apart (measured on mixed takes: widths stay within 3 %).
STRAY_DB = -10.0


def confidence(heard: Heard) -> Measure:
    """Share of the notes' frames that are known well and that no other sound disturbs."""
    contour = heard.take.contour
    inside = np.zeros(contour.time_s.size, dtype=bool)
    for note in heard.take.notes:
        inside[contour.frames(note.onset_s, note.offset_s)] = True
    if not inside.any():
        raise DeclinedError("no note was heard")
    return Measure(100.0 * float(np.mean(sure(contour)[inside])), "%", int(inside.sum()))


def sure(contour: PitchContour) -> NDArray[np.bool_]:
    """True on every frame whose pitch is known well and that no other sound disturbs."""
    known = np.nan_to_num(contour.error_cents, nan=np.inf) <= GOOD_ERROR_CENTS
    alone = np.nan_to_num(contour.stray_db, nan=-np.inf) <= STRAY_DB
    return np.asarray(contour.voiced & known & alone)
