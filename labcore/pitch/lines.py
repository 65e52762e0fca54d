"""From single coarse frames to pitch lines: octaves joined, blips dropped, small holes bridged."""

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.carrier import Carrier, upsampled
from labcore.pitch.coarse import PEAKS, Candidates
from labcore.pitch.frames import COARSE_HOPS, Grid, filtered, low_pass_taps, running_median, runs

SAME_CLASS_OCTAVES = 0.1  # a leap this close to a whole octave is the same note misheard
BLIP_OCTAVES = 0.1  # 120 cents off its surroundings ...
BLIP_FRAMES = 8  # ... for less than 80 ms: a click, not a note
SURROUNDINGS_FRAMES = 31  # 310 ms
BRIDGE_FRAMES = 14  # holes under 140 ms: a click hides up to 65 ms, and a frame reaches 46 ms
BRIDGE_OCTAVES = 0.25  # a line goes on after a hole where its pitch moved less than a minor third
BRIDGE_DROP_DB = 12.0  # a hole in which the sound fell further was silence, not a click
LEAST_NOTE_S = 0.15  # shorter than this, a metronome click can look like a note
GATE_DB = 58.0  # below the loudest frame; a string has died by then
SILENCE_DB = -85.0  # re full scale: under the noise of a 14-bit converter
CARRIER_HZ = 12.0  # swiftest change a first carrier follows: noise above would go into the result
CARRIER_HALF_S = 0.09


def chosen_hz(found: Candidates, chosen: NDArray[np.int64]) -> Floats:
    """Pitch of the path on every coarse frame; NaN where unvoiced or too soft to be a string."""
    wide = np.concatenate([found.frequency_hz, np.full((len(chosen), 1), np.nan)], axis=1)
    hz = wide[np.arange(len(chosen)), np.minimum(chosen, PEAKS)]
    gate = max(float(found.level_db.max()) - GATE_DB, SILENCE_DB)
    return np.where(found.level_db > gate, hz, np.nan)


def lines(hz: Floats, *, level_db: Floats, grid: Grid) -> list[Carrier]:
    """Every unbroken pitch line as a carrier on the fine grid, in the octave most frames heard."""
    octaves = bridged(without_blips(joined(np.log2(hz))), level_db=level_db)
    least = LEAST_NOTE_S / (COARSE_HOPS * grid.step_s)
    found = [span for span in runs(np.isfinite(octaves)) if span[1] - span[0] >= least]
    return [smooth_carrier(octaves[a:b], first=a * COARSE_HOPS, grid=grid) for a, b in found]


def joined(octaves: Floats) -> Floats:
    """Leaps of a whole octave taken out, unbroken run by unbroken run; the majority stays."""
    out = octaves.copy()
    for a, b in runs(np.isfinite(octaves)):
        leap = np.diff(octaves[a:b])
        whole = np.round(leap)
        misheard = np.where(np.abs(leap - whole) < SAME_CLASS_OCTAVES, whole, 0.0)
        shift = np.concatenate([[0.0], np.cumsum(misheard)])
        out[a:b] = octaves[a:b] - shift + np.median(shift).round()
    return out


def without_blips(octaves: Floats) -> Floats:
    """Short excursions of single frames taken out (NaN)."""
    voiced = np.isfinite(octaves)
    if not voiced.any():
        return octaves
    held = np.interp(np.arange(octaves.size), np.flatnonzero(voiced), octaves[voiced])
    off = np.abs(held - running_median(held, width=SURROUNDINGS_FRAMES)) > BLIP_OCTAVES
    out = octaves.copy()
    for a, b in runs(off & voiced):
        if b - a < BLIP_FRAMES:
            out[a:b] = np.nan
    return out


def bridged(octaves: Floats, *, level_db: Floats) -> Floats:
    """Small holes inside a line filled by a straight line, where the sound went on."""
    out = octaves.copy()
    for a, b in runs(~np.isfinite(octaves)):
        if a == 0 or b == octaves.size or b - a >= BRIDGE_FRAMES:
            continue
        floor = min(level_db[a - 1], level_db[b]) - BRIDGE_DROP_DB
        near = abs(octaves[a - 1] - octaves[b]) < BRIDGE_OCTAVES
        if near and level_db[a:b].min() > floor:
            out[a:b] = np.interp(np.arange(a, b), [a - 1, b], [octaves[a - 1], octaves[b]])
    return out


def smooth_carrier(octaves: Floats, *, first: int, grid: Grid) -> Carrier:
    """One line low-passed and brought to the fine grid."""
    step_s = COARSE_HOPS * grid.step_s
    taps = low_pass_taps(CARRIER_HZ, half_s=CARRIER_HALF_S, step_s=step_s)
    return Carrier(first, 2.0 ** upsampled(filtered(octaves, taps)))
