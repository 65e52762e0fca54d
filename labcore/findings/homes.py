"""How sure it is that a plain note which was heard is the one the waves of its note belong to.

A plain note before the waves of one pluck is. One that follows them may be where a hand stopped in
mid-push; one of another pluck may be the next fret's, a half-tone away from waves half as wide.
"""

import numpy as np

from labcore.findings.bands import FRET_CENTS, FRET_WITHIN_CENTS, HOMES_SURE
from labcore.findings.landing import home_reach_cents
from labcore.model import HomeSource, Note, NoteReport, Place, Report, Technique
from labcore.notes import CURL_CENTS, asked_place, plain_shift_cents
from labcore.units import cents_between


def heard_first(report: Report) -> bool:
    """Whether most waves come after the plain note of their own pluck."""
    sure = sum(
        len(judged.cycles)
        for note, judged in zip(report.take.notes, report.notes, strict=True)
        if judged.cycles and _is_first(report, note, judged)
    )
    return sure >= HOMES_SURE * len(report.cycles)


def _is_first(report: Report, note: Note, judged: NoteReport) -> bool:
    home = judged.home
    if home is None or home.source in (HomeSource.ELSEWHERE, HomeSource.WAVES):
        return False
    if home.source is not HomeSource.LANDING or plain_shift_cents(note) is not None:
        return True
    # A note that was bent up to first has turned there already; the waves come all the same after.
    return home.end_s is not None and home.end_s <= report.cycles[judged.cycles[0]].start_s


def home_place(report: Report) -> Place:
    """Where home lies for most waves."""
    places = [wave.home.place for wave in report.cycles if wave.home is not None]
    return max(places, key=places.count) if places else Place.UNKNOWN


def may_be_chance(report: Report) -> bool:
    """Whether waves fit a plain note after them, or of another pluck, in a way nobody asked for.

    Waves that start at the plain note and go up are what every lesson asks for; ones that hang
    from it or go round it may belong to another pitch.
    """
    if heard_first(report) or asked_place(report.task) is not Place.UNKNOWN:
        return False
    return home_place(report) is not Place.BOTTOM


def may_hang_from_above(report: Report) -> bool:
    """Whether the plain note lies above the waves, and the player did not say why.

    It may be a held bend that sags, or a note that was pulled off, slid or let down from.
    """
    said = report.task.technique in (Technique.HELD_BEND, Technique.ARM)
    return (
        home_place(report) is Place.TOP and asked_place(report.task) is not Place.TOP and not said
    )


def may_top_at_a_fret(report: Report) -> bool:
    """Whether the waves' tops lie one or two frets up: a bend to a note, dipped from, sounds so."""
    if report.task.technique is not Technique.NOT_SAID or asked_place(report.task) is Place.BOTTOM:
        return False
    return tops_at_a_fret(report)


def tops_at_a_fret(report: Report) -> bool:
    """Whether the usual top of the waves is the note one or two frets above home."""
    tops = [
        cents_between(wave.turn.hz, wave.home.hz) for wave in report.cycles if wave.home is not None
    ]
    above = float(np.median(tops)) if tops else 0.0
    return any(abs(above - frets * FRET_CENTS) < FRET_WITHIN_CENTS for frets in (1, 2))


def plain_moved_cents(report: Report) -> float:
    """How far the plain notes before the waves moved from one held pitch to another, upwards."""
    moved = [
        note.plain_parts[0].moved_cents
        for note, judged in zip(report.take.notes, report.notes, strict=True)
        if judged.cycles and note.plain_parts
    ]
    return float(np.median(moved)) if moved else 0.0


def plain_moved(report: Report) -> bool:
    """Whether the plain note moved to another held pitch before the waves."""
    return abs(plain_moved_cents(report)) >= CURL_CENTS


def one_way(report: Report, *, up: bool) -> tuple[int, int]:
    """How many waves go to one side of home only, of how many whose home is known."""
    way = 1.0 if up else -1.0
    known = [
        (way * wave.return_cents, wave.extent_cents)
        for wave in report.cycles
        if wave.return_cents is not None
    ]
    clean = sum(beyond >= -home_reach_cents(extent) for beyond, extent in known)
    return clean, len(known)
