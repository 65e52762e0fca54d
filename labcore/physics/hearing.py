"""A wobble of pitch or loudness, and what a listener takes as the pitch of it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from labcore.errors import LabError
from labcore.model import Floats


@dataclass(frozen=True, slots=True)
class Wobble:
    """Vibrato (pitch), tremolo (loudness), or both at the same speed.

    Up only: from the plain note to ``extent_cents`` and back, resting at home for ``rest_share``
    of each wave. Both ways: a sine of half the extent to each side. Extent is bottom to top.
    """

    rate_hz: float = 5.0
    extent_cents: float = 60.0
    up_only: bool = True
    rest_share: float = 0.0
    swell_db: float = 0.0  # loudest to softest

    def __post_init__(self) -> None:
        if not 0.0 <= self.rest_share < 1.0:
            raise LabError(
                f"A rest of {self.rest_share:g} of a wave leaves no wave; give 0 up to 0.9."
            )


def wave_cents(wobble: Wobble, *, time_s: ArrayLike) -> Floats:
    """The pitch line in cents above the plain note, starting at home.

    >>> wave_cents(Wobble(), time_s=[0.0, 0.1, 0.2]).round(6).tolist()
    [0.0, 60.0, 0.0]
    """
    turns = np.asarray(time_s, dtype=np.float64) * wobble.rate_hz
    if not wobble.up_only:
        return np.asarray(wobble.extent_cents / 2.0 * np.sin(2.0 * np.pi * turns))[()]
    moving = np.minimum((turns % 1.0) / (1.0 - wobble.rest_share), 1.0)
    return np.asarray(wobble.extent_cents * (0.5 - 0.5 * np.cos(2.0 * np.pi * moving)))[()]


def swell_db(wobble: Wobble, *, time_s: ArrayLike) -> Floats:
    """The loudness in decibels: 0 at the start of each wave, down to minus the swell."""
    angle = 2.0 * np.pi * wobble.rate_hz * np.asarray(time_s, dtype=np.float64)
    return np.asarray(wobble.swell_db * (0.5 * np.cos(angle) - 0.5))[()]


def heard_cents(wobble: Wobble) -> float:
    """The mean of `wave_cents`: about what is heard as the pitch of a long vibrato tone.

    Half the extent for an up-only wave without rest; 0 for both ways. The mean is what listeners
    matched for even vibrato (Shonle & Horan 1980; Brown & Vaughn 1996). That it holds for up-only
    guitar vibrato is our inference: uneven waves may be heard nearer to where they stay longest.
    """
    return wobble.extent_cents / 2.0 * (1.0 - wobble.rest_share) if wobble.up_only else 0.0
