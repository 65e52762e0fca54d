"""The demo folder holds what its catalogue says, and can be made again."""

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import parselmouth
import pytest
import soundfile

from labcore.model import Floats, Note, Take, TurnKind
from labcore.synthesis import from_dict, synthesise
from labcore.synthesis.take import true_note
from labcore.units import cents_between

FOLDER = Path(__file__).parents[2] / "data_demo"
LARGEST_FOLDER_BYTES = 4_000_000
ONE_STEP = 1.01 / 32768  # another machine's sine may round one 16-bit step otherwise


def load_maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_takes", FOLDER / "make_takes.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_takes"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


MAKER = load_maker()
ROWS: list[dict[str, Any]] = json.loads((FOLDER / "takes.json").read_text(encoding="utf-8"))
BY_NAME = {row["name"]: row for row in ROWS}


def truth_of(name: str) -> Take:
    truth = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    description = from_dict(truth["description"])
    return synthesise(description, rng=np.random.default_rng(truth["seed"]))[1]


def notes_of(name: str) -> tuple[Note, ...]:
    truth = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    return tuple(true_note(note) for note in from_dict(truth["description"]).notes)


def lows_cents(note: Note) -> Floats:
    """Where the waves of a note come back to, above its plain note; home at the bottom."""
    plain_hz = note.plain_parts[0].hz
    lows = [turn.hz for turn in note.turns if turn.kind is TurnKind.LOW]
    return cents_between(np.array(lows[1:]), plain_hz)


def widths_cents(note: Note) -> Floats:
    """Peak to peak, from every inner turn to the mean of its neighbours."""
    cents = cents_between(np.array([turn.hz for turn in note.turns]), note.turns[0].hz)
    return np.abs(cents[1:-1] - (cents[:-2] + cents[2:]) / 2)[::2]


def lengths_s(note: Note, kind: TurnKind = TurnKind.LOW) -> Floats:
    return np.diff([turn.time_s for turn in note.turns if turn.kind is kind])


def spread_percent(values: Floats) -> float:
    return float(100 * np.std(values, ddof=1) / np.mean(values))


def test_the_catalogue_is_the_maker_s_and_every_file_is_there() -> None:
    assert [take.row() for take in MAKER.demo_takes()] == ROWS
    assert len(ROWS) >= 30
    for row in ROWS:
        assert (FOLDER / row["file"]).is_file(), row["file"]
        assert (FOLDER / row["truth"]).is_file(), row["truth"]
    made = {path.name for path in FOLDER.glob("*.flac")}
    assert made == {row["file"] for row in ROWS}


def test_the_folder_stays_small() -> None:
    size = sum(path.stat().st_size for path in FOLDER.iterdir() if path.is_file())
    assert 0 < size < LARGEST_FOLDER_BYTES


def test_the_catalogue_covers_the_kinds_and_names_only_benches() -> None:
    wanted = {kind for row in ROWS for kind in row["must_find"]}
    assert wanted == set(MAKER.KINDS)
    assert {row["group"] for row in ROWS} == {"example", "fault", "fair", "cannot judge", "log"}
    players = {row["player"] for row in ROWS}
    assert players == {f"bench {seat}" for seat in range(1, 9)} | {"front desk"}
    for row in ROWS:
        assert not set(row["must_find"]) & set(row["must_not_fault"])


@pytest.mark.parametrize("name", ["bench2_too_short", "bench6_day1"])
def test_a_take_made_again_is_the_one_in_the_folder(name: str) -> None:
    (take,) = (take for take in MAKER.demo_takes() if take.name == name)
    stored, rate_hz = soundfile.read(FOLDER / f"{name}.flac", dtype="float64")
    assert rate_hz == MAKER.SAMPLE_RATE_HZ
    made = MAKER.sound_of(take).samples
    assert made.shape == stored.shape
    assert np.max(np.abs(made - stored)) <= ONE_STEP


@pytest.mark.slow
def test_every_take_made_again_is_the_one_in_the_folder() -> None:
    for take in MAKER.demo_takes():
        stored, _ = soundfile.read(FOLDER / f"{take.name}.flac", dtype="float64")
        assert np.max(np.abs(MAKER.sound_of(take).samples - stored)) <= ONE_STEP, take.name


