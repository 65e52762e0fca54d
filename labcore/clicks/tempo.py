"""What a click track may mean: beats, eighths or half notes, and where the bars begin."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcore.beats import LEAST_TEMPO_BPM, MOST_TEMPO_BPM
from labcore.clicks.bursts import PLUCK_BANDS, bursts
from labcore.model import ClickTrack, Floats, Recording

# A metronome counts beats at about 40 to 160 a minute (common practice, no source); outside,
# the click is more likely a half note or an eighth.
USUAL_LEAST_BPM, USUAL_MOST_BPM = 40.0, 160.0
USUAL_BPM = 80.0  # the middle of that range, on a scale of ratios

BAR_BEATS = range(2, 8)
LISTENED_S = 30.0
LEAST_BARS = 3  # so many accents, or it may be chance
ACCENT_DB = 3.0  # by which an accent sounds stronger in some band, or weaker
ACCENT_SIGMAS = 4.0
LEAST_SIGMA_DB = 0.7


@dataclass(frozen=True, slots=True)
class Bars:
    """How the clicks are counted: ``beats`` to the bar, click ``first`` being a beat one."""

    beats: int
    first: int
    bar_s: float


def tempo_candidates(clicks: ClickTrack) -> tuple[float, ...]:
    """Tempi the clicks may stand for, in beats a minute, the likeliest first.

    The click's own tempo, half of it (a click on every eighth) and double (on half notes), as
    far as they can be counted. Its own comes first wherever a metronome is usually set to it.

    >>> from labcore.model import ClickSource
    >>> track = ClickTrack(np.arange(8) * 60 / 144, ClickSource.HEARD, 0.0)
    >>> [round(tempo) for tempo in tempo_candidates(track)]
    [144, 72, 288]
    """
    own = clicks.tempo_bpm

    def unlikely(tempo_bpm: float) -> tuple[bool, bool, float]:
        unusual = not USUAL_LEAST_BPM <= tempo_bpm <= USUAL_MOST_BPM
        return unusual, tempo_bpm != own, abs(float(np.log2(tempo_bpm / USUAL_BPM)))

    counted = [
        tempo for tempo in (own, own / 2.0, own * 2.0) if LEAST_TEMPO_BPM <= tempo <= MOST_TEMPO_BPM
    ]
    return tuple(sorted(counted, key=unlikely))


def find_bars(recording: Recording, *, clicks: ClickTrack) -> Bars | None:
    """The bars told by an accented click; None if no click is regularly unlike the others.

    The first half minute is listened to. An accent may be louder, softer or of another sound. Where
    the same beats are loud among the string's own partials as well, it is the plucks that make
    them so, and nothing is told.
    """
    period_s = 60.0 / clicks.tempo_bpm
    rate_hz = recording.sample_rate_hz
    heard = bursts(recording.samples[: round(LISTENED_S * rate_hz)], sample_rate_hz=rate_hz)
    frames = np.rint(clicks.time_s / heard.step_s).astype(int)
    inside = frames < len(heard.bin) - 3
    beats = np.rint((clicks.time_s - clicks.time_s[0]) / period_s).astype(int)[inside]
    if beats.size < 2 * LEAST_BARS:
        return None
    around = frames[inside][:, None] + np.arange(-2, 4)
    sound_db = heard.band_db[around].max(axis=1).astype(np.float64)
    strength, minus_beats, first = max(
        (_accent(sound_db[:, PLUCK_BANDS:], accented=beats % count == first), -count, first)
        for count in BAR_BEATS
        for first in range(count)
    )
    accented = beats % -minus_beats == first
    is_plucked = _accent(sound_db[:, :PLUCK_BANDS], accented=accented) >= 1.0
    if strength < 1.0 or is_plucked:
        return None
    return Bars(-minus_beats, first, -minus_beats * period_s)


def _accent(sound_db: Floats, *, accented: NDArray[np.bool_]) -> float:
    """How clearly the accented clicks differ in some band: 1 is just enough, more is clearer.

    ``sound_db`` has the shape (clicks, bands).
    """
    if accented.sum() < LEAST_BARS or (~accented).sum() < LEAST_BARS:
        return 0.0
    one, other = sound_db[accented], sound_db[~accented]
    apart = np.abs(np.median(one, axis=0) - np.median(other, axis=0))
    sigma = np.maximum(_spread(one) + _spread(other), LEAST_SIGMA_DB)
    return float(np.max(np.minimum(apart / ACCENT_DB, apart / (ACCENT_SIGMAS * sigma))))


def _spread(values: Floats) -> Floats:
    """One sigma of each column, from the median deviation of a normal distribution."""
    return np.asarray(1.4826 * np.median(np.abs(values - np.median(values, axis=0)), axis=0))
