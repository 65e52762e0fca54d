"""Where the bytes come from: a path, bytes, or something that can be read like a file."""

import io
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Protocol

from labcore.audio import limits
from labcore.errors import LabError

Given = str | os.PathLike[str] | bytes | bytearray | memoryview | BinaryIO


class _Held(Protocol):
    def read(self, size: int = -1, /) -> bytes: ...


@dataclass(frozen=True, slots=True)
class Source:
    """Bytes that can be read from the start as often as needed."""

    name: str
    what: str  # how a sentence calls it
    size: int
    stream: BinaryIO
    is_ours: bool = False  # opened here, so to be closed here


class SteadyReader(io.RawIOBase):
    """A file as decoders want it: a seek off either end lands on the end, and nothing is raised.

    Decoders call these from C, where an exception would be printed and lost. It leaves the file
    itself open when it is closed.
    """

    def __init__(self, stream: BinaryIO, *, size: int) -> None:
        self._stream = stream
        self._size = size
        self._place = 0
        self._lost = False  # the file could not be read on: it may have been unplugged

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._place

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        start = {os.SEEK_SET: 0, os.SEEK_CUR: self._place, os.SEEK_END: self._size}.get(whence, 0)
        self._place = min(max(start + offset, 0), self._size)
        return self._place

    def read(self, size: int | None = -1) -> bytes:
        left = self._size - self._place
        wanted = left if size is None or size < 0 else min(size, left)
        if self._lost or wanted <= 0:
            return b""
        try:
            self._stream.seek(self._place)
            part = self._stream.read(wanted)
        except (OSError, ValueError):
            self._lost = True
            return b""
        self._place += len(part)
        return part

    def readinto(self, buffer: Any) -> int:
        part = self.read(len(buffer))
        buffer[: len(part)] = part
        return len(part)


def open_source(given: Given, *, name: str | None = None) -> Source:
    """The bytes behind ``given``; close ``stream`` only if it was opened here (a path).

    ``name`` is what a sentence calls bytes or a file that cannot say its own name.

    Raises
    ------
    LabError
        No such file, a folder, nothing in it, not readable, not something that holds bytes.
    """
    if isinstance(given, bytes | bytearray | memoryview):
        stream = io.BytesIO(bytes(given))
        what = f"“{name:.200}”" if name else "The sound"
        source = Source("take", what, len(stream.getbuffer()), stream)
    elif isinstance(given, str | os.PathLike):
        source = _from_path(given)
    elif hasattr(given, "read"):
        source = _from_file(given)
    else:
        raise LabError(
            f"A recording was asked for from {type(given).__name__}; give the path of a file, its "
            "bytes, or an open file."
        )
    if source.size == 0:
        if source.is_ours:
            source.stream.close()
        raise LabError(f"{source.what} is empty (0 bytes); record or copy it again.")
    return source


def _from_path(given: str | os.PathLike[str]) -> Source:
    try:
        path = Path(os.fsdecode(given))
        if path.is_dir():
            raise LabError(f"“{path.name}” is a folder; give one sound file in it.")
        if not path.is_file():
            raise LabError(
                f"There is no file “{path}”; check the name and the folder."
                if not path.exists()
                else f"“{path.name}” is not a file that can be read; give a sound file."
            )
        stream = path.open("rb")
        return Source(path.stem, f"“{path.name}”", path.stat().st_size, stream, is_ours=True)
    except (OSError, ValueError, TypeError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise LabError(
            f"“{given!s:.200}” cannot be opened ({reason}); check its name, and that you may "
            "read it."
        ) from error


def _from_file(given: Any) -> Source:
    name = getattr(given, "name", None)
    name = Path(name).stem if isinstance(name, str) and name else "take"
    try:
        if given.seekable():
            size = given.seek(0, os.SEEK_END)
            given.seek(0)
            if not isinstance(given.read(1), bytes):
                raise LabError("The file was opened as text; open it for bytes (mode “rb”).")
            return Source(name, "The file", size, given)
    except (OSError, ValueError, TypeError) as error:
        raise LabError(f"The file cannot be read ({error}); open it again.") from error
    except AttributeError:
        pass  # something that can only be read, like the body of a request
    return _read_whole(given, name=name)


def _read_whole(given: _Held, *, name: str) -> Source:
    held = io.BytesIO()
    with suppress(EOFError):
        while len(part := _part(given)) > 0:
            held.write(part)
            if held.tell() > limits.MOST_UNSEEKABLE_BYTES:
                raise LabError(
                    f"More than {limits.MOST_UNSEEKABLE_BYTES // 2**20} MB came in a stream; save "
                    "it as a file and give its path."
                )
    return Source(name, "The sound", held.tell(), held)


def _part(given: _Held) -> bytes:
    try:
        part = given.read(2**20)
    except Exception as error:  # whatever the stream of somebody else raises
        raise LabError(f"The sound cannot be read ({error}); save it as a file first.") from error
    if part is None or isinstance(part, bytes):
        return part or b""
    raise LabError("The stream gives text; open it for bytes (mode “rb”).")
