from dataclasses import replace

import numpy as np
import parselmouth
import pytest

from labcore.model import Floats, Place, Recording, TurnKind
from labcore.synthesis import (
    ClickKind,
    NoteDescription,
    TakeDescription,
    held_bend,
    joined,
    plucked,
    synthesise,
    waves,
)
from labcore.units import cents_between
from tests.made import least_cpu_s

RATE_HZ = 22050.0
E4_HZ = 329.6276  # MIDI Tuning Standard, note 64
PITCH_TOLERANCE_CENTS = 1.0


def one_note(**parts: object) -> NoteDescription:
    return NoteDescription(onset_s=0.25, duration_s=3.0, hz=E4_HZ, **parts)  # type: ignore[arg-type]


def one_take(note: NoteDescription, **parts: object) -> TakeDescription:
    return TakeDescription("test", 3.5, (note,), sample_rate_hz=RATE_HZ, **parts)  # type: ignore[arg-type]


def rng() -> np.random.Generator:
    return np.random.default_rng(11)


def strongest_hz(recording: Recording, *, low: float, high: float) -> float:
    part = recording.samples[int(0.5 * RATE_HZ) : int(2.5 * RATE_HZ)].astype(float)
    spectrum = np.abs(np.fft.rfft(part * np.hanning(part.size), 16 * part.size))
    hz = np.fft.rfftfreq(16 * part.size, 1 / RATE_HZ)
    inside = (hz > low) & (hz < high)
    return float(hz[inside][np.argmax(spectrum[inside])])


def praat_contour(recording: Recording) -> tuple[Floats, Floats]:
    sound = parselmouth.Sound(recording.samples.astype(float), recording.sample_rate_hz)
    pitch = sound.to_pitch_ac(0.005, 250.0, pitch_ceiling=450.0)
    hz = pitch.selected_array["frequency"]
    return pitch.xs()[hz > 0], hz[hz > 0]


def test_a_plain_note_sounds_at_its_pitch_with_stretched_partials() -> None:
    stiff = 3e-4
    recording, _ = synthesise(one_take(one_note(inharmonicity=stiff)), rng=rng())
    first = strongest_hz(recording, low=250, high=400)
    assert cents_between(first, E4_HZ) == pytest.approx(0.0, abs=0.5)
    fifth = strongest_hz(recording, low=1550, high=1750)
    # Fletcher 1964: f_q = q f sqrt(1 + B q^2)
    expected = 600 * np.log2((1 + stiff * 25) / (1 + stiff))
    assert cents_between(fifth, 5 * E4_HZ) == pytest.approx(expected, abs=0.5)


def test_the_phase_is_the_integral_of_the_pitch_line() -> None:
    """One partial alone, so that the analytic signal gives the pitch sample by sample."""
    time_s = np.arange(int(2 * RATE_HZ)) / RATE_HZ
    line_hz = 440.0 * 2 ** (30.0 * (1 - np.cos(2 * np.pi * 5.0 * time_s)) / 1200)
    sound = plucked(line_hz, sample_rate_hz=RATE_HZ, pluck_position=0.5, brightness=0.0)
    spectrum = np.fft.fft(sound * np.hanning(sound.size))  # no jump at the ends
    hz = np.fft.fftfreq(sound.size, 1 / RATE_HZ)
    spectrum[(hz < 300) | (hz > 600)] = 0.0
    heard_hz = np.diff(np.unwrap(np.angle(np.fft.ifft(spectrum)))) * RATE_HZ / (2 * np.pi)
    inside = slice(int(0.3 * RATE_HZ), int(1.7 * RATE_HZ))
    midway_hz = (line_hz[1:] + line_hz[:-1]) / 2
    off = cents_between(heard_hz[inside], midway_hz[inside])
    assert np.max(np.abs(off)) < 0.05


def test_the_pluck_position_silences_partials() -> None:
    line_hz = np.full(int(RATE_HZ), 440.0)
    sound = plucked(line_hz, sample_rate_hz=RATE_HZ, pluck_position=0.25, inharmonicity=0.0)
    level = np.abs(np.fft.rfft(sound * np.hanning(sound.size)))
    second, fourth = level[880], level[1760]
    assert 20 * np.log10(fourth / second) < -60.0


