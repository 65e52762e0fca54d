"""Sideways bends against Grimes's formula, Zollner's stiffness, identities and stored tables."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcore.errors import LabError
from labcore.physics.bending import (
    bend_cents,
    bend_force_n,
    bend_stretch_m,
    bend_tension_n,
    bend_work_j,
    push_for_cents_m,
    side_stiffness_n_m,
    square_law,
)
from labcore.physics.strings import FrettedString, Guitar, string_set

GRIMES_TOLERANCE = 0.008  # his straight-through formula against the exact triangle
CHANGE_TOLERANCE = 0.001  # of numbers computed by the model itself, as printed
few = settings(max_examples=30, derandomize=True, deadline=None)

THIRD = FrettedString(string_set("9-42")[2], fret=12)
FIRST = FrettedString(string_set("9-42")[0], fret=12)
anywhere = st.builds(
    FrettedString,
    st.sampled_from([*string_set("9-42"), *string_set("nylon, normal tension")]),
    st.integers(1, 22),
    st.builds(Guitar, st.floats(0.6, 0.66), st.floats(0.0, 0.2), st.floats(0.0, 0.1)),
)
pushes_m = st.floats(1e-4, 0.02)


def grimes_cents(at: FrettedString, *, angle_deg: float) -> float:
    """f = (1/2L) sqrt((EA + cos(angle) (T - EA)) / mu0), as quoted in a public script."""
    c = np.cos(np.radians(angle_deg))
    pulled_n = at.string.stretch_n + c * (at.tension_n - at.string.stretch_n)
    return float(600 * np.log2(pulled_n / at.tension_n))


# Grimes 2014, PLoS ONE 9(7): e102088, its equation (second-hand) worked out for two strings.
GRIMES = [
    (FIRST, [(0.5, 4.59), (1.0, 18.20), (1.5, 40.43), (2.0, 70.61), (3.0, 151.46)]),
    (THIRD, [(0.5, 12.97), (1.0, 50.74), (1.5, 110.25), (2.0, 187.23), (3.0, 375.58)]),
]


@pytest.mark.parametrize(("at", "rows"), GRIMES)
def test_the_bend_agrees_with_grimes(at: FrettedString, rows: list[tuple[float, float]]) -> None:
    for angle_deg, cents in rows:
        assert grimes_cents(at, angle_deg=angle_deg) == pytest.approx(cents, rel=0.002)
        push_m = np.tan(np.radians(angle_deg)) * at.speaking_m
        assert bend_cents(at, push_m=push_m) == pytest.approx(cents, rel=GRIMES_TOLERANCE)


def test_no_push_is_no_bend() -> None:
    assert bend_cents(THIRD, push_m=0.0) == pytest.approx(0.0, abs=1e-9)
    assert bend_force_n(THIRD, push_m=0.0) == 0.0
    assert bend_work_j(THIRD, push_m=0.0) == 0.0
    assert float(push_for_cents_m(THIRD, cents=0.0)) == pytest.approx(0.0, abs=1e-12)
    assert grimes_cents(THIRD, angle_deg=0.0) == pytest.approx(0.0, abs=1e-9)


def test_sideways_stiffness_is_of_the_size_a_textbook_gives() -> None:
    # Zollner & Zwicker, chapter on plucking: about 1000 to 2000 N/m at 6 to 10 cm from the bridge
    strings = [FrettedString(string, fret=36) for string in string_set("10-46")]  # at 8 cm
    found = [side_stiffness_n_m(at) for at in strings]
    assert min(found) > 950
    assert max(found) < 2000


@pytest.mark.parametrize(("stiffness_n_m", "energy_mj"), [(1000.0, 2.0), (2000.0, 4.0)])
def test_energy_of_a_2_mm_pluck_agrees_with_the_same_page(
    stiffness_n_m: float, energy_mj: float
) -> None:
    # Zollner & Zwicker: 2 to 4 mWs. A string of that stiffness, scaled from ours.
    share = stiffness_n_m / side_stiffness_n_m(THIRD)
    small_m = 1e-5  # where the force is still proportional to the push
    work_j = float(bend_work_j(THIRD, push_m=small_m)) * share * (2e-3 / small_m) ** 2
    assert work_j * 1e3 == pytest.approx(energy_mj, rel=1e-3)


def test_a_worked_example_of_the_geometry() -> None:
    # a public worked example: 1.2 mm more string on 648 mm at mid-string is 19.7 mm sideways
    middle = FrettedString(string_set("9-42")[2], fret=12, guitar=Guitar(0.648))
    assert float(bend_stretch_m(middle, push_m=19.7e-3)) * 1e3 == pytest.approx(1.2, abs=0.005)


def test_the_rest_stiffness_at_the_twelfth_fret_is_four_tensions_over_the_scale() -> None:
    assert side_stiffness_n_m(THIRD) == pytest.approx(4 * THIRD.tension_n / 0.6477, rel=1e-9)


# --- computed by the model: guards against change ------------------------------------------


@pytest.mark.parametrize(
    ("fret", "cents", "newtons"),
    [
        (12, (1.638, 14.634, 40.051, 99.023), (0.404, 1.230, 2.111, 3.616)),
        (5, (2.186, 19.479, 53.058, 129.81), (0.538, 1.645, 2.850, 4.980)),
    ],
)
def test_the_plain_third_has_not_changed(
    fret: int, cents: tuple[float, ...], newtons: tuple[float, ...]
) -> None:
    at, push_m = FrettedString(string_set("9-42")[2], fret=fret), np.array([1, 3, 5, 8]) * 1e-3
    assert bend_cents(at, push_m=push_m) == pytest.approx(cents, rel=CHANGE_TOLERANCE)
    assert bend_force_n(at, push_m=push_m) == pytest.approx(newtons, rel=CHANGE_TOLERANCE)


def test_the_push_for_a_width_has_not_changed() -> None:
    push_m = push_for_cents_m(THIRD, cents=[20, 50, 100, 200, 300, 400])
    assert push_m * 1e3 == pytest.approx([3.51, 5.60, 8.04, 11.72, 14.80, 17.63], rel=0.005)
    expected_n = [1.45, 2.39, 3.64, 5.95, 8.44, 11.28]
    assert bend_force_n(THIRD, push_m=push_m) == pytest.approx(expected_n, rel=0.005)


def neck_rows() -> list[dict[str, str]]:
    text = (Path(__file__).parent / "neck.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def test_the_table_along_the_neck_has_not_changed() -> None:
    rows = neck_rows()
    assert len(rows) == 2 * 22 * 6
    for row in rows:
        string = string_set(row["set"])[int(row["string"]) - 1]
        at = FrettedString(string, fret=int(row["fret"]))
        push_m = float(push_for_cents_m(at, cents=50.0))
        # as printed: two, one and two decimals
        assert side_stiffness_n_m(at) * 1e-3 == pytest.approx(float(row["n_per_mm"]), abs=0.0075)
        assert push_m * 1e3 == pytest.approx(float(row["mm_50"]), abs=0.06)
        assert float(bend_force_n(at, push_m=push_m)) == pytest.approx(
            float(row["n_50"]), abs=0.012
        )


@pytest.mark.parametrize("gauges", ["9-42", "10-46"])
@pytest.mark.parametrize("number", range(6))
def test_least_force_is_at_the_twelfth_fret(gauges: str, number: int) -> None:
    frets = range(1, 23)
    force_n = []
    for fret in frets:
        at = FrettedString(string_set(gauges)[number], fret=fret)
        force_n.append(float(bend_force_n(at, push_m=push_for_cents_m(at, cents=50.0))))
    assert frets[int(np.argmin(force_n))] == 12
    assert force_n[0] / force_n[11] == pytest.approx(2.16, rel=0.01)
    assert max(force_n[6:19]) / force_n[11] < 1.07  # frets 7 to 19


@pytest.mark.parametrize("gauges", ["9-42", "10-46"])
@pytest.mark.parametrize("number", range(1, 6))
def test_work_hardly_depends_on_the_fret(gauges: str, number: int) -> None:
    work_j = []
    for fret in range(1, 23):
        at = FrettedString(string_set(gauges)[number], fret=fret)
        work_j.append(float(bend_work_j(at, push_m=push_for_cents_m(at, cents=50.0))))
    assert max(work_j) / min(work_j) < 1.05


# --- identities and properties ---------------------------------------------------------------


def test_a_whole_tone_needs_a_quarter_more_tension() -> None:
    # f goes as the root of T, so T'/T = 2^(4/12) = 1.25992, not the frequency ratio 1.122
    push_m = push_for_cents_m(THIRD, cents=200.0)
    stretch = bend_stretch_m(THIRD, push_m=push_m) / THIRD.sharing_m
    ratio = bend_tension_n(THIRD, push_m=push_m) / THIRD.tension_n
    longer = np.hypot(THIRD.speaking_m, push_m) / THIRD.speaking_m
    assert ratio * (1 + stretch) / longer**2 == pytest.approx(1.25992, abs=1e-5)
    assert ratio == pytest.approx(1.25992, rel=0.002)


@few
@given(anywhere, pushes_m)
def test_a_push_either_way_raises_the_pitch_alike(at: FrettedString, push_m: float) -> None:
    up, down = bend_cents(at, push_m=push_m), bend_cents(at, push_m=-push_m)
    assert up > 0
    assert up == pytest.approx(down)
    assert bend_force_n(at, push_m=-push_m) == pytest.approx(-bend_force_n(at, push_m=push_m))


@few
@given(anywhere, pushes_m)
def test_further_is_higher_and_harder(at: FrettedString, push_m: float) -> None:
    steps = np.array([push_m, 1.1 * push_m])
    assert np.diff(bend_cents(at, push_m=steps))[0] > 0
    assert np.diff(bend_force_n(at, push_m=steps))[0] > 0


@few
@given(anywhere, st.floats(0.0, 400.0))
def test_cents_to_push_and_back(at: FrettedString, cents: float) -> None:
    push_m = push_for_cents_m(at, cents=cents)
    assert float(bend_cents(at, push_m=push_m)) == pytest.approx(cents, abs=1e-6)


@few
@given(anywhere, st.floats(1e-5, 2e-3))
def test_the_square_law_holds_for_small_pushes(at: FrettedString, push_m: float) -> None:
    # within 2.5 % up to 2 mm at most frets; near the nut the triangle is short, so 2 mm is a lot
    push_m = min(push_m, at.behind_m / 40.0)
    exact = float(bend_cents(at, push_m=push_m))
    assert square_law(at) * push_m**2 == pytest.approx(exact, rel=0.025)


@few
@given(anywhere, pushes_m)
def test_the_work_is_the_force_summed_over_the_way(at: FrettedString, push_m: float) -> None:
    way_m = np.linspace(0.0, push_m, 2001)
    force_n = bend_force_n(at, push_m=way_m)
    summed_j = np.sum((force_n[1:] + force_n[:-1]) / 2.0 * np.diff(way_m))
    assert float(bend_work_j(at, push_m=push_m)) == pytest.approx(float(summed_j), rel=1e-4)


def test_free_string_behind_the_nut_makes_the_push_longer() -> None:
    # y goes as the root of the sharing length: 150 mm more on 648 is 11 %
    free = FrettedString(THIRD.string, fret=12, guitar=Guitar(free_nut_m=0.150))
    longer = push_for_cents_m(free, cents=20.0) / push_for_cents_m(THIRD, cents=20.0)
    assert float(longer) == pytest.approx(1.11, abs=0.01)


def test_a_held_bend_needs_little_movement_and_much_force() -> None:
    # computed: 50 cents below a whole-tone bend are 1.7 mm, against 5.6 mm from rest, at 6 N
    high_m, low_m = push_for_cents_m(THIRD, cents=[200.0, 150.0])
    assert (high_m - low_m) * 1e3 == pytest.approx(1.7, abs=0.05)
    assert float(bend_force_n(THIRD, push_m=high_m)) == pytest.approx(6.0, abs=0.1)


def test_arrays_come_back_in_their_shape() -> None:
    push_m = np.full((2, 3), 3e-3)
    assert bend_cents(THIRD, push_m=push_m).shape == (2, 3)
    assert push_for_cents_m(THIRD, cents=np.full((2, 3), 40.0)).shape == (2, 3)


def test_what_cannot_be_bent_is_refused() -> None:
    with pytest.raises(LabError, match="open string"):
        bend_cents(FrettedString(THIRD.string, fret=0), push_m=1e-3)
    with pytest.raises(LabError, match="only raise the pitch"):
        push_for_cents_m(THIRD, cents=-5.0)
    with pytest.raises(LabError, match="only raise the pitch"):
        push_for_cents_m(THIRD, cents=1e5)


# --- known misprints: the model must not follow them -----------------------------------------


def test_the_misprinted_formula_fails_at_rest() -> None:
    # an encyclopedia copy prints T where EA belongs: it is off even when nothing is bent
    stretch_n, tension_n = THIRD.string.stretch_n, THIRD.tension_n
    misprint = 600 * np.log2(abs(tension_n + 1.0 * (tension_n - stretch_n)) / tension_n)
    assert abs(misprint) > 1000
    assert bend_cents(THIRD, push_m=0.0) == pytest.approx(0.0, abs=1e-9)


def test_tension_does_not_grow_with_the_frequency_ratio() -> None:
    # a worked example raises the tension by 1.12 for a whole tone; that is only half a tone's worth
    push_m = push_for_cents_m(THIRD, cents=200.0)
    ratio = float(bend_tension_n(THIRD, push_m=push_m)) / THIRD.tension_n
    assert ratio > 1.25


def test_there_is_no_linear_rule_of_millimetres_a_semitone() -> None:
    # a page gives 1.5 mm a semitone at the 12th fret; twice the push is four times the cents
    assert float(push_for_cents_m(THIRD, cents=100.0)) * 1e3 == pytest.approx(8.0, abs=0.1)
    assert float(push_for_cents_m(FIRST, cents=100.0)) * 1e3 == pytest.approx(13.5, abs=0.2)
    double = bend_cents(THIRD, push_m=2e-3) / bend_cents(THIRD, push_m=1e-3)
    assert float(double) == pytest.approx(4.0, rel=0.01)


def test_handbook_nylon_is_not_string_nylon() -> None:
    # general tables give 2.9 GPa; the strings measured 3.9 to 8.3 (Anderson & Beausoleil 2024)
    for string in string_set("nylon, normal tension"):
        area_m2 = np.pi / 4 * string.core_m**2
        assert 3.6e9 < string.stretch_n / area_m2 < 8.5e9


def test_the_outer_diameter_of_a_wound_string_does_not_carry() -> None:
    # it would make kappa 3 to 6.5 times too big
    for string, gauge_in in zip(string_set("9-42")[3:], (0.024, 0.032, 0.042), strict=True):
        wrong_n = 200e9 * np.pi / 4 * (gauge_in * 0.0254) ** 2
        assert 3.0 < wrong_n / string.stretch_n < 6.6
