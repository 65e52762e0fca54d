"""Takes and measures kept in one file on this computer, for as long as the user wants.

The log is a single SQLite file in the user's data folder. It holds numbers and words, never sound;
sound is kept beside it only when the user says so. Players are labels the user makes up.
"""

from labcore.practice_log.exchange import as_cell
from labcore.practice_log.log import PracticeLog, open_log
from labcore.practice_log.records import Merged, Player, PracticeTask, Remark
from labcore.practice_log.rows import rows

__all__ = [
    "Merged",
    "Player",
    "PracticeLog",
    "PracticeTask",
    "Remark",
    "as_cell",
    "open_log",
    "rows",
]
