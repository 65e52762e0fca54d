"""How many takes a panel holds open: a long afternoon of dropped files fills no memory."""

from collections.abc import Collection, Mapping, Sequence

from labcore.model import Recording

# 120 MB: half an hour of mono at 16 kHz, fifty short takes. What makes room is still where it
# came from.
HELD_SAMPLES = 30_000_000


def to_let_go(opened: Mapping[str, Recording], *, keep: Collection[str]) -> tuple[str, ...]:
    """Names of the takes that make room, those opened longest ago first; none of ``keep``."""
    held = sum(recording.samples.size for recording in opened.values())
    gone: list[str] = []
    for name, recording in opened.items():
        if held <= HELD_SAMPLES:
            break
        if name not in keep:
            gone.append(name)
            held -= recording.samples.size
    return tuple(gone)


def made_room_words(names: Sequence[str]) -> str:
    """What a reader is told of takes that made room; "" for none.

    >>> made_room_words(["your take: bench 3"])
    '“your take: bench 3” made room in the list; open the file again to see it.'
    """
    quoted = ", ".join(f"“{name}”" for name in names)
    return f"{quoted} made room in the list; open the file again to see it." if names else ""
