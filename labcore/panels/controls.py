"""Controls for the lessons: each has a name a screen reader speaks, and works from the keyboard.

They carry a ``value`` that one observes like any other widget's:
``slider.observe(lambda change: ..., names="value")``.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets
import traitlets

HERE = Path(__file__).parent
DIMMED = "labcore-dim"  # the look of what is about to be replaced


class _Control(anywidget.AnyWidget):
    """What all controls share: a label, a look, and a plain text form for stored pages."""

    _css = HERE / "controls.css"
    label = traitlets.Unicode().tag(sync=True)
    enabled = traitlets.Bool(True).tag(sync=True)

    def __repr__(self) -> str:
        return f"{type(self).__name__}: {self.label}"


class Slider(_Control):
    """A slider with its number box; both hold the same ``value``.

    >>> Slider("tempo", value=72, low=40, high=160, unit="clicks a minute").value
    72.0
    """

    _esm = HERE / "slider.js"
    value = traitlets.Float().tag(sync=True)
    low = traitlets.Float().tag(sync=True)
    high = traitlets.Float().tag(sync=True)
    step = traitlets.Float().tag(sync=True)
    unit = traitlets.Unicode().tag(sync=True)

    def __init__(
        self,
        label: str,
        *,
        value: float,
        low: float,
        high: float,
        step: float = 1.0,
        unit: str = "",
    ) -> None:
        super().__init__(
            label=label,
            value=float(value),
            low=float(low),
            high=float(high),
            step=float(step),
            unit=unit,
        )

    @traitlets.validate("value")
    def _within(self, proposal: Any) -> float:
        return min(max(float(proposal["value"]), self.low), self.high)


class Choice(_Control):
    """One of several: a row of buttons to choose from, or a list when there are many.

    ``options`` are the words shown; ``value`` is the one chosen, ``""`` while none is.
    """

    _esm = HERE / "choice.js"
    options = traitlets.List(traitlets.Unicode()).tag(sync=True)
    value = traitlets.Unicode().tag(sync=True)
    as_list = traitlets.Bool(False).tag(sync=True)
    hint = traitlets.Unicode().tag(sync=True)  # words after the choice

    def __init__(
        self,
        label: str,
        *,
        options: Sequence[str],
        value: str | None = None,
        as_list: bool = False,
        hint: str = "",
    ) -> None:
        first = options[0] if options else ""
        super().__init__(
            label=label,
            options=list(options),
            value=first if value is None else value,
            as_list=as_list,
            hint=hint,
        )

    @property
    def index(self) -> int | None:
        """Place of the value among the options; None while none is chosen."""
        return self.options.index(self.value) if self.value in self.options else None


class TextBox(_Control):
    """A line to write in; ``value`` follows when it is finished with Enter or left."""

    _esm = HERE / "textbox.js"
    value = traitlets.Unicode().tag(sync=True)
    hint = traitlets.Unicode().tag(sync=True)

    def __init__(self, label: str, *, value: str = "", hint: str = "") -> None:
        super().__init__(label=label, value=value, hint=hint)


class StatusLine(_Control):
    """One line that says what is going on or what went wrong; read out when it changes."""

    _esm = HERE / "status.js"
    text = traitlets.Unicode().tag(sync=True)
    problem = traitlets.Bool(False).tag(sync=True)

    def say(self, text: str, *, problem: bool = False) -> None:
        """Show a sentence; a problem stands out by a mark before it, not by colour alone."""
        with self.hold_sync():
            self.text = text
            self.problem = problem


class Button(_Control):
    """A button with words on it; ``on_press(function)`` calls back with no arguments."""

    _esm = HERE / "button.js"
    strong = traitlets.Bool(False).tag(sync=True)

    def __init__(self, label: str, *, strong: bool = False) -> None:
        super().__init__(label=label, strong=strong)

    def on_press(self, function: Any) -> None:
        self.on_msg(lambda _widget, content, _buffers: content == "press" and function())


class Fold(_Control):
    """A line to unfold: ``children`` are shown under it when it is open."""

    _esm = HERE / "fold.js"
    is_open = traitlets.Bool(False).tag(sync=True)


def fold(label: str, *children: Any) -> ipywidgets.VBox:
    """Something that is there when asked for: closed at first, opened by a press or by Enter."""
    handle = Fold(label=label)
    inside = ipywidgets.VBox(children)
    inside.add_class("labcore-inside")
    inside.layout.display = "none"

    def turn(change: Any) -> None:
        inside.layout.display = None if change["new"] else "none"

    handle.observe(turn, names="is_open")
    return ipywidgets.VBox([handle, inside])


@contextmanager
def dimmed(*old: Any) -> Iterator[None]:
    """Dim what the page says now, as long as what will replace it is being made."""
    for part in old:
        part.add_class(DIMMED)
    try:
        yield
    finally:
        for part in old:
            part.remove_class(DIMMED)
