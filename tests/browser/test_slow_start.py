"""A widget whose script comes late, as on a busy machine, still hears from Python."""

from typing import Any

import pytest

from tests.browser.conftest import LessonPage, put_notebook

pytestmark = pytest.mark.browser

LATE = """
import anywidget, traitlets

class Late(anywidget.AnyWidget):
    _esm = '''
    await new Promise((go) => setTimeout(go, 3000)); // longer than anywidget waits by itself
    export default { render({ model, el }) {
      const show = () => { el.textContent = model.get("words"); };
      model.on("change:words", show);
      show();
    } };
    '''
    words = traitlets.Unicode("first words").tag(sync=True)

late = Late()
late
"""
LATER = "late.words = 'later words'"


def test_a_widget_that_starts_late_still_follows_python(lab: str, browser: Any) -> None:
    put_notebook(lab, file="late.ipynb", sources=[LATE, LATER])
    page = browser.new_page()
    try:
        lesson = LessonPage(page, address=lab, lesson="late.ipynb")
        lesson.run_all()
        page.get_by_text("later words", exact=True).wait_for(timeout=30_000)
        assert lesson.errors == []
    finally:
        page.close()
