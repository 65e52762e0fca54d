"""Notes, plain parts, turning points and waves against the formula that made the contour."""

from dataclasses import replace

import numpy as np
import pytest

from labcore.analysis import judge, notes_of
from labcore.cycles import columns, pair_cycles, vertex, zigzag
from labcore.model import HomeSource, Place, Report, Task, Technique, TurnKind
from labcore.notes import direction_error, direction_index, find_home
from labcore.synthesis import Knots, NoteDescription, TakeDescription, joined, waves
from tests.judging.takes import one_note
from tests.made import heard_contour

EXTENT_TOLERANCE_CENTS = 1.0
TURN_TOLERANCE_S = 0.006
HZ = 247.0


def report_of(knots: Knots, *, length_s: float, task: Task | None = None, **noise: float) -> Report:
    take = heard_contour(one_note("made", knots, length_s=length_s, hz=HZ), **noise)
    return judge(take, task)


@pytest.mark.parametrize("rate_hz", [1.5, 2.4, 3.6, 4.8, 6.0, 7.2, 9.0])
@pytest.mark.parametrize("extent", [10.0, 25.0, 60.0, 200.0])
@pytest.mark.parametrize("place", [Place.BOTTOM, Place.MIDDLE, Place.TOP])
def test_every_wave_is_found_with_its_width(rate_hz: float, extent: float, place: Place) -> None:
    knots = waves(8, rate_hz=rate_hz, extent_cents=extent, start_s=0.9, place=place)
    report = report_of(knots, length_s=0.9 + 8 / rate_hz + 0.6, noise_cents=0.1)
    whole = 7 if place is Place.MIDDLE else 8  # round home the first and last are half waves
    assert whole - 1 <= len(report.cycles) <= 8
    table = columns(report.cycles)
    assert np.median(table["extent_cents"]) == pytest.approx(extent, abs=EXTENT_TOLERANCE_CENTS)
    assert np.median(table["duration_s"]) == pytest.approx(1 / rate_hz, rel=0.02)
    home = report.notes[0].home
    assert home is not None
    assert home.place is place
    assert home.hz == pytest.approx(HZ, rel=3e-4)


def test_turning_points_lie_where_the_formula_has_them() -> None:
    knots = waves(8, rate_hz=4.8, extent_cents=60.0, start_s=0.9, rise_share=0.35)
    report = report_of(knots, length_s=3.2, noise_cents=0.1)
    turns = report.take.notes[0].turns
    truth = np.array([time for time, _ in knots]) + report.take.notes[0].onset_s
    assert len(turns) == len(truth)
    found = np.array([turn.time_s for turn in turns])
    assert np.abs(found[1:-1] - truth[1:-1]).max() < TURN_TOLERANCE_S
    assert [t.kind for t in turns] == [TurnKind.LOW, TurnKind.HIGH] * 8 + [TurnKind.LOW]


def test_the_vertex_of_a_parabola_is_found_between_frames() -> None:
    time_s = np.arange(0, 0.2, 0.005)
    at, level = vertex(time_s, 40 - 9000 * (time_s - 0.1013) ** 2, 20, reach_s=0.03)
    assert at == pytest.approx(0.1013, abs=1e-6)
    assert level == pytest.approx(40.0, abs=1e-6)


def test_a_zigzag_needs_its_least_height() -> None:
    small = np.array([0.0, 3.0, 0.0, 3.0, 0.0])
    assert zigzag(small, least=4.0) == []
    assert zigzag(2 * small, least=4.0) == [0, 1, 2, 3, 4]


def test_a_plain_note_has_no_waves_and_one_plain_part() -> None:
    report = report_of((), length_s=2.0)
    assert report.cycles == ()
    (note,) = report.take.notes
    (part,) = note.plain_parts
    assert part.hz == pytest.approx(HZ, rel=3e-4)
    assert part.duration_s == pytest.approx(1.75, abs=0.05)


def test_replucked_notes_are_cut_at_their_plucks() -> None:
    notes = tuple(NoteDescription(0.5 + 1.5 * i, 1.5, HZ) for i in range(4))
    take = heard_contour(TakeDescription("plucks", 7.0, notes))
    assert [note.onset_s for note in take.notes] == pytest.approx([0.5, 2.0, 3.5, 5.0], abs=0.01)


