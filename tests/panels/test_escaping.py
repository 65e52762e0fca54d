"""Whatever somebody wrote stands on the page as text, and never as code.

The page is read by Python's own HTML parser: its elements and attributes must be the same for any
words, and the words must be found in it letter by letter.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import labcore.handout
import labcore.panels
from labcore.analysis import judge
from labcore.exercises import LADDER, Exercise, PastTake, seating
from labcore.figures.take import take_figure
from labcore.handout import ClassTake, handout_html, sheet
from labcore.model import Context, Recording, Report, Take, Task
from labcore.panels.class_panel import seats_html
from labcore.panels.demo import DemoTake
from labcore.panels.log_words import (
    exercise_html,
    paragraphs,
    player_words,
    table_html,
    takes_html,
    task_words,
)
from labcore.panels.melody_panel import _note_html
from labcore.panels.sheet_panel import sheet_view
from labcore.panels.switch_panel import (
    _remedy_html,
    changes_html,
    findings_html,
    stretches_html,
)
from labcore.panels.take_extras import push_html
from labcore.panels.take_words import evidence_html, measures_html, words_html
from labcore.practice_log import Player, PracticeTask, Remark
from labcore.switching import held_stretches

DAY = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)
Written = Callable[[Report, str], str]


def _taken(report: Report, text: str) -> str:
    take = PastTake(DAY, context=Context(player=text), exercise=text, remark=text)
    remark = Remark("1", "2", text, text, DAY, None, 3)
    return takes_html([take], findings=[report.findings], remarks=[[remark]])


def _logged(report: Report, text: str) -> str:
    player = Player(text, text, text, DAY, 2, DAY)
    task = PracticeTask("1", text, text, 72.0, 3, DAY.date(), DAY.date())
    return paragraphs([player_words(player), task_words(task), text])


def _seated(report: Report, text: str) -> str:
    (seat,) = seating([DemoPath(text)])
    seat = replace(seat, context=Context(player=text))
    return seats_html([ClassTake(seat, report), ClassTake(seat, None, text)])


class DemoPath:
    """A file of any name, also of one that no system takes."""

    def __init__(self, name: str) -> None:
        self.name = name


def _printed(report: Report, text: str) -> str:
    return handout_html([sheet(report, player=text, guitar=text), sheet(player=text)])


def _framed(report: Report, text: str) -> str:
    return str(sheet_view(sheet(report, player=text, guitar=text)).value)


# Every function that makes HTML, and whether what was written is in it.
WRITERS: dict[str, tuple[Written, bool]] = {
    "words_html": (lambda report, text: words_html(report, guess="few"), True),
    "measures_html": (lambda report, text: measures_html(report), False),
    "evidence_html": (lambda report, text: evidence_html(report), True),
    "push_html": (lambda report, text: push_html(report), False),
    "findings_html": (lambda report, text: findings_html(report.findings, report=report), True),
    "_remedy_html": (lambda report, text: _remedy_html(report.findings[0], report=report), False),
    "stretches_html": (lambda report, text: stretches_html(held_stretches(report)), False),
    "_note_html": (lambda report, text: _note_html(text), True),
    "changes_html": (lambda report, text: changes_html(report), False),
    "exercise_html": (
        lambda report, text: exercise_html(Exercise(LADDER[0], text, text, text)), True
    ),
    "takes_html": (_taken, True),
    "table_html": (lambda report, text: table_html([text], []), True),
    "paragraphs": (_logged, True),
    "seats_html": (_seated, True),
    "handout_html": (_printed, True),
    "sheet_view": (_framed, True),
}  # fmt: skip


class _Reader(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, tuple[str, ...]]] = []
        self.words = ""
        self.frames: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, tuple(name for name, _ in attrs)))
        self.frames += [value for name, value in attrs if name == "srcdoc" and value]
        self.words += " ".join(value or "" for name, value in attrs if name != "srcdoc")

    def handle_data(self, data: str) -> None:
        self.words += data

    def handle_comment(self, data: str) -> None:
        self.elements.append(("comment", ()))

    def handle_decl(self, decl: str) -> None:
        self.elements.append(("declaration", ()))


def read(html: str) -> tuple[list[Any], str]:
    """The elements of a page and its words; a page in a frame is read as well."""
    outer = _Reader(html)
    inner = [read(frame) for frame in outer.frames]
    elements = [outer.elements, *(elements for elements, _ in inner)]
    return elements, "".join([outer.words, *(words for _, words in inner)])


def saying(report: Report, text: str) -> Report:
    """The report with these words wherever somebody may have written some."""
    findings = tuple(
        replace(f, sentence=text, evidence=text, overruled_by=text) for f in report.findings
    )
    facts = replace(report.take.facts, name=text, warnings=(text,))
    context = replace(report.context, player=text, guitar=text)
    return replace(
        report, take=replace(report.take, facts=facts), context=context, findings=findings
    )


# fmt: off
HOSTILE = ["<script>alert(1)</script>", "<img src=x onerror=alert(1)>", '" onload="a', "' b='",
           "]]>", "<!--", "--!>", "&lt;", "&#60;b&#62;", "&amp", "</td>", "</style>", "</p>",
           "{{ 7 * 7 }}", "{% raw %}", "<svg/onload=1>", "javascript:x", "`", "\\", "=1+1"]
# fmt: on
TEXTS = st.lists(
    st.sampled_from(HOSTILE) | st.text(st.characters(codec="utf-8"), min_size=1, max_size=8),
    min_size=1,
    max_size=4,
).map(lambda parts: f"x{''.join(parts)}"[:50] + "x")


@pytest.fixture(scope="module")
def report(short_of_home: tuple[DemoTake, Recording, Take]) -> Report:
    return judge(short_of_home[2], Task(72.0, 3), context=Context(string=1, fret=5))


def test_every_function_that_makes_html_is_tried_here() -> None:
    found = set()
    for package in (labcore.panels, labcore.handout):
        for _, name, _ in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
            for word, thing in inspect.getmembers(importlib.import_module(name)):
                if inspect.isfunction(thing) and word.endswith("_html"):
                    found.add(word)
    assert len(found) > 5
    assert found <= set(WRITERS)


def check_escaped(name: str, report: Report, text: str) -> None:
    write, is_in_it = WRITERS[name]
    elements, words = read(write(saying(report, text), text))
    assert elements == read(write(saying(report, "plain"), "plain"))[0]
    if is_in_it:
        # HTML counts all line breaks as one kind.
        assert _lines(text) in _lines(words)


def _lines(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


COMMON: dict[str, Any] = {
    "deadline": None,
    "derandomize": True,
    "suppress_health_check": list(HealthCheck),
}


@pytest.mark.parametrize("name", sorted(WRITERS))
@settings(max_examples=8, **COMMON)
@given(text=TEXTS)
def test_any_words_stand_on_the_page_as_text(name: str, report: Report, text: str) -> None:
    check_escaped(name, report, text)


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(WRITERS))
@settings(max_examples=60, **COMMON)
@given(text=TEXTS)
def test_many_words_stand_on_the_page_as_text(name: str, report: Report, text: str) -> None:
    check_escaped(name, report, text)


@settings(max_examples=5, **COMMON)
@given(text=TEXTS)
def test_no_words_of_anybody_stand_in_a_picture(report: Report, text: str) -> None:
    """Plotly reads some HTML in its texts; what was written stands beside the picture instead."""
    drawn = take_figure(saying(report, text)).to_json()
    assert drawn == take_figure(saying(report, "plain")).to_json()


def test_the_check_sees_what_was_not_escaped(
    report: Report, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(WRITERS, "careless", (lambda report, text: f"<p>{text}</p>", True))
    with pytest.raises(AssertionError):
        check_escaped("careless", report, "<b>x</b>")
