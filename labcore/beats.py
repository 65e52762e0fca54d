"""Tempo and note-value arithmetic: beats a minute, waves to the click, seconds.

``cycles_per_beat`` is how many vibrato cycles fall on one click: 2 eighths, 3 triplets,
4 sixteenths, 5 quintuplets, 6 sextuplets (and 1, quarters, the first rung).
"""

import numpy as np
from numpy.typing import NDArray

from labcore.errors import LabError

LEAST_TEMPO_BPM = 20.0
MOST_TEMPO_BPM = 300.0
NOTE_VALUES = {
    1: "quarters",
    2: "eighths",
    3: "triplets",
    4: "sixteenths",
    5: "quintuplets",
    6: "sextuplets",
}
# A measured number of cycles per beat belongs to the note value whose ratio is nearest, so the
# borders are geometric midpoints sqrt(k (k+1)); beyond the outer two nothing is named.
LEAST_NAMED = float(np.sqrt(0.5))
MOST_NAMED = float(np.sqrt(42.0))

# Smallest displacement of one tone in an even series that listeners notice: 6 ms below about
# 240 ms between tones, 2.5 % of the interval above (Friberg & Sundberg 1995, abstract).
NOTICED_S = 0.006
NOTICED_SHARE = 0.025

# How long the next note value may take to be there (common practice, nothing published was found).
SWITCH_BEATS = 2.0
FIVE_SIX_SWITCH_BEATS = 4.0  # the smallest step of the ladder gets a whole bar


def check_tempo(tempo_bpm: float) -> None:
    """Raise `LabError` unless the tempo is a number of beats a person can count."""
    if not LEAST_TEMPO_BPM <= tempo_bpm <= MOST_TEMPO_BPM:
        raise LabError(
            f"The tempo is {tempo_bpm:g} clicks a minute; it must lie between "
            f"{LEAST_TEMPO_BPM:g} and {MOST_TEMPO_BPM:g}. Count the beats, "
            "not the waves between them."
        )


def check_cycles_per_beat(cycles_per_beat: int) -> None:
    """Raise `LabError` unless the note value is one of `NOTE_VALUES`."""
    if cycles_per_beat not in NOTE_VALUES:
        raise LabError(
            f"{cycles_per_beat} waves to the click were asked for; choose a whole number from "
            f"1 (quarters) to 6 (sextuplets)."
        )


def beat_s(tempo_bpm: float) -> float:
    """Seconds from one beat to the next.

    >>> beat_s(60)
    1.0
    """
    check_tempo(tempo_bpm)
    return 60.0 / tempo_bpm


def cycle_s(tempo_bpm: float, *, cycles_per_beat: int) -> float:
    """Seconds one vibrato cycle takes at this tempo and note value.

    >>> round(cycle_s(72, cycles_per_beat=4), 4)
    0.2083
    """
    check_cycles_per_beat(cycles_per_beat)
    return beat_s(tempo_bpm) / cycles_per_beat


def wave_rate_hz(tempo_bpm: float, *, cycles_per_beat: int) -> float:
    """Vibrato cycles a second: tempo / 60 times cycles per beat.

    >>> round(wave_rate_hz(72, cycles_per_beat=6), 3)
    7.2
    """
    return 1.0 / cycle_s(tempo_bpm, cycles_per_beat=cycles_per_beat)


def grid_lines(
    tempo_bpm: float, *, cycles_per_beat: int, duration_s: float, origin_s: float = 0.0
) -> NDArray[np.float64]:
    """Times in seconds of every subdivision line within 0 to ``duration_s``.

    >>> grid_lines(60, cycles_per_beat=2, duration_s=1.6)
    array([0. , 0.5, 1. , 1.5])
    """
    step_s = cycle_s(tempo_bpm, cycles_per_beat=cycles_per_beat)
    first = int(np.ceil(-origin_s / step_s - 1e-9))
    count = int(np.floor((duration_s - origin_s) / step_s + 1e-9)) - first + 1
    return np.asarray(origin_s + step_s * (first + np.arange(max(count, 0))), dtype=np.float64)


def name_note_value(cycles_per_beat: float) -> int | None:
    """The note value (1 to 6) a measured number of cycles per beat belongs to, else None.

    Named before any test of phase: evenly played eighths also fit the sixteenth grid.

    >>> name_note_value(2.9), name_note_value(2.4), name_note_value(9.0)
    (3, 2, None)
    """
    if not LEAST_NAMED < cycles_per_beat < MOST_NAMED:
        return None
    return min(NOTE_VALUES, key=lambda k: abs(np.log(cycles_per_beat / k)))


def noticed_s(step_s: float) -> float:
    """Displacement in seconds of one event in an even series that a listener just notices.

    Friberg & Sundberg 1995 (abstract): 6 ms for short steps, 2.5 % of the step for long ones.

    >>> round(noticed_s(0.4167), 4), noticed_s(0.1389)
    (0.0104, 0.006)
    """
    return max(NOTICED_S, NOTICED_SHARE * step_s)


def switch_beats(before: int, after: int) -> float:
    """Beats a player has until the next note value is there.

    >>> switch_beats(2, 4), switch_beats(6, 5)
    (2.0, 4.0)
    """
    return FIVE_SIX_SWITCH_BEATS if {before, after} == {5, 6} else SWITCH_BEATS
