"""What the moving string adds to its pitch by itself: stiff partials and the glide of a pluck."""

import numpy as np
from numpy.typing import ArrayLike

from labcore.model import Floats
from labcore.physics.strings import CENTS_PER_LOG_TENSION, FrettedString

# cents = C2 x shape x kappa (A/L)^2, with C2 = 1200 / ln 2
PLANAR_SHAPE = 3.0 * np.pi**2 / 32.0  # the string swings in one plane
WHIRLING_SHAPE = np.pi**2 / 8.0  # it goes round


def inharmonicity(at: FrettedString) -> float:
    """B in f_q = q f sqrt(1 + B q^2): pi^3 E d^4 / (64 T b^2), here as pi^2 kappa d^2 / (16 b^2).

    d is the diameter of the round, load-bearing part, b the speaking length. Fletcher 1964, form
    as quoted by Anderson & Beausoleil 2024, whose B0 is sqrt(B) / pi. Times 4^(n/12) at fret n.
    """
    return float(np.pi**2 * at.kappa * (at.string.core_m / at.speaking_m) ** 2 / 16.0)


def partial_sharp_cents(b: float, *, partial: ArrayLike) -> Floats:
    """How sharp partial number ``partial`` is against a whole multiple: 600 log2(1 + B q^2)."""
    number = np.asarray(partial, dtype=np.float64)
    return np.asarray(600.0 * np.log1p(b * number**2) / np.log(2.0))[()]


def glide_cents(at: FrettedString, *, amplitude_m: ArrayLike, whirling: bool = False) -> Floats:
    """How sharp a note starts while the string swings by ``amplitude_m`` (mid-string, one mode).

    C2 (3 pi^2 / 32) kappa (A/b)^2 (b/S), pi^2 / 8 for a whirling string: the swing itself stretches
    the string. 2.5 % too high at 40 cents against a numerical solution.
    """
    shape = WHIRLING_SHAPE if whirling else PLANAR_SHAPE
    swing = (np.asarray(amplitude_m, dtype=np.float64) / at.speaking_m) ** 2
    shared = at.speaking_m / at.sharing_m
    return np.asarray(2.0 * CENTS_PER_LOG_TENSION * shape * at.kappa * swing * shared)[()]


def pluck_glide_cents(at: FrettedString, *, pluck_m: float, share: float) -> float:
    """How sharp a note starts after the string was pulled ``pluck_m`` aside at ``share`` of it.

    C kappa D^2 / (4 p (1-p) b S): a triangle let go, half its stretch left on average.
    """
    room = 4.0 * share * (1.0 - share) * at.speaking_m * at.sharing_m
    return float(CENTS_PER_LOG_TENSION * at.kappa * pluck_m**2 / room)


def glide_over_time_cents(time_s: ArrayLike, *, start_cents: float, decay_s: float) -> Floats:
    """The glide as the note dies: start x e^(-2 t / decay), twice as quick as the swing itself.

    ``decay_s`` is the time in which the amplitude falls to 37 %.
    """
    time = np.asarray(time_s, dtype=np.float64)
    return np.asarray(start_cents * np.exp(-2.0 * time / decay_s))[()]
