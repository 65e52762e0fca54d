"""What a practice track plays is what its plan says, heard by the chain itself."""

import numpy as np
import pytest

from labcore.analysis import bars_of, hear, judge
from labcore.model import Task, Verdict
from labcore.synthesis import PracticePlan, fretted_hz, practice_track
from labcore.units import cents_between

CLICK_S = 0.001
OFFSET_MS = 6.0  # the click, louder than the guide, draws the waves that begin on it
HOME_CENTS, WIDTH_CENTS = 0.1, 1.0


@pytest.mark.parametrize(
    ("string", "fret", "value", "tempo_bpm"),
    [(3, 9, 3, 72.0), (1, 12, 6, 72.0), (6, 3, 2, 60.0), (2, 5, 4, 80.0), (5, 7, 5, 66.0)],
)
def test_a_guide_note_is_in_tune_in_time_and_as_wide_as_planned(
    string: int, fret: int, value: int, tempo_bpm: float
) -> None:
    plan = PracticePlan((value,) * 4, tempo_bpm=tempo_bpm, string=string, fret=fret)
    track = practice_track(plan, sample_rate_hz=22050.0)
    take = hear(track.recording)
    assert take.clicks is not None
    off_s = np.abs(take.clicks.time_s[:, None] - np.array(track.click_s)).min(axis=1)
    assert off_s.max() < CLICK_S
    bars = bars_of(track.recording, take=take)
    assert bars is None or bars.beats == plan.beats_per_bar
    report = judge(take, Task(tempo_bpm=tempo_bpm, cycles_per_beat=value))
    home, measures = report.notes[0].home, report.measures
    assert home is not None
    assert measures.rate is not None
    assert measures.extent is not None
    assert measures.offset is not None
    assert cents_between(home.hz, fretted_hz(string, fret=fret)) == pytest.approx(
        0.0, abs=HOME_CENTS
    )
    assert measures.rate.value == pytest.approx(value * tempo_bpm / 60.0, rel=5e-4)
    assert measures.extent.value == pytest.approx(plan.extent_cents, abs=WIDTH_CENTS)
    assert abs(measures.offset.value) < OFFSET_MS
    assert not any(finding.verdict is Verdict.WORK for finding in report.findings)
