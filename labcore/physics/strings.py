"""Strings, guitars and the fretted string between them: frozen records that a reader may edit.

A set is named by its gauges alone. To try a string of your own, copy one and change it:
``replace(string, mass_kg_m=...)``, or build one with `plain_string` or `wound_string`.
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from labcore.errors import LabError
from labcore.units import STANDARD_TUNING_NUMBERS, note_number_hz

CENTS_PER_LOG_TENSION = 600.0 / np.log(2.0)  # cents a share of tension: f goes as its root
INCH_M = 0.0254  # definition
POUND_PER_INCH_KG_M = 0.45359237 / INCH_M  # definition of the pound; 17.857967
KSI_PA = 6.894757e6  # 1000 pounds a square inch

# Young's modulus of steel: a public materials database gives 190 GPa for ASTM A228 music wire,
# spring tables about 203 below 0.8 mm (from memory); 200 +- 5 % holds both.
STEEL_MODULUS_PA = 200e9

# How well the stretch stiffness E A is known, one sigma as a share.
PLAIN_STIFFNESS_ERROR = 0.07  # modulus and wire diameter
WOUND_STIFFNESS_ERROR = 0.20  # core diameters are from memory, +- 10 %
NYLON_STIFFNESS_ERROR = 0.20  # stiffer at vibrato speed than in the slow test it comes from

SCALE_M = 0.6477  # 25.5 in; the length most tension charts use
SCALES_M = {  # common practice, no source
    "short, 628 mm": 0.628,
    "long, 648 mm": SCALE_M,
    "classical, 650 mm": 0.650,
}
FINGER_BEHIND_FRET_M = 0.008  # a usual place for the finger; common practice, no source

# Least tensile strength of music wire by diameter in inches, in ksi (a wire maker's table for
# ASTM A228).
WIRE_STRENGTH_KSI = {
    0.009: 393.0, 0.010: 387.0, 0.011: 382.0, 0.013: 373.0, 0.016: 362.0, 0.018: 356.0,
}  # fmt: skip


class StringKind(StrEnum):
    """What carries the load."""

    PLAIN = "plain steel"
    WOUND = "wound steel"
    NYLON = "nylon"


@dataclass(frozen=True, slots=True)
class GuitarString:
    """One string, before it is put on a guitar.

    ``stretch_n`` is E A of what carries the load: the whole of a plain wire, only the core of a
    wound string. ``core_m`` is the diameter of that part.
    """

    name: str
    kind: StringKind
    open_hz: float
    mass_kg_m: float
    stretch_n: float
    core_m: float
    stretch_error: float  # one sigma of stretch_n, as a share

    def __post_init__(self) -> None:
        for part in ("open_hz", "mass_kg_m", "stretch_n", "core_m"):
            value = getattr(self, part)
            if not (np.isfinite(value) and value > 0.0):
                raise LabError(
                    f"The {part} of the string {self.name!r} is {value:g}; it must be above zero."
                )

    def tuned_to(self, open_hz: float) -> "GuitarString":
        """The same string at another open pitch."""
        return replace(self, open_hz=open_hz)


def plain_string(
    name: str, *, gauge_in: float, pounds_per_inch: float, open_hz: float
) -> GuitarString:
    """A bare steel wire from its gauge and a chart's unit weight; E A from the full diameter."""
    diameter_m = gauge_in * INCH_M
    return GuitarString(
        name=name,
        kind=StringKind.PLAIN,
        open_hz=open_hz,
        mass_kg_m=pounds_per_inch * POUND_PER_INCH_KG_M,
        stretch_n=STEEL_MODULUS_PA * round_area_m2(diameter_m),
        core_m=diameter_m,
        stretch_error=PLAIN_STIFFNESS_ERROR,
    )


def wound_string(
    name: str, *, core_in: float, pounds_per_inch: float, open_hz: float, hexagonal: bool = False
) -> GuitarString:
    """A wound steel string: the winding adds mass, only the core resists a stretch.

    The core of a hexagonal string is measured across its flats.
    """
    core_m = core_in * INCH_M
    area_m2 = hexagon_area_m2(core_m) if hexagonal else round_area_m2(core_m)
    return GuitarString(
        name=name,
        kind=StringKind.WOUND,
        open_hz=open_hz,
        mass_kg_m=pounds_per_inch * POUND_PER_INCH_KG_M,
        stretch_n=STEEL_MODULUS_PA * area_m2,
        core_m=core_m,
        stretch_error=WOUND_STIFFNESS_ERROR,
    )


