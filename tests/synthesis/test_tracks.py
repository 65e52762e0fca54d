from dataclasses import replace
from io import BytesIO

import mido
import numpy as np
import parselmouth
import pytest

from labcore.errors import LabError
from labcore.model import Floats, Place
from labcore.synthesis import (
    BarKind,
    PracticePlan,
    PracticeTrack,
    ladder,
    practice_track,
    random_switching,
    there_and_back,
)
from labcore.units import cents_between

RATE_HZ = 22050.0
LOUDEST_DB = -12.0
MIDI_CENTS = 0.05  # one step of a 14-bit bend over two semitones is 0.024 cents
BEAT_S = 60 / 72


def made(**parts: object) -> PracticeTrack:
    return practice_track(PracticePlan(**parts), sample_rate_hz=RATE_HZ)  # type: ignore[arg-type]


def read_back(track: PracticeTrack) -> mido.MidiFile:
    return mido.MidiFile(file=BytesIO(track.midi))


def timed(midi: mido.MidiFile, index: int) -> list[tuple[int, mido.Message]]:
    ticks = np.cumsum([message.time for message in midi.tracks[index]])
    return list(zip(ticks.tolist(), midi.tracks[index], strict=True))


def peak_db(samples: Floats) -> float:
    return 20 * float(np.log10(np.max(np.abs(samples))))


@pytest.mark.parametrize("plan", [{}, {"guide": False}, {"clicks_per_beat": 2, "peak_db": -12.0}])
def test_a_track_is_never_loud(plan: dict[str, object]) -> None:
    track = made(**plan)
    assert peak_db(track.recording.samples) <= LOUDEST_DB + 0.01
    assert peak_db(track.recording.samples) == pytest.approx(track.plan.peak_db, abs=0.01)
    with pytest.raises(LabError, match="Turn up where you listen"):
        PracticePlan(peak_db=-3.0)


def test_clicks_stand_on_the_beats_of_count_in_and_bars() -> None:
    track = made(note_values=(3, 3), guide=False)
    assert track.click_s == pytest.approx(BEAT_S * np.arange(12))
    loud = np.abs(track.recording.samples) > 0.2 * np.max(np.abs(track.recording.samples))
    onsets = np.flatnonzero(loud & ~np.roll(loud, 1)) / RATE_HZ
    heard = onsets[np.concatenate([[True], np.diff(onsets) > 0.1])]
    assert heard == pytest.approx(track.click_s, abs=0.003)


def test_the_click_on_eighths_and_the_click_that_goes_away() -> None:
    assert len(made(note_values=(2,), clicks_per_beat=2, guide=False).click_s) == 16
    away = made(note_values=(3,) * 6, bars_with_click=2, bars_without_click=2, guide=False)
    assert [bar.clicked for bar in away.bars] == [True, True, True, False, False, True, True]
    silent = away.recording.samples[int(3.01 * 4 * BEAT_S * RATE_HZ) : int(19.9 * BEAT_S * RATE_HZ)]
    assert np.all(silent == 0.0)


def test_bars_to_clap_have_clicks_and_no_guide() -> None:
    track = made(note_values=(4, 4), clap_bars=2)
    kinds = [bar.kind for bar in track.bars]
    assert kinds == [BarKind.COUNT, BarKind.CLAP, BarKind.CLAP, BarKind.PLAY, BarKind.PLAY]
    first_note = next(tick for tick, m in timed(read_back(track), 2) if m.type == "note_on")
    assert first_note == 3 * 4 * 960


def test_the_midi_file_says_tempo_bars_and_clicks() -> None:
    track = made(note_values=(2, 3), name="two values")
    midi = read_back(track)
    assert (midi.type, midi.ticks_per_beat, len(midi.tracks)) == (1, 960, 3)
    head = timed(midi, 0)
    (bpm,) = (mido.tempo2bpm(m.tempo) for _, m in head if m.type == "set_tempo")
    assert bpm == pytest.approx(72.0, abs=1e-3)
    (signature,) = (m for _, m in head if m.type == "time_signature")
    assert (signature.numerator, signature.denominator) == (4, 4)
    markers = [(tick, m.text) for tick, m in head if m.type == "marker"]
    assert markers == [(0, "count in: eighths"), (3840, "play: eighths"), (7680, "play: triplets")]
    clicks = [(tick, m.note) for tick, m in timed(midi, 1) if m.type == "note_on" and m.velocity]
    assert [tick for tick, _ in clicks] == [960 * beat for beat in range(12)]
    assert [note for _, note in clicks] == [76, 77, 77, 77] * 3
    assert midi.length == pytest.approx(12 * BEAT_S, abs=0.001)


