"""A lesson's page: large calm type, and a fresh start each time the lesson is run."""

from pathlib import Path

import anywidget
import ipywidgets

from labcore.panels.picture import plotly_carrier

HERE = Path(__file__).parent


class LessonPage(anywidget.AnyWidget):
    """Made once, in a lesson's first cell: the page's style, and no picture of its own.

    It also keeps a number and its unit together on one line.

    Everything an earlier run of the lesson put on the page is closed, so that a page that is
    loaded again has one set of controls to bring back and not many.
    """

    _esm = HERE / "page.js"
    _css = HERE / "page.css"

    def __init__(self) -> None:
        ipywidgets.Widget.close_all()
        plotly_carrier.cache_clear()
        super().__init__()

    def __repr__(self) -> str:
        return "LessonPage"
