"""No octave error on a sampled guitar that somebody else recorded and somebody else's code plays.

The samples are the General MIDI soundfont that pretty_midi ships (TimGM6mb.sf2), rendered by
midirenderer. Pitch bend is standard MIDI: 14 bits, two semitones each way set by registered
parameter 0, 0; reverb and chorus (controllers 91 and 93) are off.
"""

import io
from importlib.resources import files

import mido
import numpy as np
import pytest
import soundfile
from midirenderer import render_wave_from

from labcore.model import PitchContour, Recording
from labcore.pitch import track
from labcore.units import note_number_hz

NUMBERS = (
    40,
    43,
    47,
    52,
    57,
    62,
    66,
    71,
    76,
    81,
    86,
)  # low E to D6
NOTE_S, GAP_S, PLAIN_S = 2.0, 0.4, 0.5
WAVES_HZ, EXTENT_CENTS = 4.8, 60.0
BEND_STEP_S = 0.004
TICKS, TEMPO = 480, 500_000  # ticks a beat, microseconds a beat: 1.04 ms a tick
TUNING_CENTS = 50.0  # the samples themselves are some cents out of tune
SHAPE_CENTS = 5.0  # bends are applied in steps, and the samples have a life of their own


def cents_at(time_s: np.ndarray) -> np.ndarray:
    """The vibrato of each note: up from the plain pitch and back."""
    wave = 0.5 * EXTENT_CENTS * (1 - np.cos(2 * np.pi * WAVES_HZ * (time_s - PLAIN_S)))
    return np.where(time_s > PLAIN_S, wave, 0.0)


def played(program: int) -> Recording:
    """All notes one after the other."""
    events: list[tuple[float, mido.Message]] = []
    for place, number in enumerate(NUMBERS):
        start = 0.3 + place * (NOTE_S + GAP_S)
        events.append((start, mido.Message("note_on", note=number, velocity=100)))
        for time_s in np.arange(0.0, NOTE_S, BEND_STEP_S):
            bend = round(float(cents_at(np.array([time_s]))[0]) / 200.0 * 8192)
            events.append((start + time_s, mido.Message("pitchwheel", pitch=bend)))
        events.append((start + NOTE_S, mido.Message("note_off", note=number)))
    track_ = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=TEMPO)])
    track_.append(mido.Message("program_change", program=program))
    for control, value in ((91, 0), (93, 0), (101, 0), (100, 0), (6, 2), (38, 0)):
        track_.append(mido.Message("control_change", control=control, value=value))
    last = 0
    for time_s, message in events:
        tick = round(time_s * 1e6 / TEMPO * TICKS)
        track_.append(message.copy(time=tick - last))
        last = tick
    file = io.BytesIO()
    mido.MidiFile(ticks_per_beat=TICKS, tracks=[track_]).save(file=file)
    font = files("pretty_midi").joinpath("TimGM6mb.sf2").read_bytes()
    samples, rate_hz = soundfile.read(io.BytesIO(render_wave_from(font, file.getvalue())))
    mono = samples.mean(axis=1).astype(np.float32)
    return Recording(mono, float(rate_hz), f"program {program}", "0" * 64)


def off_cents(contour: PitchContour, *, place: int) -> np.ndarray:
    """Measured less played pitch of one note, from 0.1 s after its start."""
    since = contour.time_s - 0.3 - place * (NOTE_S + GAP_S)
    inside = (since > 0.1) & (since < NOTE_S - 0.1)
    true = note_number_hz(NUMBERS[place]) * 2 ** (cents_at(since) / 1200)
    off = 1200 * np.log2(contour.frequency_hz / true)[inside]
    return off[np.isfinite(off)]


@pytest.mark.slow
@pytest.mark.parametrize(
    "program",
    [24, 25, 26, 27, 29, 30],
    ids=["nylon", "steel", "jazz", "clean", "overdriven", "distorted"],
)
def test_a_sampled_guitar_is_never_an_octave_off(program: int) -> None:
    contour = track(played(program))
    for place, number in enumerate(NUMBERS):
        off = off_cents(contour, place=place)
        assert off.size > 200, f"note {number}: only {off.size} frames have a pitch"
        assert abs(np.median(off)) < TUNING_CENTS, f"note {number} is {np.median(off):.0f} c off"
        assert np.abs(off - np.median(off)).max() < 600, f"note {number} changes octave"
        shape = np.quantile(np.abs(off - np.median(off)), 0.95)
        assert shape < SHAPE_CENTS, f"note {number}: {shape:.1f} c"
