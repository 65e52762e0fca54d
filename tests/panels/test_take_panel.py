"""The take panel: one state, one way to change it, and nothing lost."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from html import unescape

import ipywidgets
import numpy as np
import pytest

from labcore.analysis import hear
from labcore.audio import wav_bytes
from labcore.errors import LabError
from labcore.model import Finding, Place, Recording, Report, Take, Technique, Verdict
from labcore.panels import holding, take_panel, take_state
from labcore.panels.controls import DIMMED, Choice, Slider, TextBox
from labcore.panels.demo import DemoTake, demo_takes
from labcore.panels.hearing import CLICKED, HEARINGS, HOMECOMING, TWICE, WIDTH
from labcore.panels.player import PLAY
from labcore.panels.take_extras import take_extras
from labcore.panels.take_panel import PanelExtras, TakePanel
from labcore.panels.take_state import BeatFrom, Guess, PanelState, judged
from tests.test_clicks import even, played, with_clicks

OpenPanel = Callable[..., TakePanel]
# Words of our trade that a player never meets on a lesson's screen.
UNSAID = re.compile(r"\b(cursor|kernel|cell|notebook|beginner|nan|none)\b", re.IGNORECASE)


def widgets_in(widget: ipywidgets.Widget) -> Iterator[ipywidgets.Widget]:
    yield widget
    for child in getattr(widget, "children", ()):
        yield from widgets_in(child)


def screen(panel: TakePanel) -> str:
    """All text a player can read in the panel."""
    assert panel.picture is not None
    html = " ".join(w.value for w in widgets_in(panel) if isinstance(w, ipywidgets.HTML))
    return f"{panel.status.text} {panel.picture.words} {unescape(re.sub('<[^>]+>', ' ', html))}"


# --- the state ----------------------------------------------------------------------------------


def test_it_opens_without_a_click_and_asks_nothing_of_the_beat(open_panel: OpenPanel) -> None:
    panel = open_panel()
    assert not panel.state.with_click
    assert panel.state.task.tempo_bpm is None
    assert panel.picture is not None
    assert "free playing, no click" in panel.picture.words


def test_each_bar_may_be_heard_over_and_over(open_panel: OpenPanel) -> None:
    panel = open_panel()
    panel.controls.with_click.value = "with a click"
    assert panel.player.stretch_labels[:2] == ["bar 1", "bar 2"]
    assert panel.player.stretch_s[0][1] == panel.player.stretch_s[1][0]


def test_a_moved_slider_judges_again_and_does_not_hear_again(
    open_panel: OpenPanel, hearings: list[str]
) -> None:
    panel = open_panel()
    assert hearings == ["bench 1"]
    panel.controls.with_click.value = "with a click"
    assert panel.picture is not None
    before = panel.picture.figure_json
    panel.controls.tempo.value = 80.0
    assert hearings == ["bench 1"]
    assert panel.picture.figure_json != before
    assert "bars at 80" in panel.picture.words


def test_the_same_choice_again_does_nothing(
    open_panel: OpenPanel, monkeypatch: pytest.MonkeyPatch
) -> None:
    panel = open_panel()
    calls: list[PanelState] = []
    monkeypatch.setattr(take_panel, "shown", calls.append)
    panel.change(lambda state: replace(state, tempo_bpm=state.tempo_bpm))
    assert calls == []


def test_words_appear_only_after_the_guess(open_panel: OpenPanel) -> None:
    panel = open_panel()
    assert "come home" not in screen(panel).lower()
    panel.controls.guess.value = "most"
    said = screen(panel)
    assert "Your guess was “most”: 0 of" in said
    assert "on the way home" in said
    assert "Listen:" in said


def test_a_guess_is_asked_once_for_each_take(
    open_panel: OpenPanel, short_of_home: tuple[DemoTake, Recording, Take]
) -> None:
    panel = open_panel()
    panel.controls.guess.value = "few"
    panel.open_file("mine.wav", wav_bytes(short_of_home[1]))
    assert panel._seen is not None
    assert panel._seen.ask_guess  # this one was not guessed yet
    panel.choose(short_of_home[0].words)
    assert not panel._seen.ask_guess
    assert "Your guess was “few”" in screen(panel)
    panel.open_file("mine.wav", wav_bytes(short_of_home[1]))
    panel.controls.guess.value = "all"
    panel.open_file("mine.wav", wav_bytes(short_of_home[1]))
    assert panel._seen.ask_guess  # the same name, but another take


def test_what_is_said_of_the_old_take_is_dimmed_while_the_next_is_heard(
    open_panel: OpenPanel,
    short_of_home: tuple[DemoTake, Recording, Take],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    panel = open_panel()
    old = [panel._words, panel._picture_place, *panel._after_guess]
    dimmed: list[bool] = []

    def hear(recording: Recording, *, clicks: object = None) -> Take:
        dimmed.extend(DIMMED in part._dom_classes for part in old)
        return short_of_home[2]

    monkeypatch.setattr(take_panel, "hear", hear)
    panel.open_file("mine.wav", wav_bytes(short_of_home[1]))
    assert dimmed == [True] * len(old)
    panel.open_file("notes.txt", b"not a sound at all, and longer than a header")
    assert not any(DIMMED in part._dom_classes for part in old)


def test_all_choices_reach_the_task(open_panel: OpenPanel) -> None:
    panel = open_panel()
    controls = panel.controls
    controls.with_click.value = "with a click"
    controls.note_value.value = "4"
    controls.tempo.value = 90.0
    controls.beat_from.value = str(BeatFrom.GIVEN)
    controls.beat_one.value = 1.25
    controls.technique.value = "roll"
    controls.home.value = "in the middle: I go round it"
    controls.string.value, controls.fret.value, controls.finger.value = "2", "12", "1"
    task = panel.state.task
    assert (task.tempo_bpm, task.cycles_per_beat, task.beat_origin_s) == (90.0, 4, 1.25)
    assert (task.technique, task.home) == (Technique.ROLL, Place.MIDDLE)
    context = panel.state.context
    assert (context.string, context.fret, context.finger) == (2, 12, 1)
    controls.with_click.value = "none"
    assert panel.state.task.tempo_bpm is None


def test_a_heard_click_is_offered_with_its_half_and_double(open_panel: OpenPanel) -> None:
    panel = open_panel()
    assert panel.controls.heard.options == ["72", "double: 144", "half: 36"]  # likeliest first
    panel.controls.with_click.value = "with a click"
    panel.controls.heard.value = "half: 36"
    assert panel.state.tempo_bpm == 36.0


def test_an_accented_click_says_how_many_beats_are_in_a_bar(
    open_panel: OpenPanel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(take_panel, "hear", hear)  # the panel of these tests hears a demo otherwise
    waltz, _ = with_clicks(
        played(100.0, seconds=14.0, bar_beats=16, seed=12), even(100.0, last_s=13.8),
        sound="wood block", level_db=-6.0, accent=3,
    )  # fmt: skip
    panel = open_panel()
    assert panel.controls.bar.value == "4"
    panel.open_file("waltz.wav", wav_bytes(waltz))
    assert panel.controls.bar.value == "3"
    assert panel.state.beats_per_bar == 3


def test_the_beat_read_from_the_waves_has_no_early_or_late(open_panel: OpenPanel) -> None:
    panel = open_panel()
    panel.controls.with_click.value = "with a click"
    panel.controls.beat_from.value = str(BeatFrom.WAVES)
    report = judged(panel.state)
    assert report is not None
    assert report.measures.offset is None


def test_the_teacher_chooses_what_comes_first_and_may_say_it_otherwise(
    open_panel: OpenPanel,
) -> None:
    panel = open_panel()
    panel.controls.guess.value = str(Guess.TELL)
    plain = next(s for s in panel.controls.first.options if s.startswith("Your plain note"))
    panel.controls.first.value = plain
    panel.controls.own_words.value = "Your plain note is <b>warm</b>."
    assert "(the teacher's words)" in screen(panel)
    assert "&lt;b&gt;warm" in panel._words.value
    panel.controls.own_words.value = ""
    assert panel.state.overruled == ()


def test_another_take_is_laid_over_and_taken_away(open_panel: OpenPanel) -> None:
    panel = open_panel()
    assert panel.picture is not None
    bare = panel.picture.figure_json
    panel.controls.model.value = panel.controls.model.options[1]
    assert panel.picture.figure_json != bare
    assert "the dashed line is bench 1" in panel.picture.words
    assert panel._teacher_says.text.endswith("is the dashed line.")
    panel.controls.model.value = "nothing"
    assert panel.picture.figure_json == bare


def test_a_take_that_cannot_be_judged_asks_for_no_guess_and_gives_no_numbers(
    open_panel: OpenPanel, short_of_home: tuple[DemoTake, Recording, Take]
) -> None:
    panel = open_panel()
    one_wave = replace(short_of_home[2].notes[0], turns=short_of_home[2].notes[0].turns[:3])
    short = replace(short_of_home[2], notes=(one_wave,))
    panel.change(lambda state: replace(state, take=short))
    assert panel.controls.guess.layout.display == "none"
    assert "cents" not in panel._words.value
    assert "Heard, not judged" in screen(panel)


# --- what goes wrong ----------------------------------------------------------------------------


def test_a_file_that_is_no_sound_becomes_a_sentence_and_the_take_stays(
    open_panel: OpenPanel,
) -> None:
    panel = open_panel()
    before = panel.state
    panel.open_file("notes.txt", b"dear diary, today I practised")
    assert panel.status.problem
    assert "“notes” is text, not sound" in panel.status.text
    assert "WAV" in panel.status.text
    assert panel.state is before


def test_a_path_that_is_not_there_becomes_a_sentence(open_panel: OpenPanel) -> None:
    panel = open_panel()
    before = panel.status.text
    panel.controls.path.value = "no/such/take.wav"
    assert panel._path_says.problem  # beside the box, not far above it
    assert "no file" in panel._path_says.text
    assert panel.status.text == before


def test_a_part_that_is_no_number_becomes_a_sentence(open_panel: OpenPanel) -> None:
    panel = open_panel()
    panel.controls.start.value = "the middle"
    panel.open_file("take.wav", b"RIFF")
    assert "“the middle” is not a number of seconds" in panel.status.text


def test_an_unforeseen_error_is_said_plainly_and_nothing_is_lost(
    open_panel: OpenPanel, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    panel = open_panel()
    before = panel.state

    def broken(state: PanelState) -> None:
        raise ZeroDivisionError("a test")

    monkeypatch.setattr(take_panel, "shown", broken)
    panel.controls.with_click.value = "with a click"
    assert panel.status.problem
    assert "should not (ZeroDivisionError: a test)" in panel.status.text
    assert panel.state is before
    assert panel.controls.with_click.value == "none"
    assert "unexpected" in caplog.text


def test_a_good_take_after_a_bad_one_clears_the_problem(
    open_panel: OpenPanel, short_of_home: tuple[DemoTake, Recording, Take]
) -> None:
    panel = open_panel()
    panel.open_file("notes.txt", b"text")
    panel.open_file("mine.wav", wav_bytes(short_of_home[1]))
    assert not panel.status.problem
    assert panel.state.name == "your take: mine"
    assert panel.controls.take.value == "your take: mine"
    panel.choose(panel.controls.take.options[0])
    assert panel.state.name == short_of_home[0].words


# --- sound --------------------------------------------------------------------------------------


def test_the_take_can_be_played_bar_by_bar(open_panel: OpenPanel) -> None:
    panel = open_panel()
    panel.controls.with_click.value = "with a click"
    assert panel.player.labels == [PLAY]
    assert panel.player.sounds[0][:4] == b"RIFF"
    assert panel.player.stretch_labels == ["bar 1", "bar 2", "bar 3", "bar 4"]
    bar_s = np.diff(panel.player.stretch_s, axis=1).ravel()
    assert bar_s == pytest.approx(4 * 60.0 / 72.0, abs=0.01)
    assert panel.picture is not None
    assert panel.picture.player == panel.player.voice


def test_another_sound_is_made_when_asked_for_and_stands_in_the_player(
    open_panel: OpenPanel,
) -> None:
    made: list[Report] = []

    def quieter(recording: Recording, report: Report) -> Recording:
        made.append(report)
        return recording

    panel = open_panel(extras=PanelExtras(sounds={"the same": quieter}))
    assert made == []
    panel._add_sound("the same", quieter)
    assert panel.player.labels == [PLAY, "the same"]
    assert len(made) == 1


def test_a_sound_made_to_another_tempo_is_taken_away(open_panel: OpenPanel) -> None:
    panel = open_panel(extras=PanelExtras(sounds={"the same": lambda recording, report: recording}))
    panel.controls.with_click.value = "with a click"
    panel._add_sound("the same", lambda recording, report: recording)
    panel.controls.guess.value = "few"
    assert panel.player.labels == [PLAY, "the same"]  # a guess changes no sound
    panel.controls.tempo.value = 90.0
    assert panel.player.labels == [PLAY]
    assert panel._more_sounds[0].layout.display is None


def test_answers_stand_beside_the_button_that_was_pressed(open_panel: OpenPanel) -> None:
    def refuse(recording: Recording, report: Report) -> Recording:
        raise LabError("Nothing to mend here.")

    def keep(recording: Recording, report: Report) -> str:
        return "Kept."

    panel = open_panel(extras=PanelExtras(sounds={"mended": refuse}, keep={"keep": keep}))
    above = panel.status.text
    panel._add_sound("mended", refuse)
    assert (panel._sound_says.text, panel._sound_says.problem) == ("Nothing to mend here.", True)
    panel._keep_it(keep)
    assert (panel._keep_says.text, panel._keep_says.problem) == ("Kept.", False)
    assert panel.status.text == above
    panel.choose(panel.controls.take.options[0])
    assert panel._sound_says.text == panel._keep_says.text == ""


def test_a_take_with_two_strings_offers_no_mending_and_nothing_to_keep(
    open_panel: OpenPanel, monkeypatch: pytest.MonkeyPatch
) -> None:
    panel = open_panel(extras=take_extras())
    panel.controls.guess.value = "few"

    def offered() -> list[str]:
        return [b.label for b in panel._more_sounds if b.layout.display is None]

    assert offered() == [HOMECOMING, WIDTH, TWICE]  # without a click none can be set to it
    panel.controls.with_click.value = "with a click"
    assert offered() == list(HEARINGS)
    gate = Finding("two_strings", Verdict.NOT_ENOUGH, "Two strings ring.", "both were heard")
    monkeypatch.setattr(
        take_state, "judged", lambda state: replace(judged(state), findings=(gate,))
    )
    panel.controls.tempo.value = 73.0
    assert offered() == [CLICKED]
    assert [button.layout.display for button in panel._keeps] == ["none", "none"]
    panel.controls.with_click.value = "none"
    assert offered() == []
    assert panel._sounds_fold.layout.display == "none"


def test_what_is_folded_away_is_made_only_when_it_is_opened(open_panel: OpenPanel) -> None:
    made: list[Report] = []

    def slow(report: Report) -> str:
        made.append(report)
        return "<p>3 mm</p>"

    panel = open_panel(extras=PanelExtras(folds={"in millimetres": slow}))
    panel.controls.guess.value = "most"
    assert made == []
    panel._added["in millimetres"].children[0].is_open = True
    assert "3 mm" in screen(panel)
    panel.controls.with_click.value = "with a click"
    assert len(made) == 2


def test_takes_opened_longest_ago_make_room_and_it_is_said(
    open_panel: OpenPanel,
    short_of_home: tuple[DemoTake, Recording, Take],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    recording = short_of_home[1]
    monkeypatch.setattr(holding, "HELD_SAMPLES", int(3.5 * recording.samples.size))
    panel = open_panel()
    for number in range(6):
        panel.open_recording(replace(recording, name=f"take {number}"))
        assert len(panel._open) <= 3
    assert "“your take: take 2” made room in the list" in panel.status.text
    listed = panel.controls.take.options
    assert [words for words in listed if "your take" in words] == [
        f"your take: take {number}" for number in (3, 4, 5)
    ]
    panel.choose(short_of_home[0].words)  # a demo take is heard again
    assert panel.state.name == short_of_home[0].words
    assert panel.status.problem is False


def test_the_take_laid_over_another_makes_no_room(
    open_panel: OpenPanel,
    short_of_home: tuple[DemoTake, Recording, Take],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(holding, "HELD_SAMPLES", 1)
    panel = open_panel()
    panel.change(lambda s: replace(s, model=short_of_home[2], model_name=short_of_home[0].words))
    for number in range(3):
        panel.open_recording(replace(short_of_home[1], name=f"take {number}"))
    assert list(panel._open) == [short_of_home[0].words, "your take: take 2"]
    assert panel.state.model is short_of_home[2]


# --- words and names ----------------------------------------------------------------------------


def test_every_control_has_a_name(open_panel: OpenPanel) -> None:
    controls = [w for w in widgets_in(open_panel()) if isinstance(w, Choice | Slider | TextBox)]
    assert len(controls) > 12
    assert all(control.label.strip() for control in controls)


def test_names_from_outside_are_shown_as_text(
    open_panel: OpenPanel, short_of_home: tuple[DemoTake, Recording, Take]
) -> None:
    panel = open_panel()
    shouting = replace(short_of_home[1], warnings=("<script>alert(1)</script>",))
    take = replace(short_of_home[2], facts=shouting.facts)
    panel.set_state(replace(panel.state, take=take, guess=Guess.TELL))
    assert "<script>" not in panel._words.value
    assert "&lt;script&gt;" in panel._words.value


@pytest.mark.slow
@pytest.mark.parametrize("demo", demo_takes(), ids=lambda demo: demo.name)
def test_every_demo_take_opens_without_a_problem(demo: DemoTake) -> None:
    panel = TakePanel(demos=[demo])
    assert not panel.status.problem, panel.status.text
    panel.controls.guess.value = str(Guess.TELL)
    free = screen(panel)
    panel.controls.with_click.value = "with a click"
    assert not panel.status.problem, panel.status.text
    for said in (free, screen(panel)):
        assert not UNSAID.search(said), UNSAID.search(said)


def test_the_list_of_demo_takes_is_not_empty() -> None:
    assert len(demo_takes()) > 20
