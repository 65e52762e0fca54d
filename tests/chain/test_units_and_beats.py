"""Note frequencies, tempo arithmetic and thresholds against published numbers."""

import math

import numpy as np
import pytest

from labcore.beats import (
    check_cycles_per_beat,
    check_tempo,
    cycle_s,
    grid_lines,
    name_note_value,
    noticed_s,
    wave_rate_hz,
)
from labcore.errors import LabError
from labcore.units import (
    cents_between,
    hz_note_number,
    level_db,
    nearest_note,
    note_number_hz,
    shifted_hz,
)


@pytest.mark.parametrize(
    ("number", "hz"),
    [
        (69, 440.0),  # MIDI Tuning Standard, tuning word 45 00 00
        (60, 261.6256),  # MIDI Tuning Standard, tuning word 3C 00 00
        (69 - 100 / 16384 / 100, 439.9984),  # tuning word 44 7F 7F: one 14-bit step below A4
        (1 / 16384, 8.1758),  # tuning word 00 00 01; the standard's own table misprints 8.2104
        (64, 329.6276),  # E4, equal temperament
    ],
)
def test_note_numbers_have_the_standards_frequencies(number: float, hz: float) -> None:
    assert note_number_hz(number) == pytest.approx(hz, abs=6e-5)
    assert hz_note_number(note_number_hz(number)) == pytest.approx(number, abs=1e-9)


def test_cents_and_ratios_are_inverse() -> None:
    up = shifted_hz(np.full(3, 100.0), np.array([0.0, 700.0, 1200.0]))
    assert cents_between(up, 100.0) == pytest.approx([0.0, 700.0, 1200.0])
    assert up[1] / 100.0 == pytest.approx(1.4983, abs=1e-4)  # equal-tempered fifth, handbook value


def test_no_pitch_stays_nan() -> None:
    assert math.isnan(cents_between(np.array([np.nan]), 100.0)[0])


NEAREST = [(440.0, "A4", 0.0), (196.0, "G3", 0.0), (82.41, "E2", 0.0), (452.89, "A4", 50.0)]


@pytest.mark.parametrize(("hz", "name", "cents"), NEAREST)
def test_nearest_notes(hz: float, name: str, cents: float) -> None:
    found, off = nearest_note(hz)
    assert found == name
    assert off == pytest.approx(cents, abs=0.2)


def test_silence_has_a_finite_level() -> None:
    assert np.all(np.isfinite(level_db([0.0, 1.0])))


@pytest.mark.parametrize(
    ("tempo_bpm", "rates_hz"),
    [
        # tempo / 60 times waves a beat; worked by hand for eighths to sextuplets
        (60, (2.0, 3.0, 4.0, 5.0, 6.0)),
        (66, (2.2, 3.3, 4.4, 5.5, 6.6)),
        (72, (2.4, 3.6, 4.8, 6.0, 7.2)),
        (80, (2.6667, 4.0, 5.3333, 6.6667, 8.0)),
        (90, (3.0, 4.5, 6.0, 7.5, 9.0)),
    ],
)
def test_note_values_in_waves_a_second(tempo_bpm: float, rates_hz: tuple[float, ...]) -> None:
    found = [wave_rate_hz(tempo_bpm, cycles_per_beat=k) for k in (2, 3, 4, 5, 6)]
    assert found == pytest.approx(rates_hz, abs=1e-4)


@pytest.mark.parametrize(("k", "ms"), [(2, 416.7), (3, 277.8), (4, 208.3), (5, 166.7), (6, 138.9)])
def test_wave_lengths_at_72(k: int, ms: float) -> None:
    assert 1000 * cycle_s(72, cycles_per_beat=k) == pytest.approx(ms, abs=0.05)


def test_grid_lines_start_where_the_beat_is() -> None:
    lines = grid_lines(60, cycles_per_beat=2, duration_s=2.0, origin_s=1.2)
    assert lines == pytest.approx([0.2, 0.7, 1.2, 1.7])


@pytest.mark.parametrize("k", [1, 2, 3, 4, 5, 6])
def test_names_change_at_the_geometric_midpoint(k: int) -> None:
    border = math.sqrt(k * (k + 1))
    assert name_note_value(border * 0.999) == k
    assert name_note_value(border * 1.001) == (k + 1 if k < 6 else None)


def test_what_listeners_notice() -> None:
    """Friberg & Sundberg 1995 (abstract): 6 ms below about 240 ms, 2.5 % above."""
    found = [1000 * noticed_s(cycle_s(72, cycles_per_beat=k)) for k in (2, 3, 4, 5, 6)]
    assert found == pytest.approx([10.4, 6.9, 6.0, 6.0, 6.0], abs=0.05)


@pytest.mark.parametrize("tempo_bpm", [0.0, 19.9, 301.0, math.nan, math.inf, -72.0])
def test_a_tempo_nobody_counts_is_refused(tempo_bpm: float) -> None:
    with pytest.raises(LabError, match=r"between 20 and 300\. Count the beats"):
        check_tempo(tempo_bpm)


@pytest.mark.parametrize("k", [0, 7, -3])
def test_a_note_value_outside_the_set_is_refused(k: int) -> None:
    with pytest.raises(LabError, match="whole number from 1"):
        check_cycles_per_beat(k)
