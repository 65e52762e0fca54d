"""Pictures of weeks and rooms: every take is drawn, few are marked, nobody is named."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from labcore.exercises import Need, PastTake, Room, by_finger, by_week
from labcore.figures.group import group_figure, group_words
from labcore.figures.progress import progress_figure, progress_words
from labcore.model import Context, Measure, Task

MONDAY = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)


def take(day: float, share: float, *, finger: int = 3) -> PastTake:
    measures = {
        "returned_share": Measure(share, "%", 20, error=1.0),
        "extent_evenness": Measure(12.0, "%", 20, error=1.0),
    }
    return PastTake(MONDAY + timedelta(days=day), Task(72.0, 3), Context(finger=finger), measures)


WEEKS = by_week([take(d, 10.0 * d) for d in range(5)] + [take(8, 70.0), take(9, 90.0)])


def markers(figure) -> list:
    return [trace for trace in figure.data if trace.mode == "markers"]


def test_every_take_is_one_dot_in_its_own_column() -> None:
    dots = markers(progress_figure(WEEKS))[0]
    assert len(dots.x) == 7
    assert [int(x) for x in dots.x] == [0] * 5 + [1] * 2


def test_more_waves_home_stand_higher_and_so_does_a_smaller_spread() -> None:
    figure = progress_figure(WEEKS)
    ticks = dict(zip(figure.layout.yaxis.ticktext, figure.layout.yaxis.tickvals, strict=True))
    assert ticks["100 %"] > ticks["50 %"]
    dots = markers(figure)[0]
    assert list(np.argsort(dots.y[:5])) == [0, 1, 2, 3, 4]
    row = figure.layout.yaxis
    shown = list(zip(row.ticktext, row.tickvals, strict=True))[3:6]
    assert [word for word, _ in shown] == ["0 %", "15 %", "30 %"]
    assert shown[0][1] > shown[1][1] > shown[2][1]


def test_a_column_of_few_takes_says_so_and_has_a_dotted_middle_without_a_spread() -> None:
    figure = progress_figure(WEEKS)
    assert "5 takes<" in figure.layout.xaxis.ticktext[0]
    assert "2 takes, few<" in figure.layout.xaxis.ticktext[1]
    middles = [trace for trace in figure.data if trace.line.width == 4]
    assert [trace.line.dash for trace in middles[:2]] == ["solid", "dot"]
    spreads = [trace for trace in figure.data if trace.line.width == 14]
    assert all(max(trace.x) < 1.0 for trace in spreads)


def test_the_middle_bar_stands_at_the_median() -> None:
    figure = progress_figure(WEEKS)
    middle = next(trace for trace in figure.data if trace.line.width == 4)
    dots = markers(figure)[0]
    assert middle.y[0] == pytest.approx(np.median(dots.y[:5]), abs=1e-6)


def test_the_words_tell_both_ends() -> None:
    assert progress_words(WEEKS).startswith(
        "7 takes in 2 columns, first and last: waves that came home 20 % (2 Mar) and "
        "80 % (9 Mar, few takes)"
    )
    assert "no takes yet" in progress_words(())


def test_no_takes_and_takes_without_measures_still_draw() -> None:
    progress_figure(())
    bare = by_finger([PastTake(MONDAY, Task())])
    assert "none of which was measured" in progress_words(bare)
    assert not markers(progress_figure(bare))


# --- a room ---

ROOM = Room(12, (Need("return", 5, 1, 6), Need("lock", 1, 0, 2)))


def test_a_room_has_a_dot_for_every_take_judged_and_no_name_on_any() -> None:
    figure = group_figure(ROOM)
    (dots,) = markers(figure)
    assert len(dots.x) == 12
    assert [sum(np.floor(dots.x) == band) for band in range(3)] == [5, 1, 6]
    assert dots.text is None
    assert dots.hoverinfo == "skip"


def test_a_matter_judged_in_fewer_than_five_takes_is_left_out() -> None:
    assert list(group_figure(ROOM).layout.yaxis.ticktext) == ["coming home"]


def test_an_earlier_evening_stands_hollow_below() -> None:
    now, before = markers(group_figure(ROOM, before=Room(6, (Need("return", 4, 1, 1),))))
    assert len(before.x) == 6
    assert now.marker.color != before.marker.color
    assert max(before.y) < min(now.y)


def test_an_earlier_evening_of_few_is_not_shown() -> None:
    assert len(markers(group_figure(ROOM, before=Room(3, (Need("return", 3, 0, 0),))))) == 1


def test_fewer_than_five_takes_are_words_only() -> None:
    small = Room(4, (Need("return", 3, 0, 1),))
    figure = group_figure(small)
    assert not figure.data
    assert "words only" in figure.layout.annotations[0].text
    assert "3" not in group_words(small)


# --- two waves ---


def test_the_rooms_wave_ends_at_home_and_the_made_up_one_does_not() -> None:
    from labcore.analysis import analyse
    from labcore.audio import load_recording
    from labcore.figures.group import two_waves_figure
    from labcore.panels.demo import demo_take

    figure = two_waves_figure(analyse(load_recording(demo_take("desk_triplets").path)))
    heard, made_up = (trace for trace in figure.data if trace.line.width == 4)
    assert abs(heard.y[-1]) < 10.0  # cents: what counts as home
    assert made_up.y[-1] > 20.0
    assert max(made_up.y) == pytest.approx(max(heard.y), abs=1.0)
    assert (heard.line.dash, made_up.line.dash) == ("solid", "dash")
