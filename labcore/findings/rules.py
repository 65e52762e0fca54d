"""The rules, in order of importance: each reads a report and says one thing, or nothing.

A rule never judges what cannot be judged, and a fault that follows from one already named is not
named again: waves of uneven length cannot sit on a click, and are told of their length only.
"""

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np

from labcore.beats import NOTE_VALUES, noticed_s
from labcore.cycles import HALF_WAVE
from labcore.findings import bands, homes, words
from labcore.findings.bands import verdict
from labcore.findings.in_turn import values_in_turn
from labcore.findings.landing import landing
from labcore.findings.own_beat import spread_between_breaks
from labcore.measures import STRAY_DB
from labcore.metre import SAME_TEMPO, clicks_agree, runs
from labcore.model import (
    BeatOrigin,
    Finding,
    Floats,
    GridFit,
    HomeSource,
    Landing,
    Measure,
    Note,
    PitchContour,
    Place,
    Report,
    Technique,
    Verdict,
)
from labcore.notes import asked_place, fell_at_once, plain_shift_cents
from labcore.units import cents_between

Rule = Callable[[Report, Sequence[Finding]], Finding | None]


def find(report: Report) -> tuple[Finding, ...]:
    """All that can be said of a report, most important first."""
    gate = _cannot_be_judged(report)
    if gate is not None:
        return (gate,)
    said: list[Finding] = []
    for rule in RULES:
        finding = rule(report, said)
        if finding is not None:
            said.append(finding)
    return tuple(said)


# --- can it be judged at all -------------------------------------------------------------------


def _cannot_be_judged(report: Report) -> Finding | None:
    measures, take = report.measures, report.take
    good = measures.confidence
    if not take.notes or good is None:
        return _not_enough("confidence", words.NO_NOTE, "no pitch is held for 0.15 s or longer")
    stray = _stray_share(report)
    if stray > bands.TWO_STRINGS_SHARE:
        return _not_enough("two_strings", words.TWO_STRINGS,
                           f"another pitch sounds during {stray:.0%} of the note")  # fmt: skip
    if good.value < bands.LEAST_GOOD_PERCENT:
        share = words.percent(good.value)
        return _not_enough("confidence", words.NOISY.format(share=share), f"{share} measured well")
    if _is_trill(report):
        return _not_enough(
            "confidence", words.TRILL, "the pitch leaps between two notes and rests on each"
        )
    if _is_no_vibrato(report):
        return _not_enough("confidence", words.UNSTEADY,
                           "the waves have neither a steady length nor a steady width")  # fmt: skip
    waves = len(report.cycles)
    if waves == 0:
        return _no_waves(report)
    if waves < bands.LEAST_WAVES:
        heard = words.count(waves, "wave")
        return _not_enough("confidence", words.FEW_WAVES.format(waves=heard),
                           f"{heard}; {bands.LEAST_WAVES} are needed")  # fmt: skip
    return None


def _no_waves(report: Report) -> Finding:
    reasons = [wave.why for wave in report.dropped]
    if len(reasons) >= bands.LEAST_WAVES:
        why = max(reasons, key=reasons.count)
        heard = words.count(len(reasons), "wave")
        sentence = words.NONE_COUNTS.format(waves=heard, why=why)
        return _not_enough("confidence", sentence, f"{heard} dropped: {why}")
    notes = report.take.notes
    heard = words.count(len(notes), "note")
    is_plain = _plain_share(notes) > bands.HELD_PLAIN_SHARE
    sentence = words.PLAIN_ONLY.format(notes=heard) if is_plain else words.NO_WAVES
    return _not_enough("confidence", sentence, "no waves heard")


def _plain_share(notes: Sequence[Note]) -> float:
    """Share of the notes' time in which the pitch is held."""
    held_s = sum(part.end_s - part.start_s for note in notes for part in note.plain_parts)
    return held_s / sum(note.offset_s - note.onset_s for note in notes)


def _not_enough(kind: str, sentence: str, evidence: str) -> Finding:
    return Finding(kind, Verdict.NOT_ENOUGH, sentence, evidence)


def _stray_share(report: Report) -> float:
    """Share of the notes' frames in which another sound comes close to the note."""
    contour = report.take.contour
    inside = np.zeros(contour.time_s.size, dtype=bool)
    for note in report.take.notes:
        inside[contour.frames(note.onset_s, note.offset_s)] = True
    known = inside & np.isfinite(contour.stray_db)
    return float(np.mean(contour.stray_db[known] > STRAY_DB)) if known.any() else 0.0


