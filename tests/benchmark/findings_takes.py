"""Takes whose truth is known, drawn by number: planted faults, faultless, unjudgeable, fair.

A take is told by a number and a seed. Its truth stands in a `KnownTake`: which faults were planted
and how large, in units of the outer edge of the fault's own band (`labcore.findings.bands`), so
that 2 is twice the band; what must be declined; what must not be faulted. Faults that spread are
planted exactly: the spread of the waves drawn is the spread asked, not its expectation.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from labcore.beats import beat_s, noticed_s
from labcore.findings import bands
from labcore.model import Floats, Place, Task, Technique
from labcore.notes import READ_S
from labcore.synthesis import (
    ClickKind,
    Knots,
    NoteDescription,
    Playing,
    TakeDescription,
    both_ways_push,
    fretted_hz,
    held_bend,
    joined,
    played_times,
    varied,
    waves,
)
from labcore.synthesis.forms import homecomings
from tests.judging.takes import (
    FIRST_S,
    PLACES,
    bars,
    beside_the_click,
    fair_cases,
    one_note,
    with_clicks,
)

Rng = np.random.Generator
PLANTED, FAULTLESS, UNJUDGEABLE, FAIR = "planted", "faultless", "unjudgeable", "fair"
SLOWEST_HZ, FASTEST_HZ = 0.9, 8.2  # what hands do: one wave to a slow click, sextuplets at 82
WIDTHS_CENTS = {
    Technique.BEND: (24.0, 110.0),
    Technique.CIRCLE: (25.0, 70.0),
    Technique.ROLL: (14.0, 36.0),
    Technique.ARM: (30.0, 140.0),
    Technique.HELD_BEND: (25.0, 80.0),
}
LESS_THAN_HALF_A_FRET = 0.94 * bands.HALF_FRET_CENTS
EVERYTHING = "everything"  # nothing at all may be said of such a take


@dataclass(frozen=True)
class Fault:
    """One planted fault; ``size`` 1 lies on the outer edge of its band."""

    kind: str
    size: float


@dataclass(frozen=True)
class KnownTake:
    """A take and the truth about it."""

    number: int
    group: str
    name: str
    description: TakeDescription
    task: Task
    condition: str
    faults: tuple[Fault, ...] = ()
    declines: tuple[str, ...] = ()  # kinds of which nothing may be said, or `EVERYTHING`


@dataclass(frozen=True)
class Play:
    """A player and a form: all of a take but its faults."""

    technique: Technique
    playing: Playing
    hz: float
    bent_cents: float = 0.0  # of a held bend: how far the plain note lies above the fret
    grows: float = 1.0  # width at the end of a bar over width at its start
    dwell_share: float = 0.0

    @property
    def k(self) -> int:
        return self.playing.cycles_per_beat[0]

    @property
    def rate_hz(self) -> float:
        return self.playing.tempo_bpm / 60.0 * self.k

    @property
    def step_s(self) -> float:
        return 1.0 / self.rate_hz

    @property
    def return_edge_cents(self) -> float:
        return max(bands.NEARLY_CENTS, bands.NEARLY_SHARE * self.playing.extent_cents)


@dataclass(frozen=True)
class Bar:
    """The waves of one pluck, shape (waves,); ``time_s`` also holds when the last one ends."""

    number: int
    time_s: Floats
    width_cents: Floats
    return_cents: Floats


Plant = Callable[[Bar, Play, float, Rng], Bar]


# --- players and forms -------------------------------------------------------------------------


def a_play(rng: Rng, *, widest: float = 999.0, narrowest: float = 0.0, ks: Sequence[int] = (),
           technique: Technique | None = None, **changes: Any) -> Play:  # fmt: skip
    """Technique, tempo, note value, width, fret and human jitter, all drawn."""
    if technique is None:
        technique = list(PLACES)[rng.integers(len(PLACES))]
    k, tempo_bpm = _speed(rng, ks or range(1, 7))
    low, high = WIDTHS_CENTS[technique]
    low, high = max(low, narrowest), max(min(high, widest), narrowest)
    playing = Playing(
        tempo_bpm=tempo_bpm,
        cycles_per_beat=(k,) * {1: 3, 2: 6}.get(k, 4),
        beats_per_bar=8 if k == 1 else 4,  # three waves a pluck say little: two bars to a pluck
        extent_cents=float(np.exp(rng.uniform(np.log(low), np.log(high)))),
        place=PLACES[technique],
        time_spread_percent=rng.uniform(1.0, 4.0),
        extent_spread_percent=rng.uniform(2.0, 8.0),
        return_spread_cents=rng.uniform(0.5, 2.5),
        rise_share=rng.uniform(0.38, 0.62),
        late_s=rng.uniform(-0.03, 0.02),
    )
    hz = fretted_hz(int(rng.integers(1, 7)), fret=int(rng.integers(5, 16)))
    bent = float(rng.choice([0.0, 100.0, 200.0])) if technique is Technique.HELD_BEND else 0.0
    play = _in_another_form(Play(technique, playing, hz, bent_cents=bent), rng)
    return replace(play, playing=replace(play.playing, **changes))


def _speed(rng: Rng, ks: Sequence[int]) -> tuple[int, float]:
    """Note value and tempo that a hand can play."""
    while True:
        k, tempo_bpm = int(rng.choice(list(ks))), float(rng.integers(50, 111))
        if SLOWEST_HZ <= tempo_bpm / 60.0 * k <= FASTEST_HZ:
            return k, tempo_bpm


def _in_another_form(play: Play, rng: Rng) -> Play:
    """A third of the takes: a late start, a swell, a dying width, a rest at home."""
    form = rng.integers(12)
    if form == 0 and play.k >= 3:
        return replace(play, playing=replace(play.playing, plain_beats=2))
    if form in (1, 2):
        return replace(play, grows=float(rng.choice([0.5, 2.0])))
    if form == 3 and play.technique is Technique.BEND and play.rate_hz < 3.5:
        return replace(play, dwell_share=rng.uniform(0.1, 0.65))
    return play


def a_bar(play: Play, number: int, rng: Rng) -> Bar:
    """The waves of one bar as a person without faults plays them."""
    playing = play.playing
    count = (playing.beats_per_bar - playing.plain_beats) * play.k
    time_s = played_times(
        count,
        rate_hz=play.rate_hz * playing.speed,
        start_s=playing.plain_beats * beat_s(playing.tempo_bpm),
        spread_percent=playing.time_spread_percent,
        rng=rng,
    )
    growth = np.geomspace(play.grows**-0.5, play.grows**0.5, count)
    width = varied(playing.extent_cents * growth, count=count,
                   spread_percent=playing.extent_spread_percent, rng=rng)  # fmt: skip
    return Bar(number, time_s, width, homecomings(playing, count=count, rng=rng))


def knots_of(bar: Bar, play: Play, rng: Rng) -> Knots:
    """The pitch line of a bar: a bend up to the plain note if it is held there, then the waves."""
    playing = play.playing
    rises = np.clip(
        playing.rise_share + rng.normal(scale=0.03, size=bar.width_cents.size), 0.2, 0.8
    )
    line = waves(
        bar.width_cents.size,
        cycle_times_s=bar.time_s,
        extent_cents=bar.width_cents,
        return_cents=bar.return_cents,
        place=playing.place,
        rise_share=rises,
        dwell_share=play.dwell_share,
        home_cents=play.bent_cents,
    )
    if play.bent_cents:
        return joined(held_bend(play.bent_cents, start_s=0.05, bend_s=0.15), line)
    return line


def described(play: Play, faults: Sequence[Fault], rng: Rng) -> TakeDescription:
    """The take as played, with these faults in every bar."""

    def line(number: int) -> Knots:
        bar = a_bar(play, number, rng)
        for fault in faults:
            if fault.kind in PLANTS:
                bar = PLANTS[fault.kind](bar, play, fault.size, rng)
        wander = next((fault.size for fault in faults if fault.kind == "plain_note"), 0.0)
        return joined(_wandering(wander, play, rng), knots_of(bar, play, rng))

    description = bars("take", play.playing, seed=int(rng.integers(2**31)), hz=play.hz, line=line)
    for fault in faults:
        if fault.kind == "lock":
            shares = _apart(fault.size, play, rng, plucks=len(description.notes))
            description = beside_the_click(description, step_s=play.step_s, shares=shares)
    return description


# --- faults, in units of their band ------------------------------------------------------------


def spread(count: int, percent: float, rng: Rng) -> Floats:
    """Shares that vary by exactly this much around a straight line; none below -80 %."""
    index = np.arange(count)
    while True:
        draw = rng.uniform(-1.0, 1.0, size=count)
        draw -= np.polyval(np.polyfit(index, draw, 1), index)
        draw *= percent / 100.0 / np.sqrt(np.sum(draw**2) / (count - 2))
        if draw.min() > -0.8 and not _takes_turns(draw):
            return np.asarray(draw)


def _takes_turns(draw: Floats) -> bool:
    """Wide and narrow in turn is another fault than uneven, long and short in turn is swing."""
    return draw.size >= 4 and float(np.mean(np.diff(np.sign(draw)) != 0.0)) > 0.7


def uneven_width(bar: Bar, play: Play, size: float, rng: Rng) -> Bar:
    shares = spread(bar.width_cents.size, size * bands.WIDTH_PERCENT[1], rng)
    growth = np.geomspace(play.grows**-0.5, play.grows**0.5, shares.size)
    return replace(bar, width_cents=play.playing.extent_cents * growth * (1.0 + shares))


def uneven_time(bar: Bar, play: Play, size: float, rng: Rng) -> Bar:
    """Round home a wave is seen from low to low, most of one wave and the rest of the next."""
    rest = play.playing.rise_share / 2.0 if play.playing.place is Place.MIDDLE else 0.0
    seen = np.hypot(1.0 - rest, rest)
    shares = spread(bar.time_s.size - 1, size * bands.TIME_PERCENT[1] / seen, rng)
    ends_s = np.concatenate([[0.0], np.cumsum(play.step_s * (1.0 + shares))])
    return replace(bar, time_s=bar.time_s[0] + ends_s)


def away_from_home(bar: Bar, play: Play, size: float, rng: Rng) -> Bar:
    """A push stops short, a held bend sags, a roll or an arm swings round another pitch.

    Never by half a fret: from there on the next fret's note is nearer, and nothing is told.
    """
    way = {Place.BOTTOM: 1.0, Place.TOP: -1.0}.get(play.playing.place, 1.0 if rng.random() < 0.5
                                                    else -1.0)  # fmt: skip
    off = min(size * play.return_edge_cents, LESS_THAN_HALF_A_FRET)
    return replace(bar, return_cents=bar.return_cents + way * off)


def through_home(bar: Bar, play: Play, size: float, rng: Rng) -> Bar:
    """A push that goes below the plain note: D is 1 less 2 u / E, the band ends at `ONE_WAY`."""
    under = size * (1.0 - bands.ONE_WAY) / 2.0 * play.playing.extent_cents
    return replace(bar, return_cents=-under + 0.3 * bar.return_cents)


def at_another_speed(bar: Bar, play: Play, size: float, rng: Rng) -> Bar:
    """All waves faster or, with a negative size, slower; what passes the bar's end is left out."""
    time_s = bar.time_s[0] + (bar.time_s - bar.time_s[0]) / (
        1.0 + size * bands.TEMPO_PERCENT[1] / 100
    )
    return _until(bar, time_s, play)


