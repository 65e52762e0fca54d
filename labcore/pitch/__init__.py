"""From a recording to its pitch contour: `track`.

The steps, one module each: `decimate` to 11 kHz; `coarse` periods; `follow` one path through
them; `lines` without blips and holes; `attacks` split them; `octave` decided once a stretch;
`refine`, that is `demodulate` every partial along a `carrier` and `combine` them, twice.
"""

from labcore.pitch.tracker import track

__all__ = ["track"]
