"""The room's panel: a folder heard, a picture without names, sheets and a table for the teacher."""

import shutil
from contextlib import nullcontext
from pathlib import Path

import pytest

from labcore.errors import LabError
from labcore.exercises import Need, Room
from labcore.handout import class_takes
from labcore.panels.class_panel import ClassPanel, room_executor, seats_html


@pytest.fixture
def folder(tmp_path: Path, short_of_home, monkeypatch) -> Path:
    """Six seats with one and the same sound, heard once; and one file that is no sound."""
    demo, _, take = short_of_home
    for number in range(6):
        shutil.copy(demo.path, tmp_path / f"seat{number}_a.flac")
    (tmp_path / "seat9_<b>bold</b>.wav".replace("/", "")).write_bytes(b"no sound")

    def analyse_many(paths, *, task=None, executor=None):
        from labcore.analysis import judge

        for path in paths:
            yield judge(take) if path.suffix == ".flac" else LabError("That is no sound.")

    monkeypatch.setattr(class_takes, "analyse_many", analyse_many)
    monkeypatch.setattr("labcore.panels.class_panel.room_executor", lambda takes: nullcontext())
    return tmp_path


def test_a_room_is_heard_and_shown_without_a_name(folder: Path) -> None:
    panel = ClassPanel(folder)
    panel.hear()
    picture = panel._picture.children[0]
    assert picture.words.startswith("Next for the room: coming home, in 6 of 6 takes.")
    assert "seat" not in picture.figure_json
    assert panel.status.text == "6 of 7 takes heard"  # the seventh is no sound
    assert "One file could not be heard" in panel._words.value


def test_an_earlier_evening_stands_beside_this_one(folder: Path) -> None:
    panel = ClassPanel(folder, before=Room(8, (Need("return", 2, 2, 4),)))
    panel.hear()
    assert "more takes" in panel._picture.children[0].words


def test_the_teachers_table_has_names_problems_and_nothing_that_runs(folder: Path) -> None:
    panel = ClassPanel(folder)
    panel.hear()
    shown = seats_html(panel.takes)
    assert "seat 0" in shown
    assert "That is no sound." in shown
    assert "<b>bold" not in shown
    assert "seat 0" in panel.csv().read_text(encoding="utf-8")


def test_a_sheet_is_written_for_every_seat_that_was_heard(folder: Path) -> None:
    panel = ClassPanel(folder)
    panel.hear()
    assert panel.sheets().read_text(encoding="utf-8").count('<section class="sheet">') == 6


def test_what_is_missing_is_said_in_the_status_line(tmp_path: Path) -> None:
    panel = ClassPanel(tmp_path / "nowhere")
    for button in (panel.hear_all, panel.write_sheets, panel.write_table):
        panel.status.say("")
        button._handle_custom_msg("press", [])
        assert panel.status.problem
    panel.tempo.value = "fast"
    panel.hear_all._handle_custom_msg("press", [])
    assert "give a number" in panel.status.text


def test_a_handful_of_takes_starts_no_processes() -> None:
    with room_executor(2) as executor:
        assert executor is None


def test_an_empty_box_asks_for_the_folder() -> None:
    panel = ClassPanel("")
    panel.hear_all._handle_custom_msg("press", [])
    assert panel.status.problem
    assert "Write the folder of the takes first" in panel.status.text
