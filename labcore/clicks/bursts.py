"""How much every moment of a recording stands out over the moments before and after it.

Per frame and frequency bin, the level over the largest level a little before and a little after,
in the neighbouring bins too. A steady or dying partial gives nothing, nor does a pluck, whose
note goes on; a vibrato moves a partial by less than the neighbouring bins; a click gives its
level over the sound around it.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats

Levels = NDArray[np.floating]

WINDOW_S = 0.022  # two periods of the lowest note; a click of 5 to 30 ms fills it
HOPS_A_WINDOW = 4
# Band edges in Hz, about half an octave apart; the lowest two only tell a pluck.
EDGES_HZ = (70, 160, 250, 400, 600, 850, 1150, 1500, 2000, 2700, 3600, 4800, 6500, 9000)
PLUCK_BANDS = 2
BEFORE_S, AFTER_S = 0.028, 0.050  # past the click on either side, with half a window to spare
FLOOR_DB = -100.0  # under this is nothing to hear, so nothing to stand out over
MOST_DB = 15.0  # a bin that stands out more counts no more
STRONGEST_BANDS = 3  # a beep is heard in few bands, a tick in many
BATCH_FRAMES = 256

EVENT_APART_S = 0.04
EVENT_DB = 3.0
# A note sounds on: after 60 to 80 and 140 to 160 ms it is louder than just before.
RISE_DB = 3.0
RISEN_BANDS = 3
RISE_ALL_DB = 2.0
KEPT_DB = 10.0  # fallen by more since its start, it is the room after a click
FAINT_DB = 40.0
RINGING_DB = 0.6  # made takes: clicks -3 to -0.2, plucks 2 to 13


@dataclass(frozen=True, slots=True, eq=False)
class Bursts:
    """Standing out, frame by frame, in dB; the frames are ``step_s`` apart, the first at 0 s."""

    all: Levels  # the strongest bands together, shape (frames,)
    bin: Levels  # shape (frames, bins)
    level_db: Levels  # plain level of each bin, shape (frames, bins)
    around_db: Levels  # plain level of the sound round each moment, shape (frames, bins)
    band_db: Levels  # plain level of each band, shape (frames, bands)
    bin_hz: Floats
    step_s: float
    ear: Levels | None = None  # what each bin counts, shape (bins,); None where all count alike


def bursts(samples: NDArray[np.float32], *, sample_rate_hz: float) -> Bursts:
    """What stands out in the samples."""
    window = 2 ** round(np.log2(WINDOW_S * sample_rate_hz))
    step_s = window / HOPS_A_WINDOW / sample_rate_hz
    edges = np.array([hz for hz in EDGES_HZ if hz < 0.475 * sample_rate_hz])
    cut = np.ceil(edges * window / sample_rate_hz).astype(int)
    power = _power(samples, window=window, first=cut[0], last=cut[-1])
    band_db = 10.0 * np.log10(np.add.reduceat(power, cut[:-1] - cut[0], axis=1))
    upper = cut[PLUCK_BANDS:] - cut[PLUCK_BANDS]
    level_db = 10.0 * np.log10(power[:, cut[PLUCK_BANDS] - cut[0] :])
    around_db = _around(level_db, step_s=step_s)
    out = np.clip(level_db - around_db, 0.0, MOST_DB)
    bands = np.add.reduceat(out, upper[:-1], axis=1) / np.diff(upper)
    strongest = np.sort(bands, axis=1)[:, -STRONGEST_BANDS:].mean(axis=1)
    bin_hz = np.arange(cut[PLUCK_BANDS], cut[-1]) * sample_rate_hz / window
    return Bursts(strongest, out, level_db, around_db, band_db, bin_hz, step_s)


def _power(samples: NDArray[np.float32], *, window: int, first: int, last: int) -> Levels:
    """Power of the bins ``first`` to ``last``, full scale 1; shape (frames, bins)."""
    padded = np.pad(samples, window // 2)
    frames = np.lib.stride_tricks.sliding_window_view(padded, window)[:: window // HOPS_A_WINDOW]
    shape = np.hanning(window).astype(np.float32)
    power = np.empty((len(frames), last - first), dtype=np.float32)
    for start in range(0, len(frames), BATCH_FRAMES):
        batch = np.fft.rfft(frames[start : start + BATCH_FRAMES] * shape, axis=1)[:, first:last]
        power[start : start + BATCH_FRAMES] = batch.real**2 + batch.imag**2
    power *= np.float32((4.0 / window) ** 2)  # a sine's peak amplitude squared
    power += np.float32(10.0 ** (FLOOR_DB / 10.0))
    return power


def _around(level_db: Levels, *, step_s: float) -> Levels:
    """The largest level a little before and after each moment, also in the neighbouring bins."""
    before, after = round(BEFORE_S / step_s), round(AFTER_S / step_s)
    pad, size = after + 2, len(level_db)
    padded = np.pad(level_db, ((pad, pad), (0, 0)), mode="edge")
    around = np.maximum(padded[pad - before :][:size], padded[pad - before - 1 :][:size])
    for shift in (-before - 2, after, after + 1, after + 2):
        np.maximum(around, padded[pad + shift :][:size], out=around)
    wide = around.copy()
    np.maximum(wide[:, 1:], around[:, :-1], out=wide[:, 1:])
    np.maximum(wide[:, :-1], around[:, 1:], out=wide[:, :-1])
    return wide


def event_frames(heard: Bursts) -> NDArray[np.intp]:
    """Frames at which something short stands out."""
    reach = int(EVENT_APART_S / heard.step_s)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(heard.all, reach), 2 * reach + 1)
    return np.flatnonzero((heard.all >= around.max(axis=1)) & (heard.all >= EVENT_DB))


def are_plucks(heard: Bursts, *, frames: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which of the events begin a note: louder afterwards, and staying so; shape of ``frames``."""

    round_it = _levels_round(heard, frames=frames)
    after = np.minimum(round_it.soon, round_it.later)
    loud = after > after.max(axis=1, keepdims=True) - FAINT_DB
    risen = (after - round_it.before >= RISE_DB) & loud
    risen &= round_it.later > round_it.start - KEPT_DB
    total = _Levels(*(_total_db(part) for part in round_it))
    total_rise = np.minimum(total.soon, total.later) - total.before
    kept = total.later > total.start - KEPT_DB
    plucks = (risen.sum(axis=1) >= RISEN_BANDS) | ((total_rise >= RISE_ALL_DB) & kept)
    return np.asarray(plucks, dtype=np.bool_)


