"""Names of any kind, wherever one is taken: nothing is written but in the folder asked for.

A bait lies beside each folder, and everything outside it must be as it was.
"""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labcore.audio import load_recording, recording_from_samples
from labcore.errors import LabError
from labcore.exercises import seating, seats_in
from labcore.exercises.seating import COLUMNS
from labcore.handout import sheet, write_handout
from labcore.model import Recording, Task
from labcore.panels.class_panel import ClassPanel
from labcore.panels.drop import Arriving
from labcore.panels.recorder_files import InputSettings, RecordedTake, TakeFolder
from labcore.practice_log import open_log

COMMON: dict[str, Any] = {
    "deadline": None,
    "derandomize": True,
    "suppress_health_check": list(HealthCheck),
}
# fmt: off
ODD_NAMES = [
    "", ".", "..", "../up", "../../up", "/", "/etc/hosts", "a/b", "a\\b", "..\\up", "~", "~root",
    "~nobody-of-this-name", "a\0b", "\0", "\n", "CON", "nul.txt", "COM1", "a:b", "a*", "?", "|",
    " ", ".hidden", "-rf", "x" * 300, "x/" * 3000, "\ud800", "\u202egnp.exe", "ü", "u\u0308",
    "take-20260302-193000-abcd/../../up", "take-20260302-193000-abcd\n", "file:///etc/hosts",
]
# fmt: on
NAMES = st.sampled_from(ODD_NAMES) | st.text(max_size=40)


def take() -> Recording:
    wave = 0.5 * np.sin(2 * np.pi * 220 * np.arange(8000) / 8000)
    return recording_from_samples(wave, sample_rate_hz=8000)


TAKE = take()


def tree(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def refused(errand: Callable[[], object]) -> bool:
    """True if one sentence said no; anything but a `LabError` is raised on."""
    said = ""
    try:
        errand()
    except LabError as error:
        said = str(error)
    assert not said or 10 < len(said) < 9000
    return bool(said)


class Outside:
    """A folder to work in, with bait around it; what lies outside must stay as it is."""

    def __enter__(self) -> Path:
        self._held = TemporaryDirectory()
        self._top = Path(self._held.name)
        self._inside = self._top / "deep" / "inside"
        self._inside.mkdir(parents=True)
        for bait in (self._top / "up", self._top / "deep" / "up", self._top / "deep" / "up.json"):
            bait.write_text("bait")
        self._before = self._around()
        return self._inside

    def __exit__(self, *raised: object) -> None:
        after = self._around()
        self._held.cleanup()
        assert after == self._before

    def _around(self) -> dict[str, bytes]:
        inside = str(self._inside)
        return {name: data for name, data in tree(self._top).items() if not name.startswith(inside)}


@settings(max_examples=60, **COMMON)
@given(NAMES)
def test_recorded_takes_stay_in_their_folder(name: str) -> None:
    with Outside() as inside:
        folder = TakeFolder(inside)
        kept = folder.keep(
            RecordedTake(replace(TAKE, name=name), InputSettings(label=name), name=name)
        )
        before = tree(inside)
        assert folder.names() == [kept]
        assert refused(lambda: folder.load(name))
        assert refused(lambda: folder.forget(name))
        assert tree(inside) == before
        assert folder.load(kept).settings.label == name


@settings(max_examples=40, **COMMON)
@given(NAMES)
def test_a_key_of_the_log_leads_nowhere_but_to_its_sounds(name: str) -> None:
    with Outside() as inside:
        log = open_log(inside / "log.sqlite")
        before = tree(inside)
        for errand in (log.sound, log.forget_sound, log.forget_take, log.findings):
            is_key = bool(name) and set(name) <= set("0123456789abcdef-")
            assert refused(lambda errand=errand: errand(name)) or is_key
        assert tree(inside) == before


@settings(max_examples=60, **COMMON)
@given(NAMES)
def test_a_sheet_is_written_where_it_was_asked_for_or_not_at_all(name: str) -> None:
    with Outside() as inside:
        asked = inside / name.replace("/", "_").replace("..", "_")
        if not refused(lambda: write_handout(asked, sheets=[sheet()])):
            assert [path.name for path in inside.iterdir()] == [asked.name]


@settings(max_examples=60, **COMMON)
@given(NAMES)
def test_the_room_writes_beside_its_takes_only(name: str) -> None:
    """A folder that is typed may be anywhere, and without takes in it nothing is written."""
    with Outside() as inside:
        panel = ClassPanel(str(inside / name) if not name.startswith(("/", "~")) else name)
        for pressed in (panel.hear, panel.sheets, panel.csv):
            panel.status.say("")
            panel._guarded(pressed)
            assert panel.status.problem
        assert tree(inside) == {}


@settings(max_examples=100, **COMMON)
@given(NAMES)
def test_what_cannot_be_opened_is_said_in_a_sentence(name: str) -> None:
    with Outside() as inside:
        assert refused(lambda: load_recording(f"{inside}/{name}.nothing"))
        assert refused(lambda: seats_in(inside / name))


@settings(max_examples=100, **COMMON)
@given(NAMES)
def test_a_dropped_file_is_called_by_a_name_that_can_be_shown(name: str) -> None:
    arriving = Arriving()
    arriving.take({"kind": "start", "name": name, "bytes": 0}, [])
    assert arriving.take({"kind": "end"}, []) == (name, b"")
    recording = recording_from_samples(TAKE.samples, sample_rate_hz=8000, name=name)
    assert recording.name.isprintable()
    assert 1 <= len(recording.name) <= 120


CELLS = NAMES | st.sampled_from(
    ["72", "nan", "inf", "-1", "1e999", "triplets", "bend", "9" * 5000, "1_0", "٣", '"', "3.5"]
)


@st.composite
def tables(draw: st.DrawFn) -> str:
    """The table of a class, well formed or not."""
    names = draw(st.permutations(COLUMNS))[: draw(st.integers(1, len(COLUMNS)))]
    rows = draw(st.lists(st.lists(CELLS, min_size=1, max_size=10), max_size=4))
    out = io.StringIO()
    csv.writer(out, lineterminator=draw(st.sampled_from(["\r\n", "\n", "\r"]))).writerow(names)
    for row in rows:
        if draw(st.booleans()):
            out.write(",".join(row) + "\n")
        else:
            csv.writer(out).writerow(["bench1.flac", *row])
    return draw(st.sampled_from(["", "\ufeff", "\0"])) + out.getvalue()


@settings(max_examples=150, **COMMON)
@given(tables())
def test_any_table_of_a_class_gives_seats_or_a_sentence(table: str) -> None:
    paths = [Path("bench1.flac"), Path("bench2.flac")]
    refused(lambda: seating(paths, table=table, task=Task(72.0, 3)))


@pytest.mark.slow
@settings(max_examples=1500, **COMMON)
@given(tables())
def test_many_tables_give_seats_or_a_sentence(table: str) -> None:
    paths = [Path("bench1.flac"), Path("bench2.flac")]
    refused(lambda: seating(paths, table=table, task=Task(72.0, 3)))
