"""Panels of the lesson on counting waves: how fast a note value is, the trap, practice tracks."""

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby

import ipywidgets as w
import numpy as np

from labcore.audio import wav_bytes
from labcore.beats import NOTE_VALUES
from labcore.exercises import spoken
from labcore.figures.beat import beat_figure, beat_words, trap_figure, trap_words
from labcore.handout.page import tile_svg
from labcore.panels.beat_widgets import Score, ScoreBar, TakeAway, TakeAways, Tap
from labcore.panels.controls import Button, Choice, Slider, StatusLine
from labcore.panels.physics_choice import Drawn, live, side_by_side
from labcore.panels.sound import Sound
from labcore.synthesis import (
    BarKind,
    PracticePlan,
    PracticeTrack,
    TrackBar,
    ladder,
    practice_track,
    random_switching,
    there_and_back,
)
from labcore.synthesis.tracks import track_bars

TEMPO_BPM = 72.0  # a good start for practising (common practice, no source)
TEMPO_RANGE_BPM = (40.0, 120.0)
VALUES = [str(value) for value in NOTE_VALUES]
SOUND_RATE_HZ = 22050.0  # enough for a guide note, and half as long to make
MEDIA = {"wav": "audio/wav", "mid": "audio/midi"}


# --- how fast is that? ------------------------------------------------------------------------


def beat_panel(*, tempo_bpm: float = TEMPO_BPM, cycles_per_beat: int = 3) -> w.VBox:
    """Tempo and note value as a bar of waves and as waves a second, with the bar's sound."""
    tempo, tap = tempo_controls(tempo_bpm)
    value = Choice("waves to the click", options=VALUES, value=str(cycles_per_beat))

    def draw() -> Drawn:
        chosen = int(value.value)
        return Drawn(
            beat_figure(tempo.value, cycles_per_beat=chosen),
            beat_words(tempo.value, cycles_per_beat=chosen),
        )

    def bar() -> bytes:
        return wav_bytes(_made(one_bar(tempo.value, cycles_per_beat=int(value.value))).recording)

    buttons = Sound({"hear this bar, twice": bar}, label="listen to the bar")
    picture, status = live(draw, controls=[tempo, value], player=buttons.voice)
    return w.VBox([side_by_side(tempo, tap), value, picture, status, buttons])


def tempo_controls(tempo_bpm: float) -> tuple[Slider, Tap]:
    """A slider for the tempo, and a button to tap it on."""
    low, high = TEMPO_RANGE_BPM
    tempo = Slider("tempo", value=tempo_bpm, low=low, high=high, unit="clicks a minute")
    tap = Tap()

    def take(change: object) -> None:
        tempo.value = float(round(tap.tempo_bpm))

    tap.observe(take, names="tempo_bpm")
    return tempo, tap


def one_bar(tempo_bpm: float, *, cycles_per_beat: int) -> PracticePlan:
    """Two bars of one note value without a count-in."""
    return PracticePlan((cycles_per_beat,) * 2, tempo_bpm=tempo_bpm, count_in_bars=0)


@lru_cache(maxsize=4)
def _made(plan: PracticePlan) -> PracticeTrack:
    return practice_track(plan, sample_rate_hz=SOUND_RATE_HZ)


# --- the trap ---------------------------------------------------------------------------------


def trap_panel(*, played: int = 2) -> w.VBox:
    """Even waves against the grids of all note values; the reader chooses what was played."""
    value = Choice("played, evenly", options=VALUES[1:], value=str(played))

    def draw() -> Drawn:
        return Drawn(trap_figure(int(value.value)), trap_words(int(value.value)))

    picture, status = live(draw, controls=[value])
    return w.VBox([value, picture, status])


# --- practice tracks --------------------------------------------------------------------------

ONE, LADDER, BACK, SURPRISE = "one value", "the ladder", "there and back", "surprise me"
ALWAYS, AWAY = "always", "two bars on, two off"
BEATS, EIGHTHS = "every beat", "twice a beat"
WITH_GUIDE, CLICK_ONLY = "with a guide note", "click only"
STRINGS = [str(string) for string in range(1, 7)]
HIGHEST = ("2 to 4", "2 to 5", "2 to 6")


