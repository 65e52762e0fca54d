"""The records of the project: frozen, checked once at the door.

Conventions
-----------
Times are seconds of the recording. Pitches are hertz, differences are cents. Scalars are plain
``float`` or ``None``; NaN stands only in arrays and means 'no pitch here'. Arrays are read-only,
one value a frame. An ``error`` is one standard error, how well we know a number; a ``spread`` is
how much the player varied.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from enum import StrEnum
from math import isfinite
from numbers import Real
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labcore.beats import check_cycles_per_beat, check_tempo
from labcore.errors import LabError
from labcore.units import cents_between

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def read_only(values: ArrayLike, dtype: Any = np.float64) -> NDArray[Any]:
    """A frozen copy: the caller's array stays writable."""
    array = np.array(values, dtype=dtype)
    array.setflags(write=False)
    return array


class _Columns:
    """Freezes the array fields of a record, also after pickling (which thaws arrays)."""

    __slots__ = ()

    def __post_init__(self) -> None:
        for part in fields(self):  # type: ignore[arg-type]  # every subclass is a dataclass
            value = getattr(self, part.name)
            if isinstance(value, np.ndarray):
                object.__setattr__(self, part.name, read_only(value, value.dtype))

    def __reduce__(self) -> tuple[Any, tuple[Any, ...]]:
        return type(self), tuple(getattr(self, part.name) for part in fields(self))  # type: ignore[arg-type]


# --- sound ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RecordingFacts:
    """What a result remembers of a recording: never its samples."""

    name: str
    sha256: str  # of the mono float32 samples, little-endian
    sample_rate_hz: float
    duration_s: float
    warnings: tuple[str, ...] = ()  # sentences a player may read


@dataclass(frozen=True, slots=True, eq=False)
class Recording(_Columns):
    """Checked mono sound: finite, at least a fraction of a second, full scale is 1.

    ``beside`` is the other channel of a stereo take where that holds another sound than the
    guitar, perhaps a metronome; as long as ``samples``.
    """

    samples: NDArray[np.float32]
    sample_rate_hz: float
    name: str
    sha256: str
    warnings: tuple[str, ...] = ()
    beside: NDArray[np.float32] | None = None

    @property
    def duration_s(self) -> float:
        return self.samples.size / self.sample_rate_hz

    @property
    def facts(self) -> RecordingFacts:
        return RecordingFacts(
            self.name, self.sha256, self.sample_rate_hz, self.duration_s, self.warnings
        )


class ClickSource(StrEnum):
    """How the times of the metronome clicks came to us."""

    KNOWN = "known"  # the recorder or the practice track set them
    HEARD = "heard"  # found in the sound
    GUESSED = "guessed"  # placed by the reader


@dataclass(frozen=True, slots=True, eq=False)
class ClickTrack(_Columns):
    """Metronome clicks in a recording, ascending."""

    time_s: Floats
    source: ClickSource
    spread_s: float  # one sigma of a click around its own even series

    def __post_init__(self) -> None:
        object.__setattr__(self, "time_s", np.asarray(self.time_s, dtype=np.float64))
        if not (np.isfinite(self.time_s).all() and (np.diff(self.time_s) > 0.0).all()):
            raise LabError(
                "The times of the clicks are not in order, or some are no numbers; give seconds, "
                "each later than the one before."
            )
        _Columns.__post_init__(self)

    @property
    def tempo_bpm(self) -> float:
        """Clicks a minute, from the median time between neighbours."""
        return 60.0 / float(np.median(np.diff(self.time_s)))


