"""What pressing a string to its fret does to a note that is not vibrated at all.

Model and symbols of Anderson & Beausoleil 2024 (J. Acoust. Soc. Am. 156, 683): b the height of
the nut above the frets, c how much higher the saddle is, d how far the finger is behind the fret.
"""

import numpy as np

NUT_HEIGHT_M = 1e-3  # their usual classical guitar
SADDLE_RISE_M = 4e-3


def fretting_stretch(
    fret: int,
    *,
    scale_m: float,
    nut_height_m: float = NUT_HEIGHT_M,
    saddle_rise_m: float = SADDLE_RISE_M,
    finger_behind_m: float = 0.0,
) -> float:
    """How much longer the string gets by being pressed down, as a share of the scale length.

    [g b + (g-1) c]^2 / (2 (g-1) L0^2) (1 + g x / (1-x)) with g = 2^(n/12), x = g/(g-1) d/L0: their
    series in the finger's distance, summed. At the first fret 10 mm behind it adds two fifths.
    """
    g = 2.0 ** (fret / 12.0)
    flat = (g * nut_height_m + (g - 1.0) * saddle_rise_m) ** 2 / (2.0 * (g - 1.0) * scale_m**2)
    x = g / (g - 1.0) * finger_behind_m / scale_m
    return float(flat * (1.0 + g * x / (1.0 - x)))


def fretting_cents(stretch: float, *, kappa: float) -> float:
    """How sharp the press makes the note: 600 log2(1 + (kappa + 1) Q), tension and mass."""
    return float(600.0 * np.log2(1.0 + (kappa + 1.0) * stretch))


def setback_cents(fret: int, *, scale_m: float, saddle_m: float, nut_m: float) -> float:
    """What moving saddle and nut away from their places does: C2 (nut - (g-1) saddle) / L0.

    To first order, C2 = 1200 / ln 2; positive setbacks lengthen the string.
    """
    g = 2.0 ** (fret / 12.0)
    return float(1200.0 / np.log(2.0) * (nut_m - (g - 1.0) * saddle_m) / scale_m)


def slope_cents(fret: int, *, scale_m: float, nut_height_m: float, saddle_rise_m: float) -> float:
    """What the slope of the string does to its length: -C2 (g^2 (b+c)^2 - c^2) / (2 L0^2)."""
    g = 2.0 ** (fret / 12.0)
    rise = g**2 * (nut_height_m + saddle_rise_m) ** 2 - saddle_rise_m**2
    return float(-1200.0 / np.log(2.0) * rise / (2.0 * scale_m**2))