def test_a_legato_change_of_note_is_no_wave() -> None:
    knots = ((0.0, 0.0), (0.8, 0.0), (0.83, 200.0), (1.6, 200.0), (1.63, 0.0))
    report = report_of(knots, length_s=2.4)
    assert report.cycles == ()
    assert len(report.take.notes) == 3


def test_a_held_bend_has_a_home_of_its_own() -> None:
    on_top = waves(8, rate_hz=4.0, extent_cents=40.0, start_s=1.6, home_cents=200.0)
    knots = joined(((0.0, 0.0), (0.6, 0.0), (0.85, 200.0)), on_top)
    report = report_of(knots, length_s=4.2)
    home = report.notes[-1].home
    assert home is not None
    assert home.hz == pytest.approx(HZ * 2 ** (2 / 12), rel=5e-4)
    assert home.place is Place.BOTTOM
    assert columns(report.cycles)["return_cents"] == pytest.approx(np.zeros(8), abs=1.5)


def test_a_slow_wide_vibrato_is_one_note() -> None:
    knots = waves(6, rate_hz=1.5, extent_cents=200.0, start_s=0.9)
    assert len(report_of(knots, length_s=5.5).take.notes) == 1


def test_the_pluck_glide_is_no_return_error() -> None:
    note = NoteDescription(0.5, 3.5, HZ, glide_cents=12.0,
                           knots=waves(8, rate_hz=4.0, extent_cents=50.0, start_s=0.9))  # fmt: skip
    report = judge(heard_contour(TakeDescription("glide", 4.5, (note,))))
    assert np.abs(columns(report.cycles)["return_cents"]).max() < 5.0


@pytest.mark.parametrize(("start_cents", "wobble_cents"), [(2.0, 4.5), (4.0, 7.0), (0.0, -7.0)])
def test_a_plain_note_that_wobbles_by_itself_is_home_all_the_same(
    start_cents: float, wobble_cents: float
) -> None:
    # A recorded string, plucked hard, moved by 4.3 cents so (its two directions of swing beat).
    begin = ((0.0, start_cents), (0.08, start_cents))
    wobble = (*begin, (0.2, wobble_cents), (0.32, 0.0), (0.55, 0.0))
    at_once = waves(10, rate_hz=4.6, extent_cents=80.0, start_s=0.55)
    report = report_of(joined(wobble, at_once), length_s=2.75, noise_cents=0.1)
    home = report.notes[0].home
    assert home is not None
    assert home.source is HomeSource.STRAIGHT
    assert 1200 * np.log2(home.hz / HZ) == pytest.approx(0.0, abs=2.0)
    assert report.take.notes[0].turns[0].time_s == pytest.approx(
        report.take.notes[0].onset_s + 0.55, abs=2 * TURN_TOLERANCE_S
    )
    assert len(report.cycles) == 10


def test_home_is_read_from_the_landing_when_there_is_no_start() -> None:
    report = report_of(waves(8, rate_hz=4.0, extent_cents=50.0), length_s=2.8)
    home = report.notes[0].home
    assert home is not None
    assert home.source is HomeSource.LANDING


def test_home_is_read_elsewhere_in_the_take_when_the_note_has_none() -> None:
    at_once = waves(10, rate_hz=4.0, extent_cents=50.0)
    notes = (NoteDescription(0.5, 1.2, HZ), NoteDescription(1.7, 2.5, HZ, knots=at_once))
    report = judge(heard_contour(TakeDescription("two", 4.6, notes)))
    home = report.notes[1].home
    assert home is not None
    assert home.source is HomeSource.ELSEWHERE
    assert home.error_cents > 1.0


def test_without_any_plain_note_nothing_is_said_of_home() -> None:
    report = report_of(waves(10, rate_hz=4.0, extent_cents=50.0), length_s=2.5)
    home = report.notes[0].home
    assert home is not None
    assert home.source is HomeSource.WAVES
    assert report.measures.return_to_pitch is None
    assert "plain note" in report.measures.declined["return_to_pitch"]