def _until(bar: Bar, time_s: Floats, play: Play) -> Bar:
    end_s = play.playing.beats_per_bar * beat_s(play.playing.tempo_bpm) - 0.1 * play.step_s
    kept = max(int(np.searchsorted(time_s, end_s, side="right")) - 1, 1)
    return Bar(bar.number, time_s[: kept + 1], bar.width_cents[:kept], bar.return_cents[:kept])


def rushing(bar: Bar, play: Play, size: float, rng: Rng) -> Bar:
    """Speed that changes evenly from the first wave of the take to the last, right on average."""
    last = len(play.playing.cycles_per_beat)
    bar_s = play.playing.beats_per_bar * beat_s(play.playing.tempo_bpm)
    place = (bar.number + bar.time_s / bar_s) / last - 0.5  # of the take, from -0.5 to 0.5
    speed = 1.0 + size * bands.TEMPO_PERCENT[1] / 100.0 * place
    lengths = np.diff(bar.time_s) / speed[:-1]
    time_s = bar.time_s[0] + np.concatenate([[0.0], np.cumsum(lengths)])
    return _until(bar, time_s, play)


PLANTS: dict[str, Plant] = {
    "even_width": uneven_width,
    "even_time": uneven_time,
    "return": away_from_home,
    "direction": through_home,
    "tempo": at_another_speed,
    "drift": rushing,
}


