"""What is written into a lesson's file, through Jupyter's own contents manager."""

import shutil
from pathlib import Path
from typing import Any

import nbformat
import pytest
from jupyter_server.services.contents.largefilemanager import LargeFileManager
from nbformat.sign import MemorySignatureStore, NotebookNotary
from traitlets.config import Config

from labcore import __main__ as start

LESSONS = Path(__file__).parents[2] / "notebooks"
DRAWN = {
    "data": {"application/vnd.jupyter.widget-view+json": {"model_id": "a"}, "text/plain": "b"},
    "metadata": {},
    "output_type": "display_data",
}


class Folder:
    """A folder of lessons, opened and saved as JupyterLab does."""

    def __init__(self, root: Path) -> None:
        shutil.copytree(LESSONS, root / "notebooks", ignore=shutil.ignore_patterns("*.png", ".*"))
        argument = start.SAVING.removeprefix("--ContentsManager.pre_save_hook=")
        hook = Config(ContentsManager=Config(pre_save_hook=argument))
        self.root = root
        notary = NotebookNotary(store_factory=MemorySignatureStore, secret=b"for this test only")
        self.manager = LargeFileManager(root_dir=str(root), config=hook, notary=notary)

    def opened(self, path: str) -> Any:
        """The notebook, after it has run on a page: drawn, counted, and told of its kernel."""
        content = self.manager.get(path)["content"]
        content["metadata"]["language_info"] = {"name": "python", "version": "3.99"}
        for count, cell in enumerate(content["cells"], start=100):
            if cell["cell_type"] == "code":
                cell["metadata"]["trusted"] = True
                cell.update(outputs=[nbformat.from_dict(DRAWN)], execution_count=count)
        return content

    def save(self, path: str, content: Any) -> None:
        self.manager.save({"type": "notebook", "format": "json", "content": content}, path)


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return Folder(tmp_path)


def test_a_lesson_that_was_only_looked_at_stays_as_it_was_to_the_byte(folder: Folder) -> None:
    lessons = sorted(LESSONS.glob("*.ipynb"))
    assert len(lessons) > 10
    for lesson in lessons:
        path = f"notebooks/{lesson.name}"
        folder.save(path, folder.opened(path))
        assert (folder.root / path).read_bytes() == lesson.read_bytes()
        again = folder.manager.get(path)["content"]["cells"]
        assert all(cell["metadata"]["trusted"] for cell in again if cell["cell_type"] == "code")


def test_what_a_reader_writes_is_kept_and_nothing_else_changes(folder: Folder) -> None:
    path = "notebooks/00_start_here.ipynb"
    before = nbformat.read(folder.root / path, as_version=4)
    content = folder.opened(path)
    first = next(cell for cell in content["cells"] if cell["cell_type"] == "code")
    first["source"] += "\n# I tried 80 here"
    content["cells"].append(nbformat.v4.new_markdown_cell("My answer: three."))
    folder.save(path, content)
    after = nbformat.read(folder.root / path, as_version=4)
    changed = [cell for cell in after["cells"] if cell not in before["cells"]]
    assert [cell["source"] for cell in changed] == [first["source"], "My answer: three."]
    assert changed[0]["outputs"] == []
    assert after["metadata"] == before["metadata"]


def test_a_readers_own_notebook_keeps_its_pictures(folder: Folder) -> None:
    path = "notebooks/my own.ipynb"
    shutil.copy(LESSONS / "00_start_here.ipynb", folder.root / path)
    folder.save(path, folder.opened(path))
    kept = nbformat.read(folder.root / path, as_version=4)
    assert DRAWN in [output for cell in kept["cells"] for output in cell.get("outputs", [])]
