"""Which channel of a stereo take to listen to: the louder, steadier one.

Of two channels the other one is kept beside it if it is something else: a metronome on a channel
of its own, as telephones and sound cards with two inputs record it.

A channel counts by the energy of the sound in it that repeats like a string does: hiss and room
do not repeat, hum repeats too slowly, a dead channel has no energy. Channels are never added up.
"""

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

# The lowest string of a seven-string guitar sounds at 62 Hz; hum of 50 and 60 Hz must stay below.
LEAST_NOTE_HZ = 62.0
MOST_NOTE_HZ = 1400.0
LOW_CUT_HZ = 75.0  # below here the spectrum is left out, fundamentals of low notes included
LOOK_S = 0.08  # five periods of the lowest note
LOOK_EVERY_S = 0.5
STEADY = 0.5  # share of a look that repeats; noise has about 0.2
DEAD_DB = -50.0  # so far below the other one, a channel is dead
CLEARLY_BETTER_DB = 1.0  # smaller advantages leave the first channel in place
OTHER_DB = -10.0  # of what repeats, the other channel has so much less: it holds another sound
OTHER_LEAST_DB = -40.0  # and this much sound, for the chosen one's
NOTHING = 1e-20


class Choice(NamedTuple):
    """Which channel to take, a remark on the others, and one to keep beside it."""

    channel: int
    remark: str | None = None
    beside: int | None = None


def best_channel(blocks: Iterable[NDArray[Any]], *, sample_rate_hz: float) -> Choice:
    """The channel to take, a remark if another one is dead, and one that holds another sound.

    ``blocks`` have the shape (frames, channels), in order.
    """
    powers, strengths = [], []
    peaks: list[NDArray[np.float64]] = []
    for look in _looks(_peaks_noted(blocks, peaks), sample_rate_hz=sample_rate_hz):
        power = np.mean(look**2, axis=0)
        powers.append(power)
        strengths.append(power * _repeating_share(look, sample_rate_hz=sample_rate_hz))
    if not powers:
        return Choice(0)
    power_db = 10.0 * np.log10(np.mean(powers, axis=0) + NOTHING)
    strength_db = 10.0 * np.log10(np.mean(strengths, axis=0) + NOTHING)
    if strength_db.max() <= 10.0 * np.log10(NOTHING) + 3.0:  # nothing repeats: go by loudness
        strength_db = power_db
    chosen = int(np.argmax(strength_db >= strength_db.max() - CLEARLY_BETTER_DB))
    peak_db = 20.0 * np.log10(np.max(peaks, axis=0) + NOTHING)
    peak_db -= peak_db[chosen]  # clicks may fall between the looks
    beside = None
    if power_db.size == 2 and peak_db[1 - chosen] >= OTHER_LEAST_DB:
        is_other = strength_db[1 - chosen] < strength_db[chosen] + OTHER_DB
        beside = 1 - chosen if is_other else None
    power_db -= power_db[chosen]
    return Choice(chosen, _dead_remark(np.maximum(power_db, peak_db)), beside)


def _peaks_noted(
    blocks: Iterable[NDArray[Any]], peaks: list[NDArray[np.float64]]
) -> Iterator[NDArray[Any]]:
    """The blocks as they come; the largest sample of each channel is put down."""
    for block in blocks:
        if len(block):
            largest = np.fmax.reduce(np.abs(block), axis=0).astype(np.float64)
            peaks.append(np.clip(np.nan_to_num(largest, posinf=0.0), 0.0, 1e6))
        yield block


def _dead_remark(power_db: NDArray[np.float64]) -> str | None:
    """``power_db`` is counted from the chosen channel."""
    dead = int(np.sum(power_db < DEAD_DB))
    if not dead:
        return None
    if power_db.size == 2:
        return "One of the two channels is dead; the other one is used."
    return f"{dead} of the {power_db.size} channels are dead; the best of the others is used."


def _looks(
    blocks: Iterable[NDArray[Any]], *, sample_rate_hz: float
) -> Iterator[NDArray[np.float64]]:
    """Short stretches at even distances, each of shape (frames, channels), without their mean."""
    size, distance = round(LOOK_S * sample_rate_hz), round(LOOK_EVERY_S * sample_rate_hz)
    parts: list[NDArray[Any]] = []  # of the look that is being gathered
    wait, missing = 0, size
    for block in blocks:
        first = 0
        while first < len(block):
            step = min(wait, len(block) - first)
            first, wait = first + step, wait - step
            part = block[first : first + missing] if wait == 0 else block[:0]
            parts.append(np.array(part))  # a copy: a view would hold the whole block
            first, missing = first + len(part), missing - len(part)
            if missing == 0:
                yield _level_headed(np.concatenate(parts))
                parts, wait, missing = [], distance - size, size


def _level_headed(look: NDArray[Any]) -> NDArray[np.float64]:
    """Finite, of sane size, around zero."""
    sane = np.clip(np.nan_to_num(look.astype(np.float64), posinf=0.0, neginf=0.0), -1e6, 1e6)
    return np.asarray(sane - sane.mean(axis=0))


def _repeating_share(look: NDArray[np.float64], *, sample_rate_hz: float) -> NDArray[np.float64]:
    """How much of each channel repeats, 0 to 1; shape (channels,)."""
    size = len(look)
    spectrum = np.fft.rfft(look * np.hanning(size)[:, np.newaxis], 2 * size, axis=0)
    hz = np.fft.rfftfreq(2 * size, 1.0 / sample_rate_hz)
    power = np.abs(spectrum) ** 2
    total = power.sum(axis=0) + NOTHING
    power[(hz < LOW_CUT_HZ) | (hz > 5000.0)] = 0.0
    same = np.fft.irfft(power, axis=0)[:size]
    window = np.fft.irfft(np.abs(np.fft.rfft(np.hanning(size), 2 * size)) ** 2)[:size]
    lags = slice(int(sample_rate_hz / MOST_NOTE_HZ), int(sample_rate_hz / LEAST_NOTE_HZ))
    fading = (window[lags] / window[0])[:, np.newaxis]
    clarity = np.max(same[lags] / (same[0] + NOTHING) / fading, axis=0)
    heard = power.sum(axis=0) / total
    return np.where(clarity > STEADY, np.clip(clarity, 0.0, 1.0) * heard, 0.0)
