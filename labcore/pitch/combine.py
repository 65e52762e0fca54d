"""Step 7: one pitch from many partials, with the error that goes with it.

Every partial says the pitch in its own words: its residual frequency divided by its number. The
higher ones say it more finely, the loud ones more surely, and any of them may be wrong: another
string rings through it, the room answers, a click falls on it. So each is weighed by its own
roughness and by how far it keeps from what the others say, over the last moments and right now.
"""

from dataclasses import dataclass

import numpy as np

from labcore.model import Floats
from labcore.pitch.demodulate import Partials
from labcore.pitch.frames import filtered, low_pass_taps, running_mean, running_median

CENTS = 1200.0 / np.log(2.0)
MOST_STIFFNESS = 5e-3  # B of a short, thick string; `physics` has the values
NEAR_CENTS = 60.0  # a carrier misses a wide, fast vibrato by 30; who says more hears another note
MOST_CENTS = 300.0  # and beyond this it does not matter what is said
ROUGH_HZ, ROUGH_HALF_S = 22.0, 0.06  # what moves faster than this is noise, not playing
ROUGH_FRAMES = 41  # 0.2 s around a frame
APART_FRAMES = 81  # 0.4 s: two waves at 5 Hz
SPARSE = 16  # the running median of a level is taken on every sixteenth frame
ROOT_OF_SIGMA = 0.8222  # mean square root of |x|, x normal: a few wild frames hardly move it
FLOOR_CENTS = 0.02  # no partial is trusted more than the arithmetic deserves
LEVEL_FRAMES = 41
LEVEL_DB = 3.0  # a partial this far from its own running level is disturbed
ROUNDS = 3  # weights settle in three
THIN = 3  # a median over a whole note needs no more than every third frame
SETTLED_FRAMES = 60  # a partial's own offset is believed after 0.3 s


@dataclass(frozen=True, slots=True)
class Estimate:
    """Pitch relative to the carrier, one value a frame."""

    cents: Floats
    error_cents: Floats  # one sigma


@dataclass(frozen=True, slots=True)
class Agreement:
    """What the partials agree on, and how far each of them stands from it, in cents.

    ``apart_cents``, how far above it each partial says the pitch is, has shape (numbers, frames);
    stiffness and a partial's own lasting offset are taken out of it.
    """

    estimate: Estimate
    apart_cents: Floats


def combine(partials: Partials, *, carrier_hz: Floats, step_s: float) -> Agreement:
    """The pitch all partials agree on."""
    said = said_cents(partials, carrier_hz=carrier_hz)
    credit = steadiness(partials.amplitude) * nearness(said)
    rough = np.square(roughness(said, step_s=step_s))
    weight, level = credit / rough, said
    for _ in range(ROUNDS):
        level = said - offsets(said, weight, numbers=partials.numbers)
        weight = credit / (rough + apart(level, weight))
    found = robust_mean(level, weight)
    return Agreement(found, level - found.cents)


def said_cents(partials: Partials, *, carrier_hz: Floats) -> Floats:
    """What each partial says of the pitch, in cents above the carrier; shape (numbers, frames)."""
    ratio = partials.residual_hz / (partials.numbers[:, None] * carrier_hz)
    cents = CENTS * np.log1p(np.clip(ratio, -0.2, 0.2))
    return np.asarray(np.clip(cents, -MOST_CENTS, MOST_CENTS), dtype=np.float64)


def nearness(said: Floats) -> Floats:
    """1 where a partial is near the carrier, less where it must be another sound's."""
    return np.asarray(1.0 / (1.0 + np.square(np.square(said / NEAR_CENTS))))


def steadiness(amplitude: Floats) -> Floats:
    """1 where a partial's level is what it was a moment ago and will be, less where it leaps."""
    level = 20.0 * np.log10(amplitude + 1e-9)
    off = level - running_median(level, width=LEVEL_FRAMES, every=SPARSE)
    return np.asarray(1.0 / (1.0 + np.square(np.square(off / LEVEL_DB))))


def roughness(said: Floats, *, step_s: float) -> Floats:
    """Noise of each partial in cents: what it says faster than anyone can play."""
    taps = low_pass_taps(ROUGH_HZ, half_s=ROUGH_HALF_S, step_s=step_s)
    fast = said - filtered(said, taps)
    noise = np.sqrt(running_mean(np.square(fast), width=ROUGH_FRAMES))
    return np.asarray(noise + FLOOR_CENTS)


def apart(level: Floats, weight: Floats) -> Floats:
    """Variance of each partial around what all the others say together, in square cents.

    The others without it, for the loudest voice must not be its own witness. Their own variance
    is taken off again.
    """
    if len(level) < 2:
        return np.zeros_like(level)
    rest = weight.sum(axis=0) - weight + 1e-12
    others = ((weight * level).sum(axis=0) - weight * level) / rest
    root = running_mean(np.sqrt(np.abs(level - others)), width=APART_FRAMES)
    return np.asarray(np.maximum(np.square(np.square(root / ROOT_OF_SIGMA)) - 1.0 / rest, 0.0))


def offsets(said: Floats, weight: Floats, *, numbers: Floats) -> Floats:
    """How far each partial stands above a harmonic one, in cents; shape (numbers, 1).

    Stiffness lifts partial k by B k^2 (zero is kept at the first partial); what else a partial
    has of its own, the body's resonances say, is learnt from the note where it lasts.
    """
    mean = robust_mean(said, weight).cents
    own = np.median((said - mean)[:, ::THIN], axis=1)
    trust = weight.mean(axis=1)
    stiff = stiff_cents(stiffness(own, trust, numbers=numbers), numbers=numbers)
    left = own - stiff
    left = left - np.average(left, weights=trust)
    share = said.shape[1] / (said.shape[1] + SETTLED_FRAMES)
    return np.asarray((stiff + share * left)[:, None])


def stiff_cents(stiffness: float, *, numbers: Floats) -> Floats:
    """How sharp the partials of a stiff string are against its first one (Fletcher 1964)."""
    ratio = (1.0 + stiffness * np.square(numbers)) / (1.0 + stiffness)
    return np.asarray(600.0 * np.log2(ratio))


def stiffness(own: Floats, trust: Floats, *, numbers: Floats) -> float:
    """B that explains the partials' own offsets best (least squares, three Newton steps)."""
    law, found = 0.5 * CENTS * np.square(numbers), 0.0
    law = law - np.average(law, weights=trust)
    spread = np.average(np.square(law), weights=trust)
    if spread <= 0.0:
        return 0.0
    for _ in range(3):
        left = own - stiff_cents(found, numbers=numbers)
        found += float(np.average(law * left, weights=trust) / spread)
        found = min(max(found, 0.0), MOST_STIFFNESS)
    return found


def robust_mean(level: Floats, weight: Floats) -> Estimate:
    """Weighted mean that listens less to whoever stands apart in a frame (Cauchy weights)."""
    weight = np.maximum(weight, 1e-12)
    now = weight
    for _ in range(ROUNDS):
        mean = (now * level).sum(axis=0) / now.sum(axis=0)
        now = weight / (1.0 + 0.25 * weight * np.square(level - mean))
    mean = (now * level).sum(axis=0) / now.sum(axis=0)
    return Estimate(mean, 1.0 / np.sqrt(now.sum(axis=0)))