# --- pitch ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class PitchContour(_Columns):
    """Pitch over time on an even grid; all arrays have shape (frames,) but ``attack_s``.

    ``error_cents`` is one sigma of the pitch in a frame (NaN where there is no pitch).
    ``stray_db`` is the level of the strongest partial that belongs to another sound, relative to
    the note's own strongest partial (NaN where unknown): a second string, hum, speech.
    """

    time_s: Floats
    frequency_hz: Floats  # NaN where there is no pitch, never 0
    level_db: Floats  # re full scale
    error_cents: Floats
    stray_db: Floats
    attack_s: Floats  # shape (attacks,): plucks and re-plucks, ascending
    step_s: float  # about 5 ms, never assumed

    def __post_init__(self) -> None:
        sizes = {
            name: getattr(self, name).size
            for name in ("time_s", "frequency_hz", "level_db", "error_cents", "stray_db")
        }
        if len(set(sizes.values())) > 1:
            given = ", ".join(f"{size} values of {name}" for name, size in sizes.items())
            raise LabError(f"A contour was given {given}; give one of each a frame.")
        _Columns.__post_init__(self)

    @property
    def voiced(self) -> NDArray[np.bool_]:
        """True where there is a pitch; shape (frames,)."""
        return np.isfinite(self.frequency_hz)

    def frames(self, start_s: float, end_s: float) -> slice:
        """The frames from ``start_s`` to ``end_s``, both included."""
        first = np.searchsorted(self.time_s, start_s, side="left")
        return slice(int(first), int(np.searchsorted(self.time_s, end_s, side="right")))

    def voiced_frames(self, start_s: float, end_s: float) -> NDArray[np.intp]:
        """Numbers of the frames with a pitch from ``start_s`` to ``end_s``, ascending."""
        inside = self.frames(start_s, end_s)
        found = np.flatnonzero(np.isfinite(self.frequency_hz[inside]))
        return np.asarray(inside.start + found, dtype=np.intp)


class TurnKind(StrEnum):
    """Which way the pitch turned: at a HIGH it had risen before."""

    HIGH = "high"
    LOW = "low"


@dataclass(frozen=True, slots=True)
class Turn:
    """A turning point of the pitch."""

    time_s: float
    hz: float
    error_cents: float
    kind: TurnKind
    rest_s: float = 0.0  # how much longer the pitch stays there than a round turn would