def _is_trill(report: Report) -> bool:
    """Whether the pitch leaps to and fro, and rests at both ends, as two notes in turn do."""
    contour = report.take.contour
    # A note with one wide leg slid there; a trill goes back as well, if it is not cut at a hammer.
    to_and_fro = [note for note in report.take.notes if _wide_legs(note) > 1]
    legs = sum(map(_wide_legs, to_and_fro))
    if legs <= 2 * bands.LEAST_WAVES:
        return False
    place = np.concatenate([_place_in_range(contour, note) for note in to_and_fro])
    if not place.size:
        return False
    low, high = np.mean(place < bands.TRILL_END), np.mean(place > 1.0 - bands.TRILL_END)
    crossing_s = (1.0 - low - high) * place.size * contour.step_s / legs
    return bool(min(low, high) > bands.TRILL_SHARE and crossing_s < bands.TRILL_CROSSING_S)


def _wide_legs(note: Note) -> int:
    """How often the pitch of a note goes from turn to turn as far as a trill does."""
    hz = np.array([turn.hz for turn in note.turns])
    return int(np.sum(np.abs(cents_between(hz[1:], hz[:-1])) >= bands.TRILL_CENTS))


def _place_in_range(contour: PitchContour, note: Note) -> Floats:
    """Where in the range of a note's moving pitch each frame lies, 0 to 1; none if it is narrow."""
    start_s, end_s = note.turns[0].time_s, note.turns[-1].time_s
    inside = contour.voiced_frames(start_s, end_s)
    cents = cents_between(contour.frequency_hz[inside], note.turns[0].hz)
    tail = bands.TRILL_TAILS_PERCENT
    low, high = np.percentile(cents, [tail, 100.0 - tail]) if cents.size else (0.0, 0.0)
    wide = high - low >= bands.TRILL_CENTS
    return (cents - low) / (high - low) if wide else np.empty(0)


def _is_no_vibrato(report: Report) -> bool:
    time, width = report.measures.time_evenness, report.measures.extent_evenness
    lost = sum(wave.why != HALF_WAVE for wave in report.dropped)
    kept = len(report.cycles)
    if kept and lost > bands.MOST_LOST_SHARE * (lost + kept):
        return True
    if time is None or width is None:
        return False
    return time.value > bands.SPEECH_TIME_PERCENT and width.value > bands.SPEECH_WIDTH_PERCENT


# --- plain note and home -----------------------------------------------------------------------


def _plain_note(report: Report, said: Sequence[Finding]) -> Finding | None:
    measure = report.measures.plain_note
    if measure is None:
        return None
    shifts = [s for s in map(plain_shift_cents, report.take.notes) if s is not None]
    if any(home is HomeSource.LANDING for home in _sources(report)) and shifts:
        shift = float(np.median(shifts))
        if shift < -bands.PLAIN_CENTS[0] and any(map(fell_at_once, report.take.notes)):
            evidence = f"plain note after the waves {shift:+.0f} cents from before"
            sentence = words.NUT.format(shift=words.cents(shift))
            return Finding("nut", Verdict.NEARLY, sentence, evidence)
    found = _in_band(measure, bands.PLAIN_CENTS)
    evidence = (
        f"for two thirds of its time the plain note stays within {measure.value:.1f} cents of "
        "its middle"
    )
    if found is Verdict.NOT_ENOUGH:
        return None
    when = words.BEFORE_WAVES if _plain_before(report) else ""
    if homes.plain_moved(report):
        return _plain_moved(report, when=when, evidence=evidence)
    if found is Verdict.SETTLED:
        return Finding("plain_note", found, words.PLAIN_STEADY.format(when=when), evidence)
    sentence = words.PLAIN_WANDERS.format(wander=words.cents(measure.value), when=when)
    return Finding("plain_note", found, sentence, evidence)


def _plain_moved(report: Report, *, when: str, evidence: str) -> Finding | None:
    """A plain note that moved is not still; before a push it is the first thing to mend."""
    moved = homes.plain_moved_cents(report)
    if not _asked_up(report) or moved < 0.0:
        return None
    sentence = words.PLAIN_MOVED.format(moved=words.cents(moved), when=when)
    return Finding("plain_note", Verdict.WORK, sentence, evidence)


def _plain_before(report: Report) -> bool:
    """Whether a plain note was heard before waves, not only after them or on other plucks."""
    return any(
        note.plain_parts and note.turns and note.plain_parts[0].start_s < note.turns[0].time_s
        for note in report.take.notes
    )


def _sources(report: Report) -> list[HomeSource]:
    return [note.home.source for note in report.notes if note.home is not None and note.cycles]


