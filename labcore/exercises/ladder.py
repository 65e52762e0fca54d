"""The practice ladder as data: thirteen weeks, one new difficulty a rung.

The order, the sets and the pass marks are common practice, no source, unless a source stands
beside them. A pass never needs the best band: 'nearly', two takes of three, on two days.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

from labcore.errors import LabError
from labcore.model import Context, Measure, Place, Task, Technique

SET_S = 25.0  # drills of 20 to 30 s, rest as long (common practice, no source)
DRILL_MINUTES = 10  # a day in weeks 0 to 4 (common practice, no source)
LATER_DRILL_MINUTES = 15
# Where least force is needed and the hand is free (lesson 02); common practice, no source.
USUAL_FINGER = 3
USUAL_STRING = 3
USUAL_FRET = 9
USUAL_TEMPO_BPM = 72.0
OTHER_FRETS = (5, 17)
Difficulty = tuple[str, str | float]
MOST_DAYS_OF_SEVEN = 5  # common practice, no source
STOP = "Stop at pain, numbness or tingling. If it lasts for days, see a doctor."
YOUNG = "Under sixteen: half the minutes, the lightest strings, and tell a grown-up."


class Form(NamedTuple):
    """How a rung is laid out in bars; ``demanding`` if the layout itself has to be learnt."""

    name: str
    words: str
    demanding: bool = False


PLAIN = Form("plain", "One plain note a bar, four bars.")
FREE = Form("free", "No click. Pluck, push on each count you sing, rest, repeat.")
BARS = Form("bars", "Four bars: pluck on 1, leave beat 1 plain, waves on 2, 3 and 4.")
SWITCH = Form("switching", "Change the note value at the bar line; pluck again when you do.", True)
UP_AND_DOWN = Form("up, then down", "One note value after the other, up and down again.", True)
SILENCE = Form("silent bars", "Two bars with the click, two bars without, twice.", True)
TUNE = Form("a tune", "A tune you like; vibrato on long notes only.", True)
HELD_ONE = Form("a held bend", "Bend up one fret, hold, let the waves fall from it.", True)
HELD_TWO = Form("a wider held bend", "Bend up two frets, hold, let the waves fall from it.", True)
HELD = (HELD_ONE, HELD_TWO)


@dataclass(frozen=True, slots=True)
class Band:
    """Where a measure has to lie to pass, and how to say that."""

    measure: str
    words: str
    least: float = float("-inf")
    most: float = float("inf")

    def holds(self, measure: Measure) -> bool:
        """Whether the value as measured lies inside."""
        return self.least <= measure.value <= self.most

    def missed(self, measure: Measure) -> bool:
        """Whether it lies outside even if our reading is off by two standard errors."""
        margin = 2.0 * (measure.error or 0.0)
        return measure.value + margin < self.least or measure.value - margin > self.most


PLAIN_NOTE = Band("plain_note", "the plain note stays within 5 cents", most=5.0)
NEAR_HOME = Band("return_to_pitch", "the waves come back to within a fifth of a fret", -20.0, 20.0)
COMES_HOME = Band("returned_share", "seven of ten waves come home", least=70.0)
UP_ONLY = Band("direction", "the pitch goes up only", 0.6, 1.4)
RATE = Band("rate_error", "the speed is within 4 % of the note value", -4.0, 4.0)
EVEN_WIDTH = Band("extent_evenness", "the waves are about equally wide (within 20 %)", most=20.0)
EVEN_TIME = Band("time_evenness", "the waves are about equally long (within 10 %)", most=10.0)
DRIFT = Band("drift", "the speed changes by no more than 4 %", -4.0, 4.0)


@dataclass(frozen=True, slots=True)
class Rung:
    """One exercise: what to play, how it should sound, and when it is passed.

    ``values`` are the waves to the click in the order played; ``bars_each`` is how long each is
    held. ``tempo_bpm`` is None where there is no click.
    """

    name: str
    week: int
    title: str
    doing: str
    listen: str
    values: tuple[int, ...] = (2,)
    tempo_bpm: float | None = 72.0
    form: Form = BARS
    bands: tuple[Band, ...] = (RATE, EVEN_WIDTH)
    bars_each: int = 4
    finger: int = USUAL_FINGER
    string: int = USUAL_STRING
    fret: int = USUAL_FRET
    technique: Technique = Technique.BEND
    sets: int = 6
    set_s: float = SET_S
    rest_s: float = SET_S
    caution: str = STOP

    @property
    def task(self) -> Task:
        """What to judge a take of this rung against."""
        one = len(self.values) == 1 and self.tempo_bpm is not None
        return Task(
            tempo_bpm=self.tempo_bpm,
            cycles_per_beat=self.values[0] if one else None,
            technique=self.technique,
            home=_HOMES.get(self.technique, Place.UNKNOWN),
        )

    @property
    def context(self) -> Context:
        """Where on the guitar it is played."""
        return Context(string=self.string, fret=self.fret, finger=self.finger)

    @property
    def difficulties(self) -> frozenset[Difficulty]:
        """Everything a player has to be able to do at once."""
        known: set[Difficulty] = {
            ("finger", self.finger),
            ("string", self.string),
            ("fret", self.fret),
            ("bars each", self.bars_each),
        }
        known |= {("note value", value) for value in self.values}
        known |= {("form", self.form.name)} if self.form.demanding else set()
        known |= {("tempo", self.tempo_bpm)} if self.tempo_bpm is not None else set()
        return frozenset(known)


_HOMES = {
    Technique.BEND: Place.BOTTOM,
    Technique.ROLL: Place.MIDDLE,
    Technique.HELD_BEND: Place.TOP,
}
_SWITCH_LISTEN = "The new speed is there by the second beat; the click never waits for you."

LADDER: tuple[Rung, ...] = (
    Rung(
        "plain",
        0,
        "Hold it plain",
        "Check the sound, then hold plain notes with fingers 1, 2 and 3. Try your usual grip and "
        "a light one: they should sound the same.",
        "As straight as an open string.",
        values=(),
        tempo_bpm=None,
        form=PLAIN,
        bands=(PLAIN_NOTE,),
        caution=STOP + " " + YOUNG,
    ),
    Rung(
        "sung",
        1,
        "Push to a note you sing",
        "Finger 3 does it, fingers 1 and 2 help. Sing a note a little higher, push up until you "
        "touch it, let go at once, listen. Eight times.",
        "Each push ends on the note you started from.",
        values=(1,),
        tempo_bpm=None,
        form=FREE,
        bands=(NEAR_HOME, UP_ONLY),
        caution=STOP + " " + YOUNG,
    ),
    Rung(
        "ones-60",
        1,
        "One wave to the click",
        "One slow push on every click, home before the next.",
        "Up, home, up, home, never below home.",
        values=(1,),
        tempo_bpm=60.0,
        bands=(NEAR_HOME, UP_ONLY),
    ),
    Rung(
        "eighths-60",
        2,
        "Two to the click",
        "Say “row-home” on every click: one whole wave, out and home, on each of the two.",
        "Nine of ten waves end on the plain note, or nearly.",
        tempo_bpm=60.0,
        bands=(COMES_HOME,),
    ),
    Rung(
        "eighths-72",
        2,
        "Two to the click, at 72",
        "As before, a little quicker. Seventy-two is the tempo you will keep.",
        "Nine of ten waves end on the plain note, or nearly.",
        bands=(COMES_HOME,),
    ),
    Rung(
        "eighths-even",
        3,
        "Make them alike",
        "The same eighths. Choose one height and touch it with every wave.",
        "You could not tell one wave from the next.",
    ),
    Rung(
        "triplets-72",
        4,
        "Three to the click",
        "Clap “row-back-home” for two bars first, then play it.",
        "The first of three always meets the click.",
        values=(3,),
    ),
    Rung(
        "finger-1",
        4,
        "Let finger 1 do it",
        "Eighths again, with the first finger. Turn the forearm; the finger only holds on.",
        "It sounds like the third finger did.",
        finger=1,
        bands=(COMES_HOME, RATE),
    ),
    Rung(
        "sixteenths-60",
        5,
        "Four to the click, slowly",
        "Say “row-the-boat-home”. Four waves to the click at 60.",
        "Four alike; narrower than your eighths is normal.",
        values=(4,),
        tempo_bpm=60.0,
    ),
    Rung(
        "sixteenths-72",
        5,
        "Four to the click",
        "The same at 72, still loose.",
        "Four alike; narrower than your eighths is normal.",
        values=(4,),
    ),
    Rung(
        "finger-2",
        5,
        "Let finger 2 do it",
        "Eighths with the second finger, the first one helping behind it.",
        "It sounds like the third finger did.",
        finger=2,
        bands=(COMES_HOME, RATE),
    ),
    Rung(
        "string-2",
        5,
        "Over to the second string",
        "Eighths on the second string, moving toward the middle of the neck.",
        "Up and home as on the third string.",
        string=2,
        bands=(COMES_HOME, RATE),
    ),
    Rung(
        "string-4",
        5,
        "Over to the fourth string",
        "Eighths on the fourth string, moving toward the middle of the neck.",
        "Up and home as on the third string.",
        string=4,
        bands=(COMES_HOME, RATE),
    ),
    Rung(
        "rest-week",
        6,
        "Rest week",
        "Half the time, and vibrato only inside a tune. Record the eighths of week 2 once more "
        "and lay them beside the old ones.",
        "What has changed since then?",
        form=TUNE,
        bands=(),
        sets=3,
    ),
    Rung(
        "switch-2-4-slow",
        7,
        "Double it",
        "Four bars of eighths, then four bars of sixteenths, at 60.",
        _SWITCH_LISTEN,
        values=(2, 4),
        tempo_bpm=60.0,
        form=SWITCH,
        bands=(),
    ),
    Rung(
        "switch-2-4-two",
        7,
        "Double it every two bars",
        "Two bars of eighths, two bars of sixteenths, at 60.",
        _SWITCH_LISTEN,
        values=(2, 4),
        tempo_bpm=60.0,
        form=SWITCH,
        bands=(),
        bars_each=2,
    ),
    Rung(
        "switch-2-4",
        7,
        "Double it every bar",
        "A bar of eighths, a bar of sixteenths, at 60.",
        _SWITCH_LISTEN,
        values=(2, 4),
        tempo_bpm=60.0,
        form=SWITCH,
        bands=(),
        bars_each=1,
    ),
    Rung(
        "switch-3-6-slow",
        7,
        "Double the triplets",
        "Four bars of triplets, four bars of sextuplets, at 60.",
        _SWITCH_LISTEN,
        values=(3, 6),
        tempo_bpm=60.0,
        form=SWITCH,
        bands=(),
        caution="Speed comes from a loose hand. If it cramps, go back to triplets. " + STOP,
    ),
    Rung(
        "switch-3-6",
        7,
        "Double the triplets every two bars",
        "Two bars of triplets, two bars of sextuplets, at 60.",
        _SWITCH_LISTEN,
        values=(3, 6),
        tempo_bpm=60.0,
        form=SWITCH,
        bands=(),
        bars_each=2,
        caution="Speed comes from a loose hand. If it cramps, go back to triplets. " + STOP,
    ),
    Rung(
        "up-and-down",
        8,
        "Two, three, four and back",
        "Eighths, triplets, sixteenths, triplets, eighths, two bars each.",
        _SWITCH_LISTEN,
        values=(2, 3, 4, 3, 2),
        form=UP_AND_DOWN,
        bands=(),
        bars_each=2,
    ),
    Rung(
        "silent-bars",
        8,
        "Keep it while the click is silent",
        "Eighths. Two bars with the click, two bars without, and on.",
        "When the click comes back, it meets you.",
        form=SILENCE,
        bands=(DRIFT,),
    ),
    Rung(
        "music",
        9,
        "Put it in a tune",
        "Three phrases of your own. Vibrato on long notes only: one that starts late, one that "
        "grows.",
        "Your own ear or your teacher's decides. Nothing is measured here.",
        values=(),
        tempo_bpm=None,
        form=TUNE,
        bands=(),
        sets=3,
    ),
    Rung(
        "quintuplets-60",
        10,
        "Five to the click, slowly",
        "Say “row-the-boat-back-home”. Clap it for four bars before you play.",
        "Five alike: no long one at the end.",
        values=(5,),
        tempo_bpm=60.0,
        bands=(EVEN_TIME,),
    ),
    Rung(
        "quintuplets-72",
        10,
        "Five to the click",
        "The same at 72: six waves a second. Looser, not harder.",
        "Five alike: no long one at the end.",
        values=(5,),
        bands=(EVEN_TIME,),
    ),
    Rung(
        "finger-4",
        10,
        "Let the little finger do it",
        "Eighths only, with fingers 2 and 3 helping behind.",
        "Small and calm is enough.",
        finger=4,
        bands=(COMES_HOME, RATE),
        sets=3,
        caution="The little finger tires first: half the sets are plenty. " + STOP,
    ),
    Rung(
        "sextuplets-60",
        11,
        "Six to the click, slowly",
        "Say “row-the-lit-tle-boat-home”. Six waves to the click at 60.",
        "Twice three, with no seam in the middle. Narrow is fine.",
        values=(6,),
        tempo_bpm=60.0,
        bands=(),
    ),
    Rung(
        "sextuplets-66",
        11,
        "Six to the click, at 66",
        "A little quicker. At 72 it is over seven waves a second, near the limit of many hands: "
        "try it only if 66 is easy.",
        "Twice three, with no seam in the middle. Narrow is fine.",
        values=(6,),
        tempo_bpm=66.0,
        bands=(),
        caution="A tight hand cannot go faster. Shake it loose between sets. " + STOP,
    ),
    Rung(
        "string-1",
        11,
        "Over to the first string",
        "Eighths on the first string, toward the middle of the neck so that it stays on it.",
        "Up and home as on the third string.",
        string=1,
        bands=(COMES_HOME, RATE),
        caution="A thin string can break: keep your face away from it. " + STOP,
    ),
    Rung(
        "string-5",
        11,
        "Over to the fifth string",
        "Eighths on the fifth string, toward the middle of the neck.",
        "Up and home as on the third string.",
        string=5,
        bands=(COMES_HOME, RATE),
    ),
    Rung(
        "string-6",
        11,
        "Over to the sixth string",
        "Eighths on the sixth string, toward the middle of the neck.",
        "Up and home as on the third string.",
        string=6,
        bands=(COMES_HOME, RATE),
    ),
    Rung(
        "fret-5",
        11,
        "Down to fret 5",
        "Eighths on the third string, fret 5. It feels stiffer so near the nut.",
        "Smaller waves, same way home.",
        fret=5,
        bands=(COMES_HOME, RATE),
    ),
    Rung(
        "fret-17",
        11,
        "Up to fret 17",
        "Eighths on the third string, fret 17, if your guitar lets the hand in.",
        "Same way home.",
        fret=17,
        bands=(COMES_HOME, RATE),
    ),
    Rung(
        "whole-ladder",
        12,
        "The whole ladder",
        "Two, three, four, five, six, four, three, two to the click, a bar each, at 60.",
        "Each speed is there by the second beat; from five to six you have the whole bar.",
        values=(2, 3, 4, 5, 6, 4, 3, 2),
        tempo_bpm=60.0,
        form=UP_AND_DOWN,
        bands=(),
        bars_each=1,
    ),
    Rung(
        "held-half-tone",
        12,
        "On a held bend of one fret",
        "Bend up the pitch of one fret, hold it, and let eighths fall from it and return.",
        "Every wave ends on the held note.",
        tempo_bpm=60.0,
        form=HELD_ONE,
        bands=(NEAR_HOME,),
        sets=3,
        caution="Held bends are heavy: five minutes at most, never two days running. A string "
        "under strain can break: keep your face away from it. " + STOP,
    ),
    Rung(
        "held-whole-tone",
        12,
        "On a held bend of two frets",
        "The same from two frets up. Three fingers carry it together.",
        "Every wave ends on the held note.",
        tempo_bpm=60.0,
        form=HELD_TWO,
        bands=(NEAR_HOME,),
        sets=3,
        caution="Held bends are heavy: five minutes at most, never two days running. A string "
        "under strain can break: keep your face away from it. " + STOP,
    ),
)


def ladder(technique: Technique = Technique.BEND) -> tuple[Rung, ...]:
    """The rungs for one way of moving the pitch, easiest first.

    Rolling, circling and the arm climb the same weeks: nothing is asked about one direction, held
    bends are left out, and the arm has no rungs for single fingers.
    """
    if technique in (Technique.BEND, Technique.NOT_SAID, Technique.HELD_BEND):
        return tuple(_held(rung) for rung in LADDER)
    kept = (rung for rung in LADDER if rung.form not in HELD)
    if technique is Technique.ARM:
        kept = (rung for rung in kept if not rung.name.startswith("finger-"))
    return tuple(_moved(kept, technique=technique))


def _held(rung: Rung) -> Rung:
    return replace(rung, technique=Technique.HELD_BEND) if rung.form in HELD else rung


_DOING = {
    ("sung", Technique.ROLL): "Roll the fingertip along the string toward the nut and back past "
    "the middle, without sliding. Sing along. Eight times.",
    ("sung", Technique.ARM): "Hold the arm as loosely as a pencil, lean on it a little, let it "
    "come back by itself. Sing along. Eight times.",
    ("sung", Technique.CIRCLE): "Draw a small slow circle with the fingertip, without leaving "
    "the string. Sing along. Eight times.",
}


def _moved(rungs: Iterable[Rung], *, technique: Technique) -> Iterable[Rung]:
    for rung in rungs:
        bands = tuple(band for band in rung.bands if band is not UP_ONLY)
        doing = _DOING.get((rung.name, technique), rung.doing)
        yield replace(rung, technique=technique, bands=bands, doing=doing)


def rung_named(name: str, *, technique: Technique = Technique.BEND) -> Rung:
    """The rung of that name.

    >>> rung_named("triplets-72").values
    (3,)
    """
    for rung in ladder(technique):
        if rung.name == name:
            return rung
    raise LabError(
        f"There is no exercise called {name!r} for this technique. The exercises are: "
        + ", ".join(rung.name for rung in ladder(technique))
        + "."
    )


def drill_minutes(week: int) -> int:
    """Minutes of drill a day, at most, in this week of the ladder."""
    return DRILL_MINUTES if week <= 4 else LATER_DRILL_MINUTES