def test_the_midi_guide_bends_on_the_grid() -> None:
    """Read back by a general MIDI library: the highest bend lies mid-wave, the lowest at home."""
    midi = read_back(made(note_values=(3,), extent_cents=60.0))
    guide = timed(midi, 2)
    (note,) = (m.note for _, m in guide if m.type == "note_on" and m.velocity)
    assert note == 64  # third string, fret 9
    bends = [(tick - 3840, m.pitch) for tick, m in guide if m.type == "pitchwheel"]
    ticks, values = np.array(bends, dtype=float).T
    cents = values / 8192 * 200.0
    assert cents.min() == 0.0
    assert cents.max() == pytest.approx(60.0, abs=MIDI_CENTS)
    expected = 30.0 * (1 - np.cos(2 * np.pi * (ticks - 960) / 320))
    moving = ticks >= 960
    assert moving.sum() > 300
    assert cents[moving] == pytest.approx(expected[moving], abs=MIDI_CENTS)
    controls = [(m.control, m.value) for _, m in guide if m.type == "control_change"]
    assert controls == [(101, 0), (100, 0), (6, 2), (38, 0)]


@pytest.mark.parametrize(("place", "low", "high"), [(Place.BOTTOM, 0, 50), (Place.MIDDLE, -25, 25)])
def test_an_independent_tracker_hears_the_guide(place: Place, low: float, high: float) -> None:
    track = made(note_values=(4,), count_in_bars=0, place=place)
    sound = parselmouth.Sound(track.recording.samples.astype(float), RATE_HZ)
    pitch = sound.to_pitch_ac(0.005, 200.0, pitch_ceiling=450.0)
    hz = pitch.selected_array["frequency"]
    inside = (pitch.xs() > BEAT_S) & (pitch.xs() < 3.7 * BEAT_S) & (hz > 0)
    plain = (pitch.xs() > 0.2) & (pitch.xs() < 0.75) & (hz > 0)
    cents = cents_between(hz[inside], float(np.median(hz[plain])))
    ends = np.percentile(cents, [6, 94])  # the clicks themselves disturb a tracker on the beats
    assert ends == pytest.approx([low, high], abs=3.0)


def test_ladder_there_and_back_and_random_switching() -> None:
    assert ladder() == (2, 2, 3, 3, 4, 4, 5, 5, 6, 6)
    assert there_and_back((2, 3, 4, 5, 6)) == (2, 3, 4, 5, 6, 5, 4, 3, 2)
    drawn = random_switching(40, rng=np.random.default_rng(5), values=(2, 3, 4), bars_each=1)
    assert len(drawn) == 41
    assert set(drawn) == {2, 3, 4}
    assert all(drawn[1:][i] != drawn[i] for i in range(40))
    again = random_switching(40, rng=np.random.default_rng(5), values=(2, 3, 4), bars_each=1)
    assert drawn == again
    with pytest.raises(LabError, match="two note values"):
        random_switching(3, rng=np.random.default_rng(5), values=(2, 2))


def test_a_plain_bar_is_held_without_waves() -> None:
    guide = timed(read_back(made(note_values=(0, 2))), 2)
    in_first_bar = [m.pitch for t, m in guide if m.type == "pitchwheel" and 3840 <= t < 7680]
    assert in_first_bar == [0]


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"note_values": ()}, "0 bars"),
        ({"note_values": (7,)}, "7 waves to the click"),
        ({"tempo_bpm": 5.0}, "5 clicks a minute; it must lie between 20 and 300"),
        ({"clicks_per_beat": 4}, "clicks a beat"),
        ({"plain_beats": 4}, "leave no waves"),
        ({"bars_without_click": 2}, "must first be there"),
        ({"string": 9}, "no string 9"),
        ({"fret": 40}, "fret is 40"),
        ({"count_in_bars": -1}, "Numbers of bars"),
    ],
)
def test_nonsense_in_a_plan_is_refused(parts: dict[str, object], words: str) -> None:
    with pytest.raises(LabError, match=words):
        replace(PracticePlan(), **parts)  # type: ignore[arg-type]
