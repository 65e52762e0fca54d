"""The panels of the beat: what a reader chooses is what is drawn, heard and taken away."""

import io
from itertools import pairwise
from typing import Any

import mido
import numpy as np
import pytest
import soundfile

from labcore.beats import NOTE_VALUES
from labcore.figures.beat import BAR_BEATS, beat_figure, beat_words, trap_figure, trap_words
from labcore.handout.page import tile_svg
from labcore.panels.beat_panel import (
    AWAY,
    CLICK_ONLY,
    ONE,
    SURPRISE,
    WITH_GUIDE,
    TrackPanel,
    TrackWish,
    beat_panel,
    score_bars,
    tempo_controls,
)
from labcore.panels.beat_widgets import TakeAways

LOUDEST = 10 ** (-18 / 20)  # the set level of a track, re full scale


class Sent:
    """Collects what a widget would send to the page."""

    def __init__(self, widget: Any) -> None:
        self.messages: list[tuple[dict[str, Any], list[bytes]]] = []
        widget.send = lambda content, buffers=None: self.messages.append((content, buffers or []))


def taken(files: TakeAways, button: int) -> tuple[dict[str, Any], bytes]:
    sent = Sent(files)
    files._answer(None, button, [])
    ((content, buffers),) = sent.messages
    return content, buffers[0]


@pytest.mark.parametrize("played", [2, 3, 4, 5, 6])
def test_even_waves_fit_the_grids_that_are_multiples_and_no_other(played: int) -> None:
    """Closed form: the mean resultant of k even moments on a grid of g is 1 if k divides g."""
    words = [note.text for note in trap_figure(played).layout.annotations]
    for grid in (2, 3, 4, 5, 6):
        place = words.index(f"{grid} to the click")
        assert words[place + 1] == ("fit 100 %" if grid % played == 0 else "fit 0 %")
    assert str(played) in trap_words(played)


def test_the_bar_has_its_syllables_and_its_line_of_time() -> None:
    figure = beat_figure(72, cycles_per_beat=5)
    words = [note.text for note in figure.layout.annotations]
    assert words.count("home") == BAR_BEATS - 1
    (row,) = figure.layout.meta["rows"]
    assert row["end_s"] == pytest.approx(BAR_BEATS * 60 / 72)


@pytest.mark.parametrize(
    ("tempo_bpm", "value", "said"),
    [(72, 3, "3.6 waves a second, 278 ms"), (60, 6, "at the edge"), (120, 6, "faster than one")],
)
def test_a_speed_is_said_with_what_it_asks(tempo_bpm: float, value: int, said: str) -> None:
    assert said in beat_words(tempo_bpm, cycles_per_beat=value)
    assert NOTE_VALUES[value] in beat_words(tempo_bpm, cycles_per_beat=value)


def test_a_tapped_tempo_moves_the_slider_and_stays_in_range() -> None:
    slider, tap = tempo_controls(72.0)
    tap.tempo_bpm = 90.4
    assert slider.value == 90.0
    tap.tempo_bpm = 400.0
    assert slider.value == slider.high


def test_the_beat_panel_follows_its_controls() -> None:
    panel = beat_panel()
    tempo, value, picture = panel.children[0].children[0], panel.children[1], panel.children[2]
    value.value = "4"
    tempo.value = 60.0
    assert "4.0 waves a second" in picture.words


def test_a_track_is_what_was_chosen() -> None:
    panel = TrackPanel()
    assert panel.track.plan.note_values == (2, 2, 3, 3, 4, 4)
    panel.kind.value = ONE
    panel.value.value = "5"
    panel.bars_each.value = "1"
    panel.away.value = AWAY
    assert panel.track.plan.note_values == (5, 5, 5, 5)
    assert [bar.clicked for bar in panel.track.bars] == [True] * 4 + [False] * 2
    assert panel.highest.layout.display == "none"
    assert "Say: row-the-boat-back-home" in panel.status.text
    assert "no click" in panel.score.words


def test_string_and_fret_are_asked_only_where_a_guide_note_sounds() -> None:
    panel = TrackPanel()
    for guide, display in ((CLICK_ONLY, "none"), (WITH_GUIDE, None)):
        panel.guide.value = guide
        assert [c.layout.display for c in (panel.string, panel.fret)] == [display, display]


def test_surprises_differ_and_never_repeat_a_value_running() -> None:
    panel = TrackPanel(wish=TrackWish(kind=SURPRISE, bars_each=1))
    first = panel.wish.note_values
    assert all(before != after for before, after in pairwise(first))
    panel.fret.value = 7
    assert panel.wish.note_values == first
    panel.again._handle_custom_msg("press", [])
    assert panel.wish.note_values != first


def test_the_sound_taken_away_is_quiet_and_as_long_as_its_bars() -> None:
    panel = TrackPanel(wish=TrackWish(kind=ONE, value=3, bars_each=1, clap_bars=0))
    content, data = taken(panel.files, 0)
    assert content["name"] == "3-to-the-click-at-72.wav"
    samples, rate = soundfile.read(io.BytesIO(data))
    assert np.max(np.abs(samples)) <= LOUDEST + 1e-3
    assert samples.size / rate == pytest.approx(5 * 4 * 60 / 72, abs=0.6)


def test_the_notes_taken_away_are_a_midi_file_of_that_tempo() -> None:
    panel = TrackPanel()
    panel.tempo.value = 60.0
    content, data = taken(panel.files, 1)
    assert content["name"].endswith(".mid")
    midi = mido.MidiFile(file=io.BytesIO(data))
    tempos = [message.tempo for message in midi if message.type == "set_tempo"]
    assert [mido.tempo2bpm(tempo) for tempo in tempos] == pytest.approx([60.0])


def test_a_file_that_cannot_be_made_is_said_so() -> None:
    panel = TrackPanel()
    panel.wish = TrackWish(fret=99)
    sent = Sent(panel.files)
    panel.files._answer(None, 1, [])
    assert "fret is 99" in sent.messages[0][0]["problem"]


def test_the_score_covers_the_whole_track_without_a_gap() -> None:
    plan = TrackWish(clap_bars=2, away=AWAY).plan
    spans = [span for bar in score_bars(plan) for span in bar.spans]
    starts = [start for start, _ in spans]
    assert starts == pytest.approx([k * plan.bar_s for k in range(len(spans))])
    assert len(spans) == 1 + 2 + len(plan.note_values)


def test_tiles_of_the_score_are_the_engraved_bars() -> None:
    bars = score_bars(TrackWish(kind=ONE, value=6).plan)
    assert bars[-1].svg == tile_svg(6)
    assert bars[0].svg == ""
    assert bars[0].count.split() == ["1", "2", "3", "4"]


# --- engraving -----------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("waves", [1, 2, 3, 4, 5, 6])
def test_the_engraved_bar_adds_up_and_its_waves_fall_on_the_grid(waves: int) -> None:
    """The engraver itself plays the bar: a plain beat, then even waves to the bar's end."""
    verovio = pytest.importorskip("verovio", reason="verovio is in the extra [engrave]")
    from labcore.handout.tiles.make_tiles import bar_mei

    toolkit = verovio.toolkit()
    toolkit.loadData(bar_mei(waves))
    events = toolkit.renderToTimemap({"includeMeasures": False})
    starts = sorted({event["qstamp"] for event in events if event.get("on")})
    ends = {event["qstamp"] for event in events if event.get("off")}
    expected = [0.0, *(1.0 + np.arange(3 * waves) / waves)]
    assert starts == pytest.approx(expected, abs=2e-3)
    assert max(ends) == pytest.approx(BAR_BEATS, abs=2e-3)
