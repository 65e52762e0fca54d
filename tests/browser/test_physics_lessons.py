"""The physics lessons in a real JupyterLab: sliders by keyboard, pictures that follow, sound."""

import statistics
import time
from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.browser

PRESSES = 12
MOST_OF_A_RUN = 0.1  # a move of a slider, as a share of the time that running the lesson takes

# Presses an arrow key on a slider and waits until its picture has been drawn anew.
PRESS_AND_WAIT = """async ([label]) => {
  const slider = document.querySelector(`input[type=range][aria-label="${label}"]`);
  const plot = slider.closest(".jp-OutputArea").querySelector(".labcore-plot");
  const before = plot.dataset.drawn;
  slider.focus();
  const start = performance.now();
  slider.value = String(Number(slider.value) + Number(slider.step));
  slider.dispatchEvent(new Event("input", { bubbles: true }));
  while (plot.dataset.drawn === before) await new Promise(requestAnimationFrame);
  return performance.now() - start;
}"""


def test_a_slider_moves_the_picture_by_keyboard_and_quickly(
    open_lesson: Callable[..., Any],
) -> None:
    lesson = open_lesson("02_bend_a_string.ipynb")
    before_s = time.monotonic()
    lesson.run_all()
    run_ms = 1000.0 * (time.monotonic() - before_s)
    lesson.see("pushed 5.0 mm sideways")
    slider = lesson.page.get_by_role("slider", name="push", exact=True)
    slider.press("ArrowRight")
    lesson.see("pushed 5.1 mm sideways")
    slider.press("ArrowLeft")
    lesson.see("pushed 5.0 mm sideways")
    times_ms = [lesson.page.evaluate(PRESS_AND_WAIT, ["push"]) for _ in range(PRESSES)]
    median_ms = statistics.median(times_ms)
    print(f"slider to picture: median {median_ms:.0f} ms; the whole lesson {run_ms:.0f} ms")
    assert median_ms < MOST_OF_A_RUN * run_ms
    assert lesson.outside == []
    assert lesson.errors == []


def test_a_sound_is_made_when_its_button_is_pressed(open_lesson: Callable[..., Any]) -> None:
    lesson = open_lesson("01_hear_pitch_and_loudness.ipynb")
    lesson.run_all()
    button = lesson.page.get_by_role("button", name="second note")
    button.click()
    playing = lesson.page.get_by_role("button", name="stop")
    playing.wait_for()
    assert playing.get_attribute("aria-pressed") == "true"
    playing.click()
    button.wait_for()
    assert lesson.errors == []


COUNT_SOUNDS = """() => {
  window.begun = 0;
  window.decoding = [];
  const { start } = AudioBufferSourceNode.prototype;
  AudioBufferSourceNode.prototype.start = function (...when) {
    window.begun += 1;
    return start.apply(this, when);
  };
  const { decodeAudioData } = BaseAudioContext.prototype;
  BaseAudioContext.prototype.decodeAudioData = function (bytes) {
    window.decoding.push(decodeAudioData.call(this, bytes));
    return window.decoding.at(-1);
  };
}"""
# Python has answered all that was asked before, and what came of it has been decoded.
ALL_ANSWERED = """async () => {
  await window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.requestKernelInfo();
  await Promise.all(window.decoding);
}"""


def test_a_button_pressed_twice_before_its_sound_came_plays_once(
    open_lesson: Callable[..., Any],
) -> None:
    lesson = open_lesson("01_hear_pitch_and_loudness.ipynb")
    lesson.run_all()
    lesson.page.evaluate(COUNT_SOUNDS)
    button = lesson.page.get_by_role("button", name="second note")
    button.evaluate("(button) => { button.click(); button.click(); }")
    playing = lesson.page.get_by_role("button", name="stop")
    playing.wait_for()
    lesson.page.evaluate(ALL_ANSWERED)
    assert lesson.page.evaluate("() => window.begun") == 1
    playing.click()
    button.wait_for()


def picture_box(lesson: Any) -> dict[str, float]:
    """Where the first picture stands on the page, in pixels."""
    plot = lesson.page.locator(".labcore-plot .main-svg").first
    plot.wait_for()
    box: dict[str, float] | None = plot.bounding_box()
    assert box is not None
    return box


def test_a_narrow_window_shows_the_whole_picture(open_lesson: Callable[..., Any]) -> None:
    lesson = open_lesson("03_roll_the_finger.ipynb", width=900)
    lesson.run_all()
    box = picture_box(lesson)
    assert box["x"] + box["width"] <= 900


def test_a_very_narrow_window_puts_pictures_below_each_other(
    open_lesson: Callable[..., Any],
) -> None:
    lesson = open_lesson("05_draw_circles.ipynb", width=540)
    lesson.run_all()
    box = picture_box(lesson)
    assert box["x"] + box["width"] <= 540
    assert box["height"] > 1.3 * box["width"]  # beside each other they are wider than high
    lesson.page.get_by_role("button", name="hear this movement").click()
    line = lesson.page.locator(".labcore-line").first
    line.wait_for()
    running = line.bounding_box()
    assert running is not None
    # the pitch line is the lower picture, and the line of the sound runs through it
    assert running["y"] - box["y"] > box["height"] / 2
    assert lesson.errors == []


# Numbers whose next word may fall to the next line, among the words a reader sees.
PARTED = r"""() => {
  const words = document.querySelectorAll(".jp-RenderedMarkdown, .jp-RenderedText, .labcore-words");
  const found = [...words].flatMap((part) => part.textContent.match(/\d [%a-z]\S*/g) ?? []);
  const kept = [...words].filter((part) => /\d\u00a0[%a-z]/.test(part.textContent)).length;
  return { found, kept };
}"""


def test_a_number_and_its_unit_are_never_parted(open_lesson: Callable[..., Any]) -> None:
    lesson = open_lesson("05_draw_circles.ipynb", width=900)
    lesson.run_all()
    lesson.see("69 cents wide")
    lesson.page.get_by_role("slider", name="push to each side").press("ArrowRight")
    lesson.see("71 cents wide")
    told = lesson.page.evaluate(PARTED)
    assert told["found"] == []
    assert told["kept"] > 5
