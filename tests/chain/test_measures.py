"""Each row of the measures against the number that was put in."""

from dataclasses import replace

import numpy as np
import pytest

from labcore.analysis import judge
from labcore.model import Measures, NoteReport, Place, Report, Task, Technique
from labcore.synthesis import NoteDescription, Playing, TakeDescription, waves
from tests.judging.takes import bars, one_note
from tests.made import heard_contour


def of(report: Report, name: str) -> float:
    measure = getattr(report.measures, name)
    assert measure is not None, report.measures.declined.get(name)
    return float(measure.value)


def report_of(
    count: int = 12,
    *,
    length_s: float = 4.4,
    task: Task | None = None,
    land: bool = False,
    **wave: object,
) -> Report:
    parts: dict[str, object] = {"rate_hz": 4.0, "extent_cents": 50.0, "start_s": 0.9, **wave}
    knots = waves(count, **parts)  # type: ignore[arg-type]
    knots = (*knots, (knots[-1][0] + 0.1, 0.0)) if land else knots
    return judge(heard_contour(one_note("made", knots, length_s=length_s), noise_cents=0.1), task)


def test_rate_and_width() -> None:
    report = report_of()
    assert of(report, "rate") == pytest.approx(4.0, abs=0.05)
    assert of(report, "extent") == pytest.approx(50.0, abs=0.5)


@pytest.mark.parametrize("back", [-12.0, 0.0, 15.0, 34.0])
def test_where_the_waves_come_back_to(back: float) -> None:
    report = report_of(return_cents=back, land=True)
    assert of(report, "return_to_pitch") == pytest.approx(back, abs=1.0)
    assert of(report, "returned_share") == (100.0 if abs(back) <= 10 else pytest.approx(0, abs=9))
    assert of(report, "undershoot") == pytest.approx(max(0.0, -back), abs=1.0)


def test_a_raised_cosine_upward_is_heard_half_its_width_sharp() -> None:
    """The mean of (1 - cos) E / 2 is E / 2 (closed form)."""
    assert of(report_of(extent_cents=60.0), "mean_shift") == pytest.approx(30.0, abs=1.0)


@pytest.mark.parametrize(
    ("place", "index"), [(Place.BOTTOM, 1.0), (Place.MIDDLE, 0.0), (Place.TOP, -1.0)]
)
def test_direction_of_the_three_homes(place: Place, index: float) -> None:
    assert of(report_of(place=place), "direction") == pytest.approx(index, abs=0.05)


@pytest.mark.parametrize("share", [0.3, 0.5, 0.65])
def test_rise_share(share: float) -> None:
    assert of(report_of(rise_share=share), "rise_share") == pytest.approx(share, abs=0.02)


@pytest.mark.parametrize(
    ("share", "ratio"),
    # A cosine wave that rises in a share a of its cycle, by its Fourier integral; 0.5 is a sine.
    [(0.5, 0.0)],
)
def test_shape_of_a_round_wave(share: float, ratio: float) -> None:
    assert of(report_of(rise_share=share), "shape") == pytest.approx(ratio, abs=0.02)


def fourier_ratio(contour: np.ndarray) -> float:
    size = np.abs(np.fft.rfft(contour))
    return float(np.sqrt(np.sum(size[2:6] ** 2)) / size[1])


def test_shape_agrees_with_the_fourier_transform_of_the_wave() -> None:
    """A wave that rests at home for a third of its length, transformed by numpy."""
    dwell = 0.35
    phase = np.linspace(0, 1, 3000, endpoint=False)
    moving = phase < 1 - dwell
    wave = np.where(moving, 0.5 - 0.5 * np.cos(2 * np.pi * phase / (1 - dwell)), 0.0)
    assert of(report_of(dwell_share=dwell), "shape") == pytest.approx(fourier_ratio(wave), rel=0.12)


def test_a_round_wave_has_no_shiver_and_a_noisy_one_has() -> None:
    smooth = report_of()
    knots = waves(12, rate_hz=4.0, extent_cents=50.0, start_s=0.9)
    noisy = judge(heard_contour(one_note("noisy", knots, length_s=4.4), noise_cents=4.0))
    assert of(smooth, "roughness") < 3.0
    assert of(noisy, "roughness") == pytest.approx(100 * 4.0 / 25.0, rel=0.4)


def test_onset_delay_runs_from_the_pluck_to_the_first_wave() -> None:
    assert of(report_of(), "onset_delay") == pytest.approx(0.9, abs=0.03)


def test_the_end_of_the_note_is_read_where_it_is_held() -> None:
    assert of(report_of(return_cents=15.0), "finish") == pytest.approx(15.0, abs=1.5)


