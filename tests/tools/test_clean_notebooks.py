"""The lessons are kept clean, and the cleaner knows what is not."""

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

TOOL = Path(__file__).with_name("clean_notebooks.py")


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("clean_notebooks", TOOL)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def code(source: str, *outputs: dict[str, Any], tags: tuple[str, ...] = ()) -> dict[str, Any]:
    return {
        "cell_type": "code",
        "execution_count": None,
        "id": "a",
        "metadata": {"tags": list(tags)},
        "outputs": list(outputs),
        "source": [source],
    }


def notebook(*cells: dict[str, Any]) -> dict[str, Any]:
    metadata = {"widgets": {"state": "much"}, "kernelspec": {"name": "mine"}}
    return {"cells": list(cells), "metadata": metadata, "nbformat": 4, "nbformat_minor": 5}


PRINTED = {"name": "stdout", "output_type": "stream", "text": "3.6\n"}
DRAWN = {
    "data": {"application/vnd.jupyter.widget-view+json": {}, "text/plain": "Picture"},
    "metadata": {},
    "output_type": "display_data",
}


def test_every_lesson_is_clean(tool: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    assert list(tool.NOTEBOOKS.glob("*.ipynb")), "no lessons were found"
    code_of_exit = tool.main(["--check"])
    assert code_of_exit == 0, capsys.readouterr().out


def test_what_was_printed_in_pieces_is_kept_as_one(tool: ModuleType) -> None:
    more = {**PRINTED, "text": ["4.8\n"]}
    clean = tool.cleaned(notebook(code("print(3.6)", PRINTED, more)))
    assert [out["text"] for out in clean["cells"][0]["outputs"]] == [["3.6\n", "4.8\n"]]


def test_a_printed_number_is_kept_and_its_cell_numbered(tool: ModuleType) -> None:
    clean = tool.cleaned(notebook(code("x = 1"), code("print(3.6)", PRINTED)))
    cell = clean["cells"][1]
    assert cell["outputs"][0]["text"] == ["3.6\n"]
    assert cell["execution_count"] == 2
    assert "tags" not in cell["metadata"]


def test_a_picture_is_dropped_and_its_cell_is_not_compared(tool: ModuleType) -> None:
    clean = tool.cleaned(notebook(code("picture", DRAWN)))
    assert clean["cells"][0]["outputs"] == []
    assert clean["cells"][0]["metadata"]["tags"] == [tool.IGNORED]
    assert "widgets" not in clean["metadata"]


def test_cleaning_twice_changes_nothing(tool: ModuleType) -> None:
    once = tool.cleaned(notebook(code("picture", DRAWN), code("print(1)", PRINTED)))
    assert tool.as_text(tool.cleaned(json.loads(tool.as_text(once)))) == tool.as_text(once)


def test_what_is_not_clean_is_named_and_left_alone(
    tool: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "lesson.ipynb"
    path.write_text(json.dumps(notebook(code("picture", DRAWN))), encoding="utf-8")
    before = path.read_text(encoding="utf-8")
    assert tool.main(["--check", str(path)]) == 1
    assert "lesson.ipynb" in capsys.readouterr().out
    assert path.read_text(encoding="utf-8") == before
    assert tool.main([str(path)]) == 0
    assert tool.main(["--check", str(path)]) == 0


def test_a_checked_cell_without_an_answer_is_a_fault(tool: ModuleType) -> None:
    empty = notebook(code("# NBVAL_CHECK_OUTPUT\nprint(1)"))
    assert tool.faults(empty)
    answered = notebook(code("# NBVAL_CHECK_OUTPUT\nprint(1)", PRINTED))
    assert not tool.faults(answered)
