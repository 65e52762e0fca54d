"""The controls of the take panel, and how each stands for a part of its state."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from labcore.beats import NOTE_VALUES
from labcore.clicks import tempo_candidates
from labcore.errors import LabError
from labcore.figures.fan import can_show_time
from labcore.model import Place, Report, Technique
from labcore.panels.controls import Choice, Slider, TextBox
from labcore.panels.take_state import (
    BAR_CHOICES,
    FOUR_FOUR,
    BeatFrom,
    Guess,
    PanelState,
    Shown,
    heard_tempo_bpm,
)

ANY = "any"
NOT_SAID = "not said"
WITHOUT, WITH = "none", "with a click"
NO_MODEL = "nothing"
SHAPE, EARLY_LATE = "the shape", "early and late"
AS_HEARD = "what I heard first"
TEMPO_RANGE_BPM = (30.0, 240.0)
STRINGS, FRETS, FINGERS = range(1, 8), range(25), range(1, 5)
PLACES = {
    NOT_SAID: Place.UNKNOWN,
    "at the bottom: I push up from it": Place.BOTTOM,
    "in the middle: I go round it": Place.MIDDLE,
    "on top: I dip under it": Place.TOP,
}

Update = Callable[[PanelState], PanelState]


@dataclass(frozen=True, slots=True)
class Binding:
    """A control, what its value does to a state, and what a state makes it hold."""

    control: Choice | Slider | TextBox
    update: Callable[[PanelState, Any], PanelState]
    show: Callable[[PanelState], Any]


def _field(control: Any, name: str, *, read: Callable[[Any], Any], show: Any = str) -> Binding:
    """A control that stands for one field."""
    return Binding(
        control,
        lambda state, value: replace(state, **{name: read(value)}),
        lambda state: show(getattr(state, name)),
    )


def _about(control: Choice, name: str) -> Binding:
    """A list that stands for one number of the context."""

    def update(state: PanelState, words: str) -> PanelState:
        told: dict[str, Any] = {name: _number(words)}
        return replace(state, context=replace(state.context, **told))

    return Binding(
        control, update, lambda state: _words(getattr(state.context, name), none=NOT_SAID)
    )


def _number(words: str) -> int | None:
    return int(words) if words.isdigit() else None


def _words(number: int | None, *, none: str) -> str:
    return none if number is None else str(number)


def _numbers(label: str, numbers: Sequence[int]) -> Choice:
    return Choice(label, options=[NOT_SAID, *[str(k) for k in numbers]], as_list=True)


class TakeControls:
    """All controls of the panel: `on_change` hears of every move, `show` sets them to a state."""

    def __init__(self, demos: Sequence[str]) -> None:
        self._demos = list(demos)
        self._kinds: dict[str, str] = {}  # sentence of a finding: its kind
        self.take = Choice("take", options=demos, as_list=True)
        self.page = Choice("show", options=[""], as_list=True)
        self.guess = Choice("How many waves came home?", options=[str(g) for g in Guess], value="")
        self._make_click()
        self._make_about()
        self._make_teacher()
        self._bindings = [*self._beat_bindings(), *self._other_bindings()]

    def _make_click(self) -> None:
        low, high = TEMPO_RANGE_BPM
        self.with_click = Choice("click", options=[WITHOUT, WITH])
        self.tempo = Slider("tempo", value=72.0, low=low, high=high, unit="clicks a minute")
        values = [ANY, *[str(k) for k in NOTE_VALUES]]
        self.note_value = Choice("note value", options=values, hint="to the click")
        self.heard = Choice("the click I hear", options=[""], value="")
        self.beat_from = Choice("the beat is told by", options=[str(b) for b in BeatFrom])
        self.beat_one = Slider(
            "beat one", value=0.0, low=0.0, high=10.0, step=0.01, unit="seconds into the take"
        )
        self.bar = Choice(
            "beats in a bar", options=list(map(str, BAR_CHOICES)), value=str(FOUR_FOUR)
        )
        self.fan = Choice("the fan shows", options=[SHAPE, EARLY_LATE])
        self.click = [self.with_click, self.tempo, self.heard, self.note_value]
        self.beat = [self.beat_from, self.beat_one, self.bar, self.fan]

    def _make_about(self) -> None:
        self.string = _numbers("string", STRINGS)
        self.fret = _numbers("fret", FRETS)
        self.finger = _numbers("finger", FINGERS)
        self.technique = Choice("technique", options=[str(t) for t in Technique], as_list=True)
        self.home = Choice("the plain note lies", options=list(PLACES), as_list=True)
        self.player = TextBox("nickname", hint="no surname")
        self.about = [
            self.string, self.fret, self.finger, self.technique, self.home, self.player
        ]  # fmt: skip
        self.path = TextBox("path", hint="a sound file on this computer")
        self.start = TextBox("from second", hint="the beginning")
        self.end = TextBox("to second", hint="the end")
        self.by_path = [self.path, self.start, self.end]

    def _make_teacher(self) -> None:
        self.first = Choice("say first", options=[AS_HEARD], as_list=True)
        self.own_words = TextBox("or in your own words", hint="they stand in its place")
        self.model = Choice("lay another take over it", options=[NO_MODEL], as_list=True)
        self.teacher = [self.first, self.own_words, self.model]

    # --- what stands for what -------------------------------------------------------------------

    def _beat_bindings(self) -> list[Binding]:
        return [
            _field(
                self.with_click,
                "with_click",
                read=lambda words: words == WITH,
                show=lambda on: WITH if on else WITHOUT,
            ),
            _field(self.tempo, "tempo_bpm", read=float, show=float),
            _field(
                self.note_value,
                "cycles_per_beat",
                read=_number,
                show=lambda number: _words(number, none=ANY),
            ),
            Binding(self.heard, _at_heard_tempo, _heard_words),
            _field(self.beat_from, "beat_from", read=BeatFrom),
            _field(self.beat_one, "beat_origin_s", read=float, show=float),
            _field(self.bar, "beats_per_bar", read=int),
            _field(
                self.fan,
                "fan_in_time",
                read=lambda words: words == EARLY_LATE,
                show=lambda in_time: EARLY_LATE if in_time else SHAPE,
            ),
        ]

    def _other_bindings(self) -> list[Binding]:
        return [
            _about(self.string, "string"),
            _about(self.fret, "fret"),
            _about(self.finger, "finger"),
            Binding(
                self.player,
                lambda state, name: replace(
                    state, context=replace(state.context, player=name.strip())
                ),
                lambda state: state.context.player,
            ),
            _field(self.technique, "technique", read=Technique),
            _field(self.home, "home", read=PLACES.__getitem__, show=_place_words),
            _field(self.guess, "guess", read=Guess, show=lambda guess: guess or ""),
            _field(self.first, "first", read=self._kinds.get, show=self._sentence),
            Binding(self.own_words, self._overrule, self._own_words),
            _field(self.page, "page", read=self._page_number, show=self._page_words),
        ]

    def _sentence(self, kind: str | None) -> str:
        return next((words for words, k in self._kinds.items() if k == kind), AS_HEARD)

    def _page_number(self, words: str) -> int:
        return self.page.options.index(words) if words in self.page.options else 0

    def _page_words(self, page: int) -> str:
        return self.page.options[min(page, len(self.page.options) - 1)]

    def _overrule(self, state: PanelState, words: str) -> PanelState:
        """The teacher's words in place of the finding that is said first."""
        if state.first is None:
            return state
        others = tuple(pair for pair in state.overruled if pair[0] != state.first)
        own = ((state.first, words.strip()),) if words.strip() else ()
        return replace(state, overruled=others + own)

    def _own_words(self, state: PanelState) -> str:
        return dict(state.overruled).get(state.first or "", "")

    # --- between the panel and the controls -------------------------------------------------------

    def on_change(self, change: Callable[[Update], None]) -> None:
        """Call ``change`` with what to do to the state, at every move of a control."""
        for bound in self._bindings:
            bound.control.observe(lambda event, b=bound: _moved(change, b, event.new), "value")

    def part(self) -> tuple[float, float | None]:
        """Which part of a file to open: its start and end in seconds, None for the file's end.

        Raises
        ------
        LabError
            Something other than a number was written.
        """
        return _seconds(self.start.value) or 0.0, _seconds(self.end.value)

    def show(self, state: PanelState, *, opened: Sequence[str], seen: Shown | None) -> None:
        """Set every control to the state, and hide what does not apply."""
        own = [words for words in opened if words not in self._demos]
        self.take.options = [*self._demos, *own]
        self.take.value = state.name
        self.model.options = [NO_MODEL, *self._demos, *own]
        self.model.value = state.model_name or NO_MODEL
        self._offer(state, seen)
        for bound in self._bindings:
            bound.control.value = bound.show(state)
        self._hide(state, seen)

    def _offer(self, state: PanelState, seen: Shown | None) -> None:
        self.heard.options = list(heard_tempos(state)) or [""]
        if state.take is not None:
            self.beat_one.high = max(1.0, state.take.facts.duration_s)
        if seen is None:
            return
        self._kinds.clear()
        self._kinds.update({} if seen.ask_guess else _sentences(seen.report))
        self.first.options = [AS_HEARD, *self._kinds]
        self.page.options = list(seen.pages)

    def _hide(self, state: PanelState, seen: Shown | None) -> None:
        clicks = state.with_click
        visible = {
            self.tempo: clicks,
            self.note_value: clicks,
            self.heard: clicks and _is_other_tempo(state),
            self.beat_one: state.beat_from is BeatFrom.GIVEN,
            self.fan: seen is not None and can_show_time(seen.report),
            self.guess: seen is not None and seen.ask_guess,
            self.page: len(self.page.options) > 1,
        }
        for control, is_seen in visible.items():
            control.layout.display = None if is_seen else "none"
        self.own_words.enabled = state.first is not None


