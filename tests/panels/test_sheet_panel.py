"""The panel of the sheet: the page follows the choices and is written where asked."""

import html
from pathlib import Path

from labcore.handout import sheet
from labcore.panels.evening import write_evening
from labcore.panels.sheet_panel import SheetPanel, sheet_view


def press(button) -> None:
    button._handle_custom_msg("press", [])


def test_it_opens_with_a_blank_sheet_and_follows_the_choices(tmp_path: Path) -> None:
    panel = SheetPanel(folder=tmp_path)
    assert "Draw what you hear" in panel._view.value
    panel.exercise.value = "Five to the click"
    panel.label.value = "bench 3"
    panel.paper.value = "Letter"
    for said in ("Five to the click", "bench 3", "8.5in 11in"):
        assert said in html.unescape(panel._view.value)


def test_a_label_never_leaves_its_frame(tmp_path: Path) -> None:
    panel = SheetPanel(folder=tmp_path)
    panel.label.value = '"><script>alert(1)</script>'
    assert "<script" not in panel._view.value
    assert "<script" not in html.unescape(panel._view.value)  # inside the frame it is escaped too
    assert "sandbox" in panel._view.value


def test_the_sheet_is_written_where_it_was_asked_for(tmp_path: Path, monkeypatch) -> None:
    panel = SheetPanel(folder=tmp_path)
    press(panel.write)
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8").startswith("<!doctype html>")
    monkeypatch.setenv("LABCORE_CHROMIUM", "/no/such/file")
    press(panel.print)
    assert "No Chromium" in panel.status.text


def test_a_sheet_that_cannot_be_made_is_said_so(tmp_path: Path) -> None:
    panel = SheetPanel(folder=tmp_path / "nowhere")
    press(panel.write)
    assert panel.status.problem
    panel.label.value = "x" * 99
    assert "99 letters" in panel.status.text


def test_a_view_shows_the_sheet(tmp_path: Path) -> None:
    assert "iframe" in sheet_view(sheet()).value


def test_the_demo_evening_has_eight_takes_and_one_file_that_is_none(tmp_path: Path) -> None:
    names = sorted(path.name for path in write_evening(tmp_path / "evening").iterdir())
    assert len(names) == 9
    assert names[-1] == "bench9_shopping list.wav"
