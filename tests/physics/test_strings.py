"""Strings against a maker's chart, a paper's tables, a wire table and plain arithmetic."""

from dataclasses import FrozenInstanceError, replace
from itertools import pairwise

import numpy as np
import pytest

from labcore.errors import LabError
from labcore.physics.bending import square_law
from labcore.physics.sounding import inharmonicity
from labcore.physics.strings import (
    INCH_M,
    POUND_PER_INCH_KG_M,
    STRING_SETS,
    FrettedString,
    Guitar,
    GuitarString,
    cents_to_breaking,
    fret_to_saddle_m,
    fret_width_m,
    hexagon_area_m2,
    plain_string,
    string_set,
    wire_strength_pa,
    wound_string,
)
from labcore.units import note_number_hz

NEWTON_A_POUND = 4.4482216  # definition
CHART_TOLERANCE_LBF = 0.06  # the chart prints one decimal
PAPER_TOLERANCE_N = 0.35  # its masses have three or four digits
SHARE_TOLERANCE = 0.006  # our tables print three digits

NOTE = {"G4": 67, "F4": 65, "E4": 64, "D4": 62, "C4": 60, "B3": 59, "A3": 57, "G3": 55, "F3": 53}


def string_with(pounds_per_inch: float, open_hz: float) -> GuitarString:
    return plain_string("chart", gauge_in=0.009, pounds_per_inch=pounds_per_inch, open_hz=open_hz)


# A string maker's tension chart at 25.5 in, as quoted in a public SQL file (the chart itself was
# not opened): unit weight in pounds an inch, notes, tensions in pounds of force.
CHART = [
    (1.794e-5, "G4 F4 E4 D4 C4 B3 A3 G3", "18.6 14.7 13.1 10.4 8.3 7.4 5.8 4.6"),
    (2.024e-5, "F4 E4 D4 C4 B3 A3 G3 F3", "16.6 14.8 11.8 9.3 8.3 6.6 5.2 4.2"),
    (4.679e-5, "F4 E4 D4 C4 B3 A3 G3 F3", "38.4 34.2 27.2 21.6 19.2 15.2 12.1 9.6"),
]


@pytest.mark.parametrize(("weight", "notes", "tensions"), CHART)
def test_tensions_agree_with_a_makers_chart(weight: float, notes: str, tensions: str) -> None:
    for note, printed in zip(notes.split(), map(float, tensions.split()), strict=True):
        string = string_with(weight, note_number_hz(NOTE[note]))
        tension_n = FrettedString(string, fret=0, guitar=Guitar(25.5 * INCH_M)).tension_n
        assert tension_n / NEWTON_A_POUND == pytest.approx(printed, abs=CHART_TOLERANCE_LBF), note


# Anderson & Beausoleil 2024, specification table: nylon, 650 mm, E4 B3 G3 D3 A2 E2.
PAPER_TENSION_N = (68.6, 52.0, 54.2, 70.0, 67.3, 62.8)
# The same, derived table: effective modulus in GPa, there as (2R + 1) T / (pi radius^2).
PAPER_R = (23.6, 23.8, 28.8, 22.5, 23.9, 28.6)
PAPER_MODULUS_GPA = (8.33, 4.82, 3.87, 7.56, 5.28, 3.90)


@pytest.mark.parametrize("number", range(6))
def test_nylon_tensions_agree_with_the_paper(number: int) -> None:
    string = string_set("nylon, normal tension")[number]
    at = FrettedString(string, fret=0, guitar=Guitar(0.650))
    assert at.tension_n == pytest.approx(PAPER_TENSION_N[number], abs=PAPER_TOLERANCE_N)


@pytest.mark.parametrize("number", range(6))
def test_nylon_moduli_agree_with_the_paper_by_its_own_formula(number: int) -> None:
    string = string_set("nylon, normal tension")[number]
    at = FrettedString(string, fret=0, guitar=Guitar(0.650))
    modulus_pa = (2 * PAPER_R[number] + 1) * at.stress_pa
    assert modulus_pa / 1e9 == pytest.approx(PAPER_MODULUS_GPA[number], abs=0.06)


@pytest.mark.parametrize("number", range(6))
def test_nylon_kappa_lies_between_the_two_readings_of_the_experiment(number: int) -> None:
    string = string_set("nylon, normal tension")[number]
    kappa = FrettedString(string, fret=0, guitar=Guitar(0.650)).kappa
    assert 2 * PAPER_R[number] - 1 < kappa < 2 * PAPER_R[number] + 1


