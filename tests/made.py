"""Takes made from descriptions, for tests: as a contour with noise, or as sound."""

import time
from collections.abc import Callable

import numpy as np

from labcore.analysis import notes_of
from labcore.model import ClickSource, ClickTrack, PitchContour, Recording, RecordingFacts, Take
from labcore.synthesis import TakeDescription, pitch_cents, synthesise
from labcore.units import shifted_hz

STEP_S = 0.005
NOISE_CENTS = 0.3  # about what a good contour shows at 20 dB signal to noise


def heard_contour(
    description: TakeDescription, *, noise_cents: float = NOISE_CENTS, seed: int = 1
) -> Take:
    """The take as a perfect ear with a little noise would hear it: no sound is made."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, description.duration_s, STEP_S)
    hz = np.full(time_s.size, np.nan)
    level_db = np.full(time_s.size, -80.0)
    for note in description.notes:
        inside = (time_s >= note.onset_s) & (time_s < note.offset_s)
        since_s = time_s[inside] - note.onset_s
        noise = _smooth_noise(since_s.size, noise_cents=noise_cents, rng=rng)
        hz[inside] = shifted_hz(note.hz, pitch_cents(note, since_s) + noise)
        level_db[inside] = -15.0 - 8.7 * since_s / note.decay_s
    voiced = np.isfinite(hz)
    contour = PitchContour(
        time_s,
        hz,
        level_db,
        np.where(voiced, noise_cents, np.nan),
        np.where(voiced, -60.0, np.nan),
        np.array([note.onset_s for note in description.notes]),
        STEP_S,
    )
    facts = RecordingFacts(description.name, "0" * 64, 44100.0, description.duration_s)
    clicks = ClickTrack(np.asarray(description.click_s), ClickSource.HEARD, 0.0)
    return Take(facts, clicks if clicks.time_s.size else None, contour, notes_of(contour))


def _smooth_noise(size: int, *, noise_cents: float, rng: np.random.Generator) -> np.ndarray:
    """Noise below about 22 Hz, of this standard deviation."""
    kernel = np.hanning(9)
    noise = np.convolve(rng.normal(size=size + 16), kernel, mode="same")[8 : 8 + size]
    return noise_cents * noise / np.sqrt(np.sum(kernel**2))


def sound_of(description: TakeDescription, *, seed: int = 1) -> Recording:
    """The take as sound."""
    recording, _ = synthesise(description, rng=np.random.default_rng(seed))
    return recording


def least_cpu_s(job: Callable[[], object], *, times: int) -> float:
    """Least processor time of a few runs: our own work, whatever else the machine does."""
    spent_s = []
    for _ in range(times):
        start_s = time.process_time()
        job()
        spent_s.append(time.process_time() - start_s)
    return min(spent_s)