def test_partials_fade_the_high_ones_sooner() -> None:
    line_hz = np.full(int(4 * RATE_HZ), 440.0)
    sound = plucked(line_hz, sample_rate_hz=RATE_HZ, decay_s=2.0, inharmonicity=0.0)
    second_s = int(RATE_HZ)

    def level(start_s: int, hz: int) -> float:
        part = sound[start_s * second_s : (start_s + 1) * second_s]
        return float(np.abs(np.fft.rfft(part * np.hanning(part.size)))[hz])

    assert level(2, 440) / level(0, 440) == pytest.approx(np.exp(-1.0), rel=0.02)
    assert level(2, 2200) / level(0, 2200) < 0.8 * level(2, 440) / level(0, 440)


def test_an_independent_pitch_tracker_hears_the_truth() -> None:
    knots = waves(8, rate_hz=3.6, extent_cents=50.0, start_s=0.75)
    recording, take = synthesise(one_take(one_note(knots=knots, inharmonicity=0.0)), rng=rng())
    time_s, hz = praat_contour(recording)
    inside = (time_s > 0.5) & (time_s < 3.1)
    assert inside.sum() > 400
    contour = take.contour
    true_hz = np.interp(time_s[inside], contour.time_s, contour.frequency_hz)
    off = cents_between(hz[inside], true_hz)
    assert abs(np.median(off)) < PITCH_TOLERANCE_CENTS
    assert np.percentile(np.abs(off - np.median(off)), 95) < PITCH_TOLERANCE_CENTS


def test_the_truth_holds_turns_and_the_plain_part() -> None:
    knots = waves(3, rate_hz=2.0, extent_cents=50.0, start_s=0.8, return_cents=(0, 10, 0))
    _, take = synthesise(one_take(one_note(knots=knots)), rng=rng())
    (note,) = take.notes
    assert [turn.kind for turn in note.turns] == [TurnKind.LOW, TurnKind.HIGH] * 3 + [TurnKind.LOW]
    times = [turn.time_s for turn in note.turns]
    assert times == pytest.approx(0.25 + 0.8 + 0.25 * np.arange(7))
    cents = [cents_between(turn.hz, E4_HZ) for turn in note.turns]
    assert cents == pytest.approx([0, 50, 0, 55, 10, 55, 0], abs=1e-6)
    plain, landing = note.plain_parts
    assert (plain.start_s, plain.end_s, plain.hz) == pytest.approx((0.25, 1.05, E4_HZ))
    assert (landing.start_s, landing.end_s) == pytest.approx((2.55, 3.25))


def test_a_short_dwell_is_one_turn_and_a_held_bend_is_plain() -> None:
    dwelling = waves(3, rate_hz=2.0, extent_cents=50.0, start_s=0.8, dwell_share=0.2)
    (note,) = synthesise(one_take(one_note(knots=dwelling)), rng=rng())[1].notes
    assert len(note.turns) == 7
    assert note.turns[2].time_s == pytest.approx(0.25 + 0.8 + 0.45)
    top = waves(4, rate_hz=4.0, extent_cents=30.0, start_s=1.2, place=Place.TOP, home_cents=200.0)
    bent = joined(held_bend(200.0, start_s=0.3), top)
    (note,) = synthesise(one_take(one_note(knots=bent)), rng=rng())[1].notes
    held = [part for part in note.plain_parts if cents_between(part.hz, E4_HZ) > 100]
    assert held
    assert cents_between(held[0].hz, E4_HZ) == pytest.approx(200.0)
    assert min(cents_between(t.hz, E4_HZ) for t in note.turns[2:]) == pytest.approx(170.0)


def test_a_wave_cut_by_the_end_of_the_note_has_no_turn_beyond_it() -> None:
    knots = waves(9, rate_hz=3.6, extent_cents=50.0, start_s=0.83)
    (note,) = synthesise(one_take(one_note(knots=knots)), rng=rng())[1].notes
    assert note.turns
    assert max(turn.time_s for turn in note.turns) <= note.offset_s


def test_the_same_seed_gives_the_same_sound_and_another_gives_another() -> None:
    take = one_take(one_note(), room_s=0.2)
    first, again = (synthesise(take, rng=rng())[0] for _ in range(2))
    assert first.sha256 == again.sha256
    assert first.sha256 != synthesise(take, rng=np.random.default_rng(12))[0].sha256


