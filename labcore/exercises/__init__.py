"""What to do about a finding now, and what to practise next.

`remedy` turns the kind of a finding into half a minute of work; `next_exercise` picks a rung of
the ladder and says why. Teaching advice here is common practice without a source unless a source
stands beside it.
"""

from labcore.exercises.ladder import LADDER, Band, Form, Rung, ladder, rung_named
from labcore.exercises.next_step import Attempt, Exercise, Outcome, attempt, next_exercise
from labcore.exercises.past import HeldValue, PastTake, past_take
from labcore.exercises.progress import (
    ASPECTS,
    Aspect,
    Group,
    Summary,
    by_finger,
    by_week,
    like_the_last,
    since_last_week,
)
from labcore.exercises.remedies import Remedy, remedy
from labcore.exercises.room import LEAST_FOR_A_PICTURE, NEEDS, Need, Room, room_of, room_words
from labcore.exercises.seating import TABLE_NAME, Seat, player_in, seating, seats_in
from labcore.exercises.syllables import SYLLABLES, spoken

__all__ = [
    "ASPECTS",
    "LADDER",
    "LEAST_FOR_A_PICTURE",
    "NEEDS",
    "SYLLABLES",
    "TABLE_NAME",
    "Aspect",
    "Attempt",
    "Band",
    "Exercise",
    "Form",
    "Group",
    "HeldValue",
    "Need",
    "Outcome",
    "PastTake",
    "Remedy",
    "Room",
    "Rung",
    "Seat",
    "Summary",
    "attempt",
    "by_finger",
    "by_week",
    "ladder",
    "like_the_last",
    "next_exercise",
    "past_take",
    "player_in",
    "remedy",
    "room_of",
    "room_words",
    "rung_named",
    "seating",
    "seats_in",
    "since_last_week",
    "spoken",
]
