"""Pictures and panels of the physics lessons: they say what the model says, and follow sliders."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from labcore.figures import physics_arm as arm
from labcore.figures import physics_bend as bend
from labcore.figures import physics_circle as circle
from labcore.figures import physics_roll as roll
from labcore.figures import physics_window as window
from labcore.figures import physics_wobble as wobble
from labcore.panels import (
    physics_arm,
    physics_bend,
    physics_circle,
    physics_roll,
    physics_window,
    physics_wobble,
)
from labcore.panels.controls import Choice, Slider, StatusLine
from labcore.panels.physics_checks import (
    GRIP,
    GUITAR,
    check_example,
    check_panel,
    check_sentence,
)
from labcore.panels.physics_choice import OwnString
from labcore.panels.picture import Picture
from labcore.panels.recorder import Recorder
from labcore.panels.recorder_files import InputSettings, RecordedTake
from labcore.panels.sound import Sound
from labcore.physics.arm import Bridge
from labcore.physics.hearing import Wobble
from labcore.physics.motion import HandMotion
from labcore.physics.strings import FrettedString, string_set

THIRD = FrettedString(string_set("9-42")[2], fret=12)
OPEN = [FrettedString(string, fret=0) for string in string_set("9-42")]
SIX = [FrettedString(string, fret=12) for string in string_set("9-42")]
E4_HZ = 329.63
HAND = HandMotion(offset_m=3e-3, sideways_m=3e-3, along_m=14e-6)

FIGURES = {
    "bend": lambda: bend.bend_figure(THIRD, push_m=5e-3),
    "bend at rest": lambda: bend.bend_figure(THIRD, push_m=0.0),
    "neck": lambda: bend.neck_figure(THIRD, strings=SIX, cents=50.0),
    "swing": lambda: bend.swing_figure(THIRD, motion=HAND),
    "roll": lambda: roll.roll_figure(THIRD, roll_m=1e-3),
    "roll at rest": lambda: roll.roll_figure(THIRD, roll_m=0.0, step=2),
    "stick": lambda: roll.stick_figure(THIRD, pull_n=2.5, hold_n=1.0, rate_hz=5.0),
    "two strings": lambda: roll.two_strings_figure(THIRD, THIRD),
    "arm": lambda: arm.arm_figure(Bridge(), strings=OPEN, angle_rad=-0.02),
    "arm swing": lambda: arm.arm_swing_figure(Bridge(), strings=OPEN, swing_rad=0.02, rate_hz=5.0),
    "fall": lambda: arm.fall_figure(Bridge(), strings=OPEN, bent=2, cents=100.0),
    "circle": lambda: circle.circle_figure(THIRD, motion=HAND, turn_share=0.25),
    "wobble": lambda: wobble.wobble_figure(Wobble(swell_db=6.0), plain_hz=E4_HZ),
    "mean": lambda: wobble.mean_figure(Wobble(), straight_cents=30.0),
    "window": lambda: window.window_figure(Wobble(rate_hz=7.2), window_s=0.093),
    "widths": lambda: window.widths_figure(["a", "b"], {"x": [60.0, None], "y": [50.0, 20.0]}),
}


@pytest.mark.parametrize("name", FIGURES)
def test_every_axis_that_is_seen_has_a_name(name: str) -> None:
    layout = FIGURES[name]().to_plotly_json()["layout"]
    axes = [part for key, part in layout.items() if key.startswith(("xaxis", "yaxis"))]
    assert axes
    for axis in axes:
        if axis.get("visible", True) and "ticktext" not in axis:
            assert "title" in axis


@pytest.mark.parametrize("name", ["swing", "stick", "arm swing", "circle", "wobble", "mean"])
def test_a_picture_with_time_in_it_knows_where_the_line_runs(name: str) -> None:
    rows = FIGURES[name]().layout.meta["rows"]
    assert rows
    for row in rows:
        assert 0.0 <= row["x0"] < row["x1"] <= 1.0
        assert 0.0 <= row["y0"] < row["y1"] <= 1.0
        assert row["end_s"] > row["start_s"] == 0.0


def test_the_words_of_a_bend_are_those_of_the_model() -> None:
    words = bend.bend_words(THIRD, push_m=5e-3)
    assert "rises by 40 cents" in words
    assert "0.08 mm longer" in words
    assert "2.1 N, the weight of 220 g" in words


def test_the_words_of_a_swing_tell_one_way_from_both_ways() -> None:
    both = HandMotion(sideways_m=3e-3, hand_hz=2.4)
    uneven = HandMotion(offset_m=0.75e-3, sideways_m=3e-3, hand_hz=2.4)
    assert "two waves a swing, 4.8 a second, reaching 15 cents" in bend.swing_words(
        THIRD, motion=both
    )
    assert "reaching 23, then 8 cents" in bend.swing_words(THIRD, motion=uneven)
    assert "one wave a swing" in bend.swing_words(THIRD, motion=HAND)


def test_a_roll_is_told_with_opposite_signs_and_only_at_the_last_step() -> None:
    words = roll.roll_words(THIRD, roll_m=1e-3)
    assert "With frets the pitch moves +13 cents, without frets −5 cents" in words
    assert "pitch" not in roll.roll_words(THIRD, roll_m=1e-3, step=3)
    assert "does not move at all" in roll.stick_words(THIRD, pull_n=0.9, hold_n=1.0)


def test_slack_strings_are_written_and_not_drawn() -> None:
    figure = arm.arm_figure(Bridge(), strings=OPEN, angle_rad=np.radians(-10.0))
    words = [note.text for note in figure.layout.annotations]
    assert words.count("slack") == 2
    bars = next(trace for trace in figure.data if trace.type == "bar")
    assert np.all(np.isfinite(bars.y))
    assert "slack" in arm.arm_words(Bridge(), strings=OPEN, angle_rad=np.radians(-10.0))


def test_a_round_wave_and_a_lumpy_one_are_called_so() -> None:
    roll_alone = HandMotion(along_m=14e-6)
    against = HandMotion(offset_m=3e-3, sideways_m=3e-3, along_m=24e-6, phase_rad=np.pi)
    assert "round wave" in circle.circle_words(THIRD, motion=roll_alone)
    assert "two humps" in circle.circle_words(THIRD, motion=against)
    from_home = HandMotion(offset_m=3e-3, sideways_m=3e-3)
    assert "flat foot" in circle.circle_words(THIRD, motion=from_home)
    for sense, leans in ((1, "slowly up, quickly down"), (-1, "quickly up, slowly down")):
        round_it = replace(from_home, along_m=14e-6, phase_rad=sense * np.pi / 2)
        assert leans in circle.circle_words(THIRD, motion=round_it)
    assert "plain note" in circle.circle_words(THIRD, motion=HandMotion())


def test_a_wobble_is_called_by_its_right_name() -> None:
    assert wobble.wobble_words(Wobble(), plain_hz=E4_HZ).startswith("Vibrato,")
    assert wobble.wobble_words(Wobble(extent_cents=0.0, swell_db=6.0), plain_hz=E4_HZ).startswith(
        "Tremolo,"
    )
    assert wobble.wobble_words(Wobble(swell_db=6.0), plain_hz=E4_HZ).startswith(
        "Vibrato and tremolo,"
    )
    assert "plain note" in wobble.wobble_words(Wobble(extent_cents=0.0), plain_hz=E4_HZ)


def test_an_octave_up_the_same_cents_are_twice_the_hertz() -> None:
    # 329.63 Hz up by 60 cents is 341.25 Hz
    assert "60 cents from bottom to top, here 11.6 Hz" in wobble.wobble_words(
        Wobble(), plain_hz=E4_HZ
    )
    assert "60 cents from bottom to top, here 23.2 Hz" in wobble.wobble_words(
        Wobble(), plain_hz=2 * E4_HZ
    )


def test_what_rests_is_said_to_rest() -> None:
    bridge = Bridge()
    said = [
        bend.bend_words(THIRD, push_m=0.0),
        roll.roll_words(THIRD, roll_m=0.0),
        roll.stick_words(THIRD, pull_n=0.0, hold_n=0.0),
        arm.arm_swing_words(bridge, strings=OPEN, swing_rad=0.0),
        arm.fall_words(bridge, strings=OPEN, bent=2, cents=0.0),
        circle.circle_words(THIRD, motion=HandMotion()),
        wobble.wobble_words(Wobble(extent_cents=0.0), plain_hz=E4_HZ),
        wobble.mean_words(Wobble(up_only=False)),
    ]
    assert all("plain note" in words for words in said)
    assert not any("-0" in words or "−0" in words for words in said)


def test_a_string_that_slides_freely_does_not_lag() -> None:
    assert "lags" not in roll.stick_words(THIRD, pull_n=2.0, hold_n=0.0)
    assert "lags" in roll.stick_words(THIRD, pull_n=2.0, hold_n=0.5)


def test_words_beside_lines_do_not_cover_each_other() -> None:
    widths = {name: [30.0 + n / 10] for n, name in enumerate("abcde")}
    notes = window.widths_figure(["all waves"], widths).layout.annotations
    heights = sorted(note.y for note in notes)
    assert len(heights) == 5
    assert min(np.diff(heights)) > 2.0


SIDE_BY_SIDE = ("bend", "neck", "roll", "stick", "two strings", "arm", "circle", "window")


@pytest.mark.parametrize("name", SIDE_BY_SIDE)
def test_on_a_narrow_page_pictures_stand_below_each_other(name: str) -> None:
    layout = FIGURES[name]().to_plotly_json()["layout"]
    narrow = layout["meta"]["narrow"]
    axes = [key for key in layout if key.startswith(("xaxis", "yaxis"))]
    assert all(key in narrow for key in axes)
    assert all(tuple(narrow[key]["domain"]) == (0.0, 1.0) for key in axes if key[0] == "x")
    heights = sorted(tuple(narrow[key]["domain"]) for key in axes if key[0] == "y")
    assert all(below[1] < above[0] for below, above in pairwise(heights))
    assert narrow["height"] > layout["height"]
    if layout["meta"].get("rows"):
        assert len(narrow["meta"]["rows"]) == len(layout["meta"]["rows"])


# --- panels -----------------------------------------------------------------------------------

PANELS: dict[str, Callable[[], Any]] = {
    "wobble": physics_wobble.wobble_panel,
    "mean": physics_wobble.mean_panel,
    "bend": physics_bend.bend_panel,
    "neck": physics_bend.neck_panel,
    "swing": physics_bend.swing_panel,
    "roll": physics_roll.roll_panel,
    "stick": physics_roll.stick_panel,
    "arm": physics_arm.arm_panel,
    "arm swing": physics_arm.arm_swing_panel,
    "fall": physics_arm.fall_panel,
    "circle": physics_circle.circle_panel,
    "window": physics_window.window_panel,
}


def parts(panel: Any, kind: type) -> list[Any]:
    """All widgets of a kind anywhere in a panel."""
    inside = [part for child in getattr(panel, "children", ()) for part in parts(child, kind)]
    return [panel, *inside] if isinstance(panel, kind) else inside


@pytest.mark.parametrize("name", PANELS)
def test_every_slider_moves_its_picture(name: str) -> None:
    panel = PANELS[name]()
    (picture,) = parts(panel, Picture)
    sliders = parts(panel, Slider)
    assert sliders
    for slider in sliders:
        before = picture.figure_json
        slider.value = slider.low + 0.41 * (slider.high - slider.low)
        assert picture.figure_json != before, slider.label


@pytest.mark.parametrize("name", PANELS)
def test_every_control_has_a_name(name: str) -> None:
    controls = parts(PANELS[name](), (Choice, Slider))  # type: ignore[arg-type]
    assert controls
    assert all(control.label for control in controls)
    labels = [control.label for control in controls]
    assert len(set(labels)) == len(labels)


@pytest.mark.parametrize("name", [n for n in PANELS if n not in ("neck", "window")])
def test_every_button_makes_a_sound(name: str) -> None:
    (sound,) = parts(PANELS[name](), Sound)
    sent: list[tuple[Any, Any]] = []
    sound.send = lambda content, buffers=None: sent.append((content, buffers))
    sound._answer(sound, 0, [])
    content, buffers = sent[0]
    assert content == {"button": 0}
    assert bytes(buffers[0][:4]) == b"RIFF"


def test_a_refusal_is_said_under_the_picture_and_the_picture_stays() -> None:
    panel = physics_bend.neck_panel()
    (picture,), (status,) = parts(panel, Picture), parts(panel, StatusLine)
    own = OwnString()
    assert own.at.fret == 12
    before = picture.figure_json
    fret = next(slider for slider in parts(panel, Slider) if slider.label == "fret")
    fret.low = 0.0
    fret.value = 0.0  # an open string cannot be bent
    assert "open string" in status.text
    assert picture.figure_json == before
    fret.value = 5.0
    assert status.text == ""


@pytest.mark.parametrize("check", [GRIP, GUITAR])
def test_a_check_explains_how_to_record_it(check: str) -> None:
    panel = check_panel(check)
    how = parts(panel, StatusLine)[0]
    assert "two seconds" in how.text


@pytest.mark.parametrize("check", [GRIP, GUITAR])
def test_a_check_is_told_from_what_was_recorded_here(check: str, tmp_path: Path) -> None:
    panel = check_panel(check, folder=tmp_path)
    (recorder,) = parts(panel, Recorder)
    recorder._on_take(RecordedTake(check_example(check), InputSettings()))
    told = next(line for line in parts(panel, StatusLine) if line.label == "what was heard")
    assert told.text == check_sentence(check_example(check), check=check)
    assert not told.problem
