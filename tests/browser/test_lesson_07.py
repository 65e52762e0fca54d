"""Lesson 07 in a real JupyterLab and a real Chromium: slider, keyboard, files, sound, reload."""

import io
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from labcore.panels.hearing import CLICKED

pytestmark = pytest.mark.browser

LESSON = "07_analyse_your_take.ipynb"
RATE_HZ = 22_050
HOME_HZ, WIDTH_CENTS, WAVES_HZ = 220.0, 60.0, 4.0


def wobbling_wav() -> bytes:
    """A made take: 1 s plain, then 20 waves up and back, from closed formulas."""
    time_s = np.arange(int(6.5 * RATE_HZ)) / RATE_HZ
    wave = 0.5 - 0.5 * np.cos(2 * np.pi * WAVES_HZ * (time_s - 1.0))
    cents = np.where((time_s > 1.0) & (time_s < 6.0), WIDTH_CENTS * wave, 0.0)
    phase = 2 * np.pi * np.cumsum(HOME_HZ * 2 ** (cents / 1200.0)) / RATE_HZ
    sound = sum(np.sin(k * phase) / k**1.5 for k in range(1, 7))
    fade = np.exp(-time_s / 4.0) * np.minimum(1.0, time_s / 0.004)
    file = io.BytesIO()
    soundfile.write(file, 0.2 * sound * fade, RATE_HZ, format="WAV")
    return file.getvalue()


class Panel:
    """The take panel on the page."""

    def __init__(self, lesson: Any) -> None:
        self.page = lesson.page
        self.root = self.page.locator(".labcore-panel")
        self.plot = self.root.locator(".labcore-plot").first
        self.page.wait_for_selector(".labcore-panel .labcore-plot[data-drawn]")

    @property
    def line(self) -> str:
        """The longest curve of the picture, as the page drew it."""
        paths = self.plot.locator(".scatterlayer path.js-line").evaluate_all(
            "paths => paths.map(path => path.getAttribute('d') ?? '')"
        )
        return str(max(paths, key=len))

    @property
    def words(self) -> str:
        return str(self.plot.get_attribute("aria-label"))

    def wait_for_words(self, part: str) -> None:
        self.page.wait_for_function(
            "([plot, part]) => plot.getAttribute('aria-label').includes(part)",
            arg=[self.plot.element_handle(), part],
        )

    def wait_for_another_line(self, before: str) -> None:
        self.page.wait_for_function(
            "([plot, before]) => ![...plot.querySelectorAll('path.js-line')]"
            ".some((path) => path.getAttribute('d') === before)",
            arg=[self.plot.element_handle(), before],
        )

    def choose(self, option: str) -> None:
        self.root.get_by_role("radio", name=option, exact=True).check(force=True)

    def drop(self, name: str, data: bytes) -> None:
        file = {"name": name, "mimeType": "application/octet-stream", "buffer": data}
        self.root.locator("input[type=file]").set_input_files(file)

    def status(self) -> Any:
        return self.root.get_by_role("status").first


@pytest.fixture(scope="module")
def lesson(open_lesson: Callable[..., Any]) -> Any:
    """The lesson, run once for all tests of this file."""
    opened = open_lesson(LESSON)
    opened.run_all()
    return opened


@pytest.fixture
def panel(lesson: Any) -> Panel:
    """The panel, back at its first take and without a click."""
    panel = Panel(lesson)
    first = panel.root.get_by_role("combobox", name="take", exact=True)
    first.select_option("bench 1: Waves that never come home")
    panel.choose("none")
    panel.wait_for_words("bench 1: free playing")
    return panel


def test_nothing_is_fetched_from_elsewhere_and_no_script_fails(lesson: Any) -> None:
    Panel(lesson)
    assert lesson.outside == []
    assert lesson.errors == []


def test_words_appear_after_the_guess(panel: Panel) -> None:
    assert panel.root.get_by_text("on the way home").count() == 0
    panel.choose("few")
    panel.root.get_by_text("on the way home").first.wait_for()
    panel.root.get_by_text("Your guess was “few”").wait_for()


