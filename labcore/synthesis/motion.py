"""Hand movements as knots of a pitch line: waves, both-ways pushing, circles, held bends.

Every function returns knots (see `description`); join several with `joined`. Shapes between the
turning points are half cosines, so a wave with ``rise_share`` 0.5 is a raised cosine.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from labcore.errors import LabError
from labcore.model import Floats, Place
from labcore.synthesis.description import Knots

FINE_STEPS = 4096  # a hand's cycle is searched for its turning points on this many steps


def _each(values: ArrayLike, *, count: int, name: str) -> Floats:
    array = np.asarray(values, dtype=float)
    if array.ndim == 0:
        return np.full(count, float(array))
    if array.shape != (count,):
        raise LabError(f"{array.size} values of {name} for {count} waves; give one, or one each.")
    return array


def _bounds(
    count: int, rate_hz: float | None, cycle_times_s: ArrayLike | None, start_s: float
) -> Floats:
    if count < 1:
        raise LabError(f"{count} waves were asked for; ask for at least one.")
    if (rate_hz is None) == (cycle_times_s is None):
        raise LabError("Give the waves either a rate or the times of their ends, not both.")
    if cycle_times_s is None:
        if not rate_hz or not 0.05 <= rate_hz <= 50.0:
            raise LabError(f"The rate is {rate_hz} Hz; it must lie between 0.05 and 50.")
        return np.asarray(start_s + np.arange(count + 1) / rate_hz, dtype=np.float64)
    bounds = np.asarray(cycle_times_s, dtype=float)
    if bounds.shape != (count + 1,) or np.any(np.diff(bounds) <= 0.0):
        raise LabError(
            f"{bounds.size} times for {count} waves; give {count + 1} ascending ones: where each "
            "begins, and where the last one ends."
        )
    return bounds


def waves(
    count: int,
    *,
    extent_cents: ArrayLike,
    rate_hz: float | None = None,
    cycle_times_s: ArrayLike | None = None,
    start_s: float = 0.0,
    place: Place = Place.BOTTOM,
    rise_share: ArrayLike = 0.5,
    return_cents: ArrayLike = 0.0,
    dwell_share: float = 0.0,
    home_cents: float = 0.0,
) -> Knots:
    """Knots of ``count`` waves around a home ``home_cents`` above the plain pitch.

    Parameters
    ----------
    extent_cents
        Width, peak to peak, one for all or one a wave.
    rate_hz, start_s
        Waves a second, and when the first begins (seconds after the onset).
    cycle_times_s
        Instead of both: when each wave begins and the last one ends, shape (count + 1,).
    place
        Where in the wave home is: ``BOTTOM`` goes out upward, ``TOP`` downward, ``MIDDLE`` sets
        out upward from home, swings round it and ends on it.
    rise_share
        Upward part of a wave's moving time.
    return_cents
        How far above home each wave comes back to (``MIDDLE``: how high its centre lies).
    dwell_share
        Part of the wave spent resting at home; not for ``MIDDLE``.

    >>> waves(1, rate_hz=2.0, extent_cents=40.0, start_s=1.0)
    ((1.0, 0.0), (1.25, 40.0), (1.5, 0.0))
    """
    if place is Place.UNKNOWN:
        raise LabError("Home is unknown; say whether it is at the bottom, middle or top.")
    if not 0.0 <= dwell_share < 0.9:
        raise LabError(f"The dwell share is {dwell_share:g}; it must lie between 0 and 0.9.")
    bounds = _bounds(count, rate_hz, cycle_times_s, start_s)
    widths = _each(extent_cents, count=count, name="width")
    rises = _each(rise_share, count=count, name="rise share")
    if np.any(rises <= 0.0) or np.any(rises >= 1.0):
        raise LabError("A rise share must lie between 0 and 1; 0.5 is even.")
    ends = home_cents + _each(return_cents, count=count, name="homecoming")
    if place is Place.MIDDLE:
        return _round_home(bounds, widths, rises, ends, home_cents)
    sign = 1.0 if place is Place.BOTTOM else -1.0
    out_share = rises if place is Place.BOTTOM else 1.0 - rises
    return _from_home(bounds, sign * widths, out_share, ends, home_cents, dwell_share)


def _knots(pairs: Sequence[tuple[float, float]]) -> Knots:
    return tuple((round(float(time), 6), round(float(cents), 4)) for time, cents in pairs)


def _from_home(
    bounds: Floats, out: Floats, out_share: Floats, ends: Floats, home: float, dwell: float
) -> Knots:
    pairs = [(bounds[0], home)]
    for index, end_cents in enumerate(ends):
        moving_s = (bounds[index + 1] - bounds[index]) * (1.0 - dwell)
        middle = (pairs[-1][1] + end_cents) / 2.0  # so that the width is exactly as asked
        pairs.append((bounds[index] + out_share[index] * moving_s, middle + out[index]))
        pairs.append((bounds[index] + moving_s, end_cents))
        if dwell:
            pairs.append((bounds[index + 1], end_cents))
    return _knots(pairs)


def _round_home(
    bounds: Floats, widths: Floats, rises: Floats, centres: Floats, home: float
) -> Knots:
    pairs = [(bounds[0], home)]
    for index, length_s in enumerate(np.diff(bounds)):
        rise_s = rises[index] * length_s
        high, low = centres[index] + widths[index] / 2.0, centres[index] - widths[index] / 2.0
        pairs.append((bounds[index] + rise_s / 2.0, high))
        pairs.append((bounds[index + 1] - rise_s / 2.0, low))
    return _knots([*pairs, (bounds[-1], home)])


def swell(count: int, *, from_cents: float, to_cents: float) -> tuple[float, ...]:
    """Widths that grow (or, from wide to narrow, fade) evenly from wave to wave.

    >>> swell(3, from_cents=30.0, to_cents=60.0)
    (30.0, 45.0, 60.0)
    """
    return tuple(float(width) for width in np.linspace(from_cents, to_cents, count))


def played_times(
    count: int,
    *,
    rate_hz: float,
    start_s: float,
    spread_percent: float,
    rng: np.random.Generator,
    locked: bool = True,
) -> Floats:
    """When ``count`` waves begin, and the last ends, as a person plays them; shape (count + 1,).

    ``spread_percent`` is how much the waves' lengths vary. A ``locked`` player keeps to the grid,
    each moment off by itself; one who is not adds up the lengths and wanders. The first moment
    is ``start_s`` exactly.
    """
    length_s = 1.0 / rate_hz
    share = np.clip(rng.standard_normal(count + 1), -2.2, 2.2) * spread_percent / 100.0
    if locked:  # a length is the difference of two moments, so each carries 1/sqrt(2)
        times = np.arange(count + 1) + share / np.sqrt(2.0)
        times[0] = 0.0
        return np.asarray(start_s + times * length_s, dtype=np.float64)
    lengths = np.maximum(1.0 + share[1:], 0.2)
    return np.asarray(start_s + length_s * np.concatenate([[0.0], np.cumsum(lengths)]))


def varied(
    value: ArrayLike, *, count: int, spread_percent: float, rng: np.random.Generator
) -> Floats:
    """``value`` as a person repeats it: normal spread, cut at 2.2 sigma; shape (count,)."""
    share = np.clip(rng.standard_normal(count), -2.2, 2.2) * spread_percent / 100.0
    return _each(value, count=count, name="value") * (1.0 + share)


def both_ways_push(
    swings: int,
    *,
    hand_rate_hz: float,
    reach_cents: float,
    offset_share: float = 0.0,
    start_s: float = 0.0,
    home_cents: float = 0.0,
) -> Knots:
    """A push through both sides of rest, K (y0 + r cos wt)^2: the pitch doubles the hand's rate.

    Parameters
    ----------
    swings
        Full swings of the hand, there and back; each makes two waves.
    reach_cents
        K r^2, what the push would give on one side from rest.
    offset_share
        y0 / r from 0 (both sides alike) to below 1; the peaks are (1 +- share)^2 of the reach.

    The turning points are exact, the way between them is a half cosine (exact for share 0).
    """
    if not 0.0 <= offset_share < 1.0:
        raise LabError(
            f"The offset share is {offset_share:g}; both ways needs 0 to below 1. From 1 on the "
            "push goes one way: use `waves`."
        )
    period_s = 1.0 / hand_rate_hz
    tall, small = reach_cents * (1.0 + offset_share) ** 2, reach_cents * (1.0 - offset_share) ** 2
    half_tall_s = period_s * np.arccos(-offset_share) / (2.0 * np.pi)  # from peak to rest
    half_small_s = period_s / 2.0 - half_tall_s
    pairs = [(start_s, 0.0)]
    for _ in range(swings):
        for half_s, peak in ((half_tall_s, tall), (half_small_s, small)):
            begin_s = pairs[-1][0]
            pairs += [(begin_s + half_s, peak), (begin_s + 2.0 * half_s, 0.0)]
    return _knots([(time, home_cents + cents) for time, cents in pairs])


def circle(
    count: int,
    *,
    rate_hz: float,
    push_cents: float,
    roll_cents: float,
    phase_degrees: float = 90.0,
    start_s: float = 0.0,
) -> Knots:
    """Push and roll joined: K (r + r cos wt)^2 + G cos(wt + phase), measured from its lowest point.

    ``push_cents`` and ``roll_cents`` are what each movement gives alone, peak to peak. Only the
    times and heights of the turning points are kept: with 90 degrees the waves lean.
    """
    angle = np.linspace(0.0, 2.0 * np.pi, FINE_STEPS, endpoint=False)
    curve = push_cents / 4.0 * (1.0 + np.cos(angle)) ** 2
    curve += roll_cents / 2.0 * np.cos(angle + np.radians(phase_degrees))
    low, high = int(np.argmin(curve)), int(np.argmax(curve))
    rise = ((high - low) % FINE_STEPS) / FINE_STEPS
    width = float(curve[high] - curve[low])
    return waves(count, rate_hz=rate_hz, extent_cents=width, rise_share=rise, start_s=start_s)


def held_bend(cents: float, *, start_s: float, bend_s: float = 0.25) -> Knots:
    """Up (or, with a negative number, down) to ``cents`` within ``bend_s``, and held there."""
    return _knots([(start_s, 0.0), (start_s + bend_s, cents)])


def joined(*pieces: Knots) -> Knots:
    """Pieces one after the other; a knot that repeats the moment of the one before is dropped."""
    line: list[tuple[float, float]] = []
    for knot in (knot for piece in pieces for knot in piece):
        if line and abs(knot[0] - line[-1][0]) < 1e-9 and abs(knot[1] - line[-1][1]) < 0.01:
            continue
        line.append(knot)
    return tuple(line)