@dataclass(frozen=True, slots=True)
class TrackWish:
    """What a reader asks of a practice track."""

    kind: str = LADDER
    value: int = 3
    highest: int = 4
    bars_each: int = 2
    tempo_bpm: float = TEMPO_BPM
    clap_bars: int = 1
    clicks: str = BEATS
    away: str = ALWAYS
    guide: str = WITH_GUIDE
    string: int = 3
    fret: int = 9
    seed: int = 1

    @property
    def note_values(self) -> tuple[int, ...]:
        """One number of waves to the click a bar."""
        values = range(2, self.highest + 1)
        if self.kind == ONE:
            return (self.value,) * 4 * self.bars_each
        if self.kind == LADDER:
            return ladder(values, bars_each=self.bars_each)
        if self.kind == BACK:
            return there_and_back(tuple(values), bars_each=self.bars_each)
        rng = np.random.default_rng(self.seed)
        return random_switching(5, rng=rng, values=values, bars_each=self.bars_each)

    @property
    def plan(self) -> PracticePlan:
        """The track that answers the wish."""
        away = self.away == AWAY
        return PracticePlan(
            self.note_values,
            tempo_bpm=self.tempo_bpm,
            clap_bars=self.clap_bars,
            clicks_per_beat=2 if self.clicks == EIGHTHS else 1,
            bars_with_click=2 if away else 0,
            bars_without_click=2 if away else 0,
            guide=self.guide == WITH_GUIDE,
            string=self.string,
            fret=self.fret,
            name=f"{self.kind} at {self.tempo_bpm:.0f}",
        )

    @property
    def file_stem(self) -> str:
        """The name of its files, without the ending."""
        what = f"{self.value} to the click" if self.kind == ONE else self.kind
        return f"{what} at {self.tempo_bpm:.0f}".replace(" ", "-")


