"""An afternoon with lesson 07: nothing grows, and no control dies.

``LONG_USE_MOVES`` and ``LONG_USE_TAKES`` make it longer, as ``python -m tests.benchmark.long_use``
does. What is compared are two stretches of the same use, after a first one has filled what is
meant to be held.
"""

import os
from collections.abc import Callable
from typing import Any

import pytest

from tests.browser.long_use import Afternoon, Memory, measured

pytestmark = pytest.mark.browser

LESSON = "07_analyse_your_take.ipynb"
MOVES = int(os.environ.get("LONG_USE_MOVES", "30"))
TAKES = int(os.environ.get("LONG_USE_TAKES", "6"))


# Room for what comes and goes between two collections. In the long run two stages that are compared
# here differed by at most 17 MB in the kernel, 10 MB in the page and 81 nodes.
KERNEL_MB, PAGE_MB, NODES = 25.0, 25.0, 1500
# The text of plotly as a page holds it, two bytes a letter, which comes anew with each start of
# Python and came after each sleep. What else stays of the controls before was 3 to 4 MB.
PLOTLY_MB, LOOKS = 9.5, 15


def check_no_growth(before: Memory, after: Memory) -> None:
    assert after.widgets == before.widgets
    assert after.kernel_mb < before.kernel_mb + KERNEL_MB
    assert after.page_mb < before.page_mb + PAGE_MB
    assert after.nodes < before.nodes + NODES


def test_an_afternoon_leaves_no_more_than_its_first_minutes(
    open_lesson: Callable[..., Any],
) -> None:
    lesson = open_lesson(LESSON)
    lesson.run_all()
    afternoon = Afternoon(lesson.page)

    def told(words: str) -> Memory:
        memory = measured(lesson.page)
        print(f"| {words} | {memory} |", flush=True)
        return memory

    told("the lesson has run")
    afternoon.move_slider(10)
    few = told("ten moves")
    afternoon.move_slider(MOVES)
    many = told(f"{MOVES} moves more")
    check_no_growth(few, many)
    afternoon.open_takes(TAKES)
    once = told(f"{TAKES} takes")
    assert once.widgets == few.widgets
    afternoon.open_takes(TAKES)
    twice = told(f"the same {TAKES} takes again")
    check_no_growth(once, twice)
    afternoon.sleep()
    afternoon.move_slider(2)
    slept = told("slept, and two moves")
    check_no_growth(twice, slept)
    assert slept.page_mb < twice.page_mb + PLOTLY_MB
    lesson.page.evaluate("window.jupyterapp.commands.execute('docmanager:save')")
    lesson.page.reload()
    afternoon.wait_until_drawn()
    afternoon.move_slider(2)
    check_no_growth(twice, told("loaded again"))
    afternoon.restart()
    lesson.run_all()
    afternoon.wait_until_drawn()
    anew = told("Python started anew")
    assert anew.widgets == few.widgets
    for _ in range(LOOKS):  # a page lets go when it finds the time
        if anew.page_mb < twice.page_mb + PLOTLY_MB:
            break
        lesson.page.wait_for_timeout(1000)
        anew = told("a second later")
    assert anew.page_mb < twice.page_mb + PLOTLY_MB
    assert lesson.errors == []
