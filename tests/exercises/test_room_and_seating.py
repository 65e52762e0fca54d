"""The room: counts that point at nobody. Seating: names and tables, well or badly written."""

import dataclasses
from pathlib import Path

import pytest

from labcore.errors import LabError
from labcore.exercises import TABLE_NAME, player_in, room_of, room_words, seating, seats_in
from labcore.model import Finding, Task, Technique, Verdict

W, N, S = Verdict.WORK, Verdict.NEARLY, Verdict.SETTLED


@pytest.fixture
def reports(make_report):
    def make(**verdicts: str) -> list:
        """One letter a take: w, n, s, or - for nothing said."""
        letters = {"w": W, "n": N, "s": S}
        count = len(next(iter(verdicts.values())))
        return [
            dataclasses.replace(
                make_report(),
                findings=tuple(
                    Finding(kind, letters[row[i]], f"private words about take {i}", "")
                    for kind, row in verdicts.items()
                    if row[i] != "-"
                ),
            )
            for i in range(count)
        ]

    return make


def test_the_room_counts_bands_and_nothing_else(reports) -> None:
    room = room_of(reports(**{"return": "wwwwwnss", "even_width": "s-snsnss"}))
    need = room.need("return")
    assert (need.work, need.nearly, need.settled, need.judged) == (5, 1, 2, 8)
    assert room.need("even_width").judged == 7
    assert room.need("lock") is None


def test_the_room_is_told_one_next_thing_in_counts(reports) -> None:
    told = room_words(room_of(reports(**{"return": "wwwwwnss", "even_width": "sssssssn"})))
    assert told[0] == "Next for the room: coming home, in 5 of 8 takes."
    assert told[1] == "Already there for most: even width."
    also = {"plain_note": "ssssssss", "even_time": "sss-----", "even_width": "sssssssn"}
    told = room_words(room_of(reports(**{"return": "wwwwwnss"}, **also)))
    assert told[1] == "Already there for most: a steady plain note and even width."


def test_what_only_one_take_has_is_never_said_aloud(reports) -> None:
    told = room_words(room_of(reports(**{"return": "wsssssss", "lock": "sssssssw"})))
    assert told[0].startswith("No one thing stands out")


def test_fewer_than_five_takes_get_words_without_numbers(reports) -> None:
    room = room_of(reports(**{"return": "wwss"}))
    assert not room.may_show_picture
    assert not any(sign.isdigit() for words in room_words(room) for sign in words)


def test_a_matter_judged_in_fewer_than_five_takes_is_not_drawn(reports) -> None:
    room = room_of(reports(**{"return": "wwnsss", "lock": "ww----"}))
    assert room.need("return").shown
    assert not room.need("lock").shown


def test_the_more_important_of_two_alike_comes_first(reports) -> None:
    room = room_of(reports(**{"lock": "wwwsss", "return": "wwwsss"}))
    assert room.next.kind == "return"


def test_a_room_of_hurried_narrow_waves_is_told_so(reports) -> None:
    told = room_words(room_of(reports(**{"pace": "wwwww", "return": "sssss"})))
    assert told[0] == "Next for the room: slow and wide before quick, in 5 of 5 takes."


def test_nobodys_words_leave_the_room(reports) -> None:
    room = room_of(reports(**{"return": "wwwwwnss"}))
    assert "private" not in " ".join(room_words(room))


def test_what_a_teacher_overruled_is_not_counted(reports) -> None:
    many = reports(**{"return": "wwwwww"})
    many[0] = dataclasses.replace(
        many[0],
        findings=(dataclasses.replace(many[0].findings[0], overruled_by="teacher"),),
    )
    assert room_of(many).need("return").work == 5


def test_this_evening_is_held_against_the_last_one_as_a_whole(reports) -> None:
    before = room_of(reports(**{"return": "wwwwwwss"}))
    after = room_of(reports(**{"return": "wwssssss"}))
    assert "has come closer, open in 2 of 8 takes after 6 of 8" in " ".join(
        room_words(after, before=before)
    )
    assert "As last evening" in " ".join(room_words(before, before=before))
    assert "more takes" in " ".join(
        room_words(
            room_of(reports(**{"return": "wwwwwwww"})),
            before=room_of(reports(**{"return": "wwwsssss"})),
        )
    )


