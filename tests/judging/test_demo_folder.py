"""No take of the demo folder can be made to give a wrong finding, whatever is asked of it."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from labcore.analysis import hear, judge
from labcore.audio import load_recording
from labcore.model import Report, Take, Task, Technique, Verdict
from labcore.synthesis import from_dict

FOLDER = Path(__file__).parents[2] / "data_demo"
ROWS: list[dict[str, Any]] = json.loads((FOLDER / "takes.json").read_text(encoding="utf-8"))
NAMES = [row["name"] for row in ROWS]


def row_of(name: str) -> dict[str, Any]:
    return next(row for row in ROWS if row["name"] == name)


@cache
def take_of(name: str) -> Take:
    return hear(load_recording(FOLDER / row_of(name)["file"]))


def own_task(name: str) -> Task:
    truth = json.loads((FOLDER / row_of(name)["truth"]).read_text(encoding="utf-8"))
    return from_dict(truth["description"]).task


def kinds(report: Report, *verdicts: Verdict) -> set[str]:
    return {finding.kind for finding in report.findings if finding.verdict in verdicts}


def said(report: Report) -> str:
    return "; ".join(f"{f.kind}: {f.verdict}: {f.evidence}" for f in report.findings)


def test_the_folder_holds_takes() -> None:
    assert len(NAMES) >= 20


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_what_was_planted_is_found_and_nothing_else(name: str) -> None:
    row = row_of(name)
    report = judge(take_of(name), own_task(name))
    found = kinds(report, Verdict.WORK, Verdict.NEARLY, Verdict.NOT_ENOUGH)
    assert set(row["must_find"]) <= found, said(report)
    assert not kinds(report, Verdict.WORK) & set(row["must_not_fault"]), said(report)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_no_other_question_makes_a_wrong_finding(name: str) -> None:
    """Without a click, without a technique, with the tempo alone: fair is still fair."""
    row, task = row_of(name), own_task(name)
    silent = Task()
    unsaid = replace(task, technique=Technique.NOT_SAID, home=silent.home)
    tempo_alone = Task(tempo_bpm=task.tempo_bpm)
    for asked in (silent, unsaid, tempo_alone):
        report = judge(take_of(name), asked)
        wrong = kinds(report, Verdict.WORK) & set(row["must_not_fault"])
        assert not wrong, f"{asked}: {said(report)}"


def test_a_click_of_another_tempo_is_named_and_nothing_is_held_against_it() -> None:
    report = judge(take_of("desk_triplets"), Task(tempo_bpm=80.0, cycles_per_beat=3))
    assert "click" in kinds(report, Verdict.NOT_ENOUGH)
    assert not kinds(report, Verdict.WORK), said(report)
