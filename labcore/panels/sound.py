"""Buttons that make a sound when they are pressed: the note is made then, from where things stand.

A `Player` holds takes that are there already; `Sound` asks for its sound at each press, so that
sliders may be moved without making sound nobody listens to.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from uuid import uuid4

import anywidget
import traitlets

from labcore.errors import LabError

HERE = Path(__file__).parent


class Sound(anywidget.AnyWidget):
    """One button a sound; pressing it again, or another one, stops what plays.

    Parameters
    ----------
    makers : words on the button, and a function that gives the sound file's bytes (WAV).
    label : what the row of buttons is for; a screen reader says it.

    It starts at a quarter of the full level. Pictures whose ``player`` is `voice` show where the
    sound is.
    """

    _esm = HERE / "sound.js"
    _css = HERE / "controls.css"
    label = traitlets.Unicode().tag(sync=True)
    labels = traitlets.List(traitlets.Unicode()).tag(sync=True)
    voice = traitlets.Unicode().tag(sync=True)

    def __init__(self, makers: Mapping[str, Callable[[], bytes]], *, label: str = "listen") -> None:
        super().__init__(label=label, labels=list(makers), voice=uuid4().hex)
        self._makers = list(makers.values())
        self.on_msg(self._answer)

    def _answer(self, _widget: Any, content: Any, _buffers: Any) -> None:
        try:
            sound = self._makers[int(content)]()
        except LabError as problem:
            self.send({"button": content, "problem": str(problem)})
            return
        self.send({"button": content}, buffers=[sound])

    def __repr__(self) -> str:
        return f"Sound: {', '.join(self.labels)}"
