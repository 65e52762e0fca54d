"""Grids, symmetric filters and running statistics, against their plain definitions."""

import numpy as np
import pytest

from labcore.pitch.frames import (
    filtered,
    grid_for,
    low_pass_taps,
    product,
    running_mean,
    running_median,
    stretched,
)

STEP_S = 0.005


@pytest.mark.parametrize("rate_hz", [8000.0, 10_666.67, 11_025.0, 12_000.0, 16_000.0])
def test_the_step_is_within_a_hundredth_of_five_milliseconds(rate_hz: float) -> None:
    assert grid_for(rate_hz).step_s == pytest.approx(STEP_S, rel=0.01)


@pytest.mark.parametrize(("rate_hz", "gain"), [(2.0, 1.0), (7.2, 1.0), (22.0, 0.5), (45.0, 0.0)])
def test_a_low_pass_keeps_vibrato_and_halves_its_cutoff(rate_hz: float, gain: float) -> None:
    taps = low_pass_taps(22.0, half_s=0.135, step_s=STEP_S)
    n = np.arange(taps.size) - taps.size // 2
    assert float(taps @ np.cos(2 * np.pi * rate_hz * STEP_S * n)) == pytest.approx(gain, abs=0.01)


def test_a_filter_neither_moves_nor_bends_a_straight_line() -> None:
    line = np.linspace(3.0, 5.0, 80)
    taps = low_pass_taps(12.0, half_s=0.09, step_s=STEP_S)
    np.testing.assert_allclose(filtered(line, taps), line, atol=1e-12)


def test_a_filter_of_a_mirrored_line_is_the_mirrored_filter() -> None:
    wave = np.random.default_rng(1).normal(size=100)
    taps = low_pass_taps(18.0, half_s=0.06, step_s=STEP_S)
    np.testing.assert_allclose(filtered(wave[::-1], taps), filtered(wave, taps)[::-1], atol=1e-12)


def test_a_single_frame_passes_a_filter() -> None:
    assert filtered(np.array([4.0]), low_pass_taps(12.0, half_s=0.09, step_s=STEP_S)) == [4.0]


def test_running_statistics_are_what_their_names_say() -> None:
    values = np.random.default_rng(2).normal(size=(2, 50))
    middle = values[:, 20 - 3 : 20 + 4]
    np.testing.assert_allclose(
        running_median(values, width=7)[:, 20], np.median(middle, axis=1), atol=1e-12
    )
    np.testing.assert_allclose(
        running_mean(values, width=7)[:, 20], np.mean(middle, axis=1), atol=1e-12
    )


def test_a_sparse_running_median_of_a_straight_line_is_the_line() -> None:
    line = np.arange(60.0)
    np.testing.assert_allclose(running_median(line, width=5, every=4)[4:52], line[4:52])


def test_stretching_holds_the_last_value() -> None:
    np.testing.assert_allclose(
        stretched(np.array([0.0, 2.0]), every=2, size=4), [0.0, 1.0, 2.0, 2.0]
    )


@pytest.mark.parametrize("rows", [1, 7, 500])
def test_a_product_in_slices_is_a_product(rows: int) -> None:
    rng = np.random.default_rng(3)
    left, right = rng.normal(size=(rows, 55)), rng.normal(size=(55, 16))
    np.testing.assert_allclose(product(left, right), left @ right, atol=1e-12)