def rings_on(heard: Bursts, *, frames: NDArray[np.intp]) -> bool:
    """True if most of what sounds is louder after these moments than before: soft plucks.

    What dies away between plucks comes back with each; between clicks it only dies away.
    """
    round_it = _levels_round(heard, frames=frames)
    after = (round_it.soon + round_it.later) / 2.0
    rise = np.median(after - round_it.before, axis=0)
    level = np.median(after, axis=0)
    kept = np.median(round_it.start - round_it.later, axis=0) < KEPT_DB
    counted = kept & (level > level.max() - FAINT_DB)
    return bool(counted.any() and np.median(rise[counted]) > RINGING_DB)


class _Levels(NamedTuple):
    """Levels round an event: just before, of its start, soon after, later."""

    before: Levels
    start: Levels
    soon: Levels
    later: Levels


def _levels_round(heard: Bursts, *, frames: NDArray[np.intp]) -> _Levels:
    """Of each band at each frame; shape (n, bands) each."""

    def level(after_s: float) -> Levels:
        at = np.clip(frames + round(after_s / heard.step_s), 0, len(heard.band_db) - 1)
        return heard.band_db[at]

    return _Levels(
        np.maximum(level(-0.035), level(-0.045)),
        np.max([level(step * heard.step_s) for step in range(-1, 6)], axis=0),
        np.minimum(level(0.06), level(0.08)),
        np.minimum(level(0.14), level(0.16)),
    )


def _total_db(band_db: Levels) -> Levels:
    total: Levels = 10.0 * np.log10(np.sum(10.0 ** (band_db / 10.0), axis=1))
    return total