def test_what_the_player_says_of_home_wins() -> None:
    report = report_of(waves(8, rate_hz=4.0, extent_cents=50.0, start_s=0.9), length_s=3.5,
                       task=Task(technique=Technique.ROLL))  # fmt: skip
    home = report.notes[0].home
    assert home is not None
    assert home.place is Place.MIDDLE


def test_a_hole_in_the_sound_drops_its_wave_only() -> None:
    take = heard_contour(one_note("hole", waves(8, rate_hz=4.0, extent_cents=50.0, start_s=0.9),
                                  length_s=3.4, hz=HZ))  # fmt: skip
    contour = take.contour
    hz = np.array(contour.frequency_hz)
    hz[(contour.time_s > 2.0) & (contour.time_s < 2.05)] = np.nan
    broken = replace(contour, frequency_hz=hz)
    note = take.notes[0]
    home = find_home(note, task=Task())
    kept, dropped = pair_cycles(note, index=0, home=home, contour=broken)
    assert len(kept) == 7
    assert [wave.why for wave in dropped] == ["the sound breaks off inside it"]


def test_a_note_that_does_not_tell_its_home_is_counted_like_the_others() -> None:
    """Dips from a plain note, then on another fret from the pluck on: half a wave would be lost."""
    dips, at_once = (
        waves(12, rate_hz=4.0, extent_cents=40.0, start_s=start_s, place=Place.TOP)
        for start_s in (0.75, 0.0)
    )
    notes = (
        NoteDescription(0.3, 4.0, HZ, knots=dips),
        NoteDescription(4.3, 3.0, HZ * 2 ** (5 / 12), knots=at_once),
    )
    take = heard_contour(TakeDescription("two frets", 7.5, notes), noise_cents=0.1)
    report = judge(take, Task(tempo_bpm=60.0, cycles_per_beat=4))
    assert {wave.note for wave in report.cycles} == {0, 1}
    assert {wave.start.kind for wave in report.cycles} == {TurnKind.HIGH}
    assert report.measures.asynchrony is not None
    assert report.measures.asynchrony.value < 5.0


def test_pushes_and_dips_in_one_take_are_not_set_on_one_grid() -> None:
    """A push begins low and a dip begins high: on one grid they would seem half a wave apart."""
    pushes, dips = (
        waves(12, rate_hz=4.0, extent_cents=40.0, start_s=1.0, place=place)
        for place in (Place.BOTTOM, Place.TOP)
    )
    notes = (NoteDescription(0.3, 4.0, HZ, knots=pushes), NoteDescription(4.3, 4.0, HZ, knots=dips))
    take = heard_contour(TakeDescription("both", 8.5, notes), noise_cents=0.1)
    report = judge(take, Task(tempo_bpm=60.0, cycles_per_beat=4))
    assert {wave.start.kind for wave in report.cycles} == {TurnKind.LOW, TurnKind.HIGH}
    assert "half a wave apart" in report.measures.declined["asynchrony"]


@pytest.mark.parametrize(
    ("low", "high", "index"),
    # D = (P + V) / (P - V): up only 1, alike 0, down only -1, never home 1 + 2 V / E (algebra)
    [(0.0, 50.0, 1.0), (-25.0, 25.0, 0.0), (-50.0, 0.0, -1.0), (150.0, 200.0, 7.0)],
)
def test_direction_index(low: float, high: float, index: float) -> None:
    assert direction_index(np.full(4, low), np.full(4, high)) == pytest.approx(index)


def test_an_error_of_home_moves_direction_by_2e_over_extent() -> None:
    moved = direction_index(np.full(4, -5.0), np.full(4, 45.0))
    assert 1.0 - moved == pytest.approx(direction_error(50.0, home_error_cents=5.0))


# --- where a note ends, and where its plain note does -------------------------------------------


