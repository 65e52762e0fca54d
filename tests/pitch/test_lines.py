"""From coarse frames to lines, on hand-made frames."""

import numpy as np

from labcore.pitch.frames import grid_for
from labcore.pitch.lines import bridged, joined, lines, steps, without_blips, without_hidden

GRID = grid_for(11_025.0)
A3 = np.log2(220.0)
CENT = 1 / 1200
NONE = np.nan


def test_frames_an_octave_off_join_the_majority() -> None:
    octaves = np.array([A3] * 5 + [A3 + 1] * 2 + [A3] * 5 + [A3 - 1.01] + [A3] * 3)
    np.testing.assert_allclose(joined(octaves), A3, atol=15 * CENT)


def test_another_leap_stays() -> None:
    octaves = np.array([A3] * 5 + [A3 + 7 / 12] * 5)
    np.testing.assert_allclose(joined(octaves), octaves)


def test_a_click_heard_as_a_high_tone_does_not_shift_the_note_behind_it() -> None:
    octaves = np.array([A3] * 6 + [A3 + 3.05] + [A3] * 6)
    np.testing.assert_allclose(np.delete(joined(octaves), 6), A3)


def test_a_blip_is_dropped_and_a_dive_is_not() -> None:
    octaves = np.full(80, A3)
    octaves[40:44] += 0.3
    assert np.flatnonzero(np.isnan(without_blips(octaves))).tolist() == [40, 41, 42, 43]
    dive = A3 - np.clip(np.arange(80.0) - 30, 0, 20) / 20
    assert np.isfinite(without_blips(dive)).all()


def test_what_a_click_hides_is_kept_on_the_line_and_dropped_off_it() -> None:
    octaves = np.full(20, A3)
    octaves[8], octaves[9] = A3 + 20 * CENT, A3 + 400 * CENT
    hidden = np.zeros(20, dtype=bool)
    hidden[7:11] = True
    found = without_hidden(octaves, hidden=hidden)
    assert np.flatnonzero(np.isnan(found)).tolist() == [9]


def test_a_click_that_pulls_the_line_away_for_a_moment_is_not_believed() -> None:
    octaves = np.full(20, A3)
    octaves[8:12] += np.array([18.0, 75.0, 75.0, 12.0]) * CENT  # swifter than any finger
    hidden = np.zeros(20, dtype=bool)
    hidden[7:13] = True
    assert np.flatnonzero(np.isnan(without_hidden(octaves, hidden=hidden))).tolist() == [
        *range(7, 13)
    ]
    plucked = np.where(np.arange(20) < 9, A3 + 70.0 * CENT, A3)  # a pluck on the click lets go
    assert np.array_equal(without_hidden(plucked, hidden=hidden), plucked)
    swift = A3 + 60.0 * CENT * np.sin(2 * np.pi * 8.0 * 0.01 * np.arange(20))  # 120 cents at 8 Hz
    assert np.array_equal(without_hidden(swift, hidden=hidden), swift)


def test_a_hole_is_bridged_while_the_sound_goes_on_and_not_through_silence() -> None:
    octaves = np.array([A3] * 5 + [NONE] * 4 + [A3] * 5)
    loud = np.full(14, -20.0)
    assert np.isfinite(bridged(octaves, level_db=loud)).all()
    silent = loud.copy()
    silent[6] = -60.0
    assert np.isnan(bridged(octaves, level_db=silent)[5:9]).all()


def test_a_fret_is_a_step_and_a_wide_fast_vibrato_is_none() -> None:
    fret = np.array([A3] * 12 + [A3 + 2 / 12] * 12)
    assert steps(fret) == [12]
    t = np.arange(300) * 0.01
    for extent in (60.0, 120.0, 200.0):
        wave = A3 + extent / 2 * CENT * np.sin(2 * np.pi * 7.2 * t)
        assert steps(wave) == [], extent


def test_a_leap_inside_a_vibrato_is_cut_exactly_where_it_is() -> None:
    wave = A3 + 40 * CENT * np.sin(2 * np.pi * 6 * np.arange(80) * 0.01)
    wave[50:] += np.log2(3)
    assert steps(wave) == [50]
    below, above = lines(
        wave, level_db=np.zeros(80), hidden=np.zeros(80, dtype=bool), grid=GRID
    )  # and neither side hears the other
    assert np.abs(1200 * np.log2(below.hz / 220.0)).max() < 50
    assert np.abs(1200 * np.log2(above.hz / 660.0)).max() < 50


def test_a_bend_of_three_semitones_is_no_step() -> None:
    t = np.clip((np.arange(100) * 0.01 - 0.4) / 0.12, 0, 1)
    assert steps(A3 + 0.25 * (0.5 - 0.5 * np.cos(np.pi * t))) == []


def test_lines_begin_and_end_with_the_sound() -> None:
    octaves = np.array([NONE] * 10 + [A3] * 30 + [NONE] * 30 + [A3] * 5)
    (line,) = lines(
        octaves, level_db=np.zeros(75), hidden=np.zeros(75, dtype=bool), grid=GRID
    )  # five frames are no note
    assert (line.first, line.frames) == (20, 59)
    np.testing.assert_allclose(line.hz, 220.0)