def test_the_tempo_slider_by_keyboard_moves_rows_header_and_words(
    panel: Panel, tmp_path: Path
) -> None:
    panel.choose("with a click")
    panel.wait_for_words("bars at")
    before, words = panel.line, panel.words
    slider = panel.root.get_by_role("slider", name="tempo")
    slider.focus()
    tempo = int(str(slider.input_value()))
    for _ in range(4):
        panel.page.keyboard.press("ArrowRight")
    panel.wait_for_words(f"bars at {tempo + 4}")
    panel.wait_for_another_line(before)
    assert panel.words != words
    assert slider.get_attribute("aria-valuetext") == f"{tempo + 4} clicks a minute"
    panel.plot.get_by_text(f"= {tempo + 4}").wait_for()
    panel.page.screenshot(path=tmp_path / "tempo.png")


def test_a_file_made_outside_is_measured_as_it_was_made(panel: Panel, tmp_path: Path) -> None:
    before = panel.line
    panel.drop("made in the test.wav", wobbling_wav())
    panel.wait_for_words("made in the test: free playing")
    assert "on A3" in panel.words
    panel.choose("just tell me")
    panel.root.get_by_text("About 4.0 waves a second, 60 cents").wait_for()
    assert panel.line != before
    panel.page.screenshot(path=tmp_path / "file.png")


def test_a_text_file_gets_a_sentence_and_the_take_stays(panel: Panel) -> None:
    panel.drop("diary.txt", b"dear diary")
    panel.root.get_by_text("is text, not sound").wait_for()
    assert "labcore-problem" in str(panel.status().get_attribute("class"))
    assert "bench 1" in panel.words
    assert panel.root.get_by_role("button", name="play the take").is_enabled()


def test_a_file_of_several_parts_arrives_whole(panel: Panel) -> None:
    long = np.tile(np.frombuffer(wobbling_wav()[44:], dtype=np.int16), 12)
    file = io.BytesIO()
    soundfile.write(file, long, RATE_HZ, format="WAV")
    assert file.getbuffer().nbytes > 3 * 1024 * 1024
    panel.drop("long.wav", file.getvalue())
    panel.wait_for_words("long: ")
    panel.root.locator(".labcore-status", has_text="78 seconds").wait_for()


def test_a_phones_recording_can_be_dropped(panel: Panel) -> None:
    av = pytest.importorskip("av", reason="av makes the recording of a phone for this test")
    samples, rate_hz = soundfile.read(io.BytesIO(wobbling_wav()), dtype="float32")
    file = io.BytesIO()
    with av.open(file, "w", format="mp4") as container:
        stream = container.add_stream("aac", rate=rate_hz)
        frame = av.AudioFrame.from_ndarray(samples[None, :], format="fltp", layout="mono")
        frame.sample_rate = rate_hz
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    panel.drop("from a phone.m4a", file.getvalue())
    panel.wait_for_words("from a phone: free playing")
    panel.choose("just tell me")
    panel.root.get_by_text("About 4.0 waves a second, 60 cents").wait_for()


RUN_AND_TELL = """() => new Promise((resolve) => {
  const box = document.querySelector(".labcore-panel .labcore-picture");
  const line = box.querySelector(".labcore-line");
  window.addEventListener("labcore:time", (event) => {
    const { rows } = box.querySelector(".labcore-plot").layout.meta;
    const time_s = event.detail.time_s;
    const row = rows.findIndex((r) => r.start_s <= time_s && time_s < r.end_s);
    const x_px = () => new DOMMatrix(getComputedStyle(line).transform).m41;
    const wide = box.clientWidth;
    requestAnimationFrame(() => resolve({ time_s, row: rows[row], x_px: x_px(), wide }));
  }, { once: true });
})"""
FRAME_S = 0.1  # sound may run on between the two readings, on a busy machine


