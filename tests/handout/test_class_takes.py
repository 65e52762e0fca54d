"""A folder of takes: in turn, in threads, in processes or on a cluster, one and the same answer."""

import csv
from concurrent.futures import Executor, ThreadPoolExecutor
from io import StringIO
from pathlib import Path

import pytest

from labcore.audio import flac_bytes
from labcore.exercises import room_of, seats_in
from labcore.handout import class_csv, hear_class
from labcore.model import Task

ASKED = Task(72.0, 3)


@pytest.fixture(scope="module")
def folder(tmp_path_factory, play) -> Path:
    place = tmp_path_factory.mktemp("class")
    for number in (1, 2):
        sound = play(number, short_cents=30.0 * (number - 1))
        (place / f"bench{number}_a.flac").write_bytes(flac_bytes(sound))
    (place / "bench3_broken.wav").write_bytes(b"RIFF, they said, but then they ran out of tape")
    (place / "bench4_text.flac").write_text("a shopping list")
    return place


@pytest.fixture(scope="module")
def in_turn(folder: Path):
    return hear_class(seats_in(folder, task=ASKED))


def facts(takes) -> list:
    return [
        (take.seat, take.problem, take.report and [f.sentence for f in take.report.findings])
        for take in takes
    ]


def test_a_bad_file_never_stops_the_rest_and_is_listed_with_its_sentence(in_turn) -> None:
    assert [take.report is not None for take in in_turn] == [True, True, False, False]
    assert all(len(take.problem.split()) > 4 for take in in_turn[2:])
    assert all(take.problem == "" for take in in_turn[:2])


def test_each_seat_is_judged_by_what_it_was_asked(folder, in_turn) -> None:
    table = "file,player,tempo,note value\nbench1_a.flac,window,72,4\n"
    seats = seats_in(folder, table=table, task=ASKED)[:2]
    one, two = hear_class(seats)
    assert one.report.task == Task(72.0, 4)
    assert one.report.context.player == "window"
    assert two.report.task == ASKED


def test_progress_is_told_file_by_file(folder) -> None:
    told = []
    hear_class(seats_in(folder)[2:], progress=lambda done, of: told.append((done, of)))
    assert told == [(1, 2), (2, 2)]


def test_threads_give_the_same_answer(folder, in_turn) -> None:
    with ThreadPoolExecutor(2) as executor:
        assert facts(hear_class(seats_in(folder, task=ASKED), executor=executor)) == facts(in_turn)


@pytest.mark.slow
def test_processes_give_the_same_answer(folder, in_turn) -> None:
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=spawn) as executor:
        assert facts(hear_class(seats_in(folder, task=ASKED), executor=executor)) == facts(in_turn)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # the cluster's own, on shutting down
def test_a_cluster_gives_the_same_answer(folder, in_turn) -> None:
    distributed = pytest.importorskip("distributed")
    cluster = distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    )
    with cluster, distributed.Client(cluster) as client:
        executor: Executor = client.get_executor()
        assert facts(hear_class(seats_in(folder, task=ASKED), executor=executor)) == facts(in_turn)


def test_the_teachers_table_says_who_needs_what_and_cannot_run(folder, in_turn) -> None:
    read = list(csv.DictReader(StringIO(class_csv(in_turn))))
    assert [row["player"] for row in read] == ["bench 1", "bench 2", "bench 3", "bench 4"]
    assert read[1]["work on"]
    assert read[1]["next exercise"]
    assert float(read[1]["rate"]) == pytest.approx(3.6, abs=0.1)
    assert read[2]["problem"]
    assert read[2]["rate"] == ""
    text = class_csv(hear_class(seats_in(folder, table="file,player\nbench4_text.flac,=1+1")[3:]))
    assert "'=1+1" in text


def test_the_room_is_made_of_what_could_be_heard(in_turn) -> None:
    assert room_of(take.report for take in in_turn if take.report).takes == 2


@pytest.mark.slow
def test_memory_stays_flat_over_a_long_row_of_takes(folder) -> None:
    resource = pytest.importorskip("resource", reason="a matter of POSIX")
    one = seats_in(folder)[0]
    peaks = []
    hear_class(
        [one] * 16,
        progress=lambda done, of: peaks.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss),
    )
    # Kilobytes on Linux, bytes on a Mac, where this asks for less.
    assert peaks[-1] - peaks[3] < 30_000, peaks
