"""One pitch from many partials: right, robust, and honest about its error."""

import numpy as np
import pytest

from labcore.pitch.combine import combine, stiff_cents, stiffness
from labcore.pitch.demodulate import Partials

STEP_S = 0.005
CARRIER_HZ = np.full(400, 220.0)
NUMBERS = np.arange(1.0, 9.0)
WAVE_CENTS = 20.0 * np.sin(2 * np.pi * 5.0 * np.arange(400) * STEP_S)


def partials_saying(cents: np.ndarray) -> Partials:
    """Partials of even loudness; ``cents`` has shape (numbers, frames)."""
    residual = NUMBERS[:, None] * CARRIER_HZ * (2.0 ** (cents / 1200.0) - 1.0)
    return Partials(NUMBERS, np.full(cents.shape, 0.1), residual)


def test_partials_that_agree_are_repeated() -> None:
    found = combine(
        partials_saying(np.tile(WAVE_CENTS, (8, 1))), carrier_hz=CARRIER_HZ, step_s=STEP_S
    ).estimate
    np.testing.assert_allclose(found.cents, WAVE_CENTS, atol=0.01)


def test_stiffness_is_taken_out() -> None:
    # Fletcher 1964: partial k at k f sqrt(1 + B k^2).
    stiff = 600 * np.log2((1 + 2e-4 * NUMBERS**2) / (1 + 2e-4))
    noise = np.random.default_rng(1).normal(scale=0.3, size=(8, 400))
    said = WAVE_CENTS + stiff[:, None] + noise
    found = combine(partials_saying(said), carrier_hz=CARRIER_HZ, step_s=STEP_S).estimate
    assert abs(np.mean(found.cents - WAVE_CENTS)) < 0.1


def test_stiffness_is_found_from_the_offsets() -> None:
    own = stiff_cents(3e-4, numbers=NUMBERS)
    assert stiffness(own, np.ones(8), numbers=NUMBERS) == pytest.approx(3e-4, rel=1e-3)


def test_one_partial_that_wanders_is_not_listened_to() -> None:
    rng = np.random.default_rng(2)
    said = WAVE_CENTS + rng.normal(scale=0.2, size=(8, 400))
    said[0] += 40.0 * np.sin(2 * np.pi * 1.3 * np.arange(400) * STEP_S)  # another string beats
    found = combine(partials_saying(said), carrier_hz=CARRIER_HZ, step_s=STEP_S).estimate
    assert np.quantile(np.abs(found.cents - WAVE_CENTS), 0.95) < 0.5


def test_the_error_grows_with_the_noise_and_is_of_its_size() -> None:
    for sigma in (0.1, 1.0, 5.0):
        noise = np.random.default_rng(3).normal(scale=sigma, size=(8, 400))
        said = WAVE_CENTS + noise
        found = combine(partials_saying(said), carrier_hz=CARRIER_HZ, step_s=STEP_S).estimate
        true = float(np.std(found.cents - WAVE_CENTS))
        assert 0.4 < np.median(found.error_cents) / true < 2.5, sigma


def test_a_single_partial_is_enough() -> None:
    one = Partials(NUMBERS[:1], np.full((1, 400), 0.1), np.full((1, 400), 0.5))
    found = combine(one, carrier_hz=CARRIER_HZ, step_s=STEP_S).estimate
    np.testing.assert_allclose(found.cents, 1200 * np.log2(220.5 / 220.0), atol=1e-6)
