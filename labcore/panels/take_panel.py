"""The take panel: choose or drop a recording, set a click, see and read what was heard.

One frozen `PanelState`; every control changes it through `TakePanel.change`, and the page follows
from it alone (`labcore.panels.take_state.shown`). A recording is heard once; a moved slider only
judges it again. Whatever goes wrong becomes a sentence in the status line, and the state stays.
"""

import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import ipywidgets as w

from labcore.analysis import bars_of, hear
from labcore.audio import load_recording, wav_bytes
from labcore.errors import LabError
from labcore.figures.loudness import loudness_figure, loudness_words
from labcore.figures.words import are_waves_told, lasting
from labcore.model import ClickTrack, Context, Recording, Report, Take, Task
from labcore.panels.beside import beside
from labcore.panels.controls import Button, Choice, StatusLine, dimmed, fold
from labcore.panels.demo import DemoTake, demo_takes
from labcore.panels.drop import FileDrop, take_name
from labcore.panels.holding import made_room_words, to_let_go
from labcore.panels.keeping import Keep
from labcore.panels.picture import Picture
from labcore.panels.player import LONGEST_SOUND_S, PLAY, Player, take_sounds
from labcore.panels.take_controls import NO_MODEL, TakeControls
from labcore.panels.take_state import (
    BAR_CHOICES,
    FIRST_TEMPO_BPM,
    FOUR_FOUR,
    Guess,
    PanelState,
    Shown,
    heard_tempo_bpm,
    shown,
)

log = logging.getLogger(__name__)
NOTHING_ASKED = Task()
NO_SOUND = "This take is too long to be played here; open a part of it."


@dataclass(frozen=True, slots=True)
class PanelExtras:
    """What a lesson may add to the panel.

    folds : words to unfold, and a function from report to HTML that fills them.
    asked : controls that stand in such a fold; a move of one fills it again.
    sounds : words on a button, and a function that makes a recording of the same length from the
        take and its report.
    suits : whether such a sound makes sense for a report; its button is hidden where not.
    keep : words on a button, and a function that keeps the take and says what was kept.
    """

    folds: Mapping[str, Callable[[Report], str]] = field(default_factory=dict)
    asked: Mapping[str, Sequence[Choice]] = field(default_factory=dict)
    sounds: Mapping[str, Callable[[Recording, Report], Recording]] = field(default_factory=dict)
    suits: Callable[[str, Report], bool] = lambda words, report: True
    keep: Mapping[str, Keep] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class OpenTake:
    """A take that was heard in this panel, with what is known of it beforehand."""

    recording: Recording
    take: Take
    task: Task
    context: Context
    beats_per_bar: int = FOUR_FOUR