def _wandering(size: float, play: Play, rng: Rng) -> Knots:
    """A plain note that sags or creeps to its pitch (10 to 90 % of a line is 0.8 of it)."""
    if size == 0.0:
        return ()
    way, end_s = rng.choice([-1.0, 1.0]), play.playing.plain_beats * beat_s(play.playing.tempo_bpm)
    glide = way * size * bands.PLAIN_CENTS[1] * 2.563 / 0.8
    time_s = np.linspace(0.0, end_s - 0.02, 24)  # close enough for a straight line
    rest = glide * (end_s - time_s) / READ_S
    return tuple((float(t), float(c)) for t, c in zip(time_s, play.bent_cents + rest, strict=True))


def _apart(size: float, play: Play, rng: Rng, *, plucks: int) -> Floats:
    """Where in the wave each pluck's waves fall, so that their circular spread is as asked.

    The plucks lie a share d early and d late in turn: R is cos(2 pi d), the spread sqrt(-2 ln R).
    """
    spread_share = size * bands.LOCK_NOTICED[1] * noticed_s(play.step_s) / play.step_s
    strength = np.exp(-((2.0 * np.pi * spread_share) ** 2) / 2.0)
    share = np.arccos(strength) / (2.0 * np.pi)
    side = np.resize([-1.0, 1.0], plucks) * rng.choice([-1.0, 1.0])
    return np.asarray(0.25 + share * side)