def _return(report: Report, said: Sequence[Finding]) -> Finding | None:
    measure = report.measures.return_to_pitch
    if _goes_both_ways(report):
        return None  # told as a direction: the lows lie below because the pitch goes there
    if measure is None or measure.n < bands.LEAST_WAVES:
        why = report.measures.declined.get("return_to_pitch", "too few waves have a plain note")
        return _not_enough("return", words.RETURN_UNSURE.format(why=why), why)
    landings = [landing(wave) for wave in report.cycles]
    known = [where for where in landings if where is not Landing.UNKNOWN]
    home, nearly = known.count(Landing.HOME), known.count(Landing.NEARLY)
    evidence = (
        f"{home} of {len(known)} home, {nearly} nearly; a usual wave ends "
        f"{words.above_or_below(measure.value)} home{words.about(measure.value, measure.error)}"
    )
    may_be_home = home + nearly >= bands.HOME_NEARLY * len(known) or _may_be_home(report)
    unsure = _return_unsure(report, measure, known=len(known), may_be_home=may_be_home)
    if unsure is not None:
        return _not_enough("return", unsure, evidence)
    if home >= bands.HOME_SETTLED * len(known):
        sentence = _came_home(home, len(known), every=_every(report, len(known)))
        return Finding("return", Verdict.SETTLED, sentence, evidence)
    some_home = home >= bands.SOME_HOME * len(known)
    why_not = _no_fault(report, measure, some_home=some_home)
    if why_not is not None:
        return _not_enough("return", why_not, evidence)
    if may_be_home:
        sentence = _nearly_home(report, measure, home=home, nearly=nearly, waves=len(known))
        return Finding("return", Verdict.NEARLY, sentence, evidence)
    sentence = _some_home(report, home) if some_home else _stops_short(report, measure)
    return Finding("return", Verdict.WORK, sentence, evidence)


def _return_unsure(
    report: Report, measure: Measure, *, known: int, may_be_home: bool
) -> str | None:
    """Why the homecoming cannot be judged, if it cannot."""
    if may_be_home and 2.0 * (measure.error or 0.0) > bands.NEARLY_CENTS:
        return words.RETURN_UNSURE.format(why=words.PLAIN_MOVES)
    if _goes_down(report):
        return words.RETURN_UNSURE.format(why=words.ALL_BELOW)
    if abs(measure.value) > _farthest_cents(report) or known < bands.LEAST_WAVES:
        return words.RETURN_UNSURE.format(why=words.OTHER_NOTE)
    if _asked_up(report) and homes.plain_moved(report):
        return words.RETURN_UNSURE.format(why=words.PLAIN_MOVES)
    if homes.may_be_chance(report):
        return words.RETURN_UNSURE.format(why=words.NO_PLAIN_FIRST)
    return None


def _farthest_cents(report: Report) -> float:
    """How far from home waves may end and still be that home's.

    A push that leaves the plain note of its own pluck belongs to it, unless it tops at a fret.
    """
    sure = _asked_up(report) and homes.heard_first(report) and not homes.tops_at_a_fret(report)
    return bands.OTHER_NOTE_CENTS if sure else bands.HALF_FRET_CENTS


def _no_fault(report: Report, measure: Measure, *, some_home: bool) -> str | None:
    """Why waves that are not home may all the same be as the player wants them."""
    if not homes.heard_first(report) and not _pushed_short(report, measure):
        return words.RETURN_UNSURE.format(why=words.NO_PLAIN_FIRST)
    if not some_home and homes.may_hang_from_above(report):
        return words.RETURN_UNSAID.format(why=words.FROM_ABOVE)
    if not some_home and homes.may_top_at_a_fret(report):
        return words.RETURN_UNSAID.format(why=words.AT_A_FRET)
    return _lopsided(report)


def _pushed_short(report: Report, measure: Measure) -> bool:
    """Waves above the plain note of another pluck: of pushes that come home none lie there."""
    return _asked_up(report) and measure.value > 0.0 and not _may_be_home(report)


def _lopsided(report: Report) -> str | None:
    """That the waves go farther to one side of home than to the other, where both are the player's.

    An arm is leaned on farther than it is let up, and nobody said that it should be otherwise.
    """
    measure = report.measures.direction
    if measure is None or abs(measure.value) >= bands.ONE_WAY:
        return None
    if asked_place(report.task) is not Place.UNKNOWN:
        return None
    far, near = ("above", "below") if measure.value > 0 else ("below", "above")
    return words.LOPSIDED.format(far=far, near=near)


def _some_home(report: Report, home: int) -> str:
    """Of waves that partly come home, where the others end: the middle of all would suit none."""
    others = [
        wave.return_cents
        for wave in report.cycles
        if landing(wave) in (Landing.NEARLY, Landing.NOT_YET) and wave.return_cents is not None
    ]
    off, above = float(np.median(np.abs(others))), float(np.mean(np.array(others) > 0.0))
    one_side = "above" if above > 1.0 - bands.FEW_OTHERS else "below"
    way = words.EITHER_SIDE if bands.FEW_OTHERS < above < 1.0 - bands.FEW_OTHERS else one_side
    return words.RETURN_SOME.format(
        home=words.capital(words.number(home)), waves=_every(report, home + len(others)),
        off=words.cents(off), way=way, name=words.HOME_NAMES[homes.home_place(report)],
    )  # fmt: skip