@pytest.mark.parametrize(("gauge_in", "weight"), [(0.009, 1.794e-5), (0.016, 5.671e-5)])
def test_chart_masses_give_the_handbook_density_of_steel(gauge_in: float, weight: float) -> None:
    # handbook density of ASTM A228 music wire: 7.8 g/cm3
    area_m2 = np.pi / 4 * (gauge_in * INCH_M) ** 2
    assert weight * POUND_PER_INCH_KG_M / area_m2 == pytest.approx(7800, abs=20)


def test_the_first_fret_of_650_mm_is_614_mm_from_the_saddle() -> None:
    # Anderson & Beausoleil 2024: "about 614 mm"
    assert fret_to_saddle_m(0.650, fret=1) * 1e3 == pytest.approx(614, abs=0.6)


def test_frets_fall_where_equal_temperament_puts_them() -> None:
    # computed from 2^(-n/12) by hand: a guard against change
    from_nut_mm = {1: 36.37, 2: 70.70, 3: 103.10, 5: 162.55, 7: 215.51, 12: 324.00}
    from_nut_mm |= {19: 431.76, 22: 466.16}
    for fret, expected in from_nut_mm.items():
        assert 648 - fret_to_saddle_m(0.648, fret=fret) * 1e3 == pytest.approx(expected, abs=0.01)
    assert fret_width_m(0.648, fret=1) * 1e3 == pytest.approx(36.37, abs=0.01)


@pytest.mark.parametrize("number", range(3))
def test_kappa_of_plain_wire_does_not_depend_on_the_gauge(number: int) -> None:
    # E / (density (2 L f)^2): the mass of the chart is the only difference between the two
    light = FrettedString(string_set("9-42")[number], fret=0).kappa
    heavy = FrettedString(string_set("10-46")[number], fret=0).kappa
    assert light == pytest.approx(heavy, rel=0.002)


# Computed from the model's own equations: guards against change, 647.7 mm. Tension in N, kappa,
# stress in MPa, Fletcher's B of the open string, cents a square mm of push at the 12th fret.
TABLE = {
    "9-42": [
        (58.41, 140.5, 1423, 1.08e-5, 0.580), (48.97, 250.4, 799, 2.87e-5, 1.033),
        (65.28, 397.4, 503, 9.65e-5, 1.640), (70.14, 244, 819, 3.91e-5, 1.008),
        (70.15, 325, 615, 6.94e-5, 1.341), (65.69, 420, 476, 1.085e-4, 1.733),
    ],
    "10-46": [
        (72.12, 140.5, 1423, 1.33e-5, 0.580), (68.42, 250.3, 799, 4.01e-5, 1.033),
        (73.70, 397.4, 503, 1.09e-4, 1.640), (81.86, 226, None, 3.90e-5, 0.931),
        (86.89, 299, None, 7.25e-5, 1.232), (77.77, 377, None, 1.03e-4, 1.554),
    ],
}  # fmt: skip


@pytest.mark.parametrize("gauges", TABLE)
def test_the_table_of_a_set_has_not_changed(gauges: str) -> None:
    for string, (tension_n, kappa, stress_mpa, stiffness, k_12) in zip(
        string_set(gauges), TABLE[gauges], strict=True
    ):
        at = FrettedString(string, fret=12)
        assert at.tension_n == pytest.approx(tension_n, rel=SHARE_TOLERANCE)
        assert at.kappa == pytest.approx(kappa, rel=SHARE_TOLERANCE)
        if stress_mpa is not None:
            assert at.stress_pa / 1e6 == pytest.approx(stress_mpa, rel=SHARE_TOLERANCE)
        open_b = inharmonicity(FrettedString(string, fret=0))
        assert open_b == pytest.approx(stiffness, rel=SHARE_TOLERANCE)
        assert square_law(at) * 1e-6 == pytest.approx(k_12, rel=SHARE_TOLERANCE)


@pytest.mark.parametrize(
    ("gauges", "scale_m", "tensions_n"),
    [
        ("9-42", 0.628, (54.91, 46.04, 61.37)),
        ("9-42", 0.650, (58.83, 49.32, 65.75)),
        ("10-46", 0.628, (67.80, 64.32, 69.28)),
        ("10-46", 0.650, (72.63, 68.90, 74.22)),
    ],
)
def test_tension_goes_with_the_square_of_the_scale(
    gauges: str, scale_m: float, tensions_n: tuple[float, ...]
) -> None:
    # computed; checked here against T proportional to L0^2 as well
    for string, expected in zip(string_set(gauges), tensions_n, strict=False):
        here = FrettedString(string, fret=0, guitar=Guitar(scale_m)).tension_n
        usual = FrettedString(string, fret=0).tension_n
        assert here == pytest.approx(expected, abs=0.02)
        assert here / usual == pytest.approx((scale_m / 0.6477) ** 2, rel=1e-9)


