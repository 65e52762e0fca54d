"""A room's panel: a folder of takes heard with a count, a picture that names nobody, sheets."""

import multiprocessing
import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from html import escape
from pathlib import Path

import ipywidgets as w

from labcore.errors import LabError
from labcore.exercises import Room, next_exercise, room_of, seats_in
from labcore.figures.group import group_figure, group_words
from labcore.findings import choose
from labcore.handout import ClassTake, class_csv, hear_class, sheet, write_handout
from labcore.model import Task
from labcore.panels.beside import beside
from labcore.panels.controls import Button, Choice, StatusLine, TextBox, fold
from labcore.panels.log_words import cells, paragraphs, table_html
from labcore.panels.picture import Picture
from labcore.paths import given_path, write_whole

NO_CLICK = "no click"
# Starting processes costs more than it saves for a handful of takes.
TAKES_FOR_PROCESSES = 16


def room_executor(takes: int) -> AbstractContextManager[Executor | None]:
    """Processes for a room of takes; none for a few, or on a machine with one processor."""
    workers = min(os.cpu_count() or 1, takes)
    if workers < 2 or takes < TAKES_FOR_PROCESSES:
        return nullcontext()
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=spawn)


class ClassPanel(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """A folder of takes on the page.

    Parameters
    ----------
    folder : where the takes lie.
    table : CSV text that says who played what; else a table that lies beside the takes, or the
        names of the files, tell it.
    before : an earlier evening of the same room, as counts.
    """

    def __init__(
        self, folder: Path | str = "", *, table: str = "", before: Room | None = None
    ) -> None:
        self.takes: tuple[ClassTake, ...] = ()
        self.table, self.before = table, before
        self.status = StatusLine()
        self.folder = TextBox("folder of takes", value=str(folder))
        self.tempo = TextBox("clicks a minute", value="72", hint="or nothing")
        values = [NO_CLICK, "1", "2", "3", "4", "5", "6"]
        self.value = Choice("waves to the click", options=values, value="3")
        self.hear_all = Button("hear the room", strong=True)
        self.write_sheets = Button("write a sheet for every seat")
        self.write_table = Button("write the table")
        self._picture, self._words = w.VBox(), w.HTML()
        self._seats = w.HTML()
        super().__init__(self._rows())
        self.add_class("labcore-panel")
        self._wire()

    @property
    def room(self) -> Room:
        """The takes that could be heard, counted."""
        return room_of(take.report for take in self.takes if take.report is not None)

    def hear(self) -> None:
        """Hear every take of the folder and show the room."""
        seats = seats_in(self._place(), table=self.table, task=self._task())
        with room_executor(len(seats)) as executor:
            self.takes = hear_class(seats, executor=executor, progress=self._tell)
        heard = sum(take.report is not None for take in self.takes)
        self.status.say(f"{heard} of {len(seats)} takes heard")
        self._show()

    def sheets(self, name: str = "sheets.html") -> Path:
        """Write a page for every seat that could be heard, beside the takes."""
        reports = [take.report for take in self._heard()]
        place = self._place() / name
        return write_handout(place, sheets=[sheet(report) for report in reports if report])

    def csv(self, name: str = "who needs what.csv") -> Path:
        """Write the teacher's table beside the takes."""
        self._heard()
        place = self._place() / name
        write_whole(place, text=class_csv(self.takes), what="The table")
        return place

    def _heard(self) -> Sequence[ClassTake]:
        heard = [take for take in self.takes if take.report is not None]
        if not heard:
            raise LabError("No take has been heard yet. Choose a folder and press “hear the room”.")
        return heard

    def _place(self) -> Path:
        if not self.folder.value.strip():
            raise LabError("Write the folder of the takes first, say takes/first evening.")
        return given_path(self.folder.value.strip())

    def _task(self) -> Task:
        if self.value.value == NO_CLICK or not self.tempo.value.strip():
            return Task()
        try:
            tempo_bpm = float(self.tempo.value)
        except ValueError as error:
            raise LabError(f"The click is “{self.tempo.value}”; give a number, say 72.") from error
        return Task(tempo_bpm=tempo_bpm, cycles_per_beat=int(self.value.value))

    # --- showing ---

    def _tell(self, done: int, of: int) -> None:
        self.status.say(f"{done} of {of} files opened")

    def _show(self) -> None:
        room = self.room
        figure = group_figure(room, before=self.before)
        words = group_words(room, before=self.before)
        if self._picture.children:
            self._picture.children[0].show(figure, words=words)
        else:
            self._picture.children = [Picture(figure, words=words)]
        unheard = [take for take in self.takes if take.report is None]
        self._words.value = paragraphs([_unheard_words(len(unheard))])
        self._seats.value = seats_html(self.takes)

    # --- building ---

    def _rows(self) -> list[w.Widget]:
        return [
            beside(self.folder),
            beside(self.tempo, self.value, self.hear_all),
            self.status,
            self._picture,
            self._words,
            beside(self.write_sheets),
            fold("for the teacher alone: who needs what", self._seats, self.write_table),
        ]

    def _wire(self) -> None:
        self.hear_all.on_press(lambda: self._guarded(self.hear))
        self.write_sheets.on_press(lambda: self._guarded(self._sheets_pressed))
        self.write_table.on_press(lambda: self._guarded(self._table_pressed))

    def _sheets_pressed(self) -> None:
        self.status.say(f"Written: {self.sheets()}. Open it and print it.")

    def _table_pressed(self) -> None:
        self.status.say(f"Written: {self.csv()}. It holds names: keep it to yourself.")

    def _guarded(self, errand: Callable[[], None]) -> None:
        try:
            errand()
        except LabError as problem:
            self.status.say(str(problem), problem=True)


def _unheard_words(files: int) -> str:
    """A line that says how many, without saying whose."""
    if files == 0:
        return ""
    count = "One file" if files == 1 else f"{files} files"
    return f"{count} could not be heard; the teacher's table says why."


def seats_html(takes: Sequence[ClassTake]) -> str:
    """Who needs what, seat by seat in the order of the files. Not for the wall."""
    rows = [cells(*map(escape, _seat_words(take))) for take in takes]
    return table_html(["seat", "file", "good", "work on", "next exercise"], rows)


def _seat_words(take: ClassTake) -> list[str]:
    who = [take.seat.context.player, take.seat.path.name]
    if take.report is None:
        return [*who, "", take.problem, ""]
    choice = choose(take.report)
    said = [one.sentence if one else "" for one in (choice.praise, choice.work)]
    return [*who, *said, next_exercise(take.report).rung.title]
