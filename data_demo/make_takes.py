"""Make the demo takes: sound, truth and catalogue, all from the descriptions below.

    python data_demo/make_takes.py

Every player is a bench of an invented workshop, the boathouse in Tarnwick; the front desk plays
the teacher's examples. Nothing here was recorded. Each take is written as FLAC with a JSON beside
it that holds its description and seed: `labcore.synthesis.synthesise` makes the sound and the
exact truth again from these two. `takes.json` is the catalogue.

In the catalogue ``must_find`` are the kinds of finding an analysis has to make (anything but
"settled"), ``may_find`` those that follow from the same fault, and ``must_not_fault`` all others:
"work on this" there would be a wrong finding.
"""

import json
import zlib
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from labcore.model import Context, Place, Recording, Task, Technique
from labcore.synthesis import (
    Knots,
    NoteDescription,
    Playing,
    TakeDescription,
    both_ways_push,
    click_times,
    fretted_hz,
    held_bend,
    joined,
    played_bars,
    played_times,
    swell,
    synthesise,
    to_dict,
    varied,
    waves,
)

FOLDER = Path(__file__).parent
SAMPLE_RATE_HZ = 22050  # enough for a string's sound, and small files
KINDS = (
    "confidence",
    "plain_note",
    "return",
    "direction",
    "even_width",
    "even_time",
    "note_value",
    "tempo",
    "lock",
    "both_ways",
    "two_strings",
)
# A quiet, dull, clean string keeps the folder small; the noise is the dither of 16 bits.
STRING = {"level": 0.16, "decay_s": 1.6, "brightness": 0.5, "tone_hz": 3000.0, "glide_cents": 2.0}
NYLON = {
    "level": 0.22,
    "decay_s": 1.0,
    "brightness": 0.2,
    "tone_hz": 2000.0,
    "pluck_position": 0.25,
}
NOISE_DB = -99.0
CLICK_DB = -32.0
LEAD_S, TAIL_S = 0.3, 0.25  # silence before the first click and after the last note
TEMPO_BPM = 72.0
THIRD_AT_9_HZ = fretted_hz(3, fret=9, tuned_cents=4.0)  # guitars are rarely exactly in tune
BEND = Task(TEMPO_BPM, 3, Technique.BEND, Place.BOTTOM)
THIRD_AT_9 = Context(string=3, fret=9, finger=3)
EVENINGS = ("2026-03-03", "2026-03-10", "2026-03-17", "2026-03-24", "2026-03-31", "2026-04-07")


@dataclass(frozen=True, slots=True)
class DemoTake:
    """One row of the catalogue, and how its take is made."""

    name: str
    player: str
    date: str
    title: str
    group: str  # "example", "fault", "fair", "cannot judge" or "log"
    description: TakeDescription
    must_find: tuple[str, ...] = ()
    may_find: tuple[str, ...] = ()

    @property
    def seed(self) -> int:
        return seed_of(self.name)

    def row(self) -> dict[str, Any]:
        """What the catalogue says of it."""
        take, allowed = self.description, (*self.must_find, *self.may_find)
        task = to_dict(take)["task"]
        return {
            "name": self.name,
            "file": f"{self.name}.flac",
            "truth": f"{self.name}.json",
            "player": self.player,
            "date": self.date,
            "title": self.title,
            "group": self.group,
            "task": task,
            "context": asdict(take.context),
            "planted": take.says,
            "must_find": list(self.must_find),
            "may_find": list(self.may_find),
            "must_not_fault": [kind for kind in KINDS if kind not in allowed],
        }


def seed_of(name: str) -> int:
    """A seed that stays with the name, whatever is added or moved."""
    return zlib.crc32(name.encode())


def rng_of(name: str) -> np.random.Generator:
    """The player's own chance, apart from that of the sound."""
    return np.random.default_rng([seed_of(name), 1])


# --- the form with its clicks -----------------------------------------------------------------


