"""Conversions between hertz, cents, note names and decibels.

Conventions
-----------
Pitch differences are in cents (1200 to the octave, 100 to a fret). Note numbers follow the MIDI
Tuning Standard: 69 is A4 at 440 Hz. No pitch is NaN, never 0.
"""

from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

A4_HZ = 440.0  # ISO 16:1975 (from memory)
A4_NUMBER = 69  # MIDI Tuning Standard
NOTE_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SILENCE_DB = -200.0  # what a level of exactly zero is called, so that no -inf enters a record

# Strings of a guitar in standard tuning, first (thinnest) to sixth; common practice, no source.
STANDARD_TUNING_NUMBERS = (64, 59, 55, 50, 45, 40)


@overload
def cents_between(hz: float, reference_hz: float) -> float: ...
@overload
def cents_between(hz: NDArray[np.float64], reference_hz: ArrayLike) -> NDArray[np.float64]: ...
def cents_between(hz: ArrayLike, reference_hz: ArrayLike) -> float | NDArray[np.float64]:
    """Interval in cents from ``reference_hz`` up to ``hz``; NaN where either is NaN.

    >>> cents_between(440.0, 220.0)
    1200.0
    """
    ratio = np.asarray(hz, dtype=float) / np.asarray(reference_hz, dtype=float)
    cents = 1200.0 * np.log2(ratio)
    return float(cents) if cents.ndim == 0 else cents


@overload
def shifted_hz(reference_hz: float, cents: float) -> float: ...
@overload
def shifted_hz(reference_hz: ArrayLike, cents: NDArray[np.float64]) -> NDArray[np.float64]: ...
def shifted_hz(reference_hz: ArrayLike, cents: ArrayLike) -> float | NDArray[np.float64]:
    """The frequency ``cents`` above ``reference_hz``.

    >>> round(shifted_hz(440.0, 100.0), 2)
    466.16
    """
    hz = np.asarray(reference_hz, dtype=float) * 2.0 ** (np.asarray(cents, dtype=float) / 1200.0)
    return float(hz) if hz.ndim == 0 else hz


def signed(value: float, *, digits: int = 0) -> str:
    """A number with its sign as it is printed: a true minus, and no sign where zero is shown.

    >>> signed(-12.6), signed(0.4), signed(0.17, digits=2)
    ('−13', '0', '+0.17')
    """
    words = f"{value:+.{digits}f}"
    return words.replace("-", "−") if float(words) else words[1:]


def note_number_hz(number: float) -> float:
    """Equal-tempered frequency of a MIDI note number (MIDI Tuning Standard).

    >>> round(note_number_hz(64), 4)
    329.6276
    """
    return float(A4_HZ * 2.0 ** ((number - A4_NUMBER) / 12.0))


def hz_note_number(hz: float) -> float:
    """Fractional MIDI note number of a frequency; the inverse of `note_number_hz`.

    >>> hz_note_number(220.0)
    57.0
    """
    return A4_NUMBER + 12.0 * float(np.log2(hz / A4_HZ))


def nearest_note(hz: float) -> tuple[str, float]:
    """Name of the nearest equal-tempered note, and how many cents ``hz`` lies above it.

    >>> nearest_note(440.0)
    ('A4', 0.0)
    """
    number = hz_note_number(hz)
    nearest = round(number)
    name = f"{NOTE_NAMES[nearest % 12]}{nearest // 12 - 1}"
    return name, 100.0 * (number - nearest)


def level_db(amplitude: ArrayLike) -> NDArray[np.float64]:
    """20 log10 of an amplitude relative to full scale, floored at `SILENCE_DB`."""
    floor = 10.0 ** (SILENCE_DB / 20.0)
    size: NDArray[np.float64] = np.maximum(np.abs(np.asarray(amplitude, dtype=float)), floor)
    return 20.0 * np.log10(size)
