"""A moving hand and the pitch line it draws: sideways, along, and both at once.

y(t) = y0 + r_y cos(w t) is the push across the neck, x(t) = r_x cos(w t + phase) the drag along
it. All of it is derived; no measurement of a circular hand motion was found.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from labcore.errors import LabError
from labcore.model import Floats
from labcore.physics.bending import bend_cents
from labcore.physics.rolling import roll_cents
from labcore.physics.strings import FrettedString

WAVE_POINTS = 512  # of one turn of the hand; harmonics up to the tenth are exact to rounding


@dataclass(frozen=True, slots=True)
class HandMotion:
    """One repeated movement of the fretting finger; metres, radians, turns a second.

    ``offset_m`` is the push about which the finger swings, ``sideways_m`` and ``along_m`` how far
    it swings to each side, ``phase_rad`` by how much the movement along comes first.
    """

    offset_m: float = 0.0
    sideways_m: float = 0.0
    along_m: float = 0.0  # drag of the string toward the nut
    phase_rad: float = 0.0
    hand_hz: float = 5.0

    def __post_init__(self) -> None:
        if self.hand_hz <= 0.0:
            raise LabError(
                f"The hand turns {self.hand_hz:g} times a second; give a number above zero."
            )

    def push_m(self, time_s: ArrayLike) -> Floats:
        """Where the finger is across the neck."""
        angle = 2.0 * np.pi * self.hand_hz * np.asarray(time_s, dtype=np.float64)
        return np.asarray(self.offset_m + self.sideways_m * np.cos(angle))[()]

    def drag_m(self, time_s: ArrayLike) -> Floats:
        """How far the string is dragged toward the nut."""
        angle = 2.0 * np.pi * self.hand_hz * np.asarray(time_s, dtype=np.float64)
        return np.asarray(self.along_m * np.cos(angle + self.phase_rad))[()]


def motion_cents(at: FrettedString, *, motion: HandMotion, time_s: ArrayLike) -> Floats:
    """The pitch line in cents above the plain note: the bend and the roll, added.

    Adding leaves out that a bent string answers a drag a little less; under 2 % up to 60 cents.
    """
    return bend_cents(at, push_m=motion.push_m(time_s)) + roll_cents(
        at, drag_m=motion.drag_m(time_s)
    )


def one_turn(at: FrettedString, *, motion: HandMotion) -> Floats:
    """The pitch line over one turn of the hand, evenly spaced, shape (`WAVE_POINTS`,)."""
    time_s = np.arange(WAVE_POINTS) / (WAVE_POINTS * motion.hand_hz)
    return motion_cents(at, motion=motion, time_s=time_s)


def harmonics(wave: ArrayLike, *, count: int = 3) -> Floats:
    """Mean and amplitudes of the first ``count`` harmonics of one turn; shape (count + 1,).

    >>> harmonics(np.cos(2 * np.pi * np.arange(8) / 8) ** 2, count=2).round(3).tolist()
    [0.5, 0.0, 0.5]
    """
    values = np.asarray(wave, dtype=np.float64)
    size = np.abs(np.fft.rfft(values)[: count + 1]) / values.size
    size[1:] *= 2.0
    size[0] = values.mean()
    return size


def lumpiness(wave: ArrayLike) -> float:
    """Second harmonic over the first: 0 is perfectly round, 1 and more is two humps a turn.

    Infinite where the wave has no part at the hand's own rate.
    """
    _, first, second = harmonics(wave, count=2)
    return float(second / first) if first > 1e-9 * max(second, 1e-300) else float("inf")


def rising_share(wave: ArrayLike) -> float:
    """Share of one turn during which the pitch rises, 0 to 1."""
    values = np.asarray(wave, dtype=np.float64)
    return float(np.mean(np.roll(values, -1) > values))


def humps(wave: ArrayLike, *, least_cents: float) -> int:
    """Tops in one turn that stand at least ``least_cents`` above the valleys on both sides.

    >>> humps([0.0, 10.0, 4.0, 6.0], least_cents=1.0), humps([0.0, 10.0, 4.0, 6.0], least_cents=3.0)
    (2, 1)
    """
    values = np.asarray(wave, dtype=np.float64)
    lowest = float(values.min())
    from_lowest = np.roll(values, -int(np.argmin(values))).tolist()
    count, low, high, rising = 0, lowest, lowest, True
    for value in [*from_lowest, lowest]:
        if rising:
            high = max(high, value)
            if high - value >= least_cents:
                count, low, rising = count + 1, value, False
        else:
            low = min(low, value)
            if value - low >= least_cents:
                high, rising = value, True
    return count
