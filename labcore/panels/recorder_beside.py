"""The recorder in the take panel: what was recorded is heard and shown seconds later."""

from pathlib import Path
from typing import Any

from labcore.model import Task
from labcore.panels.controls import fold
from labcore.panels.recorder import Recorder
from labcore.panels.recorder_files import RecordedTake
from labcore.panels.take_panel import TakePanel


def with_recorder(panel: TakePanel, *, folder: Path | None = None) -> TakePanel:
    """The same panel, with a recorder to unfold beside the place to drop a file.

    A recorded take is set against the tempo and the note value it was played to. Where the
    delay of the sound was not measured, its clicks are left out and nothing is said about early
    or late.
    """

    def open_take(take: RecordedTake) -> None:
        asked = Task(tempo_bpm=take.tempo_bpm, cycles_per_beat=take.cycles_per_beat)
        is_placed = take.clicks is not None or not take.click_s
        panel.open_recording(
            take.recording,
            clicks=take.clicks,
            task=asked,
            is_placed=is_placed,
            beats_per_bar=take.beats_per_bar if take.click_s else None,
        )

    recorder = Recorder(on_take=open_take, folder=folder)

    def follow(change: Any) -> None:
        recorder.tempo_bpm = float(change["new"])

    panel.controls.tempo.observe(follow, names="value")
    box = fold("record a take here", recorder)
    box.add_class("labcore-wide")
    panel.add_source(box)
    return panel
