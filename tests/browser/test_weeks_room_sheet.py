"""Lessons 09, 10 and 11 in a browser: what a reader sees, presses and is told."""

import os
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def weeks(open_lesson):
    page = open_lesson("09_practise_for_weeks.ipynb")
    page.run_all()
    return page


@pytest.fixture(scope="module")
def room(open_lesson):
    page = open_lesson("10_teach_a_class.ipynb")
    page.run_all()
    return page


@pytest.fixture(scope="module")
def paper(open_lesson):
    page = open_lesson("11_print_a_handout.ipynb")
    page.run_all()
    return page


def keep_picture(lesson, name: str) -> None:
    """Keep a picture of the page where LABCORE_PICTURES says, to be looked at by eye."""
    folder = os.environ.get("LABCORE_PICTURES")
    if folder:
        lesson.page.locator(".labcore-panel").first.evaluate("e => e.scrollIntoView()")
        lesson.page.screenshot(path=Path(folder) / name)


def assert_calm(lesson) -> None:
    """No error on the page, and nothing asked of any other machine."""
    assert "\n".join(lesson.errors) == ""
    assert lesson.outside == []


def test_weeks_are_drawn_and_told(weeks) -> None:
    weeks.see("25 takes in 6 columns")
    weeks.see("How it should sound:")
    weeks.page.locator(".labcore-panel").first.evaluate("e => e.scrollIntoView()")
    weeks.page.locator(".js-plotly-plot").first.wait_for()
    keep_picture(weeks, "09.png")
    assert_calm(weeks)


def test_another_finger_changes_the_words(weeks) -> None:
    finger = weeks.page.locator(".labcore-choice", has_text="finger").first
    finger.get_by_role("radio", name="1").check()
    weeks.see("7 takes in 3 columns")
    assert_calm(weeks)


def test_the_readers_own_log_opens_at_a_press(weeks) -> None:
    weeks.page.get_by_role("button", name="open my own log").click()
    weeks.see("There are no takes yet")
    keep_picture(weeks, "09-own.png")
    assert_calm(weeks)


def test_a_room_is_drawn_without_a_bench_on_it(room) -> None:
    room.see("Next for the room: coming home")
    picture = room.page.locator(".js-plotly-plot").first
    assert "bench" not in picture.inner_text()
    keep_picture(room, "10.png")
    assert_calm(room)


def test_who_needs_what_stands_behind_a_fold(room) -> None:
    table = room.page.locator("table.labcore-table", has_text="bench 4")
    assert not table.is_visible()
    room.page.get_by_role("button", name="for the teacher alone").click()
    table.wait_for(state="visible")
    assert "is text, not sound" in table.inner_text()
    keep_picture(room, "10-teacher.png")
    assert_calm(room)


def test_a_sheet_for_every_seat_is_written(room) -> None:
    room.page.get_by_role("button", name="write a sheet for every seat").click()
    room.see("sheets.html. Open it and print it.")
    assert_calm(room)


def test_the_sheet_stands_in_its_frame_and_follows_the_choices(paper) -> None:
    frame = paper.page.frame_locator("iframe").first
    frame.get_by_text("Your take: filled is home").wait_for()
    keep_picture(paper, "11.png")
    paper.page.get_by_label("exercise").first.select_option("Five to the click")
    frame.get_by_role("heading", name="Five to the click").wait_for()
    assert_calm(paper)


SHOWN_OF_A_SHEET = """sheet => {
  const box = sheet.getBoundingClientRect(), page = sheet.ownerDocument.documentElement;
  return { right: box.right / innerWidth, foot: box.bottom / innerHeight,
           sideways: page.scrollWidth - page.clientWidth };
}"""


@pytest.mark.parametrize("width_px", [540, 1280])
def test_the_sheet_is_whole_at_this_width(paper, width_px: int) -> None:
    paper.page.set_viewport_size({"width": width_px, "height": 900})
    frame = paper.page.frame_locator("iframe").first
    frame.get_by_text("Two cautions").wait_for()
    shown = frame.locator(".sheet").first.evaluate(SHOWN_OF_A_SHEET)
    assert shown["sideways"] == 0
    assert 0.5 < shown["right"] <= 1.0
    assert 0.8 < shown["foot"] <= 1.0


def test_a_sheet_is_printed_to_pdf_at_a_press(paper) -> None:
    paper.page.get_by_role("button", name="print it to PDF").first.click()
    paper.see("sheet.pdf.")
    assert_calm(paper)
