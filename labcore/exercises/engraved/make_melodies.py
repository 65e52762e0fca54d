"""Engrave the melodies once, to SVG files that are kept with the package.

    python -m labcore.exercises.engraved.make_melodies

Needs verovio (a development tool, extra ``engrave``). Written for guitar, which sounds an octave
lower. Each note or rest becomes a group with ``data-note``, its place in the melody from 0.
The note shapes are those of the Leipzig font (SIL Open Font License), which verovio carries.
"""

import re
from pathlib import Path
from typing import Any

from labcore.exercises.melodies import MELODIES, Melody, MelodyNote

FOLDER = Path(__file__).parent
PITCH_NAMES = {0: "c", 2: "d", 4: "e", 5: "f", 6: "f", 7: "g", 9: "a", 11: "b"}
SHARPS = {6}
WRITTEN = {0.5: (8, 0), 1: (4, 0), 1.5: (4, 1), 2: (2, 0), 3: (2, 1), 4: (1, 0)}  # value, dots
OPTIONS = {
    "adjustPageHeight": True,
    "adjustPageWidth": True,
    "breaks": "none",
    "footer": "none",
    "header": "none",
    "pageMarginBottom": 20,
    "pageMarginLeft": 20,
    "pageMarginRight": 20,
    "pageMarginTop": 60,
    "scale": 40,
    "svgViewBox": True,
    "svgRemoveXlink": True,
    "spacingNonLinear": 0.52,
    "spacingLinear": 0.35,
}


def melody_mei(melody: Melody) -> str:
    """The melody as MEI, the music encoding that the engraver reads."""
    bars = _bars(melody)
    measures = "".join(
        _measure(bar, number=k, last=k == len(bars)) for k, bar in enumerate(bars, start=1)
    )
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">
 <meiHead><fileDesc><titleStmt><title/></titleStmt><pubStmt/></fileDesc></meiHead>
 <music><body><mdiv><score>
  <scoreDef meter.count="{melody.beats_per_bar}" meter.unit="4" midi.bpm="{melody.tempo_bpm:g}">
   <staffGrp>
    <staffDef n="1" lines="5" clef.shape="G" clef.line="2" clef.dis="8" clef.dis.place="below"/>
   </staffGrp></scoreDef>
  <section>{measures}</section>
 </score></mdiv></body></music>
</mei>"""


def _bars(melody: Melody) -> list[list[tuple[int, MelodyNote]]]:
    """Bar by bar the notes with their places."""
    bars: list[list[tuple[int, MelodyNote]]] = []
    for place, (start, note) in enumerate(zip(melody.starts, melody.notes, strict=True)):
        bar = int(start // melody.beats_per_bar)
        while len(bars) <= bar:
            bars.append([])
        bars[bar].append((place, note))
    return bars


def _measure(bar: list[tuple[int, MelodyNote]], *, number: int, last: bool) -> str:
    inside = ""
    pair: list[str] = []
    for place, note in bar:
        written = _note(place, note)
        if note.beats < 1.0:
            pair.append(written)
            if len(pair) == 2:
                inside += f"<beam>{''.join(pair)}</beam>"
                pair = []
        else:
            inside += written
    line = ' right="end"' if last else ""
    return (
        f'<measure n="{number}"{line}><staff n="1"><layer n="1">{inside}{"".join(pair)}</layer>'
        "</staff></measure>"
    )


def _note(place: int, note: MelodyNote) -> str:
    value, dots = WRITTEN[note.beats]
    length = f'xml:id="place-{place}" dur="{value}"' + (f' dots="{dots}"' if dots else "")
    if note.number is None:
        return f"<rest {length}/>"
    pitch = note.number % 12
    accidental = ' accid="s"' if pitch in SHARPS else ""
    octave = note.number // 12 - 1
    return f'<note {length} oct="{octave}" pname="{PITCH_NAMES[pitch]}"{accidental}/>'


def engraved(melody: Melody) -> str:
    """The melody as SVG; the same text at every run."""
    import verovio  # a development tool, so it is imported where it is used

    verovio.enableLog(verovio.LOG_OFF)
    toolkit: Any = verovio.toolkit()
    toolkit.setOptions({**OPTIONS, "xmlIdSeed": 7})
    toolkit.loadData(melody_mei(melody))
    return _cleaned(toolkit.renderToSVG(1), name=melody.name)


def _cleaned(svg: str, *, name: str) -> str:
    """Without version notes; with names that stay apart when several stand in one page."""
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


def main() -> None:
    """Write every melody."""
    for melody in MELODIES:
        (FOLDER / f"{melody.name}.svg").write_text(engraved(melody), encoding="utf-8")


if __name__ == "__main__":
    main()
