"""The panel of the lesson on changing the note value inside one take."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from html import escape

import ipywidgets as w

from labcore.analysis import hear, judge
from labcore.audio import load_recording
from labcore.beats import beat_s
from labcore.errors import LabError
from labcore.exercises import remedy, spoken
from labcore.figures.switching import switch_figure, switch_words
from labcore.figures.writing import write
from labcore.findings import switch_findings
from labcore.model import Finding, Measure, Recording, Report, Take, Task, Verdict
from labcore.panels.beat_panel import tempo_controls
from labcore.panels.controls import Choice, StatusLine, dimmed
from labcore.panels.demo import demo_take
from labcore.panels.drop import FileDrop, take_name
from labcore.panels.holding import made_room_words, to_let_go
from labcore.panels.physics_choice import side_by_side
from labcore.panels.picture import Picture
from labcore.panels.player import Player, take_sounds
from labcore.panels.switch_examples import EXAMPLES, SwitchExample
from labcore.panels.take_state import heard_tempo_bpm
from labcore.switching import HeldStretch, Plan, held_stretches, plan_of

log = logging.getLogger(__name__)
BEATS_A_BAR = 4
DESK = "front desk: the whole ladder"
NOTHING = "nothing: show what was played"
MARKS = {Verdict.SETTLED: "+", Verdict.NEARLY: "~", Verdict.WORK: "!", Verdict.NOT_ENOUGH: "?"}

# What may have been planned: the words, and the values in order.
PLANS: dict[str, tuple[int, ...]] = {
    NOTHING: (),
    "2 4": (2, 4),
    "3 6": (3, 6),
    "2 3 4": (2, 3, 4),
    "3 4": (3, 4),
    "3 4 5 6": (3, 4, 5, 6),
    "2 3 4 5 6": (2, 3, 4, 5, 6),
    "2 3 4 3 2": (2, 3, 4, 3, 2),
    "2 3 4 5 6 5 4 3 2": (2, 3, 4, 5, 6, 5, 4, 3, 2),
}


@dataclass(frozen=True, slots=True)
class SwitchTake:
    """A take of the panel with what was planned; ``values`` are empty where nothing was."""

    recording: Recording
    take: Take
    tempo_bpm: float
    values: tuple[int, ...] = ()
    bars_each: int = 2


def planned(report: Report, *, values: Sequence[int], bars_each: int) -> Plan | None:
    """The plan of so many bars a value from the take's first bar on; None without values."""
    if not values or report.task.tempo_bpm is None:
        return None
    bar_s = BEATS_A_BAR * beat_s(report.task.tempo_bpm)
    first_s = write(report, beats_per_bar=BEATS_A_BAR).rows[0].start_s
    return plan_of(values, first_s=first_s, bar_s=bar_s, bars_each=bars_each)


@cache
def desk_ladder() -> SwitchTake:
    """The front desk's ladder of the demo folder, heard as any take is; once."""
    recording = demo_take("desk_ladder").recording()
    return SwitchTake(recording, hear(recording), 72.0, (2, 3, 4, 5, 6))


def _example(example: SwitchExample) -> SwitchTake:
    recording, take = example.made
    values = tuple(value for _, value in example.plan)
    return SwitchTake(recording, take, 72.0, values)


