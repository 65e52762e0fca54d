"""Reports made from described takes, judged by the whole chain; heard once for all tests."""

from functools import cache

import numpy as np
import pytest

from labcore.analysis import hear, judge
from labcore.model import Context, Place, Recording, Report, Task, Technique
from labcore.synthesis import Playing, TakeDescription, fretted_hz, played_bars, synthesise

TASK = Task(72.0, 3, Technique.BEND, Place.BOTTOM)


@cache
def played(seed: int, *, short_cents: float = 0.0) -> Recording:
    """Two bars of triplets that stop this far from home."""
    rng = np.random.default_rng(seed)
    playing = Playing(cycles_per_beat=(3, 3), return_cents=short_cents)
    notes = played_bars(playing, rng=rng, hz=fretted_hz(3, fret=9), first_s=0.3)
    description = TakeDescription(
        name=f"take {seed}", duration_s=round(notes[-1].offset_s + 0.3, 3), notes=notes
    )
    return synthesise(description, rng=rng)[0]


@pytest.fixture(scope="session")
def recording() -> Recording:
    return played(1, short_cents=30.0)


@pytest.fixture(scope="session")
def play():
    return played


@pytest.fixture(scope="session")
def report(recording: Recording) -> Report:
    return judge(hear(recording), TASK, context=Context("bench 3", "solid body", 3, 9, 3))
