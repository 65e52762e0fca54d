"""The recorder in a real JupyterLab and Chromium, fed from sound of known pitch, width and time.

A fake microphone plays a WAV made here from closed formulas. For times, what the page plays is
led straight back into its microphone through a delay of known length, so that the truth does not
hang on any sound card.
"""

import io
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from labcore.analysis import analyse
from labcore.panels.recorder import NOT_CALIBRATED
from labcore.panels.recorder_files import RecordedTake, TakeFolder
from labcore.units import cents_between
from tests.browser.conftest import LessonPage, _chromium, put_notebook

pytestmark = pytest.mark.browser

RATE_HZ = 48_000
HOME_HZ, WIDTH_CENTS, WAVES_HZ = 220.0, 60.0, 4.0
PITCH_TOLERANCE_CENTS, WIDTH_TOLERANCE_CENTS, RATE_TOLERANCE_HZ = 2.0, 4.0, 0.05
DELAY_S, DELAY_TOLERANCE_S = 0.0375, 0.001
TEMPO_BPM = 240.0
CELL = """
from pathlib import Path
from labcore.panels.recorder import Recorder
taken = []
recorder = Recorder(on_take=taken.append, folder=Path(r"{folder}"))
recorder.tempo_bpm, recorder.bars, recorder.cycles_per_beat = 240.0, 2, 1
recorder
"""


def microphone_wav() -> bytes:
    """Eight seconds that go round without a seam: half a second plain, then waves up and back."""
    time_s = np.arange(8 * RATE_HZ) / RATE_HZ
    wave = 0.5 - 0.5 * np.cos(2 * np.pi * WAVES_HZ * time_s)
    cents = np.where(time_s % 2.0 < 0.5, 0.0, WIDTH_CENTS * wave)
    phase = 2 * np.pi * np.cumsum(HOME_HZ * 2 ** (cents / 1200.0)) / RATE_HZ
    sound = sum(np.sin(k * phase) / k**1.5 for k in range(1, 7))
    file = io.BytesIO()
    soundfile.write(file, 0.15 * np.asarray(sound), RATE_HZ, format="WAV")
    return file.getvalue()


# What goes to the loudspeaker comes back DELAY_S later as the microphone, inside the page.
LED_BACK = f"""() => {{
  const connect = AudioNode.prototype.connect;
  AudioContext.prototype.createMediaStreamSource = function () {{
    this.ledBack = this.createDelay(1);
    this.ledBack.delayTime.value = {DELAY_S};
    const whisper = this.createConstantSource(); // so that the microphone is never without sound
    whisper.offset.value = 1e-4;
    connect.call(whisper, this.ledBack);
    whisper.start();
    return this.ledBack;
  }};
  AudioNode.prototype.connect = function (to, ...more) {{
    const back = this.context.ledBack;
    if (back && to === this.context.destination) connect.call(this, back);
    return connect.call(this, to, ...more);
  }};
}}"""