class SwitchPanel(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """A take, what was planned in it, and how soon each new note value was there."""

    def __init__(self, *, first: str = DESK) -> None:
        self._makers: dict[str, Callable[[], SwitchTake]] = {DESK: desk_ladder}
        self._makers |= {one.name: partial(_example, one) for one in EXAMPLES}
        self._takes: dict[str, SwitchTake] = {}
        self.status, self.player = StatusLine(), Player()
        self.player.add_class("labcore-wide")
        self.chosen = Choice("take", options=list(self._makers), value=first, as_list=True)
        self.plan = Choice("planned, to the click", options=list(PLANS), as_list=True)
        self.bars_each = Choice("bars each", options=["1", "2", "4"], value="2")
        self.tempo, self.tap = tempo_controls(72.0)
        self.drop = FileDrop(on_file=self.open_file, on_problem=self._refuse)
        self.words, self.table = w.HTML(), w.HTML()
        self._place = w.VBox()  # of the picture
        self._old = (self._place, self.words, self.table)  # what is said of the take before
        self._moving = False
        self._open(first)
        report, plan = self._judged()
        self.picture = Picture(
            switch_figure(report, plan=plan),
            words=switch_words(report, plan=plan),
            player=self.player.voice,
        )
        self._place.children = [self.picture]
        self._say(report, plan)
        self.chosen.observe(lambda change: self._guarded(lambda: self._open(change.new)), "value")
        for control in (self.plan, self.bars_each, self.tempo):
            control.observe(lambda _: self._guarded(lambda: None), "value")
        super().__init__(self._rows())
        self.add_class("labcore-panel")

    def _rows(self) -> list[w.Widget]:
        return [
            side_by_side(self.chosen, self.drop),
            side_by_side(self.plan, self.bars_each),
            side_by_side(self.tempo, self.tap),
            self.status,
            self._place,
            self.player,
            self.words,
            self.table,
        ]

    # --- what a reader does --------------------------------------------------------------------

    def open_file(self, name: str, data: bytes) -> None:
        """Hear what was dropped; its click gives the tempo, if it has one."""
        self._guarded(lambda: self._hear(take_name(name), data))

    def _hear(self, name: str, data: bytes) -> None:
        words = f"your take: {name}"
        self.status.say(f"Listening to {name}")
        with dimmed(*self._old):
            recording = load_recording(data, name=name)
            take = hear(recording)
        tempo_bpm = heard_tempo_bpm(take) or self.tempo.value
        self._takes.pop(words, None)  # opened again, it is the newest
        self._takes[words] = SwitchTake(recording, take, tempo_bpm)
        room = self._make_room(keep=words)
        self.chosen.options = list(dict.fromkeys([*self._makers, *self._takes]))
        if self.chosen.value == words:  # a file of that name was open already
            self._open(words)
        self.chosen.value = words
        self.status.say(room)

    def _make_room(self, *, keep: str) -> str:
        """Let go of the takes opened longest ago; what is said of it."""
        opened = {words: one.recording for words, one in self._takes.items()}
        gone = to_let_go(opened, keep=(keep,))
        for words in gone:
            del self._takes[words]
        return made_room_words([words for words in gone if words not in self._makers])

    def _open(self, words: str) -> None:
        """Turn to a take of the list, with the plan it was played to."""
        if words not in self._takes:
            with dimmed(*self._old):
                self._takes[words] = self._makers[words]()
        opened = self._takes[words]
        self._moving = True
        found = [name for name, values in PLANS.items() if values == opened.values]
        self.plan.value = found[0] if found else NOTHING
        self.bars_each.value = str(opened.bars_each)
        self.tempo.value = opened.tempo_bpm
        self._moving = False
        self.player.load(take_sounds(opened.recording))

    def _refuse(self, sentence: str) -> None:
        self.status.say(sentence, problem=True)

    def _guarded(self, work: Callable[[], None]) -> None:
        if self._moving:
            return
        try:
            self.status.say("")
            work()
            self._show()
        except LabError as problem:
            self._refuse(str(problem))
        except Exception as problem:
            log.exception("the panel of changes met something unexpected")
            self._refuse(
                f"Something went wrong that should not ({type(problem).__name__}: {problem}). "
                "Your choices stand as they were; try another take or another plan."
            )
        finally:
            self._moving = False

    # --- showing -------------------------------------------------------------------------------

    def _judged(self) -> tuple[Report, Plan | None]:
        report = judge(self._takes[self.chosen.value].take, Task(tempo_bpm=self.tempo.value))
        values = PLANS[self.plan.value]
        return report, planned(report, values=values, bars_each=int(self.bars_each.value))

    def _show(self) -> None:
        report, plan = self._judged()
        figure = switch_figure(report, plan=plan)
        self.picture.show(figure, words=switch_words(report, plan=plan))
        self._say(report, plan)

    def _say(self, report: Report, plan: Plan | None) -> None:
        held = held_stretches(report, plan=plan)
        self.words.value = findings_html(switch_findings(report, plan=plan), report=report)
        self.table.value = stretches_html(held)
        self.player.offer_stretches([(_name(one), one.start_s, one.end_s) for one in held])


# --- words ------------------------------------------------------------------------------------


def findings_html(findings: Sequence[Finding], *, report: Report) -> str:
    """What was heard of the changes, one line a finding, and a remedy for the first to work on."""
    lines = [_line(finding) for finding in findings] or [
        "<p class='labcore-heard'>No change of note value was heard.</p>"
    ]
    to_do = next((f for f in findings if f.verdict in (Verdict.WORK, Verdict.NEARLY)), None)
    inside = "".join(lines) + (_remedy_html(to_do, report=report) if to_do else "")
    return f"<div class='labcore-says' role='region' aria-label='what I heard'>{inside}</div>"


def changes_html(report: Report) -> str:
    """The changes of note value in a take, whatever was asked, and its stretches one by one."""
    if report.task.tempo_bpm is None:
        return "<p class='labcore-note'>Choose “with a click” and set the tempo first.</p>"
    free = replace(report, task=replace(report.task, cycles_per_beat=None))
    said = findings_html(switch_findings(free), report=report)
    return said + stretches_html(held_stretches(free))


def _remedy_html(finding: Finding, *, report: Report) -> str:
    found = remedy(finding.kind, report=report)
    mark = "<span class='labcore-mark' aria-hidden='true'>→</span>"
    return (
        f"<p class='labcore-remedy'>{mark}{escape(found.sentence)}</p>"
        f"<p class='labcore-listen'>Listen: {escape(found.listen)}</p>"
        f"<p class='labcore-caution'>{escape(found.caution)}</p>"
    )


def _line(finding: Finding) -> str:
    kind = "praise" if finding.verdict is Verdict.SETTLED else "work"
    if finding.verdict is Verdict.NOT_ENOUGH:
        kind = "heard"
    mark = f"<span class='labcore-mark' aria-hidden='true'>{MARKS[finding.verdict]}</span>"
    return f"<p class='labcore-{kind}'>{mark}{escape(finding.sentence)}</p>"


def stretches_html(held: Sequence[HeldStretch]) -> str:
    """One row a stretch: what was played, how many waves, how wide, how even, come home."""
    if not held:
        return ""
    heads = ("played", "waves", "width", "width varies by", "length varies by", "came home")
    head = "".join(f"<th>{words}</th>" for words in heads)
    rows = "".join(_row(one) for one in held)
    note = "Width is bottom to top in cents (100 cents = one fret). Narrower when faster is normal."
    return (
        f"<table class='labcore-table labcore-numbers'><tr>{head}</tr>{rows}</table>"
        f"<p class='labcore-note'>{note}</p>"
    )


def _name(held: HeldStretch) -> str:
    return "no one value" if held.value is None else f"{held.value} to the click"


def _row(held: HeldStretch) -> str:
    played = _name(held)
    if held.asked is not None and held.asked != held.value:
        played += f" ({held.asked} planned)"
    if held.value:  # under it, not in a column of its own: a narrow page has no room for one
        played += f"<br><small>{spoken(held.value)}</small>"
    measures = held.measures
    cells = (
        str(held.waves),
        _number(measures.extent, "cents"),
        _number(measures.extent_evenness, "%"),
        _number(measures.time_evenness, "%"),
        _number(measures.returned_share, "%"),
    )
    return f"<tr><th scope='row'>{played}</th>{''.join(f'<td>{c}</td>' for c in cells)}</tr>"


def _number(measure: Measure | None, unit: str) -> str:
    return "not enough to say" if measure is None else f"{measure.value:.0f} {unit}"
