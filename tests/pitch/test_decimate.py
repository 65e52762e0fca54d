"""Bringing any sound to about 11 kHz: nothing lost below 4.8 kHz, nothing folded, no delay."""

import numpy as np
import pytest

from labcore.pitch.decimate import decimated

RATES_HZ = [8000.0, 16_000.0, 22_050.0, 32_000.0, 44_100.0, 48_000.0, 96_000.0, 192_000.0]
PASS_TOLERANCE = 0.005  # of the amplitude, 0.04 dB
FOLDED = 0.003  # 50 dB down


def tone(hz: float, rate_hz: float, *, seconds: float = 0.5) -> np.ndarray:
    return np.sin(2 * np.pi * hz * np.arange(int(seconds * rate_hz)) / rate_hz).astype(np.float32)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_the_rate_comes_out_between_8_and_21_kilohertz(rate_hz: float) -> None:
    assert 8000.0 <= decimated(tone(440.0, rate_hz), rate_hz=rate_hz).rate_hz < 21_000.0


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("hz", [61.7, 1318.5, 3300.0])
def test_a_tone_is_the_same_tone_at_the_same_time(rate_hz: float, hz: float) -> None:
    found = decimated(tone(hz, rate_hz), rate_hz=rate_hz)
    n = np.arange(found.samples.size)
    wanted = np.sin(2 * np.pi * hz * n / found.rate_hz)
    inside = slice(300, -300)  # the filter sees silence beyond the ends
    np.testing.assert_allclose(found.samples[inside], wanted[inside], atol=PASS_TOLERANCE)


@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0, 192_000.0])
def test_a_tone_above_the_band_does_not_fold_back(rate_hz: float) -> None:
    found = decimated(tone(8500.0, rate_hz), rate_hz=rate_hz)
    assert np.abs(found.samples[300:-300]).max() < FOLDED


def test_blocks_join_without_a_seam() -> None:
    rng = np.random.default_rng(1)
    noise = rng.normal(size=100_000).astype(np.float32)
    whole = decimated(noise, rate_hz=44_100.0).samples
    later = decimated(noise[40_000:], rate_hz=44_100.0).samples
    np.testing.assert_allclose(whole[10_100:], later[100:], atol=1e-5)