# --- planted takes -----------------------------------------------------------------------------


def planted(
    rng: Rng, kinds: Sequence[str], size: float
) -> tuple[TakeDescription, Task, tuple[Fault, ...]]:
    """A take with these faults of this size, and the task it was played to."""
    play = a_play(rng, **_fit_for(kinds, rng, size))
    if "pace" in kinds:
        play = _nervous(rng, size)
    faults = tuple(Fault(kind, _signed(kind, size, play, rng)) for kind in kinds)
    if "both_ways" in kinds:
        description, task = _pushed_through(rng, size)
    else:
        description, task = described(play, faults, rng), _task(play, kinds, rng)
    return description, task, tuple(replace(fault, size=abs(fault.size)) for fault in faults)


def _fit_for(kinds: Sequence[str], rng: Rng, size: float) -> dict[str, Any]:
    """What a player must do so that the fault can be played, and seen by a teacher, at all."""
    ks, parts = set(range(1, 7)), {}
    if {"even_width", "even_time", "return", "direction"} & set(kinds):
        parts["narrowest"] = 24.0
    if {"tempo", "drift"} & set(kinds):  # further off, and it is another note value: see `_signed`
        ks &= {2, 3, 4} if size > 2.0 else {2, 3, 4, 5}
    if "lock" in kinds:
        ks -= {1}
    if "direction" in kinds:
        parts["technique"], parts["narrowest"] = Technique.BEND, 40.0
    if "plain_note" in kinds:
        parts["technique"] = rng.choice([Technique.BEND, Technique.ARM, Technique.ROLL])
    return {"ks": sorted(ks), **parts}


def _signed(kind: str, size: float, play: Play, rng: Rng) -> float:
    """Fast or slow, but not so much that another note value lies nearly as near."""
    if kind not in ("tempo", "drift"):
        return size
    border = np.sqrt((play.k + 1) / play.k) ** 0.8
    fast = 1.0 + size * bands.TEMPO_PERCENT[1] / 100.0 < border
    return size * float(rng.choice([-1.0, 1.0] if fast else [-1.0]))


def _task(play: Play, kinds: Sequence[str], rng: Rng) -> Task:
    """What was asked: the click where the fault needs it, else in two takes of three."""
    asked = Task(technique=play.technique, home=play.playing.place)
    needs_click = bool({"tempo", "drift", "lock", "note_value"} & set(kinds)) or _is_hasty(play)
    if "pace" in kinds or not (needs_click or rng.random() < 0.67):
        return asked
    k = play.k
    if "note_value" in kinds:
        k = int(rng.choice([other for other in range(1, 7) if other != play.k]))
    return replace(asked, tempo_bpm=play.playing.tempo_bpm, cycles_per_beat=k)


def _is_hasty(play: Play) -> bool:
    """So fast that, played narrow and unasked, it would be a fault of its own."""
    return play.rate_hz > 0.95 * bands.NERVOUS_HZ


def _nervous(rng: Rng, size: float) -> Play:
    """Faster than a hand does at ease, and ``size`` times narrower than the edge; no click."""
    play = a_play(rng, technique=Technique.BEND, ks=(6,))
    tempo_bpm = rng.uniform(8.2, 9.5) * 60.0 / 6.0
    playing = replace(play.playing, tempo_bpm=tempo_bpm, extent_cents=bands.NERVOUS_CENTS / size)
    return Play(Technique.BEND, playing, play.hz)