def form_take(
    name: str,
    playing: Playing,
    *,
    says: str,
    task: Task = BEND,
    context: Context = THIRD_AT_9,
    hz: float = THIRD_AT_9_HZ,
    count_in: int = 0,
    clicks: bool = True,
    line: Callable[[int], Knots] | None = None,
    string: dict[str, float] = STRING,
    **take_parts: Any,
) -> TakeDescription:
    """A take in the practice form, with ``count_in`` clicks before the first pluck."""
    beat = 60.0 / playing.tempo_bpm
    first_s = LEAD_S + count_in * beat
    notes = played_bars(playing, rng=rng_of(name), hz=hz, first_s=first_s, line=line, **string)
    beats = count_in + playing.beats_per_bar * len(playing.cycles_per_beat)
    times = click_times(playing.tempo_bpm, beats=beats, first_s=LEAD_S) if clicks else ()
    return TakeDescription(
        name=name,
        duration_s=round(notes[-1].offset_s + TAIL_S, 3),
        notes=notes,
        click_s=times,
        click_db=CLICK_DB,
        accent_every=playing.beats_per_bar if clicks else 0,
        noise_db=NOISE_DB,
        sample_rate_hz=float(SAMPLE_RATE_HZ),
        task=task,
        context=replace(context, player=""),
        says=says,
        **take_parts,
    )


def free_take(
    name: str, notes: tuple[NoteDescription, ...], *, says: str, task: Task, context: Context
) -> TakeDescription:
    """A take without any click."""
    return TakeDescription(
        name=name,
        duration_s=round(notes[-1].offset_s + TAIL_S, 3),
        notes=notes,
        noise_db=NOISE_DB,
        sample_rate_hz=float(SAMPLE_RATE_HZ),
        task=task,
        context=context,
        says=says,
    )


def free_waves(name: str, count: int, *, rate_hz: float, start_s: float, widths: Any) -> Knots:
    """Waves of a free player: even but for a human 3 % in time and a few cents at home."""
    rng = rng_of(name)
    times = played_times(
        count, rate_hz=rate_hz, start_s=start_s, spread_percent=3.0, rng=rng, locked=False
    )
    home = np.clip(np.abs(rng.normal(scale=1.5, size=count)), 0.0, 3.5)
    return waves(count, cycle_times_s=times, extent_cents=widths, return_cents=home)


def bars_of(value: int, *, bars: int) -> tuple[int, ...]:
    """The same note value in every bar."""
    return (value,) * bars


# --- examples from the front desk -------------------------------------------------------------


def examples() -> Iterator[DemoTake]:
    """What it sounds like when it works."""
    name = "desk_triplets"
    yield DemoTake(
        name,
        "front desk",
        EVENINGS[0],
        "Triplets that come home, with the click",
        "example",
        form_take(
            name,
            Playing(cycles_per_beat=bars_of(3, bars=4)),
            count_in=4,
            says="Nothing: a clean take, one bar of count-in, clicks to be heard.",
        ),
    )
    name = "desk_ladder"
    yield DemoTake(
        name,
        "front desk",
        EVENINGS[5],
        "The whole ladder: two bars each of 2, 3, 4, 5 and 6 to the click",
        "example",
        form_take(
            name,
            Playing(cycles_per_beat=(2, 2, 3, 3, 4, 4, 5, 5, 6, 6)),
            task=replace(BEND, cycles_per_beat=None),
            line=ladder_line(name),
            count_in=4,
            says="Nothing: five note values, narrower where they are faster, as hands do.",
        ),
    )
    name = "desk_circle"
    yield DemoTake(
        name,
        "front desk",
        EVENINGS[3],
        "Small circles: the waves lean, and come home",
        "example",
        form_take(
            name,
            Playing(cycles_per_beat=bars_of(3, bars=3), rise_share=0.6, extent_cents=46.0),
            task=replace(BEND, technique=Technique.CIRCLE),
            says="Nothing: the rise takes 60 % of each wave, as in a circle.",
        ),
    )


