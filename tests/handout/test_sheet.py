"""The sheet: whole, plain, needing nothing else, and safe from what users write."""

import re
from datetime import date
from errno import ENOSPC
from html.parser import HTMLParser
from pathlib import Path

import pytest

from labcore.errors import LabError
from labcore.exercises import LADDER, SYLLABLES, ladder, rung_named
from labcore.handout import PAPERS, handout_html, print_pdf, sheet, write_handout
from labcore.handout.page import tile_svg
from labcore.model import Technique

HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{ 7 * 7 }}",
    "</section><h1>gone</h1>",
    "&lt;b&gt;",
    "<!--",
]


class Reader(HTMLParser):
    """What a browser would find: tags, their attributes, and the text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.words += data


def read(*sheets, paper: str = "A4") -> Reader:
    return Reader(handout_html(sheets, paper=paper))


def test_a_sheet_tells_the_take_one_praise_one_thing_and_what_to_do(report) -> None:
    found = sheet(report, on=date(2026, 3, 10))
    words = read(found).words
    assert found.praise
    assert found.work
    assert found.remedy
    for said in ("bench 3", "2026-03-10", "solid body", found.praise, found.work, found.remedy):
        assert said in words


def test_a_sheet_carries_exercise_syllables_days_ladder_cautions_and_lines(report) -> None:
    reader = read(sheet(report, exercise=rung_named("quintuplets-72")))
    for said in (
        "Five to the click", "row-the-boat-back-home", "= 72", "5 to the click (quintuplets)",
        "Mon", "Sun", "finger 4", "Two cautions", "pain", "talking level", "30 cm", "count-in",
        "Teacher:", "To read on",
    ):  # fmt: skip
        assert said in reader.words, said
    assert handout_html([sheet(report)]).count('class="free"') == 2


def test_waves_a_second_are_tempo_times_value_over_sixty() -> None:
    found = sheet(exercise=rung_named("sextuplets-66"))
    assert [row[3] for row in found.speeds] == ["1.1", "2.2", "3.3", "4.4", "5.5", "6.6"]


def test_the_picture_has_a_head_for_every_wave_of_its_rows(report) -> None:
    html = handout_html([sheet(report)])
    assert html.count("<circle") == len(report.cycles) > 8


def test_a_blank_sheet_has_lines_to_write_on_and_no_findings() -> None:
    words = read(sheet()).words
    assert "name or seat" in words
    assert "Draw what you hear" in words
    assert "Your take" not in words


@pytest.mark.parametrize("label", HOSTILE)
def test_what_a_user_writes_is_shown_and_never_run(report, label: str) -> None:
    plain = read(sheet(report))
    reader = read(sheet(report, player=label, guitar=label))
    assert label in reader.words
    assert reader.tags == plain.tags
    assert not [name for name, _ in reader.attributes if name.startswith("on")]


@pytest.mark.parametrize("paper", PAPERS)
def test_the_page_needs_nothing_from_anywhere(report, paper: str) -> None:
    html = handout_html([sheet(report), sheet()], paper=paper)
    outside = re.sub(r'xmlns(:xlink)?="[^"]*"', "", html)
    assert "http" not in outside.replace("http-equiv", "")
    reader = Reader(html)
    assert not {"script", "link", "img", "iframe"} & set(reader.tags)
    assert not [value for name, value in reader.attributes if name == "src"]
    assert all(value.startswith("#") for name, value in reader.attributes if name == "href")
    assert reader.tags.count("section") == 2


@pytest.mark.parametrize("technique", [Technique.BEND, Technique.ROLL, Technique.ARM])
def test_every_rung_of_every_ladder_makes_a_sheet(technique: Technique) -> None:
    rungs = ladder(technique)
    html = handout_html([sheet(exercise=rung) for rung in rungs])
    assert html.count('<section class="sheet">') == len(rungs) > 25


def test_a_bar_is_engraved_for_every_note_value_with_its_syllables() -> None:
    for waves, syllables in SYLLABLES.items():
        svg = tile_svg(waves)
        words = re.findall(r">([a-z]+)<", svg)
        assert words == ["plain", *syllables * 3]
        assert svg.count(f"#bar{waves}-E0A4") == 1 + 3 * waves  # SMuFL: E0A4 is a black notehead
    assert tile_svg(0).count("#bar0-E0A2") == 1  # a whole note


@pytest.mark.slow
@pytest.mark.parametrize("waves", [0, *SYLLABLES])
def test_the_bars_are_what_the_script_engraves(waves: int) -> None:
    pytest.importorskip("verovio", reason="the engraver is a development tool")
    from labcore.handout.tiles.make_tiles import engraved

    # Another version of the engraver may space a little otherwise: notes and words must agree.
    def notes(svg: str) -> list[str]:
        return re.findall(r"#(bar\d-\w+)|>([a-z]+)<", svg)

    assert notes(engraved(waves)) == notes(tile_svg(waves))


def test_a_paper_nobody_has_is_refused(report) -> None:
    with pytest.raises(LabError, match="A4 or Letter"):
        handout_html([sheet(report)], paper="A3")
    with pytest.raises(LabError, match="no sheet"):
        handout_html([])
    with pytest.raises(LabError, match="61 letters"):
        sheet(player="x" * 61)


def test_a_page_that_cannot_be_written_or_printed_is_said_so(tmp_path, monkeypatch) -> None:
    with pytest.raises(LabError, match="cannot be written"):
        write_handout(tmp_path / "no folder" / "a.html", sheets=[sheet()])
    with pytest.raises(LabError, match="no file"):
        print_pdf(tmp_path / "nowhere.html")
    monkeypatch.setenv("LABCORE_CHROMIUM", str(tmp_path / "not there"))
    assert print_pdf(write_handout(tmp_path / "a.html", sheets=[sheet()])) is None


def test_a_sheet_that_cannot_be_finished_leaves_the_one_before(tmp_path, monkeypatch) -> None:
    place = write_handout(tmp_path / "a.html", sheets=[sheet()])
    before = place.read_bytes()

    def half(path: Path, data: bytes) -> None:
        with path.open("wb") as file:
            file.write(data[: len(data) // 2])
        raise OSError(ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", half)
    with pytest.raises(LabError, match="No space left on device"):
        write_handout(place, sheets=[sheet(), sheet()])
    assert place.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["a.html"]


def test_a_printer_that_fails_leaves_no_pdf_of_before_for_its_own(tmp_path, monkeypatch) -> None:
    html = write_handout(tmp_path / "a.html", sheets=[sheet()])
    (tmp_path / "a.pdf").write_text("printed last week")
    broken = tmp_path / "chromium"
    broken.write_text("#!/bin/sh\nexit 1\n")
    broken.chmod(0o700)
    monkeypatch.setenv("LABCORE_CHROMIUM", str(broken))
    with pytest.raises(LabError, match="could not be printed"):
        print_pdf(html)
    assert (tmp_path / "a.pdf").read_text() == "printed last week"


def test_titles_of_the_ladder_fit_the_head_of_a_sheet() -> None:
    assert max(len(rung.title) for rung in LADDER) <= 36
