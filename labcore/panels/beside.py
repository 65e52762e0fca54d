"""Controls beside each other."""

import ipywidgets as w


def beside(*children: w.Widget) -> w.Box:
    """Side by side where there is room, under each other where there is not."""
    row = w.Box(children)
    row.add_class("labcore-wrap")
    return row
