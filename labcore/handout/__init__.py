"""One page to take home: this week's one task, a picture of the take, boxes to tick.

`sheet` gathers what stands on it, `handout_html` writes any number of sheets into one file that
needs nothing else, `write_handout` puts it on the disk and `print_pdf` prints it where there is a
Chromium.
"""

from labcore.handout.class_takes import ClassTake, class_csv, hear_class
from labcore.handout.page import PAPERS, handout_html, print_pdf, write_handout
from labcore.handout.sheet import Sheet, sheet

__all__ = [
    "PAPERS",
    "ClassTake",
    "Sheet",
    "class_csv",
    "handout_html",
    "hear_class",
    "print_pdf",
    "sheet",
    "write_handout",
]
