"""An afternoon with lesson 07 in the browser, and what it leaves in memory.

Used by ``tests/browser/test_long_use.py`` and, with hundreds of moves, by
``python -m tests.benchmark.long_use``.
"""

import io
import os
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import soundfile

RATE_HZ = 22_050
TAKE_S = 6.5
ASLEEP_S = 5.0

# Answered by the kernel without leaving a trace in its history.
ASK = """async (expressions) => {
  const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
  const reply = await kernel.requestExecute({
    code: "", silent: true, store_history: false, user_expressions: expressions,
  }).done;
  const told = {};
  for (const [name, answer] of Object.entries(reply.content.user_expressions)) {
    told[name] = Number(answer.data["text/plain"]);
  }
  return told;
}"""
IN_THE_KERNEL = {
    "collected": "__import__('gc').collect()",
    "rss_bytes": "__import__('psutil').Process().memory_info().rss",
    "comms": "len(__import__('comm').get_comm_manager().comms)",
    "process": "__import__('os').getpid()",
}
RECONNECT = """async () => {
  const session = window.jupyterapp.shell.currentWidget.sessionContext.session;
  await session.kernel.reconnect();
  await session.kernel.info;
}"""
RESTART = """async () => {
  const session = window.jupyterapp.shell.currentWidget.sessionContext.session;
  await session.kernel.restart();
  await session.kernel.info;
}"""


@dataclass(frozen=True, slots=True)
class Memory:
    """What is held, after both sides have thrown away what nothing points to."""

    kernel_mb: float  # resident
    widgets: int  # comms open in the kernel
    page_mb: float  # JavaScript objects
    nodes: int  # of the DOM, drawn or held

    def __str__(self) -> str:
        return " | ".join(f"{getattr(self, field.name):.0f}" for field in fields(self))


def measured(page: Any) -> Memory:
    """The memory of the kernel and of the page now."""
    told = page.evaluate(ASK, IN_THE_KERNEL)
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable")
    for _ in range(3):  # what a first collection frees may hold more
        session.send("HeapProfiler.collectGarbage")
    metrics = {m["name"]: m["value"] for m in session.send("Performance.getMetrics")["metrics"]}
    session.detach()
    return Memory(
        told["rss_bytes"] / 1e6,
        int(told["comms"]),
        metrics["JSHeapUsedSize"] / 1e6,
        int(metrics["Nodes"]),
    )


def take_wav(number: int, *, length_s: float = TAKE_S) -> bytes:
    """A made take, each of another width: a second plain, then waves up and back."""
    time_s = np.arange(int(length_s * RATE_HZ)) / RATE_HZ
    wave = 0.5 - 0.5 * np.cos(2 * np.pi * 4.0 * (time_s - 1.0))
    cents = np.where((time_s > 1.0) & (time_s < length_s - 0.5), (40.0 + number) * wave, 0.0)
    phase = 2 * np.pi * np.cumsum(220.0 * 2 ** (cents / 1200.0)) / RATE_HZ
    sound = sum(np.sin(k * phase) / k**1.5 for k in range(1, 7))
    file = io.BytesIO()
    fade = np.exp(-time_s / 4.0) * np.minimum(1.0, time_s / 0.004)
    soundfile.write(file, 0.2 * sound * fade, RATE_HZ, format="WAV")
    return file.getvalue()


class Afternoon:
    """A lesson that is open, and what is done to it."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.root = page.locator(".labcore-panel")
        self.wait_until_drawn()

    def wait_until_drawn(self) -> None:
        """Wait for the picture, and for Python to answer a move of a control."""
        self.page.wait_for_selector(".labcore-panel .labcore-plot[data-drawn]")
        self.root.get_by_role("radio", name="with a click", exact=True).check(force=True)
        self._wait_for_words("bars at")

    def move_slider(self, times: int) -> None:
        """Move the tempo up and down, and each time wait for the picture to say the tempo."""
        slider = self.root.get_by_role("slider", name="tempo")
        for number in range(times):
            up = number % 20 < 10
            tempo = int(str(slider.input_value())) + (1 if up else -1)
            # Focused each time: cells that still run may take the focus to themselves.
            slider.press("ArrowRight" if up else "ArrowLeft")
            self._wait_for_words(f"bars at {tempo}")

    def open_takes(self, count: int, *, length_s: float = TAKE_S) -> None:
        """Drop takes on the page, and wait until each is shown."""
        for number in range(count):
            name = f"take {number:02}"
            data = take_wav(number, length_s=length_s)
            file = {"name": f"{name}.wav", "mimeType": "audio/wav", "buffer": data}
            self.root.locator("input[type=file]").set_input_files(file)
            self._wait_for_words(f"{name}: ")

    def sleep(self) -> None:
        """The lid closed: the connection is cut and Python stands still for a while."""
        process = int(self.page.evaluate(ASK, IN_THE_KERNEL)["process"])
        with _stopped(process):
            self.page.context.set_offline(True)
            time.sleep(ASLEEP_S)
            self.page.context.set_offline(False)
        self.page.evaluate(RECONNECT)
        # JupyterLab says that the connection was lost; the reader closes that.
        for said in self.page.locator(".jp-Dialog button").all():
            said.click()

    def restart(self) -> None:
        """Start Python anew; the caller runs the lesson again."""
        self.page.evaluate(RESTART)

    def _wait_for_words(self, part: str) -> None:
        self.page.wait_for_function(
            """(part) => [...document.querySelectorAll(".labcore-panel .labcore-plot")]
              .some((plot) => (plot.getAttribute("aria-label") ?? "").includes(part))""",
            arg=part,
        )


@contextmanager
def _stopped(process: int) -> Iterator[None]:
    os.kill(process, signal.SIGSTOP)
    try:
        yield
    finally:
        os.kill(process, signal.SIGCONT)
