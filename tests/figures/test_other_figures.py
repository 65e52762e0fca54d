"""Loudness, the strip, the strokes and the words of the scale."""

from collections.abc import Callable

import numpy as np
import pytest

from labcore.figures import look
from labcore.figures.line import Line, Scale, fret_words, scale_for
from labcore.figures.loudness import loudness_figure, loudness_words
from labcore.figures.strokes import note_group_path
from labcore.model import Report


def test_loudness_is_told_against_the_loudest_moment(report_from: Callable[..., Report]) -> None:
    report = report_from()
    _, area, plucks = loudness_figure(report).data
    assert np.max(np.asarray(area.y, dtype=float)) == pytest.approx(0.0, abs=0.1)
    # The formula of the take: it fades by 1.2 dB a second from its pluck on.
    x, y = np.asarray(area.x, dtype=float), np.asarray(area.y, dtype=float)
    at = np.argmin(np.abs(x - (report.take.notes[0].onset_s + 5.0)))
    assert y[at] == pytest.approx(-6.0, abs=0.1)
    assert len(plucks.x) == 1
    assert "one pluck" in loudness_words(report)


def test_the_scale_has_room_for_the_line_and_names_shares_of_a_fret() -> None:
    scale = scale_for(Line(np.arange(3.0), np.array([-3.0, 20.0, 61.0])))
    assert (scale.low, scale.high) == (-25.0, 75.0)
    assert [fret_words(c) for c in scale.ticks] == ["plain", "½ fret"]
    narrow = scale_for(Line(np.arange(3.0), np.array([0.0, 10.0, 20.0])))
    assert [fret_words(c) for c in narrow.ticks] == ["plain", "¼ fret", "½ fret"]


def test_a_pitch_that_leaves_the_row_is_not_drawn_into_the_next() -> None:
    inside = Scale(-25.0, 75.0).inside(np.array([0.0, 500.0, -300.0]))
    assert np.isfinite(inside).tolist() == [True, False, False]


@pytest.mark.parametrize(("waves", "beams"), [(1, 0), (2, 1), (3, 1), (4, 2), (5, 2), (6, 2)])
def test_a_beat_is_written_with_its_notes_and_beams(waves: int, beams: int) -> None:
    # Notation: one quarter, eighths and triplets share one beam, sixteenths and finer two.
    path = note_group_path(waves, x_px=0.0, y_px=0.0)
    heads = path.count("C") // 4
    assert heads == waves
    assert path.count("M") == waves + waves + beams  # heads, stems, beams


def test_no_two_colours_of_the_palette_are_one_grey() -> None:
    # Luma of ITU-R BT.709 (from memory); what a grey print keeps of a colour.
    def luma(color: str) -> float:
        red, green, blue = (int(color[k : k + 2], 16) / 255 for k in (1, 3, 5))
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    laid_together = [look.PITCH, look.MODEL_TAKE, look.PLAIN_NOTE]
    greys = sorted(luma(color) for color in laid_together)
    assert min(np.diff(greys)) > 0.15, greys
