"""The finger rolled along the string: with frets, without frets, and pressed deeper.

On a fretted neck the fret sets the speaking length and the finger only holds the string. Rolled
toward the nut it drags string out of the speaking side: tighter, and higher. Without frets the
finger is the end of the string: rolled toward the nut it makes the string longer, and lower.

Left out: how a fingertip grips, how it warms and tires. No measurement of the forces of a roll
was found; the lengthwise stretch itself is well measured for nylon (Anderson & Beausoleil 2024).
"""

import numpy as np
from numpy.typing import ArrayLike

from labcore.errors import LabError
from labcore.model import Floats
from labcore.physics.strings import CENTS_PER_LOG_TENSION, FrettedString, needs_fret

FRICTION = 0.15  # string on a fret or in a nut; from memory, 0.1 to 0.3
FRET_WRAP_RAD = 0.10  # how far the string turns over the fret crown; a guess
SKIN_N_M = 2000.0  # shear stiffness of a fingertip; order of magnitude, from memory


def _sides_m(at: FrettedString) -> tuple[float, float]:
    """Lengths on the speaking and the nut side of the finger that can share a drag."""
    needs_fret(at)
    speaking = at.speaking_m + at.finger_behind_m + at.guitar.free_saddle_m
    return speaking, at.sharing_m - speaking


def roll_tensions_n(at: FrettedString, *, drag_m: ArrayLike) -> tuple[Floats, Floats]:
    """Tension on the speaking side and on the nut side while the string is dragged.

    ``drag_m`` is how far the string itself has moved at the finger, positive toward the nut:
    T + (E A + T) d / b_f and T - (E A + T) d / a_f. Valid while both stay above zero.
    """
    drag = np.asarray(drag_m, dtype=np.float64)
    speaking_m, nut_m = _sides_m(at)
    stiff_n = at.string.stretch_n + at.tension_n
    return at.tension_n + stiff_n * drag / speaking_m, at.tension_n - stiff_n * drag / nut_m


def roll_cents(at: FrettedString, *, drag_m: ArrayLike) -> Floats:
    """Change of pitch in cents by a drag: 600 log2(T_s/T) + 600 log2(1 + d/b_f).

    Positive toward the nut, negative (below the plain note) toward the bridge; -inf where the
    speaking side is slack. Assumes that the string slides freely over the fret: see `fret_hold_n`.

    >>> from labcore.physics.strings import string_set
    >>> third = FrettedString(string_set("nylon, normal tension")[2], fret=12)
    >>> round(float(roll_cents(third, drag_m=95e-6)), 1)
    14.7
    """
    drag = np.asarray(drag_m, dtype=np.float64)
    speaking_n, _ = roll_tensions_n(at, drag_m=drag)
    share = np.maximum(speaking_n / at.tension_n, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(600.0 * (np.log2(share) + np.log2(1.0 + drag / _sides_m(at)[0])))[()]


def roll_cents_per_metre(at: FrettedString) -> float:
    """G in cents = G d for a small drag: C (kappa + 2) / b_f."""
    return float(CENTS_PER_LOG_TENSION * (at.kappa + 2.0) / _sides_m(at)[0])


def roll_force_n(at: FrettedString, *, drag_m: ArrayLike) -> Floats:
    """Force along the string at the finger: the difference of the two tensions."""
    speaking_n, nut_n = roll_tensions_n(at, drag_m=drag_m)
    return speaking_n - nut_n


def roll_stiffness_n_m(at: FrettedString) -> float:
    """Newtons a metre of drag: (E A + T) (1/a_f + 1/b_f)."""
    speaking_m, nut_m = _sides_m(at)
    return (at.string.stretch_n + at.tension_n) * (1.0 / speaking_m + 1.0 / nut_m)


def roll_force_by_hand_n(
    at: FrettedString, *, roll_m: ArrayLike, skin_n_m: float = SKIN_N_M
) -> Floats:
    """Force along the string when the hand rolls by ``roll_m``: X / (1/k_skin + 1/k_string).

    Fingertip and string give in series. The string is 10 to 80 times the stiffer, so the hand
    mostly shears its own fingertip, and steel and nylon get nearly the same force.
    """
    give_m_n = 1.0 / skin_n_m + 1.0 / roll_stiffness_n_m(at)
    return np.asarray(roll_m, dtype=np.float64) / give_m_n


def roll_drag_m(at: FrettedString, *, force_n: ArrayLike) -> Floats:
    """How far the string is dragged by a force along it, positive toward the nut."""
    return np.asarray(force_n, dtype=np.float64) / roll_stiffness_n_m(at)


def roll_cents_per_newton(at: FrettedString) -> float:
    """Cents a newton along the string: about C a_f / ((a_f + b_f) T).

    Hardly a matter of how stretchy the string is: E cancels but for a few parts in a hundred on
    nylon. It grows toward the body, because the short piece behind the finger resists less.
    """
    return roll_cents_per_metre(at) / roll_stiffness_n_m(at)


def fret_hold_n(
    at: FrettedString, *, friction: float = FRICTION, wrap_rad: float = FRET_WRAP_RAD
) -> float:
    """Pull in newtons below which the string sticks on the fret: T (e^(friction wrap) - 1).

    The rope round a post (Euler, Eytelwein). Friction and wrap are guesses: an order of magnitude.
    """
    return float(at.tension_n * np.expm1(friction * wrap_rad))


def past_the_fret(pull_n: ArrayLike, *, hold_n: float) -> Floats:
    """What of a pull that moves to and fro gets past a fret that holds ``hold_n``; shape as given.

    The string stays put until the pull has moved by more than the hold, in either direction, so
    the answer lags behind every turn (a play, as in a worn gear). Starts from rest at zero.
    """
    pull = np.atleast_1d(np.asarray(pull_n, dtype=np.float64))
    passed = np.empty_like(pull)
    now = 0.0
    for i, value in enumerate(pull):
        now = min(max(now, value - hold_n), value + hold_n)
        passed[i] = now
    return passed


def fretless_cents(speaking_m: float, *, toward_bridge_m: ArrayLike) -> Floats:
    """Cents when the finger itself ends the string: -1200 log2(1 - d/b).

    Positive toward the bridge (a shorter string), negative toward the nut: the opposite of a
    fretted neck.

    >>> round(float(fretless_cents(0.325, toward_bridge_m=3e-3)), 2)
    16.05
    """
    share = np.asarray(toward_bridge_m, dtype=np.float64) / speaking_m
    if np.any(share >= 1.0):
        raise LabError("The finger was moved past the bridge; move it by less than the string.")
    return np.asarray(-1200.0 * np.log1p(-share) / np.log(2.0))[()]


def press_depth_cents_bound(at: FrettedString, *, depth_m: ArrayLike) -> Floats:
    """The most a deeper press behind the fret can raise the pitch, in cents; never below zero.

    600 log2(1 + (kappa+1) dS / S) with the string pushed ``depth_m`` below the fret crown. It is
    reached only if the string slides freely over the fret; if the fret holds it the change is zero.
    On nylon the mark on the string did not move (Anderson & Beausoleil 2024): expect near zero.
    """
    needs_fret(at)
    depth, near = np.asarray(depth_m, dtype=np.float64), at.finger_behind_m
    far = at.behind_m - near
    gain_m = np.hypot(near, depth) - near + np.hypot(far, depth) - far
    return np.asarray(600.0 * np.log2(1.0 + (at.kappa + 1.0) * gain_m / at.sharing_m))[()]