@dataclass(frozen=True, slots=True)
class PlainPart:
    """A stretch of a note that is held without vibrato."""

    start_s: float
    end_s: float
    hz: float  # median pitch
    error_cents: float
    spread_cents: float  # how far the pitch wanders while it is held
    moved_cents: float = 0.0  # from a pitch held just before, less than a fret away; up is positive

    @property
    def duration_s(self) -> float:
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class Note:
    """One sounding note, from its pluck to its end or the next pluck.

    ``turns`` ascend in time; neighbours are of unlike kind unless a hole lies between them.
    """

    onset_s: float
    offset_s: float
    turns: tuple[Turn, ...]
    plain_parts: tuple[PlainPart, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """What was heard: everything that knows no tempo and no task."""

    facts: RecordingFacts
    clicks: ClickTrack | None
    contour: PitchContour
    notes: tuple[Note, ...]


# --- what was asked, and by whom -------------------------------------------------------------


class Place(StrEnum):
    """Where in its waves a vibrato is at home."""

    BOTTOM = "bottom"  # a bend from the fret: out and back down
    MIDDLE = "middle"  # a roll or an arm round the pitch
    TOP = "top"  # a held bend let down, an arm dip
    UNKNOWN = "unknown"


class HomeSource(StrEnum):
    """What the pitch of home was read from, best first."""

    GIVEN = "given"
    STRAIGHT = "straight part"
    LANDING = "plain landing"
    REFERENCE = "reference take"
    ELSEWHERE = "elsewhere in the take"
    WAVES = "waves"  # judges neither return nor direction


class Technique(StrEnum):
    """What moved the pitch, if the reader says so."""

    NOT_SAID = "not said"
    BEND = "bend"
    ROLL = "roll"
    ARM = "arm"
    CIRCLE = "circle"
    HELD_BEND = "held bend"


_Kind = TypeVar("_Kind", bound=StrEnum)


def _one_of(kinds: type[_Kind], given: str, name: str) -> _Kind:
    """The kind of that word; a plain string would be taken for none of them by whoever asks."""
    try:
        return kinds(given)
    except ValueError as error:
        known = ", ".join(kinds)
        raise LabError(f"“{given}” is no {name} that is known; choose one of: {known}.") from error


def _check_number(name: str, value: Any) -> None:
    if value is not None and not (isinstance(value, Real) and isfinite(value)):
        raise LabError(f"{name} is {value!r:.40}; give a number, or leave it out.")


@dataclass(frozen=True, slots=True)
class Task:
    """What the player set out to do; None is 'not asked', and then nothing is judged against it."""

    tempo_bpm: float | None = None
    cycles_per_beat: int | None = None
    technique: Technique = Technique.NOT_SAID
    home: Place = Place.UNKNOWN
    home_hz: float | None = None  # the pitch of home, if the reader gives it
    beat_origin_s: float | None = None  # a time on the beat, if the reader gives it

    def __post_init__(self) -> None:
        object.__setattr__(self, "technique", _one_of(Technique, self.technique, "technique"))
        object.__setattr__(self, "home", _one_of(Place, self.home, "place of home"))
        for name in ("tempo_bpm", "cycles_per_beat", "home_hz", "beat_origin_s"):
            _check_number(name, getattr(self, name))
        if self.tempo_bpm is not None:
            check_tempo(self.tempo_bpm)
        if self.cycles_per_beat is not None:
            check_cycles_per_beat(self.cycles_per_beat)
        if self.home_hz is not None and not 20.0 <= self.home_hz <= 5000.0:
            raise LabError(
                f"Home is given as {self.home_hz:g} Hz; a guitar's notes lie between 20 and "
                "5000 Hz. Give the pitch of the plain note, or leave it out."
            )


@dataclass(frozen=True, slots=True)
class Context:
    """Who played what; all may be unknown."""

    player: str = ""
    guitar: str = ""
    string: int | None = None  # 1 is the thinnest
    fret: int | None = None
    finger: int | None = None  # 1 index to 4 little finger

    def __post_init__(self) -> None:
        for name, low, high in (("string", 1, 12), ("fret", 0, 36), ("finger", 1, 4)):
            value = getattr(self, name)
            _check_number(name, value)
            if value is not None and not low <= value <= high:
                raise LabError(
                    f"The {name} is {value}; it must lie between {low} and {high}, or be left out."
                )


# --- what came out ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Home:
    """The pitch a vibrato comes back to."""

    hz: float
    error_cents: float
    place: Place
    source: HomeSource
    start_s: float | None = None  # where in the recording it was read
    end_s: float | None = None


@dataclass(frozen=True, slots=True)
class VibratoCycle:
    """One wave: out from home and back. Starts and ends low, or high where home is on top."""

    note: int  # index into the take's notes
    start: Turn
    turn: Turn
    end: Turn
    home: Home | None

    @property
    def start_s(self) -> float:
        return self.start.time_s

    @property
    def turn_s(self) -> float:
        return self.turn.time_s

    @property
    def end_s(self) -> float:
        return self.end.time_s

    @property
    def duration_s(self) -> float:
        return self.end.time_s - self.start.time_s

    @property
    def leaves_s(self) -> float:
        """When the pitch leaves home: after half of a rest that it starts in the middle of."""
        return self.start.time_s + self.start.rest_s / 2.0

    @property
    def back_s(self) -> float:
        """When the pitch is back, before it rests."""
        return self.end.time_s - self.end.rest_s / 2.0

    @property
    def extent_cents(self) -> float:
        """Peak to peak, from the turn to the mean of the two ends; never negative."""
        out = cents_between(self.turn.hz, self.start.hz) + cents_between(self.turn.hz, self.end.hz)
        return abs(out) / 2.0

    @property
    def return_cents(self) -> float | None:
        """How far above home the wave came back to; None where home is not known or lies between.

        Read at the end of the wave for a home at the bottom or top. For a home in the middle
        the sides are read together: how far the middle of the wave lies above home.
        """
        if self.home is None:
            return None
        if self.home.place is Place.MIDDLE:
            ends = cents_between(self.start.hz, self.home.hz) / 2.0
            ends += cents_between(self.end.hz, self.home.hz) / 2.0
            return (ends + cents_between(self.turn.hz, self.home.hz)) / 2.0
        return cents_between(self.end.hz, self.home.hz)


@dataclass(frozen=True, slots=True)
class Dropped:
    """A wave that was heard but not counted, and why."""

    start_s: float
    end_s: float
    why: str


class BeatOrigin(StrEnum):
    """What tells where the beat falls."""

    CLICKS = "clicks"
    RECORDER = "recorder"
    GIVEN = "given"  # placed by the reader
    FITTED = "fitted"  # best fit to the waves: cannot judge early or late


@dataclass(frozen=True, slots=True, eq=False)
class GridFit(_Columns):
    """How the waves of one stretch sit on the grid of the note value they were played in.

    ``cycle`` holds indices into ``Report.cycles``, shape (n,); ``asynchrony_s`` is the signed
    distance of each to its grid line around ``offset_s``, late is positive, shape (n,).
    """

    start_s: float
    end_s: float
    cycle: Ints
    asynchrony_s: Floats
    cycles_per_beat: float  # as measured
    named: int | None  # the note value, 1 to 6, named before any phase test
    rate_error_percent: float | None  # against the named value; positive is fast
    offset_s: float
    concentration: float  # mean resultant length R on the named grid, 0 to 1
    origin: BeatOrigin
    step_s: float  # from line to line of that grid

    @property
    def waves(self) -> int:
        return int(self.cycle.size)


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with its unit, count, spread (of the player) and error (of our knowledge)."""

    value: float
    unit: str
    n: int
    spread: float | None = None
    error: float | None = None


def _row(unit: str, words: str) -> Any:
    return field(default=None, metadata={"unit": unit, "words": words})


@dataclass(frozen=True, slots=True)
class Measures:
    """One `Measure` or None a row; ``declined`` says why a row is None.

    The metadata of each field holds its unit and the words a player reads.
    """

    plain_note: Measure | None = _row("cents", "how far the plain note wanders")
    rate: Measure | None = _row("Hz", "waves a second")
    cycles_per_beat: Measure | None = _row("per beat", "waves to the click")
    rate_error: Measure | None = _row("%", "faster or slower than the note value")
    time_evenness: Measure | None = _row("%", "even time: spread of the waves' lengths")
    lock: Measure | None = _row("", "how tightly the waves sit on the beat: 1 is best")
    asynchrony: Measure | None = _row("ms", "spread of the waves around the beat")
    offset: Measure | None = _row("ms", "early (-) or late (+) on average, never graded")
    drift: Measure | None = _row("%", "change of speed over the take")
    extent: Measure | None = _row("cents", "width, bottom to top")
    extent_evenness: Measure | None = _row("%", "even width: spread around the trend")
    extent_trend: Measure | None = _row("%/s", "width grows (+) or shrinks (-)")
    return_to_pitch: Measure | None = _row("cents", "where the waves come back to, above home")
    returned_share: Measure | None = _row("%", "waves that came home")
    undershoot: Measure | None = _row("cents", "how far the bottom falls under the plain note")
    direction: Measure | None = _row(
        "", "direction: 1 up only, 0 both ways, -1 down only; over 1 it stops short of home"
    )
    mean_shift: Measure | None = _row("cents", "the middle of the sound above the plain note")
    shape: Measure | None = _row("", "shape of the wave: 0 is round")
    rise_share: Measure | None = _row("", "push time as a share of the wave")
    roughness: Measure | None = _row("%", "shiver that is not shape")
    onset_delay: Measure | None = _row("s", "plain time before the vibrato starts")
    finish: Measure | None = _row("cents", "where the note ends, above home")
    amplitude_modulation: Measure | None = _row("dB", "loudness wobble at the vibrato's speed")
    alternation: Measure | None = _row("", "every other wave: narrow over wide, 1 is alike")
    swing: Measure | None = _row("", "every other wave: short over long, 1 is alike")
    confidence: Measure | None = _row("%", "how much of the sound could be measured well")
    declined: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "declined", MappingProxyType(dict(self.declined)))

    def __reduce__(self) -> tuple[Any, tuple[Any, ...]]:
        values = [getattr(self, part.name) for part in fields(self)]
        return type(self), (*values[:-1], dict(self.declined))

    def named(self) -> Iterator[tuple[str, Measure | None]]:
        """The rows in order, by name."""
        for part in fields(self):
            if part.name != "declined":
                yield part.name, getattr(self, part.name)


class Verdict(StrEnum):
    """How a finding ends; the words are what a player reads."""

    SETTLED = "settled"
    NEARLY = "nearly"
    WORK = "work on this"
    NOT_ENOUGH = "not enough to say"


class Landing(StrEnum):
    """Where a single wave came back to."""

    HOME = "home"
    NEARLY = "nearly"
    NOT_YET = "not yet"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Finding:
    """What was heard, in words; the remedy is looked up by ``kind`` in `exercises`."""

    kind: str
    verdict: Verdict
    sentence: str
    evidence: str
    overruled_by: str | None = None


@dataclass(frozen=True, slots=True)
class NoteReport:
    """One note as judged: its home, and the indices of its waves in ``Report.cycles``."""

    home: Home | None
    cycles: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Report:
    """A take judged against a task."""

    take: Take
    task: Task
    context: Context
    notes: tuple[NoteReport, ...]
    cycles: tuple[VibratoCycle, ...]
    dropped: tuple[Dropped, ...]
    stretches: tuple[GridFit, ...]  # one a note value held; empty when there is nothing to fit
    measures: Measures
    findings: tuple[Finding, ...]  # in order of importance

    @property
    def longest_stretch(self) -> GridFit | None:
        """The stretch with most waves: the one whose note value and lock are told."""
        return max(self.stretches, key=lambda fit: fit.waves, default=None)
