"""The plain pitch reader: its loss against the sliding mean's closed formula."""

import numpy as np
import pytest

from labcore.errors import LabError
from labcore.model import Recording
from labcore.physics.window import median_width_cents, window_gain, window_reading
from labcore.synthesis import NoteDescription, TakeDescription, synthesise, waves

HOME_HZ, MIDDLE_HZ = 329.63, 329.63 * 2 ** (30 / 1200)
GAIN_TOLERANCE = 0.02


def wobbling(rate_hz: float) -> tuple[Recording, list[tuple[float, float]]]:
    knots = waves(round(1.5 * rate_hz), extent_cents=60, rate_hz=rate_hz, start_s=0.3)
    take = TakeDescription("x", 2.2, (NoteDescription(0.0, 2.2, HOME_HZ, knots=knots),))
    starts = 0.3 + np.arange(round(1.5 * rate_hz)) / rate_hz
    spans = [(float(start), float(start + 1 / rate_hz)) for start in starts]
    return synthesise(take, rng=np.random.default_rng(2))[0], spans[1:-1]


@pytest.mark.parametrize("window_s", [0.020, 0.046, 0.093])
@pytest.mark.parametrize("rate_hz", [4.8, 7.2])
def test_a_window_loses_what_a_sliding_mean_loses(rate_hz: float, window_s: float) -> None:
    recording, spans = wobbling(rate_hz)
    time_s, hz = window_reading(recording, near_hz=MIDDLE_HZ, window_s=window_s)
    width = median_width_cents(time_s, hz, waves=spans)
    assert width is not None
    expected = abs(np.sin(np.pi * rate_hz * window_s) / (np.pi * rate_hz * window_s))
    assert width / 60.0 == pytest.approx(expected, abs=GAIN_TOLERANCE)


@pytest.mark.parametrize(
    ("rate_hz", "gain"), [(2.4, 0.92), (3.6, 0.83), (4.8, 0.70), (6.0, 0.56), (7.2, 0.41)]
)
def test_the_gain_of_a_usual_long_window(rate_hz: float, gain: float) -> None:
    # sinc(f T) for 93 ms, worked out by hand
    assert float(window_gain(rate_hz, window_s=0.093)) == pytest.approx(gain, abs=0.005)


def test_a_steady_note_is_read_right() -> None:
    take = TakeDescription("x", 1.0, (NoteDescription(0.0, 1.0, HOME_HZ, inharmonicity=0.0),))
    recording = synthesise(take, rng=np.random.default_rng(2))[0]
    _, hz = window_reading(recording, near_hz=HOME_HZ * 1.02, window_s=0.046)
    assert 1200 * np.log2(np.median(hz) / HOME_HZ) == pytest.approx(0.0, abs=1.0)


def test_no_wave_has_no_width() -> None:
    assert median_width_cents(np.zeros(3), np.full(3, np.nan), waves=[(0.0, 1.0)]) is None


def test_wrong_input_is_told_in_a_sentence() -> None:
    recording = wobbling(4.8)[0]
    with pytest.raises(LabError, match="between 5 and 250"):
        window_reading(recording, near_hz=330.0, window_s=1.0)
    short = Recording(recording.samples[:2000], 44100.0, "short", "")
    with pytest.raises(LabError, match="shorter than one window"):
        window_reading(short, near_hz=330.0, window_s=0.1)
