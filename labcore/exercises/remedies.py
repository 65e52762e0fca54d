"""Half a minute of work for each kind of finding.

Each remedy names a sound to listen for before it says anything about the hand (what helps more is
not settled: Hohagen & Immerz 2024 found no consistent winner), and promises nothing. The advice is
common practice, no source.
"""

from dataclasses import dataclass, replace

from labcore.exercises.syllables import spoken
from labcore.model import Place, Report, Technique

REMEDY_S = 30.0  # about as long as one drill may last before a rest (common practice, no source)
STOP_AT_PAIN = (
    "Stop at pain, numbness or tingling; shake the hand loose and rest as long as you played."
)


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing a player can do now: what to do, what to listen for, and what to beware of."""

    kind: str
    sentence: str
    listen: str
    caution: str = ""
    seconds: float = REMEDY_S


_DEFAULT = Remedy(
    "",
    "Play one plain note for a bar, then four slow waves, and land on the plain note again.",
    "Does the last note sound like the first?",
)

_BY_KIND = {
    one.kind: one
    for one in (
        Remedy(
            "confidence",
            "Rest a spare finger on the strings you do not play, then record four bars of one "
            "string, close to the microphone, with a clean sound.",
            "One note alone, no hum, nobody talking.",
        ),
        Remedy(
            "plain_note",
            "Hold the note plain for a whole bar with just enough grip that it does not buzz, "
            "four times.",
            "A line as straight as an open string.",
            STOP_AT_PAIN,
        ),
        Remedy(
            "return",
            "Push once, let go completely, and wait on the plain note until you hear it settle. "
            "Do that eight times, slowly.",
            "Every wave ends on the very note you started from.",
            "Use less grip than you think you need. " + STOP_AT_PAIN,
        ),
        Remedy(
            "direction",
            "Lean the edge of your hand on the neck, push, and let the string carry you back. "
            "Stop at the plain note and push the same way again, eight times.",
            "Up and home, up and home, never below home.",
            STOP_AT_PAIN,
        ),
        Remedy(
            "even_width",
            "Pick one height, say a quarter of a fret, and touch that same height with eight "
            "slow waves, two to the click.",
            "The top of each wave is the same note.",
            STOP_AT_PAIN,
        ),
        Remedy(
            "even_time",
            "Go back to two waves a click and turn the forearm as if turning a door knob. "
            "Say “row-home” aloud while you play, for two bars.",
            "Each wave takes as long as the one before.",
            STOP_AT_PAIN,
        ),
        Remedy(
            "note_value",
            "Put the guitar down. Clap the click and say the syllables for two bars, then play "
            "one wave on each syllable.",
            "One syllable, one wave, and the first one always on the click.",
        ),
        Remedy(
            "tempo",
            "Set the click to two a beat for two bars, then back to the beat alone, and keep "
            "the same speed for two bars more.",
            "The first wave of each beat still meets the click in the last bar.",
        ),
        Remedy(
            "lock",
            "Count one bar in, start the first push on the click, and make only the first wave "
            "of every beat a little wider, for four bars.",
            "The wide wave and the click arrive together.",
            STOP_AT_PAIN,
        ),
        Remedy(
            "both_ways",
            "Push to one side only, come back to the plain note and stop there: one push a "
            "click, for two bars.",
            "Half as many waves as before, each one wider.",
            STOP_AT_PAIN,
        ),
        Remedy(
            "switching",
            "On the plain beat before the change, say the syllables of the next bar; move on the "
            "click after it. One change, four bars before and four after, three times.",
            "The new count is in your ear before the hand moves.",
            STOP_AT_PAIN,
        ),
        Remedy(
            "switch_slides",
            "Stop at the bar line: one whole bar plain while the click goes on, say the new "
            "syllables in it, then play them. Later make the plain part one beat.",
            "Two speeds with a straight note between them, and nothing in between.",
            STOP_AT_PAIN,
        ),
        Remedy(
            "switch_value",
            "Clap the planned value for two bars with its syllables, one clap a syllable, then "
            "play it alone for two bars. Only then put it back between its neighbours.",
            "As many claps between two clicks as there are syllables.",
        ),
        Remedy(
            "pace",
            "Make the next wave half as fast and twice as wide, two to the click, with a grip just "
            "firm enough that nothing buzzes. Eight waves, then rest.",
            "You can hear where each wave turns.",
            "Speed comes from looseness, not from effort. " + STOP_AT_PAIN,
        ),
        Remedy(
            "nut",
            "Play the note plain, push it once as wide as you like, let go, and compare. If it "
            "comes back flat, tune again and ask someone who sets up guitars to look at the nut.",
            "The plain note sounds the same before and after the push.",
        ),
        Remedy(
            "click",
            "Set the tempo to the click you played to, or to its half or double, and read on.",
            "The lines in the picture stand under the clicks you hear.",
        ),
        Remedy(
            "two_strings",
            "Lay the side of a finger on the neighbouring strings, pluck one string and play "
            "four slow waves.",
            "One note only: nothing else rings when you stop it.",
        ),
    )
}

_ROUND_THE_PITCH = {
    "return": Remedy(
        "return",
        "Hold the plain note for a beat, then move the same small way to both sides of it, "
        "eight slow waves, and come to rest in the middle.",
        "The plain note lies in the middle of what you hear.",
        STOP_AT_PAIN,
    ),
    "direction": Remedy(
        "direction",
        "Start plain, move as far to one side as to the other, eight slow waves, and come to "
        "rest in the middle.",
        "Both sides sound equally far from the plain note.",
        STOP_AT_PAIN,
    ),
}

_AT_THE_TOP = {
    "return": Remedy(
        "return",
        "Hold the upper note for a beat, let it down a little and bring it back up to that same "
        "note, six times. Then let go and rest.",
        "Every wave ends on the upper note.",
        "A held bend is heavy: a minute of it is plenty. " + STOP_AT_PAIN,
    ),
    "direction": Remedy(
        "direction",
        "Hold the upper note for a beat, then let it down and bring it back six times without "
        "going past it. Then let go and rest.",
        "Down and home, down and home, never above the upper note.",
        "A held bend is heavy: a minute of it is plenty. " + STOP_AT_PAIN,
    ),
}

_WITH_THE_ARM = {
    "even_time": Remedy(
        "even_time",
        "Hold the arm so loosely that it could slip away, and draw small circles with it, two "
        "to the click, for two bars.",
        "Each wave takes as long as the one before.",
        "Lean on it gently: a string pulled hard can break, so keep your face away from it.",
    ),
    "even_width": Remedy(
        "even_width",
        "Hold the arm loosely and lean on it to the same small depth eight times, two to the "
        "click.",
        "The far end of each wave is the same note.",
        "Lean on it gently: a string pulled hard can break, so keep your face away from it.",
    ),
}

_ROLLING = {
    "even_width": Remedy(
        "even_width",
        "Roll the fingertip along the string, the same small way each time, eight slow waves, "
        "two to the click.",
        "Each wave reaches as far as the one before.",
        STOP_AT_PAIN,
    ),
}


def remedy(kind: str, *, report: Report | None = None) -> Remedy:
    """What a player can do now about a finding of this kind, in about half a minute.

    With a ``report`` the words fit the note value asked for, the technique, and where home is.
    A kind that is not known gets a remedy that suits everybody.

    >>> remedy("return").listen
    'Every wave ends on the very note you started from.'
    """
    if report is not None:
        for variants in _variants(report):
            if kind in variants:
                return variants[kind]
    found = _BY_KIND.get(kind, replace(_DEFAULT, kind=kind))
    asked = None if report is None else report.task.cycles_per_beat
    if kind == "note_value" and asked is not None:
        return _with_syllables(found, cycles_per_beat=asked)
    return found


def _variants(report: Report) -> list[dict[str, Remedy]]:
    technique = report.task.technique
    places = {note.home.place for note in report.notes if note.home is not None}
    by_technique = {Technique.ARM: _WITH_THE_ARM, Technique.ROLL: _ROLLING}
    by_place = {Place.MIDDLE: _ROUND_THE_PITCH, Place.TOP: _AT_THE_TOP}
    chosen = [by_technique[technique]] if technique in by_technique else []
    return chosen + [by_place[place] for place in places if len(places) == 1 and place in by_place]


def _with_syllables(found: Remedy, *, cycles_per_beat: int) -> Remedy:
    words = spoken(cycles_per_beat)
    sentence = (
        f"Put the guitar down. Clap the click and say “{words}” on every click for two bars, "
        "then play one wave on each syllable."
    )
    return replace(found, sentence=sentence)
