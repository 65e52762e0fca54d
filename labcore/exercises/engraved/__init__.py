"""The melodies as engraved pictures, one SVG each; a note's group carries ``data-note``."""

from functools import cache
from importlib import resources


@cache
def melody_svg(name: str) -> str:
    """The engraved melody of that name (see `labcore.exercises.melodies`)."""
    folder = resources.files("labcore.exercises.engraved")
    return folder.joinpath(f"{name}.svg").read_text(encoding="utf-8")
