"""From cents back to the hand: how far and how hard the string was pushed, at least.

Only for a sideways push from the fret: a roll or an arm moves the pitch in other ways, and then
the answer is a `LabError` whose sentence says so. Friction is outside the model: a finger needs
more on the way out and less on the way back, so the force is "at least, at the string".
"""

from dataclasses import dataclass, replace

import numpy as np

from labcore.errors import LabError
from labcore.physics.bending import bend_cents, bend_force_n, push_for_cents_m
from labcore.physics.strings import SCALE_M, FrettedString, Guitar, string_set
from labcore.units import cents_between, signed

LEAST_CENTS = 10.0  # below it the error of the millimetres passes 15 %
PITCH_ERROR_CENTS = 3.0  # contour and plain note together
TENSION_ERROR = 0.03  # of a known gauge, tuned
# A nut that lets the string slide adds up to 15 % of the scale to what shares the stretch; which
# share of it is not known, so half of it is assumed and an even spread is carried along.
FREE_SHARE = 0.15
FREE_ERROR = FREE_SHARE / np.sqrt(12.0)
OTHER_TUNING_CENTS = 60.0  # nearer than this the plain note is 'as tuned'; a choice
UNLIKELY_CENTS = 1000.0  # further than this string and fret cannot be right; a choice
NEWTON_GRAMS = 1000.0 / 9.80665  # weight of so many grams, standard gravity


def grams(force_n: float) -> str:
    """A force as the weight of so many grams, to tens of grams above 100 g.

    >>> grams(2.4), grams(0.38)
    ('240 g', '39 g')
    """
    mass_g = abs(force_n) * NEWTON_GRAMS
    return f"{mass_g:.0f} g" if mass_g < 100 else f"{round(mass_g, -1):.0f} g"


@dataclass(frozen=True, slots=True)
class Push:
    """What a wave took at the string: one standard error beside each number."""

    travel_m: float  # across the fret, from the bottom of the wave to its top
    travel_error_m: float
    force_n: float  # sideways, at the top
    force_error_n: float
    start_m: float = 0.0  # how far the string is pushed at the bottom of the wave already
    start_force_n: float = 0.0  # and what that holds

    @property
    def sentence(self) -> str:
        """The numbers as a player reads them: millimetres, newtons and grams.

        Where a wave does not begin at the plain note, its swing and its force are told from where
        to where: the swing alone would not explain the force.
        """
        if self.start_m > 0.0:
            return self._from_to()
        return (
            f"At least, at the string: {self.travel_m * 1e3:.1f} ± {self.travel_error_m * 1e3:.1f} "
            f"mm across the fret, and at the top {self.force_n:.1f} ± {self.force_error_n:.1f} N, "
            f"the weight of about {grams(self.force_n)}."
        )

    def _from_to(self) -> str:
        start_mm, top_mm = self.start_m * 1e3, (self.start_m + self.travel_m) * 1e3
        return (
            f"At least, at the string: a wave swings {self.travel_m * 1e3:.1f} ± "
            f"{self.travel_error_m * 1e3:.1f} mm across the fret, from {start_mm:.1f} to "
            f"{top_mm:.1f} mm off the straight string. At the top that holds {self.force_n:.1f} ± "
            f"{self.force_error_n:.1f} N, the weight of about {grams(self.force_n)}, and at the "
            f"bottom still about {grams(self.start_force_n)}."
        )


def infer_push(
    extent_cents: float,
    *,
    at: FrettedString,
    lowest_cents: float = 0.0,
    error_cents: float = PITCH_ERROR_CENTS,
    locked_nut: bool = False,
) -> Push:
    """Travel and force of a wave ``extent_cents`` wide whose bottom is ``lowest_cents`` above home.

    A held bend has its bottom far above home; then less travel gives the same width. Raises
    `LabError` below `LEAST_CENTS`, and where the pitch went below home.

    >>> third = FrettedString(string_set("9-42")[2], fret=12)
    >>> infer_push(40.0, at=third, locked_nut=True).sentence
    'At least, at the string: 5.0 ± 0.3 mm across the fret, and at the top 2.1 ± 0.1 N, \
the weight of about 220 g.'
    """
    _can_be_a_push(extent_cents, lowest_cents=lowest_cents, error_cents=error_cents)
    held = locked_nut or at.capo_fret > 0
    on = at if held else _half_free(at)
    bottom = lowest_cents if lowest_cents > 2.0 * error_cents else 0.0
    top_m = float(push_for_cents_m(on, cents=bottom + extent_cents))
    bottom_m = float(push_for_cents_m(on, cents=bottom)) if bottom else 0.0
    reading_m = error_cents * np.hypot(_metres_a_cent(on, top_m), _metres_a_cent(on, bottom_m))
    shares = np.array([at.string.stretch_error, TENSION_ERROR, 0.0 if held else FREE_ERROR]) / 2.0
    travel_m, model = top_m - bottom_m, float(np.linalg.norm(shares))
    # F goes as T^1.5 (S / E A)^0.5 y-reading: thrice the tension's share of the travel
    force_share = np.linalg.norm([reading_m / top_m, *(shares * np.array([1.0, 3.0, 1.0]))])
    force_n = float(bend_force_n(on, push_m=top_m))
    return Push(
        travel_m=travel_m,
        travel_error_m=float(np.hypot(reading_m, model * travel_m)),
        force_n=force_n,
        force_error_n=float(force_n * force_share),
        start_m=bottom_m,
        start_force_n=float(bend_force_n(on, push_m=bottom_m)) if bottom else 0.0,
    )


