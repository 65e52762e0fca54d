"""Planted faults and fair playing, as descriptions: what the judgement is held against."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from labcore.beats import beat_s
from labcore.model import Place, Task, Technique
from labcore.synthesis import (
    Knots,
    NoteDescription,
    Playing,
    TakeDescription,
    both_ways_push,
    click_times,
    held_bend,
    joined,
    played_bars,
    played_times,
    swell,
    waves,
)

FIRST_S = 0.5
PLACES = {
    Technique.BEND: Place.BOTTOM,
    Technique.CIRCLE: Place.BOTTOM,
    Technique.ROLL: Place.MIDDLE,
    Technique.ARM: Place.MIDDLE,
    Technique.HELD_BEND: Place.TOP,
}
WIDTHS = {
    Technique.BEND: 60.0,
    Technique.CIRCLE: 50.0,
    Technique.ROLL: 24.0,
    Technique.ARM: 70.0,
    Technique.HELD_BEND: 50.0,
}


@dataclass(frozen=True)
class Case:
    """One take: what was asked, what was played, what must be found ('' is nothing)."""

    name: str
    description: TakeDescription
    task: Task
    fault: str = ""
    also_fair: tuple[str, ...] = field(default=())  # findings that follow from the fault


def bars(
    name: str,
    playing: Playing,
    *,
    seed: int,
    hz: float = 329.6,
    line: Callable[[int], Knots] | None = None,
    **take_parts: Any,
) -> TakeDescription:
    """Four bars of the form of the exercises, played."""
    rng = np.random.default_rng(seed)
    notes = played_bars(playing, rng=rng, hz=hz, first_s=FIRST_S, line=line)
    return TakeDescription(name, notes[-1].offset_s + 0.5, notes, **take_parts)


def _playing(technique: Technique, k: int, tempo_bpm: float, **changes: Any) -> Playing:
    return Playing(
        tempo_bpm=tempo_bpm,
        cycles_per_beat=(k,) * 4,
        extent_cents=changes.pop("extent_cents", WIDTHS[technique]),
        place=PLACES[technique],
        **changes,
    )


FAULTS: dict[str, dict[str, Any]] = {
    "": {},
    "return": {"return_cents": 34.0},
    "even_width": {},
    "even_time": {"time_spread_percent": 32.0, "locked": False},
    "tempo": {"speed": 1.07, "locked": False, "time_spread_percent": 2.0},
    "lock": {"late_s": 0.0, "time_spread_percent": 2.5},
    "note_value": {},
}


def planted(
    technique: Technique, k: int, tempo_bpm: float, fault: str, *, seed: int = 7
) -> Case | None:
    """A take with one planted fault, or None where the fault cannot be played."""
    changes = dict(FAULTS[fault])
    task_k = k
    if fault == "note_value":
        task_k = k + 1 if k < 6 else 4
    if fault == "return" and technique is Technique.HELD_BEND:
        changes["return_cents"] = -34.0
    if fault == "return" and technique is Technique.ROLL:
        changes["return_cents"] = 40.0
    playing = _playing(technique, k, tempo_bpm, **changes)
    name = f"{technique}, {k} to the click at {tempo_bpm:g}, {fault or 'faultless'}"
    line = wide_and_shy(playing, k, seed=seed) if fault == "even_width" else None
    description = bars(name, playing, seed=seed, line=line)
    if fault == "lock":
        apart = beside_the_click(description, step_s=beat_s(tempo_bpm) / k)
        description = with_clicks(apart, tempo_bpm)
    task = Task(tempo_bpm, task_k, technique, PLACES[technique])
    return Case(name, description, task, fault)


def wide_and_shy(playing: Playing, k: int, *, seed: int) -> Callable[[int], Knots]:
    """Widths anywhere from three tenths to seventeen tenths of the usual one, in no order."""
    rng = np.random.default_rng(seed)
    step_s, count = beat_s(playing.tempo_bpm), 3 * k

    def line(bar: int) -> Knots:
        times = played_times(count, rate_hz=k / step_s, start_s=step_s, spread_percent=3.0, rng=rng)
        widths = playing.extent_cents * rng.uniform(0.3, 1.7, size=count)
        return waves(count, cycle_times_s=times, extent_cents=widths, place=playing.place)

    return line


APART = (0.0, 0.37, 0.71, 0.18)  # of a wave: where in it each bar begins


def beside_the_click(
    description: TakeDescription, *, step_s: float, shares: ArrayLike = APART
) -> TakeDescription:
    """Each bar begins at another moment of the wave: even, right in speed, but not locked."""
    shifts = np.asarray(shares) * step_s
    notes = [
        replace(note, onset_s=note.onset_s + float(shift), duration_s=note.duration_s - step_s)
        for note, shift in zip(description.notes, shifts, strict=True)
    ]
    return replace(description, notes=tuple(notes))


def with_clicks(
    description: TakeDescription, tempo_bpm: float, **click_parts: Any
) -> TakeDescription:
    """A metronome that is heard in the take: beside a click that is not, nobody could tell."""
    beats = int((description.duration_s - FIRST_S) / beat_s(tempo_bpm))
    clicks = click_times(tempo_bpm, beats=beats, first_s=FIRST_S)
    return replace(description, click_s=clicks, **click_parts)


def planted_cases() -> Iterator[Case]:
    """Technique by note value by tempo by fault."""
    techniques = (Technique.BEND, Technique.ROLL, Technique.ARM, Technique.HELD_BEND)
    for technique, k, tempo_bpm, fault in product(
        techniques, (1, 2, 3, 4, 5, 6), (60.0, 72.0, 90.0), FAULTS
    ):
        rate = tempo_bpm / 60.0 * k
        if not 1.2 <= rate <= 8.2:
            continue
        if k == 1 and fault in ("even_time", "even_width", "lock", "tempo"):
            continue  # three waves a bar are too few to tell
        case = planted(technique, k, tempo_bpm, fault)
        if case is not None:
            yield case
    yield from both_ways_cases()


def both_ways_cases() -> Iterator[Case]:
    """A string pushed through both ways: twice the hand's rate, wide and narrow in turn."""
    for hand, tempo_bpm in product((1, 2, 3), (60.0, 72.0)):
        step_s = beat_s(tempo_bpm)

        def line(bar: int, hand: int = hand, step_s: float = step_s) -> Knots:
            return both_ways_push(
                3 * hand, hand_rate_hz=hand / step_s, start_s=step_s,
                reach_cents=40.0, offset_share=0.25,
            )  # fmt: skip

        description = bars("both ways", Playing(tempo_bpm=tempo_bpm), seed=3, line=line)
        task = Task(tempo_bpm, hand, Technique.BEND, Place.BOTTOM)
        yield Case(f"both ways, hand {hand} to the click at {tempo_bpm:g}", description, task,
                   "both_ways")  # fmt: skip


