"""The vibrato arm: a bridge that tips, springs on one side, strings on the other.

For open strings, or strings that slide freely under the finger. The size of bridge and springs
is a guess; what the strings do relative to each other is not. Kemp 2017 (PLoS ONE 12(9):
e0184803) measured real bridges; his tables could not be read, so the size here is untested.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from labcore.errors import LabError
from labcore.model import Floats
from labcore.physics.strings import FrettedString


@dataclass(frozen=True, slots=True)
class Bridge:
    """A bridge on a pivot. All four numbers are guesses of the right order: edit them."""

    saddle_height_m: float = 0.010  # of the string contact over the pivot
    spring_lever_m: float = 0.040  # of the springs under the pivot
    springs: int = 3
    spring_n_m: float = 1000.0  # rate of one spring

    def __post_init__(self) -> None:
        if min(self.saddle_height_m, self.spring_lever_m, self.spring_n_m) <= 0 or self.springs < 1:
            raise LabError(
                "A bridge needs heights, lever and spring rate above zero, and a spring."
            )


def saddle_move_m(bridge: Bridge, *, angle_rad: ArrayLike) -> Floats:
    """How far the saddle moves away from the nut: h times the angle; arm pulled up is positive."""
    return np.asarray(bridge.saddle_height_m * np.asarray(angle_rad, dtype=np.float64))[()]


def arm_tension_n(at: FrettedString, *, saddle_m: ArrayLike) -> Floats:
    """Tension when the saddle has moved: T + (E A + T) d / S, and zero once the string is slack."""
    moved = np.asarray(saddle_m, dtype=np.float64)
    pulled = at.tension_n + (at.string.stretch_n + at.tension_n) * moved / at.sharing_m
    return np.maximum(pulled, 0.0)


def arm_cents(at: FrettedString, *, saddle_m: ArrayLike) -> Floats:
    """Cents from the plain note: 600 log2(T'/T) + 600 log2(1 + d/S) - 1200 log2((b+d)/b).

    Both directions; -inf where the string is slack.

    >>> from labcore.physics.strings import string_set
    >>> third = FrettedString(string_set("9-42")[2], fret=0)
    >>> [round(float(arm_cents(third, saddle_m=d))) for d in (-0.5e-3, 0.5e-3)]
    [-317, 231]
    """
    moved = np.asarray(saddle_m, dtype=np.float64)
    with np.errstate(divide="ignore"):
        tension = np.log2(arm_tension_n(at, saddle_m=moved) / at.tension_n)
    lighter = np.log2(1.0 + moved / at.sharing_m)
    longer = np.log2(1.0 + moved / at.speaking_m)
    return np.asarray(600.0 * tension + 600.0 * lighter - 1200.0 * longer)[()]


def slack_at_m(at: FrettedString) -> float:
    """The saddle movement at which the string goes slack: -S / (kappa + 1)."""
    return -at.sharing_m / (at.kappa + 1.0)


def saddle_for_cents_m(at: FrettedString, *, cents: float) -> float:
    """The saddle movement in metres that changes this string by ``cents``: undoes `arm_cents`."""
    low, high = slack_at_m(at) * (1.0 - 1e-9), 0.05
    if not arm_cents(at, saddle_m=low) < cents < arm_cents(at, saddle_m=high):
        raise LabError(
            f"The arm was asked for {cents:.0f} cents on {at.string.name}; give a value between "
            "slack and what 50 mm of saddle movement give."
        )
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if arm_cents(at, saddle_m=middle) < cents else (low, middle)
    return (low + high) / 2.0


# --- balance ----------------------------------------------------------------------------------


def spring_force_n(bridge: Bridge, *, strings: Sequence[FrettedString]) -> float:
    """Pull of one spring at rest, in newtons: h sum(T) = n F r, the strings against the springs."""
    pull_n = sum(at.tension_n for at in strings)
    return bridge.saddle_height_m * pull_n / (bridge.springs * bridge.spring_lever_m)


def arm_stiffness_nm(bridge: Bridge, *, strings: Sequence[FrettedString]) -> float:
    """Torque a radian at the pivot: sum((E A + T) h^2 / S) + n k r^2, in newton metres."""
    stretch = sum((at.string.stretch_n + at.tension_n) / at.sharing_m for at in strings)
    springs = bridge.springs * bridge.spring_n_m * bridge.spring_lever_m**2
    return stretch * bridge.saddle_height_m**2 + springs


def others_fall_cents(
    bridge: Bridge, *, strings: Sequence[FrettedString], bent: int, cents: float
) -> Floats:
    """Cents by which each string moves when string ``bent`` (0 first) is bent up to ``cents``.

    The bent string pulls the bridge over by h dT / K and the others go slacker; shape (strings,),
    with ``cents`` itself in the bent place. The bent string holds its tension, so K is that of the
    springs and the others. For small movements.
    """
    others = [at for i, at in enumerate(strings) if i != bent]
    extra_n = strings[bent].tension_n * (2.0 ** (cents / 600.0) - 1.0)
    stiffness = arm_stiffness_nm(bridge, strings=others)
    moved_m = -extra_n * bridge.saddle_height_m**2 / stiffness
    falls = np.array([float(arm_cents(at, saddle_m=moved_m)) for at in strings])
    falls[bent] = cents
    return falls