LADDER_WIDTH_CENTS = {2: 60.0, 3: 52.0, 4: 44.0, 5: 36.0, 6: 30.0}


def ladder_line(name: str) -> Callable[[int], Knots]:
    """A bar of the ladder: faster waves are narrower."""
    rng = rng_of(name + " line")
    values = (2, 2, 3, 3, 4, 4, 5, 5, 6, 6)
    lines = []
    for value in values:
        count, rate_hz = 3 * value, value * TEMPO_BPM / 60.0
        times = played_times(
            count, rate_hz=rate_hz, start_s=60.0 / TEMPO_BPM, spread_percent=3.0, rng=rng
        )
        width = varied(LADDER_WIDTH_CENTS[value], count=count, spread_percent=4.5, rng=rng)
        home = np.clip(np.abs(rng.normal(scale=1.5, size=count)), 0.0, 3.5)
        lines.append(waves(count, cycle_times_s=times, extent_cents=width, return_cents=home))
    return lambda bar: lines[bar]


# --- faults, one a take -----------------------------------------------------------------------


def faults() -> Iterator[DemoTake]:
    """One thing to work on each, larger than twice its band."""
    yield from faults_of_pitch()
    yield from faults_of_time()


def fault(
    name: str,
    player: str,
    evening: int,
    title: str,
    description: TakeDescription,
    *,
    finds: str,
    may: tuple[str, ...] = (),
) -> DemoTake:
    """A take with one planted fault."""
    date = EVENINGS[evening]
    return DemoTake(name, player, date, title, "fault", description, (finds,), may)


def faults_of_pitch() -> Iterator[DemoTake]:
    """Homecoming, direction, width, plain note."""
    name = "bench1_stops_short"
    playing = Playing(return_cents=42.0, return_spread_cents=3.0)
    take = form_take(name, playing, says="Every wave stops about 42 cents above home.")
    yield fault(
        name,
        "bench 1",
        1,
        "Waves that never come home",
        take,
        finds="return",
        may=("direction",),
    )
    name = "bench2_both_ways"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(2, bars=3)),
        task=replace(BEND, cycles_per_beat=2),
        line=both_ways_line(name),
        says="The push goes through both sides of rest: twice the waves, wide and small in turn.",
    )
    yield fault(
        name,
        "bench 2",
        1,
        "Pushing both ways",
        take,
        finds="both_ways",
        may=("note_value", "even_width", "tempo", "lock"),
    )
    name = "bench4_uneven_width"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(3, bars=3)),
        line=uneven_line(name),
        says="Widths from 16 to 98 cents in no order.",
    )
    yield fault(name, "bench 4", 2, "Some waves wide, some shy", take, finds="even_width")
    name = "bench8_sways_under"
    playing = Playing(cycles_per_beat=bars_of(3, bars=3), extent_cents=70.0, place=Place.MIDDLE)
    take = form_take(name, playing, says="A push was asked; the pitch sways 35 cents to each side.")
    yield fault(
        name,
        "bench 8",
        3,
        "Asked to push up, sways both sides",
        take,
        finds="direction",
        may=("return", "both_ways"),
    )
    name = "bench7_plain_wanders"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(3, bars=3), plain_beats=2),
        line=wandering_line(name),
        says="The plain note sinks steadily, by 62 cents, until the waves begin.",
    )
    yield fault(
        name,
        "bench 7",
        0,
        "The plain note wanders",
        take,
        finds="plain_note",
        may=("return", "direction"),
    )


def both_ways_line(name: str) -> Callable[[int], Knots]:
    """The hand swings at the asked rate, so the pitch doubles it."""
    rng = rng_of(name + " line")
    beat = 60.0 / TEMPO_BPM
    shares = rng.uniform(0.22, 0.28, size=8)
    return lambda bar: both_ways_push(
        6,
        hand_rate_hz=2.0 / beat,
        reach_cents=42.0,
        offset_share=float(shares[bar]),
        start_s=beat,
    )


