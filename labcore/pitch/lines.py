"""From single coarse frames to pitch lines: octaves joined, blips dropped, small holes bridged."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.carrier import Carrier, upsampled
from labcore.pitch.coarse import PEAKS, Candidates
from labcore.pitch.frames import COARSE_HOPS, Grid, filtered, low_pass_taps, running_median, runs

OCTAVES = 1.0 / 1200.0  # a cent, in octaves
SAME_CLASS = 120.0 * OCTAVES  # a leap this close to a whole octave is the same note misheard
BLIP = 120.0 * OCTAVES  # this far off its surroundings ...
BLIP_FRAMES = 8  # ... for less than 80 ms: a click, not a note
SURROUNDINGS_FRAMES = 31  # 310 ms
HIDDEN = 80.0 * OCTAVES  # what a click hides is believed when it lies this near the bridge ...
SWIFTEST = 40.0 * OCTAVES  # ... but no leap there and back: 120 cents at 8 Hz move by 30 a frame
BRIDGE_FRAMES = 14  # holes under 140 ms: a click hides up to 65 ms, and a frame reaches 46 ms
BRIDGE = 300.0 * OCTAVES  # a line goes on after a hole where its pitch moved less than this
BRIDGE_DROP_DB = 12.0  # a hole in which the sound fell further was silence, not a click
LEAST_NOTE_S = 0.19  # shorter sounds, 0.15 s and the reach of a frame, may be metronome clicks
GATE_DB = 58.0  # below the loudest frame; a string has died by then
SILENCE_DB = -85.0  # re full scale: under the noise of a 14-bit converter
HUM_LEFT_DB = 22.0  # hum that drifts is taken out no better than this
STEP = 70.0 * OCTAVES  # a fretted neck steps by 100 cents at least, but coarse frames blur it
STEP_FLAT = 15.0 * OCTAVES  # a step has flat ground on both sides ...
STEP_FLAT_FRAMES, STEP_REACH = 3, 5  # ... three frames of it, up to five frames away
STEP_SWIFT = 0.3  # of its height in a single frame; a vibrato of 8 Hz makes 0.25 of its width
LEAP = 300.0 * OCTAVES  # from frame to frame: five times what the swiftest arm dive does
CARRIER_HZ = 12.0  # swiftest change a first carrier follows: noise above would go into the result
CARRIER_HALF_S = 0.09


def chosen_octaves(
    found: Candidates, chosen: NDArray[np.int64], *, hum_db: float = SILENCE_DB
) -> Floats:
    """log2 of the path's pitch on every coarse frame.

    NaN where unvoiced, too soft to be a string, or so soft that it may be what was left of a hum
    of ``hum_db``.
    """
    wide = np.concatenate([found.frequency_hz, np.full((len(chosen), 1), np.nan)], axis=1)
    hz = wide[np.arange(len(chosen)), np.minimum(chosen, PEAKS)]
    gate = max(float(found.level_db.max()) - GATE_DB, hum_db - HUM_LEFT_DB, SILENCE_DB)
    return np.log2(np.where(found.level_db > gate, hz, np.nan))


def lines(
    octaves: Floats, *, level_db: Floats, hidden: NDArray[np.bool_], grid: Grid
) -> list[Carrier]:
    """Every unbroken pitch line as a carrier on the fine grid, in the octave most frames heard.

    All arguments are on coarse frames; ``hidden`` is True where a click fills the sound.
    """
    whole = joined(without_hidden(without_blips(joined(octaves)), hidden=hidden))
    whole = bridged(whole, level_db=level_db)
    least = LEAST_NOTE_S / (COARSE_HOPS * grid.step_s)
    found: list[Carrier] = []
    for a, b in runs(np.isfinite(whole)):
        if b - a >= least:
            found += pieces(whole[a:b], first=a * COARSE_HOPS, grid=grid)
    return found


def joined(octaves: Floats) -> Floats:
    """Leaps of a whole octave taken out, also across small holes; the majority stays.

    Any other leap may be a new note, and begins afresh.
    """
    voiced = np.flatnonzero(np.isfinite(octaves))
    out = octaves.copy()
    leap = np.diff(octaves[voiced])
    fresh = (np.abs(leap - np.round(leap)) > SAME_CLASS) | (np.diff(voiced) > BRIDGE_FRAMES)
    for line in np.split(voiced, np.flatnonzero(fresh) + 1):
        whole = np.round(np.diff(octaves[line]))
        shift = np.concatenate([[0.0], np.cumsum(whole)])[: line.size]
        out[line] -= shift - (np.median(shift).round() if line.size else 0.0)
    return out


def without_blips(octaves: Floats) -> Floats:
    """Short excursions of single frames taken out (NaN)."""
    voiced = np.isfinite(octaves)
    if not voiced.any():
        return octaves
    held = np.interp(np.arange(octaves.size), np.flatnonzero(voiced), octaves[voiced])
    off = np.abs(held - running_median(held, width=SURROUNDINGS_FRAMES)) > BLIP
    out = octaves.copy()
    for a, b in runs(off & voiced):
        if b - a < BLIP_FRAMES:
            out[a:b] = np.nan
    return out


def without_hidden(octaves: Floats, *, hidden: NDArray[np.bool_]) -> Floats:
    """What was heard under a click taken out, where a line goes on behind it without this."""
    out = octaves.copy()
    for a, b in runs(hidden):
        if a == 0 or b == octaves.size or not abs(octaves[a - 1] - octaves[b]) < BRIDGE:
            continue
        around = slice(a - 1, b + 1)
        bridge = np.linspace(octaves[a - 1], octaves[b], b - a + 2)
        near = np.abs(octaves[around] - bridge) < HIDDEN
        line = np.where(near, octaves[around], bridge)
        leaps = bool((np.abs(np.diff(line)) > SWIFTEST).any())
        returns = abs(octaves[a - 1] - octaves[b]) < SWIFTEST  # a pluck on the click does not
        out[a:b] = np.where(near & (not (leaps and returns)), octaves[around], np.nan)[1:-1]
    return out


def bridged(octaves: Floats, *, level_db: Floats) -> Floats:
    """Small holes inside a line filled by a straight line, where the sound went on."""
    out = octaves.copy()
    for a, b in runs(~np.isfinite(octaves)):
        if a == 0 or b == octaves.size or b - a >= BRIDGE_FRAMES:
            continue
        floor = min(level_db[a - 1], level_db[b]) - BRIDGE_DROP_DB
        near = abs(out[a - 1] - octaves[b]) < BRIDGE
        if near and level_db[a:b].min() > floor:
            out[a:b] = np.interp(np.arange(a, b), [a - 1, b], [out[a - 1], octaves[b]])
    return out


def pieces(octaves: Floats, *, first: int, grid: Grid) -> list[Carrier]:
    """One line as smooth carriers on the fine grid, cut where a finger stepped to another fret.

    A filter that ran across a step would smear it over both notes.
    """
    edges = [0, *steps(octaves), octaves.size]
    whole = [
        smooth_carrier(octaves[a:b], first=first + a * COARSE_HOPS, grid=grid)
        for a, b in pairwise(edges)
    ]
    # Between two coarse frames lies a fine one: it belongs to the piece before the step.
    return [piece.part(piece.first, piece.last + 1) for piece in whole[:-1]] + whole[-1:]


def steps(octaves: Floats) -> list[int]:
    """Frames at which the pitch leaves one flat stretch and soon stands on another.

    Between flat ground before (frames i - 5 to i - 3) and behind (i + 3 to i + 5), frames hear
    both notes; a vibrato may be flat on both sides too, but it takes its time in between. The
    step is where the pitch moves most.
    """
    if octaves.size < 2 * STEP_REACH + 1:
        return []
    windows = np.lib.stride_tricks.sliding_window_view(octaves, STEP_FLAT_FRAMES)
    middle, flat = np.median(windows, axis=1), np.ptp(windows, axis=1) < STEP_FLAT
    apart = 2 * STEP_REACH - STEP_FLAT_FRAMES + 1
    height = np.abs(middle[apart:] - middle[:-apart])
    moves = np.abs(np.diff(octaves))
    between = np.lib.stride_tricks.sliding_window_view(moves, apart - STEP_FLAT_FRAMES + 1)
    swift = between[STEP_FLAT_FRAMES - 1 :][: height.size].max(axis=1) > STEP_SWIFT * height
    stepped = runs((height > STEP) & flat[apart:] & flat[:-apart] & swift)
    inside = (slice(a + STEP_FLAT_FRAMES - 1, b + apart - 1) for a, b in stepped)
    leaps = np.flatnonzero(moves > LEAP) + 1
    return sorted(
        {*(here.start + 1 + int(moves[here].argmax()) for here in inside), *leaps.tolist()}
    )


def smooth_carrier(octaves: Floats, *, first: int, grid: Grid) -> Carrier:
    """One line low-passed and brought to the fine grid."""
    step_s = COARSE_HOPS * grid.step_s
    taps = low_pass_taps(CARRIER_HZ, half_s=CARRIER_HALF_S, step_s=step_s)
    return Carrier(first, 2.0 ** upsampled(filtered(octaves, taps)))
