from dataclasses import replace

import numpy as np
import pytest

from labcore.errors import LabError
from labcore.model import Place
from labcore.synthesis import Playing, bar_knots, click_times, fretted_hz, played_bars


def rng() -> np.random.Generator:
    return np.random.default_rng(21)


@pytest.mark.parametrize(
    ("string", "fret", "hz"),
    [(1, 0, 329.6276), (3, 9, 329.6276), (5, 0, 110.0), (6, 12, 164.8138)],
)
def test_fretted_pitches_are_the_midi_tuning_standard_s(string: int, fret: int, hz: float) -> None:
    assert fretted_hz(string, fret=fret) == pytest.approx(hz, abs=1e-4)


def test_a_guitar_tuned_high_is_high() -> None:
    ratio = fretted_hz(3, fret=9, tuned_cents=10.0) / fretted_hz(3, fret=9)
    assert ratio == pytest.approx(2 ** (10 / 1200))


@pytest.mark.parametrize(("value", "waves_a_bar"), [(2, 6), (3, 9), (4, 12), (5, 15), (6, 18)])
def test_a_bar_has_a_plain_beat_and_three_beats_of_waves(value: int, waves_a_bar: int) -> None:
    playing = Playing(cycles_per_beat=(value,) * 4)
    notes = played_bars(playing, rng=rng(), hz=330.0, first_s=1.0)
    bar_s = 4 * 60 / 72
    assert [note.onset_s for note in notes] == pytest.approx(0.988 + bar_s * np.arange(4))
    for note in notes:
        assert note.knots[0] == (pytest.approx(60 / 72), 0.0)
        assert sum(cents > 20.0 for _, cents in note.knots) == waves_a_bar


def test_a_faultless_player_never_goes_below_the_fret_and_comes_home_within_four_cents() -> None:
    knots = bar_knots(Playing(), cycles_per_beat=6, rng=rng())
    homes = np.array([cents for _, cents in knots[0::2]])
    assert homes.size == 19
    assert homes.min() >= 0.0
    assert homes.max() <= 4.0


def test_a_quick_player_fits_more_waves_in_and_stops_before_the_bar_ends() -> None:
    quick = bar_knots(Playing(speed=1.25), cycles_per_beat=4, rng=rng())
    assert len(quick) == 1 + 2 * 15
    assert quick[-1][0] <= 4 * 60 / 72 + 0.03


def test_round_home_the_middle_stays_at_home() -> None:
    knots = bar_knots(Playing(place=Place.MIDDLE, extent_cents=30.0), cycles_per_beat=3, rng=rng())
    inner = np.array([cents for _, cents in knots[1:-1]])
    assert np.mean(inner) == pytest.approx(0.0, abs=1.0)
    assert inner.min() < -12.0


def test_clicks_stand_a_beat_apart() -> None:
    assert np.diff(click_times(72, beats=5, first_s=0.3)) == pytest.approx([60 / 72] * 4, abs=2e-6)


def test_nonsense_in_a_form_is_refused() -> None:
    with pytest.raises(LabError, match="7 waves to the click"):
        replace(Playing(), cycles_per_beat=(7,))
    with pytest.raises(LabError, match="leave no waves"):
        replace(Playing(), plain_beats=4)
    with pytest.raises(LabError, match="no string 7"):
        fretted_hz(7, fret=2)
