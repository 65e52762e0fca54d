"""Lessons 06, 08 and 12 in a real JupyterLab: tapping, tracks, changes, marks, the quiz."""

import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
import soundfile

pytestmark = pytest.mark.browser

LOUDEST = 10 ** (-18 / 20)  # the set level of a practice track, re full scale
TAPS, TAP_S = 7, 0.6  # a hundred a minute
TAPPED_BPM = 60.0 / TAP_S
WITHIN_BPM = 6.0  # a busy machine taps a little unevenly

# Taps on the button at set times; the page's own clock is what the button reads.
TAP_EVENLY = """async ([taps, step_ms]) => {
  const all = [...document.querySelectorAll("button")];
  const button = all.find((one) => one.textContent === "tap the beat");
  const start = performance.now();
  for (let k = 0; k < taps; k += 1) {
    while (performance.now() < start + k * step_ms) await new Promise((go) => setTimeout(go, 2));
    button.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true }));
  }
}"""


def button(lesson: Any, name: str) -> Any:
    return lesson.page.get_by_role("button", name=name, exact=True)


def choose(lesson: Any, name: str, *, which: int = 0) -> None:
    radios = lesson.page.get_by_role("radio", name=name, exact=True)
    radios.nth(which).check(force=True)


def played(lesson: Any, name: str, *, while_it_plays: Callable[[], Any] | None = None) -> None:
    """Press a sound's button, see that it plays, and stop it."""
    button(lesson, name).first.click()
    playing = button(lesson, "stop")
    playing.wait_for()
    if while_it_plays:
        while_it_plays()
    playing.click()
    button(lesson, name).first.wait_for()


PRESSES = 3  # a page that is still starting may not hear the first one


def taken(lesson: Any, name: str, folder: Path) -> bytes:
    for press in range(1, PRESSES + 1):
        try:
            with lesson.page.expect_download(timeout=40_000) as waiting:
                button(lesson, name).click()
            break
        except Exception as error:
            if press == PRESSES or "Timeout" not in type(error).__name__:
                raise
    place = folder / waiting.value.suggested_filename
    waiting.value.save_as(place)
    return place.read_bytes()


def test_lesson_06_tempo_tap_and_tracks(open_lesson: Callable[..., Any], tmp_path: Path) -> None:
    lesson = open_lesson("06_lock_to_the_beat.ipynb")
    lesson.run_all()
    lesson.see("3.6 waves a second, 278 ms each")
    lesson.page.get_by_role("slider", name="tempo", exact=True).first.press("ArrowRight")
    lesson.see("at 73 clicks a minute")
    choose(lesson, "6")
    lesson.see("faster than one hand")
    lesson.page.evaluate(TAP_EVENLY, [TAPS, 1000 * TAP_S])
    box = lesson.page.get_by_role("spinbutton", name=re.compile("tempo")).first
    lesson.page.wait_for_function(
        "([box, bpm, within]) => Math.abs(Number(box.value) - bpm) <= within",
        arg=[box.element_handle(), TAPPED_BPM, WITHIN_BPM],
    )
    played(lesson, "hear this bar, twice")

    sound = taken(lesson, "take the sound (WAV)", tmp_path)
    samples, rate = soundfile.read(io.BytesIO(sound))
    assert np.max(np.abs(samples)) <= LOUDEST + 1e-3
    assert samples.size / rate > 8 * 4 * 60 / 72
    notes = mido.MidiFile(file=io.BytesIO(taken(lesson, "take the notes (MIDI)", tmp_path)))
    assert notes.length == pytest.approx(8 * 4 * 60 / 72, abs=0.7)

    choose(lesson, "one value")
    lesson.see("bars 1 to 8: 3 to the click")
    button(lesson, "play the track").click()
    lesson.page.locator(".labcore-score .labcore-now").wait_for()
    button(lesson, "stop").click()
    assert lesson.errors == []
    assert lesson.outside == []


def test_lesson_08_takes_and_plans(open_lesson: Callable[..., Any]) -> None:
    lesson = open_lesson("08_change_the_note_value.ipynb")
    lesson.run_all()
    panel = lesson.page.locator(".labcore-panel").first  # the lesson prints such sentences too

    def says(words: str) -> None:
        panel.get_by_text(words).first.wait_for()

    says("Four changes of note value")
    takes = panel.get_by_role("combobox", name="take", exact=True)
    takes.select_option("sliding instead of changing")
    says("The speed slides from three to four to the click. A change is one moment")
    plans = panel.get_by_role("combobox", name="planned, to the click", exact=True)
    lesson.page.wait_for_function("(plans) => plans.value === '3 4'", arg=plans.element_handle())
    plans.select_option("nothing: show what was played")
    says("If you meant to change, do it at one moment")
    takes.select_option("four where five was planned")
    says("Four to the click was played where five was planned.")
    assert lesson.errors == []
    assert lesson.outside == []


def test_lesson_12_marks_and_quiz(open_lesson: Callable[..., Any]) -> None:
    lesson = open_lesson("12_place_it_in_a_phrase.ipynb")
    lesson.run_all()
    lesson.see("Nothing is marked yet")
    box = lesson.page.get_by_role("checkbox", name="note 4, B, 3 beats")
    box.press(" ")
    lesson.see("One note of 10 marked")
    assert box.is_checked()
    head = lesson.page.locator('.labcore-marks [data-note="3"]').bounding_box()
    tick = box.bounding_box()
    assert head is not None
    assert tick is not None
    middles = [one["x"] + one["width"] / 2 for one in (head, tick)]
    assert middles[1] == pytest.approx(middles[0], abs=4.0)  # the box stands under its note
    played(lesson, "where you marked", while_it_plays=lesson.page.locator(".labcore-now").wait_for)
    assert lesson.page.locator(".labcore-now").count() == 0
    choose(lesson, "Rain on the boathouse roof")
    lesson.page.get_by_role("checkbox", name="note 1, A, half a beat").wait_for()

    played(lesson, "hear the first")
    button(lesson, "it is the first").click()
    lesson.see("the other one stops 45 cents above")
    button(lesson, "another pair").click()
    lesson.see("Listen to both, as often as you like.")
    assert lesson.errors == []
    assert lesson.outside == []


CUT_OFF = """() => {
  const table = document.querySelector(".labcore-numbers");
  const edge = table.closest(".jp-OutputArea-output").getBoundingClientRect().right;
  return table.getBoundingClientRect().right - edge;
}"""


def test_a_narrow_window_shows_the_whole_table(open_lesson: Callable[..., Any]) -> None:
    lesson = open_lesson("08_change_the_note_value.ipynb", width=900)
    lesson.run_all()
    lesson.page.locator(".labcore-numbers").wait_for()
    lesson.page.wait_for_function(f"() => ({CUT_OFF})() <= 1")


@pytest.mark.parametrize(
    "lesson_file", ["06_lock_to_the_beat.ipynb", "12_place_it_in_a_phrase.ipynb"]
)
def test_a_narrow_window_shows_whole_scores(
    open_lesson: Callable[..., Any], lesson_file: str
) -> None:
    lesson = open_lesson(lesson_file, width=900)
    lesson.run_all()
    scores = lesson.page.locator(".labcore-score figure, .labcore-marks > svg")
    scores.first.wait_for()
    for score in scores.all():
        box = score.bounding_box()
        assert box is not None
        assert box["x"] + box["width"] <= 900
