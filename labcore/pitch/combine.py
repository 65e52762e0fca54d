"""Step 7: one pitch from many partials, with the error that goes with it.

Every partial says the pitch in its own words: its residual frequency divided by its number. The
higher ones say it more finely, the loud ones more surely, and any of them may be wrong for a
moment. So each is weighed by its own roughness, and robustly against the others.
"""

from dataclasses import dataclass

import numpy as np

from labcore.model import Floats
from labcore.pitch.demodulate import Partials
from labcore.pitch.frames import filtered, low_pass_taps, running_mean, running_median

CENTS = 1200.0 / np.log(2.0)
STIFF_CENTS = 600.0 / np.log(2.0)  # cents that B lifts partial k, over k squared (Fletcher 1964)
MOST_STIFFNESS = 5e-3  # B of a short, thick string; `physics` has the values
MOST_CENTS = 200.0  # a partial that says more than this off the carrier is not this note's
ROUGH_HZ = 22.0  # what moves faster than this is noise, not playing
ROUGH_FRAMES = 41  # 0.2 s around a frame
FLOOR_CENTS = 0.02  # no partial is trusted more than the arithmetic deserves
LEVEL_FRAMES = 41
LEVEL_DB = 3.0  # a partial this far from its own running level is disturbed
ROUNDS = 3  # robust reweighing settles in three
SETTLED_FRAMES = 60  # a partial's own offset is believed after 0.3 s


@dataclass(frozen=True, slots=True)
class Estimate:
    """Pitch relative to the carrier, one value a frame."""

    cents: Floats
    error_cents: Floats  # one sigma


def combine(partials: Partials, *, carrier_hz: Floats, step_s: float) -> Estimate:
    """The pitch all partials agree on."""
    said = said_cents(partials, carrier_hz=carrier_hz)
    weight = 1.0 / np.square(roughness(said, step_s=step_s)) * steadiness(partials.amplitude)
    said = said - offsets(said, weight, numbers=partials.numbers)
    return robust_mean(said, np.asarray(weight))


def said_cents(partials: Partials, *, carrier_hz: Floats) -> Floats:
    """What each partial says of the pitch, in cents above the carrier; shape (numbers, frames)."""
    ratio = partials.residual_hz / (partials.numbers[:, None] * carrier_hz)
    cents = CENTS * np.log1p(np.clip(ratio, -0.2, 0.2))
    return np.asarray(np.clip(cents, -MOST_CENTS, MOST_CENTS), dtype=np.float64)


def roughness(said: Floats, *, step_s: float) -> Floats:
    """Noise of each partial in cents: what it says faster than anyone can play."""
    taps = low_pass_taps(ROUGH_HZ, half_s=0.06, step_s=step_s)
    fast = said - filtered(said, taps)
    noise = np.sqrt(running_mean(np.square(fast), width=ROUGH_FRAMES))
    return np.asarray(noise + FLOOR_CENTS)


def steadiness(amplitude: Floats) -> Floats:
    """1 where a partial's level is what it was a moment ago and will be, less where it leaps."""
    level = 20.0 * np.log10(amplitude + 1e-9)
    off = level - running_median(level, width=LEVEL_FRAMES)
    return np.asarray(1.0 / (1.0 + np.square(np.square(off / LEVEL_DB))))


def offsets(said: Floats, weight: Floats, *, numbers: Floats) -> Floats:
    """How far each partial stands above a harmonic one, in cents; shape (numbers, 1).

    Stiffness lifts partial k by B k^2 (zero is kept at the first partial); what else a partial
    has of its own, the body's resonances say, is learnt from the note where it lasts.
    """
    mean = robust_mean(said, weight).cents
    own = np.median(said - mean, axis=1)
    trust = weight.mean(axis=1)
    law = STIFF_CENTS * (np.square(numbers) - 1.0)
    centre = np.average(law, weights=trust)
    spread = np.average(np.square(law - centre), weights=trust)
    slope = np.average((law - centre) * own, weights=trust) / spread if spread > 0.0 else 0.0
    stiff = law * np.clip(slope, 0.0, MOST_STIFFNESS)
    left = own - (stiff - np.average(stiff, weights=trust))
    share = said.shape[1] / (said.shape[1] + SETTLED_FRAMES)
    return np.asarray((stiff + share * left)[:, None])


def robust_mean(said: Floats, weight: Floats) -> Estimate:
    """Weighted mean that listens less to whoever stands apart (Cauchy weights)."""
    weight = np.maximum(weight, 1e-12)
    now = weight
    for _ in range(ROUNDS):
        mean = (now * said).sum(axis=0) / now.sum(axis=0)
        apart = np.square(said - mean) * weight
        now = weight / (1.0 + apart / 4.0)
    mean = (now * said).sum(axis=0) / now.sum(axis=0)
    return Estimate(mean, 1.0 / np.sqrt(now.sum(axis=0)))
