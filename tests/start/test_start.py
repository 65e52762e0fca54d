"""``python -m labcore``: what JupyterLab is started with, and what is said when it cannot be."""

import json
import os
from pathlib import Path

import pytest

from labcore import __main__ as start
from labcore.errors import LabError


def lessons_in(folder: Path) -> Path:
    (folder / "notebooks").mkdir(parents=True)
    (folder / "notebooks" / start.START).write_text("{}", encoding="utf-8")
    return folder


def test_the_first_place_with_lessons_is_taken(tmp_path: Path) -> None:
    bare, full = tmp_path / "bare", lessons_in(tmp_path / "full")
    assert start.find_lessons([bare, full]) == full / "notebooks"


def test_missing_lessons_are_told_in_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(LabError, match="The lessons were not found"):
        start.find_lessons([tmp_path])
    monkeypatch.setattr(start, "HERE", tmp_path / "labcore")
    monkeypatch.chdir(tmp_path)
    assert start.main() == 2
    assert "folder that was cloned" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps the folder one stands in")
def test_started_in_a_folder_that_is_gone_it_says_so_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.setattr(start, "HERE", tmp_path / "labcore")
    monkeypatch.chdir(gone)
    gone.rmdir()
    assert start.main() == 2
    assert "The lessons were not found" in capsys.readouterr().err


def test_the_start_lesson_opens_alone_and_other_arguments_come_last(tmp_path: Path) -> None:
    lessons = tmp_path / "notebooks"
    arguments = start.arguments_for(lessons, more=["--no-browser"], is_root=False)
    assert f"--LabApp.default_url=/doc/tree/notebooks/{start.START}" in arguments
    assert f"--ServerApp.root_dir={tmp_path}" in arguments
    assert arguments[-1] == "--no-browser"
    assert "--allow-root" not in arguments


def test_only_root_is_allowed_as_root(tmp_path: Path) -> None:
    assert "--allow-root" in start.arguments_for(tmp_path, more=[], is_root=True)


def test_our_settings_come_before_the_readers_and_leave_them_standing() -> None:
    mine = start.with_settings({"JUPYTER_CONFIG_PATH": "theirs", "HOME": "kept"})
    assert mine["JUPYTER_CONFIG_PATH"].split(os.pathsep) == [str(start.SETTINGS), "theirs"]
    assert mine["HOME"] == "kept"
    assert start.with_settings({})["JUPYTER_CONFIG_PATH"] == str(start.SETTINGS)


def test_the_settings_are_shipped_and_readable() -> None:
    files = list((start.SETTINGS / "labconfig").glob("*.json"))
    assert {file.name for file in files} == {"page_config.json", "default_setting_overrides.json"}
    for file in files:
        assert json.loads(file.read_text(encoding="utf-8"))