def _every(report: Report, known: int) -> str:
    """The waves that are spoken of; not all of them, where some have no plain note."""
    waves = words.count(known, "wave")
    return waves if known == len(report.cycles) else f"{waves}{words.PLAIN_NOTE_HEARD}"


def _came_home(home: int, waves: int, *, every: str) -> str:
    if home == waves:
        return words.ALL_HOME.format(waves=every)
    return words.HOME.format(home=words.capital(words.number(home)), waves=every)


def _nearly_home(report: Report, measure: Measure, *, home: int, nearly: int, waves: int) -> str:
    every = _every(report, waves)
    if home:
        return words.RETURN_NEARLY.format(
            home=words.capital(words.number(home)), waves=every,
            nearly=words.number(nearly) if nearly else "none",
        )  # fmt: skip
    if not nearly or homes.home_place(report) is Place.MIDDLE:
        return _stops_short(report, measure)
    return words.RETURN_ALL_NEARLY.format(
        nearly=words.capital(words.number(nearly)), waves=every, off=words.cents(measure.value),
        way="above" if measure.value >= 0 else "below",
        name=words.HOME_NAMES[homes.home_place(report)],
    )  # fmt: skip


def _may_be_home(report: Report) -> bool:
    """Whether homes two standard errors off, in the waves' favour, bring most of them home."""
    waves = [w for w in report.cycles if w.home is not None and w.return_cents is not None]
    found = [landing(wave, doubt_cents=2.0 * wave.home.error_cents) for wave in waves if wave.home]
    near = sum(where in (Landing.HOME, Landing.NEARLY) for where in found)
    return near >= bands.HOME_NEARLY * len(waves)


def _stops_short(report: Report, measure: Measure) -> str:
    place = homes.home_place(report)
    off = words.cents(measure.value)
    name = words.HOME_NAMES[place]
    if place is Place.MIDDLE:
        return words.RETURN_MIDDLE.format(off=off, way="above" if measure.value > 0 else "below")
    if place is Place.TOP:
        form = words.RETURN_TOP_LOW if measure.value < 0 else words.RETURN_TOP_HIGH
        return form.format(off=off, name=name)
    form = words.RETURN_HIGH if measure.value > 0 else words.RETURN_LOW
    return form.format(off=off, name=name)


# --- direction ---------------------------------------------------------------------------------


def _direction(report: Report, said: Sequence[Finding]) -> Finding | None:
    measure = report.measures.direction
    if measure is None or measure.n < bands.LEAST_WAVES:
        return None
    doubt = 2.0 * (measure.error or 0.0)
    evidence = f"direction {measure.value:.2f} (1 up only, 0 both ways), give or take {doubt:.2f}"
    if _goes_both_ways(report):
        return Finding("direction", Verdict.WORK, words.GOES_BOTH, evidence)
    unsure = homes.may_be_chance(report) or (_asked_up(report) and homes.plain_moved(report))
    if unsure or _seems_both_ways(report):
        return None  # the homecoming tells why
    if (measure.error or 0.0) > bands.TELLING_ERROR:
        width = report.measures.extent
        wide = words.cents(width.value if width else 0.0)
        return _not_enough("direction", words.DIRECTION_UNSURE.format(width=wide), evidence)
    low, high = bands.CLEAN_ONE_WAY
    if low <= abs(measure.value) <= high:
        sentence = _one_way(report, up=measure.value > 0.0)
        return Finding("direction", Verdict.SETTLED, sentence, evidence) if sentence else None
    if abs(measure.value) <= bands.SIDES_EVEN and not _asked_up(report):
        return Finding("direction", Verdict.SETTLED, words.BOTH_ROUND, evidence)
    return None


def _one_way(report: Report, *, up: bool) -> str | None:
    """That the waves go one way only; None where too many of them go to the other side as well."""
    clean, known = homes.one_way(report, up=up)
    if clean < bands.HOME_SETTLED * known or (_asked_up(report) and not up):
        return None
    if clean == known:
        return words.UP_ONLY if up else words.DOWN_ONLY
    form = words.UP_MOSTLY if up else words.DOWN_MOSTLY
    waves = _every(report, known)
    return form.format(some=words.capital(words.number(clean)), waves=waves)


def _asked_up(report: Report) -> bool:
    return report.task.technique is Technique.BEND or report.task.home is Place.BOTTOM


def _goes_both_ways(report: Report) -> bool:
    """A push to one side was meant, and the pitch goes to both sides beyond doubt."""
    return homes.heard_first(report) and not homes.plain_moved(report) and _seems_both_ways(report)


def _seems_both_ways(report: Report) -> bool:
    """The same, of whichever plain note was heard."""
    measure = report.measures.direction
    if measure is None or measure.n < bands.LEAST_WAVES or not _asked_up(report):
        return False
    return abs(measure.value) + 2.0 * (measure.error or 0.0) < bands.ONE_WAY


