"""A path as a reader writes it, and a file put there: what cannot be is refused in a sentence."""

import os
from contextlib import suppress
from pathlib import Path
from secrets import token_hex

from labcore.errors import LabError


def given_path(text: str | os.PathLike[str]) -> Path:
    """The path that was asked for; ``~`` is the reader's own folder.

    Raises
    ------
    LabError
        The text cannot be the name of a file: it holds a sign no system takes, or a ``~`` of
        somebody this computer does not know.

    >>> given_path("takes/bench3.flac").name
    'bench3.flac'
    """
    try:
        path = Path(text).expanduser()
        if b"\0" not in os.fsencode(path):
            return path
    except (RuntimeError, ValueError, TypeError):  # unknown user, not to be encoded, no text
        pass
    raise LabError(
        f"“{printable(str(text))}” cannot be the name of a file or folder; write it anew, with "
        "plain letters."
    )


def printable(text: str, *, most_letters: int = 200) -> str:
    """Text on one line that can be shown; what cannot is a question mark in a box.

    >>> printable("a" + chr(0) + "b", most_letters=2)
    'a�'
    """
    return "".join(sign if sign.isprintable() else "�" for sign in text[:most_letters])


def write_whole(path: Path, *, text: str, what: str) -> None:
    """Write a file whole or not at all: what stood there stays until all of the new one is there.

    ``what`` is how a sentence calls it. A sign that UTF-8 does not have becomes a question mark.

    Raises
    ------
    LabError
        It cannot be written.
    """
    unfinished = path.parent / f"unfinished-{token_hex(8)}"
    try:
        unfinished.write_bytes(text.encode(errors="replace"))
        unfinished.replace(path)
    except OSError as error:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise LabError(
            f"{what} cannot be written to {path} ({error.strerror}). Choose another place."
        ) from error