def uneven_line(name: str) -> Callable[[int], Knots]:
    """Widths spread over a wide range, shuffled bar by bar."""
    rng = rng_of(name + " line")

    def line(bar: int) -> Knots:
        beat = 60.0 / TEMPO_BPM
        times = played_times(9, rate_hz=3.0 / beat, start_s=beat, spread_percent=3.0, rng=rng)
        widths = rng.permutation(np.linspace(16.0, 98.0, 9))
        return waves(9, cycle_times_s=times, extent_cents=widths, return_cents=1.0)

    return line


def wandering_line(name: str) -> Callable[[int], Knots]:
    """Two beats that sink from a squeezed start, then clean waves."""
    rng = rng_of(name + " line")

    def line(bar: int) -> Knots:
        beat = 60.0 / TEMPO_BPM
        sink = tuple((1.92 * beat * n / 8, 62.0 * (8 - n) / 8) for n in range(9))
        times = played_times(6, rate_hz=3.0 / beat, start_s=2.0 * beat, spread_percent=3.0, rng=rng)
        widths = varied(50.0, count=6, spread_percent=4.5, rng=rng)
        return joined(sink, waves(6, cycle_times_s=times, extent_cents=widths))

    return line


def faults_of_time() -> Iterator[DemoTake]:
    """Even time, note value, tempo, lock."""
    name = "bench5_hurry_and_wait"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(2, bars=4)),
        task=replace(BEND, cycles_per_beat=2),
        line=hurry_line(name),
        says="Lengths of the waves from 60 to 140 % of an eighth, in no order.",
    )
    yield fault(name, "bench 5", 2, "Hurry, then wait", take, finds="even_time", may=("lock",))
    name = "bench3_nervous"
    playing = Playing(
        cycles_per_beat=bars_of(6, bars=3), locked=False, extent_cents=22.0, return_spread_cents=1.0
    )
    take = form_take(name, playing, says="Six small waves to the click where three were asked.")
    yield fault(
        name,
        "bench 3",
        1,
        "Nervous and narrow",
        take,
        finds="note_value",
        may=("lock", "tempo"),
    )
    name = "bench3_triplets_for_sixteenths"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(3, bars=4)),
        task=replace(BEND, cycles_per_beat=4),
        count_in=4,
        says="Four to the click were asked, three are played, evenly and in time.",
    )
    yield fault(name, "bench 3", 3, "Three to the click, four were asked", take, finds="note_value")
    name = "bench5_runs_ahead"
    playing = Playing(cycles_per_beat=bars_of(3, bars=4), speed=1.1, locked=False)
    take = form_take(name, playing, says="Even waves, 10 % too fast.")
    yield fault(
        name, "bench 5", 3, "Even, but ahead of the click", take, finds="tempo", may=("lock",)
    )
    name = "bench8_beside_the_click"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(3, bars=4)),
        line=beside_line(name),
        says="Even waves at the right speed that begin elsewhere beside the click in every bar.",
    )
    yield fault(name, "bench 8", 4, "Steady, but not with the click", take, finds="lock")


def hurry_line(name: str) -> Callable[[int], Knots]:
    """Six waves that together last three beats, and none as long as the other."""
    rng = rng_of(name + " line")

    def line(bar: int) -> Knots:
        eighth = 30.0 / TEMPO_BPM
        lengths = eighth * rng.permutation(np.linspace(0.6, 1.4, 6))
        times = 2.0 * eighth + np.concatenate([[0.0], np.cumsum(lengths)])
        widths = varied(50.0, count=6, spread_percent=4.5, rng=rng)
        return waves(6, cycle_times_s=times, extent_cents=widths, return_cents=1.0)

    return line


BESIDE_S = (-0.10, 0.06, 0.125, -0.035)  # of a wave of 0.278 s: a different place in every bar


