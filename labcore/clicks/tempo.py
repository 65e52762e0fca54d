"""What a click track may mean: beats, eighths or half notes."""

import numpy as np

from labcore.beats import LEAST_TEMPO_BPM, MOST_TEMPO_BPM
from labcore.model import ClickTrack

# A metronome counts beats at about 40 to 160 a minute (common practice, no source); outside,
# the click is more likely a half note or an eighth.
USUAL_LEAST_BPM, USUAL_MOST_BPM = 40.0, 160.0
USUAL_BPM = 80.0  # the middle of that range, on a scale of ratios


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