# --- fair playing ------------------------------------------------------------------------------


def one_note(
    name: str, knots: Knots, *, length_s: float, hz: float = 329.6, **take_parts: Any
) -> TakeDescription:
    """A single plucked note with this pitch line."""
    note = NoteDescription(FIRST_S, length_s, hz, knots=knots, decay_s=3.0)
    return TakeDescription(name, FIRST_S + length_s + 0.5, (note,), **take_parts)


def fair_cases() -> Iterator[Case]:
    """Legitimate playing that a plain reading of the measures would fault."""
    free, bend = Task(), Task(technique=Technique.BEND, home=Place.BOTTOM)
    click = replace(bend, tempo_bpm=72.0, cycles_per_beat=3)
    rng = np.random.default_rng(11)

    def fair(name: str, description: TakeDescription, task: Task = free) -> Case:
        return Case(name, description, task)

    # A held whole-tone bend, shaken above and below itself; the fretted note comes first.
    rise = held_bend(200.0, start_s=0.6)
    on_bend = joined(rise, waves(8, rate_hz=4.0, extent_cents=50.0, start_s=1.7, home_cents=200.0))
    yield fair("waves on a held whole-tone bend", one_note("bend up", on_bend, length_s=4.4))
    shaken = waves(
        8, rate_hz=4.0, extent_cents=50.0, start_s=1.7, home_cents=200.0, place=Place.TOP
    )
    yield fair("a held bend let down", one_note("bend", joined(rise, shaken), length_s=4.4))
    straight_on = waves(9, rate_hz=4.0, extent_cents=50.0, start_s=1.0, home_cents=200.0)
    no_rest = joined(held_bend(200.0, start_s=0.6), straight_on)
    yield fair("a held bend without a rest", one_note("bend", no_rest, length_s=4.0))
    dips = waves(9, rate_hz=4.0, extent_cents=70.0, start_s=0.9, place=Place.TOP)
    yield fair("dips of the arm", one_note("arm", dips, length_s=3.8))
    yield fair("dips of the arm, said", one_note("arm", dips, length_s=3.8),
               Task(technique=Technique.ARM))  # fmt: skip
    roll = waves(10, rate_hz=5.0, extent_cents=24.0, start_s=0.9, place=Place.MIDDLE)
    yield fair("a roll round the pitch", one_note("roll", roll, length_s=3.4))
    yield fair("a roll round the pitch, said", one_note("roll", roll, length_s=3.4),
               Task(technique=Technique.ROLL))  # fmt: skip
    arm = waves(10, rate_hz=4.0, extent_cents=80.0, start_s=0.9, place=Place.MIDDLE)
    yield fair("the arm round the pitch", one_note("arm", arm, length_s=3.9))

    on_top = waves(8, rate_hz=4.0, extent_cents=36.0, start_s=0.9, home_cents=25.0)
    curl = joined(((0.0, 0.0), (0.6, 0.0), (0.8, 25.0)), on_top)
    yield fair("a blue third held sharp, said", one_note("curl", curl, length_s=3.4),
               Task(technique=Technique.HELD_BEND))  # fmt: skip

    grows = swell(16, from_cents=30.0, to_cents=60.0)
    dies = swell(16, from_cents=60.0, to_cents=30.0)
    blooms = swell(16, from_cents=20.0, to_cents=80.0)
    for name, widths in (("a swell", grows), ("a dying note", dies), ("a wide swell", blooms)):
        knots = waves(16, rate_hz=4.8, extent_cents=widths, start_s=0.9)
        yield fair(name, one_note(name, knots, length_s=4.6), bend)
    gathering = np.concatenate([[0.0], np.cumsum(1.0 / np.linspace(3.6, 6.0, 16))]) + 0.9
    quicker = waves(16, cycle_times_s=gathering, extent_cents=45.0)
    yield fair("slow start, quicker end", one_note("1756", quicker, length_s=4.8), bend)
    wide = waves(12, rate_hz=3.6, extent_cents=100.0, start_s=0.9)
    yield fair("wide, up only, perfect", one_note("wide", wide, length_s=4.6), bend)
    short = waves(12, rate_hz=3.6, extent_cents=100.0, start_s=0.9, return_cents=12.0)
    yield fair("wide, stopping 12 cents short", one_note("wide", short, length_s=4.6), bend)
    narrow = joined(((0.0, 5.0), (0.85, 5.0)),
                    waves(12, rate_hz=4.0, extent_cents=20.0, start_s=0.9))  # fmt: skip
    yield fair("narrow, plain note 5 cents high", one_note("narrow", narrow, length_s=4.2))
    stuck = waves(10, rate_hz=4.0, extent_cents=50.0, start_s=0.9, return_cents=-12.0)
    yield fair("a nut that holds the string", one_note("nut", stuck, length_s=4.6), bend)
    late = waves(2, rate_hz=4.0, extent_cents=50.0, start_s=1.4)
    yield fair("a late start and two waves", one_note("late", late, length_s=2.4), click)
    at_once = waves(10, rate_hz=4.0, extent_cents=50.0, start_s=0.06)
    yield fair("no plain part", one_note("at once", at_once, length_s=2.62), bend)

    half_wave_s = beat_s(72.0) / 3 / 2
    late_top = bars("tops on the beat", Playing(late_s=half_wave_s), seed=5)
    yield fair("the top of the push on the beat", late_top, click)
    yield fair("three to the beat in twelve eight", bars("slow", Playing(tempo_bpm=60.0), seed=6),
               replace(bend, tempo_bpm=60.0))  # fmt: skip
    yield fair("swung pairs", swung(), replace(bend, tempo_bpm=72.0, cycles_per_beat=2))
    wander = 1.0 / (4.6 + 0.6 * np.sin(np.linspace(0.0, 2.5, 18)))
    times = np.concatenate([[0.0], np.cumsum(wander)]) + 0.7
    widths = 45.0 + 20.0 * np.sin(np.linspace(0.0, 3.0, 18))
    sung = waves(18, cycle_times_s=times, extent_cents=widths)
    yield fair("free and expressive", one_note("free", sung, length_s=5.2))

    slide = joined(((0.0, -200.0), (0.15, -200.0), (0.3, 0.0)),
                   waves(9, rate_hz=4.0, extent_cents=50.0, start_s=1.2))  # fmt: skip
    yield fair("a slide in", one_note("slide", slide, length_s=3.8), bend)
    released = joined(((0.0, 100.0), (0.4, 100.0), (0.6, 0.0)),
                      waves(9, rate_hz=4.0, extent_cents=50.0, start_s=1.2))  # fmt: skip
    yield fair("a bend let go, then waves", one_note("pre-bend", released, length_s=3.8), bend)
    hammered = joined(((0.0, -300.0), (0.5, -300.0), (0.52, 0.0)),
                      waves(9, rate_hz=4.0, extent_cents=50.0, start_s=1.2))  # fmt: skip
    yield fair("a hammered note", one_note("hammer", hammered, length_s=3.8), bend)
    yield fair(
        "a phrase with waves on its last note", phrase(), replace(free, technique=Technique.BEND)
    )
    flat = bars("flat", Playing(), seed=8, hz=329.6 * 2 ** (-35 / 1200))
    yield fair("a guitar tuned 35 cents flat", flat, click)
    fast = bars("fast", Playing(cycles_per_beat=(6,) * 4, extent_cents=15.0), seed=9)
    yield fair("sextuplets, narrow", fast, replace(click, cycles_per_beat=6))
    ladder = [
        waves(3 * k, rate_hz=1.2 * k, extent_cents=120.0 / k, start_s=beat_s(72.0))
        for k in (2, 3, 4, 5)
    ]
    rungs = bars("ladder", Playing(), seed=10, line=lambda bar: ladder[bar])
    yield fair("a ladder, narrower where faster", rungs, replace(bend, tempo_bpm=72.0))
    quarters = bars("quarters", Playing(cycles_per_beat=(1,) * 4), seed=12)
    yield fair("one wave to the click", quarters, replace(click, cycles_per_beat=1))
    resting = waves(8, rate_hz=2.0, extent_cents=60.0, start_s=1.0, dwell_share=0.45)
    yield fair("eighths that rest at home", one_note("rest", resting, length_s=5.4), bend)
    leaning = waves(12, rate_hz=4.0, extent_cents=50.0, start_s=0.9, rise_share=0.3)
    yield fair("quick up, slow down", one_note("lean", leaning, length_s=4.4), bend)
    bottleneck = waves(10, rate_hz=4.5, extent_cents=60.0, start_s=0.6, place=Place.MIDDLE,
                       return_cents=rng.normal(scale=3.0, size=10))  # fmt: skip
    yield fair("a bottleneck round the pitch", one_note("glass", bottleneck, length_s=3.2))