@pytest.mark.parametrize("spread", [4.0, 12.0, 25.0])
def test_evenness_is_the_spread_put_in(spread: float) -> None:
    """Widths and lengths drawn at random over many bars, against their own numpy spread."""
    rng = np.random.default_rng(17)
    drawn: dict[str, list[np.ndarray]] = {"lengths": [], "widths": []}
    notes, onset_s = [], 0.5
    for _ in range(12):
        lengths = 0.25 * (1 + np.clip(rng.normal(size=12), -2, 2) * spread / 100)
        times = 0.8 + np.concatenate([[0.0], np.cumsum(lengths)])
        widths = 50 * (1 + np.clip(rng.normal(size=12), -2, 2) * spread / 100)
        drawn["lengths"].append(lengths)
        drawn["widths"].append(widths)
        knots = waves(12, cycle_times_s=times, extent_cents=widths)
        notes.append(NoteDescription(onset_s, 5.0, 330.0, knots=knots))
        onset_s += 5.0
    report = judge(heard_contour(TakeDescription("many", onset_s, tuple(notes)), noise_cents=0.1))
    lengths, widths = (100 * np.std(v) / np.mean(v) for v in drawn.values())
    assert of(report, "extent_evenness") == pytest.approx(widths, rel=0.15)
    assert of(report, "time_evenness") == pytest.approx(lengths, rel=0.15)


def test_a_swell_is_even_and_grows() -> None:
    report = report_of(16, length_s=5.4, extent_cents=tuple(np.linspace(30, 60, 16)))
    assert of(report, "extent_evenness") < 2.0
    assert of(report, "extent_trend") == pytest.approx(100 * (30 / 3.75) / 45, rel=0.1)


def test_grid_rows_of_a_locked_take() -> None:
    report = judge(heard_contour(bars("locked", Playing(time_spread_percent=0.0), seed=2)),
                   Task(72.0, 3))  # fmt: skip
    assert of(report, "cycles_per_beat") == pytest.approx(3.0, abs=0.02)
    assert of(report, "rate_error") == pytest.approx(0.0, abs=0.5)
    assert of(report, "lock") > 0.99
    assert of(report, "asynchrony") < 5.0
    assert report.measures.offset is None
    assert "no click was heard" in report.measures.declined["offset"]


def test_asynchrony_is_the_jitter_put_in() -> None:
    """Jitter of every homecoming, against the numpy spread of what was drawn."""
    playing = Playing(time_spread_percent=8.0, cycles_per_beat=(3,) * 12)
    description = bars("jitter", playing, seed=4)
    step_s = 60 / 72 / 3
    starts = np.array([n.onset_s + time for n in description.notes for time, _ in n.knots[:-1:2]])
    apart = (starts - 0.5 - playing.late_s + step_s / 2) % step_s - step_s / 2
    report = judge(heard_contour(description), Task(72.0, 3))
    assert of(report, "asynchrony") == pytest.approx(1000 * np.std(apart), rel=0.1)


@pytest.mark.parametrize("asked_bpm", [70.0, 74.0])
def test_the_spread_without_a_click_is_of_the_tempo_that_was_played(asked_bpm: float) -> None:
    """The same waves, asked for a little slower or faster, are as even in time as they were."""
    take = heard_contour(bars("jitter", Playing(time_spread_percent=8.0), seed=4))
    played, asked = judge(take, Task(72.0, 3)), judge(take, Task(asked_bpm, 3))
    assert of(asked, "lock") == pytest.approx(of(played, "lock"))
    assert of(asked, "asynchrony") == pytest.approx(of(played, "asynchrony"))


def test_drift_is_the_change_of_speed_put_in() -> None:
    steps = np.linspace(0.26, 0.24, 40)  # 8 % quicker at the end
    times = np.concatenate([[0.9], 0.9 + np.cumsum(steps)])
    knots = waves(40, cycle_times_s=times, extent_cents=50.0)
    take = heard_contour(one_note("drift", knots, length_s=11.6), noise_cents=0.1)
    assert of(judge(take, Task(60.0, 4)), "drift") == pytest.approx(8.0, abs=0.8)


def test_loudness_that_pulses_with_the_waves_is_measured() -> None:
    count, start_s, rate_hz = 12, 0.9, 4.0
    knots = waves(count, rate_hz=rate_hz, extent_cents=50.0, start_s=start_s)
    take = heard_contour(one_note("pulse", knots, length_s=4.4))
    contour = take.contour
    pulse_db = 1.5 * np.cos(2 * np.pi * rate_hz * (contour.time_s - 0.5 - start_s))
    louder = replace(contour, level_db=contour.level_db + pulse_db)
    pulsing = type(take)(take.facts, None, louder, take.notes)
    assert of(judge(pulsing), "amplitude_modulation") == pytest.approx(3.0, abs=0.2)
    assert of(judge(take), "amplitude_modulation") < 0.1


def test_every_row_is_a_number_or_says_why_not() -> None:
    for report in (report_of(), report_of(1, length_s=2.0), report_of(2, length_s=2.4)):
        for name, measure in report.measures.named():
            assert (measure is None) == (name in report.measures.declined), name
            if measure is not None:
                assert np.isfinite(measure.value)
                assert type(measure.value) is float


def test_the_plain_notes_uncertainty_goes_into_direction() -> None:
    steady = report_of(6, length_s=3.2)
    knots = ((0.0, -5.0), (0.85, 5.0),
             *waves(6, rate_hz=4.0, extent_cents=50.0, start_s=0.9))  # fmt: skip
    wandering = judge(heard_contour(one_note("wander", knots, length_s=3.2)))
    direction = wandering.measures.direction
    assert direction is not None
    assert steady.measures.direction is not None
    assert (direction.error or 0) > 5 * (steady.measures.direction.error or 0)


def test_records_say_what_they_hold() -> None:
    assert Measures().declined == {}
    assert NoteReport(None, ()).home is None
    assert Task().technique is Technique.NOT_SAID