def _goes_down(report: Report) -> bool:
    """A push to one side was meant, and the waves may well lie below the plain note that was heard.

    No push does that: the plain note was another fret's, or a bend that was let down.
    """
    measure = report.measures.direction
    if measure is None or not _asked_up(report):
        return False
    return measure.value - 2.0 * (measure.error or 0.0) < -bands.ONE_WAY


def _both_ways(report: Report, said: Sequence[Finding]) -> Finding | None:
    measure = report.measures.alternation
    if measure is None or report.task.technique in (Technique.ROLL, Technique.ARM):
        return None
    if measure.value + 2.0 * (measure.error or 0.0) > bands.TURNS_RATIO:
        return None
    least, most = bands.PUSHED_THROUGH
    if not least <= _length_by_width(report) <= most:
        return None  # narrow by turns but as long as the others, an accent say; or swung
    evidence = f"narrow waves {100 * measure.value:.0f} % as wide as their neighbours, in turn"
    fit, asked = report.longest_stretch, report.task.cycles_per_beat
    if fit is not None and fit.named is not None and asked is not None and fit.named == 2 * asked:
        sentence = words.TURNS_TAKEN_DOUBLE.format(
            measured=words.capital(words.number(fit.named)), asked=words.was_asked(asked)
        )
    else:
        sentence = words.TURNS_TAKEN.format(share=words.percent(100.0 * measure.value))
    return Finding("both_ways", Verdict.WORK, sentence, evidence)


def _length_by_width(report: Report) -> float:
    """How much shorter narrower waves are than their neighbours: the ratios' logarithms, fitted."""
    pairs = [pair for run in runs(report.cycles) for pair in pairwise(run)]
    waves = [(report.cycles[a], report.cycles[b]) for a, b in pairs]
    width = np.log([a.extent_cents / b.extent_cents for a, b in waves])
    length = np.log([a.duration_s / b.duration_s for a, b in waves])
    return float(np.sum(width * length) / np.sum(width**2))


# --- evenness ----------------------------------------------------------------------------------


def _even_width(report: Report, said: Sequence[Finding]) -> Finding | None:
    measure = report.measures.extent_evenness
    if measure is None or _works_on(said, "both_ways"):
        return None
    found = _in_band(measure, bands.WIDTH_PERCENT)
    forms = _forms(words.WIDTH_EVEN, words.WIDTH_NEARLY, words.WIDTH_UNEVEN, words.WIDTH_UNSURE)
    return _evenness("even_width", found, report=report, measure=measure, forms=forms)


def _even_time(report: Report, said: Sequence[Finding]) -> Finding | None:
    measure = report.measures.time_evenness
    if measure is None or _works_on(said, "both_ways"):
        return None
    swing = report.measures.swing
    if swing is not None and swing.value + 2.0 * (swing.error or 0.0) < bands.SWUNG_RATIO:
        sentence = words.TIME_SWUNG.format(share=words.percent(100.0 * swing.value))
        return _not_enough("even_time", sentence, f"short over long {swing.value:.2f}, in turn")
    found = _in_band(measure, bands.TIME_PERCENT)
    if found is Verdict.WORK and _may_vary_in_width(report):
        return None  # a wave too shy to be counted doubles the length of the one beside it
    forms = _forms(words.TIME_EVEN, words.TIME_NEARLY, words.TIME_UNEVEN, words.TIME_UNSURE)
    return _evenness("even_time", found, report=report, measure=measure, forms=forms)


def _may_vary_in_width(report: Report) -> bool:
    measure = report.measures.extent_evenness
    return measure is not None and measure.value > bands.WIDTH_PERCENT[1]


def _forms(*forms: str) -> dict[Verdict, str]:
    """Sentences by verdict, from settled to not enough to say."""
    return dict(zip(Verdict, forms, strict=True))


def _evenness(
    kind: str, found: Verdict, *, report: Report, measure: Measure, forms: Mapping[Verdict, str]
) -> Finding | None:
    """How even the waves are, where most of them follow one another."""
    if measure.n < max(bands.LEAST_WAVES, bands.MOST_OF_THEM * len(report.cycles)):
        return None
    evidence = (
        f"two thirds of {words.count(measure.n, 'wave')} lie within {measure.value:.0f} % of what "
        f"their neighbours let expect, give or take {2.0 * (measure.error or 0.0):.0f} %"
    )
    sentence = forms[found].format(percent=words.percent(measure.value))
    return Finding(kind, found, sentence, evidence)