def unusual_cases() -> Iterator[Case]:
    """More of the same, found later; apart, so that the drawn takes of the benchmark stay."""
    free, bend = Task(), Task(technique=Technique.BEND, home=Place.BOTTOM)
    arm = Task(technique=Technique.ARM)
    click = replace(bend, tempo_bpm=72.0, cycles_per_beat=3)
    for rests_s in ((2.1, 2.65, 3.4), (0.1, 0.1, 0.1), (0.5, 0.5, 0.5), (0.9, 0.7, 0.4)):
        name = f"tries with rests of {', '.join(f'{rest_s:g}' for rest_s in rests_s)} s, no click"
        yield Case(name, tries(*rests_s), click)
    apart = beside_the_click(bars("apart", Playing(), seed=14), step_s=beat_s(72.0) / 3)
    yield Case("bars that begin elsewhere in the wave, no click", apart, click)
    at_once = waves(9, rate_hz=4.0, extent_cents=50.0, start_s=1.25)
    pulled = joined(((0.0, 100.0), (1.2, 100.0), (1.21, 0.0)), at_once)
    yield Case("pulled off a fret, waves at once", one_note("pull", pulled, length_s=3.6), bend)
    let_go = joined(((0.0, 100.0), (1.0, 100.0), (1.2, 0.0)), at_once)
    yield Case("a bend let go, waves at once", one_note("let go", let_go, length_s=3.6), bend)
    dips = waves(9, rate_hz=4.0, extent_cents=60.0, start_s=0.9, place=Place.TOP)
    yield Case("dips from a held bend, called a bend", one_note("dips", dips, length_s=3.8), bend)
    yield Case("slid to and fro by a fret", slid_by_a_fret(), bend)
    for k, tempo_bpm, dwell_share in product((1, 2), (60.0, 72.0), (0.5, 0.65)):
        name = f"{k} to the click at {tempo_bpm:g}, {dwell_share:.0%} of it at rest"
        asked = Task(tempo_bpm, k, Technique.BEND)
        yield Case(name, rested(k, tempo_bpm, dwell_share), asked)
    said = Task(technique=Technique.HELD_BEND)
    for cents, hold_s, task in ((30.0, 0.3, free), (40.0, 0.3, said), (57.0, 0.4, free),
                                (57.0, 0.9, said), (-40.0, 0.4, free)):  # fmt: skip
        yield Case(f"curled by {cents:g} cents, held {hold_s:g} s, {task.technique}",
                   curled(cents, hold_s=hold_s), task)  # fmt: skip
    for swells in (2, 3):
        widths = 40.0 + 20.0 * np.sin(2.0 * np.pi * swells * np.arange(30) / 30.0)
        line = waves(30, rate_hz=5.0, extent_cents=widths, start_s=0.9)
        yield Case(f"{swells} swells in one note", one_note("swells", line, length_s=7.2), bend)
    for high_cents, task in product((23.0, 28.0), (arm, free)):
        name = f"an arm {high_cents:g} cents up of a hundred, {task.technique}"
        yield Case(name, lopsided_arm(high_cents), task)


