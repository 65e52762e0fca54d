"""Metronome clicks heard in a recording, found before pitch so that they do not disturb it.

Conventions
-----------
A click is short: just before and just after it the sound is as loud as it was without it. A pluck
is not, for its note rings on; that tells the two apart. A series is believed only if it is even
as a machine is, and nothing is guessed: no even series, no clicks.
"""

from labcore.clicks.bars import Bars, find_bars
from labcore.clicks.finder import find_clicks
from labcore.clicks.tempo import tempo_candidates

__all__ = ["Bars", "find_bars", "find_clicks", "tempo_candidates"]
