"""Every sentence a player can meet, rendered with awkward numbers."""

import re
import string
from itertools import product

import pytest

from labcore.analysis import judge
from labcore.exercises import remedy
from labcore.findings import words
from labcore.model import Place
from tests.judging.takes import fair_cases, planted_cases, unusual_cases
from tests.made import heard_contour

AWKWARD = (0.0, 0.4, 1.0, -1.0, 12.5, -240.0, 1e4)
FORBIDDEN = ("nan", "None", "inf", "beginner", "wrong", "bad", "error", "cursor", "kernel")
FRAGMENTS = (
    "EITHER_SIDE",
    "VALUE_ABOUT",
    "OTHER_NOTE",
    "NO_PLAIN_FIRST",
    "FROM_ABOVE",
    "AT_A_FRET",
    "ALL_BELOW",
    "PLAIN_MOVES",
    "AT_ONCE",
    "PLAIN_NOTE_HEARD",
    "BEFORE_WAVES",
    "RANGE",
    "HEARD_UP",
    "HEARD_DOWN",
    "HEARD_BOTH",
)  # parts of other sentences
KINDS = ("confidence", "two_strings", "plain_note", "nut", "return", "direction", "both_ways",
         "even_width", "even_time", "pace", "note_value", "click", "tempo", "lock")  # fmt: skip


def templates() -> dict[str, str]:
    return {
        name: value
        for name, value in vars(words).items()
        if name.isupper() and isinstance(value, str)
    }


def fields(template: str) -> list[str]:
    return [name for _, name, _, _ in string.Formatter().parse(template) if name]


def is_clean(sentence: str) -> bool:
    found = set(re.findall(r"[A-Za-z]+", sentence))
    return not found & set(FORBIDDEN) and "{" not in sentence and "  " not in sentence


def test_a_careless_sentence_would_be_caught() -> None:
    assert not is_clean("You are nan cents flat.")
    assert not is_clean("Your {width} is wide.")


@pytest.mark.parametrize("name", sorted(templates()))
def test_every_template_renders(name: str) -> None:
    template = templates()[name]
    rendered = template.format(**dict.fromkeys(fields(template), "four waves"))
    assert is_clean(rendered), rendered
    fragment = name in FRAGMENTS
    assert fragment or rendered[0].isupper() or rendered.startswith("four waves")
    assert fragment or rendered.endswith((".", "?"))


@pytest.mark.parametrize("value", AWKWARD)
def test_every_number_has_words(value: float) -> None:
    said = [words.cents(value), words.percent(value), words.milliseconds(value),
            words.above_or_below(value), words.seconds(abs(value)), words.rate(abs(value)),
            words.about(value, abs(value))]  # fmt: skip
    for sentence in said:
        assert is_clean(sentence), sentence
        assert "-" not in sentence, sentence


@pytest.mark.parametrize(("n", "noun"), list(product((0, 1, 2, 20, 21, 400), ("wave", "beat"))))
def test_counts_read_as_people_say_them(n: int, noun: str) -> None:
    said = words.count(n, noun)
    assert said.endswith(noun if n == 1 else noun + "s")
    assert is_clean(said)


def test_every_place_has_a_name_for_home() -> None:
    assert set(words.HOME_NAMES) == set(Place)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_finding_has_something_to_do_about_it(kind: str) -> None:
    found = remedy(kind)
    assert found.kind == kind
    assert is_clean(found.sentence), found.sentence
    assert len(found.sentence.split()) <= 60


def test_the_sentences_of_many_takes_are_clean() -> None:
    cases = [case for case in planted_cases() if case.task.tempo_bpm == 72.0][::9]
    seen: set[str] = set()
    for case in [*fair_cases(), *unusual_cases(), *cases]:
        report = judge(heard_contour(case.description), case.task)
        for finding in report.findings:
            seen.add(finding.kind)
            assert finding.kind in KINDS, finding.kind
            assert is_clean(finding.sentence), finding.sentence
            assert is_clean(finding.evidence), finding.evidence
    assert len(seen) >= 9
