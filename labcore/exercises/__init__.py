"""What to do about a finding now, and what to practise next.

`remedy` turns the kind of a finding into half a minute of work; `next_exercise` picks a rung of
the ladder and says why. Teaching advice here is common practice without a source unless a source
stands beside it.
"""

from labcore.exercises.remedies import Remedy, remedy
from labcore.exercises.syllables import SYLLABLES, spoken

__all__ = ["SYLLABLES", "Remedy", "remedy", "spoken"]
