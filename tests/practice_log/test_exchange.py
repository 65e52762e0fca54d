"""Logs carried to another computer, as files, JSON and CSV; damaged ones change nothing."""

import csv
import json
import sqlite3
from contextlib import closing
from errno import ENOSPC
from pathlib import Path

import pytest

from labcore.errors import LabError
from labcore.practice_log import Merged, open_log

LABELS = ["bench 3", "=1+1", "'quoted", "-minus", "a,b;c", 'say "hm"', "<b>bold</b>", "Zoë"]


@pytest.fixture(scope="module")
def full_once(tmp_path_factory, make_report, day) -> bytes:
    log = open_log(tmp_path_factory.mktemp("full") / "log.sqlite")
    for number, label in enumerate(LABELS):
        key = log.add(
            make_report(number, share=70.0 + number), player=label, recorded=day(number),
            exercise="triplets-72", remark="a remark",
        )  # fmt: skip
        log.add_remark(key, words="at this wave", wave=2)
        log.set_task(label, exercise="eighths-60", set_at=day(number))
    log.set_target("bench 3", take_id=key)
    return log.path.read_bytes()


@pytest.fixture
def full(full_once: bytes, tmp_path: Path):
    path = tmp_path / "log.sqlite"
    path.write_bytes(full_once)
    return open_log(path)


@pytest.fixture
def empty(tmp_path: Path):
    return open_log(tmp_path / "elsewhere" / "log.sqlite")


def everything(log) -> dict:
    """All that a lesson can ask of a log."""
    answer = {}
    for player in log.players():
        takes = log.history(player.nickname)
        answer[player.nickname] = (
            takes,
            log.task(player.nickname),
            log.target(player.nickname),
            [log.findings(take.take_id) for take in takes],
            [log.notes(take.take_id) for take in takes],
            [log.remarks(take.take_id) for take in takes],
        )
    return answer


@pytest.mark.parametrize("road", ["file", "json"])
def test_everything_arrives_on_another_computer(full, empty, tmp_path, road: str) -> None:
    if road == "file":
        merged = empty.merge_from(full.export_to(tmp_path / "carried.sqlite"))
    else:
        merged = empty.import_json(full.export_json(tmp_path / "carried.json"))
    assert merged == Merged(players=len(LABELS), takes=len(LABELS), left_out=0)
    assert everything(empty) == everything(full)


def test_csv_carries_takes_and_measures(full, empty, tmp_path) -> None:
    merged = empty.import_csv(full.export_csv(tmp_path / "carried.csv"))
    assert merged == Merged(players=len(LABELS), takes=len(LABELS), left_out=0)
    for label in LABELS:
        (there,), (here,) = full.history(label), empty.history(label)
        assert dict(here.measures) == dict(there.measures)
        assert (here.take_id, here.recorded, here.exercise) == (
            there.take_id,
            there.recorded,
            there.exercise,
        )


def test_a_table_with_a_label_that_cannot_be_shown_is_named(full, empty, tmp_path) -> None:
    path = full.export_csv(tmp_path / "table.csv")
    edited = tmp_path / "edited.csv"
    edited.write_text(path.read_text(encoding="utf-8").replace(LABELS[0], "bench\u202e"), "utf-8")
    with pytest.raises(LabError, match=r"edited\.csv .* nothing was changed"):
        empty.import_csv(edited)
    assert empty.players() == ()


def test_no_cell_of_text_can_run_as_a_formula(full, tmp_path) -> None:
    path = full.export_csv(tmp_path / "table.csv")
    with path.open(newline="", encoding="utf-8") as file:
        read = list(csv.DictReader(file))
    assert len(read) == 3 * len(LABELS)
    labels = {row["player"] for row in read}
    assert "'=1+1" in labels
    assert not [label for label in labels if label[0] in "=+-@"]


def test_merging_twice_brings_nothing_the_second_time(full, empty, tmp_path) -> None:
    path = full.export_to(tmp_path / "carried.sqlite")
    empty.merge_from(path)
    before = everything(empty)
    assert empty.merge_from(path) == Merged(players=0, takes=0, left_out=0)
    assert everything(empty) == before


def test_two_logs_that_grew_apart_become_one_and_the_same(full, empty, make_report, tmp_path, day):
    empty.add(make_report(50), player="bench 3", recorded=day(50))
    empty.add(make_report(51), player="new here", recorded=day(51))
    empty.merge_from(full.export_to(tmp_path / "one.sqlite"))
    assert [take.recorded for take in empty.history("bench 3")] == [day(0), day(50)]
    full.merge_from(empty.export_to(tmp_path / "two.sqlite"))
    assert [take.take_id for take in full.history("bench 3")] == [
        take.take_id for take in empty.history("bench 3")
    ]
    assert {p.nickname for p in full.players()} == {*LABELS, "new here"}


