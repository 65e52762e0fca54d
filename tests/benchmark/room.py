"""A whole school's evening: ``python -m tests.benchmark.room [--takes 100]``.

Takes of about 20 s are written as files, heard one after the other and then by several processes,
and written as a page a seat. All figures are ratios within the run, or memory.
"""

import argparse
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import psutil

from labcore.audio import flac_bytes
from labcore.exercises import seats_in
from labcore.handout import hear_class, sheet, write_handout
from labcore.model import Task
from labcore.panels.class_panel import room_executor
from labcore.synthesis import Playing
from tests.judging.takes import bars
from tests.made import sound_of

DIFFERENT = 10  # takes that are made; the others are copies of them under other names
TASK = Task(72.0, 3)
MEGABYTE = 1e6


def write_takes(folder: Path, *, count: int) -> float:
    """Fill a folder with takes, a bench each; how many seconds of sound that is."""
    made = []
    for seed in range(min(DIFFERENT, count)):
        description = bars("evening", Playing(cycles_per_beat=(3,) * 6), seed=seed)
        made.append(sound_of(description, seed=seed))
    for number in range(count):
        take = made[number % len(made)]
        (folder / f"bench{number + 1}_evening.flac").write_bytes(flac_bytes(take))
    return sum(made[number % len(made)].duration_s for number in range(count))


def wall_s(work: Callable[[], object]) -> float:
    """Seconds a piece of work takes, by the clock on the wall: processes count together."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Print what an evening costs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=100)
    count = parser.parse_args().takes
    memory: dict[int, float] = {}

    def note_memory(done: int, _all: int) -> None:
        memory[done] = psutil.Process().memory_info().rss / MEGABYTE

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        sound_s = write_takes(folder, count=count)
        seats = seats_in(folder, task=TASK)
        takes = hear_class(seats[:1])  # warm
        start = time.perf_counter()
        takes = hear_class(seats, progress=note_memory)
        serial_s = time.perf_counter() - start
        with room_executor(count) as executor:
            parallel_s = wall_s(lambda: hear_class(seats, executor=executor))
        sheets = [sheet(take.report) for take in takes if take.report]
        page = folder / "sheets.html"
        page_s = wall_s(lambda: write_handout(page, sheets=sheets))
        page_megabytes = page.stat().st_size / MEGABYTE
    early, late = (memory[max(1, round(count * share))] for share in (0.2, 1.0))
    print(f"{count} takes, {sound_s / 60:.0f} minutes of sound, {os.cpu_count()} processors.\n")
    print("| measure | value |")
    print("| --- | --- |")
    print(f"| heard one after the other, share of real time | {serial_s / sound_s:.4f} |")
    print(f"| by processes, times as quick | {serial_s / parallel_s:.2f} |")
    print(f"| {len(sheets)} sheets written, share of the hearing | {page_s / serial_s:.3f} |")
    print(f"| the page of all sheets | {page_megabytes:.1f} MB |")
    growth = (late - early) / (count - round(count * 0.2))
    print(f"| memory from the first fifth to the last take | {early:.0f} to {late:.0f} MB |")
    print(f"| that is, a take with its report kept | {growth:.2f} MB |")


if __name__ == "__main__":
    main()
