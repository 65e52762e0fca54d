"""Every sentence about a take that a player can meet.

The rules of speech: say what the pitch did, never what the player is; a number carries its unit;
one, many and none read as people say them; a NaN or a None never reaches a sentence. The first
"cents" on a screen is explained by the screen, not by each sentence.
"""

from labcore.beats import NOTE_VALUES
from labcore.model import Place

_SMALL = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
    "twenty",
)  # fmt: skip


def count(n: int, noun: str, plural: str | None = None) -> str:
    """A number of things as people say it.

    >>> count(1, "wave"), count(0, "wave"), count(23, "wave")
    ('one wave', 'no waves', '23 waves')
    """
    word = _SMALL[n] if 0 <= n < len(_SMALL) else str(n)
    return f"{word} {noun if n == 1 else plural or noun + 's'}"


def number(n: int) -> str:
    """A whole number in words up to twenty.

    >>> number(3), number(42)
    ('three', '42')
    """
    return _SMALL[n] if 0 < n < len(_SMALL) else str(n)


def was_asked(n: int) -> str:
    """How many were asked for.

    >>> was_asked(1), was_asked(3)
    ('one was asked', 'three were asked')
    """
    return f"{number(n)} {'was' if n == 1 else 'were'} asked"


def capital(sentence: str) -> str:
    """The sentence with its first letter large."""
    return sentence[:1].upper() + sentence[1:]


def cents(value: float) -> str:
    """A size in whole cents.

    >>> cents(-12.4), cents(1.2), cents(0.2)
    ('12 cents', '1 cent', 'under 1 cent')
    """
    size = round(abs(value))
    if size == 0:
        return "under 1 cent"
    return f"{size} cent" if size == 1 else f"{size} cents"


def above_or_below(value: float) -> str:
    """Where a signed number of cents lies."""
    return f"{cents(value)} {'above' if value >= 0 else 'below'}"


def about(value: float, error: float | None) -> str:
    """'give or take' an error of two standard errors, when it is worth saying."""
    if error is None or 2.0 * error < 1.0:
        return ""
    return f" (give or take {cents(2.0 * error)})"


def rate(hz: float) -> str:
    """Waves a second, to a tenth."""
    return f"{hz:.1f} waves a second"


def to_the_click(k: int) -> str:
    """Waves to the click, and the name of the note value second.

    >>> to_the_click(3)
    'three to the click (triplets)'
    """
    return f"{number(k)} to the click ({NOTE_VALUES[k]})"


HOME_NAMES = {
    Place.BOTTOM: "the plain note",
    Place.MIDDLE: "the plain note",
    Place.TOP: "the upper note",
    Place.UNKNOWN: "the plain note",
}

# --- can it be judged at all --------------------------------------------------------------------

NO_NOTE = (
    "Not enough to say: I hear no held note in this take. Record one string, close to the "
    "microphone, with nothing else sounding. Notes below B1 (62 Hz), as on a bass, are too low "
    "for me."
)
TRILL = (
    "Not enough to say: the pitch leaps between two notes and rests on each, as in a trill. I can "
    "only judge waves that swing out from one note and back."
)
UNSTEADY = (
    "Not enough to say: the pitch jumps about, like speech, a trill or several sounds at once. "
    "Record one plucked string alone."
)
TWO_STRINGS = (
    "Not enough to say: another sound rings beside your note, a second string or a hum, so the "
    "waves cannot be told apart. Play one string and mute the others, away from what hums."
)
NOISY = (
    "Not enough to say: only {share} of the sound could be measured well. Come closer to the "
    "microphone, or use a clean sound."
)
PLAIN_ONLY = (
    "Not enough to say: I hear {notes} held plain, and no vibrato to speak of. Add four waves or "
    "more and record again."
)
NO_WAVES = (
    "Not enough to say: I hear no vibrato. Hold one note, add four waves or more, and record again."
)
NONE_COUNTS = (
    "Not enough to say: {waves} were heard, and none counts. The usual reason: {why}. Record one "
    "plucked string alone, with small, slow waves."
)
FEW_WAVES = "Heard, not judged: {waves}. Four or more in a row can be judged."
CLICK_DIFFERS = (
    "Not enough to say: the click in the recording runs at {heard} a minute, and {asked} is set. "
    "Set the tempo to what you heard, or its double or half."
)
CLICK_DOUBLED = (
    "You play {waves} to the click that is heard, which runs at {heard} a minute; {asked} is set. "
    "Set the tempo of the click you play to."
)

# --- plain note ---------------------------------------------------------------------------------

PLAIN_STEADY = "Your plain note stands still{when}."
PLAIN_MOVED = "Your plain note moves up by {moved}{when}."
PLAIN_WANDERS = "Your plain note wanders by {wander}{when}."
BEFORE_WAVES = " before the waves start"
NUT = (
    "Your plain note itself ends {shift} lower than it began: the string does not slide back. "
    "Check the nut and the tuning first."
)

# --- return -------------------------------------------------------------------------------------