def nylon_string(
    name: str, *, radius_m: float, mass_kg_m: float, sensitivity: float, open_hz: float
) -> GuitarString:
    """A settled nylon string from a measured sensitivity R = (L / f) df/dL.

    The measurement pulled string out past the nut while the sounding length stayed, so
    kappa + 1 = 2 R; the paper that measured it writes 2 R + 1 instead of 2 R - 1. We take
    kappa = 2 R, within 5 % of both (Anderson & Beausoleil 2024, our reading).
    """
    tension_n = mass_kg_m * (2.0 * NYLON_SCALE_M * open_hz) ** 2
    return GuitarString(
        name=name,
        kind=StringKind.NYLON,
        open_hz=open_hz,
        mass_kg_m=mass_kg_m,
        stretch_n=2.0 * sensitivity * tension_n,
        core_m=2.0 * radius_m,
        stretch_error=NYLON_STIFFNESS_ERROR,
    )


def round_area_m2(diameter_m: float) -> float:
    """Area of a round wire: pi d^2 / 4."""
    return float(np.pi / 4.0 * diameter_m**2)


def hexagon_area_m2(across_flats_m: float) -> float:
    """Area of a hexagonal wire: sqrt(3) / 2 times the square of its width across the flats."""
    return float(np.sqrt(3.0) / 2.0 * across_flats_m**2)


# --- sets -------------------------------------------------------------------------------------

# Unit weights in pounds an inch: a string maker's tension chart, as quoted in public source
# files (the chart itself was not opened).
_PLAIN_WEIGHT = {
    0.009: 1.794e-5, 0.010: 2.215e-5, 0.011: 2.680e-5, 0.013: 3.744e-5, 0.016: 5.671e-5,
    0.017: 6.402e-5,
}  # fmt: skip
_WOUND_WEIGHT = {
    0.024: 1.0857e-4, 0.026: 1.2671e-4, 0.032: 1.9347e-4, 0.036: 2.3964e-4, 0.042: 3.2279e-4,
    0.046: 3.8216e-4,
}  # fmt: skip
# Core diameters in inches, from memory, +- 10 %: edit them if you know yours.
_WOUND_CORE = {
    0.024: 0.0130,
    0.026: 0.0135,
    0.032: 0.0150,
    0.036: 0.0160,
    0.042: 0.0165,
    0.046: 0.0170,
}
_STEEL_GAUGES_IN = {
    "9-42": (0.009, 0.011, 0.016, 0.024, 0.032, 0.042),
    "10-46": (0.010, 0.013, 0.017, 0.026, 0.036, 0.046),
}
# Normal-tension nylon: radius mm, mass g/m, R (Anderson & Beausoleil 2024, tables).
_NYLON = (
    (0.356, 0.374, 23.6), (0.409, 0.505, 23.8), (0.512, 0.836, 28.8),
    (0.368, 1.920, 22.5), (0.445, 3.289, 23.9), (0.546, 5.470, 28.6),
)  # fmt: skip
NYLON_SCALE_M = 0.650  # of the guitar those were measured on
NYLON_SET = "nylon, normal tension"
STRING_SETS = (*_STEEL_GAUGES_IN, NYLON_SET)


def string_set(gauges: str) -> tuple[GuitarString, ...]:
    """Six strings in standard tuning, first (thinnest) to sixth.

    >>> [string.name for string in string_set("9-42")]
    ['.009', '.011', '.016', '.024w', '.032w', '.042w']
    """
    if gauges == NYLON_SET:
        return tuple(_nylon(number) for number in range(6))
    if gauges not in _STEEL_GAUGES_IN:
        known = ", ".join(repr(name) for name in STRING_SETS)
        raise LabError(f"There is no set {gauges!r}; choose one of {known}.")
    return tuple(_steel(gauge, index=i) for i, gauge in enumerate(_STEEL_GAUGES_IN[gauges]))


def _steel(gauge_in: float, *, index: int) -> GuitarString:
    open_hz = note_number_hz(STANDARD_TUNING_NUMBERS[index])
    name = f"{gauge_in:.3f}".removeprefix("0")
    if gauge_in in _PLAIN_WEIGHT:
        weight = _PLAIN_WEIGHT[gauge_in]
        return plain_string(name, gauge_in=gauge_in, pounds_per_inch=weight, open_hz=open_hz)
    return wound_string(
        f"{name}w",
        core_in=_WOUND_CORE[gauge_in],
        pounds_per_inch=_WOUND_WEIGHT[gauge_in],
        open_hz=open_hz,
    )


def _nylon(index: int) -> GuitarString:
    radius_mm, mass_g_m, sensitivity = _NYLON[index]
    return nylon_string(
        f"nylon {index + 1}",
        radius_m=radius_mm * 1e-3,
        mass_kg_m=mass_g_m * 1e-3,
        sensitivity=sensitivity,
        open_hz=note_number_hz(STANDARD_TUNING_NUMBERS[index]),
    )


