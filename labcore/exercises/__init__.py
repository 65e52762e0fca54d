"""What to do about a finding now, and what to practise next.

`remedy` turns the kind of a finding into half a minute of work; `next_exercise` picks a rung of
the ladder and says why. Teaching advice here is common practice without a source unless a source
stands beside it.
"""

from labcore.exercises.ladder import LADDER, Band, Form, Rung, ladder, rung_named
from labcore.exercises.next_step import Attempt, Exercise, Outcome, attempt, next_exercise
from labcore.exercises.past import HeldValue, PastTake, past_take
from labcore.exercises.remedies import Remedy, remedy
from labcore.exercises.syllables import SYLLABLES, spoken

__all__ = [
    "LADDER",
    "SYLLABLES",
    "Attempt",
    "Band",
    "Exercise",
    "Form",
    "HeldValue",
    "Outcome",
    "PastTake",
    "Remedy",
    "Rung",
    "attempt",
    "ladder",
    "next_exercise",
    "past_take",
    "remedy",
    "rung_named",
    "spoken",
]
