"""The chain on sound and contours that others made: a sampled guitar played by MIDI, and Praat.

The sampled notes come from the General MIDI soundfont that pretty_midi ships, rendered by
midirenderer; pitch bend is standard MIDI (14 bit, centre 8192, +-2 semitones set by registered
parameter 0, 0), reverb and chorus are switched off (controllers 91 and 93).
"""

import io
from importlib.resources import files

import mido
import numpy as np
import parselmouth
import pytest
from midirenderer import render_wave_from

from labcore.analysis import analyse, hear, judge, notes_of
from labcore.audio import load_recording
from labcore.beats import beat_s
from labcore.model import PitchContour, Recording, Report, Take, Task, Technique, Verdict
from labcore.synthesis import Playing, pitch_cents
from labcore.units import note_number_hz
from tests.judging.takes import bars
from tests.made import sound_of

TICKS = 480
TEMPO_BPM = 72.0
EXTENT_TOLERANCE = 0.04  # share: the synthesiser applies bends in blocks of a millisecond or more
HOME_TOLERANCE_CENTS = 2.0


def bend_value(cents: float) -> int:
    """14-bit pitch bend for +-2 semitones, as mido counts it (0 is the centre)."""
    return int(np.clip(round(cents / 200.0 * 8192), -8192, 8191))


def played_by_midi(description_bars: Playing, *, number: int, program: int, seed: int) -> Recording:
    """The same bars of vibrato, played by a sampled guitar."""
    description = bars("midi", description_bars, seed=seed, hz=note_number_hz(number))
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(TEMPO_BPM))])
    track.append(mido.Message("program_change", program=program))
    for control, value in ((91, 0), (93, 0), (101, 0), (100, 0), (6, 2), (38, 0)):
        track.append(mido.Message("control_change", control=control, value=value))
    events: list[tuple[float, int, mido.Message]] = []
    for note in description.notes:
        events.append((note.onset_s, 1, mido.Message("note_on", note=number, velocity=100)))
        end_s = note.offset_s - 0.02
        events.append((end_s, 0, mido.Message("note_off", note=number)))
        for time_s in np.arange(0.0, note.duration_s - 0.02, 0.004):
            cents = float(pitch_cents(note, np.array([time_s]))[0])
            events.append(
                (note.onset_s + time_s, 2, mido.Message("pitchwheel", pitch=bend_value(cents)))
            )
    seconds_a_tick = beat_s(TEMPO_BPM) / TICKS
    last = 0
    for time_s, _, message in sorted(events, key=lambda event: event[:2]):
        tick = round(time_s / seconds_a_tick)
        track.append(message.copy(time=tick - last))
        last = tick
    file = io.BytesIO()
    mido.MidiFile(ticks_per_beat=TICKS, tracks=[track]).save(file=file)
    font = files("pretty_midi").joinpath("TimGM6mb.sf2").read_bytes()
    return load_recording(render_wave_from(font, file.getvalue()))


def faults(report: Report) -> list[str]:
    return [f"{f.kind}: {f.evidence}" for f in report.findings if f.verdict is Verdict.WORK]


@pytest.mark.parametrize("program", [24, 25, 27], ids=["nylon", "steel", "clean electric"])
@pytest.mark.parametrize("per_beat", [3, 5])
def test_a_sampled_guitar_played_well_is_found_so(program: int, per_beat: int) -> None:
    playing = Playing(cycles_per_beat=(per_beat,) * 4, extent_cents=60.0)
    recording = played_by_midi(playing, number=64, program=program, seed=3)
    report = analyse(recording, tempo_bpm=TEMPO_BPM, cycles_per_beat=per_beat)
    measures = report.measures
    assert measures.extent is not None
    assert measures.extent.value == pytest.approx(60.0, rel=EXTENT_TOLERANCE)
    assert measures.return_to_pitch is not None
    assert abs(measures.return_to_pitch.value) < HOME_TOLERANCE_CENTS
    assert measures.cycles_per_beat is not None
    assert measures.cycles_per_beat.value == pytest.approx(per_beat, rel=0.01)
    assert faults(report) == []


@pytest.mark.parametrize("program", [25, 27], ids=["steel", "clean electric"])
def test_a_sampled_guitar_that_stops_short_is_told_of_that_alone(program: int) -> None:
    playing = Playing(extent_cents=60.0, return_cents=35.0)
    recording = played_by_midi(playing, number=59, program=program, seed=4)
    report = judge(hear(recording), Task(TEMPO_BPM, 3, Technique.BEND))
    assert [line.split(":")[0] for line in faults(report)] == ["return"], faults(report)
    assert report.measures.return_to_pitch is not None
    assert report.measures.return_to_pitch.value == pytest.approx(35.0, abs=HOME_TOLERANCE_CENTS)


def praat_contour(recording: Recording, *, attack_s: tuple[float, ...]) -> PitchContour:
    """Praat's autocorrelation pitch with a short window, as one of our contours."""
    sound = parselmouth.Sound(recording.samples.astype(float), recording.sample_rate_hz)
    pitch = sound.to_pitch_ac(time_step=0.005, pitch_floor=150.0, pitch_ceiling=800.0,
                              silence_threshold=0.0005)  # fmt: skip
    hz = pitch.selected_array["frequency"]
    hz = np.where(hz > 0.0, hz, np.nan)
    time_s = pitch.xs()
    level_db = np.full(time_s.size, -20.0)
    error = np.where(np.isfinite(hz), 0.5, np.nan)
    return PitchContour(time_s, hz, level_db, error, np.full(time_s.size, -60.0),
                        np.array(attack_s), 0.005)  # fmt: skip


@pytest.mark.parametrize("playing", [Playing(), Playing(return_cents=34.0)], ids=["home", "short"])
def test_the_chain_says_the_same_on_praats_contour(playing: Playing) -> None:
    """Two contours by two methods, one judgement."""
    description = bars("praat", playing, seed=6)
    recording = sound_of(description)
    ours = hear(recording)
    theirs = praat_contour(recording, attack_s=tuple(n.onset_s for n in description.notes))
    task = Task(TEMPO_BPM, 3, Technique.BEND)
    own = judge(ours, task)
    other = judge(Take(ours.facts, None, theirs, notes_of(theirs)), task)
    assert faults(own) == faults(other) or [f.split(":")[0] for f in faults(own)] == [
        f.split(":")[0] for f in faults(other)
    ]
    for name, tolerance in (("extent", 1.5), ("return_to_pitch", 1.5), ("rate", 0.03)):
        mine, praats = getattr(own.measures, name), getattr(other.measures, name)
        assert mine.value == pytest.approx(praats.value, abs=tolerance), name
