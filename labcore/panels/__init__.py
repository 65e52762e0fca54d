"""Panels: controls wired to figures; the only door to ipywidgets and anywidget."""