@pytest.mark.parametrize("kind", list(ClickKind))
def test_clicks_begin_at_their_times_at_their_level(kind: ClickKind) -> None:
    take = replace(
        one_take(one_note()), notes=(), click_s=(0.5, 1.5), click_db=-20.0, noise_db=None
    )
    recording, truth = synthesise(replace(take, click_kind=kind), rng=rng())
    assert truth.clicks is not None
    for click in truth.clicks.time_s:
        start = round(click * RATE_HZ)
        assert np.all(recording.samples[start - 400 : start] == 0.0)
        sound = recording.samples[start : start + 700]
        assert 20 * np.log10(np.max(np.abs(sound))) == pytest.approx(-20.0, abs=0.1)
        assert np.argmax(np.abs(sound)) < 0.002 * RATE_HZ


def test_noise_and_hum_have_their_levels() -> None:
    silent = replace(one_take(one_note()), notes=())
    noisy = synthesise(replace(silent, noise_db=-50.0), rng=rng())[0].samples
    assert 20 * np.log10(np.std(noisy)) == pytest.approx(-50.0, abs=0.2)
    hum = synthesise(replace(silent, noise_db=None, hum_db=-40.0, hum_hz=60.0), rng=rng())[0]
    fundamental = np.abs(np.fft.rfft(hum.samples[: int(RATE_HZ)]))[60] / (RATE_HZ / 2)
    assert 20 * np.log10(fundamental) == pytest.approx(-40.0, abs=0.1)


def test_a_room_rings_on_after_the_note_and_falls_by_sixty_db_in_its_time() -> None:
    short = replace(one_note(), duration_s=0.5)
    recording, _ = synthesise(one_take(short, room_s=0.6, room_db=-6.0, noise_db=None), rng=rng())
    tail = recording.samples[int(0.80 * RATE_HZ) :].astype(float)

    def level(start_s: float) -> float:
        part = tail[int(start_s * RATE_HZ) : int((start_s + 0.1) * RATE_HZ)]
        return 10 * float(np.log10(np.mean(part**2)))

    assert level(0.0) - level(0.3) == pytest.approx(30.0, abs=4.0)


def test_drive_adds_partials_but_keeps_the_pitch_and_the_ceiling() -> None:
    clean = one_take(one_note(pluck_position=0.5, brightness=0.0), noise_db=None)
    recording, _ = synthesise(replace(clean, drive=5.0), rng=rng())
    assert np.max(np.abs(recording.samples)) <= 0.52
    assert cents_between(strongest_hz(recording, low=250, high=400), E4_HZ) == pytest.approx(
        0.0, abs=0.5
    )


def test_loudness_moves_without_the_pitch() -> None:
    wobble = waves(6, rate_hz=4.0, extent_cents=6.0, start_s=0.5, place=Place.TOP)
    note = one_note(loudness_knots=wobble, decay_s=50.0)
    _, take = synthesise(one_take(note, noise_db=None), rng=rng())
    assert take.notes[0].turns == ()
    time_s, level = take.contour.time_s, take.contour.level_db
    inside = (time_s > 0.8) & (time_s < 2.2)
    assert np.ptp(level[inside]) == pytest.approx(6.0, abs=0.7)


def test_a_glide_starts_sharp_and_settles() -> None:
    _, take = synthesise(one_take(one_note(glide_cents=10.0, decay_s=1.0)), rng=rng())
    contour = take.contour
    cents = cents_between(contour.frequency_hz[contour.voiced], E4_HZ)
    assert cents[0] == pytest.approx(10.0, abs=0.1)
    assert cents[200] == pytest.approx(10.0 * np.exp(-2.0), abs=0.1)


def test_a_second_string_is_said_to_stray() -> None:
    take = one_take(one_note(), second_hz=247.0, second_db=-12.0)
    recording, truth = synthesise(take, rng=rng())
    assert np.nanmedian(truth.contour.stray_db) == pytest.approx(-6.0)
    assert strongest_hz(recording, low=220, high=270) == pytest.approx(247.0, abs=0.2)


@pytest.mark.slow
def test_a_take_with_a_room_costs_as_much_as_a_few_dozen_sines_of_its_length() -> None:
    """CPU time against that of numpy's sine in one run; the notes have dozens of partials."""
    knots = waves(12, rate_hz=4.8, extent_cents=50.0, start_s=0.8)
    notes = tuple(NoteDescription(3.3 * bar, 3.3, E4_HZ, knots=knots) for bar in range(6))
    take = TakeDescription("long", 20.0, notes, room_s=0.3)
    phase = np.linspace(0.0, 1e5, int(take.duration_s * take.sample_rate_hz))

    made_s = least_cpu_s(lambda: synthesise(take, rng=rng()), times=3)
    assert made_s < 60.0 * least_cpu_s(lambda: np.sin(phase), times=3)
