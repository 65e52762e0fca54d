"""Bring the lessons into the one form in which they are kept.

    python tests/tools/clean_notebooks.py            clean every lesson
    python tests/tools/clean_notebooks.py --check    only say which are not clean; exit code 1

Kept: text and printed numbers, small and comparable. Dropped: pictures and widgets, whose cells
are tagged so that nbval runs them without comparing; widget state; whatever a page or a kernel
added about itself. Cells are numbered 1 to n, code is folded away.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
KERNEL = {"display_name": "Python 3", "language": "python", "name": "python3"}
IGNORED = "nbval-ignore-output"
CHECKED = "# NBVAL_CHECK_OUTPUT"
MOST_TEXT = 4000  # characters of output a cell may keep

Cell = dict[str, Any]


def cleaned(notebook: dict[str, Any]) -> dict[str, Any]:
    """The notebook in the form in which it is kept."""
    cells = []
    count = 0
    for number, cell in enumerate(notebook["cells"], start=1):
        source = _joined(cell["source"])  # in lines, as JupyterLab writes it
        identity = {"id": cell.get("id") or f"cell-{number:02d}", "source": source}
        if cell["cell_type"] == "code":
            count += 1
            cells.append({**identity, **_code_cell(cell, count=count)})
        else:
            tags = _metadata(cell.get("metadata", {}).get("tags", []))
            cells.append({**identity, "cell_type": cell["cell_type"], "metadata": tags})
    metadata = {"kernelspec": KERNEL, "language_info": {"name": "python"}}
    return {"cells": cells, "metadata": metadata, "nbformat": 4, "nbformat_minor": 5}


def _metadata(tags: Sequence[str]) -> dict[str, Any]:
    return {"tags": sorted(tags)} if tags else {}


def _code_cell(cell: Cell, *, count: int) -> Cell:
    outputs = [out for out in cell["outputs"] if _is_text(out)]
    tags = {tag for tag in cell.get("metadata", {}).get("tags", []) if tag != IGNORED}
    was_tagged = IGNORED in cell.get("metadata", {}).get("tags", [])
    if len(outputs) < len(cell["outputs"]) or was_tagged:
        outputs = []
        tags.add(IGNORED)
    return {
        "cell_type": "code",
        "execution_count": count,
        "metadata": {"jupyter": {"source_hidden": True}, **_metadata(sorted(tags))},
        "outputs": [_plain(out, count=count) for out in _in_one_piece(outputs)],
    }


def _is_text(output: dict[str, Any]) -> bool:
    if output["output_type"] == "stream":
        return bool(output.get("name") == "stdout")
    return output["output_type"] == "execute_result" and set(output["data"]) == {"text/plain"}


def _in_one_piece(outputs: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """What was printed arrives in pieces at times of the kernel's choice; it is kept as one."""
    kept: list[dict[str, Any]] = []
    for out in outputs:
        if kept and out["output_type"] == kept[-1]["output_type"] == "stream":
            text = "".join(kept[-1]["text"]) + "".join(out["text"])
            kept[-1] = {**kept[-1], "text": text}
        else:
            kept.append(out)
    return kept


def _plain(output: dict[str, Any], *, count: int) -> dict[str, Any]:
    if output["output_type"] == "stream":
        return {"name": "stdout", "output_type": "stream", "text": _joined(output["text"])}
    data = {"text/plain": _joined(output["data"]["text/plain"])}
    return {
        "data": data,
        "execution_count": count,
        "metadata": {},
        "output_type": "execute_result",
    }


def _joined(text: str | list[str]) -> list[str]:
    whole = text if isinstance(text, str) else "".join(text)
    return whole.splitlines(keepends=True)


def faults(notebook: dict[str, Any]) -> list[str]:
    """What cleaning cannot mend: a checked cell without an answer, an error, too much text."""
    found = []
    for number, cell in enumerate(notebook["cells"], start=1):
        if cell["cell_type"] != "code":
            continue
        text = json.dumps(cell["outputs"])
        if CHECKED in "".join(cell["source"]) and not cell["outputs"]:
            found.append(f"cell {number} is to be checked and has no stored answer; run it")
        if any(out["output_type"] == "error" for out in cell["outputs"]):
            found.append(f"cell {number} holds an error; mend it and run it again")
        if len(text) > MOST_TEXT:
            found.append(f"cell {number} keeps {len(text)} characters; print less")
    return found


def as_text(notebook: dict[str, Any]) -> str:
    """The file's text: keys sorted, one space indents, as JupyterLab writes it."""
    return json.dumps(notebook, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Clean, or check; returns the exit code."""
    parser = argparse.ArgumentParser(description="Bring the lessons into their kept form.")
    parser.add_argument("--check", action="store_true", help="change nothing, exit 1 if unclean")
    parser.add_argument("paths", nargs="*", type=Path, help="notebooks; all lessons if left out")
    chosen = parser.parse_args(arguments)
    bad = 0
    for path in chosen.paths or sorted(NOTEBOOKS.glob("*.ipynb")):
        text = path.read_text(encoding="utf-8")
        notebook = json.loads(text)
        clean = as_text(cleaned(notebook))
        problems = faults(notebook)
        if clean != text and chosen.check:
            problems.append("it is not in its kept form; run tests/tools/clean_notebooks.py")
        elif clean != text:
            path.write_text(clean, encoding="utf-8")
        bad += bool(problems)
        for problem in problems:
            print(f"{path.name}: {problem}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