def beside_line(name: str) -> Callable[[int], Knots]:
    """Waves of the right speed, off the click by another amount in each bar."""
    rng = rng_of(name + " line")

    def line(bar: int) -> Knots:
        beat = 60.0 / TEMPO_BPM
        start_s = beat + BESIDE_S[bar]
        count = 9 if BESIDE_S[bar] <= 0 else 8
        times = played_times(
            count, rate_hz=3.0 / beat, start_s=start_s, spread_percent=3.0, rng=rng
        )
        widths = varied(50.0, count=count, spread_percent=4.5, rng=rng)
        return waves(count, cycle_times_s=times, extent_cents=widths, return_cents=1.0)

    return line


# --- playing that is no fault -----------------------------------------------------------------


def fair() -> Iterator[DemoTake]:
    """Legitimate playing: nothing may be called a fault."""
    yield from fair_free()
    yield from fair_round_or_down()


def fair_take(
    name: str, player: str, evening: int, title: str, description: TakeDescription
) -> DemoTake:
    """A take in which nothing is to be mended."""
    return DemoTake(name, player, EVENINGS[evening], title, "fair", description)


def fair_free() -> Iterator[DemoTake]:
    """Free playing: a late start, a swell, a take without a click."""
    free = Task(technique=Technique.BEND, home=Place.BOTTOM)
    long_string = STRING | {"decay_s": 2.2}
    name = "desk_late_start"
    knots = free_waves(name, 9, rate_hz=4.6, start_s=2.4, widths=46.0)
    notes = tuple(
        NoteDescription(LEAD_S + 4.8 * n, 4.7, THIRD_AT_9_HZ, knots=knots, **long_string)
        for n in range(2)
    )
    take = free_take(
        name, notes, says="Two plain seconds, then the waves.", task=free, context=THIRD_AT_9
    )
    yield fair_take(name, "front desk", 4, "A late start", take)
    name = "desk_swell"
    growing, dying = (swell(14, from_cents=a, to_cents=b) for a, b in ((20, 80), (80, 20)))
    notes = tuple(
        NoteDescription(
            LEAD_S + 4.2 * n,
            4.1,
            THIRD_AT_9_HZ,
            knots=free_waves(f"{name} {n}", 14, rate_hz=4.8, start_s=0.9, widths=widths),
            **long_string,
        )
        for n, widths in enumerate((growing, dying))
    )
    take = free_take(
        name, notes, says="One note swells, one dies away.", task=free, context=THIRD_AT_9
    )
    yield fair_take(name, "front desk", 4, "A swell, and a dying note", take)
    name = "bench2_no_click"
    notes = tuple(
        NoteDescription(
            LEAD_S + 3.6 * n,
            3.5,
            fretted_hz(2, fret=8 + 2 * n, tuned_cents=-5.0),
            knots=free_waves(f"{name} {n}", 12, rate_hz=5.2, start_s=0.8, widths=42.0),
            **STRING,
        )
        for n in range(3)
    )
    context = Context(string=2, finger=2)
    take = free_take(
        name, notes, says="Free and even; no click was used.", task=Task(), context=context
    )
    take = replace(take, hum_db=-78.0, room_s=0.25, room_db=-14.0)  # a bedroom amplifier
    yield fair_take(name, "bench 2", 4, "Free playing, no click", take)


