"""Notes as SVG, drawn by verovio: a development tool, since what it draws is kept with the package.

The note shapes are those of the Leipzig font (SIL Open Font License), which verovio carries.
"""

import re
from collections.abc import Mapping
from typing import Any

# One line of notes, as large as it needs, on a page of its own size.
OPTIONS = {
    "adjustPageHeight": True,
    "adjustPageWidth": True,
    "breaks": "none",
    "footer": "none",
    "header": "none",
    "pageMarginBottom": 20,
    "pageMarginLeft": 20,
    "pageMarginRight": 20,
    "scale": 40,
    "svgViewBox": True,
    "svgRemoveXlink": True,
}


def engraved_svg(mei: str, *, options: Mapping[str, object], seed: int, name: str) -> str:
    """A page of MEI as SVG, the same text at every run.

    Glyphs are named after ``name``, so that several pictures may stand in one page. An element of
    the MEI with the id ``place-3`` is marked ``data-note="3"``.
    """
    import verovio  # here, for nobody else needs it

    verovio.enableLog(verovio.LOG_OFF)
    toolkit: Any = verovio.toolkit()
    toolkit.setOptions({**OPTIONS, **options, "xmlIdSeed": seed})
    toolkit.loadData(mei)
    return _cleaned(toolkit.renderToSVG(1), name=name)


def _cleaned(svg: str, *, name: str) -> str:
    """Without version notes, styles and names that nobody asks for."""
    svg = re.sub(r"<\?xml.*?\?>|<!--.*?-->|<desc[^>]*>.*?</desc>", "", svg, flags=re.DOTALL)
    for glyph in dict.fromkeys(re.findall(r'<(?:symbol|g) id="(E[0-9A-F]{3}[^"]*)"', svg)):
        svg = svg.replace(f'"{glyph}"', f'"{name}-{glyph[:4]}"')
        svg = svg.replace(f'"#{glyph}"', f'"#{name}-{glyph[:4]}"')
    svg = re.sub(r'<style.*?</style>|<ellipse cx="0" cy="0"[^>]*/>', "", svg, flags=re.DOTALL)
    svg = re.sub(r"<path (?=d=)|<(rect|polygon) ", _drawn, svg)
    svg = re.sub(r' class="[^"]*"', "", svg)
    svg = re.sub(r' id="place-(\d+)"', r' data-note="\1"', svg)
    svg = re.sub(rf' id="(?!{name})[^"]*"', "", svg)
    svg = re.sub(r"<g />\s*", "", svg)
    return re.sub(r"\n\s*", "\n", svg).strip() + "\n"


def _drawn(found: re.Match[str]) -> str:
    """Lines carry their own ink, for the style sheet that gave it is left out."""
    return f'<{found[1] or "path"} stroke="currentColor" '
