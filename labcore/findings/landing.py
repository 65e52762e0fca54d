"""Where a single wave came back to: home, nearly, not yet."""

from labcore.findings.bands import HOME_CENTS, NEARLY_CENTS, NEARLY_SHARE, OTHER_NOTE_CENTS
from labcore.model import HomeSource, Landing, Place, VibratoCycle


def landing(cycle: VibratoCycle, *, doubt_cents: float = 0.0) -> Landing:
    """Home within 10 cents, nearly within 20 cents or a fifth of the width, else not yet.

    Unknown where no plain note tells where home is, or where the wave ends on another note. With
    ``doubt_cents`` home may lie that far off, in the wave's favour: to ask how sure the answer is.
    """
    home, found = cycle.home, cycle.return_cents
    if home is None or found is None or home.source is HomeSource.WAVES:
        return Landing.UNKNOWN
    if home.place is Place.UNKNOWN:
        return Landing.UNKNOWN
    off = max(abs(found) - doubt_cents, 0.0)
    if off <= HOME_CENTS:
        return Landing.HOME
    if off <= home_reach_cents(cycle.extent_cents):
        return Landing.NEARLY
    return Landing.NOT_YET if off <= OTHER_NOTE_CENTS else Landing.UNKNOWN


def home_reach_cents(extent_cents: float) -> float:
    """How far from home a wave of this width may end and still be nearly home."""
    return max(NEARLY_CENTS, NEARLY_SHARE * extent_cents)