def test_kappa_falls_with_the_square_of_the_scale() -> None:
    # computed: plain strings at 628 mm, E / (density (2 L f)^2)
    kappas = [FrettedString(s, fret=0, guitar=Guitar(0.628)).kappa for s in string_set("9-42")[:3]]
    assert kappas == pytest.approx([149.5, 266.3, 422.7], rel=0.001)


@pytest.mark.parametrize(
    ("gauge_in", "strength_mpa"),
    [(0.009, 2710), (0.010, 2668), (0.011, 2634), (0.013, 2572), (0.016, 2496), (0.018, 2455)],
)
def test_wire_strengths_are_those_of_the_wire_table(gauge_in: float, strength_mpa: float) -> None:
    # a wire maker's table for ASTM A228: 393 387 382 373 362 356 ksi; 1 ksi = 6.894757 MPa
    assert wire_strength_pa(gauge_in * INCH_M) / 1e6 == pytest.approx(strength_mpa, abs=1)


def test_the_first_string_carries_half_of_what_new_wire_stands() -> None:
    # wire table: .009 in at least 393 ksi = 2710 MPa; stress r (2 L f)^2
    at = FrettedString(string_set("9-42")[0], fret=0)
    strength_pa = wire_strength_pa(0.009 * INCH_M)
    assert strength_pa / 1e6 == pytest.approx(2710, abs=1)
    assert at.stress_pa / strength_pa == pytest.approx(0.53, abs=0.005)
    assert cents_to_breaking(at) == pytest.approx(557, abs=3)
    assert at.stress_pa * 2 ** (300 / 600) / strength_pa == pytest.approx(0.74, abs=0.01)


def test_stress_in_normal_tuning_stays_under_what_a_textbook_names() -> None:
    # Zollner, Physics of the Electric Guitar: up to 2000 N/mm2 in normal tuning
    for gauges in ("9-42", "10-46"):
        for string in string_set(gauges):
            assert FrettedString(string, fret=0).stress_pa < 2000e6


def test_a_capo_shortens_what_lies_behind_the_fret_and_leaves_the_tension() -> None:
    string = string_set("9-42")[2]
    plain, capo = FrettedString(string, fret=12), FrettedString(string, fret=12, capo_fret=5)
    assert capo.tension_n == plain.tension_n
    assert capo.speaking_m == plain.speaking_m
    assert capo.behind_m == pytest.approx(0.6477 * (2 ** (-5 / 12) - 0.5))
    assert capo.sharing_m == pytest.approx(0.6477 * 2 ** (-5 / 12))


def test_only_the_core_of_a_wound_string_resists_a_stretch() -> None:
    wound = wound_string("w", core_in=0.0165, pounds_per_inch=3.2279e-4, open_hz=82.41)
    hexagonal = wound_string(
        "w", core_in=0.0165, pounds_per_inch=3.2279e-4, open_hz=82.41, hexagonal=True
    )
    assert wound.stretch_n == pytest.approx(200e9 * 0.7854 * (0.0165 * INCH_M) ** 2, rel=1e-3)
    assert hexagonal.stretch_n / wound.stretch_n == pytest.approx(0.866 / 0.7854, rel=1e-3)
    assert hexagon_area_m2(1.0) == pytest.approx(0.8660, abs=1e-4)


def test_a_string_can_be_edited_but_not_changed_in_place() -> None:
    string = string_set("9-42")[2]
    assert replace(string, name="mine").name == "mine"
    with pytest.raises(FrozenInstanceError):
        string.name = "mine"  # type: ignore[misc]


@pytest.mark.parametrize("gauges", STRING_SETS)
def test_every_set_has_six_strings_from_thin_to_thick(gauges: str) -> None:
    strings = string_set(gauges)
    assert len(strings) == 6
    assert all(a.open_hz > b.open_hz for a, b in pairwise(strings))


def test_wrong_input_is_told_in_a_sentence() -> None:
    string = string_set("9-42")[2]
    with pytest.raises(LabError, match="no set '8-38'"):
        string_set("8-38")
    with pytest.raises(LabError, match="mass_kg_m of the string"):
        replace(string, mass_kg_m=0.0)
    with pytest.raises(LabError, match="scale length is 648"):
        Guitar(648.0)
    with pytest.raises(LabError, match="free lengths"):
        Guitar(free_nut_m=-0.1)
    with pytest.raises(LabError, match="capo"):
        FrettedString(string, fret=3, capo_fret=5)
