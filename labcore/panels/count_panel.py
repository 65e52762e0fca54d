"""Record oneself and see one's own waves counted against the click: nothing else is asked yet."""

import logging
from dataclasses import replace
from pathlib import Path

import ipywidgets as w

from labcore.analysis import hear, judge
from labcore.errors import LabError
from labcore.figures.take import take_figure
from labcore.figures.words import are_waves_told, take_words
from labcore.findings.words import count
from labcore.model import Report, Task
from labcore.panels.controls import StatusLine
from labcore.panels.picture import Picture
from labcore.panels.player import Player, take_sounds
from labcore.panels.recorder import Recorder
from labcore.panels.recorder_files import RecordedTake

log = logging.getLogger(__name__)


class CountPanel(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """A recorder; under it, after a take, how many waves went on a click, and where they lie."""

    def __init__(self, *, folder: Path | None = None) -> None:
        self.status, self.player = StatusLine(), Player()
        self.recorder = Recorder(on_take=self.open_take, folder=folder)
        self.picture: Picture | None = None
        self._place = w.VBox()
        super().__init__([self.recorder, self.status, self._place])
        self.add_class("labcore-panel")

    def open_take(self, take: RecordedTake) -> None:
        """Hear and count a take; what goes wrong is a sentence, and the take before stays."""
        try:
            self.status.say("Counting the waves")
            self._show(take)
        except LabError as problem:
            self.status.say(str(problem), problem=True)
        except Exception as problem:
            log.exception("the counting panel met something unexpected")
            self.status.say(
                f"Something went wrong that should not ({type(problem).__name__}: {problem}). "
                "The take is kept in the list; record another one.",
                problem=True,
            )

    def _show(self, take: RecordedTake) -> None:
        heard = hear(take.recording, clicks=take.clicks)
        if take.click_s and take.clicks is None:  # how late they were heard is not known
            heard = replace(heard, clicks=None)
        asked = Task(tempo_bpm=take.tempo_bpm, cycles_per_beat=take.cycles_per_beat)
        report = judge(heard, asked)
        figure = take_figure(report, heads=False, beats_per_bar=take.beats_per_bar)
        words = take_words(report, heads=False)
        if self.picture is None:
            self.picture = Picture(figure, words=words, player=self.player.voice)
            self._place.children = [self.picture, self.player]
        else:
            self.picture.show(figure, words=words)
        self.player.load(take_sounds(take.recording))
        self.status.say(counted_words(report))


def counted_words(report: Report) -> str:
    """How many waves, how many of them to a click, and which note value that is."""
    waves, fit = count(len(report.cycles), "wave"), report.longest_stretch
    if not are_waves_told(report) or not report.cycles:
        return report.findings[0].sentence
    rate = report.measures.rate
    if fit is None:
        speed = "" if rate is None else f", {rate.value:.1f} a second"
        return f"{waves.capitalize()} counted{speed}. Without a click they have no note value."
    value = next((f.sentence for f in report.findings if f.kind == "note_value"), "")
    told = f"{waves.capitalize()} counted, about {fit.cycles_per_beat:.1f} to the click."
    return f"{told} {value}".strip()