@pytest.fixture(scope="module")
def ear(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A Chromium whose microphone hears `microphone_wav` round and round."""
    path = tmp_path_factory.mktemp("sound") / "microphone.wav"
    path.write_bytes(microphone_wav())
    started = browser.browser_type.launch(
        executable_path=_chromium(),
        args=[
            "--no-sandbox",
            "--autoplay-policy=no-user-gesture-required",
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-audio-capture={path}",
        ],
    )
    yield started
    started.close()


class Desk:
    """A notebook with a recorder alone in it."""

    def __init__(self, lesson: Any, *, folder: Path) -> None:
        self.lesson, self.page = lesson, lesson.page
        self.folder = TakeFolder(folder)
        self.root = self.page.locator(".labcore-recorder")
        self.root.wait_for()

    def wait_for_state(self, state: str) -> None:
        self.page.locator(f".labcore-recorder[data-state={state}]").wait_for()

    def wait_for_parts(self, sent: int) -> None:
        """Until so many parts of the take that is recorded have been sent."""
        self.page.wait_for_function(
            "([root, sent]) => Number(root.dataset.sent) >= sent",
            arg=[self.root.element_handle(), sent],
        )

    def press_space(self) -> None:
        self.root.focus()
        self.page.keyboard.press("Space")

    def see(self, words: str) -> None:
        self.wait_for(self.root.get_by_text(words).first)

    def wait_for(self, what: Any) -> None:
        """Until it is on the page; a failure says what the recorder says instead."""
        try:
            what.wait_for()
        except Exception as late:
            kept = len(self.folder.names())
            raise AssertionError(f"{kept} are kept; it says: {self.root.inner_text()}") from late

    def newest_of(self, takes: int) -> RecordedTake:
        """The newest take kept, once so many are listed."""
        self.wait_for(self.root.get_by_role("button", name="look at it").nth(takes - 1))
        return self.folder.load(self.folder.names()[0])

    def record(self) -> RecordedTake:
        """A take by the space bar alone; it stops by itself. The newest take kept."""
        kept = len(self.folder.names())
        self.press_space()
        self.wait_for_state("recording")
        self.wait_for_state("open")
        return self.newest_of(kept + 1)


@pytest.fixture(scope="module")
def open_desk(
    lab: str, ear: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[..., Desk]]:
    """A function that opens a page with a recorder; ``script`` runs before the page does."""
    pages: list[Any] = []

    def opened(name: str, *, script: str = "") -> Desk:
        folder = tmp_path_factory.mktemp(name)
        file = f"recorder_{name}.ipynb"
        put_notebook(lab, file=file, sources=[CELL.format(folder=folder)])
        page = ear.new_page(viewport={"width": 1280, "height": 900})
        pages.append(page)
        if script:
            page.add_init_script(f"({script})()")
        lesson = LessonPage(page, address=lab, lesson=file)
        lesson.run_all()
        return Desk(lesson, folder=folder)

    yield opened
    for page in pages:
        page.close()


# --- what arrives --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def desk(open_desk: Callable[..., Desk]) -> Desk:
    return open_desk("heard")


@pytest.fixture(scope="module")
def take(desk: Desk) -> RecordedTake:
    """One take made with the space bar and nothing else."""
    return desk.record()


def test_the_take_stops_by_itself_after_count_in_and_bars(take: RecordedTake) -> None:
    clicked_s = 3 * 4 * 60.0 / TEMPO_BPM  # a bar of count-in and two of playing
    assert take.recording.duration_s == pytest.approx(0.3 + clicked_s + 0.4, abs=0.001)


def test_pitch_width_and_speed_arrive_as_they_were_made(take: RecordedTake) -> None:
    report = analyse(take.recording)
    extent, rate = report.measures.extent, report.measures.rate
    home = next(note.home for note in report.notes if note.home is not None)
    assert cents_between(home.hz, HOME_HZ) == pytest.approx(0.0, abs=PITCH_TOLERANCE_CENTS)
    assert extent is not None
    assert extent.value == pytest.approx(WIDTH_CENTS, abs=WIDTH_TOLERANCE_CENTS)
    assert rate is not None
    assert rate.value == pytest.approx(WAVES_HZ, abs=RATE_TOLERANCE_HZ)


def test_the_input_is_asked_to_change_nothing_and_says_so(take: RecordedTake) -> None:
    settings = take.settings
    assert (settings.echo_cancellation, settings.noise_suppression) == (False, False)
    assert settings.gain_control is False
    assert settings.sample_rate_hz == take.recording.sample_rate_hz >= 16_000
    assert settings.label


def test_clicks_are_on_the_time_of_the_recording_and_even(take: RecordedTake) -> None:
    assert len(take.click_s) == 12
    assert take.click_s[0] == pytest.approx(0.3, abs=0.0001)
    assert np.diff(take.click_s) == pytest.approx(60.0 / TEMPO_BPM, abs=1e-5)


def test_a_take_without_a_measured_delay_judges_no_early_or_late(take: RecordedTake) -> None:
    assert take.clicks is None
    assert NOT_CALIBRATED in take.recording.warnings


def test_the_level_is_told_in_words(desk: Desk, take: RecordedTake) -> None:
    desk.see("good")


READINGS = """async () => {
  const canvas = document.querySelector(".labcore-rough canvas");
  const read = [];
  let before = await new Promise(requestAnimationFrame);
  for (let k = 0; k < 60; k += 1) {
    const now = await new Promise(requestAnimationFrame);
    const { hz, behindMs } = canvas.dataset;
    if (hz) read.push([Number(hz), Number(behindMs), now - before]);
    before = now;
  }
  return read;
}"""
ROUGH_CENTS = 15.0  # what a line that is said to be rough may be off by
MOST_FRAMES_BEHIND = 6.0  # the quickest quarter of the readings, in frames that the page drew


def test_the_rough_line_follows_the_pitch_at_once(desk: Desk, take: RecordedTake) -> None:
    readings = np.array(desk.page.evaluate(READINGS))
    cents = 1200.0 * np.log2(readings[:, 0] / HOME_HZ)
    assert cents.size > 30
    assert np.all(cents > -ROUGH_CENTS)
    assert np.all(cents < WIDTH_CENTS + ROUGH_CENTS)
    frames = np.percentile(readings[:, 1], 25) / np.median(readings[:, 2])
    assert frames < MOST_FRAMES_BEHIND


def test_nothing_is_asked_of_another_machine(desk: Desk, take: RecordedTake) -> None:
    assert desk.lesson.outside == []
    assert desk.lesson.errors == []


def test_free_recording_ends_at_the_second_press(desk: Desk) -> None:
    kept = len(desk.folder.names())
    desk.root.get_by_role("button", name="record without end").click()
    desk.wait_for_state("recording")
    desk.wait_for_parts(1)
    desk.press_space()
    desk.wait_for_state("open")
    newest = desk.newest_of(kept + 1)
    sent = int(desk.root.get_attribute("data-sent"))  # of a second each, before the last press
    assert 1.0 < newest.recording.duration_s < sent + 2.0


@contextmanager
def deaf(page: Any) -> Iterator[None]:
    """What the page sends is lost on the way to Python."""
    page.evaluate(
        """() => {
          window.sendAsEver = WebSocket.prototype.send;
          WebSocket.prototype.send = () => {};
        }"""
    )
    yield
    page.evaluate("() => { WebSocket.prototype.send = window.sendAsEver; }")


def test_a_press_that_python_does_not_hear_is_told(desk: Desk, take: RecordedTake) -> None:
    look_at_it = desk.root.get_by_role("button", name="look at it").first
    with deaf(desk.page):
        look_at_it.click()
        desk.see("No answer comes: Python may be busy, or stopped")
    look_at_it.click()
    desk.root.get_by_text("No answer comes").wait_for(state="detached")


def test_a_take_that_did_not_get_through_waits_on_the_page_and_is_sent_again(
    desk: Desk, take: RecordedTake
) -> None:
    kept = len(desk.folder.names())
    desk.press_space()
    desk.wait_for_state("recording")
    desk.wait_for_parts(1)
    with deaf(desk.page):
        desk.press_space()
        desk.see("Your take is still on this page")
    again = desk.root.get_by_role("button", name="send again")
    again.click()
    newest = desk.newest_of(kept + 1)
    again.wait_for(state="hidden")
    assert not any("broke off" in words for words in newest.recording.warnings)


def test_a_page_closed_in_the_middle_keeps_what_arrived(desk: Desk, take: RecordedTake) -> None:
    page = desk.page
    page.evaluate("window.jupyterapp.commands.execute('docmanager:save')")
    page.wait_for_function("() => !window.jupyterapp.shell.currentWidget.context.model.dirty")
    kept = len(desk.folder.names())
    desk.root.get_by_role("button", name="record without end").click()
    desk.wait_for_state("recording")
    desk.wait_for_parts(3)
    page.reload()
    desk.root.wait_for()
    desk.see("A take broke off after")
    desk.root.get_by_role("button", name="open what arrived").click()
    newest = desk.newest_of(kept + 1)
    assert newest.recording.duration_s > 1.5
    assert any("broke off" in words for words in newest.recording.warnings)


def test_a_restart_in_the_middle_loses_nothing(desk: Desk, take: RecordedTake) -> None:
    page = desk.page
    kept = len(desk.folder.names())
    desk.press_space()
    desk.wait_for_state("recording")
    desk.wait_for_parts(1)
    page.evaluate(
        """async () => {
          const { session } = window.jupyterapp.shell.currentWidget.sessionContext;
          await session.kernel.restart();
        }"""
    )
    desk.lesson.run_all()
    desk.root.wait_for()
    desk.root.get_by_role("button", name="send again").click()
    assert desk.newest_of(kept + 1).recording.duration_s > 1.0


KILL = """async () => {
  const { kernel } = window.jupyterapp.shell.currentWidget.sessionContext.session;
  const gone = new Promise((go) => kernel.statusChanged.connect(
    (_, status) => { if (!["busy", "idle", "unknown"].includes(status)) go(); }
  ));
  const code = "import os, signal; os.kill(os.getpid(), signal.SIGKILL)";
  kernel.requestExecute({ code }).done.catch(() => {});
  await gone;
}"""


def test_a_killed_python_and_a_closed_page_leave_what_arrived(
    open_desk: Callable[..., Desk],
) -> None:
    desk = open_desk("killed")
    desk.root.get_by_role("button", name="record without end").click()
    desk.wait_for_state("recording")
    desk.wait_for_parts(3)
    desk.page.evaluate(KILL)
    desk.page.reload()  # what the page held is gone as well
    desk.page.wait_for_selector(".jp-Notebook")
    desk.lesson.run_all()
    desk.root.wait_for()
    desk.see("what arrived until then is safe")
    desk.root.get_by_role("button", name="open what arrived").click()
    newest = desk.newest_of(1)
    assert newest.recording.duration_s > 1.5
    home = next(note.home for note in analyse(newest.recording).notes if note.home is not None)
    assert cents_between(home.hz, HOME_HZ) == pytest.approx(0.0, abs=PITCH_TOLERANCE_CENTS)


# --- delay ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def loop(open_desk: Callable[..., Desk]) -> Desk:
    return open_desk("loop", script=LED_BACK)


def test_the_delay_is_measured_to_a_millisecond_and_moves_the_clicks(loop: Desk) -> None:
    loop.root.get_by_role("button", name="measure the delay").click()
    loop.see("alike for all clicks")
    take = loop.record()
    assert take.delay_s == pytest.approx(DELAY_S, abs=DELAY_TOLERANCE_S)
    assert take.clicks is not None
    assert take.gaps == ()
    starts_s = click_starts_s(take)
    assert take.clicks.time_s == pytest.approx(starts_s[: take.clicks.time_s.size], abs=0.001)


def click_starts_s(take: RecordedTake) -> np.ndarray:
    """Where each loud click begins in the recording: the first sample over a quarter of its top."""
    size = np.abs(take.recording.samples)
    loud = np.flatnonzero(size > 0.4 * size.max())
    first = loud[np.insert(np.diff(loud) > 0.1 * take.recording.sample_rate_hz, 0, True)]
    return first / take.recording.sample_rate_hz


# --- in its lesson --------------------------------------------------------------------------------


def test_a_take_recorded_in_the_lesson_is_shown_and_judged_without_early_or_late(
    lab: str, ear: Any, tmp_path: Path
) -> None:
    page = ear.new_page(viewport={"width": 1280, "height": 1100})
    lesson = LessonPage(page, address=lab, lesson="07_analyse_your_take.ipynb")
    lesson.run_all()
    page.get_by_role("button", name="record a take here").click()
    recorder = page.locator(".labcore-recorder")
    for label, number in (("tempo", 120), ("take of", 4)):
        box = recorder.get_by_role("spinbutton", name=label)
        box.fill(str(number))
        box.press("Enter")
    recorder.get_by_role("combobox", name="note value").select_option("2")
    recorder.focus()
    page.keyboard.press("Space")
    page.locator(".labcore-recorder[data-state=recording]").wait_for()
    page.locator(".labcore-recorder[data-state=open]").wait_for()
    plot = page.locator(".labcore-panel .labcore-plot").first
    page.wait_for_function(
        "(plot) => plot.getAttribute('aria-label').includes('bars at 120')",
        arg=plot.element_handle(),
    )
    # Not `check`, which looks at the radio again: the question goes away when it is answered.
    page.get_by_role("radio", name="just tell me", exact=True).click(force=True)
    page.get_by_text("Early and late are not shown").first.wait_for()
    page.get_by_text("early or late is not shown").first.wait_for(state="attached")
    kept = Path(os.environ.get("LABCORE_PICTURES", tmp_path))  # to be looked at by eye
    page.screenshot(path=kept / "recorder.png")
    assert lesson.outside == []
    assert lesson.errors == []
    page.close()


def test_a_take_recorded_in_the_lesson_on_counting_is_counted(lab: str, ear: Any) -> None:
    page = ear.new_page(viewport={"width": 1280, "height": 1100})
    lesson = LessonPage(page, address=lab, lesson="06_lock_to_the_beat.ipynb")
    lesson.run_all()
    recorder = page.locator(".labcore-recorder")
    for label, number in (("tempo", 120), ("take of", 3)):
        box = recorder.get_by_role("spinbutton", name=label)
        box.fill(str(number))
        box.press("Enter")
    box = recorder.get_by_role("spinbutton", name="tempo")
    box.fill("9999")
    box.press("Enter")
    recorder.get_by_text("9999 was written; it goes from 30 to 240 and stays at 120").wait_for()
    recorder.focus()
    page.keyboard.press("Space")
    page.locator(".labcore-recorder[data-state=recording]").wait_for()
    # the microphone plays 4 waves a second: two to the click at 120
    page.get_by_text("about 2.0 to the click. Two to the click (eighths); three were").wait_for()
    page.locator(".labcore-plot[aria-label*='bars at 120']").wait_for()
    kept = Path(os.environ.get("LABCORE_PICTURES", "")) / "counting.png"
    if kept.parent.name:
        page.screenshot(path=kept)  # to be looked at by eye
    assert lesson.outside == []
    assert lesson.errors == []
    page.close()


# --- when it cannot be done -----------------------------------------------------------------------

REFUSALS = {
    "NotAllowedError": "may not use the microphone",
    "NotFoundError": "No microphone was found",
    "NotReadableError": "does not answer",
}


def test_every_refusal_is_a_sentence(open_desk: Callable[..., Desk]) -> None:
    desk = open_desk("refused")
    for name, words in REFUSALS.items():
        desk.page.evaluate(
            """(name) => {
              const refuse = async () => { throw new DOMException("", name); };
              navigator.mediaDevices.getUserMedia = refuse;
            }""",
            name,
        )
        desk.press_space()
        desk.see(words)
    desk.page.evaluate("Object.defineProperty(window, 'isSecureContext', { value: false })")
    desk.press_space()
    desk.see("A page may only record when")
    assert desk.lesson.errors == []
