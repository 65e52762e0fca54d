"""The panel of changes: the picture and the words follow the take and what was planned."""

from dataclasses import replace

import numpy as np
import pytest

from labcore.analysis import judge
from labcore.audio import wav_bytes
from labcore.figures.switching import switch_figure, switch_words
from labcore.model import Recording, Take, Task
from labcore.panels import holding, switch_panel
from labcore.panels.controls import DIMMED
from labcore.panels.switch_examples import EXAMPLES, TEMPO_BPM
from labcore.panels.switch_panel import (
    DESK,
    NOTHING,
    SwitchPanel,
    changes_html,
    planned,
    stretches_html,
)
from labcore.switching import How, held_stretches, switches

LATE, SEARCHING, SLIDING, OTHER = (example.name for example in EXAMPLES)


def example_report(name: str):
    (example,) = (one for one in EXAMPLES if one.name == name)
    return judge(example.made[1], Task(tempo_bpm=TEMPO_BPM)), example.plan


@pytest.mark.parametrize(
    ("name", "hows"),
    [
        (LATE, [How.SWITCHED, How.SWITCHED]),
        (SEARCHING, [How.SWITCHED]),
        (SLIDING, [How.DRIFTED]),
        (OTHER, [How.SWITCHED, How.OTHER, How.SWITCHED]),
    ],
)
def test_each_example_shows_what_its_name_says(name: str, hows: list[How]) -> None:
    report, plan = example_report(name)
    assert [switch.how for switch in switches(report, plan=plan)] == hows


def test_the_late_example_is_two_beats_late_by_its_own_arithmetic() -> None:
    report, plan = example_report(LATE)
    found = switches(report, plan=plan)
    assert [s.waves_until_locked for s in found] == [2 * s.from_value for s in found]


def test_filled_and_hollow_dots_are_all_the_waves() -> None:
    report, plan = example_report(SEARCHING)
    figure = switch_figure(report, plan=plan)
    dots = [trace for trace in figure.data if trace.mode == "markers"]
    assert sum(len(trace.x) for trace in dots) == len(report.cycles)
    hollow = next(trace for trace in dots if trace.marker.color == "#FFFFFF")
    assert len(hollow.x) >= 7
    assert "after seven waves" in switch_words(report, plan=plan)


def test_the_figure_of_a_take_without_waves_is_empty_and_says_so() -> None:
    report, _ = example_report(SLIDING)
    silent: Take = replace(report.take, notes=())
    nothing = judge(silent, Task(tempo_bpm=TEMPO_BPM))
    assert "No change was found" in switch_words(nothing)
    assert len(switch_figure(nothing).data) > 0


def test_the_plan_begins_with_the_first_bar() -> None:
    report, plan = example_report(LATE)
    found = planned(report, values=(2, 3, 4), bars_each=2)
    assert found is not None
    starts, wanted = np.array([s for s, _ in found]), np.array([s for s, _ in plan])
    assert starts == pytest.approx(wanted, abs=0.03)
    assert planned(report, values=(), bars_each=2) is None
    assert planned(judge(report.take), values=(2, 3), bars_each=2) is None


def test_the_panel_follows_take_plan_and_tempo() -> None:
    panel = SwitchPanel(first=LATE)
    assert panel.plan.value == "2 3 4"
    assert "about two beats" in panel.words.value
    panel.plan.value = NOTHING
    assert "within a beat each time" in panel.words.value
    panel.chosen.value = SLIDING
    assert panel.plan.value == "3 4"
    assert "slides from three to four" in panel.words.value
    assert panel.player.labels == ["play the take"]
    panel.tempo.value = 60.0
    assert "slides from three to four" not in panel.words.value


def test_a_dropped_file_is_heard_and_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    recording, take = EXAMPLES[2].made
    panel = SwitchPanel(first=LATE)
    dimmed: list[bool] = []

    def hear(_recording: Recording) -> Take:
        dimmed.extend(DIMMED in part._dom_classes for part in (panel.words, panel.table))
        return take

    monkeypatch.setattr(switch_panel, "hear", hear)
    panel.open_file("bench 3.wav", wav_bytes(recording))
    assert dimmed == [True, True]  # what stood there is of the take before
    assert DIMMED not in panel.words._dom_classes
    assert panel.chosen.value == "your take: bench 3"
    assert panel.plan.value == NOTHING
    assert panel.tempo.value == TEMPO_BPM
    assert "If you meant to change" in panel.words.value


def test_a_file_of_the_same_name_is_the_one_that_is_shown_and_played(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    panel = SwitchPanel(first=LATE)
    for number in (2, 0):
        recording, take = EXAMPLES[number].made
        monkeypatch.setattr(switch_panel, "hear", lambda _, take=take: take)
        panel.open_file("bench 3.wav", wav_bytes(recording))
    assert panel.player.sounds == [wav_bytes(recording)]
    assert panel._takes[panel.chosen.value].take is take


def test_takes_opened_longest_ago_make_room_and_it_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    recording, take = EXAMPLES[2].made
    monkeypatch.setattr(switch_panel, "hear", lambda _: take)
    monkeypatch.setattr(holding, "HELD_SAMPLES", int(2.5 * recording.samples.size))
    panel = SwitchPanel(first=LATE)
    for number in range(4):
        panel.open_file(f"bench {number}.wav", wav_bytes(recording))
        assert len(panel._takes) <= 2
    assert "“your take: bench 1” made room in the list" in panel.status.text
    assert panel.chosen.value == "your take: bench 3"
    panel.chosen.value = DESK  # a take of the list is heard again when it is wanted
    assert not panel.status.problem


def test_a_file_that_is_no_sound_is_said_so_and_nothing_changes() -> None:
    panel = SwitchPanel(first=LATE)
    before = panel.words.value
    panel.open_file("shopping.txt", b"bread, milk")
    assert panel.status.problem
    assert panel.words.value == before
    assert panel.chosen.value == LATE


def test_the_table_has_a_row_a_stretch_and_says_what_was_planned_instead() -> None:
    report, plan = example_report(OTHER)
    table = stretches_html(held_stretches(report, plan=plan))
    assert table.count("<tr>") == 1 + 4
    assert "4 to the click (5 planned)" in table
    assert stretches_html(()) == ""


def test_the_first_thing_to_work_on_comes_with_something_to_do() -> None:
    panel = SwitchPanel(first=SLIDING)
    assert "one whole bar plain" in panel.words.value
    assert "Stop at pain" in panel.words.value
    panel.chosen.value = LATE
    panel.plan.value = NOTHING
    assert "labcore-remedy" not in panel.words.value


def test_a_take_without_a_click_is_asked_for_one() -> None:
    report, _ = example_report(SLIDING)
    assert "with a click" in changes_html(judge(report.take))
    for asked in (None, 3):
        one = judge(report.take, Task(tempo_bpm=TEMPO_BPM, cycles_per_beat=asked))
        assert "If you meant to change" in changes_html(one)
