"""Hear it: a player's take as it is, with the click, and their own note with one thing mended.

Each function takes the recording and its report and gives a recording of the same length, so that
a player can be moved from one to the other in mid-note. Nothing but the pitch line is changed:
loudness, attacks and time stay (`labcore.synthesis.retune`).
"""

from collections.abc import Callable

import numpy as np

from labcore.errors import LabError
from labcore.figures.words import is_judged, landing_counts
from labcore.figures.writing import write
from labcore.model import Finding, Floats, Landing, Recording, Report, Verdict
from labcore.synthesis import (
    ClickKind,
    even_width,
    every_wave_home,
    made_recording,
    on_the_grid,
    retuned,
)
from labcore.synthesis.sound import click_track

Hearing = Callable[[Recording, Report], Recording]
Mend = Callable[..., Floats]

CLICK_UNDER_PEAK_DB = -9.0  # audible beside the note, and quieter than it
LOUDEST = 0.98  # of full scale, after the click was added
TWICE_AS_LARGE = -1.0  # the strength of a mend that makes its fault twice as large

# What would mend the fault a finding names; only these can be made larger.
MENDS: dict[str, Mend] = {
    "return": every_wave_home,
    "even_width": even_width,
    "even_time": on_the_grid,
    "lock": on_the_grid,
}


def with_click(recording: Recording, report: Report) -> Recording:
    """The take with a click on every beat of the tempo that was chosen.

    Raises
    ------
    LabError
        No click was chosen.
    """
    writing = write(report)
    if writing.beat_s is None:
        raise LabError("No click is chosen. Choose “with a click” and set the tempo first.")
    first_s = writing.rows[0].start_s % writing.beat_s
    times = np.arange(first_s, recording.duration_s - 0.05, writing.beat_s)
    peak = float(np.max(np.abs(recording.samples)))
    clicks = click_track(
        tuple(float(t) for t in times),
        size=recording.samples.size,
        sample_rate_hz=recording.sample_rate_hz,
        kind=ClickKind.WOOD,
        level_db=20.0 * np.log10(max(peak, 1e-3)) + CLICK_UNDER_PEAK_DB,
    )
    mixed = recording.samples + clicks
    mixed *= min(1.0, LOUDEST / max(float(np.max(np.abs(mixed))), 1e-9))
    return made_recording(
        mixed.astype(np.float32), sample_rate_hz=recording.sample_rate_hz, name=recording.name
    )


def homecoming_mended(recording: Recording, report: Report) -> Recording:
    """The player's own sound with every wave set down on home, and nothing else changed."""
    return _resounded(recording, report, every_wave_home(report))


def width_evened(recording: Recording, report: Report) -> Recording:
    """The player's own sound with every wave as wide as the trend of its note."""
    return _resounded(recording, report, even_width(report))


def set_on_the_click(recording: Recording, report: Report) -> Recording:
    """The player's own sound with every wave beginning on its line of the note value played."""
    if not report.stretches:
        raise LabError("No click is chosen. Choose “with a click” and set the tempo first.")
    return _resounded(recording, report, on_the_grid(report))


def fault_twice_as_large(recording: Recording, report: Report) -> Recording:
    """The player's own sound with what is to be worked on made twice as large, to be heard.

    Raises
    ------
    LabError
        Nothing that stands out in this take can be made larger.
    """
    finding = _to_enlarge(report)
    if finding is None:
        raise LabError("Nothing stands out in this take that could be made larger to hear better.")
    return _resounded(recording, report, MENDS[finding.kind](report, strength=TWICE_AS_LARGE))


def _to_enlarge(report: Report) -> Finding | None:
    """The first finding to work on, else nearly settled, that has a mend."""
    found = [f for f in report.findings if f.kind in MENDS and f.overruled_by is None]
    for verdict in (Verdict.WORK, Verdict.NEARLY):
        for finding in found:
            if finding.verdict is verdict:
                return finding
    return None


def _resounded(recording: Recording, report: Report, target_hz: Floats) -> Recording:
    return retuned(recording, contour=report.take.contour, target_hz=target_hz)


CLICKED = "the take with the click"
HOMECOMING = "your note, only the homecoming mended"
WIDTH = "your note, only the width evened"
ON_THE_CLICK = "your note, only set on the click"
TWICE = "your note, what to work on twice as large"
HEARINGS: dict[str, Hearing] = {
    CLICKED: with_click,
    HOMECOMING: homecoming_mended,
    WIDTH: width_evened,
    ON_THE_CLICK: set_on_the_click,
    TWICE: fault_twice_as_large,
}


def suits(words: str, report: Report) -> bool:
    """Whether one of `HEARINGS` would let a player hear something in this take.

    Waves that all came home have no homecoming to mend, two strings have no waves at all.
    """
    if words == CLICKED:
        return report.task.tempo_bpm is not None
    if not is_judged(report):
        return False
    counts = landing_counts(report)
    return {
        HOMECOMING: counts[Landing.NEARLY] + counts[Landing.NOT_YET] > 0,
        ON_THE_CLICK: bool(report.stretches),
        TWICE: _to_enlarge(report) is not None,
    }.get(words, True)