PLAIN_NOTE_HEARD = " whose plain note is heard"  # follows "ten waves"
ALL_HOME = "All {waves} came home."
HOME = "{home} of {waves} came home."
RETURN_NEARLY = "{home} of {waves} came home, and {nearly} nearly did."
RETURN_ALL_NEARLY = "{nearly} of {waves} nearly came home: they end {off} {way} {name}."
RETURN_SOME = "{home} of {waves} came home; the others end about {off} {way} {name}."
EITHER_SIDE = "to either side of"  # in the place of above and below
RETURN_HIGH = "Your waves stop on the way home: they end {off} above {name}."
RETURN_LOW = "Your waves end {off} below {name}: perhaps it was squeezed sharp before they began."
RETURN_MIDDLE = "The middle of your waves lies {off} {way} the plain note."
RETURN_TOP_LOW = "Your waves stop on the way back up: they end {off} below {name}."
RETURN_TOP_HIGH = "Your waves go past {name} on the way back up: they end {off} above it."
PLAIN_MOVES = "the plain note moves too much to tell where home is"
OTHER_NOTE = "they end half a fret from the plain note or farther, on another note perhaps"
NO_PLAIN_FIRST = "the plain note was not heard before them, on the same pluck"
FROM_ABOVE = "they lie below the note held before them, and you did not say that they hang from it"
AT_A_FRET = "their tops lie at another fret's note: perhaps you bent up to it and dipped from there"
ALL_BELOW = "they lie below the note held plain, where no push leads: perhaps a bend was let down"
LOPSIDED = (
    "Heard, not judged: your waves go to both sides of the plain note, farther {far} than {near}."
)
RETURN_UNSAID = (
    "Not enough to say whether the waves come home: {why}. Say which technique you play, and look "
    "again."
)
RETURN_UNSURE = (
    "Not enough to say whether the waves come home: {why}. Hold the note plain for a beat or two "
    "before you start."
)

# --- direction ----------------------------------------------------------------------------------

UP_ONLY = "Every wave goes up only, from the plain note."
UP_MOSTLY = "{some} of {waves} go up only, from the plain note."
DOWN_MOSTLY = "{some} of {waves} go down only, from the upper note."
DOWN_ONLY = "Every wave goes down only, from the upper note."
BOTH_ROUND = "Your waves go evenly to both sides of the plain note, as a roll or the arm does."
GOES_BOTH = (
    "The pitch goes below the plain note as well as above it. A push to one side can only raise "
    "it: perhaps the plain note was squeezed sharp, or the finger rolls too."
)
DIRECTION_UNSURE = (
    "Not enough to say whether the waves go one way: at {width} wide, the plain note is not known "
    "well enough."
)
TURNS_TAKEN = (
    "Wide and narrow waves take turns, the narrow ones {share} as wide: that is what pushing the "
    "string through to both sides does."
)
TURNS_TAKEN_DOUBLE = (
    "{measured} waves to the click where {asked}, wide and narrow in turn: each swing "
    "of the hand bends the string twice."
)

# --- width and time -----------------------------------------------------------------------------

WIDTH_EVEN = "From wave to wave your width is even."
WIDTH_NEARLY = "Your waves are nearly evenly wide: they differ by about {percent}."
WIDTH_UNEVEN = "Some waves are wide and some are shy: they differ by about {percent}."
WIDTH_UNSURE = (
    "Not enough to say whether your waves are evenly wide: they seem to differ by about {percent}, "
    "and a longer take would tell."
)
TIME_UNSURE = (
    "Not enough to say whether your waves are even in time: they seem to differ by about "
    "{percent}, and a longer take would tell."
)
TIME_EVEN = "From wave to wave your time is even."
TIME_NEARLY = "Your waves are nearly even in time: they differ by about {percent}."
TIME_UNEVEN = "Some waves hurry and some wait: their lengths differ by about {percent}."
TIME_SWUNG = (
    "Long and short waves take turns, the short ones {share} as long, as in swung playing: even "
    "time is not judged then."
)
NERVOUS = (
    "Fast and narrow: about {rate}, {width} wide. Few hands can steer waves that fast; slower and "
    "wider is easier to hear and to guide."
)

# --- note value and click -----------------------------------------------------------------------

