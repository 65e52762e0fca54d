"""A take heard once for all tests of the panel."""

from collections.abc import Callable

import pytest

from labcore.analysis import hear
from labcore.model import Recording, Take
from labcore.panels import take_panel
from labcore.panels.demo import DemoTake, demo_take
from labcore.panels.take_panel import TakePanel


@pytest.fixture(scope="session")
def short_of_home() -> tuple[DemoTake, Recording, Take]:
    """The demo take whose waves never come home; played at 72, three to the click."""
    demo = demo_take("bench1_stops_short")
    recording = demo.recording()
    return demo, recording, hear(recording)


@pytest.fixture
def hearings(
    short_of_home: tuple[DemoTake, Recording, Take], monkeypatch: pytest.MonkeyPatch
) -> list[str]:
    """Makes hearing instant, and counts it: the names of what was heard."""
    heard: list[str] = []

    def hear_again(recording: Recording, *, clicks: object = None) -> Take:
        heard.append(recording.name)
        return short_of_home[2]

    monkeypatch.setattr(take_panel, "hear", hear_again)
    return heard


@pytest.fixture
def open_panel(
    short_of_home: tuple[DemoTake, Recording, Take], hearings: list[str]
) -> Callable[..., TakePanel]:
    """A function that makes a panel with that one demo take, open."""
    return lambda **more: TakePanel(demos=[short_of_home[0]], **more)