def tries(*pauses_s: float) -> TakeDescription:
    """A bar, a pause of no particular length, another bar, and so on."""
    whole = bars("tries", Playing(), seed=13)
    later_s = np.cumsum([0.0, *pauses_s])
    notes = tuple(
        replace(note, onset_s=note.onset_s + float(late_s))
        for note, late_s in zip(whole.notes, later_s, strict=True)
    )
    return replace(whole, duration_s=whole.duration_s + float(later_s[-1]), notes=notes)


def rested(k: int, tempo_bpm: float, dwell_share: float) -> TakeDescription:
    """A push, home, and a rest there until the next one is due."""
    rng = np.random.default_rng(15)

    def line(bar: int) -> Knots:
        times = played_times(3 * k, rate_hz=k / beat_s(tempo_bpm), start_s=beat_s(tempo_bpm),
                             spread_percent=3.0, rng=rng)  # fmt: skip
        return waves(3 * k, cycle_times_s=times, extent_cents=55.0, dwell_share=dwell_share)

    return bars("rested", Playing(tempo_bpm=tempo_bpm), seed=15, line=line)


def curled(cents: float, *, hold_s: float) -> TakeDescription:
    """A note held plain, moved by less than a fret, held there a moment and waved from there."""
    start_s = 0.45 + 0.35 + hold_s
    line = waves(12, rate_hz=5.0, extent_cents=50.0, start_s=start_s, home_cents=cents)
    moved = joined(((0.0, 0.0), (0.45, 0.0), (0.8, cents)), line)
    return one_note("curled", moved, length_s=start_s + 2.8)


