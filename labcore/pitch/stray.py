"""Step 10: how loud another sound is beside the note.

A second string, a chord, a voice or a hum puts partials where the note has none. In spectra a
tenth of a second long, everything near the note's own partials is covered up; the loudest bin
that is left, against the loudest partial of the note, is the stray level.

Two strings a fifth or an octave apart have all their partials in one series, and are heard as one
lower note. But only one of them is moved: a loud partial that goes another way than the others,
or stands still for the whole note while they wave, is a stray as well. Two strings that both
stand still, or move as one, cannot be told so.
"""

import numpy as np

from labcore.model import Bools, Floats, Ints
from labcore.pitch.decimate import Working
from labcore.pitch.frames import Grid, running_mean, stretched

WINDOW_S = 0.093  # Hann: silent 21.5 Hz off, so that a 60 Hz note leaves gaps to look into
EVERY = 8  # fine frames from spectrum to spectrum: 40 ms, less than half a window
MOST_PARTIAL = 10.5  # above, stiffness moves partials out of their cover
LEAST_HZ, MOST_HZ = 55.0, 3000.0  # below it rumbles
COVER_BINS = 2.2  # half the main lobe of the Hann window, and a little
BATCH = 400  # spectra at a time, ten seconds
# Loud partials of one string stay within 5 cents of each other, of recorded strings in a room,
# under clicks and hum too; of two strings, one waved by 50 cents, they are 17 apart (measured).
ASTRAY_CENTS, ASTRAY_FRAMES = 12.0, 81  # on the average of 0.4 s: two waves at 5 Hz
WILD_CENTS = 100.0  # no single frame says more than this
# A narrow wave does not take a still string that far away; but then what it falls behind by is the
# wave itself. Loud partials that stand still: slope -0.8 to -1.7, correlation beyond -0.95; of one
# string, which wobble by themselves, -0.84 at the utmost (made takes, measured).
STILL_SLOPE, STILL_CORRELATION = -0.6, -0.9
WAVE_FRAMES = 201  # 1 s: what moves more slowly is no wave
WAVES_CENTS = 2.0  # rms of a wave of 6 cents
LEAST_WAVED = 100  # frames, half a second
EDGE_FRAMES = 30  # 0.15 s: partials go their own ways at a pluck and while they are damped


def stray_db(sound: Working, *, hz: Floats, first: int, grid: Grid) -> Floats:
    """Level of the strongest foreign partial re the note's strongest, on consecutive fine frames.

    ``hz`` is the note's pitch on them; ``first`` is the first one's place in the recording.
    """
    length = 1 << round(np.log2(WINDOW_S * sound.rate_hz))
    sweep = pitch_range(hz, reach=round(0.5 * length / grid.hop))
    places = np.arange(0, hz.size, EVERY)
    parts = []
    for here in np.split(places, range(BATCH, places.size, BATCH)):
        magnitude = spectra(sound, centre=(first + here) * grid.hop, length=length)
        bin_hz = sound.rate_hz / length
        parts.append(beside(magnitude, bin_hz=bin_hz, hz=hz[here], sweep=sweep[here]))
    return stretched(np.concatenate(parts), every=EVERY, size=hz.size)


def pitch_range(hz: Floats, *, reach: int) -> Floats:
    """Half the ratio by which the pitch moves within ``reach`` frames on both sides, less one."""
    padded = np.pad(hz, reach, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    return np.asarray(0.5 * (windows.max(axis=1) / windows.min(axis=1) - 1.0))


def beside(magnitude: Floats, *, bin_hz: float, hz: Floats, sweep: Floats) -> Floats:
    """The loudest bin that the note does not cover re the loudest that it does, in dB.

    Partial k covers the main lobe of the window, and k times what the pitch moved in it.
    """
    bins = np.arange(magnitude.shape[1]) * bin_hz
    number = bins / hz[:, None]
    nearest = np.maximum(np.round(number), 1.0)
    cover = COVER_BINS * bin_hz / hz[:, None] + nearest * sweep[:, None]
    own = np.abs(number - nearest) < cover
    looked_at = (number < MOST_PARTIAL) & (bins > LEAST_HZ) & (bins < MOST_HZ)
    note = np.where(own & looked_at, magnitude, 0.0).max(axis=1)
    other = np.where(~own & looked_at, magnitude, 0.0).max(axis=1)
    return np.asarray(20.0 * np.log10((other + 1e-9) / (note + 1e-9)))


def spectra(sound: Working, *, centre: Ints, length: int) -> Floats:
    """Hann-windowed magnitudes around samples ``centre``; silence outside the sound."""
    n = centre[:, None] + np.arange(length) - length // 2
    inside = (n >= 0) & (n < sound.samples.size)
    frames = np.where(inside, sound.samples[np.clip(n, 0, sound.samples.size - 1)], 0.0)
    window = np.hanning(length + 1)[:-1].astype(np.float32)
    return np.asarray(np.abs(np.fft.rfft(frames.astype(np.float32) * window, axis=1)), dtype=float)


def astray_db(amplitude: Floats, *, apart_cents: Floats, hz: Floats) -> Floats:
    """Level of the loudest partial that goes another way, re the loudest; -inf where none does.

    ``amplitude`` and ``apart_cents``, how far above the note each partial says its pitch is, have
    shape (numbers, frames); ``hz`` is the pitch on the frames.
    """
    apart = np.clip(apart_cents, -WILD_CENTS, WILD_CENTS)
    away = running_mean(np.abs(apart), width=ASTRAY_FRAMES) > ASTRAY_CENTS
    away |= stands_still(apart, cents=1200.0 * np.log2(hz))[:, None]
    level = 20.0 * np.log10((amplitude + 1e-9) / (amplitude.max(axis=0) + 1e-9))
    return np.asarray(np.where(away, level, -np.inf).max(axis=0))


def stands_still(apart_cents: Floats, *, cents: Floats) -> Bools:
    """Which partials do not follow while the note waves, but fall behind by the wave itself.

    The slope of ``apart_cents`` over the pitch's own waves is 0 for a partial that goes with them
    and -1 for one that stands still. Shape (numbers,); none of a note that does not wave.
    """
    inside = slice(EDGE_FRAMES, -EDGE_FRAMES)
    cents, apart_cents = cents[inside], apart_cents[:, inside]
    if cents.size < LEAST_WAVED:
        return np.zeros(len(apart_cents), dtype=bool)
    wave = cents - running_mean(cents, width=WAVE_FRAMES)
    waves = np.sqrt(running_mean(wave**2, width=WAVE_FRAMES)) > WAVES_CENTS
    if np.count_nonzero(waves) < LEAST_WAVED:
        return np.zeros(len(apart_cents), dtype=bool)
    behind = (apart_cents - running_mean(apart_cents, width=WAVE_FRAMES))[:, waves]
    moved = wave[waves]
    shared, power = np.sum(behind * moved, axis=1), float(np.sum(moved**2))
    correlation = shared / np.sqrt(np.sum(behind**2, axis=1) * power + 1e-12)
    return np.asarray((shared / power < STILL_SLOPE) & (correlation < STILL_CORRELATION))
