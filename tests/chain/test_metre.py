"""Circular statistics against worked examples, and how waves sit on a grid."""

from itertools import pairwise

import numpy as np
import pytest
import scipy.stats

from labcore.beats import beat_s
from labcore.metre import (
    Beat,
    circular_spread,
    find_beat,
    fit_grid,
    one_value_groups,
    resultant,
)
from labcore.model import (
    BeatOrigin,
    ClickSource,
    ClickTrack,
    Floats,
    Task,
    Turn,
    TurnKind,
    VibratoCycle,
)

# Worked examples: A is Zar 2010, Biostatistical Analysis, Examples 26.2 and 27.1 (leaning trees);
# B is Zar 2010, Example 27.2; D stands in astropy's docstrings, E in pingouin's.
TREES = [45, 55, 81, 96, 110, 117, 132, 154]
ZAR_B = [66, 75, 86, 88, 88, 93, 97, 101, 118, 130]
ASTROPY = [51, 67, 40, 109, 31, 358]
PINGOUIN = list(np.degrees([0.785, 1.570, 3.141, 0.839, 5.934]))


@pytest.mark.parametrize(
    ("degrees", "strength", "mean"),
    [(TREES, 0.82522, 98.99), (ZAR_B, 0.95214, 94.05),
     (ASTROPY, 1 - 0.16356352748437508, 48.62718088722989), (PINGOUIN, 0.4972, None)],
)  # fmt: skip
def test_resultants_of_the_worked_examples(
    degrees: list[float], strength: float, mean: float | None
) -> None:
    found, direction = resultant(np.radians(degrees))
    assert found == pytest.approx(strength, abs=6e-5)
    if mean is not None:
        assert np.degrees(direction) == pytest.approx(mean, abs=6e-3)


def test_spread_of_the_leaning_trees() -> None:
    strength, _ = resultant(np.radians(TREES))
    assert np.degrees(circular_spread(strength)) == pytest.approx(35.51, abs=0.01)  # Zar 26.2


@pytest.mark.parametrize("seed", range(5))
def test_resultants_agree_with_scipy(seed: int) -> None:
    angles = np.random.default_rng(seed).vonmises(0.3, 2.0, size=40)
    strength, mean = resultant(angles)
    assert 1 - strength == pytest.approx(scipy.stats.circvar(angles), abs=1e-12)
    assert mean == pytest.approx(scipy.stats.circmean(angles, high=np.pi, low=-np.pi), abs=1e-12)
    assert circular_spread(strength) == pytest.approx(scipy.stats.circstd(angles), abs=1e-12)


def waves_at(starts_s: Floats) -> tuple[VibratoCycle, ...]:
    """Waves that follow one another, 50 cents wide, from one time to the next."""
    lows = [Turn(float(t), 330.0, 0.1, TurnKind.LOW) for t in starts_s]
    tops = [Turn((a.time_s + b.time_s) / 2, 340.0, 0.1, TurnKind.HIGH) for a, b in pairwise(lows)]
    parts = zip(lows, tops, lows[1:], strict=False)
    return tuple(VibratoCycle(0, low, top, end, None) for low, top, end in parts)


def even_waves(per_beat: float, *, beats: int, tempo_bpm: float = 72.0) -> tuple[VibratoCycle, ...]:
    return waves_at(np.arange(0, beats * per_beat + 0.5) * beat_s(tempo_bpm) / per_beat)


FITTED = Beat(beat_s(72.0), 0.0, BeatOrigin.FITTED)


@pytest.mark.parametrize("played", [1, 2, 3, 4, 5, 6])
def test_the_note_value_is_named_before_its_phase_is_tested(played: int) -> None:
    (fit,) = fit_grid(even_waves(played, beats=9), beat=FITTED)
    assert fit.named == played
    assert fit.cycles_per_beat == pytest.approx(played, abs=1e-6)
    assert fit.concentration == pytest.approx(1.0, abs=1e-9)
    assert fit.rate_error_percent == pytest.approx(0.0, abs=1e-6)


def test_phase_alone_cannot_name_the_value() -> None:
    """Even eighths sit perfectly on the grids of sixteenths and of sextuplets (arithmetic)."""
    times = np.arange(16) * 0.5
    alike = {k: round(resultant(2 * np.pi * times * k)[0]) for k in (2, 3, 4, 5, 6)}
    assert alike == {2: 1, 3: 0, 4: 1, 5: 0, 6: 1}


@pytest.mark.parametrize(("percent", "spread"), [(2, 0.992), (5, 0.952), (10, 0.821), (20, 0.454)])
def test_concentration_of_a_known_spread(percent: float, spread: float) -> None:
    """R = exp(-(2 pi s)^2 / 2) for a normal spread s of the cycle (wrapped normal, closed form)."""
    rng = np.random.default_rng(3)
    step_s = beat_s(72.0) / 4
    times = (np.arange(4001) + rng.normal(scale=percent / 100, size=4001)) * step_s
    angle = 2 * np.pi * times / step_s
    assert resultant(angle)[0] == pytest.approx(spread, abs=0.012)


def test_a_late_player_has_a_positive_offset() -> None:
    waves = waves_at(np.arange(0, 20) * beat_s(72.0) / 3 + 0.03)
    (fit,) = fit_grid(waves, beat=Beat(beat_s(72.0), 0.0, BeatOrigin.CLICKS))
    assert fit.offset_s == pytest.approx(0.03, abs=1e-9)
    assert np.abs(fit.asynchrony_s).max() < 1e-9


def test_one_odd_wave_is_no_change_of_note_value() -> None:
    steps = np.full(20, 0.25)
    steps[9] = 0.17
    waves = waves_at(np.concatenate([[0.0], np.cumsum(steps)]))
    assert len(one_value_groups(waves, beat=Beat(1.0, 0.0, BeatOrigin.FITTED))) == 1


def test_a_change_of_note_value_parts_the_waves() -> None:
    steps = np.concatenate([np.full(8, 1 / 2), np.full(12, 1 / 3), np.full(16, 1 / 4)])
    waves = waves_at(np.concatenate([[0.0], np.cumsum(steps)]))
    fits = fit_grid(waves, beat=Beat(1.0, 0.0, BeatOrigin.FITTED))
    assert [fit.named for fit in fits] == [2, 3, 4]
    assert [fit.waves for fit in fits] == [8, 12, 16]


def clicks(step_s: float, *, first_s: float = 0.2, count: int = 9) -> ClickTrack:
    return ClickTrack(first_s + step_s * np.arange(count), ClickSource.HEARD, 0.0005)


def test_clicks_place_the_beat() -> None:
    beat = find_beat(Task(tempo_bpm=72), clicks=clicks(60 / 72))
    assert beat is not None
    assert beat.origin is BeatOrigin.CLICKS
    assert beat.origin_s == pytest.approx(0.2)
    assert beat.step_s == pytest.approx(60 / 72)


def test_clicks_on_every_eighth_are_the_same_tempo() -> None:
    beat = find_beat(Task(tempo_bpm=72), clicks=clicks(30 / 72))
    assert beat is not None
    assert beat.step_s == pytest.approx(60 / 72)


def test_clicks_of_another_tempo_place_nothing() -> None:
    beat = find_beat(Task(tempo_bpm=72), clicks=clicks(60 / 80))
    assert beat is not None
    assert beat.origin is BeatOrigin.FITTED


def test_no_tempo_is_no_beat() -> None:
    assert find_beat(Task(), clicks=clicks(60 / 72)) is None
