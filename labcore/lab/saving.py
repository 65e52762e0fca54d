"""Saving a lesson changes its file only where the reader wrote.

A lesson runs when it is opened, so what it printed and drew need not be kept in its file. Were it
kept, every lesson that was merely looked at would differ from the one that was delivered, and the
next ``git pull`` would stop. JupyterLab calls `keep_what_was_written` before it writes a notebook
(``ContentsManager.pre_save_hook``; set by ``python -m labcore``).
"""

import re
from pathlib import Path
from typing import Any

import nbformat

LESSON = re.compile(r"(^|/)notebooks/\d\d_[a-z0-9_]+\.ipynb$")  # as in labcore-open/static/open.js

Cell = dict[str, Any]


def keep_what_was_written(*, model: dict[str, Any], path: str, contents_manager: Any) -> None:
    """Put a lesson's cells back as its file has them, where their text is the same.

    A cell that is new or was changed is saved without what it printed; it runs again when the
    lesson is opened. Notebooks that are no lessons are saved as they are.
    """
    file = Path(contents_manager.root_dir) / path.strip("/")
    if model.get("type") != "notebook" or not LESSON.search(path) or not file.is_file():
        return
    content, before = model["content"], nbformat.read(file, as_version=4)
    known = {cell["id"]: cell for cell in before["cells"]}
    content["cells"] = [_as_kept(cell, before=known.get(cell["id"])) for cell in content["cells"]]
    content["metadata"] = before["metadata"]


def _as_kept(cell: Cell, *, before: Cell | None) -> Cell:
    kept = before if before is not None and _text(before) == _text(cell) else _without_results(cell)
    trusted = cell["metadata"].get("trusted")  # JupyterLab's own mark, which no file keeps
    return {**kept, "metadata": {**kept["metadata"], **({"trusted": trusted} if trusted else {})}}


def _without_results(cell: Cell) -> Cell:
    return {**cell, "outputs": [], "execution_count": None} if "outputs" in cell else cell


def _text(cell: Cell) -> tuple[str, str]:
    return cell["cell_type"], "".join(cell["source"])