@pytest.mark.parametrize("width_px", [540, 1280])
def test_the_line_runs_where_the_sound_is(panel: Panel, width_px: int) -> None:
    panel.page.set_viewport_size({"width": width_px, "height": 900})
    panel.root.get_by_text("of 13.9 s").wait_for()  # the sound has arrived
    panel.root.get_by_role("button", name="play the take").click()
    panel.page.wait_for_function(
        "() => !document.querySelector('.labcore-panel .labcore-line').hidden"
    )
    told = panel.page.evaluate(RUN_AND_TELL)
    row = told["row"]
    left, across = 86, told["wide"] - 86 - 16  # the margins of the take's figure
    share = (told["x_px"] - left) / across
    shown_s = row["start_s"] + (share - row["x0"]) / (row["x1"] - row["x0"]) * (
        row["end_s"] - row["start_s"]
    )
    assert shown_s == pytest.approx(told["time_s"], abs=FRAME_S)
    panel.root.get_by_role("button", name="stop").click()


def test_a_take_plays_on_when_what_was_made_of_it_goes(panel: Panel) -> None:
    """A sound made for one tempo goes with it; the take that sounds is the same take."""
    panel.choose("with a click")
    panel.wait_for_words("bars at")
    if panel.root.get_by_role("radio", name="just tell me").is_visible():
        panel.choose("just tell me")
    fold = panel.root.get_by_role("button", name="hear it with the click, or mended")
    fold.click()
    panel.root.get_by_role("button", name=CLICKED).click()
    panel.root.get_by_text("is ready, beside").wait_for()
    offered = panel.root.locator(".labcore-plays button")
    offered.first.click()
    panel.root.get_by_role("slider", name="tempo").press("ArrowRight")
    panel.page.wait_for_function(
        "() => document.querySelectorAll('.labcore-plays button').length === 1"
    )
    assert offered.first.get_attribute("aria-pressed") == "true"
    offered.first.click()
    panel.root.locator(".labcore-plays button[aria-pressed=false]").first.wait_for()
    fold.click()


ASK_FOR_QUIET = """() => window.dispatchEvent(
  new CustomEvent("labcore:quiet", { detail: { player: "" } }))"""


def test_a_take_that_sounds_stops_when_a_recording_begins(panel: Panel) -> None:
    """The recorder asks for quiet; it would record the take from the loudspeaker otherwise."""
    panel.root.get_by_text("of 13.9 s").wait_for()
    play = panel.root.locator(".labcore-plays button").first
    play.click()
    panel.root.locator(".labcore-plays button[aria-pressed=true]").wait_for()
    panel.page.evaluate(ASK_FOR_QUIET)
    panel.root.locator(".labcore-plays button[aria-pressed=false]").wait_for()
    assert play.text_content() == "play the take"


@pytest.mark.parametrize("width_px", [540, 900, 1280])
def test_the_time_stands_beside_the_place_it_tells(panel: Panel, width_px: int) -> None:
    panel.page.set_viewport_size({"width": width_px, "height": 900})
    place = panel.root.get_by_role("slider", name="place in the take").bounding_box()
    told = panel.root.get_by_text("of 13.9 s").bounding_box()
    assert told["x"] > place["x"] + place["width"]
    assert place["y"] <= told["y"] + told["height"] / 2 <= place["y"] + place["height"]


def test_half_speed_is_a_key_away(panel: Panel) -> None:
    half = panel.root.get_by_role("button", name="half speed")
    half.press("Enter")
    assert half.get_attribute("aria-pressed") == "true"
    half.press("Enter")
    assert half.get_attribute("aria-pressed") == "false"


OVER_THE_EDGE = """() => {
  const kinds = ["input", "select", "button", ".labcore-plot"];
  const parts = kinds.map((kind) => `.labcore-panel ${kind}`);
  const page = document.querySelector(".jp-NotebookPanel").getBoundingClientRect();
  const over = (part) => part.getBoundingClientRect().right - page.right;
  return [...document.querySelectorAll(parts)].map(over).filter((px) => px > 1);
}"""


SIDEWAYS = """() => {
  const page = document.querySelector(".jp-NotebookPanel .jp-WindowedPanel-outer");
  return page.scrollWidth - page.clientWidth;
}"""


@pytest.mark.parametrize("width_px", [900, 1280])
def test_folded_code_is_not_read_and_does_not_widen_the_page(panel: Panel, width_px: int) -> None:
    panel.page.set_viewport_size({"width": width_px, "height": 900})
    panel.page.wait_for_function(f"() => ({SIDEWAYS})() === 0")
    folded = panel.page.locator(".jp-PlaceholderText")
    assert folded.count() > 2
    assert not any(line.is_visible() for line in folded.all())


