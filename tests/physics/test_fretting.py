"""What a press does to a plain note, against Anderson & Beausoleil 2024."""

import numpy as np
import pytest

from labcore.physics.fretting import (
    fretting_cents,
    fretting_stretch,
    setback_cents,
    slope_cents,
)

SCALE_M = 0.650  # their classical guitar: nut 1 mm, saddle 4 mm higher


def test_the_stretch_of_frets_1_to_12_lies_where_the_paper_puts_it() -> None:
    # "about 25 to 45 millionths", finger on the fret or 10 mm behind it
    near = [1e6 * fretting_stretch(fret, scale_m=SCALE_M) for fret in range(1, 13)]
    behind = [
        1e6 * fretting_stretch(fret, scale_m=SCALE_M, finger_behind_m=0.010)
        for fret in range(1, 13)
    ]
    assert min(near) == pytest.approx(25, abs=3)
    assert behind[0] == pytest.approx(47, abs=1)  # named for the first fret, 10 mm behind it
    assert max(near + behind) < 48
    assert np.all(np.array(behind) >= np.array(near))


def test_setbacks_slope_and_mass_agree_with_the_paper() -> None:
    # paper text: saddle setback 1.9 mm, nut setback -0.37 mm; its table prints 1.8 and -0.38
    text = setback_cents(12, scale_m=SCALE_M, saddle_m=1.9e-3, nut_m=-0.37e-3)
    table = setback_cents(12, scale_m=SCALE_M, saddle_m=1.8e-3, nut_m=-0.38e-3)
    slope = slope_cents(12, scale_m=SCALE_M, nut_height_m=1e-3, saddle_rise_m=4e-3)
    first = fretting_stretch(1, scale_m=SCALE_M, finger_behind_m=0.010)
    assert text == pytest.approx(-6.05, abs=0.01)
    assert table == pytest.approx(-5.81, abs=0.01)
    assert slope == pytest.approx(-0.17, abs=0.01)
    # the loss of mass a metre: 0.04 cents at the first fret, 10 mm behind it, less elsewhere
    assert fretting_cents(first, kappa=0.0) == pytest.approx(0.04, abs=0.005)


def test_a_press_makes_every_note_sharp() -> None:
    for fret in range(1, 20):
        stretch = fretting_stretch(fret, scale_m=SCALE_M)
        assert 0.0 < fretting_cents(stretch, kappa=50.0) < fretting_cents(stretch, kappa=400.0)
