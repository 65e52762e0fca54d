"""``python -m labcore``: the start lesson opens with its pictures standing there."""

import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser

CHECKOUT = Path(__file__).parents[2]
UP_S = 90.0
PICTURE_MS = 120_000
SAVED = "() => window.jupyterapp.shell.currentWidget.context.model.dirty === false"
WRITE = """async () => {
  const { context } = window.jupyterapp.shell.currentWidget;
  const cells = context.model.sharedModel;
  cells.insertCell(cells.cells.length, { cell_type: "markdown", source: "My answer: three." });
  await context.save();
}"""
ARGUMENTS = ("--no-browser", "--ip=127.0.0.1", "--port=0", "--LabApp.expose_app_in_browser=True")
HOMES = ("CONFIG_DIR", "DATA_DIR", "RUNTIME_DIR")


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the lessons, as a reader has it."""
    copy = tmp_path_factory.mktemp("copy")
    for name in ("labcore", "notebooks", "data_demo"):
        shutil.copytree(CHECKOUT / name, copy / name)
    return copy


@pytest.fixture(scope="module")
def address(browser: Any, copy: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the lessons stand, with the token that the command gave them."""
    homes = tmp_path_factory.mktemp("start_homes")
    own = {f"JUPYTER_{name}": str(homes / name) for name in HOMES}
    own |= {f"JUPYTERLAB_{name}_DIR": str(homes / name) for name in ("SETTINGS", "WORKSPACES")}
    own["XDG_DATA_HOME"] = str(homes / "data")  # where takes are kept
    with (homes / "log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "labcore", *ARGUMENTS],
            cwd=copy,
            env={**os.environ, **own},
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            yield _address_in(homes / "log", process=process)
        finally:
            process.terminate()
            process.wait(timeout=30)


def _address_in(log: Path, *, process: subprocess.Popen[bytes]) -> str:
    end = time.monotonic() + UP_S
    while time.monotonic() < end and process.poll() is None:
        found = re.search(r"http://127\.0\.0\.1:\d+/\S+token=\w+", log.read_text(encoding="utf-8"))
        if found:
            return found.group(0)
        time.sleep(0.2)
    pytest.fail(f"no address within {UP_S:.0f} s: {log.read_text(encoding='utf-8')[-1000:]}")


def test_the_start_lesson_and_the_next_open_with_their_pictures(browser: Any, address: str) -> None:
    assert "/doc/tree/notebooks/00_start_here.ipynb" in address
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    try:
        page.set_default_timeout(PICTURE_MS)
        page.on("dialog", lambda dialog: dialog.accept())
        page.goto(address)
        page.wait_for_selector(".labcore-plot[data-drawn]")
        outer = page.locator(".jp-WindowedPanel-outer").first
        assert outer.evaluate("(page) => page.scrollTop") == 0  # it stays where the reader begins
        page.get_by_role("link", name="Analyse your take").first.click()
        page.wait_for_selector(".labcore-panel .labcore-plot[data-drawn]")
    finally:
        page.close()


def test_a_lesson_that_was_closed_has_its_pictures_when_it_is_opened_again(
    browser: Any, address: str
) -> None:
    for _visit in ("first", "with the kernel of the first"):
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        try:
            page.set_default_timeout(PICTURE_MS)
            page.goto(address)
            page.wait_for_selector(".labcore-plot[data-drawn]")
        finally:
            page.close()


def written_cells(file: Path) -> list[tuple[str, str]]:
    cells = json.loads(file.read_text(encoding="utf-8"))["cells"]
    return [(cell["cell_type"], "".join(cell["source"])) for cell in cells]


def test_a_lesson_is_as_it_was_left_and_its_file_changes_only_where_the_reader_wrote(
    browser: Any, address: str, copy: Path
) -> None:
    lesson = address.replace("00_start_here", "07_analyse_your_take")
    file, delivered = (root / "notebooks/07_analyse_your_take.ipynb" for root in (copy, CHECKOUT))
    visitor = browser.new_context(viewport={"width": 1280, "height": 900})
    visitor.set_default_timeout(PICTURE_MS)
    errors: list[str] = []
    try:
        page = visitor.new_page()
        page.goto(lesson)
        page.locator(".labcore-panel").get_by_role("radio", name="with a click").check(force=True)
        page.wait_for_selector(".labcore-plot[aria-label*='bars at 72']")
        page.get_by_role("slider", name="tempo").press("ArrowRight")
        page.wait_for_selector(".labcore-plot[aria-label*='bars at 73']")
        page.wait_for_function(SAVED)
        with page.expect_event("close"):  # the browser asks nothing, for nothing is unsaved
            page.close(run_before_unload=True)
        page = visitor.new_page()
        page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
        page.goto(lesson)
        page.wait_for_selector(".labcore-plot[aria-label*='bars at 73'][data-drawn]")
        page.get_by_role("slider", name="tempo").press("ArrowRight")
        page.wait_for_selector(".labcore-plot[aria-label*='bars at 74']")
        assert file.read_bytes() == delivered.read_bytes()
        assert errors == []
        page.evaluate(WRITE)
        page.wait_for_function(SAVED)
        assert written_cells(file) == [*written_cells(delivered), ("markdown", "My answer: three.")]
    finally:
        visitor.close()


def test_a_second_tab_leaves_the_first_alone_and_takes_over_when_it_is_closed(
    browser: Any, address: str
) -> None:
    lesson = address.replace("00_start_here", "07_analyse_your_take")
    both = browser.new_context(viewport={"width": 1280, "height": 900})
    both.set_default_timeout(PICTURE_MS)
    try:
        first, second = both.new_page(), both.new_page()
        for page in (first, second):
            page.on("dialog", lambda dialog: dialog.accept())
        first.goto(lesson)
        first.wait_for_selector(".labcore-panel .labcore-plot[data-drawn]")
        first.get_by_role("button", name="record a take here").click()
        first.get_by_role("button", name="record without end").click()
        recorder = first.locator(".labcore-recorder")
        first.locator(".labcore-recorder[data-state=recording][data-sent='1']").wait_for()
        second.goto(lesson)
        second.get_by_text("Close that tab, and it starts here").first.wait_for()
        assert second.locator(".labcore-panel").count() == 0
        first.bring_to_front()
        recorder.get_by_role("button", name="stop (space bar)").click()
        recorder.get_by_role("button", name="look at it").first.wait_for()
        first.get_by_role("radio", name="with a click").check(force=True)
        first.locator(".labcore-plot[aria-label*='bars at']").first.wait_for()  # it is alive
        first.close()
        second.bring_to_front()
        second.wait_for_selector(".labcore-panel .labcore-plot[data-drawn]")
    finally:
        both.close()


def test_a_lesson_can_be_started_in_the_second_tab_and_the_first_is_told(
    browser: Any, address: str
) -> None:
    lesson = address.replace("00_start_here", "08_change_the_note_value")
    both = browser.new_context(viewport={"width": 1280, "height": 900})
    both.set_default_timeout(PICTURE_MS)
    try:
        first, second = both.new_page(), both.new_page()
        first.goto(lesson)
        first.wait_for_selector(".labcore-panel .labcore-plot[data-drawn]")
        second.goto(lesson)
        second.get_by_role("button", name="Start it here").first.click()
        second.wait_for_selector(".labcore-panel .labcore-plot[data-drawn]")
        first.bring_to_front()
        first.get_by_text("Load this page again to have it here").first.wait_for()
    finally:
        both.close()
