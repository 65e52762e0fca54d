"""The sheet's panel: choose a take and an exercise, see the page, write it, print it."""

from collections.abc import Callable
from datetime import date
from html import escape
from pathlib import Path

import ipywidgets as w

from labcore.analysis import hear, judge
from labcore.audio import load_recording
from labcore.errors import LabError
from labcore.exercises import LADDER, rung_named
from labcore.handout import PAPERS, Sheet, handout_html, print_pdf, sheet, write_handout
from labcore.model import Report
from labcore.panels.beside import beside
from labcore.panels.controls import Button, Choice, StatusLine, TextBox
from labcore.panels.demo import demo_takes

BLANK = "a blank sheet"
CHOSEN = "chosen from the take"
VIEW_PX = {"A4": 1160, "Letter": 1100}
WHOLE_PX = 740  # as wide as the sheet is at its true size; on a narrower page it shrinks


def sheet_view(*sheets: Sheet, paper: str = "A4") -> w.HTML:
    """The page as it will be printed, shown in a frame of its own."""
    return w.HTML(_frame(handout_html(sheets, paper=paper), height_px=VIEW_PX[paper]))


def _frame(html: str, *, height_px: int) -> str:
    return (
        f'<iframe title="the sheet as it will be printed" srcdoc="{escape(html)}" '
        f'style="width:100%;aspect-ratio:{WHOLE_PX}/{height_px};max-height:{height_px}px;'
        'border:1px solid #8a949a" sandbox></iframe>'
    )


class SheetPanel(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """One sheet on the page.

    Parameters
    ----------
    folder : where "write the sheet" puts it.
    first : the words of the take that is open at first.
    """

    def __init__(self, *, folder: Path | str = ".", first: str = BLANK) -> None:
        self.folder = Path(folder)
        self._demos = {demo.words: demo for demo in demo_takes()}
        self._reports: dict[str, Report] = {}
        titles = {rung.title: rung.name for rung in LADDER}
        self._rungs = {CHOSEN: "", **titles}
        self.take = Choice("take", options=[BLANK, *self._demos], value=first, as_list=True)
        self.exercise = Choice("exercise", options=list(self._rungs), as_list=True)
        self.label = TextBox("name or seat", hint="a label, no surname")
        self.paper = Choice("paper", options=list(PAPERS))
        self.write, self.print = Button("write the sheet", strong=True), Button("print it to PDF")
        self.status = StatusLine()
        self._view = w.HTML()
        super().__init__(self._rows())
        self.add_class("labcore-panel")
        self._wire()
        self._guarded(self.show)

    def made(self) -> Sheet:
        """The sheet as chosen."""
        name = self._rungs[self.exercise.value]
        report = None if self.take.value == BLANK else self._report(self.take.value)
        return sheet(
            report,
            exercise=rung_named(name) if name else None,
            player=self.label.value or None,
            on=None if report is None else date.today(),
        )

    def show(self) -> None:
        """Draw the page anew."""
        paper = self.paper.value
        self._view.value = _frame(
            handout_html([self.made()], paper=paper), height_px=VIEW_PX[paper]
        )

    def written(self) -> Path:
        """Write the page as HTML and return where it is."""
        return write_handout(
            self.folder / "sheet.html", sheets=[self.made()], paper=self.paper.value
        )

    def _report(self, words: str) -> Report:
        if words not in self._reports:
            demo = self._demos[words]
            self._reports[words] = judge(
                hear(load_recording(demo.path)), demo.task, context=demo.context
            )
        return self._reports[words]

    def _rows(self) -> list[w.Widget]:
        return [
            beside(self.take, self.exercise),
            beside(self.label, self.paper, self.write, self.print),
            self.status,
            self._view,
        ]

    def _wire(self) -> None:
        for control in (self.take, self.exercise, self.label, self.paper):
            control.observe(lambda _: self._guarded(self.show), names="value")
        self.write.on_press(lambda: self._guarded(self._written))
        self.print.on_press(lambda: self._guarded(self._printed))

    def _written(self) -> None:
        self.status.say(f"Written: {self.written()}. It opens in any browser, and prints there.")

    def _printed(self) -> None:
        pdf = print_pdf(self.written())
        said = f"Printed: {pdf}." if pdf else "No Chromium here: open sheet.html and print it."
        self.status.say(said)

    def _guarded(self, errand: Callable[[], None]) -> None:
        try:
            errand()
        except LabError as problem:
            self.status.say(str(problem), problem=True)
