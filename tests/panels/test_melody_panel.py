"""Melodies to mark, a long note, and the quiz: what is chosen is what sounds, nothing is judged."""

import io

import numpy as np
import pytest
import soundfile

from labcore.exercises.melodies import LATE, MELODIES, SHAKES
from labcore.figures.phrase import LONG_S, shake_figure, shake_words
from labcore.model import Verdict
from labcore.panels.ear_quiz import FINER, KINDS, LARGE, ORDER, EarQuiz
from labcore.panels.melody_panel import MelodyPanel, long_note_wav, melody_wav, ours_words
from labcore.synthesis import synthesise
from labcore.synthesis.tracks import LOUDEST_PEAK_DB


def samples_of(data: bytes) -> tuple[np.ndarray, float]:
    samples, rate = soundfile.read(io.BytesIO(data))
    return samples, rate


def sound_of(panel: MelodyPanel, button: str) -> bytes:
    return panel.sound._makers[panel.sound.labels.index(button)]()


def test_marks_are_what_is_played() -> None:
    panel = MelodyPanel()
    assert sound_of(panel, "where you marked") == sound_of(panel, "plain")
    panel.marks.marked = [3, 9]
    assert dict(panel.yours) == {3: LATE, 9: LATE}
    assert "Two notes of 10 marked" in panel.told.value
    marked = samples_of(sound_of(panel, "where you marked"))[0]
    plain = samples_of(sound_of(panel, "plain"))[0]
    assert marked.size == plain.size
    assert not np.allclose(marked, plain, atol=1e-3)


def test_another_melody_comes_unmarked() -> None:
    panel = MelodyPanel()
    panel.marks.marked = [3]
    panel.chosen.value = "Rain on the boathouse roof"
    assert panel.marks.marked == []
    assert len(panel.marks.notes) == len(panel.melody.sounding)
    panel.marks.marked = [0]
    assert "Too short here for two waves, so plain: note 1, A, half a beat" in panel.told.value


def test_our_own_choice_is_explained_and_left_open() -> None:
    panel = MelodyPanel()
    for melody in MELODIES:
        panel.chosen.value = melody.title
        assert melody.why in panel.ours.value
        assert "Another player would choose otherwise" in panel.ours.value


def test_no_word_of_the_panel_is_a_verdict() -> None:
    panel = MelodyPanel()
    panel.marks.marked = [0, 1]
    said = panel.told.value + panel.ours.value
    assert not any(verdict.value in said for verdict in Verdict)


@pytest.mark.parametrize("melody", MELODIES, ids=lambda melody: melody.name)
def test_a_melody_is_as_long_as_its_beats(melody) -> None:
    samples, rate = samples_of(melody_wav(melody, shaken={}))
    beats = sum(note.beats for note in melody.notes)
    assert samples.size / rate == pytest.approx(beats * 60 / melody.tempo_bpm, abs=0.8)


@pytest.mark.parametrize("how", SHAKES)
def test_the_long_note_is_drawn_as_it_sounds(how: str) -> None:
    line = shake_figure(how).data[1]
    moved = np.array(line.x)[np.abs(np.array(line.y)) > 1.0]
    assert moved[0] >= SHAKES[how].plain_share * LONG_S
    assert max(line.y) == pytest.approx(SHAKES[how].to_cents, abs=0.6)
    assert f"{SHAKES[how].to_cents:.0f} cents" in shake_words(how)
    assert samples_of(long_note_wav(SHAKES[how]))[0].size > LONG_S * 22000


@pytest.mark.parametrize("kind", KINDS)
def test_no_sound_of_the_lesson_is_louder_than_a_track_may_be_or_than_the_others(kind: str) -> None:
    pair = KINDS[kind](LARGE, rng=np.random.default_rng(4))
    quiz = [
        synthesise(one, rng=np.random.default_rng(1))[0].samples
        for one in (pair.wanted, pair.other)
    ]
    lesson = [samples_of(melody_wav(melody, shaken={}))[0] for melody in MELODIES]
    lesson.append(samples_of(long_note_wav(SHAKES["late"]))[0])
    peaks_db = [20.0 * np.log10(np.abs(samples).max()) for samples in (*quiz, *lesson)]
    assert max(peaks_db) <= LOUDEST_PEAK_DB + 0.2
    assert max(peaks_db) - min(peaks_db) < 0.5


# --- the quiz ----------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [LARGE, FINER])
@pytest.mark.parametrize("kind", KINDS)
def test_the_two_notes_differ_in_what_is_asked(kind: str, size: str) -> None:
    """By the truth of the synthesis: lows, widths and numbers of waves."""
    pair = KINDS[kind](size, rng=np.random.default_rng(4))
    truths = []
    for description in (pair.wanted, pair.other):
        _, take = synthesise(description, rng=np.random.default_rng(1))
        (note,) = take.notes
        cents = 1200 * np.log2([turn.hz / description.notes[0].hz for turn in note.turns])
        truths.append((cents[2::2], cents[1::2], len(cents)))
    (lows, highs, count), (other_lows, other_highs, other_count) = truths
    if kind == "coming home":
        assert np.abs(lows).max() < 0.1
        assert other_lows.min() > (40.0 if size == LARGE else 25.0)
    elif kind == "even width":
        assert np.ptp(highs) < 0.1
        assert np.ptp(other_highs) > (60.0 if size == LARGE else 35.0)
    else:
        assert count != other_count
        assert len(pair.wanted.click_s) >= 4


def test_an_answer_is_told_without_a_count() -> None:
    quiz = EarQuiz(seed=2)
    for _ in range(4):
        right = quiz.pair.answer
        wrong = ORDER[1 - ORDER.index(right)]
        quiz.answers[right]._handle_custom_msg("press", [])
        assert quiz.status.text.startswith(f"Yes, the {right}")
        quiz.answers[wrong]._handle_custom_msg("press", [])
        assert quiz.status.text.startswith(f"It is the {right}")
        assert quiz.pair.told in quiz.status.text
        quiz.again._handle_custom_msg("press", [])
    assert not any(word in quiz.status.text for word in ("score", "points", "wrong"))


def test_both_places_are_asked_for() -> None:
    quiz = EarQuiz(seed=3)
    seen = set()
    for _ in range(20):
        seen.add(quiz.pair.answer)
        quiz._next()
    assert seen == set(ORDER)


def test_the_quiz_sounds() -> None:
    quiz = EarQuiz()
    first, second = (samples_of(make())[0] for make in quiz.sound._makers)
    assert first.size > 22050
    assert not np.array_equal(first, second)


def test_our_choice_writes_the_names_of_notes_as_the_boxes_do() -> None:
    assert ours_words(MELODIES[0]).startswith("Note 4, B, 3 beats (late) and note 10, E")