def test_a_take_that_is_here_already_keeps_its_own_judgement(full, empty, make_report, tmp_path):
    empty.merge_from(full.export_to(tmp_path / "one.sqlite"))
    full.add(make_report(0, share=10.0), player="bench 3")
    empty.merge_from(full.export_to(tmp_path / "two.sqlite"))
    assert empty.history("bench 3")[0].measures["returned_share"].value == 70.0


def test_a_remark_written_elsewhere_comes_along(full, empty, tmp_path) -> None:
    empty.merge_from(full.export_to(tmp_path / "one.sqlite"))
    take = empty.history("bench 3")[0].take_id
    empty.add_remark(take, words="seen at home", at_s=0.1)
    full.merge_from(empty.export_to(tmp_path / "two.sqlite"))
    assert "seen at home" in [remark.words for remark in full.remarks(take)]


def test_a_forgotten_player_does_not_come_back_with_an_old_copy(full, tmp_path) -> None:
    path = full.export_to(tmp_path / "before.sqlite")
    text = full.export_json(tmp_path / "before.json")
    full.forget("Zoë")
    assert full.merge_from(path) == Merged(players=0, takes=0, left_out=1)
    assert full.import_json(text).left_out == 1
    assert "Zoë" not in [player.nickname for player in full.players()]


def test_a_forgotten_player_who_was_known_elsewhere_does_not_come_back(
    full, empty, make_report, tmp_path
) -> None:
    empty.add(make_report(60), player="Zoë")
    theirs = empty.export_to(tmp_path / "theirs.sqlite")
    full.merge_from(theirs)
    assert len(full.history("Zoë")) == 2
    full.forget("Zoë")
    assert full.merge_from(theirs) == Merged(players=0, takes=0, left_out=1)


def test_nobody_is_brought_in_to_work_toward_a_take_that_was_forgotten_here(
    full, empty, tmp_path
) -> None:
    everybody = full.export_to(tmp_path / "everybody.sqlite")  # "bench 3" works toward Zoë's take
    for label in LABELS[:-1]:
        full.forget(label)
    empty.merge_from(full.export_to(tmp_path / "zoe.sqlite"))
    empty.forget("Zoë")
    empty.merge_from(everybody)
    assert len(empty.history("bench 3")) == 1
    assert empty.target("bench 3") is None


def test_a_label_may_be_used_again_after_it_was_forgotten(full, make_report) -> None:
    full.forget("Zoë")
    full.add(make_report(70), player="Zoë")
    assert len(full.history("Zoë")) == 1


def test_a_class_export_holds_no_label_and_no_words(full, empty, tmp_path) -> None:
    path = full.export_to(tmp_path / "class.sqlite", names=False)
    content = path.read_bytes()
    for word in [*LABELS, "a remark", "at this wave", "old semi-hollow", ".flac"]:
        assert word.encode() not in content, word
    empty.merge_from(path)
    assert len(empty.players()) == len(LABELS)
    shares = {
        empty.history(player.nickname)[0].measures["returned_share"].value
        for player in empty.players()
    }
    assert shares == {70.0 + number for number in range(len(LABELS))}


