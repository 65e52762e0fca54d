"""The melodies add up, move only where they are told to, and are engraved as they are played."""

import re

import numpy as np
import pytest

from labcore.errors import LabError
from labcore.exercises.engraved import melody_svg
from labcore.exercises.melodies import (
    AT_ONCE,
    GROWING,
    LATE,
    MELODIES,
    Melody,
    Shake,
    melody_named,
    melody_take,
    note_spans,
    shaken_at,
    shaken_everywhere,
)
from labcore.synthesis import synthesise

each_melody = pytest.mark.parametrize("melody", MELODIES, ids=lambda melody: melody.name)


@each_melody
def test_bars_are_full_and_no_note_crosses_a_bar_line(melody: Melody) -> None:
    total = sum(note.beats for note in melody.notes)
    assert total % melody.beats_per_bar == 0
    for start, note in zip(melody.starts, melody.notes, strict=True):
        assert start % melody.beats_per_bar + note.beats <= melody.beats_per_bar


@each_melody
def test_we_let_only_long_notes_move_and_always_the_last(melody: Melody) -> None:
    assert max(melody.sounding) in melody.chosen
    assert all(melody.notes[place].beats >= 2 for place in melody.chosen)
    assert len(melody.chosen) < len(melody.sounding) / 2


@each_melody
def test_a_note_has_waves_where_it_was_told_to_and_nowhere_else(melody: Melody) -> None:
    _, take = synthesise(melody_take(melody, shaken=melody.chosen), rng=np.random.default_rng(1))
    moving = {place for place, note in zip(melody.sounding, take.notes, strict=True) if note.turns}
    assert moving == set(melody.chosen)
    _, plain = synthesise(melody_take(melody), rng=np.random.default_rng(1))
    assert not any(note.turns for note in plain.notes)


@each_melody
def test_notes_begin_when_the_tempo_says(melody: Melody) -> None:
    spans = note_spans(melody)
    take = melody_take(melody)
    step_s = 60.0 / melody.tempo_bpm
    for place, note in zip(melody.sounding, take.notes, strict=True):
        assert note.onset_s == pytest.approx(spans[0][0] + melody.starts[place] * step_s, abs=1e-5)
        assert note.offset_s < spans[place][1]


@pytest.mark.parametrize("shake", [AT_ONCE, LATE, GROWING])
def test_a_shake_ends_before_its_note_and_is_as_wide_as_it_says(shake: Shake) -> None:
    knots = np.array(shake.knots(3.0))
    assert knots[-1, 0] < 3.0
    assert knots[0, 0] == pytest.approx(3.0 * shake.plain_share)
    assert knots[:, 1].max() == pytest.approx(shake.to_cents)
    assert np.diff(knots[::2, 0]) == pytest.approx(1.0 / shake.rate_hz, abs=1e-5)


def test_a_short_note_stays_plain() -> None:
    assert AT_ONCE.knots(0.4) == ()
    rain = melody_named("rain")
    assert set(shaken_at(rain, places=range(15))) == set(shaken_everywhere(rain))
    assert all(rain.notes[place].beats >= 1 for place in shaken_everywhere(rain))


def test_where_a_late_start_has_no_room_it_begins_at_once() -> None:
    evening = melody_named("evening")
    shaken = shaken_at(evening, places=[0, 3], shake=LATE)
    assert shaken == {0: AT_ONCE, 3: LATE}


def test_an_unknown_melody_is_refused() -> None:
    with pytest.raises(LabError, match="evening"):
        melody_named("storm")


# --- engraving -------------------------------------------------------------------------------


@each_melody
def test_every_note_can_be_found_in_its_picture(melody: Melody) -> None:
    places = [int(k) for k in re.findall(r'data-note="(\d+)"', melody_svg(melody.name))]
    assert places == list(range(len(melody.notes)))


@pytest.mark.slow
@each_melody
def test_the_picture_is_engraved_from_the_melody_and_its_lengths_add_up(melody: Melody) -> None:
    """The engraver plays its own picture: starts and ends in beats, and pitches as MIDI numbers."""
    verovio = pytest.importorskip("verovio", reason="the engraver is a development tool")
    from labcore.exercises.engraved.make_melodies import engraved, melody_mei

    toolkit = verovio.toolkit()
    toolkit.loadData(melody_mei(melody))
    events = toolkit.renderToTimemap({})
    starts = {key: event["qstamp"] for event in events for key in event.get("on", [])}
    ends = {key: event["qstamp"] for event in events for key in event.get("off", [])}
    for place in melody.sounding:
        key = f"place-{place}"
        assert starts[key] == pytest.approx(melody.starts[place], abs=1e-3)
        assert ends[key] - starts[key] == pytest.approx(melody.notes[place].beats, abs=1e-3)
        assert toolkit.getMIDIValuesForElement(key)["pitch"] == melody.notes[place].number

    def notes(svg: str) -> list[tuple[str, str]]:
        return re.findall(rf'#({melody.name}-\w+)"|data-note="(\d+)"', svg)

    assert notes(engraved(melody)) == notes(melody_svg(melody.name))