class TrackPanel(w.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """Choose a practice track, see it engraved, play it, and take it away."""

    def __init__(self, *, wish: TrackWish | None = None) -> None:
        self.wish = wish or TrackWish()
        self.status = StatusLine()
        self.sound = Sound({"play the track": self.wav}, label="listen to the track")
        self.files = TakeAways({
            "take the sound (WAV)": lambda: self._file("wav", self.wav()),
            "take the notes (MIDI)": lambda: self._file("mid", self.track.midi),
        })  # fmt: skip
        self._build()
        plan = self.wish.plan
        self.score = Score(score_bars(plan), words=score_words(plan), player=self.sound.voice)
        self.status.say(track_words(plan))
        super().__init__([*self._rows(), self.score, self.status, self.sound, self.files])
        self.add_class("labcore-panel")

    @property
    def track(self) -> PracticeTrack:
        """The track as it stands; made once for the same wish."""
        return _made(self.wish.plan)

    def wav(self) -> bytes:
        """The track's sound file."""
        return wav_bytes(self.track.recording)

    def _file(self, ending: str, data: bytes) -> TakeAway:
        return TakeAway(f"{self.wish.file_stem}.{ending}", MEDIA[ending], data)

    # --- controls ------------------------------------------------------------------------------

    def _build(self) -> None:
        wish = self.wish
        self.kind = Choice("what to play", options=[ONE, LADDER, BACK, SURPRISE], value=wish.kind)
        self.value = Choice("waves to the click", options=VALUES, value=str(wish.value))
        self.highest = Choice("steps", options=HIGHEST, value=f"2 to {wish.highest}")
        self.bars_each = Choice("bars each", options=["1", "2", "4"], value=str(wish.bars_each))
        self.tempo, self.tap = tempo_controls(wish.tempo_bpm)
        self.clap = Choice("clap and say first", options=["no", "1 bar", "2 bars"], value="1 bar")
        self.clicks = Choice("click", options=[BEATS, EIGHTHS], value=wish.clicks)
        self.away = Choice("it sounds", options=[ALWAYS, AWAY], value=wish.away)
        self.guide = Choice("sound", options=[WITH_GUIDE, CLICK_ONLY], value=wish.guide)
        self.string = Choice("string", options=STRINGS, value=str(wish.string))
        self.fret = Slider("fret", value=wish.fret, low=0, high=19)
        self.again = Button("another surprise")
        self.again.on_press(self._surprise)
        for control in self._controls():
            control.observe(self._changed, names="value")
        self._hide()

    def _controls(self) -> list[Choice | Slider]:
        return [
            self.kind, self.value, self.highest, self.bars_each, self.tempo, self.clap,
            self.clicks, self.away, self.guide, self.string, self.fret,
        ]  # fmt: skip

    def _rows(self) -> list[w.Widget]:
        return [
            side_by_side(self.kind, self.value, self.highest, self.bars_each, self.again),
            side_by_side(self.tempo, self.tap, self.clap),
            side_by_side(self.clicks, self.away, self.guide),
            side_by_side(self.string, self.fret),
        ]

    def _changed(self, change: object) -> None:
        wish = replace(
            self.wish,
            kind=self.kind.value,
            value=int(self.value.value),
            highest=int(self.highest.value[-1]),
            bars_each=int(self.bars_each.value),
            tempo_bpm=self.tempo.value,
            clap_bars=self.clap.index or 0,
            clicks=self.clicks.value,
            away=self.away.value,
            guide=self.guide.value,
            string=int(self.string.value),
            fret=round(self.fret.value),
        )
        self._show(wish)

    def _surprise(self) -> None:
        self._show(replace(self.wish, seed=self.wish.seed + 1))

    def _show(self, wish: TrackWish) -> None:
        self.wish = wish
        self._hide()
        self.score.show(score_bars(self.wish.plan), words=score_words(self.wish.plan))
        self.status.say(track_words(self.wish.plan))

    def _hide(self) -> None:
        one = self.wish.kind == ONE
        self.value.layout.display = None if one else "none"
        self.highest.layout.display = "none" if one else None
        self.again.layout.display = None if self.wish.kind == SURPRISE else "none"
        for control in (self.string, self.fret):  # of the guide note
            control.layout.display = None if self.wish.guide == WITH_GUIDE else "none"


def score_bars(plan: PracticePlan) -> list[ScoreBar]:
    """The bars of a track as engraved pictures, like neighbours in one picture."""
    bars = list(_made_bars(plan))
    return [_score_bar(list(group), plan=plan) for _, group in groupby(bars, key=_look)]


def _made_bars(plan: PracticePlan) -> list[tuple[int, TrackBar]]:
    found, number = [], 0
    for bar in track_bars(plan):
        number += bar.kind is BarKind.PLAY
        found.append((number, bar))
    return found


def _look(numbered: tuple[int, TrackBar]) -> tuple[BarKind, int, bool]:
    _, bar = numbered
    return bar.kind, bar.cycles_per_beat, bar.clicked


def _score_bar(group: list[tuple[int, TrackBar]], *, plan: PracticePlan) -> ScoreBar:
    first, last = group[0], group[-1]
    bar = first[1]
    spans = tuple((one.start_s, one.start_s + plan.bar_s) for _, one in group)
    silent = "" if bar.clicked else ", no click"
    if bar.kind is BarKind.COUNT:
        return ScoreBar("count in", "", spans, count="1   2   3   4")
    if bar.kind is BarKind.CLAP:
        words = f"clap and say, {len(group)} {'bar' if len(group) == 1 else 'bars'}"
        return ScoreBar(words, tile_svg(bar.cycles_per_beat), spans)
    joint = "and" if len(group) == 2 else "to"
    numbers = f"bar {first[0]}" if len(group) == 1 else f"bars {first[0]} {joint} {last[0]}"
    told = f"{numbers}: {bar.cycles_per_beat} to the click{silent}"
    return ScoreBar(told, tile_svg(bar.cycles_per_beat), spans)


def score_words(plan: PracticePlan) -> str:
    """The score in a sentence, for those who do not see it."""
    told = [bar.name for bar in score_bars(plan)]
    return f"{'; '.join(told)}."


def track_words(plan: PracticePlan) -> str:
    """How long a track is, and what to say while it plays."""
    bars = len(_made_bars(plan))
    values = list(dict.fromkeys(plan.note_values))
    said = ", ".join(spoken(value) for value in values)
    return f"{bars} bars, {bars * plan.bar_s:.0f} seconds. Say: {said}."
