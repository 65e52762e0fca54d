"""The reader's own string, and the wiring that all physics panels share."""

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import ipywidgets as w
import plotly.graph_objects as go

from labcore.errors import LabError
from labcore.panels.controls import Choice, Slider, StatusLine, fold
from labcore.panels.picture import Picture
from labcore.physics.strings import SCALES_M, STRING_SETS, FrettedString, Guitar, string_set


class Drawn(NamedTuple):
    """A figure and the sentence that says the same."""

    figure: go.Figure
    words: str


class OwnString:
    """Four controls that choose a string; `at` is what they stand for."""

    def __init__(
        self, *, gauges: str = "9-42", string: int = 3, fret: int = 12, open_strings: bool = False
    ) -> None:
        self.gauges = Choice("set", options=STRING_SETS, value=gauges, as_list=True)
        self.string = Choice("string", options=list("123456"), value=str(string))
        self.scale = Choice("scale", options=list(SCALES_M), value="long, 648 mm", as_list=True)
        self.fret = Slider("fret", value=fret, low=0 if open_strings else 1, high=22)

    @property
    def at(self) -> FrettedString:
        """The string under the finger."""
        number = int(self.string.value) - 1
        return FrettedString(
            string_set(self.gauges.value)[number],
            fret=round(self.fret.value),
            guitar=Guitar(SCALES_M[self.scale.value]),
        )

    @property
    def controls(self) -> tuple[Choice | Slider, ...]:
        return self.gauges, self.scale, self.string, self.fret

    def row(self, *, without_fret: bool = False) -> w.Box:
        """The controls side by side; they wrap where the page is narrow."""
        shown = self.controls[:-1] if without_fret else self.controls
        return side_by_side(*shown)

    def folded(self) -> w.VBox:
        """The same, folded away where the lesson is about something else."""
        return fold("on your own string", self.row())


def side_by_side(*children: w.Widget) -> w.Box:
    """Widgets in a row that wraps."""
    return w.Box(children, layout=w.Layout(flex_flow="row wrap", grid_gap="0 22px"))


def panel(*rows: w.Widget) -> w.VBox:
    """The rows of a panel, its sliders in line under each other."""
    found = w.VBox(rows)
    found.add_class("labcore-lined")
    return found


def live(
    draw: Callable[[], Drawn], *, controls: Sequence[Any], player: str = ""
) -> tuple[Picture, StatusLine]:
    """A picture that is drawn anew when a control moves; a refusal is said under it."""
    status = StatusLine(label="remark")
    first = draw()
    picture = Picture(first.figure, words=first.words, player=player)

    def redraw(_change: Any) -> None:
        try:
            drawn = draw()
        except LabError as problem:
            status.say(str(problem), problem=True)
            return
        status.say("")
        picture.show(drawn.figure, words=drawn.words)

    for control in controls:
        control.observe(redraw, names="value")
    return picture, status
