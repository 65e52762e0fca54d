"""Whatever the contour and the task, there is a report and no other exception than LabError."""

import math
import pickle
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from labcore.analysis import hear, judge, notes_of
from labcore.errors import LabError
from labcore.findings import choose, describe
from labcore.model import (
    ClickSource,
    ClickTrack,
    Context,
    PitchContour,
    Place,
    RecordingFacts,
    Report,
    Take,
    Task,
    Technique,
)

FACTS = RecordingFacts("any", "0" * 64, 44100.0, 1.0)
SIZES = st.integers(0, 900)
TASKS = st.builds(
    Task,
    tempo_bpm=st.none() | st.floats(20, 300),
    cycles_per_beat=st.none() | st.integers(1, 6),
    technique=st.sampled_from(Technique),
    home=st.sampled_from(Place),
    home_hz=st.none() | st.floats(60, 1400),
    beat_origin_s=st.none() | st.floats(0, 5),
)


@st.composite
def contours(draw: st.DrawFn) -> PitchContour:
    """Contours that wander, jump, shake and break off anywhere."""
    size = draw(SIZES)
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    time_s = 0.005 * np.arange(size)
    cents = np.cumsum(rng.normal(scale=draw(st.sampled_from([0.0, 0.1, 2.0, 30.0])), size=size))
    cents += draw(st.floats(0, 150)) * np.sin(2 * np.pi * draw(st.floats(0.5, 12)) * time_s)
    hz = np.clip(draw(st.floats(60, 1200)) * 2.0 ** (cents / 1200.0), 20.0, 20_000.0)
    hz[rng.random(size) < draw(st.sampled_from([0.0, 0.01, 0.3, 1.0]))] = np.nan
    error = np.where(np.isfinite(hz), draw(st.floats(0, 20)), np.nan)
    attacks = np.sort(rng.uniform(0, max(size, 1) * 0.005, size=draw(st.integers(0, 6))))
    return PitchContour(time_s, hz, np.full(size, -20.0), error, np.full(size, np.nan), attacks,
                        0.005)  # fmt: skip


def click_tracks() -> st.SearchStrategy[ClickTrack | None]:
    steps = st.floats(0.25, 1.5)
    made = st.builds(
        lambda step, count: ClickTrack(0.1 + step * np.arange(count), ClickSource.HEARD, 0.001),
        steps,
        st.integers(2, 12),
    )
    return st.none() | made


def words_of(report: Report) -> list[str]:
    said = [text for finding in report.findings for text in (finding.sentence, finding.evidence)]
    return [*said, *describe(report)]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(contour=contours(), task=TASKS, clicks=click_tracks())
def test_any_contour_gives_a_report(
    contour: PitchContour, task: Task, clicks: ClickTrack | None
) -> None:
    report = judge(Take(FACTS, clicks, contour, notes_of(contour)), task)
    assert report.findings
    choose(report)
    for sentence in words_of(report):
        assert "nan" not in sentence.lower().split()
        assert "None" not in sentence
        assert "inf" not in sentence.split()
    for _, measure in report.measures.named():
        assert measure is None or math.isfinite(measure.value)


@pytest.mark.slow
@settings(max_examples=1500, deadline=None, derandomize=True)
@given(contour=contours(), task=TASKS, clicks=click_tracks())
def test_any_contour_gives_a_report_many_times(
    contour: PitchContour, task: Task, clicks: ClickTrack | None
) -> None:
    assert judge(Take(FACTS, clicks, contour, notes_of(contour)), task).findings


@settings(max_examples=30, deadline=None, derandomize=True)
@given(sizes=npst.array_shapes(min_dims=5, max_dims=5, min_side=0, max_side=3))
def test_a_contour_of_unequal_columns_is_refused(sizes: tuple[int, ...]) -> None:
    columns = [np.zeros(size) for size in sizes]
    if len(set(sizes)) == 1:
        PitchContour(*columns, np.zeros(0), 0.005)
    else:
        with pytest.raises(LabError, match="give one of each a frame"):
            PitchContour(*columns, np.zeros(0), 0.005)


def test_records_survive_pickling_and_stay_frozen() -> None:
    contour = PitchContour(*(np.ones(3) for _ in range(5)), np.zeros(1), 0.005)
    report = judge(Take(FACTS, None, contour, ()), Task(72.0, 3))
    again = pickle.loads(pickle.dumps(report))
    assert not again.take.contour.frequency_hz.flags.writeable
    assert again.findings == report.findings
    assert again.measures == report.measures


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"tempo_bpm": 5.0}, "Count the beats"),
        ({"cycles_per_beat": 9}, "whole number"),
        ({"home_hz": 3.0}, "plain note"),
        ({"tempo_bpm": "72"}, "tempo_bpm is '72'; give a number"),
        ({"cycles_per_beat": [3]}, "give a number"),
        ({"home_hz": "A4"}, "give a number"),
        ({"beat_origin_s": math.nan}, "give a number"),
        ({"technique": "tapping"}, "choose one of: not said, bend, roll"),
        ({"home": "left"}, "choose one of: bottom, middle"),
    ],
)
def test_a_task_that_cannot_be_is_refused(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(LabError, match=words):
        Task(**wrong)


def test_a_technique_in_plain_words_is_that_technique() -> None:
    """It would be taken for none of them otherwise, and nothing said."""
    assert Task(technique="bend", home="bottom") == Task(  # type: ignore[arg-type]
        technique=Technique.BEND, home=Place.BOTTOM
    )
    assert Task(technique="bend").technique is Technique.BEND  # type: ignore[arg-type]


@pytest.mark.parametrize("times_s", [[0.5, np.nan], [0.5, 0.5], [1.0, 0.5]])
def test_clicks_out_of_order_are_refused(times_s: list[float]) -> None:
    with pytest.raises(LabError, match="each later than the one before"):
        ClickTrack(np.array(times_s), ClickSource.KNOWN, 0.0)


@pytest.mark.parametrize("given", ["take.wav", np.zeros(44100), None])
def test_what_is_no_recording_is_not_heard(given: Any) -> None:
    with pytest.raises(LabError, match="load_recording"):
        hear(given)


@pytest.mark.parametrize("wrong", [{"string": 0}, {"fret": 40}, {"finger": 5}])
def test_a_context_that_cannot_be_is_refused(wrong: dict[str, int]) -> None:
    with pytest.raises(LabError, match="must lie between"):
        Context(**wrong)


def test_a_string_that_is_no_number_is_refused() -> None:
    with pytest.raises(LabError, match="string is '3'; give a number"):
        Context(string="3")  # type: ignore[arg-type]
