"""The path through the candidates."""

import numpy as np

from labcore.pitch.coarse import PEAKS, Candidates
from labcore.pitch.follow import follow, path, start


def candidates_of(rows: list[list[tuple[float, float]]]) -> Candidates:
    """Frames of (pitch in Hz, clarity) pairs."""
    hz, clarity = np.full((len(rows), PEAKS), np.nan), np.full((len(rows), PEAKS), np.nan)
    for i, row in enumerate(rows):
        for j, (pitch, clear) in enumerate(row):
            hz[i, j], clarity[i, j] = pitch, clear
    return Candidates(hz, clarity, np.zeros(len(rows)))


def heard(found: Candidates) -> list[float]:
    chosen = path(follow(start(), found))
    wide = np.concatenate([found.frequency_hz, np.full((len(chosen), 1), np.nan)], axis=1)
    return [float(hz) for hz in wide[np.arange(len(chosen)), chosen]]


def test_one_clearer_frame_elsewhere_does_not_draw_the_path_away() -> None:
    rows = [[(220.0, 0.9), (311.0, 0.5)]] * 5
    rows[2] = [(220.0, 0.7), (311.0, 0.95)]
    assert heard(candidates_of(rows)) == [220.0] * 5


def test_the_path_follows_a_new_note() -> None:
    rows = [[(220.0, 0.95)]] * 5 + [[(330.0, 0.95)]] * 5
    assert heard(candidates_of(rows)) == [220.0] * 5 + [330.0] * 5


def test_frames_without_clear_candidates_are_unvoiced() -> None:
    rows = [[(220.0, 0.95)]] * 4 + [[(150.0, 0.35)]] * 6
    assert np.isnan(heard(candidates_of(rows))[4:]).all()


def test_the_period_wins_over_its_multiples() -> None:
    rows = [[(220.0, 0.95), (110.0, 0.96), (73.3, 0.97)]] * 4
    assert heard(candidates_of(rows)) == [220.0] * 4


def test_blocks_one_after_the_other_are_one_long_block() -> None:
    rng = np.random.default_rng(4)
    rows = [[(200 + 20 * rng.random(), rng.random()), (300.0, rng.random())] for _ in range(40)]
    whole = path(follow(start(), candidates_of(rows)))
    state = start()
    for i in range(0, 40, 7):
        state = follow(state, candidates_of(rows[i : i + 7]))
    assert path(state).tolist() == whole.tolist()