class TakePanel(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """The panel of the main job.

    >>> panel = TakePanel(demos=())
    >>> panel.state.take is None
    True
    """

    def __init__(
        self,
        *,
        demos: Sequence[DemoTake] | None = None,
        first: str | None = None,
        extras: PanelExtras | None = None,
    ) -> None:
        self.state = PanelState()
        self._demos = {d.words: d for d in (demo_takes() if demos is None else demos)}
        self._open: dict[str, OpenTake] = {}
        self._guesses: dict[str, Guess] = {}  # by the words a take is listed under
        self._made_for: tuple[object, ...] = ()  # what the sounds that were made depend on
        self._seen: Shown | None = None
        self._extras = extras or PanelExtras()
        self.status = StatusLine()
        self.controls = TakeControls(list(self._demos))
        self.player = Player()
        self.player.add_class("labcore-wide")
        self.picture: Picture | None = None
        self.loudness: Picture | None = None
        self._build()
        super().__init__(self._rows())
        self.add_class("labcore-panel")
        self._wire()
        chosen = [words for words, demo in self._demos.items() if demo.name == first]
        if self._demos:
            self.choose((chosen or list(self._demos))[0])

    # --- what a lesson or a control does ---------------------------------------------------------

    def change(self, update: Callable[[PanelState], PanelState]) -> None:
        """Do something to the state, such as ``lambda state: replace(state, tempo_bpm=80.0)``."""
        new = update(self.state)
        if new != self.state:
            self._guarded(lambda: self.set_state(new))

    def set_state(self, state: PanelState) -> None:
        """Show another state; if it cannot be shown, the old one stays.

        Raises
        ------
        LabError
            What is wrong with the state.
        """
        seen = shown(state)
        is_new_take = state.take is not self.state.take
        self.state, self._seen = state, seen
        if state.guess is not None:
            self._guesses[state.name] = state.guess
        if seen is not None:
            self._show(seen, is_new_take=is_new_take)

    def choose(self, words: str) -> None:
        """Open a demo take, or a take opened before, by the words it is listed under."""
        self._guarded(lambda: self._choose(words))

    def open_file(self, name: str, data: bytes) -> None:
        """Open what was dropped on the page."""
        self._guarded(lambda: self._load(data, name=take_name(name)))

    def open_path(self, path: str) -> None:
        """Open a file of this computer."""
        self._path_says.say("")
        if path.strip():
            self._guarded(lambda: self._load(path.strip()), line=self._path_says)

    def open_recording(
        self,
        recording: Recording,
        *,
        clicks: ClickTrack | None = None,
        task: Task | None = None,
        is_placed: bool = True,
        beats_per_bar: int | None = None,
    ) -> None:
        """Open what a recorder made; ``clicks`` are the times it set itself.

        Where a ``task`` with a tempo was set beforehand, the take is shown against it. Without
        ``is_placed`` nobody knows how late the player heard the clicks, so the take keeps none
        and early or late is not judged.
        """

        def open_it() -> None:
            self._hear(
                recording,
                clicks=clicks,
                task=task or NOTHING_ASKED,
                is_placed=is_placed,
                beats_per_bar=beats_per_bar,
            )
            if task is not None and task.tempo_bpm is not None:
                self.set_state(_asked(self.state, task, tempo_bpm=task.tempo_bpm))

        self._guarded(open_it)

    def add_source(self, source: w.Widget) -> None:
        """Put another way to get a take, such as a recorder, beside the drop zone."""
        self._sources.children = (*self._sources.children, source)

    # --- hearing ----------------------------------------------------------------------------------

    def _guarded(self, work: Callable[[], None], *, line: StatusLine | None = None) -> None:
        """Do something; what goes wrong is said in ``line``, beside what was pressed."""
        told = line or self.status
        try:
            work()
        except LabError as problem:
            told.say(str(problem), problem=True)
        except Exception as problem:
            log.exception("the take panel met something unexpected")
            told.say(
                "Something went wrong that should not "
                f"({type(problem).__name__}: {problem}). Your take and your choices stand as "
                "they were; try another take or another choice.",
                problem=True,
            )
        self.controls.show(self.state, opened=list(self._open), seen=self._seen)

    @contextmanager
    def _listening(self, name: str) -> Iterator[None]:
        """Say what is being heard, and dim what the page says of the take before."""
        before, was_problem = self.status.text, self.status.problem
        self.status.say(f"Listening to {name}")
        try:
            with dimmed(self._picture_place, self._words, *self._after_guess):
                yield
        except Exception:
            self.status.say(before, problem=was_problem)  # the take before stays
            raise

    def _load(self, source: str | bytes, *, name: str | None = None) -> None:
        start_s, end_s = self.controls.part()
        with self._listening(name or Path(str(source)).stem):
            recording = load_recording(source, name=name, start_s=start_s, end_s=end_s)
            self._hear(recording)

    def _choose(self, words: str) -> None:
        if words in self._open:
            self._turn_to(words)
            return
        demo = self._demos.get(words)
        if demo is None:
            raise LabError(f"There is no take “{words}” in the list; choose one that is there.")
        with self._listening(words):
            self._open[words] = _opened(demo)
            self._turn_to(words)
            self._make_room()

    def _hear(
        self,
        recording: Recording,
        *,
        clicks: ClickTrack | None = None,
        task: Task = NOTHING_ASKED,
        is_placed: bool = True,
        beats_per_bar: int | None = None,
    ) -> None:
        with self._listening(recording.name):
            take = hear(recording, clicks=clicks)
            take = take if is_placed else replace(take, clicks=None)
            words = f"your take: {recording.name}"
            beats = _beats_per_bar(recording, take, told=beats_per_bar)
            self._open[words] = OpenTake(recording, take, task, Context(), beats)
            self._guesses.pop(words, None)  # another take may have had this name
            self._turn_to(words)
            self._make_room()

    def _turn_to(self, words: str) -> None:
        """Show a take; the click is as it was chosen, the rest starts anew."""
        opened = self._open[words]
        tempo_bpm = heard_tempo_bpm(opened.take) or opened.task.tempo_bpm or FIRST_TEMPO_BPM
        self.set_state(
            PanelState(
                name=words,
                recording=opened.recording,
                take=opened.take,
                tempo_bpm=self.state.tempo_bpm if self.state.with_click else tempo_bpm,
                with_click=self.state.with_click,
                cycles_per_beat=self.state.cycles_per_beat,
                beats_per_bar=opened.beats_per_bar,
                technique=opened.task.technique,
                home=opened.task.home,
                context=opened.context,
                guess=self._guesses.get(words),
                model_name=self.state.model_name,
                model=self.state.model,
            )
        )
        self.status.say(_opened_words(opened))
        for line in (self._keep_says, self._sound_says, self._path_says, self._teacher_says):
            line.say("")

    def _make_room(self) -> None:
        """Let go of the takes opened longest ago, so that a long afternoon fills no memory."""
        shown_now = (self.state.name, self.state.model_name)
        opened = {words: take.recording for words, take in self._open.items()}
        gone = to_let_go(opened, keep=shown_now)
        for words in gone:
            del self._open[words]
        if own := [words for words in gone if words not in self._demos]:
            self.status.say(f"{self.status.text} {made_room_words(own)}")

    def _lay_over(self, words: str) -> None:
        """Lay a take from the list over the one shown; "" takes it away."""
        if words and words not in self._open:
            self._teacher_says.say(f"Listening to {words}")
            self._open[words] = _opened(self._demos[words])
        model = self._open[words].take if words else None
        self.set_state(replace(self.state, model=model, model_name=words))
        self._teacher_says.say(f"{words} is the dashed line." if words else "")

    # --- showing ----------------------------------------------------------------------------------

    def _show(self, seen: Shown, *, is_new_take: bool) -> None:
        self._show_pictures(seen, is_new_take=is_new_take)
        self._beat.layout.display = None if self.state.with_click else "none"
        self.player.offer_stretches(seen.stretches)
        self._words.value = seen.words
        self._measures.value = seen.measures
        self._evidence.value = seen.evidence
        for words in self._added:
            self._fill(words)
        for box in self._after_guess:
            box.layout.display = "none" if seen.ask_guess else None
        made_for = (self.state.name, seen.report.task, self.state.beat_from)
        is_stale = len(self.player.labels) > 1 and made_for != self._made_for
        if (is_new_take or is_stale) and self.state.recording is not None:
            self.player.load(take_sounds(self.state.recording))
        self._made_for = made_for
        self._offer(seen.report)

    def _show_pictures(self, seen: Shown, *, is_new_take: bool) -> None:
        if self.picture is None:
            self.picture = Picture(seen.figure, words=seen.figure_words, player=self.player.voice)
            self._picture_place.children = [self.picture]
        else:
            self.picture.show(seen.figure, words=seen.figure_words)
        if not is_new_take:
            return
        figure, words = loudness_figure(seen.report), loudness_words(seen.report)
        if self.loudness is None:
            self.loudness = Picture(figure, words=words, player=self.player.voice)
            self._loudness_place.children = [self.loudness]
        else:
            self.loudness.show(figure, words=words)

    # --- building ---------------------------------------------------------------------------------

    def _build(self) -> None:
        self.drop = FileDrop(
            on_file=self.open_file,
            on_problem=lambda sentence: self.status.say(sentence, problem=True),
        )
        self._picture_place, self._loudness_place = w.VBox(), w.VBox()
        self._words, self._measures, self._evidence = w.HTML(), w.HTML(), w.HTML()
        asked = self._extras.asked
        self._added = {
            words: fold(words, w.HTML(), beside(*asked.get(words, ())))
            for words in self._extras.folds
        }
        self._more_sounds = [Button(words) for words in self._extras.sounds]
        self._keeps = [Button(words) for words in self._extras.keep]
        self._keep_says, self._sound_says = StatusLine(), StatusLine()
        self._path_says, self._teacher_says = StatusLine(), StatusLine()
        self._beat = fold("where the beat falls", beside(*self.controls.beat))
        self._sources = beside(self.controls.take, self.drop)

    def _rows(self) -> list[w.Widget]:
        controls = self.controls
        folds = [
            fold("all measures", self._measures),
            fold("why I say so", self._evidence),
            *self._added.values(),
            fold("for the teacher", *controls.teacher, self._teacher_says),
        ]
        self._sounds_fold = fold(
            "hear it with the click, or mended", beside(*self._more_sounds, self._sound_says)
        )
        folds.insert(0, self._sounds_fold)
        self._after_guess = folds
        return [
            self._sources,
            beside(*controls.click),
            self._beat,
            self.status,
            beside(controls.page),
            self._picture_place,
            self.player,
            controls.guess,
            self._words,
            beside(*self._keeps, self._keep_says),
            *folds,
            fold("string, fret, finger, technique", beside(*controls.about)),
            fold("loudness", self._loudness_place),
            fold(
                "open a take by its path, or only a part of it",
                beside(*controls.by_path, self._path_says),
            ),
        ]

    def _wire(self) -> None:
        self.controls.on_change(self.change)
        self.controls.take.observe(lambda change: self._picked(change.new), names="value")
        self.controls.path.observe(lambda change: self.open_path(change.new), names="value")
        self.controls.model.observe(lambda change: self._laid(change.new), names="value")
        for button, keep in zip(self._keeps, self._extras.keep.values(), strict=True):
            button.on_press(lambda keep=keep: self._keep_it(keep))
        for words, box in self._added.items():
            box.children[0].observe(
                lambda _event, words=words: self._guarded(lambda: self._fill(words)), "is_open"
            )
            for control in self._extras.asked.get(words, ()):
                control.observe(
                    lambda _event, words=words: self._guarded(lambda: self._fill(words)), "value"
                )
        for button, make in zip(self._more_sounds, self._extras.sounds.values(), strict=True):
            button.on_press(lambda button=button, make=make: self._add_sound(button.label, make))

    def _fill(self, words: str) -> None:
        """Fill what a lesson folded in, if it is open: a slider waits for nothing unseen."""
        handle, inside = self._added[words].children
        if not handle.is_open or self._seen is None:
            return
        make, seen = self._extras.folds[words], self._seen
        inside.children[0].value = "" if seen.ask_guess else make(seen.report)

    def _picked(self, words: str) -> None:
        if words != self.state.name:
            self.choose(words)

    def _laid(self, words: str) -> None:
        chosen = "" if words == NO_MODEL else words
        if chosen != self.state.model_name:
            self._guarded(lambda: self._lay_over(chosen), line=self._teacher_says)

    def _keep_it(self, keep: Keep) -> None:
        seen, recording = self._seen, self.state.recording
        if seen is not None and recording is not None:
            self._guarded(
                lambda: self._keep_says.say(keep(recording, seen.report)), line=self._keep_says
            )

    def _add_sound(self, words: str, make: Callable[[Recording, Report], Recording]) -> None:
        seen, recording = self._seen, self.state.recording
        if seen is None or recording is None:
            return

        def add() -> None:
            self._sound_says.say(f"Making “{words}”")
            sounds = dict(zip(self.player.labels, self.player.sounds, strict=True))
            self.player.load({**sounds, words: wav_bytes(make(recording, seen.report))})
            self.player.play(words)
            self._offer(seen.report)
            self._sound_says.say(f"“{words}” is ready, beside “{PLAY}”.")

        self._guarded(add, line=self._sound_says)

    def _offer(self, report: Report) -> None:
        """Show the buttons that make sense for a take; a sound that was made is in the player."""
        labels = self.player.labels
        suit = {b: bool(labels) and self._extras.suits(b.label, report) for b in self._more_sounds}
        for button, is_suited in suit.items():
            _see(button, is_suited and button.label not in labels)
        if not any(suit.values()):
            _see(self._sounds_fold, False)
        is_kept = bool(report.take.notes) and are_waves_told(report)
        for button in self._keeps:
            _see(button, is_kept)


def _see(widget: w.Widget, is_seen: bool) -> None:
    widget.layout.display = None if is_seen else "none"


def _asked(state: PanelState, task: Task, *, tempo_bpm: float) -> PanelState:
    """The state with the click and the note value a take was played to."""
    return replace(
        state, with_click=True, tempo_bpm=tempo_bpm, cycles_per_beat=task.cycles_per_beat
    )


def _opened(demo: DemoTake) -> OpenTake:
    recording = demo.recording()
    take = hear(recording)
    return OpenTake(recording, take, demo.task, demo.context, _beats_per_bar(recording, take))


def _beats_per_bar(recording: Recording, take: Take, *, told: int | None = None) -> int:
    """As they were told, else as an accented click tells them; four where none does."""
    bars = bars_of(recording, take=take) if told is None else None
    beats = told if bars is None else bars.beats
    return beats if beats in BAR_CHOICES else FOUR_FOUR


def _opened_words(opened: OpenTake) -> str:
    notes = len(opened.take.notes)
    counted = "one note" if notes == 1 else f"{notes or 'no'} notes"
    words = f"{lasting(opened.recording.duration_s)}, {counted} heard"
    tempo_bpm = heard_tempo_bpm(opened.take)
    if tempo_bpm is not None:
        words += f", and a click that runs at {tempo_bpm:g} a minute"
    long = f" {NO_SOUND}" if opened.recording.duration_s > LONGEST_SOUND_S else ""
    return f"{words}.{long}"
