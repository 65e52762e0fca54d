"""Small widgets of the lessons on the beat: a button to tap on, files to take away, a score."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from labcore.errors import LabError

HERE = Path(__file__).parent


class Tap(anywidget.AnyWidget):
    """A button to tap the beat on, by mouse, finger or space bar.

    ``tempo_bpm`` follows from the fourth tap on; a pause of three seconds begins a new count.
    """

    _esm = HERE / "tap.js"
    _css = HERE / "controls.css"
    label = traitlets.Unicode("tap the beat").tag(sync=True)
    tempo_bpm = traitlets.Float(0.0).tag(sync=True)

    def __repr__(self) -> str:
        return f"Tap: {self.label}"


@dataclass(frozen=True, slots=True)
class TakeAway:
    """A file to take away: its name, kind and bytes."""

    name: str
    media_type: str
    data: bytes


class TakeAways(anywidget.AnyWidget):
    """One button a file; the file is made when its button is pressed.

    Parameters
    ----------
    makers : words on the button, and a function that gives the file.
    """

    _esm = HERE / "takeaway.js"
    _css = HERE / "controls.css"
    label = traitlets.Unicode("take away").tag(sync=True)
    labels = traitlets.List(traitlets.Unicode()).tag(sync=True)

    def __init__(self, makers: Mapping[str, Callable[[], TakeAway]]) -> None:
        super().__init__(labels=list(makers))
        self._makers = list(makers.values())
        self.on_msg(self._answer)

    def _answer(self, _widget: Any, content: Any, _buffers: Any) -> None:
        try:
            made = self._makers[int(content)]()
        except LabError as problem:
            self.send({"problem": str(problem)})
            return
        self.send({"name": made.name, "type": made.media_type}, buffers=[made.data])

    def __repr__(self) -> str:
        return f"TakeAways: {', '.join(self.labels)}"


@dataclass(frozen=True, slots=True)
class ScoreBar:
    """One engraved picture of a score: its words, its SVG, and when it sounds (start, end).

    Where there is nothing to engrave, ``count`` is written instead.
    """

    name: str
    svg: str
    spans: tuple[tuple[float, float], ...] = ()
    count: str = ""


class Score(anywidget.AnyWidget):
    """Engraved bars side by side; the bar that sounds is framed while ``player`` plays.

    ``words`` say the same for a screen reader. ``scale`` is pixels for one unit of the engraving.
    """

    _esm = HERE / "score.js"
    _css = HERE / "score.css"
    bars = traitlets.List(traitlets.Dict()).tag(sync=True)
    words = traitlets.Unicode().tag(sync=True)
    player = traitlets.Unicode().tag(sync=True)
    scale = traitlets.Float(0.95).tag(sync=True)

    def __init__(
        self, bars: Sequence[ScoreBar], *, words: str, player: str = "", scale: float = 0.95
    ) -> None:
        super().__init__(bars=[asdict(b) for b in bars], words=words, player=player, scale=scale)

    def show(self, bars: Sequence[ScoreBar], *, words: str) -> None:
        """Show other bars in the same place."""
        with self.hold_sync():
            self.bars = [asdict(bar) for bar in bars]
            self.words = words

    def __repr__(self) -> str:
        return f"Score: {self.words}"
