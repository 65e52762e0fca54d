"""Step 6: the octave of a whole note, from all the evidence it leaves.

A note never changes octave while it rings. Partials at odd multiples of half the carrier speak
for the octave below, those at 2, 6, 10 halves for the carrier itself, those at 4, 8, 12 for the
octave above. The lowest octave that has enough partials of its own wins.

A partial is the note's own if it stands out of the gaps beside it, moves as the note moves, and
began when the note began. Another string that rings an octave below does the first only.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.model import Floats
from labcore.pitch.carrier import Carrier
from labcore.pitch.coarse import LEAST_HZ, MOST_HZ
from labcore.pitch.decimate import Working
from labcore.pitch.demodulate import HANN, demodulate, window_of
from labcore.pitch.frames import Grid

WINDOW_S = 0.09  # a Hann window this long is silent 22 Hz off: a quarter of 88 Hz
WINDOW_PERIODS = 8.0  # of the carrier: below that pitch, longer
THIN = 3  # every third fine frame: evidence is gathered over a second
EVIDENCE_S = 1.2  # one slow wave
EARLY_S = 0.35  # the start of a note knows best, for odd partials may fade first
SPANS_S = (EVIDENCE_S, EARLY_S)
BEFORE_S = (-0.14, -0.06)  # the window around these frames ends before the pluck
LEAD_S = 0.15  # run-up that shows them
MOST_PARTIAL_HZ = 4000.0
MOST_POSITIONS = 16
PRESENT_DB = 9.0  # over the quieter of its two neighbouring gaps
PRESENT_SHARE = 0.6  # of the frames looked at
FAINT_DB = 38.0  # below the strongest partial: leakage, knocks, sympathetic strings
ASTRAY_CENTS = 15.0  # off the partials beside it, in a quarter of the frames: moves by itself
RISE_DB = 12.0  # where a loud partial rose so much, the note began with the pluck ...
LOUD_DB = 20.0  # (loud: this near the strongest) ...
NEW_DB = 25.0  # a loud partial of a hammered note rises by 29 to 109 dB (recorded and made) ...
NEW_TOO_DB, NEW_SHARE = 15.0, 0.2  # ... and 22 to 100 % of its power by this; a stray's does not
EARLY_DB = 4.0  # ... and what rose less than this was there before it: another string
OWN_PARTIALS, OWN_SHARE = 2, 0.4  # what an octave needs of its own partials
SURE_DB, SURE_FAINT_DB = 20.0, 30.0  # or two that stand out and rose by so much, even if faint
FEW = 4  # with fewer positions to judge by ...
FEW_SHARE, FEW_FAINT_DB = 0.5, 26.0  # ... one of two will do, but it must be loud


@dataclass(frozen=True, slots=True)
class Evidence:
    """What stands at each half multiple of the carrier; shape (positions,), position 1 first."""

    over_db: Floats  # above the quieter gap beside it
    level_db: Floats
    astray_cents: Floats  # off the partials beside it
    rose_db: Floats  # since before the pluck; infinite where that is not known


def multiple_of(sound: Working, *, carrier: Carrier, lead: int, grid: Grid) -> float:
    """What the carrier must be multiplied by to be the note: 1/2, 1, 2, 4, or three times these.

    The note was plucked ``lead`` frames after the carrier begins; what came before is not it.
    With a lead of 0 nothing is known of its beginning.
    """
    multiple = 1.0
    while True:
        moved = Carrier(carrier.first, carrier.hz * multiple)
        spans = [evidence(sound, carrier=moved, lead=lead, last_s=s, grid=grid) for s in SPANS_S]
        middle = float(np.median(moved.hz[lead:]))
        for halves in (1, 2, 4):
            playable = LEAST_HZ <= 0.5 * halves * middle <= MOST_HZ
            for found in spans if playable else []:
                if has_own_partials(found, halves=halves):
                    twelfth = 3.0 if only_thirds(found, halves=halves) else 1.0
                    return multiple * 0.5 * halves * twelfth
        if 4.0 * middle > MOST_HZ:
            return 1.0
        multiple *= 4.0  # two strings sound together: what repeats is slower than either


def evidence(
    sound: Working, *, carrier: Carrier, lead: int, grid: Grid, last_s: float = EVIDENCE_S
) -> Evidence:
    """Look at every quarter multiple along the start of the carrier, and just before it."""
    grid, carrier = thinned_grid(grid), thinned_carrier(carrier)
    lead = min(lead // THIN, carrier.hz.size - 1)  # of a note of a frame or two, one is looked at
    last = carrier.first + lead + grid.count(last_s)
    reach = carrier.part(carrier.first, min(carrier.last, last))
    positions = min(MOST_POSITIONS, int(2.0 * MOST_PARTIAL_HZ / float(np.median(reach.hz))))
    quarters = np.arange(0.25, 0.5 * positions + 0.3, 0.25)
    seconds = max(WINDOW_S, WINDOW_PERIODS / float(reach.hz.min()))
    window = window_of(HANN, seconds=seconds, grid=grid)
    partials = demodulate(sound, carrier=reach, numbers=quarters, window=window, grid=grid)
    level = 20.0 * np.log10(partials.amplitude + 1e-9)
    cents = 1731.2 * partials.residual_hz / (quarters[:, None] * reach.hz)
    on, gap = level[1::2], level[0::2]
    floor = np.minimum(gap[:-1], gap[1:])
    typical = quantile(on[:, lead:], 1.0 - PRESENT_SHARE)
    return Evidence(
        over_db=quantile((on - floor)[:, lead:], 1.0 - PRESENT_SHARE),
        level_db=typical,
        astray_cents=quantile(astray(cents[1::2, lead:]), 0.75),
        rose_db=rises(on, lead=lead, typical=typical, grid=grid),
    )


def thinned_grid(grid: Grid) -> Grid:
    """Fewer frames: a window of 90 ms needs no more."""
    return Grid(grid.rate_hz, THIN * grid.hop)


def thinned_carrier(carrier: Carrier) -> Carrier:
    """The same carrier on the thinned grid."""
    first = -(-carrier.first // THIN)
    hz = carrier.hz[first * THIN - carrier.first :: THIN]
    return Carrier(first, hz if hz.size else carrier.hz[-1:])


def quantile(rows: Floats, share: float) -> Floats:
    """A quantile of every row."""
    return np.asarray(np.quantile(rows, share, axis=1), dtype=np.float64)


def astray(cents: Floats) -> Floats:
    """How far each position's pitch is from the mean of the positions beside it.

    Beside, because stiffness sharpens all partials, and neighbours nearly alike.
    """
    below = np.concatenate([cents[1:2], cents[:-1]])
    above = np.concatenate([cents[1:], cents[-2:-1]])
    return np.asarray(np.abs(cents - 0.5 * (below + above)))


def rises(on: Floats, *, lead: int, typical: Floats, grid: Grid) -> Floats:
    """How much each position rose with the pluck."""
    begin, end = (lead + round(s / grid.step_s) for s in BEFORE_S)
    if end <= 0:  # nothing was heard before
        return np.full(len(on), np.inf)
    before = on[:, max(begin, 0) : end]
    return np.asarray(typical - np.median(before, axis=1))


def own_positions(count: int, *, halves: int) -> NDArray[np.bool_]:
    """Positions, from 1, that are partials of a note of so many halves, and of no octave of it.

    >>> np.flatnonzero(own_positions(12, halves=2)) + 1
    array([ 2,  6, 10])
    """
    number = np.arange(1, count + 1)
    return np.asarray((number % halves == 0) & (number % (2 * halves) != 0))


def there(found: Evidence, *, faint_db: float) -> NDArray[np.bool_]:
    """Positions at which a partial of this note stands."""
    below = found.level_db - found.level_db.max()
    stands = (found.over_db > PRESENT_DB) & (below > -faint_db)
    if most_risen_db(found) > RISE_DB:
        stands &= found.rose_db > EARLY_DB
    return np.asarray(stands)


def most_risen_db(found: Evidence) -> float:
    """How much the one of the loud partials rose that rose most."""
    loud = (found.over_db > PRESENT_DB) & (found.level_db > found.level_db.max() - LOUD_DB)
    return float(found.rose_db[loud].max(initial=0.0))


def came_up(sound: Working, *, carrier: Carrier, lead: int, grid: Grid) -> bool:
    """Whether what sounds on a carrier was not there before frame ``lead`` of it.

    A hammered note comes out of nothing; a string that rang under a dying note comes out only
    as that one falls silent.
    """
    found = evidence(sound, carrier=carrier, lead=lead, grid=grid)
    power = np.where(found.over_db > PRESENT_DB, 10.0 ** (0.1 * found.level_db), 0.0)
    share = power[found.rose_db > NEW_TOO_DB].sum() / (power.sum() + 1e-20)
    return bool(most_risen_db(found) > NEW_DB and share > NEW_SHARE)


def more_than_thirds(sound: Working, *, carrier: Carrier, grid: Grid) -> bool:
    """Whether a note stands on a carrier that was heard a twelfth above it."""
    found = evidence(sound, carrier=carrier, lead=0, grid=grid)
    number = np.arange(1, found.level_db.size + 1)
    own = (number % 2 == 0) & (number % 6 != 0)
    return bool((own & there(found, faint_db=FEW_FAINT_DB)).any())


def has_own_partials(found: Evidence, *, halves: int) -> bool:
    """Whether positions that only a note of so many halves explains are the note's own.

    Enough of them, or the loudest of all partials, or a few that surely began with the pluck.
    """
    own = own_positions(found.level_db.size, halves=halves)
    count, few = int(own.sum()), int(own.sum()) < FEW
    stand = own & there(found, faint_db=FEW_FAINT_DB if few else FAINT_DB)
    sure = own & surely_began(found, faint_db=FEW_FAINT_DB if few else SURE_FAINT_DB)
    if halves == 1:
        moves = found.astray_cents < ASTRAY_CENTS
        stand, sure = stand & moves, sure & moves
    needed = max(1 if few else OWN_PARTIALS, (FEW_SHARE if few else OWN_SHARE) * count)
    if stand.sum() >= needed or stand[found.level_db.argmax()]:
        return True
    thirds = np.arange(1, own.size + 1) % (3 * halves) == 0  # a string a fifth away has them alone
    return bool(sure.sum() >= (1 if few else OWN_PARTIALS) and (sure & ~thirds).any())


def surely_began(found: Evidence, *, faint_db: float) -> NDArray[np.bool_]:
    """Positions far out of the gaps beside them that were not there before the pluck."""
    rose = np.isfinite(found.rose_db) & (found.rose_db > SURE_DB)
    loud = found.level_db > found.level_db.max() - faint_db
    return np.asarray(rose & loud & (found.over_db > SURE_DB))


def only_thirds(found: Evidence, *, halves: int) -> bool:
    """Whether every third partial stands there, and no other: then the note is a twelfth higher.

    So it looks when a string a fourth above rings along: both repeat after three periods of one.
    """
    number = np.arange(1, found.level_db.size + 1)
    mine = there(found, faint_db=FEW_FAINT_DB) & (number % halves == 0)
    third = number % (3 * halves) == 0
    return bool((mine & third).any() and not (mine & ~third).any())
