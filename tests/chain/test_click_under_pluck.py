"""A click under the first pluck is not claimed; the beats are right all the same."""

import pytest

from labcore.analysis import hear, judge
from labcore.figures.writing import write
from labcore.model import Task
from tests.test_clicks import even, played, with_clicks

TEMPO_BPM, FIRST_S = 80.0, 0.4
BEAT_S = 60.0 / TEMPO_BPM
OFFSET_MS = 3.0


@pytest.mark.parametrize("sound", ["beep at 1 kHz", "bell", "tick", "clockwork"])
@pytest.mark.parametrize("level_db", [0.0, -20.0])
def test_the_first_bar_begins_at_the_click_that_the_first_pluck_hides(
    sound: str, level_db: float
) -> None:
    playing = played(TEMPO_BPM, seconds=16.0, first_s=FIRST_S, per_beat=3, scatter_s=0.0)
    recording, _ = with_clicks(
        playing, even(TEMPO_BPM, first_s=FIRST_S, last_s=15.9), sound=sound, level_db=level_db
    )
    take = hear(recording)
    assert take.clicks is not None
    assert take.clicks.time_s[0] == pytest.approx(FIRST_S + BEAT_S, abs=1e-3 * OFFSET_MS)
    report = judge(take, Task(tempo_bpm=TEMPO_BPM, cycles_per_beat=3))
    bars = [row.start_s for row in write(report).rows]
    assert bars == pytest.approx(
        [FIRST_S + 4 * BEAT_S * bar for bar in range(len(bars))], abs=1e-3 * OFFSET_MS
    )
    assert [fit.named for fit in report.stretches] == [3]
    assert report.measures.offset is not None
    assert abs(report.measures.offset.value) < OFFSET_MS
