"""The log's panel: weeks, fingers, the next exercise, a teacher's page, and forgetting."""

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import ipywidgets as w

from labcore.analysis import hear, judge
from labcore.errors import LabError
from labcore.exercises import (
    PastTake,
    by_finger,
    by_week,
    like_the_last,
    next_exercise,
    since_last_week,
)
from labcore.exercises.ladder import USUAL_FINGER
from labcore.figures.progress import progress_figure, progress_words
from labcore.figures.take import take_figure
from labcore.findings.words import count
from labcore.model import Take
from labcore.panels.beside import beside
from labcore.panels.controls import Button, Choice, StatusLine, TextBox, fold
from labcore.panels.log_words import (
    exercise_html,
    paragraphs,
    player_words,
    takes_html,
    task_words,
)
from labcore.panels.picture import Picture
from labcore.paths import given_path
from labcore.practice_log import PracticeLog

LAST_TAKES = 3
WHOLE_TAKE = "the whole take"


class LogDoor(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """A button that opens the reader's own log; no file is made before it is pressed."""

    def __init__(self, open_it: Callable[[], PracticeLog]) -> None:
        self._open_it = open_it
        self.button, self.status = Button("open my own log"), StatusLine()
        super().__init__([self.button, self.status])
        self.button.on_press(self.enter)

    def enter(self) -> None:
        """Show the log in the button's place."""
        try:
            self.children = [LogPanel(self._open_it(), goes_on=True)]
        except LabError as problem:
            self.status.say(str(problem), problem=True)


class LogPanel(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """One log on the page: choose a player, see the weeks, set the next task.

    ``goes_on`` is True for a log that is still written: the next exercise is then chosen for today,
    and after two weeks away is an easier one. A log that is over is read as on its last day.
    """

    def __init__(self, log: PracticeLog, *, goes_on: bool = False) -> None:
        self.practice, self._goes_on = log, goes_on
        self.status = StatusLine()
        self.player = Choice("player", options=self._labels(), as_list=True)
        self.finger = Choice("finger", options=["3"])
        self._weeks, self._fingers = w.VBox(), w.VBox()
        self._change, self._exercise = w.HTML(), w.HTML()
        self._teacher = TeacherPage(self)
        self._kept, self._typed = w.HTML(), TextBox("type the label to forget it for good")
        self._forget = Button("forget this player")
        self.file = TextBox("file", hint="ends in .sqlite, .json or .csv")
        self._out, self._in = Button("copy the log into this file"), Button("bring this file in")
        self.forget_says, self.file_says = StatusLine(), StatusLine()
        super().__init__(self._rows())
        self.add_class("labcore-panel")
        self._wire()
        self.refresh()

    # --- what a lesson or a control does ---

    @property
    def takes(self) -> tuple[PastTake, ...]:
        """All takes of the player chosen, oldest first."""
        return self.practice.history(self.player.value) if self.player.value else ()

    def refresh(self) -> None:
        """Read the log anew and show it."""
        labels = self._labels()
        self.player.options = labels
        if self.player.value not in labels:
            self.player.value = labels[0] if labels else ""
        self.guarded(self._show)

    def guarded(self, errand: Callable[[], str | None], *, line: StatusLine | None = None) -> None:
        """Do something and say what came of it, or what went wrong, in a status line."""
        says = line or self.status
        try:
            said = errand()
        except LabError as problem:
            says.say(str(problem), problem=True)
        else:
            says.say(said or "")

    def forget(self) -> str:
        """Delete the player chosen, if its label was typed as well."""
        label = self.player.value
        if not label or self._typed.value != label:
            raise LabError(f"Type “{label}” beside the button first; forgetting cannot be undone.")
        number = self.practice.forget(label)
        self._typed.value = ""
        self.refresh()
        return f"Forgotten for good: {label}, {count(number, 'take')}."

    def copy_out(self) -> str:
        """Copy the log into a fresh file, in the form that its name asks for."""
        practice, path = self.practice, _file(self.file.value)
        export = {".json": practice.export_json, ".csv": practice.export_csv}
        made = export.get(path.suffix.lower(), practice.export_to)(path)
        return f"Copied into {made}. It holds labels and remarks: keep it to yourself."

    def bring_in(self) -> str:
        """Bring in a file that was copied out, here or on another computer."""
        practice, path = self.practice, _file(self.file.value)
        come_in = {".json": practice.import_json, ".csv": practice.import_csv}
        merged = come_in.get(path.suffix.lower(), practice.merge_from)(path)
        self.refresh()
        left = f", {merged.left_out} left out as forgotten here" if merged.left_out else ""
        players = count(merged.players, "new player")
        return f"Brought in: {count(merged.takes, 'take')}, {players}{left}."

    # --- showing ---

    def _labels(self) -> list[str]:
        return [player.nickname for player in self.practice.players()]

    def _show(self) -> None:
        takes = self.takes
        like = like_the_last(takes)
        self._offer_fingers(like)
        chosen = [take for take in like if _finger(take) == self.finger.value]
        _draw(self._weeks, by_week(chosen))
        _draw(self._fingers, by_finger(like))
        self._change.value = paragraphs(since_last_week(chosen))
        now = None if self._goes_on or not takes else takes[-1].recorded
        self._exercise.value = exercise_html(next_exercise(None, takes, now=now))
        self._kept.value = paragraphs(self.practice.what_is_kept())
        self._teacher.show()

    def _offer_fingers(self, takes: tuple[PastTake, ...]) -> None:
        counts = [_finger(take) for take in takes]
        fingers = sorted(set(counts)) or [str(USUAL_FINGER)]
        self.finger.options = fingers
        if self.finger.value not in fingers:
            self.finger.value = max(fingers, key=counts.count)

    # --- building ---

    def _rows(self) -> list[w.Widget]:
        return [
            beside(self.player, self.finger),
            self.status,
            self._weeks,
            self._change,
            self._exercise,
            fold("every finger beside the others", self._fingers),
            fold("for the teacher", self._teacher),
            fold(
                "what is kept, where, and how to forget it",
                self._kept,
                beside(self._typed, self._forget, self.forget_says),
            ),
            fold(
                "to another computer and back",
                beside(self.file, self._out, self._in),
                self.file_says,
            ),
        ]

    def _wire(self) -> None:
        self.player.observe(lambda _: self.guarded(self._show), names="value")
        self.finger.observe(lambda _: self.guarded(self._show), names="value")
        self._forget.on_press(lambda: self.guarded(self.forget, line=self.forget_says))
        self._out.on_press(lambda: self.guarded(self.copy_out, line=self.file_says))
        self._in.on_press(lambda: self.guarded(self.bring_in, line=self.file_says))


def _file(text: str) -> Path:
    if not text.strip():
        raise LabError("Write the name of a file first, say practice-log-copy.sqlite.")
    return given_path(text.strip())


def _finger(take: PastTake) -> str:
    return str(take.context.finger or USUAL_FINGER)


def _draw(place: w.VBox, groups: tuple[object, ...]) -> None:
    figure, words = progress_figure(groups), progress_words(groups)  # type: ignore[arg-type]
    if not groups:
        place.children = [w.HTML(paragraphs([words]))]
    elif place.children and isinstance(place.children[0], Picture):
        place.children[0].show(figure, words=words)
    else:
        place.children = [Picture(figure, words=words)]


class TeacherPage(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """A player, one task with a date, the last three takes, a remark at a wave, an overruling."""

    def __init__(self, panel: LogPanel) -> None:
        self._panel = panel
        self._shown: dict[str, PastTake] = {}  # by when it was recorded
        self._targets: dict[str, str] = {}  # takes of everybody, and their keys
        self._kinds: dict[str, str] = {}  # what was heard in the take, and its kinds
        self._who, self._task, self._takes = w.HTML(), w.HTML(), w.HTML()
        self.instrument, self.strings = TextBox("instrument"), TextBox("strings")
        self.words, self.due = TextBox("task"), TextBox("until", hint="year-month-day")
        self.take = Choice("take", options=[], as_list=True)
        self.remark = TextBox("remark")
        self.wave = TextBox("at wave", value=WHOLE_TAKE, hint="a number")
        self.heard = Choice("what I heard", options=[], as_list=True)
        self.target = Choice("work toward", options=[], as_list=True)
        self.says = StatusLine()
        self.buttons = {
            "note instrument and strings": self.describe,
            "set the task": self.set_task,
            "write the remark": self.write_remark,
            "overrule it": self.overrule,
            "delete its sound": self.forget_sound,
            "make it the target": self.set_target,
            "lay the target over the take": self.lay_target,
        }
        self._over = w.VBox()
        super().__init__(self._rows())

    def show(self) -> None:
        """Show the player that is chosen."""
        log, label = self._panel.practice, self._panel.player.value
        self._shown = {}
        if not label:
            self._who.value = paragraphs(["The log is empty. Keep a take, and it will be here."])
            return
        player = next(one for one in log.players() if one.nickname == label)
        self._who.value = paragraphs([player_words(player)])
        self._task.value = paragraphs([task_words(log.task(label))])
        takes = log.history(label, last=LAST_TAKES)
        self._takes.value = takes_html(
            takes,
            findings=[log.findings(take.take_id) for take in takes],
            remarks=[log.remarks(take.take_id) for take in takes],
        )
        self._shown = _by_moment(takes)
        self._offer()

    def _offer(self) -> None:
        self.take.options = list(self._shown)
        if self.take.value not in self._shown:
            self.take.value = next(iter(self._shown), "")
        log = self._panel.practice
        self._targets = {
            f"{player.nickname}, {moment}": take.take_id
            for player in log.players()
            for moment, take in _by_moment(log.history(player.nickname, last=LAST_TAKES)).items()
        }
        self.target.options = list(self._targets)
        if self.target.value not in self._targets:
            self.target.value = next(iter(self._targets), "")
        self._offer_kinds()

    def _offer_kinds(self) -> None:
        take = self._shown.get(self.take.value)
        found = self._panel.practice.findings(take.take_id) if take else ()
        self._kinds = {one.sentence: one.kind for one in found}
        self.heard.options = list(self._kinds)
        if self.heard.value not in self._kinds:
            self.heard.value = next(iter(self._kinds), "")

    # --- what the buttons do ---

    def describe(self) -> str:
        """Note what the player plays."""
        self._panel.practice.describe(
            self._label, instrument=self.instrument.value, strings=self.strings.value
        )
        return "Noted."

    def set_task(self) -> str:
        """Set the one task, with a date or without."""
        self._panel.practice.set_task(
            self._label, words=self.words.value, due_on=_day(self.due.value)
        )
        return "The task is set."

    def write_remark(self) -> str:
        """Write a remark at a wave, or about the whole take."""
        wave = _wave(self.wave.value)
        self._panel.practice.add_remark(self._take.take_id, words=self.remark.value, wave=wave)
        self.remark.value = ""
        return "The remark is written."

    def overrule(self) -> str:
        """Let the teacher's ear stand over a finding."""
        kind = self._kinds.get(self.heard.value, "")
        self._panel.practice.overrule(self._take.take_id, kind=kind)
        return "Overruled; the sentence stays to be seen."

    def set_target(self) -> str:
        """Choose the take the player works toward, often the teacher's own."""
        if self.target.value not in self._targets:
            raise LabError("There is no take to work toward. Keep one first.")
        self._panel.practice.set_target(self._label, take_id=self._targets[self.target.value])
        return f"{self._label} works toward the take of {self.target.value}."

    def lay_target(self) -> str:
        """Draw the take chosen, with the target dashed over it; both need their sound."""
        target = self._panel.practice.target(self._label)
        if target is None:
            raise LabError(
                f"{self._label} has no target yet. Choose a take to work toward, often the "
                "teacher's own, and press “make it the target”."
            )
        asked = self._take.task
        own, model = (
            judge(self._heard(take_id), asked) for take_id in (self._take.take_id, target)
        )
        words = f"The take of {self.take.value}; dashed, the one to work toward."
        figure = take_figure(own, model=model)
        if self._over.children:
            self._over.children[0].show(figure, words=words)
        else:
            self._over.children = [Picture(figure, words=words)]
        return "The target lies over the take, dashed."

    def forget_sound(self) -> str:
        """Delete the sound of the take chosen; what was measured stays."""
        self._panel.practice.forget_sound(self._take.take_id)
        for picture in self._over.children:
            picture.close()
        self._over.children = []
        return "The sound of this take is deleted; its numbers stay."

    def _heard(self, take_id: str) -> Take:
        sound = self._panel.practice.sound(take_id)
        if sound is None:
            raise LabError(
                "To lay one take over another, both need their sound, and only numbers were kept "
                "of one of them. In “Analyse your take” press “keep it with its sound”."
            )
        return hear(sound)

    @property
    def _label(self) -> str:
        return str(self._panel.player.value)

    @property
    def _take(self) -> PastTake:
        if self.take.value not in self._shown:
            raise LabError("There is no take to write about. Keep one first.")
        return self._shown[self.take.value]

    def _rows(self) -> list[w.Widget]:
        pressed = {words: Button(words) for words in self.buttons}
        for words, button in pressed.items():
            button.on_press(lambda words=words: self._press(words))
        self.take.observe(lambda _: self._panel.guarded(self._offer_kinds), names="value")
        describe, task, remark, overrule, silent, target, over = pressed.values()
        return [
            self._who,
            beside(self.instrument, self.strings, describe),
            self._task,
            beside(self.words, self.due, task),
            self._takes,
            beside(self.take, silent),
            beside(self.remark, self.wave, remark),
            beside(self.heard, overrule),
            beside(self.target, target, over),
            self.says,
            self._over,
        ]

    def _press(self, words: str) -> None:
        def errand() -> str:
            said = self.buttons[words]()
            self.show()
            return said

        self._panel.guarded(errand, line=self.says)


def _by_moment(takes: Sequence[PastTake]) -> dict[str, PastTake]:
    """Takes by when they were recorded, newest first; those of one minute are numbered."""
    found: dict[str, PastTake] = {}
    for take in reversed(takes):
        moment = f"{take.recorded:%Y-%m-%d %H:%M}"
        same = sum(words.startswith(moment) for words in found)
        found[f"{moment} ({same + 1})" if same else moment] = take
    return found


def _day(text: str) -> date | None:
    if not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError as error:
        raise LabError(f"“{text}” is no date; write it as 2026-03-31, or leave it out.") from error


def _wave(text: str) -> int | None:
    if text.strip() in ("", WHOLE_TAKE):
        return None
    if not text.strip().isdecimal() or int(text) < 1:
        raise LabError(f"“{text}” is no wave; give its number, counted from 1, or nothing.")
    return int(text) - 1