# --- the string on a guitar -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Guitar:
    """Scale length, and how much string beyond nut and saddle can share a stretch.

    Zero beyond the nut is a string that the nut holds: friction there holds a narrow vibrato
    (about 26 cents of tension at a break angle of 0.2 rad and friction of 0.15).
    """

    scale_m: float = SCALE_M
    free_nut_m: float = 0.0
    free_saddle_m: float = 0.0

    def __post_init__(self) -> None:
        if not 0.2 <= self.scale_m <= 1.2:
            raise LabError(
                f"The scale length is {self.scale_m:g} m; it must lie between 0.2 and 1.2 m. "
                "Measure from the nut to the saddle, in metres."
            )
        if not (0.0 <= self.free_nut_m <= 0.5 and 0.0 <= self.free_saddle_m <= 0.5):
            raise LabError(
                f"The free lengths are {self.free_nut_m:g} and {self.free_saddle_m:g} m; each "
                "must lie between 0 and 0.5 m. Use 0 where the string is held."
            )


@dataclass(frozen=True, slots=True)
class FrettedString:
    """One string of one guitar, stopped at one fret; fret 0 is the open string."""

    string: GuitarString
    fret: int
    guitar: Guitar = field(default_factory=Guitar)
    capo_fret: int = 0
    finger_behind_m: float = FINGER_BEHIND_FRET_M

    def __post_init__(self) -> None:
        if not 0 <= self.capo_fret <= self.fret <= 36:
            raise LabError(
                f"Fret {self.fret} with a capo at {self.capo_fret} was asked for; count both from "
                "the nut, 0 to 36, the capo not above the fret."
            )

    @property
    def tension_n(self) -> float:
        """T = mu (2 L0 f)^2, the law of the vibrating string (Mersenne); a fret leaves it alone."""
        return self.string.mass_kg_m * (2.0 * self.guitar.scale_m * self.string.open_hz) ** 2

    @property
    def kappa(self) -> float:
        """E A / T: how many times more the tension grows than the length, in shares."""
        return self.string.stretch_n / self.tension_n

    @property
    def speaking_m(self) -> float:
        """From the fret to the saddle: b = L0 2^(-n/12)."""
        return fret_to_saddle_m(self.guitar.scale_m, fret=self.fret)

    @property
    def behind_m(self) -> float:
        """From the fret back to the nut or the capo: a."""
        nut_m = fret_to_saddle_m(self.guitar.scale_m, fret=self.capo_fret)
        return nut_m - self.speaking_m

    @property
    def sharing_m(self) -> float:
        """All the string that shares a stretch: S. A capo holds what lies behind it."""
        nut_side_m = 0.0 if self.capo_fret else self.guitar.free_nut_m
        return self.behind_m + self.speaking_m + nut_side_m + self.guitar.free_saddle_m

    @property
    def plain_hz(self) -> float:
        """The pitch of the plain note, equal-tempered from the open string."""
        return float(self.string.open_hz * 2.0 ** (self.fret / 12.0))

    @property
    def stress_pa(self) -> float:
        """Tension over the load-bearing area."""
        return self.tension_n / round_area_m2(self.string.core_m)


def fret_to_saddle_m(scale_m: float, *, fret: float) -> float:
    """Distance in metres from a fret to the saddle, equal temperament: L0 2^(-n/12).

    >>> round(fret_to_saddle_m(0.648, fret=12), 4)
    0.324
    """
    return float(scale_m * 2.0 ** (-fret / 12.0))


def fret_width_m(scale_m: float, *, fret: int) -> float:
    """Distance in metres from a fret to the one before it (fret 1: to the nut)."""
    return fret_to_saddle_m(scale_m, fret=fret - 1) - fret_to_saddle_m(scale_m, fret=fret)


def needs_fret(at: FrettedString) -> None:
    """Raise `LabError` where a finger needs a fret under the string."""
    if at.behind_m <= 0.0:
        raise LabError(
            "An open string cannot be bent or rolled at its nut; choose fret 1 or higher (with a "
            "capo, a fret above it)."
        )
    if at.finger_behind_m >= at.behind_m:
        raise LabError(
            f"The finger is {at.finger_behind_m * 1e3:.0f} mm behind the fret, but nut or capo is "
            f"only {at.behind_m * 1e3:.0f} mm away; put it closer to the fret."
        )


# --- breaking ---------------------------------------------------------------------------------


def wire_strength_pa(diameter_m: float) -> float:
    """Least tensile strength of new music wire, in pascal, between the rows of a wire table.

    Valid for .009 to .018 in (a wire maker's table for ASTM A228); thicker and thinner wires
    are given the nearest row.
    """
    gauges_in = np.array(sorted(WIRE_STRENGTH_KSI))
    strength_ksi = np.array([WIRE_STRENGTH_KSI[gauge] for gauge in gauges_in])
    return float(np.interp(diameter_m / INCH_M, gauges_in, strength_ksi) * KSI_PA)


def cents_to_breaking(at: FrettedString) -> float:
    """Cents a new, straight, plain wire can rise before its least strength: 600 log2(limit / now).

    An upper bound: kinks, wear and fatigue break strings much earlier.
    """
    return float(600.0 * np.log2(wire_strength_pa(at.string.core_m) / at.stress_pa))
