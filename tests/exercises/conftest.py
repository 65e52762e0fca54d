"""Reports made by hand: what the chain would say, without any sound."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from labcore.beats import beat_s
from labcore.model import (
    BeatOrigin,
    Context,
    GridFit,
    Home,
    HomeSource,
    Measure,
    Measures,
    NoteReport,
    PitchContour,
    Place,
    RecordingFacts,
    Report,
    Take,
    Task,
    Technique,
)

MakeReport = Callable[..., Report]


def _contour() -> PitchContour:
    frames = np.zeros(4)
    return PitchContour(frames, frames + 220.0, frames, frames + 1.0, frames, np.zeros(0), 0.005)


@pytest.fixture
def make_report() -> MakeReport:
    """A report with the given measures: name=value, or name=(value, error, n)."""

    def make(
        *,
        tempo_bpm: float | None = 72.0,
        cycles_per_beat: int | None = 2,
        technique: Technique = Technique.NOT_SAID,
        place: Place | None = Place.BOTTOM,
        context: Context = Context(),  # noqa: B008  # frozen
        named: tuple[int, ...] = (),
        **measures: Any,
    ) -> Report:
        facts = RecordingFacts("hand made", "0" * 64, 44100.0, 12.0)
        home = None if place is None else Home(220.0, 0.5, place, HomeSource.STRAIGHT)
        rows = {name: _measure(value) for name, value in measures.items()}
        return Report(
            Take(facts, None, _contour(), ()),
            Task(tempo_bpm=tempo_bpm, cycles_per_beat=cycles_per_beat, technique=technique),
            context,
            (NoteReport(home, ()),),
            (),
            (),
            tuple(_stretch(value, at=i) for i, value in enumerate(named)),
            Measures(**rows),
            (),
        )

    return make


def _measure(value: Any) -> Measure:
    if isinstance(value, tuple):
        return Measure(value[0], "", value[2], error=value[1])
    return Measure(float(value), "", 20, error=0.0)


def _stretch(named: int, *, at: int) -> GridFit:
    return GridFit(
        start_s=4.0 * at,
        end_s=4.0 * at + 4.0,
        cycle=np.arange(4),
        asynchrony_s=np.zeros(4),
        cycles_per_beat=float(named),
        named=named,
        rate_error_percent=0.0,
        offset_s=0.0,
        concentration=1.0,
        origin=BeatOrigin.CLICKS,
        step_s=beat_s(72.0) / named,
    )
