"""The string pushed sideways at a fret: exact geometry, Hooke's law, force and work.

The push turns the straight string into two sides of a flat triangle. Both sides are longer than
before, the string is stretched, its tension rises, and so does the pitch. Grimes 2014 (PLoS ONE
9(7): e102088, its bend formula read second-hand) agrees within 0.8 % at the 12th fret.

Left out: friction at nut, fret and saddle, string height, the width of the fingertip.
"""

import numpy as np
from numpy.typing import ArrayLike

from labcore.errors import LabError
from labcore.model import Floats
from labcore.physics.strings import CENTS_PER_LOG_TENSION, FrettedString, needs_fret

MOST_PUSH_M = 0.2  # far beyond any neck; where the search for a push ends
SEARCH_STEPS = 40  # halvings: 0.2 m to less than a picometre


def bend_stretch_m(at: FrettedString, *, push_m: ArrayLike) -> Floats:
    """How much longer the string becomes: sqrt(a^2+y^2) - a + sqrt(b^2+y^2) - b."""
    needs_fret(at)
    push = np.asarray(push_m, dtype=np.float64)
    return _slant_gain_m(at.behind_m, push) + _slant_gain_m(at.speaking_m, push)


def _slant_gain_m(length_m: float, push_m: Floats) -> Floats:
    # y^2 / (slant + straight) is slant - straight without losing digits for a small push
    return np.asarray(push_m**2 / (np.hypot(length_m, push_m) + length_m))[()]


def bend_tension_n(at: FrettedString, *, push_m: ArrayLike) -> Floats:
    """Tension while pushed: T + (E A + T) dS / S.

    Hooke's law about the slack string, therefore E A + T. Valid for steel beyond any bend, for
    nylon only for small changes of a settled string.
    """
    stretch_m = bend_stretch_m(at, push_m=push_m)
    return at.tension_n + (at.string.stretch_n + at.tension_n) * stretch_m / at.sharing_m


def bend_cents(at: FrettedString, *, push_m: ArrayLike) -> Floats:
    """Rise of the pitch in cents: 600 log2(T'/T) + 600 log2(1 + dS/S) - 1200 log2(b'/b).

    More tension, a little less mass a metre, and a slightly longer speaking side.

    >>> from labcore.physics.strings import string_set
    >>> third = FrettedString(string_set("9-42")[2], fret=12)
    >>> round(float(bend_cents(third, push_m=5e-3)), 1)
    40.1
    """
    push = np.asarray(push_m, dtype=np.float64)
    tension = np.log2(bend_tension_n(at, push_m=push) / at.tension_n)
    lighter = np.log1p(bend_stretch_m(at, push_m=push) / at.sharing_m) / np.log(2.0)
    longer = np.log2(np.hypot(at.speaking_m, push) / at.speaking_m)
    return np.asarray(600.0 * tension + 600.0 * lighter - 1200.0 * longer)[()]


def square_law(at: FrettedString) -> float:
    """K in cents = K y^2, in cents a square metre: C ((kappa+2) L / (2 a b S) - 1/b^2).

    L is a + b. Good to 2.5 % for pushes up to 2 mm; too high beyond (6 % at 8 mm on a plain third).
    """
    needs_fret(at)
    a, b = at.behind_m, at.speaking_m
    stretch = (at.kappa + 2.0) * (a + b) / (2.0 * a * b * at.sharing_m)
    return float(CENTS_PER_LOG_TENSION * (stretch - 1.0 / b**2))


def bend_force_n(at: FrettedString, *, push_m: ArrayLike) -> Floats:
    """Sideways force of the string on the finger: T' y (1/sqrt(a^2+y^2) + 1/sqrt(b^2+y^2)).

    Without friction: a real finger needs more on the way out and less on the way back.
    """
    push = np.asarray(push_m, dtype=np.float64)
    slopes = push / np.hypot(at.behind_m, push) + push / np.hypot(at.speaking_m, push)
    return bend_tension_n(at, push_m=push) * slopes


def bend_work_j(at: FrettedString, *, push_m: ArrayLike) -> Floats:
    """Work of the hand from rest: T dS + (E A + T) dS^2 / (2 S), the force summed over the way."""
    stretch_m = bend_stretch_m(at, push_m=push_m)
    spring_n = (at.string.stretch_n + at.tension_n) / at.sharing_m
    return at.tension_n * stretch_m + spring_n * stretch_m**2 / 2.0


def side_stiffness_n_m(at: FrettedString) -> float:
    """Newtons a metre of sideways push from rest: T (1/a + 1/b); 4 T / L0 at the 12th fret."""
    needs_fret(at)
    return at.tension_n * (1.0 / at.behind_m + 1.0 / at.speaking_m)


def push_for_cents_m(at: FrettedString, *, cents: ArrayLike) -> Floats:
    """The push in metres that raises the pitch by ``cents``: the root of `bend_cents`, by halving.

    Raises `LabError` below zero and beyond what a push of 0.2 m gives.
    """
    wanted = np.asarray(cents, dtype=np.float64)
    most = float(bend_cents(at, push_m=MOST_PUSH_M))
    if not (np.all(wanted >= 0.0) and np.all(wanted <= most)):
        raise LabError(
            f"A bend of {float(np.min(wanted)):.0f} to {float(np.max(wanted)):.0f} cents was asked "
            f"for; a push can only raise the pitch, here by 0 to {most:.0f} cents."
        )
    low, high = np.zeros_like(wanted), np.full_like(wanted, MOST_PUSH_M)
    for _ in range(SEARCH_STEPS):
        middle = (low + high) / 2.0
        below = bend_cents(at, push_m=middle) < wanted
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray((low + high) / 2.0)[()]
