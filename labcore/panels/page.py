"""The look of a lesson's page: large calm type, and nothing between the reader and the lesson."""

from pathlib import Path

import anywidget

HERE = Path(__file__).parent


class LessonPage(anywidget.AnyWidget):
    """Shown once, in a lesson's first cell: it has no picture of its own, only the page's style."""

    _esm = "export default { render({ el }) { el.hidden = true; } };"
    _css = HERE / "page.css"

    def __repr__(self) -> str:
        return "LessonPage"