def _pushed_through(rng: Rng, size: float) -> tuple[TakeDescription, Task]:
    """A string pushed through both ways: of two waves the small one is 1 - size / 4 of the tall."""
    hand, tempo_bpm = _speed(rng, (1, 2, 3))
    ratio = 1.0 - size * (1.0 - bands.TURNS_RATIO)
    offset = (1.0 - np.sqrt(ratio)) / (1.0 + np.sqrt(ratio))
    reach, step_s = rng.uniform(25.0, 70.0), beat_s(tempo_bpm)
    playing = Playing(tempo_bpm=tempo_bpm)

    def line(bar: int) -> Knots:
        knots = both_ways_push(3 * hand, hand_rate_hz=hand / step_s, start_s=step_s,
                               reach_cents=reach, offset_share=float(offset))  # fmt: skip
        return tuple(
            (
                time + 0.015 * step_s / hand * float(rng.normal()),
                cents * (1.0 + 0.03 * float(rng.normal())),
            )
            for time, cents in knots
        )

    hz = fretted_hz(int(rng.integers(1, 7)), fret=int(rng.integers(5, 16)))
    description = bars("both ways", playing, seed=0, hz=hz, line=line)
    return description, Task(tempo_bpm, hand, Technique.BEND, Place.BOTTOM)


# --- takes that cannot be judged ---------------------------------------------------------------


