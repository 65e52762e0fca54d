"""An afternoon with lesson 07 in the browser: ``python -m tests.benchmark.long_use``.

Hundreds of slider moves, forty takes, a sleep, a page loaded again, Python started anew; prints a
Markdown table of what the kernel and the page hold. It needs a Chromium.
"""

import os
import sys
from pathlib import Path

import pytest

MOVES, TAKES = 300, 40
TEST = Path(__file__).parents[1] / "browser" / "test_long_use.py"


def main() -> int:
    """Run the browser test of the same name, longer; what it prints is the table."""
    os.environ |= {"LONG_USE_MOVES": str(MOVES), "LONG_USE_TAKES": str(TAKES)}
    print("| after | kernel, MB | widgets | page, MB | nodes of the page |")
    print("| --- | --- | --- | --- | --- |", flush=True)
    return pytest.main([str(TEST), "-m", "browser", "-q", "-s"])


if __name__ == "__main__":
    sys.exit(main())
