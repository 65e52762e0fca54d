"""An evening of the invented workshop: a folder of short takes, made anew wherever it is wanted."""

from pathlib import Path

import numpy as np

from labcore.audio import flac_bytes
from labcore.synthesis import Playing, TakeDescription, fretted_hz, played_bars, synthesise

BENCHES = 8
STOPS_SHORT_CENTS = 32.0  # where the waves of most benches turn round, above home
TAIL_S = 0.3
FIRST_S = 0.3
SHORT = (1, 2, 4, 6, 7)  # benches whose waves stop on the way home
UNEVEN = (5,)  # and one whose widths vary


def write_evening(folder: Path) -> Path:
    """Write eight takes, a bar of triplets at 72 from each bench, and one file that is no sound.

    Five of the eight stop short of home; one is uneven in width. The ninth file is a page of text
    with the name of a recording, as it happens.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for bench in range(1, BENCHES + 1):
        recording, _ = synthesise(_take(bench), rng=np.random.default_rng(bench))
        (folder / f"bench{bench}_triplets.flac").write_bytes(flac_bytes(recording))
    (folder / "bench9_shopping list.wav").write_text("two sets of strings, oranges, rope\n")
    return folder


def _take(bench: int) -> TakeDescription:
    playing = Playing(
        cycles_per_beat=(3,),
        return_cents=STOPS_SHORT_CENTS if bench in SHORT else 0.0,
        extent_spread_percent=22.0 if bench in UNEVEN else 4.5,
    )
    rng = np.random.default_rng([bench, 1])
    notes = played_bars(playing, rng=rng, hz=fretted_hz(3, fret=9), first_s=FIRST_S, decay_s=1.6)
    return TakeDescription(
        name=f"bench {bench}",
        duration_s=round(notes[-1].offset_s + TAIL_S, 3),
        notes=notes,
        sample_rate_hz=22050.0,
    )