def _pace(report: Report, said: Sequence[Finding]) -> Finding | None:
    """Fast and narrow at once is how a tense hand sounds; either alone is taste.

    A roll round the pitch is narrow by its nature, so there only its speed is left: taste.
    """
    rate, width = report.measures.rate, report.measures.extent
    if rate is None or width is None or _asked_rate(report) >= 0.9 * bands.NERVOUS_HZ:
        return None
    if homes.home_place(report) is Place.MIDDLE:
        return None
    fast = rate.value - 2.0 * (rate.error or 0.0) > bands.NERVOUS_HZ
    narrow = width.value + 2.0 * (width.error or 0.0) < bands.NERVOUS_CENTS
    if not (fast and narrow):
        return None
    sentence = words.NERVOUS.format(rate=words.rate(rate.value), width=words.cents(width.value))
    return Finding("pace", Verdict.WORK, sentence, f"{rate.value:.1f} a second over {rate.n} waves")


def _asked_rate(report: Report) -> float:
    task = report.task
    if task.tempo_bpm is None or task.cycles_per_beat is None:
        return 0.0
    return task.tempo_bpm / 60.0 * task.cycles_per_beat


def _may_be_uneven(report: Report) -> bool:
    """Whether uneven time may be why the waves leave the click: then the click is not judged."""
    measure = report.measures.time_evenness
    if measure is None:
        return True
    return measure.value + 2.0 * (measure.error or 0.0) > bands.TIME_PERCENT[1]


def _works_on(said: Sequence[Finding], *kinds: str) -> bool:
    return any(f.kind in kinds and f.verdict is Verdict.WORK for f in said)


# --- note value and click ----------------------------------------------------------------------


def _note_value(report: Report, said: Sequence[Finding]) -> Finding | None:
    clicks, tempo = report.take.clicks, report.task.tempo_bpm
    if tempo is None or _works_on(said, "both_ways", "pace"):
        return None
    if clicks is not None and not clicks_agree(clicks, tempo_bpm=tempo):
        sentence = words.CLICK_DIFFERS.format(
            heard=f"{round(clicks.tempo_bpm, 1):g}", asked=f"{tempo:g}"
        )
        return _not_enough("click", sentence, f"{clicks.time_s.size} clicks heard")
    fit, asked = report.longest_stretch, report.task.cycles_per_beat
    if fit is None:
        return None
    if report.measures.cycles_per_beat is None:
        return _not_enough("note_value", words.VALUE_ALONE,
                           report.measures.declined.get("cycles_per_beat", ""))  # fmt: skip
    if not _one_value(report, fit):
        return _mixed_values(report)
    doubled = _click_doubled(report, fit)
    if doubled is not None:
        return doubled
    if fit.named is None or not _name_is_sure(report) or _far_from_name(fit, asked):
        sentence = words.VALUE_NONE.format(waves=f"{fit.cycles_per_beat:.1f}")
        return _not_enough("note_value", sentence, f"{fit.cycles_per_beat:.2f} waves to the click")
    return _named_value(fit, fit.named, asked=asked)


def _named_value(fit: GridFit, named: int, *, asked: int | None) -> Finding:
    """What is said of a note value that has a name beyond doubt."""
    value = words.capital(words.to_the_click(named))
    evidence = f"{fit.cycles_per_beat:.2f} waves to the click over {words.count(fit.waves, 'wave')}"
    if asked is None:
        return Finding(
            "note_value", Verdict.SETTLED, words.VALUE_HEARD.format(value=value), evidence
        )
    if named == asked:
        sentence = words.VALUE_RIGHT.format(value=value)
        return Finding("note_value", Verdict.SETTLED, sentence, evidence)
    if abs(fit.rate_error_percent or 0.0) > bands.NAME_PERCENT:
        value = words.VALUE_ABOUT.format(waves=f"{fit.cycles_per_beat:.1f}")
    sentence = words.VALUE_OTHER.format(value=value, asked=words.was_asked(asked))
    return Finding("note_value", Verdict.WORK, sentence, evidence)


def _far_from_name(fit: GridFit, asked: int | None) -> bool:
    """Half way to the next name; another value than was asked is told by its number instead.

    Where no value was asked, a rhythm that lies well off every name is the player's own.
    """
    if asked is None:
        return abs(fit.rate_error_percent or 0.0) > bands.NAMED_PERCENT
    return asked == fit.named and abs(fit.cycles_per_beat - asked) > bands.NAMED_WAVES


def _click_doubled(report: Report, fit: GridFit) -> Finding | None:
    """That the value asked is played to the click heard, which is not the tempo set, if it is."""
    clicks, asked, tempo = report.take.clicks, report.task.cycles_per_beat, report.task.tempo_bpm
    if clicks is None or asked is None or tempo is None or fit.named is None:
        return None
    to_the_click = fit.named * tempo / clicks.tempo_bpm
    if fit.named == asked or abs(to_the_click / asked - 1.0) > SAME_TEMPO:
        return None
    sentence = words.CLICK_DOUBLED.format(
        waves=words.number(asked), heard=f"{round(clicks.tempo_bpm, 1):g}",
        asked=f"{tempo:g}",
    )  # fmt: skip
    return _not_enough("click", sentence, f"{clicks.time_s.size} clicks heard")


