"""How many beats a bar has, told by an accented click.

A click is as loud as it sounds where it stands out of the playing, and at most as loud as all
that sounds where it does not. So the louder clicks must stand out: what the playing hides or adds
can then make an accent look smaller, never make one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.clicks.bursts import EDGES_HZ, Bursts, are_plucks, bursts, event_frames
from labcore.clicks.comb import PLUCK_FRAMES
from labcore.model import ClickTrack, Floats, Recording

BAR_BEATS = range(2, 8)
LISTENED_S = 30.0
LEAST_BARS = 3  # so many accents, or it may be chance
LEAST_ALIKE = 2  # at each place of two such bars
STANDS_OUT_DB = 6.0  # the level of what does is right to about 1 dB
FAINTER_DB = 15.0  # than the click where it is strongest, what stands out may be the string's
MOST, ACCENT_DB = 0.8, 2.0  # so many of one kind sound stronger than as many of the other
CLICK_FRAMES = np.arange(-2, 4)  # round a click, where it may be loudest


@dataclass(frozen=True, slots=True)
class Bars:
    """How the clicks are counted: ``beats`` to the bar, click ``first`` being a beat one."""

    beats: int
    first: int
    bar_s: float


@dataclass(frozen=True, slots=True, order=True)
class _Told:
    """Bars, and how clearly they are told; an accent that is louder is the likelier one."""

    is_louder: bool
    strength: float
    beats: int
    first: int


@dataclass(frozen=True, slots=True, eq=False)
class _Clicks:
    """The clicks one by one: their beat, what sounds there in each bin, and how it stands out."""

    beat: NDArray[np.intp]  # shape (clicks,)
    level_db: Floats  # shape (clicks, bins)
    out_db: Floats  # shape (clicks, bins)
    is_plucked: NDArray[np.bool_]  # a note begins there too
    bands: list[NDArray[np.bool_]]  # which bins lie in each


def find_bars(recording: Recording, *, clicks: ClickTrack) -> Bars | None:
    """The bars told by an accented click; None if no click is regularly unlike the others.

    The first half minute is listened to. An accent may be louder, softer or of another sound.
    Every beat of the bar must be heard: bars are not told from clicks that plucks hide.
    """
    period_s = 60.0 / clicks.tempo_bpm
    heard = _heard(recording, clicks=clicks, period_s=period_s)
    told = max(
        _told(heard, beats=beats, first=first) for beats in BAR_BEATS for first in range(beats)
    )
    if told.strength < 1.0 or not _is_whole(heard, told):
        return None
    return Bars(told.beats, told.first, told.beats * period_s)


def _heard(recording: Recording, *, clicks: ClickTrack, period_s: float) -> _Clicks:
    """What is heard at each click."""
    rate_hz = recording.sample_rate_hz
    heard = bursts(recording.samples[: round(LISTENED_S * rate_hz)], sample_rate_hz=rate_hz)
    frame = np.rint(clicks.time_s / heard.step_s).astype(np.intp)
    inside = (frame >= 0) & (frame < len(heard.bin) - 3)
    frame = frame[inside]
    beat = np.rint((clicks.time_s - clicks.time_s[0]) / period_s).astype(np.intp)[inside]
    around = np.maximum(frame[:, None] + CLICK_FRAMES, 0)
    level_db, out_db = (
        values[around].max(axis=1).astype(np.float64) for values in (heard.level_db, heard.bin)
    )
    edges = np.searchsorted(EDGES_HZ, heard.bin_hz, side="right")
    bands = [edges == band for band in np.unique(edges)]
    return _Clicks(beat, level_db, out_db, _plucked(heard, frame=frame), bands)


def _plucked(heard: Bursts, *, frame: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which clicks have a pluck so near that it may be taken for them."""
    events = event_frames(heard)
    plucks = events[are_plucks(heard, frames=events)]
    off = plucks - frame[:, None]
    near = (off >= -PLUCK_FRAMES[0]) & (off <= PLUCK_FRAMES[1])
    return np.asarray(near.any(axis=1))


def _told(heard: _Clicks, *, beats: int, first: int) -> _Told:
    """How clearly these bars are told."""
    place = heard.beat % beats
    one, others = [first], [k for k in range(beats) if k != first]
    louder = _stronger(heard, place=place, loud=one, soft=others)
    softer = _stronger(heard, place=place, loud=others, soft=one)
    return _Told(louder >= 1.0, max(louder, softer), beats, first)


def _is_whole(heard: _Clicks, bars: _Told) -> bool:
    """True if enough clicks are heard at each place of two and three such bars, to be alike."""
    beat = heard.beat[~heard.is_plucked]
    longer = range(2 * bars.beats, BAR_BEATS[-1] + 1, bars.beats)
    return all(
        np.sum(beat % beats == place) >= LEAST_ALIKE for beats in longer for place in range(beats)
    )


def _stronger(
    heard: _Clicks, *, place: NDArray[np.intp], loud: list[int], soft: list[int]
) -> float:
    """How clearly the clicks at some places of the bar are stronger: 1 is just enough.

    It is heard where they stand out, at each of their places.
    """
    clear = ~heard.is_plucked
    if any(np.sum(clear & (place == k)) < LEAST_BARS for k in loud):
        return 0.0
    is_loud = clear & np.isin(place, loud)
    stands_out = np.median(heard.out_db[is_loud], axis=0) >= STANDS_OUT_DB
    usual_db = np.where(stands_out, np.median(heard.level_db[is_loud], axis=0), -np.inf)
    is_click = stands_out & (usual_db > usual_db.max() - FAINTER_DB)
    if not is_click.any():
        return 0.0
    bands = [is_click & band for band in heard.bands if np.any(is_click & band)]
    level_db = np.stack([_total_db(heard.level_db[:, band]) for band in bands], axis=1)
    kinds = [_clear(place == k, heard) for k in soft]
    apart_db = [_apart_db(level_db[is_loud], level_db[kind]) for kind in kinds]
    return float(np.max(np.min(apart_db, axis=0))) / ACCENT_DB


def _clear(kind: NDArray[np.bool_], heard: _Clicks) -> NDArray[np.bool_]:
    """Those that no pluck hides; where it hides all, all: they are at most as loud as that."""
    clear = kind & ~heard.is_plucked
    return clear if clear.sum() >= LEAST_BARS else kind


def _total_db(level_db: Floats) -> Floats:
    """Of all the bins together; shape (clicks,)."""
    return np.asarray(10.0 * np.log10(np.sum(10.0 ** (level_db / 10.0), axis=1)))


def _apart_db(loud_db: Floats, soft_db: Floats) -> Floats:
    """By how much most of one lie above most of the other, in each band."""
    if len(soft_db) < LEAST_BARS:
        return np.zeros(loud_db.shape[1])
    least_db, most_db = np.quantile(loud_db, 1.0 - MOST, axis=0), np.quantile(soft_db, MOST, axis=0)
    return np.asarray(least_db - most_db)
