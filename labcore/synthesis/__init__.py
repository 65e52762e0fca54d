"""Takes that never were: a description becomes sound and its truth; practice tracks; re-tuning."""

from labcore.synthesis.description import (
    NOTE_PEAK_DB,
    ClickKind,
    Knots,
    NoteDescription,
    TakeDescription,
    from_dict,
    line_through,
    pitch_cents,
    to_dict,
)
from labcore.synthesis.forms import Playing, bar_knots, click_times, fretted_hz, played_bars
from labcore.synthesis.mend import even_width, every_wave_home, on_the_grid
from labcore.synthesis.motion import (
    both_ways_push,
    circle,
    held_bend,
    joined,
    played_times,
    swell,
    varied,
    waves,
)
from labcore.synthesis.retune import retuned
from labcore.synthesis.sound import click_sound, plucked
from labcore.synthesis.take import made_recording, synthesise
from labcore.synthesis.tracks import (
    BarKind,
    PracticePlan,
    PracticeTrack,
    TrackBar,
    ladder,
    practice_track,
    random_switching,
    there_and_back,
)

__all__ = [
    "NOTE_PEAK_DB",
    "BarKind",
    "ClickKind",
    "Knots",
    "NoteDescription",
    "Playing",
    "PracticePlan",
    "PracticeTrack",
    "TakeDescription",
    "TrackBar",
    "bar_knots",
    "both_ways_push",
    "circle",
    "click_sound",
    "click_times",
    "even_width",
    "every_wave_home",
    "fretted_hz",
    "from_dict",
    "held_bend",
    "joined",
    "ladder",
    "line_through",
    "made_recording",
    "on_the_grid",
    "pitch_cents",
    "played_bars",
    "played_times",
    "plucked",
    "practice_track",
    "random_switching",
    "retuned",
    "swell",
    "synthesise",
    "there_and_back",
    "to_dict",
    "varied",
    "waves",
]