def _one_value(report: Report, fit: GridFit) -> bool:
    named = sum(other.waves for other in report.stretches if other.named == fit.named)
    return named >= bands.ONE_VALUE_SHARE * sum(other.waves for other in report.stretches)


def _mixed_values(report: Report) -> Finding:
    order = values_in_turn(report)
    several = len(order) > 1
    values = words.listed([NOTE_VALUES[k] for k in order]) if several else "several speeds"
    evidence = ", ".join(f"{fit.cycles_per_beat:.2f}" for fit in report.stretches)
    if report.task.cycles_per_beat is None and several:
        sentence = words.VALUES_IN_TURN.format(values=values)
        return Finding("note_value", Verdict.SETTLED, sentence, f"waves to the click: {evidence}")
    return _not_enough("note_value", words.VALUE_MIXED.format(values=values),
                       f"waves to the click, stretch by stretch: {evidence}")  # fmt: skip


def _name_is_sure(report: Report) -> bool:
    """Whether two standard errors of waves a beat keep to one side of the borders of the name."""
    measure = report.measures.cycles_per_beat
    fit = report.longest_stretch
    if measure is None or fit is None or fit.named is None:
        return False
    doubt = 2.0 * (measure.error or 0.0)
    below, above = np.sqrt(fit.named * np.array([fit.named - 1.0, fit.named + 1.0]))
    return bool(below < measure.value - doubt and measure.value + doubt < above)


def _on_the_value(report: Report, said: Sequence[Finding]) -> GridFit | None:
    """The stretch whose speed and lock may be judged: one note value, named, as asked."""
    fit = report.longest_stretch
    named = any(f.kind == "note_value" and f.verdict is Verdict.SETTLED for f in said)
    return fit if named and fit is not None and _one_value(report, fit) else None


def _tempo(report: Report, said: Sequence[Finding]) -> Finding | None:
    fit = _on_the_value(report, said)
    measure, drift = report.measures.rate_error, report.measures.drift
    if fit is None or measure is None:
        return None
    found = _in_band(measure, bands.TEMPO_PERCENT)
    doubt = 2.0 * (measure.error or 0.0)
    evidence = f"{measure.value:+.1f} % against the click, give or take {doubt:.1f} %"
    if _may_be_uneven(report):
        return None
    ends_s = _click_ends_s(report, fit)
    counted_in_s = fit.start_s + bands.COUNT_IN_BEATS * fit.step_s * (fit.named or 1)
    if ends_s is not None and ends_s > counted_in_s and found is not Verdict.SETTLED:
        sentence = words.TEMPO_CLICK_ENDS.format(seconds=words.seconds(ends_s))
        return _not_enough("tempo", sentence, evidence)
    if found is Verdict.WORK:
        return Finding("tempo", found, _off_the_tempo(measure, named=fit.named or 1), evidence)
    drifts = Verdict.SETTLED if drift is None else _in_band(drift, bands.TEMPO_PERCENT)
    if drift is not None and drifts is Verdict.WORK:
        return _drifts(drift)
    if drifts is Verdict.NOT_ENOUGH:
        return None
    if found is Verdict.SETTLED:
        return Finding("tempo", found, words.TEMPO_RIGHT, evidence)
    if found is Verdict.NEARLY:
        way = "fast" if measure.value > 0 else "slow"
        sentence = words.TEMPO_NEARLY.format(percent=words.percent(measure.value), way=way)
        return Finding("tempo", found, sentence, evidence)
    return None


def _off_the_tempo(measure: Measure, *, named: int) -> str:
    """How far off the speed is, and after how many beats a whole wave is gained or lost."""
    beats = max(round(100.0 / (named * abs(measure.value))), 1)
    way, gain = ("fast", "gain") if measure.value > 0 else ("slow", "lose")
    return words.TEMPO_OFF.format(
        percent=words.percent(measure.value), way=way, beats=words.count(beats, "beat"), gain=gain
    )


def _drifts(drift: Measure) -> Finding:
    get = "get faster" if drift.value > 0 else "slow down"
    sentence = words.TEMPO_DRIFTS.format(get=get, percent=words.percent(drift.value))
    evidence = f"{drift.value:+.1f} % from the first wave to the last"
    return Finding("tempo", Verdict.WORK, sentence, evidence)


