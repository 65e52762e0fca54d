"""The plain note, and how the waves come back to it."""

from collections.abc import Sequence

import numpy as np

from labcore.measures.heard import DeclinedError, Heard, interquartile
from labcore.model import Floats, HomeSource, Measure, Place, VibratoCycle
from labcore.notes import direction_error, direction_index
from labcore.units import cents_between

HOME_CENTS = 10.0  # musicians' threshold for steady tones (Arndt, Schlemmer & van der Meer 2020)
FINISH_S = 0.20  # how the note ends is read over this long ...
RELEASE_S = 0.05  # ... before the release itself ...
FINISH_HELD_CENTS = 12.0  # ... where the pitch stays within this: a wave cut short is no ending


def plain_note(heard: Heard) -> Measure:
    """How far the plain notes wander while they are held: median of their spreads."""
    parts = [part for note in heard.take.notes for part in note.plain_parts]
    if not parts:
        raise DeclinedError("no plain part of a quarter of a second or more was heard")
    wander = np.array([part.spread_cents for part in parts])
    error = float(np.nanmedian(heard.take.contour.error_cents))
    return Measure(float(np.median(wander)), "cents", len(parts), interquartile(wander), error)


def return_to_pitch(heard: Heard) -> Measure:
    """Median of where the waves come back to, in cents above home."""
    returns = _returns(heard)
    own = np.mean([wave.end.error_cents**2 for wave in heard.placed]) / returns.size
    error = np.hypot(heard.home_error_cents(heard.placed), np.sqrt(own))
    return Measure(
        float(np.median(returns)), "cents", returns.size, interquartile(returns), float(error)
    )


def _returns(heard: Heard) -> Floats:
    """Where each wave came back to, cents above home."""
    if not heard.cycles:
        raise DeclinedError("no waves were heard")
    if not heard.at_home:
        raise DeclinedError("no plain note was heard to come home to")
    if not heard.placed:
        raise DeclinedError("it is not clear where in the waves home lies")
    found = [wave.return_cents for wave in heard.placed]
    return np.array([cents for cents in found if cents is not None])


def returned_share(heard: Heard) -> Measure:
    """Share of waves that end within `HOME_CENTS` of home; its error is what home's amounts to."""
    returns = _returns(heard)
    error = heard.home_error_cents(heard.placed)
    share = [100.0 * float(np.mean(np.abs(returns + e) <= HOME_CENTS)) for e in (0, -error, error)]
    return Measure(share[0], "%", returns.size, None, float(np.ptp(share)) / 2.0)


def undershoot(heard: Heard) -> Measure:
    """How far the median bottom lies below a home at the bottom; 0 where it does not."""
    bottoms = [w for w in heard.placed if w.home and w.home.place is Place.BOTTOM]
    if not bottoms:
        raise DeclinedError("home is not at the bottom of the waves, or no plain note was heard")
    returns = np.array([wave.return_cents for wave in bottoms], dtype=float)
    value, error = max(0.0, -float(np.median(returns))), heard.home_error_cents(bottoms)
    return Measure(value, "cents", returns.size, interquartile(returns), error)


def direction(heard: Heard) -> Measure:
    """D = (P + V) / (P - V) of highs and lows above home: 1 up only, 0 both ways, -1 down only."""
    if not heard.at_home:
        raise DeclinedError("no plain note was heard to tell up from down")
    lows, highs = _levels(heard.at_home)
    home_error = heard.home_error_cents(heard.at_home)
    extent = float(np.median(highs) - np.median(lows))
    if extent <= 0.0:
        raise DeclinedError("the waves have no steady width")
    return Measure(direction_index(lows, highs), "", len(heard.at_home), None,
                   direction_error(extent, home_error_cents=home_error))  # fmt: skip


def _levels(cycles: Sequence[VibratoCycle]) -> tuple[Floats, Floats]:
    """The lows and the highs of waves in cents above their homes."""
    ends, turns = [], []
    for wave in cycles:
        assert wave.home is not None
        ends.append(cents_between(wave.end.hz, wave.home.hz))
        turns.append(cents_between(wave.turn.hz, wave.home.hz))
    pair = np.array(ends), np.array(turns)
    return pair if np.median(pair[0]) <= np.median(pair[1]) else pair[::-1]


def mean_shift(heard: Heard) -> Measure:
    """Mean pitch of the waves above home: about what a listener hears (Brown & Vaughn 1996)."""
    if not heard.at_home:
        raise DeclinedError("no plain note was heard to compare with")
    contour = heard.take.contour
    means = []
    for wave in heard.at_home:
        assert wave.home is not None
        inside = contour.voiced_frames(wave.start_s, wave.end_s)
        means.append(float(np.mean(cents_between(contour.frequency_hz[inside], wave.home.hz))))
    values = np.array(means)
    return Measure(float(np.mean(values)), "cents", values.size, interquartile(values),
                   heard.home_error_cents(heard.at_home))  # fmt: skip


def finish(heard: Heard) -> Measure:
    """Where the notes end, in cents above home, among notes that are held after their waves."""
    found = (_end_cents(heard, index) for index in range(len(heard.notes)))
    ends = [end for end in found if end is not None]
    if not ends:
        raise DeclinedError("no note is held for a moment after its waves")
    values = np.array(ends)
    return Measure(float(np.median(values)), "cents", values.size, interquartile(values),
                   heard.home_error_cents(heard.at_home))  # fmt: skip


def _end_cents(heard: Heard, index: int) -> float | None:
    """How far above home a note ends, if it is held after its last wave."""
    note, judged = heard.take.notes[index], heard.notes[index]
    if judged.home is None or judged.home.source is HomeSource.WAVES or not judged.cycles:
        return None
    start_s, end_s = note.offset_s - RELEASE_S - FINISH_S, note.offset_s - RELEASE_S
    if heard.cycles[judged.cycles[-1]].end_s > start_s:
        return None
    contour = heard.take.contour
    inside = contour.voiced_frames(start_s, end_s)
    if inside.size * contour.step_s < 0.8 * FINISH_S:
        return None
    cents = cents_between(contour.frequency_hz[inside], judged.home.hz)
    return float(np.median(cents)) if np.ptp(cents) <= FINISH_HELD_CENTS else None
