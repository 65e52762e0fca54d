"""One JupyterLab and one Chromium for all browser tests.

Skipped with a reason where there is no Chromium; under CI=true a missing one is a failure.
"""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

CHECKOUT = Path(__file__).parents[2]
SERVER_S = 90.0  # until the server answers, on a slow machine
PAGE_MS = 120_000
# Kept beside the notebooks of the copy, so that lessons find what they find in the checkout.
COPIED = ("notebooks", "data_demo")


def _without(reason: str) -> None:
    if os.environ.get("CI") == "true":
        pytest.fail(f"{reason}, and CI must not skip the browser tests")
    pytest.skip(reason)


def _chromium() -> str:
    names = ("chromium", "chromium-browser", "google-chrome")
    found = next((path for name in names if (path := shutil.which(name))), None)
    if found is None:
        _without("no Chromium was found on this machine")
    return str(found)


def _playwright() -> ModuleType:
    try:
        import playwright.sync_api as playwright
    except ImportError:
        _without("playwright is not installed; it is in the extra [browser]")
    return playwright


def _free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a JupyterLab with our settings, on a copy of the lessons."""
    _chromium(), _playwright()
    copy = tmp_path_factory.mktemp("lessons")
    for name in COPIED:
        shutil.copytree(CHECKOUT / name, copy / name, ignore=shutil.ignore_patterns(".ipynb_*"))
    homes = tmp_path_factory.mktemp("homes")
    port = _free_port()
    with (homes / "server.log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", *_server_arguments(copy, port=port, homes=homes)],
            env=_server_environment(homes),
            cwd=copy,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            _wait_for(f"http://127.0.0.1:{port}/api/status", process=process)
            yield f"http://127.0.0.1:{port}"
        finally:
            process.terminate()
            process.wait(timeout=30)


def _server_arguments(copy: Path, *, port: int, homes: Path) -> list[str]:
    # Of our own two extensions the one that waits; the one that runs lessons would run them twice.
    name = "labcore-patience"
    shutil.copytree(CHECKOUT / "labcore/lab/labextensions" / name, homes / "extensions" / name)
    return [
        f"--LabApp.extra_labextensions_path={homes / 'extensions'}",
        "--no-browser",
        "--allow-root",
        "--ip=127.0.0.1",
        f"--port={port}",
        "--ServerApp.port_retries=0",
        "--IdentityProvider.token=",  # loopback, for this test only
        "--ServerApp.password=",
        "--ServerApp.disable_check_xsrf=True",
        f"--ServerApp.root_dir={copy}",
        "--LabApp.expose_app_in_browser=True",
        "--LabApp.extension_manager=readonly",
        "--LabApp.check_for_updates_class=jupyterlab.handlers.announcements.NeverCheckForUpdate",
    ]


def _server_environment(homes: Path) -> dict[str, str]:
    own = {
        name: str(homes / name.lower())
        for name in (
            "JUPYTER_CONFIG_DIR",
            "JUPYTER_DATA_DIR",
            "JUPYTER_RUNTIME_DIR",
            "IPYTHONDIR",
            "JUPYTERLAB_SETTINGS_DIR",
            "JUPYTERLAB_WORKSPACES_DIR",
            "XDG_DATA_HOME",
        )
    }
    settings = str(CHECKOUT / "labcore" / "lab")
    path = os.pathsep.join([str(CHECKOUT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
    return {**os.environ, **own, "JUPYTER_CONFIG_PATH": settings, "PYTHONPATH": path}


def _wait_for(address: str, *, process: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + SERVER_S
    while time.monotonic() < end:
        if process.poll() is not None:
            pytest.fail(f"JupyterLab ended by itself with code {process.returncode}")
        try:
            urllib.request.urlopen(address, timeout=2).close()
            return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"JupyterLab did not answer within {SERVER_S:.0f} s")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One Chromium; sound may start without a press, and a fake microphone stands in."""
    playwright = _playwright()
    with playwright.sync_playwright() as runner:
        started = runner.chromium.launch(
            executable_path=_chromium(),
            args=[
                "--no-sandbox",
                "--autoplay-policy=no-user-gesture-required",
                "--use-fake-ui-for-media-stream",
                "--use-fake-device-for-media-stream",
            ],
        )
        yield started
        started.close()


# Without it the page asks the reader to choose one.
KERNEL = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}


def put_notebook(lab: str, *, file: str, sources: Sequence[str]) -> None:
    """Write a notebook of these cells beside the lessons of the copy."""
    blank = {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None}
    cells = [{**blank, "id": f"c{k}", "source": source} for k, source in enumerate(sources)]
    content = {"cells": cells, "metadata": KERNEL, "nbformat": 4, "nbformat_minor": 5}
    body = json.dumps({"type": "notebook", "content": content}).encode()
    address = f"{lab}/api/contents/notebooks/{file}"
    urllib.request.urlopen(urllib.request.Request(address, body, method="PUT"), timeout=20).close()


class LessonPage:
    """A lesson open in JupyterLab: the page, and what our tests do to it."""

    def __init__(self, page: Any, *, address: str, lesson: str) -> None:
        self.page = page
        self.outside: list[str] = []  # requests to anywhere but the server
        self.errors: list[str] = []
        page.set_default_timeout(PAGE_MS)
        page.on("dialog", lambda dialog: dialog.accept())
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("request", lambda request: self._note(request.url, address))
        page.goto(f"{address}/doc/tree/notebooks/{lesson}?reset")
        page.wait_for_selector(".jp-Notebook")

    def _note(self, url: str, address: str) -> None:
        if not url.startswith((address, address.replace("http", "ws"), "data:", "blob:")):
            self.outside.append(url)

    def run_all(self) -> None:
        """Run every cell and wait for the last reply; a cell that raised fails the test."""
        failed = self.page.evaluate(
            """async () => {
              const app = window.jupyterapp;
              await app.restored;
              const panel = app.shell.currentWidget;
              await panel.context.ready;
              await panel.sessionContext.ready;
              await panel.sessionContext.session.kernel.info;
              await app.commands.execute("notebook:run-all-cells");
              const raised = [];
              for (const cell of panel.content.model.cells) {
                if (cell.type !== "code") continue;
                for (let k = 0; k < cell.outputs.length; k += 1) {
                  const output = cell.outputs.get(k).toJSON();
                  if (output.output_type === "error") raised.push(output.traceback.join("\\n"));
                }
              }
              return raised;
            }"""
        )
        assert failed == [], "\n".join(failed)

    def see(self, text: str) -> None:
        """Wait until a text stands on the page."""
        self.page.get_by_text(text).first.wait_for()


@pytest.fixture(scope="module")
def open_lesson(lab: str, browser: Any) -> Iterator[Callable[..., LessonPage]]:
    """A function that opens a lesson by file name, ``width`` pixels wide.

    Opening and running a lesson takes seconds: open it once a module and share it where you can.
    """
    pages: list[Any] = []

    def opened(lesson: str, *, width: int = 1280, height: int = 900) -> LessonPage:
        page = browser.new_page(viewport={"width": width, "height": height})
        pages.append(page)
        return LessonPage(page, address=lab, lesson=lesson)

    yield opened
    for page in pages:
        page.close()
