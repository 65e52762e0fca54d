"""Reports made by hand, whole enough to come back from the log as they went in."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from labcore.model import (
    BeatOrigin,
    Context,
    Finding,
    GridFit,
    Home,
    HomeSource,
    Measure,
    Measures,
    Note,
    NoteReport,
    PitchContour,
    Place,
    PlainPart,
    RecordingFacts,
    Report,
    Take,
    Task,
    Technique,
    Turn,
    TurnKind,
    Verdict,
)
from labcore.practice_log import PracticeLog, open_log

MONDAY = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)


def note() -> Note:
    turns = tuple(
        Turn(0.5 + 0.2 * i, 220.0 + 3.0 * (i % 2), 1.0, (TurnKind.LOW, TurnKind.HIGH)[i % 2])
        for i in range(9)
    )
    return Note(0.1, 2.5, turns, (PlainPart(0.2, 0.5, 220.0, 0.8, 1.5),))


def report(number: int = 0, *, share: float = 90.0, player: str = "bench 3") -> Report:
    """A whole report; every ``number`` has a sound of its own."""
    frames = np.zeros(4)
    contour = PitchContour(frames, frames + 220.0, frames, frames + 1.0, frames, np.zeros(0), 0.005)
    facts = RecordingFacts(f"take {number}.flac", f"{number:064x}", 44100.0, 2.6)
    home = Home(220.0, 0.8, Place.BOTTOM, HomeSource.STRAIGHT, 0.2, 0.5)
    fit = GridFit(
        start_s=0.5,
        end_s=2.1,
        cycle=np.arange(4),
        asynchrony_s=np.zeros(4),
        cycles_per_beat=3.02,
        named=3,
        rate_error_percent=0.7,
        offset_s=-0.01,
        concentration=0.98,
        origin=BeatOrigin.CLICKS,
        step_s=0.278,
    )
    measures = Measures(
        rate=Measure(3.6, "Hz", 4, 0.1, 0.02),
        returned_share=Measure(share, "%", 4, None, 2.0),
        direction=Measure(-0.25, "", 4, None, None),
    )
    findings = (
        Finding("return", Verdict.SETTLED, "Four of four waves came home.", "median 2 cents"),
        Finding("even_width", Verdict.WORK, "Some waves wide, some shy.", "spread 24 %"),
    )
    return Report(
        Take(facts, None, contour, (note(),)),
        Task(72.0, 3, Technique.BEND, Place.BOTTOM, 220.0, 0.25),
        Context(player, "old semi-hollow", 3, 9, 2),
        (NoteReport(home, ()),),
        (),
        (),
        (fit,),
        measures,
        findings,
    )


@pytest.fixture(scope="session")
def make_report() -> Callable[..., Report]:
    return report


@pytest.fixture
def log(tmp_path: Path) -> PracticeLog:
    return open_log(tmp_path / "log.sqlite")


@pytest.fixture(scope="session")
def day() -> Callable[[float], datetime]:
    return lambda number: MONDAY + timedelta(days=number)
