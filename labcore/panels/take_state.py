"""What the take panel stands at, and what follows from it; no widget is known here.

`PanelState` is frozen: a moved control makes another one. `judged` is the only way to a report,
and `shown` the only way to what the page shows.
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum

import plotly.graph_objects as go

from labcore.analysis import judge
from labcore.figures.take import take_figure
from labcore.figures.words import landing_counts, take_words
from labcore.figures.writing import ROWS_A_PAGE, Writing, write
from labcore.model import Context, Landing, Place, Recording, Report, Take, Task, Technique
from labcore.panels.take_words import evidence_html, measures_html, words_html

FIRST_TEMPO_BPM = 72.0  # a good start for practising (common practice, no source)
FOUR_FOUR, BAR_CHOICES = 4, (2, 3, 4, 6)  # beats in a bar where no accent tells, and those offered


class BeatFrom(StrEnum):
    """What tells the panel where the beat falls; the words are shown."""

    CLICKS = "the clicks I hear"
    WAVES = "the waves themselves"
    GIVEN = "a time I give"


class Guess(StrEnum):
    """What a player thinks before the words appear."""

    ALL = "all"
    MOST = "most"
    FEW = "few"
    TELL = "just tell me"


@dataclass(frozen=True, slots=True)
class PanelState:
    """Everything a reader has chosen, and the take it is about."""

    name: str = ""  # what the take is listed under
    recording: Recording | None = None
    take: Take | None = None
    with_click: bool = False
    tempo_bpm: float = FIRST_TEMPO_BPM
    cycles_per_beat: int | None = None  # None: whatever was played
    beats_per_bar: int = FOUR_FOUR
    beat_from: BeatFrom = BeatFrom.CLICKS
    beat_origin_s: float = 0.0
    technique: Technique = Technique.NOT_SAID
    home: Place = Place.UNKNOWN
    context: Context = field(default_factory=Context)
    guess: Guess | None = None
    first: str | None = None  # the kind of finding the teacher wants to come first
    overruled: tuple[tuple[str, str], ...] = ()  # kind of finding, the teacher's own words
    model: Take | None = None  # a take laid over this one
    model_name: str = ""  # and what that is listed under
    page: int = 0
    fan_in_time: bool = False  # the fan shows early and late instead of the shape alone

    @property
    def task(self) -> Task:
        """What was asked; nothing about the beat without a click."""
        asked = Task(technique=self.technique, home=self.home)
        if not self.with_click:
            return asked
        given = self.beat_origin_s if self.beat_from is BeatFrom.GIVEN else None
        return replace(
            asked,
            tempo_bpm=self.tempo_bpm,
            cycles_per_beat=self.cycles_per_beat,
            beat_origin_s=given,
        )


@dataclass(frozen=True, slots=True)
class Shown:
    """What the page shows of a state."""

    report: Report
    figure: go.Figure
    figure_words: str
    words: str  # HTML: what was heard, praise, work, remedy
    measures: str  # HTML: all measures
    evidence: str  # HTML: why each thing is said
    ask_guess: bool  # whether the reader is asked to guess first
    stretches: tuple[tuple[str, float, float], ...]  # what may be played over and over
    pages: tuple[str, ...]


def heard_tempo_bpm(take: Take | None) -> float | None:
    """Tempo of the clicks in a recording, to a tenth; None where none were heard."""
    if take is None or take.clicks is None or take.clicks.time_s.size < 2:
        return None
    return round(take.clicks.tempo_bpm, 1)


def judged(state: PanelState) -> Report | None:
    """The take set against what was chosen, with what the teacher overruled; None without one."""
    if state.take is None:
        return None
    report = judge(_with_the_beat(state, state.take), state.task, context=state.context)
    overruled = dict(state.overruled)
    findings = tuple(
        replace(finding, overruled_by=overruled.get(finding.kind)) for finding in report.findings
    )
    return replace(report, findings=findings)


def _with_the_beat(state: PanelState, take: Take) -> Take:
    """The take without its clicks where the reader wants the beat read from the waves."""
    return replace(take, clicks=None) if state.beat_from is BeatFrom.WAVES else take


def shown(state: PanelState) -> Shown | None:
    """Everything the page shows; None before there is a take."""
    report = judged(state)
    if report is None:
        return None
    counts = landing_counts(report)
    can_guess = any(counts[kind] for kind in Landing if kind is not Landing.UNKNOWN)
    ask = can_guess and state.guess is None
    model = None
    if state.model is not None:
        model = judge(_with_the_beat(state, state.model), state.task)
    writing = write(report, beats_per_bar=state.beats_per_bar)
    return Shown(
        report=report,
        figure=take_figure(
            report,
            model=model,
            heads=not ask,
            beats_per_bar=state.beats_per_bar,
            page=state.page,
            fan_in_time=state.fan_in_time,
        ),
        figure_words=take_words(report, heads=not ask, model=model),
        words="" if ask else words_html(report, guess=state.guess, first=state.first),
        measures="" if ask else measures_html(report),
        evidence="" if ask else evidence_html(report),
        ask_guess=ask,
        stretches=stretches(writing),
        pages=tuple(_page_name(writing.page(k)[0].name, k) for k in range(writing.pages)),
    )


def stretches(writing: Writing) -> tuple[tuple[str, float, float], ...]:
    """What may be played over and over: each row's name, start and end in seconds."""
    return tuple((_row_name(row.name), row.start_s, row.end_s) for row in writing.rows)


def _row_name(name: str) -> str:
    return f"bar {name}" if name.isdigit() else f"from {name}"


def _page_name(first: str, page: int) -> str:
    return f"{_row_name(first)} on" if page else f"the first {ROWS_A_PAGE} rows"
