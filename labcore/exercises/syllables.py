"""Words to say aloud: one syllable a wave, the first on the click and the last one 'home'."""

from labcore.beats import check_cycles_per_beat

SYLLABLES = {
    1: ("home",),
    2: ("row", "home"),
    3: ("row", "back", "home"),
    4: ("row", "the", "boat", "home"),
    5: ("row", "the", "boat", "back", "home"),
    6: ("row", "the", "lit", "tle", "boat", "home"),
}


def spoken(cycles_per_beat: int) -> str:
    """The syllables of a note value in one breath.

    >>> spoken(3)
    'row-back-home'
    """
    check_cycles_per_beat(cycles_per_beat)
    return "-".join(SYLLABLES[cycles_per_beat])
