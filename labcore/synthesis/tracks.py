"""Practice tracks: a click, a guide note with ideal waves, and the same as a MIDI file.

The form is that of the lessons: a note on beat 1, held plain for a beat, waves on the rest of
the bar. A track is never louder than `LOUDEST_PEAK_DB`, from its first sample to its last.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from labcore.beats import NOTE_VALUES, beat_s, check_cycles_per_beat, check_tempo
from labcore.errors import LabError
from labcore.model import Floats, Place, Recording
from labcore.synthesis.description import ClickKind, Knots, NoteDescription, line_through
from labcore.synthesis.forms import fretted_hz
from labcore.synthesis.midi import (
    TICKS_PER_BEAT,
    MidiEvent,
    bend_events,
    bend_range_messages,
    midi_file,
    note_pair,
    tempo,
    text,
    time_signature,
)
from labcore.synthesis.motion import waves
from labcore.synthesis.sound import add_at, amplitude, click_track, note_sound
from labcore.synthesis.take import made_recording
from labcore.units import STANDARD_TUNING_NUMBERS

LOUDEST_PEAK_DB = -12.0  # safe listening: the reader turns up, the track never starts loud
QUIETEST_PEAK_DB = -60.0
MOST_BARS = 200
GUIDE_UNDER_CLICK_DB = -4.0  # the click stays on top of the guide note
TAIL_S = 0.5
MIDI_CLICK_CHANNEL, MIDI_GUIDE_CHANNEL = 9, 0  # General MIDI: percussion is the tenth channel
MIDI_ACCENT, MIDI_CLICK = 76, 77  # General MIDI: high and low wood block
MIDI_STEEL_GUITAR = 25  # General MIDI program 26, counted from 0
MIDI_BEND_TICKS = 5  # 4 ms at 72 bpm
PLAIN_BAR = 0  # as a note value: hold the plain note for this bar


class BarKind(StrEnum):
    """What the player does in a bar."""

    COUNT = "count in"
    CLAP = "clap and say"
    PLAY = "play"


@dataclass(frozen=True, slots=True)
class TrackBar:
    """One bar of a practice track."""

    start_s: float
    kind: BarKind
    cycles_per_beat: int  # 0 is a plain bar
    clicked: bool


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """What a practice track holds; ``note_values`` has one number of waves to the click a bar."""

    note_values: tuple[int, ...] = (3, 3, 3, 3)
    tempo_bpm: float = 72.0
    beats_per_bar: int = 4
    count_in_bars: int = 1
    clap_bars: int = 0  # after the count-in, with the first note value, without the guide
    plain_beats: int = 1  # of each bar, before the waves
    clicks_per_beat: int = 1  # 2: on every eighth
    bars_with_click: int = 0  # then ...
    bars_without_click: int = 0  # ... so many in silence, and again; 0 is a click throughout
    click_kind: ClickKind = ClickKind.WOOD
    guide: bool = True
    string: int = 3
    fret: int = 9
    extent_cents: float = 50.0
    place: Place = Place.BOTTOM
    peak_db: float = -18.0
    name: str = "practice track"

    def __post_init__(self) -> None:
        check_tempo(self.tempo_bpm)
        if not 1 <= len(self.note_values) <= MOST_BARS:
            raise LabError(
                f"{len(self.note_values)} bars were asked for; a track has 1 to {MOST_BARS}."
            )
        for value in self.note_values:
            if value != PLAIN_BAR:
                check_cycles_per_beat(value)
        self._check_bar()
        if not QUIETEST_PEAK_DB <= self.peak_db <= LOUDEST_PEAK_DB:
            raise LabError(
                f"The track's loudest moment is asked at {self.peak_db:g} dB; it must lie between "
                f"{QUIETEST_PEAK_DB:g} and {LOUDEST_PEAK_DB:g}. Turn up where you listen instead."
            )
        if not 0 <= self.fret <= 24:
            raise LabError(f"The fret is {self.fret}; it must lie between 0 and 24.")
        fretted_hz(self.string, fret=self.fret)

    def _check_bar(self) -> None:
        if not 1 <= self.beats_per_bar <= 12:
            raise LabError(f"{self.beats_per_bar} beats a bar were asked for; choose 1 to 12.")
        if not 0 <= self.plain_beats < self.beats_per_bar:
            raise LabError(
                f"{self.plain_beats} plain beats leave no waves in a bar of {self.beats_per_bar}."
            )
        if self.clicks_per_beat not in (1, 2):
            raise LabError(
                f"{self.clicks_per_beat} clicks a beat were asked for; choose 1 (beats) or 2 "
                "(eighths). More of them hinder more than they help."
            )
        counts = (
            self.count_in_bars,
            self.clap_bars,
            self.bars_with_click,
            self.bars_without_click,
        )
        if min(counts) < 0 or max(counts) > MOST_BARS:
            raise LabError(f"Numbers of bars must lie between 0 and {MOST_BARS}.")
        if self.bars_without_click and not self.bars_with_click:
            raise LabError("A click that goes away must first be there; give bars with a click.")

    @property
    def bar_s(self) -> float:
        return self.beats_per_bar * beat_s(self.tempo_bpm)


@dataclass(frozen=True, slots=True, eq=False)
class PracticeTrack:
    """The sound of a plan, its bars, its clicks, and the same as a standard MIDI file."""

    plan: PracticePlan
    recording: Recording
    midi: bytes
    bars: tuple[TrackBar, ...]
    click_s: tuple[float, ...]


# --- plans ------------------------------------------------------------------------------------


def ladder(values: Sequence[int] = (2, 3, 4, 5, 6), *, bars_each: int = 2) -> tuple[int, ...]:
    """Note values one after the other.

    >>> ladder((2, 3), bars_each=2)
    (2, 2, 3, 3)
    """
    return tuple(value for value in values for _ in range(bars_each))


def there_and_back(values: Sequence[int] = (2, 3, 4), *, bars_each: int = 1) -> tuple[int, ...]:
    """Up the ladder and down again; the top is not said twice.

    >>> there_and_back((2, 3, 4))
    (2, 3, 4, 3, 2)
    """
    return ladder((*values, *reversed(values[:-1])), bars_each=bars_each)


def random_switching(
    changes: int,
    *,
    rng: np.random.Generator,
    values: Sequence[int] = (2, 3, 4),
    bars_each: int = 2,
) -> tuple[int, ...]:
    """Note values in no order, never the same twice running; ``changes`` + 1 of them."""
    if len(set(values)) < 2:
        raise LabError("Give at least two note values to switch between.")
    chosen = [int(rng.choice(list(values)))]
    for _ in range(changes):
        chosen.append(int(rng.choice([value for value in values if value != chosen[-1]])))
    return ladder(chosen, bars_each=bars_each)


# --- bars and clicks --------------------------------------------------------------------------


def track_bars(plan: PracticePlan) -> tuple[TrackBar, ...]:
    """Count-in, bars to clap, bars to play."""
    before = [(BarKind.COUNT, plan.note_values[0])] * plan.count_in_bars
    before += [(BarKind.CLAP, plan.note_values[0])] * plan.clap_bars
    playing = [(BarKind.PLAY, value) for value in plan.note_values]
    bars = []
    for index, (kind, value) in enumerate(before + playing):
        clicked = _clicked(plan, index - len(before))
        bars.append(TrackBar(index * plan.bar_s, kind, value, clicked))
    return tuple(bars)


def _clicked(plan: PracticePlan, played_bar: int) -> bool:
    if played_bar < 0 or not plan.bars_without_click:
        return True
    return played_bar % (plan.bars_with_click + plan.bars_without_click) < plan.bars_with_click


def _clicks(plan: PracticePlan, bars: Sequence[TrackBar]) -> list[tuple[float, bool]]:
    """Moments of the clicks, and whether each begins a bar."""
    step_s = beat_s(plan.tempo_bpm) / plan.clicks_per_beat
    each = plan.beats_per_bar * plan.clicks_per_beat
    return [
        (bar.start_s + index * step_s, index == 0)
        for bar in bars
        if bar.clicked
        for index in range(each)
    ]


def guide_knots(plan: PracticePlan, *, cycles_per_beat: int) -> Knots:
    """The ideal bar: plain, then even waves that all come home, exactly on the grid."""
    if cycles_per_beat == PLAIN_BAR:
        return ()
    step_s = beat_s(plan.tempo_bpm)
    return waves(
        (plan.beats_per_bar - plan.plain_beats) * cycles_per_beat,
        rate_hz=cycles_per_beat / step_s,
        extent_cents=plan.extent_cents,
        start_s=plan.plain_beats * step_s,
        place=plan.place,
    )


# --- sound ------------------------------------------------------------------------------------


def practice_track(plan: PracticePlan, *, sample_rate_hz: float = 44100.0) -> PracticeTrack:
    """A plan made into sound, MIDI and a list of its bars.

    The same plan gives the same track; ``note_values`` may come from `ladder`,
    `there_and_back` or `random_switching`.
    """
    bars = track_bars(plan)
    clicks = _clicks(plan, bars)
    size = round((len(bars) * plan.bar_s + TAIL_S) * sample_rate_hz)
    sound = _click_sound(plan, clicks, size, sample_rate_hz)
    if plan.guide:
        gain = amplitude(GUIDE_UNDER_CLICK_DB)
        sound += gain * _guide_sound(plan, bars, size, sample_rate_hz)
    sound *= amplitude(plan.peak_db) / max(float(np.max(np.abs(sound))), 1e-12)
    recording = made_recording(
        sound.astype(np.float32), sample_rate_hz=sample_rate_hz, name=plan.name
    )
    midi = midi_file(_midi_tracks(plan, bars), end_tick=_ticks(plan, len(bars) * plan.bar_s))
    return PracticeTrack(plan, recording, midi, bars, tuple(time_s for time_s, _ in clicks))


def _click_sound(
    plan: PracticePlan, clicks: Sequence[tuple[float, bool]], size: int, sample_rate_hz: float
) -> Floats:
    sound = np.zeros(size)
    for accent in (False, True):
        sound += click_track(
            tuple(time_s for time_s, first in clicks if first is accent),
            size=size,
            sample_rate_hz=sample_rate_hz,
            kind=plan.click_kind,
            level_db=0.0,
            accent_every=1 if accent else 0,
        )
    return sound


def _guide_sound(
    plan: PracticePlan, bars: Sequence[TrackBar], size: int, sample_rate_hz: float
) -> Floats:
    sound = np.zeros(size)
    hz = fretted_hz(plan.string, fret=plan.fret)
    rng = np.random.default_rng(0)  # only the plectrum's noise hangs on it
    for bar in (bar for bar in bars if bar.kind is BarKind.PLAY):
        knots = guide_knots(plan, cycles_per_beat=bar.cycles_per_beat)
        note = NoteDescription(bar.start_s, plan.bar_s, hz, knots=knots, decay_s=2.5)
        start = int(np.ceil(bar.start_s * sample_rate_hz - 1e-6))
        delay_s = start / sample_rate_hz - bar.start_s
        played = note_sound(note, sample_rate_hz=sample_rate_hz, rng=rng, delay_s=delay_s)
        add_at(sound, played / np.max(np.abs(played)), start=start)
    return sound


# --- MIDI -------------------------------------------------------------------------------------


def _ticks(plan: PracticePlan, time_s: float) -> int:
    return round(time_s / beat_s(plan.tempo_bpm) * TICKS_PER_BEAT)


def _midi_tracks(plan: PracticePlan, bars: Sequence[TrackBar]) -> list[list[MidiEvent]]:
    tracks = [_midi_head(plan, bars), _midi_clicks(plan, bars)]
    return [*tracks, _midi_guide(plan, bars)] if plan.guide else tracks


def _midi_head(plan: PracticePlan, bars: Sequence[TrackBar]) -> list[MidiEvent]:
    head = [text(3, plan.name), time_signature(plan.beats_per_bar), tempo(plan.tempo_bpm)]
    events = [MidiEvent(0, order, message) for order, message in enumerate(head)]
    for bar in bars:
        value = NOTE_VALUES.get(bar.cycles_per_beat, "plain")
        marker = text(6, f"{bar.kind.value}: {value}")
        events.append(MidiEvent(_ticks(plan, bar.start_s), len(head), marker))
    return events


def _midi_clicks(plan: PracticePlan, bars: Sequence[TrackBar]) -> list[MidiEvent]:
    events = [MidiEvent(0, 0, text(3, "click"))]
    for time_s, first in _clicks(plan, bars):
        events += note_pair(
            MIDI_ACCENT if first else MIDI_CLICK,
            channel=MIDI_CLICK_CHANNEL,
            velocity=90 if first else 70,
            tick=_ticks(plan, time_s),
            ticks=TICKS_PER_BEAT // 8,
        )
    return events


def _midi_guide(plan: PracticePlan, bars: Sequence[TrackBar]) -> list[MidiEvent]:
    channel = MIDI_GUIDE_CHANNEL
    number = STANDARD_TUNING_NUMBERS[plan.string - 1] + plan.fret
    events = [MidiEvent(0, 0, text(3, "guide")), *bend_range_messages(channel=channel)]
    events.append(MidiEvent(0, 0, bytes([0xC0 | channel, MIDI_STEEL_GUITAR])))
    bar_ticks = plan.beats_per_bar * TICKS_PER_BEAT
    inside = np.arange(0, bar_ticks, MIDI_BEND_TICKS, dtype=np.int64)
    time_s = inside * beat_s(plan.tempo_bpm) / TICKS_PER_BEAT
    for bar in (bar for bar in bars if bar.kind is BarKind.PLAY):
        tick = _ticks(plan, bar.start_s)
        knots = guide_knots(plan, cycles_per_beat=bar.cycles_per_beat)
        events += bend_events(inside + tick, line_through(knots, time_s), channel=channel)
        events += note_pair(number, channel=channel, velocity=72, tick=tick, ticks=bar_ticks)
    return events
