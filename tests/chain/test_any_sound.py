"""Any samples at any rate: one `LabError`, or a report and a picture with nothing but numbers.

A few examples run by default; many, and half an hour, under the mark ``slow``. Warnings are
errors in every test of the project. What comes out of a file is in ``tests/test_audio_fuzz.py``.
"""

import math
import tracemalloc
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from labcore.analysis import hear, judge
from labcore.audio import recording_from_samples
from labcore.errors import LabError
from labcore.figures.take import take_figure
from labcore.findings import choose, describe
from labcore.model import Report, Task

Samples = NDArray[np.float64]

RATES_HZ = (8000.0, 8000.5, 11025.0, 16000.0, 22050.0, 44100.0, 48000.0, 96000.0, 192000.0)
EXTREMES = (np.nan, np.inf, -np.inf, 3e38, -1e300, 1e-45, 0.0)
COMMON: dict[str, Any] = {
    "deadline": None,
    "derandomize": True,
    "suppress_health_check": list(HealthCheck),
}
TASKS = st.builds(
    Task,
    tempo_bpm=st.none() | st.floats(20, 300),
    cycles_per_beat=st.none() | st.integers(1, 6),
    home_hz=st.none() | st.floats(60, 1400),
)
# What may be added up to a take: a function of the times in seconds, a frequency, and a generator.
PARTS: dict[str, Callable[[Samples, float, np.random.Generator], Samples]] = {
    "constant": lambda t, hz, rng: np.ones(t.size),
    "sine": lambda t, hz, rng: np.sin(2 * np.pi * hz * t),
    "square": lambda t, hz, rng: np.sign(np.sin(2 * np.pi * hz * t)),
    "saw": lambda t, hz, rng: (t * hz) % 1.0,
    "chirp": lambda t, hz, rng: np.sin(2 * np.pi * hz * t * (1.0 + t)),
    "vibrato": lambda t, hz, rng: np.sin(2 * np.pi * hz * t + 0.05 * hz * np.sin(30.0 * t)),
    "noise": lambda t, hz, rng: rng.normal(size=t.size),
    "walk": lambda t, hz, rng: 0.01 * np.cumsum(rng.normal(size=t.size)),
    "steps": lambda t, hz, rng: np.repeat(rng.normal(size=t.size // 999 + 1), 999)[: t.size],
    "impulses": lambda t, hz, rng: (rng.random(t.size) < 3.0 / t.size).astype(float),
    "clicks": lambda t, hz, rng: (np.diff(np.floor(t * 2.5), prepend=0.0) > 0).astype(float),
    "half the rate": lambda t, hz, rng: (-1.0) ** np.arange(t.size),
    "denormals": lambda t, hz, rng: 1e-42 * rng.choice([-1.0, 1.0], size=t.size),
}


@st.composite
def sounds(draw: st.DrawFn, *, longest_s: float) -> tuple[Samples, float]:
    """Up to three parts at any level, each silent for a while, and here and there no number."""
    rate_hz = draw(st.sampled_from(RATES_HZ))
    length_s = draw(
        st.sampled_from([0.0, 0.4, 0.7, 1.2, 2.0, 3.0]).filter(lambda s: s <= longest_s)
    )
    size = int(length_s * rate_hz) + draw(st.integers(1, 300))
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    time_s, sound = np.arange(size) / rate_hz, np.zeros(size)
    for _ in range(draw(st.integers(1, 3))):
        hz = draw(st.floats(40.0, 1500.0) | st.floats(0.01, 0.5 * rate_hz))
        kind = draw(st.sampled_from(["vibrato"] * 4 + sorted(PARTS)))
        part = PARTS[kind](time_s, hz, rng)
        first, last = sorted((draw(st.integers(0, size)), draw(st.integers(0, size))))
        part[first:last] *= draw(st.sampled_from([0.0, 1.0, 1e-6]))
        sound += draw(st.sampled_from([0.3, 0.01, 1e-4, 1.0, 50.0, 1e-30, 1e37])) * part
    odd = rng.integers(0, size, size=draw(st.sampled_from([0, 0, 0, 0, 0, 1, 3, 60])))
    sound[odd] = draw(st.sampled_from(EXTREMES))
    return sound, rate_hz


def heard_or_said(samples: Samples, *, rate_hz: float, task: Task) -> Report | None:
    """The report, or None if one sentence told why there is none; anything else is raised on."""
    said = ""
    try:
        recording = recording_from_samples(samples, sample_rate_hz=rate_hz)
    except LabError as error:
        said = str(error)
    if said:
        assert 10 < len(said) < 600
        return None
    report = judge(hear(recording), task)
    choose(report)
    check_finite(report)
    shown = take_figure(report).to_json()
    assert "Infinity" not in shown
    return report


def check_finite(report: Report) -> None:
    for name, measure in report.measures.named():
        sizes = (measure.value, measure.spread or 0.0, measure.error or 0.0) if measure else ()
        assert all(math.isfinite(size) for size in sizes), name
    for note in report.take.notes:
        assert math.isfinite(note.onset_s + note.offset_s)
        assert all(math.isfinite(t.time_s + t.hz + t.error_cents) for t in note.turns)
    said = [text for f in report.findings for text in (f.sentence, f.evidence)]
    for sentence in [*said, *describe(report)]:
        assert not {"nan", "inf", "-inf", "None"} & set(sentence.split()), sentence


@settings(max_examples=25, **COMMON)
@given(sounds(longest_s=1.2), TASKS)
def test_any_samples_give_a_report_or_a_sentence(sound: tuple[Samples, float], task: Task) -> None:
    heard_or_said(sound[0], rate_hz=sound[1], task=task)


@pytest.mark.slow
@settings(max_examples=1000, **COMMON)
@given(sounds(longest_s=3.0), TASKS)
def test_many_sounds_give_a_report_or_a_sentence(sound: tuple[Samples, float], task: Task) -> None:
    heard_or_said(sound[0], rate_hz=sound[1], task=task)


# --- memory -----------------------------------------------------------------------------------

# Above the samples that came in, as `tracemalloc` counts numpy's allocations. The sound is there
# as 32-bit floats up to three times while it is frozen and brought to the rate the pitch is read
# at; the rest is what is known of every 5 or 10 ms.
SOUND_COPIES = 3
MB_A_MINUTE = 16.0
MB_ALWAYS = 32.0


def check_memory(samples: Samples | NDArray[np.float32], *, rate_hz: float) -> Report | None:
    """Hear, judge and draw, within the bound."""
    tracemalloc.start()
    try:
        report = heard_or_said(samples, rate_hz=rate_hz, task=Task())
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    minutes = samples.size / rate_hz / 60.0
    bound = 4e-6 * SOUND_COPIES * samples.size + MB_A_MINUTE * minutes + MB_ALWAYS
    assert peak / 1e6 < bound, f"{peak / 1e6:.0f} MB of {bound:.0f}"
    return report


@pytest.mark.parametrize("name", ["square", "vibrato", "noise", "clicks"])
def test_a_take_of_a_few_seconds_stays_within_the_bound(name: str) -> None:
    rate_hz = 8000.0
    time_s = np.arange(int(6.0 * rate_hz)) / rate_hz
    part = PARTS[name](time_s, 110.0, np.random.default_rng(1))
    check_memory(0.3 * part, rate_hz=rate_hz)


@pytest.mark.slow
def test_a_take_at_the_highest_rate_stays_within_the_bound() -> None:
    rate_hz = 192_000.0
    time_s = np.arange(int(20.0 * rate_hz)) / rate_hz
    check_memory(0.3 * np.sin(2 * np.pi * 220.0 * time_s + 11.0 * np.sin(30.0 * time_s)),
                 rate_hz=rate_hz)  # fmt: skip


@pytest.mark.slow
def test_half_an_hour_of_everything_stays_within_the_bound() -> None:
    """Half a minute of each kind of sound, over and over, in single precision as files give it."""
    rate_hz, rng = 8000.0, np.random.default_rng(2)
    time_s = np.arange(int(30.0 * rate_hz)) / rate_hz
    kinds = [kind for kind in sorted(PARTS) if kind not in ("walk", "denormals")]
    parts = [0.3 * PARTS[kind](time_s, 220.0, rng) for kind in kinds]
    whole = np.resize(np.concatenate(parts), int(1800 * rate_hz)).astype(np.float32)
    report = check_memory(whole, rate_hz=rate_hz)
    assert report is not None
    assert report.take.facts.duration_s == 1800.0
    assert report.take.notes