def test_what_a_room_still_sounds_is_no_part_of_the_note() -> None:
    take = heard_contour(one_note("room", waves(8, rate_hz=4.0, extent_cents=50.0, start_s=0.9),
                                  length_s=3.4, hz=HZ))  # fmt: skip
    contour = take.contour
    damped_s = 0.5 + 0.9 + 8 / 4.0 + 0.1  # a tenth of a second after the last wave came home
    tail = contour.time_s >= damped_s
    since_s = contour.time_s[tail] - damped_s
    hz, level_db = np.array(contour.frequency_hz), np.array(contour.level_db)
    hz[tail] *= 2.0 ** (12.0 * np.sin(2.0 * np.pi * 16.0 * since_s) / 1200.0)  # modes of a room
    level_db[tail] -= np.minimum(since_s / 0.03, 1.0) * 14.0 + 150.0 * since_s
    (note,) = notes_of(replace(contour, frequency_hz=hz, level_db=level_db))
    assert note.offset_s == pytest.approx(damped_s, abs=0.06)
    assert len(note.turns) == 17


def test_the_damping_before_the_next_pluck_does_not_move_the_last_turn() -> None:
    take = heard_contour(one_note("damped", waves(8, rate_hz=4.0, extent_cents=50.0, start_s=0.9),
                                  length_s=3.05, hz=HZ))  # fmt: skip
    contour, truth_s = take.contour, 0.5 + 0.9 + 8 / 4.0
    before_end_s = take.notes[0].offset_s - contour.time_s
    hz = np.array(contour.frequency_hz)
    damped = (before_end_s >= 0.0) & (before_end_s < 0.055)
    hz[damped] *= 2.0 ** (np.interp(before_end_s[damped], [0.02, 0.04, 0.055], [-9, 6, 0]) / 1200)
    (note,) = notes_of(replace(contour, frequency_hz=hz))
    assert note.turns[-1].time_s == pytest.approx(truth_s, abs=0.012)


def test_a_slow_wave_cut_off_is_no_plain_note() -> None:
    knots = waves(4, rate_hz=1.2, extent_cents=50.0, start_s=0.9, place=Place.TOP)
    (note,) = report_of(knots, length_s=0.9 + 3.1).take.notes
    assert note.turns[-1].kind is TurnKind.LOW
    assert len(note.plain_parts) == 1


@pytest.mark.parametrize("creep_cents", [-60.0, -25.0, 25.0, 60.0])
def test_a_plain_note_that_creeps_is_read_up_to_the_waves(creep_cents: float) -> None:
    creep = tuple((0.05 * i, creep_cents * (1.0 - i / 20.0)) for i in range(20))
    knots = joined(creep, waves(8, rate_hz=5.0, extent_cents=40.0, start_s=1.0))
    (note,) = report_of(knots, length_s=3.0).take.notes
    part = note.plain_parts[0]
    assert part.end_s == pytest.approx(0.5 + 1.0, abs=0.06)
    # the last 0.6 s before the waves are read: on average 0.3 s of creeping away from home
    middle = 1200.0 * np.log2(part.hz / HZ)
    assert middle == pytest.approx(0.3 * creep_cents, abs=0.06 * abs(creep_cents))


def test_a_push_that_pauses_on_the_way_leaves_the_plain_note_where_it_was() -> None:
    knots = ((0.0, 0.0), (0.6, 0.0), (0.95, 40.0), (1.15, 45.0), (1.5, 65.0), (1.7, 45.0),
             (2.05, 65.0), (2.25, 45.0), (2.6, 65.0), (2.8, 45.0))  # fmt: skip
    (note,) = report_of(knots, length_s=3.2).take.notes
    assert note.plain_parts[0].end_s == pytest.approx(0.5 + 0.6, abs=0.15)


def test_where_the_sound_fades_into_noise_no_turns_are_heard() -> None:
    rng = np.random.default_rng(3)
    take = heard_contour(one_note("faint", waves(6, rate_hz=2.0, extent_cents=30.0, start_s=0.9),
                                  length_s=5.0, hz=HZ))  # fmt: skip
    contour = take.contour
    error = np.interp(contour.time_s, [4.0, 4.6], [0.3, 8.0])
    noise = np.convolve(rng.normal(size=contour.time_s.size), np.hanning(9), mode="same") / 1.7
    hz = contour.frequency_hz * 2.0 ** (error * noise / 1200.0)
    faint = replace(contour, frequency_hz=hz, error_cents=np.where(contour.voiced, error, np.nan))
    (note,) = notes_of(faint)
    assert len(note.turns) == 13
