import json
from dataclasses import replace

import numpy as np
import pytest

from labcore.errors import LabError
from labcore.model import Context, Place, Task, Technique
from labcore.synthesis import (
    ClickKind,
    NoteDescription,
    TakeDescription,
    from_dict,
    line_through,
    to_dict,
    waves,
)


def described() -> TakeDescription:
    note = NoteDescription(
        onset_s=0.5,
        duration_s=2.0,
        hz=329.63,
        knots=waves(4, rate_hz=3.6, extent_cents=50.0, start_s=0.8),
        loudness_knots=((0.0, 0.0), (1.0, -6.0)),
    )
    return TakeDescription(
        name="all parts",
        duration_s=3.0,
        notes=(note,),
        click_s=(0.0, 0.8333),
        click_kind=ClickKind.WOOD,
        task=Task(tempo_bpm=72.0, cycles_per_beat=3, technique=Technique.BEND, home=Place.BOTTOM),
        context=Context(player="bench 3", string=3, fret=9, finger=3),
        says="nothing planted",
    )


def test_a_description_survives_json() -> None:
    take = described()
    assert from_dict(json.loads(json.dumps(to_dict(take)))) == take


def test_a_dictionary_that_is_no_description_is_refused() -> None:
    plain = to_dict(described())
    with pytest.raises(LabError, match="not the description"):
        from_dict(plain | {"colour": "blue"})
    with pytest.raises(LabError, match="not the description"):
        from_dict({"name": "empty"})


def test_knots_are_joined_by_half_cosines() -> None:
    knots = ((1.0, 10.0), (2.0, 50.0), (4.0, -20.0))
    time_s = np.array([0.0, 1.0, 1.25, 1.5, 2.0, 3.0, 4.0, 9.0])
    eighth = 10.0 + 40.0 * (1.0 - np.cos(np.pi / 4.0)) / 2.0
    expected = [10.0, 10.0, eighth, 30.0, 50.0, 15.0, -20.0, -20.0]
    assert line_through(knots, time_s) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"hz": float("nan")}, "pitch is nan"),
        ({"hz": 0.0}, "between 20 and 5000"),
        ({"duration_s": 0.0}, "duration"),
        ({"onset_s": -1.0}, "onset"),
        ({"knots": ((1.0, 0.0), (0.5, 20.0))}, "order of time"),
        ({"knots": ((0.0, float("inf")),)}, "One of the knots"),
        ({"knots": ((-0.1, 0.0),)}, "from 0 on"),
        ({"pluck_position": 0.9}, "pluck position"),
        ({"level": 7.0}, "level"),
    ],
)
def test_nonsense_in_a_note_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(LabError, match=words):
        replace(described().notes[0], **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"duration_s": 1.0}, "make the take longer"),
        ({"click_s": (5.0,)}, "outside the take"),
        ({"sample_rate_hz": 10.0}, "sample rate"),
        ({"noise_db": 30.0}, "noise_db"),
        ({"second_hz": 1.0}, "second string"),
    ],
)
def test_nonsense_in_a_take_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(LabError, match=words):
        replace(described(), **changes)  # type: ignore[arg-type]


def test_two_notes_at_once_are_refused() -> None:
    take = described()
    with pytest.raises(LabError, match="one note at a time"):
        replace(take, notes=(take.notes[0], replace(take.notes[0], onset_s=1.0)))