def fair_round_or_down() -> Iterator[DemoTake]:
    """Home in the middle or on top: rolls, arm, held bends."""
    name = "bench7_nylon_roll"
    context = Context(guitar="nylon strings", string=2, fret=7, finger=2)
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(3, bars=3), extent_cents=24.0, place=Place.MIDDLE),
        task=Task(TEMPO_BPM, 3, Technique.ROLL, Place.MIDDLE),
        context=context,
        hz=fretted_hz(2, fret=7, tuned_cents=-3.0),
        string=NYLON,
        says="Nothing: a roll round the pitch on nylon.",
    )
    yield fair_take(name, "bench 7", 2, "A roll on nylon", take)
    name = "desk_roll"
    playing = Playing(cycles_per_beat=bars_of(4, bars=3), extent_cents=28.0, place=Place.MIDDLE)
    task = Task(TEMPO_BPM, 4, Technique.ROLL, Place.MIDDLE)
    take = form_take(name, playing, task=task, says="Nothing: a roll round the pitch on steel.")
    yield fair_take(name, "front desk", 2, "A roll round the pitch", take)
    name = "bench8_arm"
    playing = Playing(cycles_per_beat=bars_of(3, bars=3), extent_cents=60.0, place=Place.MIDDLE)
    task = Task(TEMPO_BPM, 3, Technique.ARM, Place.MIDDLE)
    take = form_take(name, playing, task=task, says="Nothing: the arm swings round the pitch.")
    yield fair_take(name, "bench 8", 2, "The arm, both sides of the pitch", take)
    name = "desk_arm_dips"
    playing = Playing(cycles_per_beat=bars_of(3, bars=3), extent_cents=55.0, place=Place.TOP)
    task = Task(TEMPO_BPM, 3, Technique.ARM, Place.TOP)
    take = form_take(name, playing, task=task, says="Nothing: dips of the arm that come back up.")
    yield fair_take(name, "front desk", 3, "Dips of the arm", take)
    yield from fair_bends()


def fair_bends() -> Iterator[DemoTake]:
    """Held bends, shaken and let down."""
    task = Task(TEMPO_BPM, 4, Technique.HELD_BEND, Place.TOP)
    name = "desk_held_bend"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(4, bars=3)),
        task=task,
        line=bend_line(name, cents=200.0, bend_at_s=0.35, first_beat=2, value=4),
        says="Nothing: a whole tone bent and held, then waves below it that come back up.",
    )
    yield fair_take(name, "front desk", 3, "Waves on a held bend", take)
    name = "desk_let_down"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(3, bars=3)),
        task=replace(task, cycles_per_beat=3),
        line=bend_line(name, cents=100.0, bend_at_s=None, first_beat=1, value=3),
        says="Nothing: bent a half tone before the pluck, then let down and back.",
    )
    yield fair_take(name, "front desk", 3, "A bend let down and brought back", take)


def bend_line(
    name: str, *, cents: float, bend_at_s: float | None, first_beat: int, value: int
) -> Callable[[int], Knots]:
    """A held bend (from the pluck on if ``bend_at_s`` is None) with waves on top."""
    rng = rng_of(name + " line")
    count, beat = (4 - first_beat) * value, 60.0 / TEMPO_BPM

    def line(bar: int) -> Knots:
        up = ((0.0, cents),) if bend_at_s is None else held_bend(cents, start_s=bend_at_s)
        times = played_times(
            count, rate_hz=value / beat, start_s=first_beat * beat, spread_percent=3.0, rng=rng
        )
        widths = varied(48.0, count=count, spread_percent=4.5, rng=rng)
        home = np.clip(rng.normal(scale=1.5, size=count), -3.5, 3.5)
        on_top = waves(
            count,
            cycle_times_s=times,
            extent_cents=widths,
            return_cents=home,
            place=Place.TOP,
            home_cents=cents,
        )
        return joined(up, on_top)

    return line


# --- takes that cannot be judged --------------------------------------------------------------


def unjudgeable() -> Iterator[DemoTake]:
    """Nothing can be said of these, and that is what has to be said."""
    name = "bench1_straight"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(3, bars=2)),
        line=lambda bar: (),
        says="Straight notes: no vibrato at all.",
    )
    yield cannot(name, "bench 1", 0, "A straight note", take)
    name = "bench2_too_short"
    knots = free_waves(name, 2, rate_hz=4.0, start_s=0.5, widths=45.0)
    note = NoteDescription(LEAD_S, 1.1, THIRD_AT_9_HZ, knots=knots, **STRING)
    take = free_take(name, (note,), says="Two waves only.", task=Task(), context=THIRD_AT_9)
    yield cannot(name, "bench 2", 0, "Too short", take)
    name = "bench4_two_strings"
    take = form_take(
        name,
        Playing(cycles_per_beat=bars_of(3, bars=2)),
        says="Another string rings nearly as loud.",
        second_hz=fretted_hz(2, fret=9, tuned_cents=2.0),
        second_db=-9.0,
    )
    yield cannot(name, "bench 4", 0, "Two strings ring", take)


