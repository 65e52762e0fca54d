"""What lesson 07 adds to the take panel: more sounds, millimetres on the string, the log."""

from html import escape

from labcore.errors import LabError
from labcore.model import Home, Place, Recording, Report
from labcore.panels.hearing import HEARINGS, suits
from labcore.panels.switch_panel import changes_html
from labcore.panels.take_panel import PanelExtras
from labcore.physics.inverse import push_for, tuning_question
from labcore.practice_log import open_log


def take_extras() -> PanelExtras:
    """The extras of lesson 07."""
    return PanelExtras(
        folds={
            "in millimetres and grams on this string": push_html,
            "changes of note value in this take": changes_html,
        },
        sounds=HEARINGS,
        suits=suits,
        keep=keep_in_log,
    )


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