def test_an_export_never_writes_over_a_file(full, tmp_path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("precious")
    for export in (full.export_to, full.export_json, full.export_csv):
        with pytest.raises(LabError, match="already"):
            export(taken)
    assert taken.read_text() == "precious"


def test_a_copy_that_cannot_be_finished_is_told_and_not_left_half(
    full, tmp_path, monkeypatch
) -> None:
    def half(path: Path, text: str, **_: object) -> None:
        with path.open("w") as file:
            file.write(text[: len(text) // 2])
        raise OSError(ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_text", half)
    for export in (full.export_json, full.export_csv):
        with pytest.raises(LabError, match="No space left"):
            export(tmp_path / "copy")
        assert not (tmp_path / "copy").exists()


# --- damaged files ---


def cut_short(content: bytes) -> bytes:
    return content[: len(content) // 2]


def scrambled(content: bytes) -> bytes:
    middle = len(content) // 2
    return content[: middle - 2048] + b"\xff\x00" * 2048 + content[middle + 2048 :]


def zeroed(content: bytes) -> bytes:
    return bytes(len(content))


DAMAGES = [cut_short, scrambled, zeroed, lambda _: b"", lambda _: b"PK\x03\x04 something else"]


@pytest.mark.parametrize("damage", DAMAGES)
@pytest.mark.parametrize("road", ["file", "json", "csv"])
def test_a_damaged_file_is_refused_in_a_sentence_and_nothing_is_lost(
    full, empty, make_report, tmp_path, road: str, damage
) -> None:
    out = {"file": full.export_to, "json": full.export_json, "csv": full.export_csv}[road]
    path = out(tmp_path / "carried")
    path.write_bytes(damage(path.read_bytes()))
    empty.add(make_report(99))
    before = everything(empty)
    come_in = {"file": empty.merge_from, "json": empty.import_json, "csv": empty.import_csv}[road]
    with pytest.raises(LabError, match="nothing was changed"):
        come_in(path)
    assert everything(empty) == before


def test_a_missing_file_is_said_to_be_missing(empty, tmp_path) -> None:
    with pytest.raises(LabError, match="no file"):
        empty.merge_from(tmp_path / "nowhere.sqlite")
    with pytest.raises(LabError, match="cannot be read"):
        empty.import_json(tmp_path / "nowhere.json")


def _edited(full, tmp_path, change) -> Path:
    whole = json.loads(full.export_json(tmp_path / "carried.json").read_text(encoding="utf-8"))
    change(whole)
    path = tmp_path / "edited.json"
    path.write_text(json.dumps(whole), encoding="utf-8")
    return path


def _column(whole) -> None:
    whole["tables"]["player"][0]["nickname) SELECT 1; --"] = "x"


def _orphan(whole) -> None:
    whole["tables"]["take"][0]["player_id"] = "nobody"


def _text_for_a_number(whole) -> None:
    whole["tables"]["measure"][0]["value"] = "high"


def _not_a_number(whole) -> None:
    whole["tables"]["measure"][0]["value"] = float("nan")


def _huge(whole) -> None:
    whole["tables"]["take"][0]["string"] = 10**30


def _odd_time(whole) -> None:
    whole["tables"]["take"][0]["recorded_utc"] = "last Tuesday"


def _odd_technique(whole) -> None:
    whole["tables"]["take"][0]["technique"] = "telekinesis"


def _odd_verdict(whole) -> None:
    whole["tables"]["finding"][0]["verdict"] = "brilliant"


def _odd_string(whole) -> None:
    whole["tables"]["take"][0]["string"] = 99


def _odd_label(whole) -> None:
    whole["tables"]["player"][0]["nickname"] = "bench\x07"


def _odd_form(whole) -> None:
    whole["form"] = 1000


def _odd_tables(whole) -> None:
    whole["tables"] = [1, 2]


def _odd_rows(whole) -> None:
    whole["tables"]["take"] = "all of them"


def _endless(whole) -> None:
    whole["tables"]["measure"][0]["value"] = float("inf")


def _odd_day(whole) -> None:
    whole["tables"]["task"][0]["due_utc"] = "Easter"


def _key_that_leads_elsewhere(whole) -> None:
    whole["tables"]["take"][0]["take_id"] = "../../elsewhere"


def _odd_note_value(whole) -> None:
    whole["tables"]["stretch"][0]["named"] = 40


CHANGES = [
    _endless, _odd_day, _key_that_leads_elsewhere, _odd_note_value,
    _column, _orphan, _text_for_a_number, _not_a_number, _huge, _odd_time, _odd_technique,
    _odd_verdict, _odd_string, _odd_label, _odd_form, _odd_tables, _odd_rows,
]  # fmt: skip


@pytest.mark.parametrize("change", CHANGES)
def test_a_json_file_that_was_tampered_with_is_refused(full, empty, tmp_path, change) -> None:
    path = _edited(full, tmp_path, change)
    with pytest.raises(LabError):
        empty.import_json(path)
    assert empty.players() == ()


def test_a_json_file_that_was_left_as_it_was_is_taken(full, empty, tmp_path) -> None:
    assert empty.import_json(_edited(full, tmp_path, lambda whole: None)).takes == len(LABELS)


def test_another_databases_tables_are_not_taken(empty, tmp_path) -> None:
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE take (take_id TEXT)")
        db.execute("PRAGMA user_version = 1")
    with pytest.raises(LabError, match="another program"):
        empty.merge_from(path)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE take SET recorded_utc = 'last Tuesday'",
        "UPDATE take SET string = 99",
        "UPDATE measure SET value = 1e999",
        "UPDATE measure SET n = -4",
        "UPDATE task SET due_utc = 'Easter'",
        "UPDATE player SET nickname = ' bench 3 '",
        "CREATE VIEW more AS SELECT 1",
        "CREATE TRIGGER more AFTER INSERT ON take BEGIN DELETE FROM player; END",
        "ALTER TABLE take ADD COLUMN more TEXT",
    ],
)
def test_a_log_that_another_program_wrote_in_is_refused(
    full, empty, tmp_path, statement: str
) -> None:
    path = full.export_to(tmp_path / "carried.sqlite")
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(statement + (" WHERE nickname = 'bench 3'" if "nickname" in statement else ""))
    with pytest.raises(LabError, match="nothing was changed"):
        empty.merge_from(path)
    assert empty.players() == ()


@pytest.mark.parametrize("name", ["a\0b.json", "~nobody-of-this-name/a.json", "\ud800.json"])
def test_a_name_no_system_takes_is_refused_in_a_sentence(full, name: str) -> None:
    for road in (full.import_json, full.import_csv, full.merge_from, full.export_to,
                 full.export_json, full.export_csv):  # fmt: skip
        with pytest.raises(LabError, match="cannot be the name"):
            road(name)


def test_the_other_file_is_never_changed(full, empty, tmp_path) -> None:
    path = full.export_to(tmp_path / "carried.sqlite")
    path.chmod(0o400)
    before = path.read_bytes()
    empty.merge_from(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith("carried")] == [path.name]