def cannot(
    name: str, player: str, evening: int, title: str, description: TakeDescription
) -> DemoTake:
    """A take that is to be declined."""
    date = EVENINGS[evening]
    kind = "confidence" if description.second_hz is None else "two_strings"
    return DemoTake(name, player, date, title, "cannot judge", description, (kind,))


# --- two weeks of one bench -------------------------------------------------------------------

# date, cents the waves stop short, spread of widths and of times in percent
TWO_WEEKS = (
    ("2026-03-10", 34.0, 26.0, 11.0),
    ("2026-03-12", 29.0, 24.0, 10.5),
    ("2026-03-14", 26.0, 19.0, 8.0),
    ("2026-03-15", 17.0, 20.0, 9.0),
    ("2026-03-17", 14.0, 15.0, 7.0),
    ("2026-03-19", 8.0, 13.0, 6.0),
    ("2026-03-22", 5.0, 9.0, 5.0),
    ("2026-03-24", 2.5, 8.0, 4.0),
)


def two_weeks() -> Iterator[DemoTake]:
    """Bench 6 at home, two bars of triplets a day, slowly better."""
    for number, (date, short, width_percent, time_percent) in enumerate(TWO_WEEKS, start=1):
        name = f"bench6_day{number}"
        playing = Playing(
            cycles_per_beat=bars_of(3, bars=2),
            return_cents=short,
            return_spread_cents=2.5,
            extent_spread_percent=width_percent,
            time_spread_percent=time_percent,
            extent_cents=48.0,
        )
        says = f"Stops {short:g} cents short; widths vary by {width_percent:g} %."
        take = form_take(name, playing, says=says)
        found = ("return",) if short > 30.0 else ()
        may = (*KINDS[2:6], "lock")
        title = f"Bench 6 at home, day {number}"
        yield DemoTake(name, "bench 6", date, title, "log", take, found, may)


# --- writing ----------------------------------------------------------------------------------


def demo_takes() -> tuple[DemoTake, ...]:
    """All takes, in the order of the catalogue."""
    takes = (*examples(), *faults(), *fair(), *unjudgeable(), *two_weeks())
    return tuple(with_player(take) for take in takes)


def with_player(take: DemoTake) -> DemoTake:
    """The player's label belongs into the context too."""
    context = replace(take.description.context, player=take.player)
    return replace(take, description=replace(take.description, context=context))


def sound_of(take: DemoTake) -> Recording:
    """The sound of a demo take; the same seed gives the same samples."""
    return synthesise(take.description, rng=np.random.default_rng(take.seed))[0]


def write_take(take: DemoTake, *, folder: Path) -> None:
    """The FLAC and the truth beside it."""
    soundfile.write(
        folder / f"{take.name}.flac",
        sound_of(take).samples,
        SAMPLE_RATE_HZ,
        subtype="PCM_16",
        compression_level=1.0,
    )
    truth = {"seed": take.seed, "description": to_dict(take.description)}
    (folder / f"{take.name}.json").write_text(json.dumps(truth) + "\n", encoding="utf-8")


def main() -> None:
    """Write the whole folder and say how large it is."""
    takes = demo_takes()
    for take in takes:
        write_take(take, folder=FOLDER)
    rows = ",\n".join(json.dumps(take.row()) for take in takes)
    (FOLDER / "takes.json").write_text(f"[\n{rows}\n]\n", encoding="utf-8")
    size = sum(path.stat().st_size for path in FOLDER.iterdir() if path.is_file())
    print(f"{len(takes)} takes, {size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
