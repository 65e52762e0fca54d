"""Steps 4, 7, 8 and 9 for one stretch of a note: from a carrier to the pitch itself."""

from dataclasses import dataclass

import numpy as np

from labcore.model import Floats
from labcore.pitch.carrier import Carrier
from labcore.pitch.combine import Agreement, Estimate, combine
from labcore.pitch.decimate import Working
from labcore.pitch.demodulate import NUTTALL, Partials, demodulate, window_of
from labcore.pitch.frames import Grid, filtered, low_pass_taps, running_median

PARTIALS = 8  # more add little and cost as much
MOST_PARTIAL_HZ = 4800.0
WINDOW_S, WINDOW_PERIODS = 0.036, 4.5  # Nuttall's first zero falls on the neighbouring partial
CARRIER_HZ, CARRIER_HALF_S = 18.0, 0.06  # the second carrier may hold the vibrato itself
RESULT_HZ, RESULT_HALF_S = 22.0, 0.135  # three harmonics of a 7 Hz wave; the rest is noise
SURROUNDINGS_FRAMES = 81  # 0.4 s
FAR_WORSE = 3.0  # times the usual error of the surroundings
FILL_ROUNDS = 8


@dataclass(frozen=True, slots=True)
class Refined:
    """The pitch of one stretch of a note, one value a fine frame."""

    first: int
    hz: Floats
    error_cents: Floats
    partials: Partials
    apart_cents: Floats  # shape (numbers, frames): how far above it each partial says the pitch is


def refine(sound: Working, *, carrier: Carrier, grid: Grid) -> Refined:
    """Two passes: the first finds the vibrato, the second sees it standing still."""
    first, _ = one_pass(sound, carrier=carrier, grid=grid)
    taps = low_pass_taps(CARRIER_HZ, half_s=CARRIER_HALF_S, step_s=grid.step_s)
    nearer = smoothed(carrier, first.estimate, taps=taps)
    second, partials = one_pass(sound, carrier=nearer, grid=grid)
    taps = low_pass_taps(RESULT_HZ, half_s=RESULT_HALF_S, step_s=grid.step_s)
    said = second.estimate
    result = smoothed(nearer, said, taps=taps)
    return Refined(carrier.first, result.hz, said.error_cents, partials, second.apart_cents)


def one_pass(sound: Working, *, carrier: Carrier, grid: Grid) -> tuple[Agreement, Partials]:
    """Demodulate along the carrier and combine the partials."""
    count = max(1, min(PARTIALS, int(top_hz(sound) / float(carrier.hz.max()))))
    seconds = max(WINDOW_S, WINDOW_PERIODS / float(carrier.hz.min()))
    window = window_of(NUTTALL, seconds=seconds, grid=grid)
    numbers = np.arange(1.0, count + 1.0)
    partials = demodulate(sound, carrier=carrier, numbers=numbers, window=window, grid=grid)
    return combine(partials, carrier_hz=carrier.hz, step_s=grid.step_s), partials


def top_hz(sound: Working) -> float:
    """The highest partial that is neither filtered nor folded."""
    return min(MOST_PARTIAL_HZ, 0.44 * sound.rate_hz)


def smoothed(carrier: Carrier, said: Estimate, *, taps: Floats) -> Carrier:
    """Carrier plus estimate, low-passed along the logarithm of pitch.

    Frames that know far less than their surroundings, under a click say, are filled with what the
    low-pass makes of the others, again and again until it settles (Papoulis 1975, from memory).
    """
    octaves = np.log2(carrier.hz) + said.cents / 1200.0
    trust = credit(said.error_cents)
    filled = filtered(octaves, taps)
    for _ in range(FILL_ROUNDS if trust.min() < 0.5 else 0):
        filled = filtered(trust * octaves + (1.0 - trust) * filled, taps)
    return Carrier(carrier.first, 2.0**filled)


def credit(error_cents: Floats) -> Floats:
    """1 on frames as good as their surroundings, near 0 on frames that are far worse."""
    usual = running_median(error_cents, width=SURROUNDINGS_FRAMES, every=8)
    return np.asarray(1.0 / (1.0 + np.square(np.square(error_cents / (FAR_WORSE * usual)))))