def few_waves(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    play = a_play(rng)
    knots = waves(int(rng.integers(1, 4)), rate_hz=play.rate_hz, start_s=1.0,
                  extent_cents=play.playing.extent_cents)  # fmt: skip
    length_s = knots[-1][0] + 0.5
    return (
        one_note("few", knots, length_s=length_s, hz=play.hz),
        _task(play, (), rng),
        (EVERYTHING,),
    )


def no_vibrato(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """A melody of plain notes."""
    steps = rng.integers(-5, 8, size=6)
    notes, onset_s = [], FIRST_S
    for step in steps:
        length_s = float(rng.uniform(0.35, 1.5))
        notes.append(NoteDescription(onset_s, length_s, 261.6 * 2 ** (step / 12)))
        onset_s += length_s
    description = TakeDescription("tune", onset_s + 0.4, tuple(notes))
    return description, _task(a_play(rng), (), rng), (EVERYTHING,)


def two_strings(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """Another string about as loud as the note: whose pitch is it?"""
    play = a_play(rng)
    description = described(play, [Fault("even_width", 2.5)], rng)
    other_hz = play.hz * 2.0 ** (float(rng.choice([-7, -5, -4, -3, 3, 4, 5, 7])) / 12.0)
    second_db = -6.0 + rng.uniform(-4.0, 3.0)
    description = replace(description, second_hz=other_hz, second_db=second_db)
    return description, _task(play, (), rng), (EVERYTHING,)


def drowned(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """Noise about as loud as the note when it is plucked, or louder."""
    play = a_play(rng)
    description = described(play, [Fault("even_width", 2.5)], rng)
    return (
        replace(description, noise_db=rng.uniform(-12.0, 0.0)),
        _task(play, (), rng),
        (EVERYTHING,),
    )


def trill(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """Two notes hammered in turn."""
    rate_hz, cents = rng.uniform(3.0, 6.5), float(rng.choice([100.0, 200.0]))
    half_s, knots, time_s = 0.5 / rate_hz, [(0.0, 0.0)], 0.8
    for turn in range(24):
        knots += [(time_s, cents * (turn % 2)), (time_s + 0.02, cents * ((turn + 1) % 2))]
        time_s += half_s
    play = a_play(rng)
    description = one_note("trill", tuple(knots), length_s=time_s + 0.2, hz=play.hz)
    return description, replace(_task(play, (), rng), technique=Technique.BEND), (EVERYTHING,)


def no_plain_note(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """Waves from the pluck on, far from home: nothing tells where home is."""
    play = a_play(rng, ks=(2, 3, 4, 5, 6), plain_beats=0)
    play = replace(play, bent_cents=0.0)
    kind = "direction" if play.technique is Technique.BEND else "return"
    description = described(play, [Fault(kind, 2.5)], rng)
    description = replace(description, notes=tuple(map(_without_way_out, description.notes)))
    return description, _task(play, (), rng), ("return", "direction")


def _without_way_out(note: NoteDescription) -> NoteDescription:
    """From the first homecoming on: a first wave cut at its start would leave a plain note."""
    start_s = note.knots[2][0]
    knots = tuple((time_s - start_s, cents) for time_s, cents in note.knots[2:])
    return replace(note, knots=knots, duration_s=note.duration_s - start_s)


def another_click(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """The click that is heard is not the tempo that is asked."""
    play = a_play(rng)
    description = described(play, [], rng)
    asked = play.playing.tempo_bpm * float(rng.choice([0.8, 0.88, 0.93, 1.07, 1.14, 1.25]))
    task = Task(round(asked), play.k, play.technique, play.playing.place)
    return (
        _with_clicks(description, play.playing.tempo_bpm, rng),
        task,
        ("note_value", "tempo", "lock"),
    )


def too_short_for_the_click(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """Four waves or more, but fewer than 16 or than 8 beats of them."""
    play = a_play(rng, ks=(2, 3, 4, 5))
    playing = replace(play.playing, cycles_per_beat=(play.k,) * 2)
    play = replace(play, playing=playing)
    description = described(play, [Fault("lock", 2.5)], rng)
    task = Task(playing.tempo_bpm, play.k, play.technique, playing.place)
    return description, task, ("lock",)


def beside_a_click_that_is_not_heard(
    rng: Rng,
) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """Who rests between plucks begins anew on another beat in just this way."""
    play = a_play(rng, ks=(2, 3, 4, 5, 6))
    return described(play, [Fault("lock", 2.5)], rng), _task(play, ("lock",), rng), ("lock",)


def values_mixed(rng: Rng) -> tuple[TakeDescription, Task, tuple[str, ...]]:
    """Two note values in turn where one was asked: neither may be held against the other."""
    tempo_bpm, pair = float(rng.integers(55, 80)), rng.choice([2, 3, 4, 5], size=2, replace=False)
    playing = Playing(
        tempo_bpm=tempo_bpm, cycles_per_beat=tuple(int(k) for k in np.resize(pair, 4))
    )
    description = bars("mixed", playing, seed=int(rng.integers(2**31)))
    return (
        description,
        Task(tempo_bpm, int(pair[0]), Technique.BEND),
        ("note_value", "tempo", "lock"),
    )


UNJUDGED: dict[str, Callable[[Rng], tuple[TakeDescription, Task, tuple[str, ...]]]] = {
    "too few waves": few_waves,
    "no vibrato": no_vibrato,
    "two strings": two_strings,
    "drowned in noise": drowned,
    "a trill": trill,
    "no plain note": no_plain_note,
    "a click of another tempo": another_click,
    "too short for the click": too_short_for_the_click,
    "two note values": values_mixed,
    "beside a click that is not heard": beside_a_click_that_is_not_heard,
}


# --- music that must never be faulted ----------------------------------------------------------

Fair = Callable[[Rng], tuple[TakeDescription, Task]]


def late_start(rng: Rng) -> tuple[TakeDescription, Task]:
    play = a_play(rng, technique=Technique.BEND, ks=(2, 3, 4, 5, 6))
    start_s, count = rng.uniform(1.2, 2.5), int(rng.integers(4, 12))
    knots = waves(
        count, rate_hz=play.rate_hz, extent_cents=play.playing.extent_cents, start_s=start_s
    )
    length_s = knots[-1][0] + rng.uniform(0.0, 0.5)
    task = replace(_task(play, (), rng), tempo_bpm=None, cycles_per_beat=None)
    return one_note("late", knots, length_s=length_s, hz=play.hz), task


def widening(rng: Rng) -> tuple[TakeDescription, Task]:
    """A swell of two to four times the width, and for half of them gathering speed too."""
    count, rate_hz = int(rng.integers(10, 20)), rng.uniform(3.0, 6.0)
    factor = rng.uniform(2.0, 4.0) ** rng.choice([-1.0, 1.0])
    widths = varied(np.geomspace(1.0, factor, count) * 40.0 / np.sqrt(factor), count=count,
                    spread_percent=4.0, rng=rng)  # fmt: skip
    gather = rng.uniform(1.0, 1.6) if rng.random() < 0.5 else 1.0
    lengths = np.geomspace(1.0, 1.0 / gather, count) / rate_hz * (1 + 0.02 * rng.normal(size=count))
    times = 0.9 + np.concatenate([[0.0], np.cumsum(lengths)])
    knots = waves(count, cycle_times_s=times, extent_cents=widths)
    hz = fretted_hz(int(rng.integers(1, 7)), fret=int(rng.integers(5, 16)))
    description = one_note("swell", knots, length_s=times[-1] + 0.3, hz=hz)
    return description, Task(technique=Technique.BEND, home=Place.BOTTOM)


def round_the_pitch(rng: Rng) -> tuple[TakeDescription, Task]:
    """A roll or an arm that goes both ways, said or not."""
    technique = Technique.ROLL if rng.random() < 0.5 else Technique.ARM
    play = a_play(rng, technique=technique)
    asked = Task(play.playing.tempo_bpm, play.k) if rng.random() < 0.5 else Task()
    if rng.random() < 0.5:
        asked = replace(asked, technique=technique)
    return described(play, [], rng), asked


def narrow(rng: Rng) -> tuple[TakeDescription, Task]:
    play = a_play(rng, technique=Technique.BEND, ks=(2, 3, 4, 5))
    play = replace(play, playing=replace(play.playing, extent_cents=rng.uniform(10.0, 20.0)))
    return described(play, [], rng), _task(play, (), rng)


def from_the_list(rng: Rng) -> tuple[TakeDescription, Task]:
    """A case of the list of fair playing, a little higher or lower."""
    case = list(fair_cases())[rng.integers(FAIR_CASES)]
    shift = 2.0 ** (float(rng.integers(-7, 8)) / 12.0)
    notes = tuple(replace(note, hz=note.hz * shift) for note in case.description.notes)
    return replace(case.description, notes=notes, name=case.name), case.task


FAIR_CASES = len(list(fair_cases()))
FAIR_PLAY: dict[str, Fair] = {
    "a late start": late_start,
    "widening": widening,
    "round the pitch": round_the_pitch,
    "narrow": narrow,
    "the list of fair playing": from_the_list,
}


# --- what the room, the guitar and the amplifier add -------------------------------------------

Condition = Callable[[TakeDescription, Task, Rng], TakeDescription]


def _notes(description: TakeDescription, **parts: Any) -> TakeDescription:
    notes = tuple(replace(note, **parts) for note in description.notes)
    return replace(description, notes=notes)


def _shifted(description: TakeDescription, cents: float) -> TakeDescription:
    notes = tuple(replace(n, hz=n.hz * 2.0 ** (cents / 1200.0)) for n in description.notes)
    return replace(description, notes=notes)


def _with_clicks(description: TakeDescription, tempo_bpm: float, rng: Rng) -> TakeDescription:
    return with_clicks(
        description,
        tempo_bpm,
        click_db=rng.uniform(-22.0, -12.0),
        click_kind=list(ClickKind)[rng.integers(3)],
        accent_every=int(rng.choice([0, 4])),
    )


def clean(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return description


def noisy(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return replace(description, noise_db=rng.uniform(-55.0, -36.0))


def clicking(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return description if task.tempo_bpm is None else _with_clicks(description, task.tempo_bpm, rng)


def overdriven(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return replace(description, drive=rng.uniform(1.0, 6.0), noise_db=-60.0)


def in_a_room(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return replace(description, room_s=rng.uniform(0.2, 0.5), room_db=rng.uniform(-18.0, -12.0))


def detuned(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return _shifted(description, rng.uniform(-50.0, 50.0))


def with_capo(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return _shifted(description, 100.0 * float(rng.integers(1, 6)))


def fading(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    """A string that rings short, as a thin one or a cheap guitar does: 9 to 14 dB a second."""
    return replace(_notes(description, decay_s=rng.uniform(0.6, 1.0)), noise_db=-70.0)


def sharp_at_the_pluck(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return _notes(description, glide_cents=rng.uniform(3.0, 12.0))


def humming(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    return replace(
        description, hum_db=rng.uniform(-50.0, -36.0), hum_hz=float(rng.choice([50.0, 60.0]))
    )


def at_home_on_the_phone(description: TakeDescription, task: Task, rng: Rng) -> TakeDescription:
    """All at once: a click in the room, a little amplifier, hum and noise."""
    worse = replace(clicking(description, task, rng), drive=rng.uniform(0.5, 2.0))
    return humming(noisy(in_a_room(worse, task, rng), task, rng), task, rng)


CONDITIONS: dict[str, Condition] = {
    "clean": clean,
    "noise": noisy,
    "clicks": clicking,
    "overdrive": overdriven,
    "reverb": in_a_room,
    "detuned": detuned,
    "capo": with_capo,
    "fading": fading,
    "sharp pluck": sharp_at_the_pluck,
    "hum": humming,
    "mixed": at_home_on_the_phone,
}


# --- takes by number ---------------------------------------------------------------------------

SINGLES = ("plain_note", "return", "direction", "both_ways", "even_width", "pace", "even_time",
           "note_value", "tempo", "drift", "lock")  # fmt: skip
PAIRS = (
    ("return", "even_width"), ("return", "even_time"), ("return", "note_value"),
    ("return", "tempo"), ("return", "lock"), ("direction", "even_width"),
    ("direction", "even_time"), ("direction", "note_value"), ("direction", "tempo"),
    ("even_width", "note_value"), ("even_time", "note_value"), ("even_width", "even_time"),
    ("plain_note", "even_width"), ("plain_note", "note_value"), ("tempo", "even_width"),
    ("lock", "even_width"),
)  # fmt: skip
SIZES = ((0.4, 0.85), (1.15, 2.0), (2.05, 2.6), (2.05, 2.6), (2.05, 2.6))  # drawn from, in turn
ROUND = (PLANTED,) * 5 + ("pair",) * 2 + (FAULTLESS,) * 5 + (UNJUDGEABLE,) * 3 + (FAIR,) * 5


def known_take(number: int, *, seed: int) -> KnownTake:
    """The take of this number; groups, kinds and sizes take turns, the rest is drawn."""
    rng = np.random.default_rng([seed, number])
    group = ROUND[number % len(ROUND)]
    turn = number // len(ROUND) * ROUND.count(group) + ROUND[: number % len(ROUND)].count(group)
    return MAKERS[group](number, turn, rng)


def _made(
    number: int, group: str, name: str, description: TakeDescription, task: Task, rng: Rng,
    *, condition: str | None = None, **truth: Any,
) -> KnownTake:  # fmt: skip
    condition = condition or list(CONDITIONS)[rng.integers(len(CONDITIONS))]
    described = CONDITIONS[condition](description, task, rng)
    beside = any(fault.kind == "lock" for fault in truth.get("faults", ()))
    if beside and task.tempo_bpm is not None and len(described.click_s) == 0:
        described = _with_clicks(described, task.tempo_bpm, rng)  # else nobody could tell
    name = f"{number}: {name}, {condition}"
    return KnownTake(number, group, name, described, task, condition, **truth)


# Another note value is one, however near; and a push through both ways doubles the waves, however
# alike they are.
ALL_OR_NOTHING = ("note_value", "both_ways")


def _a_planted(number: int, turn: int, rng: Rng) -> KnownTake:
    kind = SINGLES[turn % len(SINGLES)]
    size = float(rng.uniform(*SIZES[turn // len(SINGLES) % len(SIZES)]))
    size = max(size, 1.15) if kind in ALL_OR_NOTHING else size
    description, task, faults = planted(rng, (kind,), size)
    return _made(number, PLANTED, f"{kind} x {size:.1f}", description, task, rng, faults=faults)


def _a_pair(number: int, turn: int, rng: Rng) -> KnownTake:
    kinds, size = PAIRS[turn % len(PAIRS)], float(rng.uniform(2.05, 2.6))
    description, task, faults = planted(rng, kinds, size)
    name = f"{' and '.join(kinds)} x {size:.1f}"
    return _made(number, PLANTED, name, description, task, rng, faults=faults)


def _a_faultless(number: int, turn: int, rng: Rng) -> KnownTake:
    play = a_play(rng)
    task = _task(play, (), rng)
    if rng.random() < 0.4:
        task = replace(task, technique=Technique.NOT_SAID, home=Place.UNKNOWN)
    return _made(number, FAULTLESS, "faultless", described(play, [], rng), task, rng)


def _an_unjudgeable(number: int, turn: int, rng: Rng) -> KnownTake:
    name = list(UNJUDGED)[turn % len(UNJUDGED)]
    description, task, declines = UNJUDGED[name](rng)
    return _made(number, UNJUDGEABLE, name, description, task, rng, condition="clean",
                 declines=declines)  # fmt: skip


def _a_fair(number: int, turn: int, rng: Rng) -> KnownTake:
    name = list(FAIR_PLAY)[turn % len(FAIR_PLAY)]
    description, task = FAIR_PLAY[name](rng)
    return _made(number, FAIR, name, description, task, rng)


MAKERS = {PLANTED: _a_planted, "pair": _a_pair, FAULTLESS: _a_faultless,
          UNJUDGEABLE: _an_unjudgeable, FAIR: _a_fair}  # fmt: skip
