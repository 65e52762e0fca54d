"""What lesson 07 adds to the take panel: two more sounds, millimetres on the string, the log."""

from html import escape

import numpy as np

from labcore.errors import LabError
from labcore.figures.writing import write
from labcore.model import Home, Place, Recording, Report
from labcore.panels.take_panel import PanelExtras
from labcore.physics.inverse import push_for, tuning_question
from labcore.practice_log import open_log
from labcore.synthesis import ClickKind, every_wave_home, made_recording, retuned
from labcore.synthesis.sound import click_track

CLICK_UNDER_PEAK_DB = -9.0  # audible beside the note, and quieter than it


def take_extras() -> PanelExtras:
    """The extras of lesson 07."""
    return PanelExtras(
        folds={"in millimetres and grams on this string": push_html},
        sounds={
            "the take with the click": with_click,
            "your note, only the homecoming mended": homecoming_mended,
        },
        keep=keep_in_log,
    )


# --- sounds -------------------------------------------------------------------------------------


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
    mixed *= min(1.0, 0.98 / max(float(np.max(np.abs(mixed))), 1e-9))
    return made_recording(
        mixed.astype(np.float32), sample_rate_hz=recording.sample_rate_hz, name=recording.name
    )


def homecoming_mended(recording: Recording, report: Report) -> Recording:
    """The player's own sound with every wave set down on home, and nothing else changed."""
    target_hz = every_wave_home(report)
    return retuned(recording, contour=report.take.contour, target_hz=target_hz)


# --- millimetres --------------------------------------------------------------------------------


def push_html(report: Report) -> str:
    """What the waves took at the string, where string and fret are known and it was a push."""
    return f"<p class='labcore-note'>{escape(push_words(report))}</p>"


def push_words(report: Report) -> str:
    """The same as a sentence; says what is missing when it cannot be told."""
    context, home = report.context, _one_home(report)
    width, away = report.measures.extent, report.measures.return_to_pitch
    if context.string is None or context.fret is None:
        return "Say under “string, fret, finger, technique” where you played; then it can be told."
    if home is None or width is None or home.place is not Place.BOTTOM:
        return "This can be told for a push up from a plain note; here there is no such push."
    question = tuning_question(home.hz, string=context.string, fret=context.fret)
    try:
        push = push_for(
            width.value,
            string=context.string,
            fret=context.fret,
            plain_hz=home.hz,
            lowest_cents=max(0.0, away.value if away else 0.0),
        )
    except LabError as problem:
        return str(problem)
    return f"{push.sentence} Light strings (9-42) are assumed. {question or ''}".strip()


def _one_home(report: Report) -> Home | None:
    return next((note.home for note in report.notes if note.home is not None), None)


# --- the log ------------------------------------------------------------------------------------


def keep_in_log(recording: Recording, report: Report) -> str:
    """Keep measures and findings, not the sound, in the practice log of this computer.

    Raises
    ------
    LabError
        Nobody is named as the player.
    """
    player = report.context.player
    if not player:
        raise LabError(
            "Write a nickname under “string, fret, finger, technique” first; the log keeps takes "
            "by nickname. No surnames are needed."
        )
    open_log().add(report, player=player)
    return f"Kept in the log of this computer under “{player}”: the measures, not the sound."
