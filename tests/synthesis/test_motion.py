from itertools import pairwise

import numpy as np
import pytest

from labcore.errors import LabError
from labcore.model import Place
from labcore.synthesis import (
    both_ways_push,
    circle,
    held_bend,
    joined,
    line_through,
    played_times,
    swell,
    varied,
    waves,
)

FINE_S = np.arange(0.0, 4.0, 0.0005)


def test_waves_are_a_raised_cosine_at_the_asked_rate() -> None:
    cents = line_through(waves(8, rate_hz=4.8, extent_cents=60.0, start_s=0.5), FINE_S)
    inside = (FINE_S >= 0.5) & (FINE_S <= 0.5 + 8 / 4.8)
    expected = np.where(inside, 30.0 * (1 - np.cos(2 * np.pi * 4.8 * (FINE_S - 0.5))), 0.0)
    assert cents == pytest.approx(expected, abs=0.01)


def test_a_wave_that_stops_short_is_as_wide_as_asked() -> None:
    (_, start), (_, top), (_, end), *_ = waves(3, rate_hz=3.0, extent_cents=50.0, return_cents=20.0)
    assert (start, end) == (0.0, 20.0)
    assert top - (start + end) / 2 == pytest.approx(50.0)


def test_home_at_the_top_goes_down_only_and_in_the_middle_both_sides() -> None:
    down = line_through(waves(4, rate_hz=4.0, extent_cents=40.0, place=Place.TOP), FINE_S)
    assert (down.max(), down.min()) == pytest.approx((0.0, -40.0), abs=0.01)
    round_it = line_through(waves(4, rate_hz=4.0, extent_cents=40.0, place=Place.MIDDLE), FINE_S)
    assert (round_it.max(), round_it.min()) == pytest.approx((20.0, -20.0), abs=0.01)
    assert round_it[-1] == 0.0


@pytest.mark.parametrize("place", [Place.BOTTOM, Place.TOP, Place.MIDDLE])
def test_the_rise_takes_its_share_of_every_wave(place: Place) -> None:
    knots = waves(6, rate_hz=2.0, extent_cents=40.0, place=place, rise_share=0.3)
    rises = [b[0] - a[0] for a, b in pairwise(knots[1:-1]) if b[1] > a[1]]
    assert rises
    assert rises == pytest.approx([0.3 / 2.0] * len(rises), abs=1e-4)


def test_a_dwell_rests_at_home_for_its_share() -> None:
    cents = line_through(waves(4, rate_hz=2.0, extent_cents=40.0, dwell_share=0.25), FINE_S)
    assert np.mean(cents[FINE_S < 2.0] == 0.0) == pytest.approx(0.25, abs=0.005)


def test_pushing_through_both_ways_doubles_the_rate_and_alternates() -> None:
    """Against K (y0 + r cos wt)^2 itself: the textbook identity, not the builder's knots."""
    hand_hz, reach, share = 1.8, 40.0, 0.25
    knots = both_ways_push(4, hand_rate_hz=hand_hz, reach_cents=reach, offset_share=share)
    time_s = np.arange(0.0, 4 / hand_hz, 0.0005)
    made = line_through(knots, time_s)
    angle = 2 * np.pi * hand_hz * time_s - np.arccos(-share)  # starts at rest, before a tall peak
    true = reach * (share + np.cos(angle)) ** 2
    assert made == pytest.approx(true, abs=0.06 * reach)  # half cosines between exact turns
    peaks = [cents for _, cents in knots[1::2]]
    assert len(peaks) == 8  # two waves a swing of the hand
    assert peaks[0] / peaks[1] == pytest.approx(((1 + share) / (1 - share)) ** 2, rel=1e-3)
    assert peaks[0] / peaks[1] == pytest.approx(2.8, abs=0.05)