@pytest.mark.parametrize("name", ["desk_triplets", "desk_circle", "bench3_triplets_for_sixteenths"])
def test_a_faultless_take_is_human_and_inside_every_band(name: str) -> None:
    notes = notes_of(name)
    home = np.concatenate([lows_cents(note) for note in notes])
    assert home.size >= 24
    assert np.max(np.abs(home)) <= 4.0
    times = np.concatenate([lengths_s(note) for note in notes])
    widths = np.concatenate([widths_cents(note) for note in notes])
    assert 1.5 < spread_percent(times) < 5.0
    assert 2.5 < spread_percent(widths) < 7.0


def test_the_ladder_holds_five_note_values_of_two_bars() -> None:
    beat_s = 60 / 72
    notes = notes_of("desk_ladder")
    played = [beat_s / float(np.mean(lengths_s(note))) for note in notes]
    assert played == pytest.approx([2, 2, 3, 3, 4, 4, 5, 5, 6, 6], rel=0.02)


def test_the_faults_are_larger_than_twice_their_bands() -> None:
    """Bands between "nearly" and "work on this": 20 cents, 20 %, 10 %, 4 %."""
    short = np.concatenate([lows_cents(note) for note in notes_of("bench1_stops_short")])
    assert np.median(short) > 2 * 20.0
    uneven = np.concatenate([widths_cents(note) for note in notes_of("bench4_uneven_width")])
    assert spread_percent(uneven) > 2 * 20.0
    hurry = np.concatenate([lengths_s(note) for note in notes_of("bench5_hurry_and_wait")])
    assert spread_percent(hurry) > 2 * 10.0
    ahead = np.concatenate([lengths_s(note) for note in notes_of("bench5_runs_ahead")])
    assert 100 * (60 / 72 / 3 / float(np.mean(ahead)) - 1) > 2 * 4.0
    fast = np.concatenate([lengths_s(note) for note in notes_of("bench3_nervous")])
    assert 60 / 72 / float(np.mean(fast)) == pytest.approx(6.0, rel=0.03)


def test_pushing_both_ways_gives_two_waves_a_swing_and_unequal_tops() -> None:
    note = notes_of("bench2_both_ways")[0]
    tops = [turn.hz for turn in note.turns if turn.kind is TurnKind.HIGH]
    cents = cents_between(np.array(tops), note.plain_parts[0].hz)
    assert len(tops) == 12  # three beats, two swings a beat, two waves a swing
    assert np.all(cents[0::2] > 2 * cents[1::2])
    assert np.min(lows_cents(note)) >= -0.01


def test_fair_takes_come_home_to_where_their_home_is() -> None:
    for name, kind in (("desk_held_bend", TurnKind.HIGH), ("desk_arm_dips", TurnKind.HIGH)):
        for note in notes_of(name):
            home_hz = note.plain_parts[-1].hz
            tops = [turn.hz for turn in note.turns if turn.kind is kind]
            assert np.max(np.abs(cents_between(np.array(tops[-6:]), home_hz))) < 4.0, name


def test_two_weeks_at_bench_six_get_better() -> None:
    days = [row["name"] for row in ROWS if row["group"] == "log"]
    assert len(days) >= 6
    medians = [np.median(np.concatenate([lows_cents(n) for n in notes_of(d)])) for d in days]
    assert medians[0] > 30.0
    assert medians[-1] < 5.0
    assert np.all(np.diff(medians) < 2.0)
    assert [BY_NAME[day]["date"] for day in days] == sorted(BY_NAME[day]["date"] for day in days)


@pytest.mark.slow
def test_an_independent_tracker_hears_the_triplets_in_the_file() -> None:
    samples, rate_hz = soundfile.read(FOLDER / "desk_triplets.flac")
    sound = parselmouth.Sound(samples, rate_hz)
    pitch = sound.to_pitch_ac(0.005, 200.0, pitch_ceiling=450.0)
    contour = truth_of("desk_triplets").contour
    heard_hz = pitch.selected_array["frequency"]
    true_hz = np.interp(pitch.xs(), contour.time_s, contour.frequency_hz)
    good = (heard_hz > 0) & np.isfinite(true_hz)
    assert good.sum() > 2000
    off = cents_between(heard_hz[good], true_hz[good])
    assert np.percentile(np.abs(off - np.median(off)), 90) < 3.0