def _lock(report: Report, said: Sequence[Finding]) -> Finding | None:
    fit, measure = _on_the_value(report, said), report.measures.asynchrony
    if fit is None or measure is None or fit.named is None or report.task.tempo_bpm is None:
        return None
    if _works_on(said, "even_time", "tempo", "both_ways") or _may_be_uneven(report):
        return None
    beat_s = 60.0 / report.task.tempo_bpm
    beats = _beats_played(report, fit, beat_s=beat_s)
    if fit.waves < bands.LOCK_WAVES or beats < bands.LOCK_BEATS:
        sentence = words.LOCK_SHORT.format(
            waves=words.count(fit.waves, "wave"), beats=words.count(beats, "beat")
        )
        return _not_enough("lock", sentence, f"{fit.waves} waves over {beats} beats")
    noticed_ms = 1000.0 * noticed_s(beat_s / fit.named)
    ends_s = _click_ends_s(report, fit)
    if ends_s is not None:
        sentence = words.LOCK_CLICK_ENDS.format(seconds=words.seconds(ends_s))
        return _not_enough("lock", sentence, f"waves up to {fit.end_s:.1f} s")
    if fit.origin is not BeatOrigin.FITTED:
        return _sits(measure, LOCK_WORDS, around="the click", noticed_ms=noticed_ms)
    tempo = f"{_own_tempo_bpm(report.task.tempo_bpm, beat_s=fit.step_s * fit.named):g}"
    return _keeps(report, fit, measure, tempo=tempo, noticed_ms=noticed_ms)


def _click_ends_s(report: Report, fit: GridFit) -> float | None:
    """When the last click is heard, if that is well before the last wave; else None."""
    clicks = report.take.clicks
    if clicks is None or fit.origin not in (BeatOrigin.CLICKS, BeatOrigin.RECORDER):
        return None
    last_s = float(clicks.time_s[-1])
    through = fit.start_s + bands.HEARD_THROUGH * (fit.end_s - fit.start_s)
    return last_s if last_s < through else None


def _keeps(
    report: Report, fit: GridFit, measure: Measure, *, tempo: str, noticed_ms: float
) -> Finding | None:
    """How evenly a tempo is kept where no click was heard.

    Who rests may begin anew, on another beat: to wander is to wander between two breaks.
    """
    if _noticed(measure, noticed_ms) is Verdict.WORK:
        between = spread_between_breaks(report, fit)
        if between is None:
            return None
        if _noticed(between, noticed_ms) is not Verdict.WORK:
            sentence = words.STEADY_ANEW.format(ms=words.milliseconds(between.value))
            evidence = (
                f"spread {between.value:.0f} ms between breaks, {measure.value:.0f} ms across them"
            )
            return _not_enough("lock", sentence, evidence)
        measure = between
    return _sits(measure, STEADY_WORDS, around="their own beat", noticed_ms=noticed_ms, tempo=tempo)


def _noticed(spread: Measure, noticed_ms: float) -> Verdict:
    settled, work = (times * noticed_ms for times in bands.LOCK_NOTICED)
    return verdict(spread, settled=settled, work=work)


def _sits(
    spread: Measure,
    forms: Mapping[Verdict, str],
    *,
    around: str,
    noticed_ms: float,
    tempo: str = "",
) -> Finding | None:
    found = _noticed(spread, noticed_ms)
    if found is Verdict.NOT_ENOUGH:
        return None
    evidence = (
        f"spread {spread.value:.0f} ms around {around} over {words.count(spread.n, 'wave')}; "
        f"listeners notice about {noticed_ms:.0f} ms"
    )
    sentence = forms[found].format(ms=words.milliseconds(spread.value), tempo=tempo)
    return Finding("lock", found, sentence, evidence)


def _own_tempo_bpm(asked_bpm: float, *, beat_s: float) -> float:
    """The tempo the waves sit on, as a metronome would show it; the asked one if it is that."""
    played_bpm = 60.0 / beat_s
    return asked_bpm if abs(played_bpm - asked_bpm) < 0.5 else float(round(played_bpm))


LOCK_WORDS = {
    Verdict.SETTLED: words.LOCKED,
    Verdict.NEARLY: words.LOCK_NEARLY,
    Verdict.WORK: words.LOCK_LOOSE,
}
STEADY_WORDS = {
    Verdict.SETTLED: words.STEADY,
    Verdict.NEARLY: words.STEADY_NEARLY,
    Verdict.WORK: words.STEADY_LOOSE,
}


def _beats_played(report: Report, fit: GridFit, *, beat_s: float) -> int:
    """How many different beats have a wave on them, over the whole stretch."""
    starts = np.array([report.cycles[int(index)].start_s for index in fit.cycle])
    return int(np.unique(np.floor((starts - starts[0]) / beat_s + 1e-6)).size)


def _in_band(measure: Measure, band: tuple[float, float]) -> Verdict:
    return verdict(measure, settled=band[0], work=band[1])


RULES: tuple[Rule, ...] = (
    _plain_note,
    _return,
    _direction,
    _both_ways,
    _even_width,
    _pace,
    _even_time,
    _note_value,
    _tempo,
    _lock,
)