def push_for(
    extent_cents: float,
    *,
    string: int,
    fret: int,
    plain_hz: float | None = None,
    gauges: str = "9-42",
    scale_m: float = SCALE_M,
    capo_fret: int = 0,
    lowest_cents: float = 0.0,
    error_cents: float = PITCH_ERROR_CENTS,
    locked_nut: bool = False,
) -> Push:
    """`infer_push` from what a take and its player can tell.

    ``string`` counts from 1 (thinnest), frets from the nut. The tension comes from the measured
    plain note ``plain_hz``, so another tuning is counted in; None takes standard tuning.
    """
    at = string_as_played(
        string, fret=fret, plain_hz=plain_hz, gauges=gauges, scale_m=scale_m, capo_fret=capo_fret
    )
    return infer_push(
        extent_cents,
        at=at,
        lowest_cents=lowest_cents,
        error_cents=error_cents,
        locked_nut=locked_nut,
    )


def string_as_played(
    string: int,
    *,
    fret: int,
    plain_hz: float | None = None,
    gauges: str = "9-42",
    scale_m: float = SCALE_M,
    capo_fret: int = 0,
) -> FrettedString:
    """The string under the finger, tuned so that its plain note is ``plain_hz``."""
    strings = string_set(gauges)
    if not 1 <= string <= len(strings):
        raise LabError(
            f"String {string} was asked for; this set has strings 1 (thinnest) to {len(strings)}."
        )
    at = FrettedString(strings[string - 1], fret=fret, guitar=Guitar(scale_m), capo_fret=capo_fret)
    if plain_hz is None:
        return at
    off_cents = cents_between(plain_hz, at.plain_hz)
    if not abs(off_cents) <= UNLIKELY_CENTS:
        raise LabError(
            f"The plain note lies {signed(off_cents / 100.0)} frets from string {string}, fret "
            f"{fret} in standard tuning; check string, fret (counted from the nut) and capo."
        )
    return replace(at, string=at.string.tuned_to(plain_hz * 2.0 ** (-fret / 12.0)))


def tuning_question(plain_hz: float, *, string: int, fret: int) -> str | None:
    """What to ask when the plain note does not fit string and fret in standard tuning, else None.

    >>> tuning_question(392.3, string=3, fret=12) is None
    True
    """
    at = string_as_played(string, fret=fret)
    off_cents = cents_between(plain_hz, at.plain_hz)
    if abs(off_cents) <= OTHER_TUNING_CENTS:
        return None
    where = "above" if off_cents > 0 else "below"
    return (
        f"The plain note is {abs(off_cents) / 100.0:.1f} frets {where} what string {string}, fret "
        f"{fret} gives in standard tuning. Another tuning, or a capo? Count the fret from the nut."
    )


def _can_be_a_push(extent_cents: float, *, lowest_cents: float, error_cents: float) -> None:
    if not extent_cents >= LEAST_CENTS:
        raise LabError(
            f"The waves are {extent_cents:.0f} cents wide; under {LEAST_CENTS:.0f} cents the "
            "millimetres would be a guess. Play a wider wave."
        )
    if not lowest_cents >= -2.0 * error_cents:
        raise LabError(
            f"The pitch went {-lowest_cents:.0f} cents below the plain note. A push across the "
            "fret cannot do that, so this was a roll or an arm, and is not turned into millimetres."
        )


def _half_free(at: FrettedString) -> FrettedString:
    guitar = at.guitar
    free_m = guitar.free_nut_m + FREE_SHARE / 2.0 * guitar.scale_m
    return replace(at, guitar=replace(guitar, free_nut_m=free_m))


def _metres_a_cent(at: FrettedString, push_m: float) -> float:
    """How much further the push goes for one more cent; zero at rest, where home is exact."""
    if push_m <= 0.0:
        return 0.0
    step_m = 1e-6
    return step_m / float(bend_cents(at, push_m=push_m + step_m) - bend_cents(at, push_m=push_m))