def test_without_offset_both_ways_pushing_is_exact() -> None:
    knots = both_ways_push(3, hand_rate_hz=2.0, reach_cents=30.0)
    time_s = FINE_S[FINE_S <= 1.5]
    true = 30.0 * np.sin(2 * np.pi * 2.0 * time_s) ** 2
    assert line_through(knots, time_s) == pytest.approx(true, abs=0.01)


@pytest.mark.parametrize(
    ("phase_degrees", "rising"), [(0.0, 0.5), (45.0, 0.567), (90.0, 0.602), (270.0, 0.398)]
)
def test_a_circle_leans_by_the_phase_of_its_two_motions(
    phase_degrees: float, rising: float
) -> None:
    """Rising share for 2 K y0 r = 2, K r^2 = 1, axial amplitude 1.5: derived by formula.

    With y0 = r the sideways motion alone is (1 + cos)^2, whose fundamental is 2 and whose second
    harmonic is 0.5, as in that derivation; peak to peak 4, and 3 for the axial motion alone.
    """
    knots = circle(2, rate_hz=1.0, push_cents=4.0, roll_cents=3.0, phase_degrees=phase_degrees)
    assert knots[1][0] == pytest.approx(rising, abs=0.001)


def test_played_times_vary_as_asked_and_a_locked_player_stays_on_the_grid() -> None:
    rng = np.random.default_rng(7)
    locked = played_times(400, rate_hz=3.6, start_s=1.0, spread_percent=4.0, rng=rng)
    spread = 100 * np.std(np.diff(locked)) * 3.6
    assert spread == pytest.approx(4.0, abs=0.5)
    assert locked[0] == 1.0
    grid = 1.0 + np.arange(401) / 3.6
    assert np.max(np.abs(locked - grid)) * 3.6 < 0.07
    free = played_times(400, rate_hz=3.6, start_s=1.0, spread_percent=4.0, rng=rng, locked=False)
    assert 100 * np.std(np.diff(free)) * 3.6 == pytest.approx(4.0, abs=0.5)
    assert np.max(np.abs(free - grid)) * 3.6 > 0.2


def test_varied_and_swell() -> None:
    widths = varied(50.0, count=500, spread_percent=5.0, rng=np.random.default_rng(3))
    assert 100 * np.std(widths) / np.mean(widths) == pytest.approx(5.0, abs=0.6)
    assert swell(4, from_cents=60.0, to_cents=30.0) == (60.0, 50.0, 40.0, 30.0)


def test_a_held_bend_joins_waves_on_top() -> None:
    bend = held_bend(200.0, start_s=0.2)
    let_down = waves(
        3, rate_hz=4.0, extent_cents=30.0, start_s=1.0, place=Place.TOP, home_cents=200.0
    )
    cents = line_through(joined(bend, let_down), FINE_S)
    assert cents[FINE_S > 0.5].max() == pytest.approx(200.0)
    assert cents[FINE_S > 0.5].min() == pytest.approx(170.0, abs=0.01)
    assert joined(bend, bend[-1:]) == bend


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"rate_hz": 4.0, "place": Place.UNKNOWN}, "bottom, middle or top"),
        ({}, "either a rate or the times"),
        ({"rate_hz": 4.0, "cycle_times_s": [0, 1, 2, 3]}, "either a rate or the times"),
        ({"cycle_times_s": [0.0, 1.0]}, "give 4 ascending"),
        ({"rate_hz": 0.0}, "rate is 0"),
        ({"rate_hz": 4.0, "rise_share": 1.0}, "rise share"),
        ({"rate_hz": 4.0, "dwell_share": 0.95}, "dwell share"),
        ({"rate_hz": 4.0, "return_cents": [1.0, 2.0]}, "one, or one each"),
    ],
)
def test_nonsense_in_waves_is_refused(arguments: dict[str, object], words: str) -> None:
    with pytest.raises(LabError, match=words):
        waves(3, extent_cents=40.0, **arguments)  # type: ignore[arg-type]
    with pytest.raises(LabError, match="one way"):
        both_ways_push(3, hand_rate_hz=2.0, reach_cents=20.0, offset_share=1.0)
