"""All thresholds that a finding is judged by, each with its source.

(cp) is common practice, no source. 'settled' lies within the first edge, 'work on this' beyond the
second; a verdict of 'work on this' also needs the edge to lie outside the value's own two
standard errors.
"""

from labcore import measures
from labcore.model import Measure, Verdict

# Evidence -----------------------------------------------------------------------------------
LEAST_WAVES = 4  # to judge anything (cp)
LOCK_WAVES, LOCK_BEATS = 16, 8  # a free vibrato passes for locked in fewer (simulated, cp)
MOST_OF_THEM = 0.5  # of the waves follow one another, or nothing is said of how even they are (cp)
LEAST_GOOD_PERCENT = 60.0  # of the note measured well (cp)
TWO_STRINGS_SHARE = 0.35  # of the note with another sound close to its own level (cp)
HELD_PLAIN_SHARE = 0.5  # of the notes: then they were held plain (cp)
MOST_LOST_SHARE = 0.5  # of the waves dropped: then the pitch is not a vibrato's (cp)
SPEECH_TIME_PERCENT = 40.0  # waves this uneven in time ...
SPEECH_WIDTH_PERCENT = 45.0  # ... and in width are not a player's fault but another sound (cp)

# A trill rests at both ends of its waves: a sine spends 30 % of its time in the last fifth at
# either end (arithmetic), a square wave 50 %.
TRILL_CENTS, TRILL_END, TRILL_SHARE = 80.0, 0.2, 0.34
# It leaps: the contour needs up to 0.02 s from one fifth to four fifths of a hammered note, 0.04 to
# 0.1 s where a hand pushes and rests (made takes, measured).
TRILL_CROSSING_S = 0.03
TRILL_TAILS_PERCENT = 5.0  # at either side of the pitch that are left out of its range

# Home ---------------------------------------------------------------------------------------
# Steady tones are told apart from 10 cents on by musicians, 38 by others (Arndt, Schlemmer & van
# der Meer 2020, abstract); waves are harder to hear than steady tones, hence 'nearly' (cp).
HOME_CENTS = measures.HOME_CENTS  # the waves that came home are counted by the same
NEARLY_CENTS = 20.0
OTHER_NOTE_CENTS = 90.0  # waves that end about a fret from home may be another note's (cp)
HALF_FRET_CENTS = 50.0  # further from home the next fret is nearer; all but pushes may be there
NEARLY_SHARE = 0.2  # of the width: a wide wave that stops this near is nearly home (cp)
HOME_SETTLED = 0.9  # share of waves home (cp)
SOME_HOME = 0.25  # share of waves home: then the others are told apart from them (cp)
FEW_OTHERS = 0.2  # of the waves that miss home on one side: no more than strays (cp)
HOME_NEARLY = 0.7  # share of waves home or nearly (cp)
HOMES_SURE = 0.6  # of the waves follow a plain note of their own pluck, or no fault is told (cp)
FRET_CENTS, FRET_WITHIN_CENTS = 100.0, 8.0  # a bend to another fret's note comes this near (cp)
PLAIN_CENTS = (5.0, 10.0)  # how far a plain note may wander: steady, work (cp)

# Direction index D (cp; that a push can only raise the pitch is physics) ----------------------
ONE_WAY = 0.6
CLEAN_ONE_WAY = (0.8, 1.2)
SIDES_ALIKE = 0.4  # it goes to both sides: at least three tenths of the width on each (cp)
SIDES_EVEN = 0.2  # it goes evenly to both: at least two fifths (cp)
TELLING_ERROR = 0.2  # D must be known this well to be spoken of
SWUNG_RATIO = 0.8  # every other wave shorter than this: a swung feel, not uneven time (cp)
# A hand that swings through the rest of the string stays longer on the side where it goes farther:
# widths are as (1 + s)^2 to (1 - s)^2, lengths as arccos(-s) to arccos(s), whose logarithms are as
# 1 to 1 / pi for small s (arithmetic; a hand of even speed, 1 to 1 / 2). Half of that is asked for.
# Where lengths differ more than that, they do so on purpose: swung, and the long ones wider.
PUSHED_THROUGH = (0.5 / 3.14, 0.75)
TURNS_RATIO = 0.75  # every other wave narrower than this: pushed through both ways (model, cp)

# Evenness: regularity goes with judged quality (Diaz & Rothman 2003; Mitchell & Kenny 2010,
# abstracts); the numbers are (cp) ------------------------------------------------------------
WIDTH_PERCENT = (10.0, 20.0)
TIME_PERCENT = (5.0, 10.0)

# Speed: one hand taps up to 5 to 7 a second (Fujii et al. 2009, abstract) ----------------------
NERVOUS_HZ = 7.5
NERVOUS_CENTS = 25.0

# Click: tempo is told to 1.5 to 3 % (Drake & Botte 1993, abstract); a displaced tone from 6 ms or
# 2.5 % on (Friberg & Sundberg 1995, abstract), here in multiples of it, for a turning pitch is a
# blunter event than a click (cp) -------------------------------------------------------------
TEMPO_PERCENT = (2.0, 4.0)
LOCK_NOTICED = (2.0, 4.0)
NAME_PERCENT = 8.0  # off a note value by more, the number says it better than the name (cp)
# Half way to the next name is half a wave to the click, 17 % of three and 12.5 % of four: five or
# seven waves over two beats are a rhythm of their own.
NAMED_WAVES = 0.48
NAMED_PERCENT = 12.0  # and where no value was asked, no further off than this (cp)
VALUE_BEATS = 2.0  # of waves in another note value, or it is a stumble and no change (cp)
HEARD_THROUGH = 0.8  # of a stretch up to its last click, or nobody could sit on it (cp)
COUNT_IN_BEATS = 4.0  # clicks that end so soon were counted in, to a tempo that is to be kept (cp)
ONE_VALUE_SHARE = 0.8  # of the waves in one note value: a take of that value (cp)
SWITCHED_BEATS = 1.1  # a new speed that is there within a beat and a little is there at once (cp)

# What is described, not judged ------------------------------------------------------------------
GROWTH_PERCENT_A_SECOND = 15.0  # a slower change of width is not spoken of (cp)
ONE_WIDTH = 0.5  # of the middle width: where the middle half is wider, there is no one width (cp)
LATE_START_S = 0.5  # nor are waves that begin sooner (cp)


def verdict(measure: Measure, *, settled: float, work: float) -> Verdict:
    """Where the size of a measure lies; beyond the second edge only by two standard errors.

    >>> verdict(Measure(27.0, "%", 8, error=3.0), settled=10, work=20)
    <Verdict.WORK: 'work on this'>
    >>> verdict(Measure(22.0, "%", 8, error=3.0), settled=10, work=20)
    <Verdict.NOT_ENOUGH: 'not enough to say'>
    """
    size, doubt = abs(measure.value), 2.0 * (measure.error or 0.0)
    if size <= settled:
        return Verdict.SETTLED
    if size <= work:
        return Verdict.NEARLY
    return Verdict.WORK if size - doubt > work else Verdict.NOT_ENOUGH
