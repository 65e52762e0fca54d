"""Lines are cut at plucks, and strays are left out."""

import numpy as np

from labcore.pitch.carrier import Carrier
from labcore.pitch.frames import grid_for
from labcore.pitch.stretches import Stretch, cut, goes_on, kept

GRID = grid_for(11_025.0)


def line(first: int, frames: int, hz: float = 220.0) -> Carrier:
    return Carrier(first, np.full(frames, hz))


def test_a_line_is_cut_at_its_plucks() -> None:
    parts = cut(line(100, 300), plucks=[96, 200, 320], grid=GRID)
    assert [(part.first, part.last, pluck) for part, pluck in parts] == [
        (100, 200, 96),
        (200, 320, 200),
        (320, 400, 320),
    ]


def test_a_line_without_a_pluck_of_its_own_says_so() -> None:
    ((part, pluck),) = cut(line(100, 50), plucks=[], grid=GRID)
    assert (part.frames, pluck) == (50, None)


def test_a_cut_leaves_no_splinter_at_the_end() -> None:
    assert len(cut(line(100, 100), plucks=[100, 196], grid=GRID)) == 1


def test_what_comes_out_from_under_a_dying_note_is_left_out() -> None:
    note, stray = Stretch(line(0, 100), 0), Stretch(line(100, 100, 164.8), None)
    back = Stretch(line(220, 50, 221.0), None)
    assert kept([note, stray, back]) == [note, back]


def test_a_note_goes_on_in_any_octave_but_not_a_third_away() -> None:
    assert goes_on(line(0, 30), line(40, 30, 441.0))
    assert not goes_on(line(0, 30), line(40, 30, 262.0))