def slid_by_a_fret() -> TakeDescription:
    """One pluck: waves, a slide up a fret, waves there, back down, and so on."""
    pieces: list[Knots] = []
    for step in range(4):
        fret, start_s = 100.0 * (step % 2), 3.0 * step
        pieces.append(((start_s + 0.08, fret),))
        pieces.append(
            waves(8, rate_hz=4.0, extent_cents=50.0, start_s=start_s + 0.9, home_cents=fret)
        )
    return one_note("slid", joined(*pieces), length_s=12.0)


def lopsided_arm(high_cents: float) -> TakeDescription:
    """An arm that leans down much farther than it lets the strings up, a hundred cents in all."""
    pairs = [(0.9 + 0.25 * i + at, cents) for i in range(10)
             for at, cents in ((0.06, high_cents), (0.19, high_cents - 100.0))]  # fmt: skip
    return one_note("lopsided", ((0.9, 0.0), *pairs, (3.45, 0.0)), length_s=3.9)


def swung() -> TakeDescription:
    """Eighths played long, short, long, short: two to the click in 12/8 feeling."""
    step_s = beat_s(72.0)
    edges = np.array([beat + share for beat in (1, 2, 3) for share in (0.0, 2 / 3)] + [4.0])
    knots = waves(6, cycle_times_s=edges[:7] * step_s, extent_cents=50.0)
    return bars("swung", Playing(), seed=4, line=lambda bar: knots)


def phrase() -> TakeDescription:
    """Five notes of a melody, all plain but the last."""
    lengths_s = (0.6, 0.6, 0.9, 0.6, 4.0)
    steps = (0, 2, 3, 5, 3)
    notes, onset_s = [], FIRST_S
    for place, (length_s, step) in enumerate(zip(lengths_s, steps, strict=True)):
        knots = waves(10, rate_hz=4.2, extent_cents=45.0, start_s=1.0) if place == 4 else ()
        notes.append(NoteDescription(onset_s, length_s, 261.6 * 2 ** (step / 12), knots=knots))
        onset_s += length_s
    return TakeDescription("phrase", onset_s + 0.4, tuple(notes))