@pytest.mark.parametrize(
    ("written", "kept", "word"), [("9999", 240.0, "most"), ("3", 30.0, "least")]
)
def test_a_tempo_out_of_range_is_said_beside_the_box(
    panel: Panel, written: str, kept: float, word: str
) -> None:
    panel.choose("with a click")
    panel.wait_for_words("bars at")
    box = panel.root.get_by_role("spinbutton", name="tempo").first
    box.fill(written)
    box.press("Enter")
    told = panel.root.get_by_text(f"{written} was written; {kept:g} is the {word} here")
    told.wait_for()
    panel.wait_for_words(f"bars at {kept:g}")
    box.fill("72")
    box.press("Enter")
    told.wait_for(state="detached")


@pytest.mark.parametrize("width_px", [540, 900, 1280])
def test_nothing_is_cut_off_at_this_width(panel: Panel, width_px: int) -> None:
    panel.page.set_viewport_size({"width": width_px, "height": 900})
    panel.choose("with a click")
    panel.wait_for_words("bars at")
    assert panel.page.evaluate(OVER_THE_EDGE) == []


def test_the_panel_as_the_front_page_shows_it(panel: Panel, tmp_path: Path) -> None:
    """Also makes ``notebooks/pictures/take_panel.png``: set LABCORE_PICTURES to that folder."""
    panel.page.set_viewport_size({"width": 1280, "height": 1800})
    panel.choose("with a click")
    panel.choose("3")
    if panel.root.get_by_role("radio", name="just tell me").is_visible():
        panel.choose("just tell me")
    panel.wait_for_words("bars at 72, 3 to the click; 32 waves on E4")
    panel.wait_for_words("did not come home yet")
    parts = [panel.root, panel.root.get_by_role("button", name="keep in the log")]
    top, end = (part.bounding_box() for part in parts)
    assert top is not None
    assert end is not None
    clip = {**top, "height": end["y"] - top["y"] - 4}
    file = Path(os.environ.get("LABCORE_PICTURES", tmp_path)) / "take_panel.png"
    panel.page.screenshot(path=file, clip=clip)
    assert file.stat().st_size > 20_000  # more than an empty page


def reload(lesson: Any) -> bool:
    """Load the page again; whether the panel came back.

    JupyterLab waits two seconds for a widget to come back from the kernel, which a machine busy
    with other things may not keep.
    """
    lesson.page.reload()
    came = lesson.page.locator(".labcore-panel .labcore-plot[data-drawn]").first
    lost = lesson.page.get_by_text("Error displaying widget").first
    came.or_(lost).first.wait_for()
    return bool(came.is_visible())


def test_a_reload_and_a_fresh_start_draw_again(lesson: Any) -> None:
    page = lesson.page
    lesson.run_all()
    page.evaluate("window.jupyterapp.commands.execute('docmanager:save')")
    page.wait_for_function("() => !window.jupyterapp.shell.currentWidget.context.model.dirty")
    assert any(reload(lesson) for _ in range(3))
    assert Panel(lesson).words
    page.evaluate(
        """async () => {
          const { session } = window.jupyterapp.shell.currentWidget.sessionContext;
          await session.kernel.restart();
        }"""
    )
    lesson.run_all()
    panel = Panel(lesson)
    panel.choose("with a click")
    panel.wait_for_words("bars at 72")


def test_a_lesson_opened_again_beside_its_running_python_follows_every_move(
    lesson: Any, open_lesson: Callable[..., Any]
) -> None:
    lesson.page.close()  # which ends the last test of this file that looks at it
    again = open_lesson(LESSON)
    again.run_all()
    panel = Panel(again)
    panel.choose("with a click")
    panel.wait_for_words("bars at")
    slider = panel.root.get_by_role("slider", name="tempo")
    for _ in range(5):  # the first was heard even where the others were lost
        tempo = int(str(slider.input_value())) + 1
        slider.press("ArrowRight")
        panel.wait_for_words(f"bars at {tempo}")
