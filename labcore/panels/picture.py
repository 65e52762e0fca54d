"""Pictures on a lesson's page: plotly drawn by one small widget of our own.

A `Picture` holds a figure and the sentence that says the same. The page draws it with plotly's
public calls (`plotly.offline.get_plotlyjs`, `Plotly.react`); plotly's five megabytes travel once
a kernel, in a carrier widget that every picture points to. Nothing is fetched from elsewhere.
"""

from functools import cache
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets
import plotly.graph_objects as go
import traitlets
from plotly.offline import get_plotlyjs, get_plotlyjs_version

HERE = Path(__file__).parent


@cache
def plotly_carrier() -> ipywidgets.HTML:
    """The one carrier of this kernel, never shown: plotly's code and the version to know it by.

    The page empties it once it has read the code, and asks for it again when it is loaded again.
    """
    carrier = ipywidgets.HTML(value=get_plotlyjs(), description=get_plotlyjs_version())
    carrier.on_msg(lambda *_: setattr(carrier, "value", get_plotlyjs()))
    return carrier


class Picture(anywidget.AnyWidget):
    """A figure on the page, with its text alternative under it.

    Parameters
    ----------
    figure : plotly figure, made by `labcore.figures` or dressed by `labcore.figures.look.dress`.
    words : one sentence that tells what the figure shows; read out by a screen reader.
    player : `labcore.panels.player.Player.voice` of the player whose running line to follow.
    show_words : False hides the sentence from the eye; a screen reader still finds it.

    A figure that knows where time lies in it says so in ``figure.layout.meta["rows"]``: a list of
    ``{start_s, end_s, x0, x1, y0, y1}``, the last four as shares of the plot area from its left
    and top. A player's line then runs through each.
    """

    _esm = HERE / "picture.js"
    _css = HERE / "picture.css"
    figure_json = traitlets.Unicode().tag(sync=True)
    words = traitlets.Unicode().tag(sync=True)
    show_words = traitlets.Bool(True).tag(sync=True)
    player = traitlets.Unicode().tag(sync=True)
    carrier = traitlets.Instance(ipywidgets.HTML).tag(sync=True, **ipywidgets.widget_serialization)

    def __init__(
        self, figure: go.Figure, *, words: str, player: str = "", show_words: bool = True
    ) -> None:
        super().__init__(
            figure_json=figure.to_json(),
            words=words,
            show_words=show_words,
            player=player,
            carrier=plotly_carrier(),
        )

    def show(self, figure: go.Figure, *, words: str) -> None:
        """Draw another figure in the same place."""
        with self.hold_sync():
            self.figure_json = figure.to_json()
            self.words = words

    def __repr__(self) -> str:
        return f"Picture: {self.words}"

    def _repr_mimebundle_(self, **options: Any) -> Any:
        bundle = super()._repr_mimebundle_(**options)
        data = bundle[0] if isinstance(bundle, tuple) else bundle
        if data is not None:
            data["text/plain"] = repr(self)
        return bundle