def _moved(change: Callable[[Update], None], bound: Binding, value: Any) -> None:
    if value != "" or isinstance(bound.control, TextBox):
        change(lambda state: bound.update(state, value))


def _seconds(words: str) -> float | None:
    if not words.strip():
        return None
    try:
        return float(words.replace(",", "."))
    except ValueError as error:
        raise LabError(
            f"“{words}” is not a number of seconds; write one, such as 12.5, or leave it empty."
        ) from error


def _place_words(place: Place) -> str:
    return next(words for words, p in PLACES.items() if p is place)


def _sentences(report: Report) -> dict[str, str]:
    return {finding.sentence: finding.kind for finding in report.findings}


SHARE_WORDS = {1.0: "", 0.5: "half: ", 2.0: "double: "}


def heard_tempos(state: PanelState) -> dict[str, float]:
    """Tempos to choose from when a click was heard, the likeliest first: its own, half, double."""
    own, clicks = heard_tempo_bpm(state.take), state.take.clicks if state.take else None
    if own is None or clicks is None:
        return {}
    shares = [tempo / clicks.tempo_bpm for tempo in tempo_candidates(clicks)]
    offered = {f"{SHARE_WORDS[share]}{own * share:g}": own * share for share in shares}
    low, high = TEMPO_RANGE_BPM
    return {words: tempo for words, tempo in offered.items() if low <= tempo <= high}


def _is_other_tempo(state: PanelState) -> bool:
    """Whether a click was heard, and the tempo set is neither its own nor its half or double."""
    offered = heard_tempos(state).values()
    return bool(offered) and state.tempo_bpm not in offered


def _heard_words(state: PanelState) -> str:
    found = [words for words, bpm in heard_tempos(state).items() if bpm == state.tempo_bpm]
    return found[0] if found else ""


def _at_heard_tempo(state: PanelState, words: str) -> PanelState:
    return replace(state, tempo_bpm=heard_tempos(state).get(words, state.tempo_bpm))
