"""From a recording to its pitch contour: `track`.

The steps, one module each:

1. `decimate` to about 11 kHz; `hum` taken out; `bursts` of clicks marked.
2. `coarse` periods of short frames, and one path through them: `follow`.
3. `lines` without blips and holes, cut at steps; `attacks` cut them at plucks.
4. `octave`, decided once a note, and `stretches` that are a note and no stray.
5. `refine`, twice: `demodulate` every partial along a `carrier`, `combine` what they say.
6. `stray` sounds beside the note; `assemble` everything on one grid (`frames`).

`coarse.candidates` knows no past, `follow.follow` takes a state and gives the next one, and
`refine.refine` needs a carrier and the sound around it alone: a live view can call the same three.
"""

from labcore.pitch.tracker import track

__all__ = ["track"]
