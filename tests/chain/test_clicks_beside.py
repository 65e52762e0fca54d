"""A metronome on the other channel of a stereo take gives the beat; the guitar gives the pitch."""

import numpy as np
import pytest

from labcore.analysis import CLICKS_BESIDE, bars_of, hear
from labcore.audio import flac_bytes, load_recording, recording_from_samples
from labcore.model import Floats
from labcore.synthesis import NoteDescription, TakeDescription, synthesise, waves

RATE_HZ = 22050
TEMPO_BPM, FIRST_S = 80.0, 0.37
CLICK_TOLERANCE_S = 0.0025


@pytest.fixture(scope="module")
def guitar() -> Floats:
    knots = waves(12, rate_hz=3.0, extent_cents=50.0, start_s=0.8)
    note = NoteDescription(0.2, 6.5, 329.63, knots=knots)
    take = TakeDescription("a note", 7.0, (note,), sample_rate_hz=RATE_HZ, noise_db=-70.0)
    recording, _ = synthesise(take, rng=np.random.default_rng(3))
    return recording.samples.astype(float)


def clicks(size: int, *, hz: float = 1200.0, accent: int = 0) -> tuple[Floats, Floats]:
    """A channel of short beeps in hiss, an accent twice as loud, and where they begin."""
    sound = 1e-4 * np.random.default_rng(4).standard_normal(size)
    time_s = np.arange(FIRST_S, size / RATE_HZ - 0.1, 60.0 / TEMPO_BPM)
    beep_s = np.arange(round(0.05 * RATE_HZ)) / RATE_HZ
    for k, at_s in enumerate(time_s):
        first = round(at_s * RATE_HZ)
        peak = 0.6 if accent and k % accent == 0 else 0.3
        sound[first : first + beep_s.size] += (
            peak * np.sin(2.0 * np.pi * hz * beep_s) * np.exp(-beep_s / 0.01)
        )
    return sound, time_s


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_the_beat_comes_from_one_channel_and_the_pitch_from_the_other(
    guitar: Floats, order: tuple[int, int]
) -> None:
    beeps, time_s = clicks(guitar.size)
    both = np.stack([guitar, beeps], axis=1)[:, order]
    take = hear(recording_from_samples(both, sample_rate_hz=RATE_HZ))
    alone = hear(recording_from_samples(guitar, sample_rate_hz=RATE_HZ))
    assert take.clicks is not None
    assert alone.clicks is None
    assert take.clicks.time_s == pytest.approx(time_s, abs=CLICK_TOLERANCE_S)
    assert take.facts.warnings == (CLICKS_BESIDE,)
    assert np.array_equal(take.contour.frequency_hz, alone.contour.frequency_hz, equal_nan=True)


def test_a_take_that_is_kept_keeps_its_clicks(guitar: Floats) -> None:
    both = np.stack([guitar, clicks(guitar.size)[0]], axis=1)
    recording = recording_from_samples(both, sample_rate_hz=RATE_HZ)
    again = hear(load_recording(flac_bytes(recording), name="again"))
    assert again.clicks is not None
    assert again.clicks.tempo_bpm == pytest.approx(TEMPO_BPM, rel=5e-4)


@pytest.mark.parametrize("beats", [3, 4])
def test_the_bars_come_from_the_channel_of_the_clicks(guitar: Floats, beats: int) -> None:
    playing = np.tile(guitar, 3)
    both = np.stack([playing, clicks(playing.size, accent=beats)[0]], axis=1)
    recording = recording_from_samples(both, sample_rate_hz=RATE_HZ)
    bars = bars_of(recording, take=hear(recording))
    assert bars is not None
    assert (bars.beats, bars.first) == (beats, 0)


def test_floats_in_another_scale_keep_the_sound_of_the_other_channel(guitar: Floats) -> None:
    both = np.stack([guitar, clicks(guitar.size)[0]], axis=1)
    usual = recording_from_samples(both, sample_rate_hz=RATE_HZ)
    large = recording_from_samples(both * 32767.0, sample_rate_hz=RATE_HZ)
    assert usual.beside is not None
    assert large.beside is not None
    np.testing.assert_allclose(large.beside, usual.beside / np.max(np.abs(usual.beside)), atol=1e-4)


@pytest.mark.parametrize("other", ["the same", "quieter", "hiss", "nothing"])
def test_no_clicks_are_told_of_where_the_other_channel_has_none(guitar: Floats, other: str) -> None:
    rng = np.random.default_rng(5)
    beside = {
        "the same": guitar,
        "quieter": 0.3 * guitar + 1e-3 * rng.standard_normal(guitar.size),
        "hiss": 0.02 * rng.standard_normal(guitar.size),
        "nothing": np.zeros(guitar.size),
    }[other]
    both = np.stack([guitar, beside], axis=1)
    take = hear(recording_from_samples(both, sample_rate_hz=RATE_HZ))
    assert take.clicks is None
    assert CLICKS_BESIDE not in take.facts.warnings
