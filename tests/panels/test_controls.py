"""Controls, the drop zone, the player and the picture, as far as Python goes."""

import json

import plotly.graph_objects as go
import pytest

from labcore.errors import LabError
from labcore.figures import look
from labcore.panels.controls import Choice, Slider, StatusLine, fold
from labcore.panels.drop import Arriving, FileDrop
from labcore.panels.page import LessonPage
from labcore.panels.picture import Picture, plotly_carrier
from labcore.panels.player import Player


def test_a_slider_stays_within_its_ends() -> None:
    slider = Slider("tempo", value=72, low=40, high=160)
    slider.value = 500
    assert slider.value == 160.0


def test_a_choice_knows_its_place_and_may_be_open() -> None:
    choice = Choice("note value", options=["any", "1", "2"])
    assert choice.index == 0
    choice.value = ""
    assert choice.index is None


def test_a_fold_is_closed_until_it_is_opened() -> None:
    status = StatusLine()
    box = fold("more", status)
    handle, inside = box.children
    assert inside.layout.display == "none"
    handle.is_open = True
    assert inside.layout.display is None


def test_parts_of_a_file_are_put_together_in_their_order() -> None:
    arriving = Arriving()
    assert arriving.take({"kind": "start", "name": "a.wav", "bytes": 5}, []) is None
    assert arriving.take({"kind": "part"}, [memoryview(b"abc")]) is None
    assert arriving.take({"kind": "part"}, [memoryview(b"de")]) is None
    assert arriving.take({"kind": "end"}, []) == ("a.wav", b"abcde")


def test_a_missing_part_is_noticed() -> None:
    arriving = Arriving()
    arriving.take({"kind": "start", "name": "a.wav", "bytes": 5}, [])
    arriving.take({"kind": "part"}, [b"abc"])
    with pytest.raises(LabError, match=r"Only 3 of 5 bytes of “a.wav” arrived"):
        arriving.take({"kind": "end"}, [])


def test_what_the_page_says_went_wrong_is_passed_on() -> None:
    files: list[tuple[str, bytes]] = []
    problems: list[str] = []
    drop = FileDrop(on_file=lambda *file: files.append(file), on_problem=problems.append)
    drop._take(drop, {"kind": "problem", "sentence": "It is too large."}, [])
    assert (files, problems) == ([], ["It is too large."])
    drop._take(drop, {"kind": "start", "name": "b.wav", "bytes": 1}, [])
    drop._take(drop, {"kind": "part"}, [b"x"])
    drop._take(drop, {"kind": "end"}, [])
    assert files == [("b.wav", b"x")]


def test_plotly_travels_once_for_all_pictures() -> None:
    first = Picture(go.Figure(), words="an empty picture")
    second = Picture(go.Figure(), words="another")
    assert first.carrier is second.carrier is plotly_carrier()
    assert len(plotly_carrier().value) > 1_000_000


def test_a_picture_says_its_words_in_place_of_an_address() -> None:
    picture = Picture(go.Figure(), words="three waves")
    bundle = picture._repr_mimebundle_()
    data = bundle[0] if isinstance(bundle, tuple) else bundle
    assert data["text/plain"] == "Picture: three waves"


def test_a_lesson_that_is_run_again_leaves_nothing_of_the_run_before() -> None:
    before = Picture(go.Figure(), words="of the first run")
    carrier = plotly_carrier()
    LessonPage()
    assert before.comm is None
    assert plotly_carrier() is not carrier


def test_another_figure_takes_the_place_of_the_first() -> None:
    picture = Picture(go.Figure(), words="nothing")
    figure = look.dress(go.Figure(go.Scatter(x=[0, 1], y=[2, 3])), height_px=200)
    picture.show(figure, words="a line")
    assert json.loads(picture.figure_json)["data"][0]["y"] == [2, 3]
    assert picture.words == "a line"


def test_two_players_have_two_voices() -> None:
    assert Player().voice != Player().voice


def test_a_player_takes_sounds_and_stretches() -> None:
    player = Player({"play the take": b"RIFF"})
    player.offer_stretches([("bar 1", 0.0, 3.333)])
    assert player.labels == ["play the take"]
    assert player.stretch_s == [[0.0, 3.333]]
