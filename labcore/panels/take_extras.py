"""What lesson 07 adds to the take panel: more sounds, millimetres on the string, the log."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from labcore.errors import LabError
from labcore.figures.words import is_judged
from labcore.model import Home, Place, Report, Technique, Verdict
from labcore.panels.controls import Choice
from labcore.panels.hearing import HEARINGS, suits
from labcore.panels.keeping import keep_in
from labcore.panels.switch_panel import changes_html
from labcore.panels.take_controls import NOT_SAID
from labcore.panels.take_panel import PanelExtras
from labcore.physics.inverse import push_for, tuning_question
from labcore.physics.strings import SCALE_M, SCALES_M, STRING_SETS
from labcore.practice_log import open_log
from labcore.units import cents_between

MILLIMETRES = "in millimetres and grams on this string"
NO_CAPO = "none"
CAPO_FRETS = range(1, 10)
SAME_NOTE_CENTS = 30.0  # homes further apart than this lie on different frets, or were retuned
# A held bend is pushed before it begins, so its plain note is not in the take.
NO_PUSH = (Technique.ROLL, Technique.ARM, Technique.CIRCLE, Technique.HELD_BEND)


def take_extras() -> PanelExtras:
    """The extras of lesson 07."""
    guitar = OwnGuitar()
    return PanelExtras(
        folds={
            MILLIMETRES: lambda report: push_html(report, on=guitar.chosen),
            "changes of note value in this take": changes_html,
        },
        asked={MILLIMETRES: guitar.controls},
        sounds=HEARINGS,
        suits=suits,
        keep={
            "keep in the log": keep_in(open_log),
            "keep it with its sound": keep_in(open_log, with_sound=True),
        },
    )


# --- millimetres --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class GuitarChoice:
    """What a reader said of the guitar; a set that was not said is taken to be the lightest."""

    gauges: str | None = None
    scale_m: float = SCALE_M
    capo_fret: int = 0

    @property
    def assumed(self) -> str:
        """What was reckoned with because nobody said otherwise."""
        return "" if self.gauges else f"Light strings ({STRING_SETS[0]}) are assumed."


class OwnGuitar:
    """Three controls, asked after the take, and kept from take to take."""

    def __init__(self) -> None:
        self.gauges = Choice("strings", options=[NOT_SAID, *STRING_SETS], as_list=True)
        self.scale = Choice("scale", options=list(SCALES_M), value="long, 648 mm", as_list=True)
        frets = [NO_CAPO, *[str(fret) for fret in CAPO_FRETS]]
        self.capo = Choice("capo at fret", options=frets, as_list=True)
        self.controls = (self.gauges, self.scale, self.capo)

    @property
    def chosen(self) -> GuitarChoice:
        """What the controls stand for."""
        said, capo = self.gauges.value, self.capo.value
        return GuitarChoice(
            gauges=None if said == NOT_SAID else said,
            scale_m=SCALES_M[self.scale.value],
            capo_fret=0 if capo == NO_CAPO else int(capo),
        )


def push_html(report: Report, *, on: GuitarChoice | None = None) -> str:
    """What the waves took at the string, where string and fret are known and it was a push."""
    return f"<p class='labcore-note'>{escape(push_words(report, on=on))}</p>"


def push_words(report: Report, *, on: GuitarChoice | None = None) -> str:
    """The same as a sentence; says what is missing when it cannot be told."""
    on, context, homes = on or GuitarChoice(), report.context, _homes(report)
    missing = _what_is_missing(report, homes=homes)
    width, away = report.measures.extent, report.measures.return_to_pitch
    if missing or width is None or context.string is None or context.fret is None:
        return missing
    try:
        push = push_for(
            width.value,
            string=context.string,
            fret=context.fret,
            plain_hz=homes[0].hz,
            gauges=on.gauges or STRING_SETS[0],
            scale_m=on.scale_m,
            capo_fret=on.capo_fret,
            lowest_cents=max(0.0, away.value if away else 0.0),
        )
    except LabError as problem:
        return str(problem)
    question = tuning_question(homes[0].hz, string=context.string, fret=context.fret)
    return " ".join(part for part in (push.sentence, on.assumed, question) if part)


def _what_is_missing(report: Report, *, homes: Sequence[Home]) -> str:
    """Why no millimetres can be told; empty where they can."""
    context = report.context
    if report.measures.extent is None or not _is_push(report, homes=homes):
        return "This can be told for a push up from a plain note; here there is no such push."
    if context.string is None or context.fret is None:
        return "Say under “string, fret, finger, technique” where you played; then it can be told."
    apart = [abs(cents_between(home.hz, homes[0].hz)) for home in homes]
    if max(apart) > SAME_NOTE_CENTS:
        return (
            "The notes of this take lie on different frets, and one fret is named; play one note."
        )
    return ""


def _homes(report: Report) -> list[Home]:
    return [note.home for note in report.notes if note.home is not None and note.cycles]


def _is_push(report: Report, *, homes: Sequence[Home]) -> bool:
    """Whether the waves went up only, from a plain note, and nothing else was said to move them."""
    under = any(f.kind == "direction" and f.verdict is Verdict.WORK for f in report.findings)
    if not is_judged(report) or report.task.technique in NO_PUSH or under or not homes:
        return False
    return all(home.place is Place.BOTTOM for home in homes)
