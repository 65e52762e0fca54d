"""A place to drop a recording on: the file comes from the page in parts, and is put together here.

WAV, FLAC, OGG, MP3 and AIFF travel as they are. What only a browser opens (a phone's recording)
is decoded by the page and travels as WAV; if the page cannot open it either, it travels as it is,
and `labcore.audio.load_recording` says what is wrong with it.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from labcore.errors import LabError

HERE = Path(__file__).parent
PART_BYTES = 768 * 1024  # a message over 10 MiB closes the connection; parts stay far below
MOST_BYTES = 400 * 1024 * 1024  # half an hour in the widest stereo WAV

FileTaker = Callable[[str, bytes], None]


def take_name(file_name: str) -> str:
    """What the take of a dropped file is called: the file's name without its ending.

    >>> take_name("bench 3.wav"), take_name("")
    ('bench 3', 'take')
    """
    return Path(file_name).stem or "take"


class FileDrop(anywidget.AnyWidget):
    """A drop zone that is also a button to choose a file.

    Parameters
    ----------
    on_file : called with the file's name and its bytes when all of it has arrived.
    on_problem : called with a sentence when it did not.
    """

    _esm = HERE / "drop.js"
    _css = HERE / "controls.css"
    label = traitlets.Unicode("drop a recording here, or choose a file").tag(sync=True)
    part_bytes = traitlets.Int(PART_BYTES).tag(sync=True)
    most_bytes = traitlets.Int(MOST_BYTES).tag(sync=True)

    def __init__(self, *, on_file: FileTaker, on_problem: Callable[[str], None]) -> None:
        super().__init__()
        self._arriving = Arriving()
        self._on_file = on_file
        self._on_problem = on_problem
        self.on_msg(self._take)

    def _take(self, _widget: Any, content: Any, buffers: Any) -> None:
        try:
            done = self._arriving.take(content, buffers)
        except LabError as error:
            self._on_problem(str(error))
            return
        if done is not None:
            self._on_file(*done)

    def __repr__(self) -> str:
        return f"FileDrop: {self.label}"


class Arriving:
    """Puts the parts of a file together, and checks that none is missing."""

    def __init__(self) -> None:
        self._name = ""
        self._parts: list[bytes] = []
        self._size = 0

    def take(self, content: Any, buffers: Any) -> tuple[str, bytes] | None:
        """The file's name and bytes after its last part, else None.

        Raises
        ------
        LabError
            The page said it cannot send the file, or not all of it came.
        """
        kind = content.get("kind")
        if kind == "problem":
            raise LabError(str(content.get("sentence")))
        if kind == "start":
            self._name, self._size = str(content["name"]), int(content["bytes"])
            self._parts = []
        elif kind == "part":
            self._parts.append(bytes(buffers[0]))
        elif kind == "end":
            return self._whole()
        return None

    def _whole(self) -> tuple[str, bytes]:
        whole = b"".join(self._parts)
        self._parts = []
        if len(whole) != self._size:
            raise LabError(
                f"Only {len(whole)} of {self._size} bytes of “{self._name}” arrived; the "
                "connection broke off. Drop the file again."
            )
        return self._name, whole
