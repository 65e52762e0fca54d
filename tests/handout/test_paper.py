"""Printed: as many pages as sheets, nothing cut off, the words on the paper."""

import os
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from labcore.exercises import LADDER
from labcore.handout import PAPERS, print_pdf, sheet, write_handout
from labcore.handout.page import find_chromium

pytestmark = pytest.mark.browser

# Points, 72 to the inch: ISO 216 A4, and 8.5 by 11 inches.
SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
SIZE_TOLERANCE_POINTS = 1.0


@pytest.fixture(scope="module")
def chromium() -> str:
    found = find_chromium()
    if found is None and os.environ.get("CI") != "true":
        pytest.skip("no Chromium on this computer")
    assert found is not None
    return found


@pytest.mark.parametrize("paper", PAPERS)
def test_a_printed_handout_has_a_page_a_sheet_and_its_words(
    chromium, report, tmp_path, paper: str
) -> None:
    pypdf = pytest.importorskip("pypdf")
    hostile = "<script>alert(1)</script>"
    sheets = [sheet(report), sheet(report, player=hostile), sheet()]
    pdf = print_pdf(write_handout(tmp_path / "a.html", sheets=sheets, paper=paper))
    pages = pypdf.PdfReader(pdf).pages
    assert len(pages) == len(sheets)
    for page in pages:
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx(SIZES[paper], abs=SIZE_TOLERANCE_POINTS)
    words = [" ".join(page.extract_text().split()) for page in pages]
    assert "bench 3" in words[0]
    assert sheets[0].work in words[0]
    assert hostile in words[1]
    assert all("Teacher:" in text and "Two cautions" in text for text in words)


@pytest.mark.parametrize("paper", PAPERS)
def test_no_sheet_of_the_ladder_is_cut_off(chromium, report, tmp_path, paper: str) -> None:
    sync_api = pytest.importorskip("playwright.sync_api")
    sheets = [sheet(report, exercise=rung, player="W" * 60, guitar="W" * 60) for rung in LADDER]
    sheets += [sheet(exercise=rung) for rung in LADDER]
    html = write_handout(tmp_path / "all.html", sheets=sheets, paper=paper)
    # In a thread of its own: the session's browser, if one is open, holds this one's event loop.
    with ThreadPoolExecutor(1) as thread:
        over, heights = thread.submit(measured, sync_api, chromium, html.as_uri()).result()
    assert over == []
    assert min(heights) > 60  # CSS pixels: 16 mm


def measured(sync_api: Any, chromium: str, address: str) -> tuple[list[Any], list[float]]:
    """Sheets that are taller than their page, and the heights of all pictures."""
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page()
        page.goto(address)
        over = page.evaluate(
            "[...document.querySelectorAll('.sheet')]"
            ".map((s, i) => [i, s.scrollHeight - s.clientHeight]).filter(([i, px]) => px > 1)"
        )
        heights = page.evaluate(
            "[...document.querySelectorAll('svg.take')].map(s => s.getBoundingClientRect().height)"
        )
        browser.close()
    return over, heights
