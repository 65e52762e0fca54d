"""Engrave the ladder's bars once, to SVG files that are kept with the package.

    python -m labcore.handout.tiles.make_tiles

Needs verovio (a development tool, not needed to print a handout). Each bar is the practice form:
a quarter left plain on beat one, then the waves of beats two to four as notes, with a syllable
under each. Written for guitar, which sounds an octave lower: third string, ninth fret, the E above
middle C.
The note shapes are those of the Leipzig font (SIL Open Font License), which verovio carries.
"""

from pathlib import Path

from labcore.exercises.engraved.engrave import engraved_svg
from labcore.exercises.syllables import SYLLABLES

FOLDER = Path(__file__).parent
BEAM_FROM = 2
# How a beat of k waves is written: note value of each, and whether it is a tuplet of how many.
WRITTEN = {1: (4, None), 2: (8, None), 3: (8, 2), 4: (16, None), 5: (16, 4), 6: (16, 4)}
OPTIONS = {
    "pageMarginTop": 20,
    "lyricSize": 3.8,
    "lyricWordSpace": 4.0,  # room for a type face wider than the one it measures with
    "spacingNonLinear": 0.55,
}


def bar_mei(waves: int) -> str:
    """The bar as MEI; 0 waves is a plain whole note."""
    notes = '<note dur="1" oct="4" pname="e"/>' if waves == 0 else _bar_notes(waves)
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">
 <meiHead><fileDesc><titleStmt><title/></titleStmt><pubStmt/></fileDesc></meiHead>
 <music><body><mdiv><score>
  <scoreDef meter.count="4" meter.unit="4"><staffGrp>
   <staffDef n="1" lines="5" clef.shape="G" clef.line="2" clef.dis="8" clef.dis.place="below"/>
  </staffGrp></scoreDef>
  <section><measure right="end" n="1"><staff n="1"><layer n="1">
   {notes}
  </layer></staff></measure></section>
 </score></mdiv></body></music>
</mei>"""


def _bar_notes(waves: int) -> str:
    return _note(4, "plain") + "".join(_beat(waves) for _ in range(3))


def _beat(waves: int) -> str:
    duration, against = WRITTEN[waves]
    notes = "".join(_note(duration, word) for word in SYLLABLES[waves])
    if waves >= BEAM_FROM:
        notes = f"<beam>{notes}</beam>"
    if against is not None:
        notes = (
            f'<tuplet num="{waves}" numbase="{against}" bracket.visible="false" '
            f'num.place="above">{notes}</tuplet>'
        )
    return notes


def _note(duration: int, word: str) -> str:
    return (
        f'<note dur="{duration}" oct="4" pname="e" stem.dir="up">'
        f'<verse n="1"><syl>{word}</syl></verse></note>'
    )


def engraved(waves: int) -> str:
    """The bar as SVG."""
    return engraved_svg(bar_mei(waves), options=OPTIONS, seed=100 + waves, name=f"bar{waves}")


def main() -> None:
    """Write every tile."""
    for waves in (0, *SYLLABLES):
        (FOLDER / f"bar{waves}.svg").write_text(engraved(waves), encoding="utf-8")


if __name__ == "__main__":
    main()
