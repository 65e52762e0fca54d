"""The delay measured by matched filter, against delays put in by hand."""

import numpy as np
import pytest
from numpy.typing import NDArray

from labcore.errors import LabError
from labcore.panels.recorder_delay import CLICK_EVERY_S, CLICKS, find_delay, sweep

RATE_HZ = 48_000.0
CLICK_S = [0.3 + CLICK_EVERY_S * k for k in range(CLICKS)]
TOLERANCE_S = 0.0002
NO_JITTER = [0.0] * CLICKS


def heard(
    delay_s: float,
    *,
    rate_hz: float = RATE_HZ,
    noise: float = 0.0,
    loudness: float = 0.1,
    jitter_s: list[float] = NO_JITTER,
    echo: float = 0.0,
) -> NDArray[np.float32]:
    """Clicks played, delayed and picked up: with noise, a wall, and uneven ways."""
    samples = np.random.default_rng(3).normal(scale=noise, size=int(7.0 * rate_hz))
    shape = loudness * sweep(sample_rate_hz=rate_hz)
    for sent_s, late_s in zip(CLICK_S, jitter_s, strict=True):
        at = round((sent_s + delay_s + late_s) * rate_hz)
        samples[at : at + shape.size] += shape
        samples[at + 700 : at + 700 + shape.size] += echo * shape
    return samples.astype(np.float32)


@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0])
@pytest.mark.parametrize("delay_s", [0.0, 0.020, 0.0375, 0.180, 0.45])
def test_the_delay_is_what_was_put_in(delay_s: float, rate_hz: float) -> None:
    samples = heard(delay_s, rate_hz=rate_hz, noise=0.003, echo=0.5)
    found = find_delay(samples, sample_rate_hz=rate_hz, click_s=CLICK_S)
    assert found.delay_s == pytest.approx(delay_s, abs=TOLERANCE_S)
    assert found.score > 0.8


def test_a_loudspeaker_wired_the_wrong_way_round_makes_no_difference() -> None:
    found = find_delay(-heard(0.03), sample_rate_hz=RATE_HZ, click_s=CLICK_S)
    assert found.delay_s == pytest.approx(0.03, abs=TOLERANCE_S)


def test_silence_is_refused() -> None:
    with pytest.raises(LabError, match="0 of 8 clicks were heard"):
        find_delay(np.zeros(336_000, np.float32), sample_rate_hz=RATE_HZ, click_s=CLICK_S)


def test_noise_alone_is_refused() -> None:
    with pytest.raises(LabError, match="clicks were heard"):
        find_delay(heard(0.03, noise=0.1, loudness=0.0), sample_rate_hz=RATE_HZ, click_s=CLICK_S)


def test_clicks_that_come_back_unequally_late_are_refused() -> None:
    unequal = [0.0, 0.008, 0.0, 0.009, 0.0, 0.0, 0.007, 0.0]
    with pytest.raises(LabError, match="unequally late"):
        find_delay(heard(0.03, jitter_s=unequal), sample_rate_hz=RATE_HZ, click_s=CLICK_S)


def test_a_recording_that_ends_too_early_is_refused() -> None:
    with pytest.raises(LabError, match="2 of 8"):
        find_delay(heard(0.03)[: int(1.5 * RATE_HZ)], sample_rate_hz=RATE_HZ, click_s=CLICK_S)