VALUE_RIGHT = "{value}, as asked."
VALUE_ABOUT = "About {waves} waves to the click"  # in the place of a name that is far off
VALUE_OTHER = "{value}; {asked}."
VALUE_HEARD = "{value}."
VALUE_MIXED = "Not enough to say about one note value: I hear {values} in turn."
VALUES_IN_TURN = "You play {values} in turn."
VALUE_NONE = (
    "Not enough to say about the note value: about {waves} waves to the click lie between the "
    "ones with a name."
)
VALUE_ALONE = (
    "Not enough to say about the note value: few of your waves follow one another without a break."
)
TEMPO_RIGHT = "Your speed fits the click."
TEMPO_NEARLY = "Your speed nearly fits the click: {percent} {way}."
TEMPO_OFF = "Your speed is {percent} {way}: you {gain} a wave about every {beats}."
TEMPO_DRIFTS = "Your waves {get} as the take goes on, by {percent}."
LOCKED = "Your waves sit on the click: within about {ms}."
LOCK_NEARLY = "Your waves nearly sit on the click: within about {ms}."
LOCK_LOOSE = "Your waves and the click live apart: they wander by about {ms} around it."
STEADY = "You keep an even {tempo}: within about {ms}. No click was heard, so not early or late."
STEADY_NEARLY = (
    "You nearly keep an even {tempo}: within about {ms}. No click was heard, so not early or late."
)
STEADY_LOOSE = (
    "Your waves wander by about {ms} around an even {tempo}; no click was heard in the take."
)
STEADY_ANEW = (
    "Not enough to say whether you keep one even tempo: no click was heard, and after a break your "
    "waves are not on the beat of those before it. Between two breaks they stay within about {ms}."
)
LOCK_CLICK_ENDS = (
    "Not enough to say whether the waves sit on the click: it is not heard after the first "
    "{seconds}, and they go on."
)
TEMPO_CLICK_ENDS = (
    "Not enough to say about your speed: the click is not heard after the first {seconds}, or goes "
    "on at another tempo."
)
LOCK_SHORT = (
    "Not enough to say whether the waves sit on the click: that takes sixteen waves over eight "
    "beats, and I hear {waves} over {beats}."
)

# --- what was heard, without judging ------------------------------------------------------------

HEARD = "{rate}, {width} wide from bottom to top{direction}."
HEARD_IN_TURN = "{values} in turn, {width} wide from bottom to top{direction}."
RANGE = "{low} to {high}"  # in the place of one width where the waves have several
HEARD_ALONE = "{waves} with breaks between, {width} wide from bottom to top{direction}."
HEARD_ONE = "One wave, {width} wide from bottom to top{direction}."
HEARD_UP = ", up only"
HEARD_DOWN = ", down only"
HEARD_BOTH = ", to both sides of the plain note"
GROWS = "The waves grow wider as the note goes on."
SHRINKS = "The waves get narrower as the note goes on."
CUT_OFF = "{waves} cut off by the next pluck or by the end of the note, and not counted."
LATE_START = "You let the note stand plain for {seconds} before the first wave."


def percent(value: float) -> str:
    """A share in whole percent.

    >>> percent(12.6)
    '13 %'
    """
    return f"{max(round(abs(value)), 1)} %"


def milliseconds(value: float) -> str:
    """A time in whole milliseconds."""
    return f"{max(round(abs(value)), 1)} ms"


def seconds(value: float) -> str:
    """A time in seconds, to a tenth."""
    return "1 second" if abs(value - 1.0) < 0.05 else f"{value:.1f} seconds"


def listed(words: list[str]) -> str:
    """Words joined as people say them.

    >>> listed(["two", "three", "four"])
    'two, three and four'
    """
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


# --- changing the note value --------------------------------------------------------------------

SWITCH_ONE = "From {old} to {new} to the click: the new speed was there {soon}."
SWITCH_ALL = "{changes} of note value, and the new speed was there within a beat each time."
SWITCH_SOME = "{some} of {changes} {was} there within a beat."
SWITCH_SLOW = (
    "From {old} to {new} to the click: {waves}, about {beats}, went by before the new speed was "
    "there."
)
SWITCH_OTHER = "{played} to the click was played where {asked} was planned."
SWITCH_SLIDES = (
    "The speed slides from {old} to {new} to the click. A change is one moment: hear the new "
    "count for a beat, then move."
)
SWITCH_SLIDES_FREE = (
    "The speed slides from {old} to {new} to the click. If you meant to change, do it at one "
    "moment, such as a bar line."
)
SWITCH_UNSETTLED = (
    "Not enough to say about the change to {new} to the click: no one speed was held after it."
)
SWITCH_FEW = (
    "Not enough to say about the change to {new} to the click: fewer than three waves follow it."
)
SWITCH_TIME_UNEVEN = "At {value} to the click some waves hurry and some wait: by about {percent}."
SWITCH_WIDTH_UNEVEN = "At {value} to the click some waves are wide, some shy: by about {percent}."
AT_ONCE = "at once"


def waves_later(n: int) -> str:
    """How soon something was there, in waves.

    >>> waves_later(0), waves_later(2)
    ('at once', 'after two waves')
    """
    return AT_ONCE if n == 0 else f"after {count(n, 'wave')}"


def beats(value: float) -> str:
    """A time in whole or half beats.

    >>> beats(1.1), beats(2.4), beats(0.2)
    ('one beat', 'two and a half beats', 'half a beat')
    """
    halves = max(round(2.0 * value), 1)
    if halves == 1:
        return "half a beat"
    whole = f"{number(halves // 2)}"
    return f"{whole} and a half beats" if halves % 2 else count(halves // 2, "beat")