def test_an_empty_room_says_so() -> None:
    assert room_words(room_of([])) == ("There are no takes yet.",)


# --- seating ---


@pytest.mark.parametrize(
    ("name", "player"),
    [
        ("bench3_triplets.flac", "bench 3"),
        ("bench 3_1.wav", "bench 3"),
        ("Zoë_2026-03-03.m4a", "Zoë"),
        ("window seat_.wav", "window seat"),
        ("_.wav", "take"),
        ("12.wav", "12"),
        ("a very long name " * 9 + "_1.wav", ("a very long name " * 9)[:60]),
        ("caf\udce9_1.wav", "caf�"),  # as an old disk may name it
    ],
)
def test_a_files_name_tells_the_player(name: str, player: str) -> None:
    assert player_in(name) == player


def test_a_folder_is_taken_in_order_and_only_its_sound(tmp_path: Path) -> None:
    for name in ("b_1.wav", "a_1.FLAC", "notes.txt", "c_1.m4a"):
        (tmp_path / name).touch()
    asked = Task(72.0, 3)
    seats = seats_in(tmp_path, task=asked)
    assert [(seat.path.name, seat.context.player) for seat in seats] == [
        ("a_1.FLAC", "a"),
        ("b_1.wav", "b"),
        ("c_1.m4a", "c"),
    ]
    assert all(seat.task == asked for seat in seats)


def test_a_table_says_who_and_what() -> None:
    head = "\ufeffFile, Player, Tempo, Note value, Technique, Finger"
    table = f"{head}\na.wav, bench 1, 60, triplets, Arm, 2\n"
    (one, two) = seating([Path("a.wav"), Path("b.wav")], table=table, task=Task(72.0, 2))
    assert (one.context.player, one.context.finger) == ("bench 1", 2)
    assert (one.task.tempo_bpm, one.task.cycles_per_beat) == (60.0, 3)
    assert one.task.technique is Technique.ARM
    assert (two.context.player, two.task) == ("b", Task(72.0, 2))


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("player\nbench 1", "no column 'file'"),
        ("file,surname\na.wav,x", "columns surname"),
        ("file,tempo\na.wav,fast", "tempo 'fast'"),
        ("file,tempo\na.wav,1000", "between 20 and"),
        ("file,tempo\na.wav,0", "between 20 and"),
        ("file,note value\na.wav,sevens", "note value 'sevens'"),
        ("file,technique\na.wav,magic", "technique 'magic'"),
        ("file,string\na.wav,99", "string is 99"),
    ],
)
def test_a_table_badly_written_is_refused_in_a_sentence(table: str, words: str) -> None:
    with pytest.raises(LabError, match=words):
        seating([Path("a.wav")], table=table, task=Task(72.0, 3))


@pytest.mark.parametrize(
    "written",
    [
        b"file,player,tempo\na_1.wav,window seat,60\n",
        "file;player;tempo\r\na_1.wav;window seat;60\r\n".encode("utf-8-sig"),
    ],
    ids=["commas", "as a spreadsheet writes it where 1,5 is a number"],
)
def test_a_table_that_lies_beside_the_takes_is_read(tmp_path: Path, written: bytes) -> None:
    (tmp_path / "a_1.wav").touch()
    (tmp_path / TABLE_NAME).write_bytes(written)
    (seat,) = seats_in(tmp_path, task=Task(72.0, 3))
    assert (seat.context.player, seat.task) == ("window seat", Task(60.0, 3))
    (given,) = seats_in(tmp_path, table="file,player\na_1.wav,bench 4")  # it wins
    assert given.context.player == "bench 4"


def test_a_table_that_is_no_text_is_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "a_1.wav").touch()
    (tmp_path / TABLE_NAME).write_bytes(b"\xff\xfe\x00f\x80")
    with pytest.raises(LabError, match="Save it once more as CSV text"):
        seats_in(tmp_path)


def test_a_folder_without_sound_or_none_at_all_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(LabError, match="No sound"):
        seats_in(tmp_path)
    with pytest.raises(LabError, match="no folder"):
        seats_in(tmp_path / "nowhere")
