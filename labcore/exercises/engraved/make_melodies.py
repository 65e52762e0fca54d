"""Engrave the melodies once, to SVG files that are kept with the package.

    python -m labcore.exercises.engraved.make_melodies

Needs verovio (a development tool, extra ``engrave``). Written for guitar, which sounds an octave
lower. Each note or rest becomes a group with ``data-note``, its place in the melody from 0.
The note shapes are those of the Leipzig font (SIL Open Font License), which verovio carries.
"""

from pathlib import Path

from labcore.exercises.engraved.engrave import engraved_svg
from labcore.exercises.melodies import MELODIES, Melody, MelodyNote

FOLDER = Path(__file__).parent
PITCH_NAMES = {0: "c", 2: "d", 4: "e", 5: "f", 6: "f", 7: "g", 9: "a", 11: "b"}
SHARPS = {6}
WRITTEN = {0.5: (8, 0), 1: (4, 0), 1.5: (4, 1), 2: (2, 0), 3: (2, 1), 4: (1, 0)}  # value, dots
OPTIONS = {
    "pageMarginTop": 60,
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
    """The melody as SVG."""
    return engraved_svg(melody_mei(melody), options=OPTIONS, seed=7, name=melody.name)


def main() -> None:
    """Write every melody."""
    for melody in MELODIES:
        (FOLDER / f"{melody.name}.svg").write_text(engraved(melody), encoding="utf-8")


if __name__ == "__main__":
    main()
