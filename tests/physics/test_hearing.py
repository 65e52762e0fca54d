"""The waves of the listening lesson, and their mean by closed formula."""

import numpy as np
import pytest

from labcore.errors import LabError
from labcore.physics.hearing import Wobble, heard_cents, swell_db, wave_cents

ONE_SECOND = np.arange(48000) / 48000.0


@pytest.mark.parametrize(
    "wobble", [Wobble(), Wobble(rest_share=0.4), Wobble(up_only=False, extent_cents=90.0)]
)
def test_the_heard_pitch_is_the_mean_of_the_wave(wobble: Wobble) -> None:
    wave = wave_cents(wobble, time_s=ONE_SECOND)
    assert wave.mean() == pytest.approx(heard_cents(wobble), abs=0.01)


def test_an_up_only_wave_is_heard_half_its_width_above_home() -> None:
    # the mean of a raised cosine of 60 cents is 30
    assert heard_cents(Wobble(extent_cents=60.0)) == pytest.approx(30.0)
    assert heard_cents(Wobble(extent_cents=60.0, rest_share=0.5)) == pytest.approx(15.0)


def test_waves_have_their_width_rate_and_home() -> None:
    up = wave_cents(Wobble(), time_s=ONE_SECOND)
    both = wave_cents(Wobble(up_only=False), time_s=ONE_SECOND)
    assert (up.min(), up.max()) == pytest.approx((0.0, 60.0), abs=0.01)
    assert (both.min(), both.max()) == pytest.approx((-30.0, 30.0), abs=0.01)
    for wave in (up, both):
        assert np.argmax(np.abs(np.fft.rfft(wave - wave.mean()))) == 5


def test_a_rest_stays_at_home() -> None:
    wave = wave_cents(Wobble(rest_share=0.25), time_s=[0.16, 0.18, 0.19])
    assert wave == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_a_swell_goes_from_loud_to_soft_and_back() -> None:
    level = swell_db(Wobble(swell_db=12.0), time_s=[0.0, 0.1, 0.2])
    assert level == pytest.approx([0.0, -12.0, 0.0], abs=1e-9)


def test_a_wave_of_rest_alone_is_refused() -> None:
    with pytest.raises(LabError, match="leaves no wave"):
        Wobble(rest_share=1.0)
