"""Mains hum is taken out, notes are left alone."""

import numpy as np
import pytest

from labcore.pitch.decimate import Working
from labcore.pitch.hum import fade, section_starts, without_hum
from tests.benchmark.contour_takes import hum

RATE_HZ = 11_025.0
LEFT_DB = -30.0  # of the hum
UNDER_A_NOTE_DB = -9.0  # a multiple that a note stands on cannot be told from it, and stays


def quiet(seconds: float) -> np.ndarray:
    return 1e-4 * np.random.default_rng(1).normal(size=int(seconds * RATE_HZ))


def power_db(samples: np.ndarray) -> float:
    return float(10 * np.log10(np.mean(np.square(samples, dtype=float))))


@pytest.mark.parametrize("mains_hz", [50.0, 60.0, 49.95, 60.03])
def test_hum_alone_is_taken_out(mains_hz: float) -> None:
    rng = np.random.default_rng(2)
    noise = quiet(6.0)
    buzz = 0.03 * hum(noise.size, mains_hz=mains_hz, rng=rng, rate_hz=RATE_HZ)
    cleaned = without_hum(Working((noise + buzz).astype(np.float32), RATE_HZ))
    assert power_db(cleaned.sound.samples) < power_db(buzz) + LEFT_DB
    assert cleaned.mains_hz == pytest.approx(mains_hz, abs=0.01)
    assert cleaned.hum_db == pytest.approx(power_db(buzz), abs=1.0)


def test_hum_is_found_under_a_note_with_vibrato_that_is_louder() -> None:
    t = np.arange(int(5 * RATE_HZ)) / RATE_HZ
    phase = 196 * t + 0.5 * np.cos(2 * np.pi * 5 * t)
    note = sum(np.sin(2 * np.pi * k * phase) / k for k in range(1, 8)) * np.exp(-t / 1.5)
    buzz = 0.02 * hum(t.size, mains_hz=50.0, rng=np.random.default_rng(3), rate_hz=RATE_HZ)
    cleaned = without_hum(Working((note + buzz).astype(np.float32), RATE_HZ))
    left = cleaned.sound.samples - note
    assert power_db(left) - power_db(buzz) < UNDER_A_NOTE_DB


@pytest.mark.parametrize("hz", [100.0, 120.0, 98.0, 240.0])
def test_a_decaying_note_is_left_alone_even_on_a_multiple(hz: float) -> None:
    t = np.arange(int(4 * RATE_HZ)) / RATE_HZ
    note = sum(np.sin(2 * np.pi * k * hz * t) / k for k in range(1, 7)) * np.exp(-t / 1.2)
    sound = (0.2 * note + quiet(4.0)).astype(np.float32)
    left = without_hum(Working(sound, RATE_HZ)).sound.samples
    np.testing.assert_allclose(left, sound, atol=0.02)


@pytest.mark.parametrize("hz", [60.0, 220.0, 330.0])
def test_a_held_note_on_a_multiple_leaves_no_ghost_in_the_silence_before_it(hz: float) -> None:
    # Taken for hum, its partials on multiples of 60 Hz would be put where nothing sounds.
    t = np.arange(int(3 * RATE_HZ)) / RATE_HZ
    note = 0.1 * sum(np.sin(2 * np.pi * k * hz * t + k) / k for k in range(1, 7))
    lead = int(0.25 * RATE_HZ)
    sound = np.pad(note, lead) + 1e-4 * np.random.default_rng(5).normal(size=note.size + 2 * lead)
    cleaned = without_hum(Working(sound.astype(np.float32), RATE_HZ))
    np.testing.assert_allclose(cleaned.sound.samples, sound, atol=1e-6)


def test_a_sound_under_a_second_is_left_alone() -> None:
    sound = Working(
        hum(5000, mains_hz=50.0, rng=np.random.default_rng(4)).astype(np.float32), RATE_HZ
    )
    assert without_hum(sound).sound is sound


def test_sections_cover_the_sound_and_overlap() -> None:
    starts = section_starts(100_000, 30_000)
    assert starts[0] == 0
    assert starts[-1] == 70_000
    assert max(np.diff(starts)) <= 15_000


@pytest.mark.parametrize("seconds", [11.0, 15.5, 20.0, 26.0])
def test_hum_is_taken_out_once_where_sections_overlap_by_more_than_half(seconds: float) -> None:
    size, length = int(seconds * RATE_HZ), int(10 * RATE_HZ)
    starts, taken = section_starts(size, length), np.zeros(size)
    for start in starts:
        taken[start : start + length] += fade(start, length=length, starts=starts)
    np.testing.assert_allclose(taken, 1.0, atol=1e-6)


def test_hum_in_a_take_of_three_sections_is_taken_out_as_well_as_in_one() -> None:
    noise = quiet(15.5)
    buzz = 0.03 * hum(noise.size, mains_hz=50.0, rng=np.random.default_rng(2), rate_hz=RATE_HZ)
    cleaned = without_hum(Working((noise + buzz).astype(np.float32), RATE_HZ))
    assert power_db(cleaned.sound.samples) < power_db(buzz) + LEFT_DB
