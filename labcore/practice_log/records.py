"""What the log hands out."""

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class Player:
    """A label the user made up, and what they play; never a full name."""

    nickname: str
    instrument: str
    strings: str
    created: datetime
    takes: int
    last: datetime | None  # when the newest take was recorded


@dataclass(frozen=True, slots=True)
class PracticeTask:
    """One thing to practise until a date; ``exercise`` is the name of a rung, if it is one."""

    task_id: str
    exercise: str
    words: str
    tempo_bpm: float | None
    cycles_per_beat: int | None
    set_on: date
    due_on: date | None


@dataclass(frozen=True, slots=True)
class Remark:
    """What somebody wrote at a place in a take, or at a wave of it."""

    remark_id: str
    take_id: str
    words: str
    written_by: str
    written: datetime
    at_s: float | None = None
    wave: int | None = None  # index into the report's cycles


@dataclass(frozen=True, slots=True)
class Merged:
    """What a merge brought: new players and takes, and takes left out as forgotten here."""

    players: int
    takes: int
    left_out: int
