"""Parts of a take on disk as they arrive: a stopped Python or a closed page loses none of them.

One file a take, deleted when the take is whole and kept: a line of JSON with what the page said at
the start, then for every part a line of JSON and its samples. A file that ends in the middle of a
part is read up to that part.
"""

import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from time import time
from typing import Any, BinaryIO

from labcore.errors import LabError
from labcore.panels.recorder_parts import MOST_PART_BYTES, SAMPLE_BYTES, ArrivingTake

FORM = 1  # of the file
OWNER_ONLY_FILE, OWNER_ONLY_FOLDER = 0o600, 0o700
MOST_LINE_BYTES = 1024 * 1024  # a line of JSON; the clicks of ten minutes are far fewer


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A take that stopped arriving before it was whole."""

    take: str
    began: datetime | None
    duration_s: float
    quiet_s: float  # since its last part came


class PartsFolder:
    """The files of takes on their way, beside the takes that are kept.

    Nothing here raises for a disk that is full or may not be written: the take is in memory too.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def begin(self, take: str, told: Mapping[str, Any]) -> None:
        """Start the file of a take anew, with what the page said about it."""
        began = datetime.now().astimezone().isoformat(timespec="seconds")
        line = _line({"form": FORM, "take": take, "began": began, "told": dict(told)})
        try:
            self.folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
            flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC
            with os.fdopen(os.open(self._path(take), flags, OWNER_ONLY_FILE), "wb") as file:
                file.write(line)
        except OSError:
            return

    def add(self, take: str, told: Mapping[str, Any], *, data: bytes) -> None:
        """Append a part; nothing where its file was not begun, or was thrown away elsewhere."""
        try:
            with self._path(take).open("r+b") as file:
                file.seek(0, os.SEEK_END)
                file.write(_line({**told, "bytes": len(data)}) + data)
        except OSError:
            return

    def forget(self, take: str) -> None:
        """Delete the file of a take."""
        try:
            self._path(take).unlink(missing_ok=True)
        except OSError:
            return

    def left_over(self) -> list[LeftOver]:
        """All takes that have a file, oldest first; a file that cannot be read is left alone."""
        found = (self._left_over(path) for path in sorted(self.folder.glob("arriving-*.parts")))
        return sorted((one for one in found if one), key=lambda one: -one.quiet_s)

    def _left_over(self, path: Path) -> LeftOver | None:
        try:
            with path.open("rb") as file:
                start = _start(file)
                rate_hz = ArrivingTake(start["told"]).sample_rate_hz
                ends = [_end_frame(told) for told, _ in _parts(file, with_data=False)]
            quiet_s = time() - path.stat().st_mtime
            began = datetime.fromisoformat(start["began"])
        except (OSError, ValueError, KeyError, TypeError, LabError):
            return None
        return LeftOver(str(start["take"]), began, max(ends, default=0) / rate_hz, quiet_s)

    def load(self, take: str) -> ArrivingTake:
        """What is on disk of a take, as if it had just arrived.

        Raises
        ------
        LabError
            There is no such file, or nothing in it can be used.
        """
        try:
            with self._path(take).open("rb") as file:
                arriving = ArrivingTake(_start(file)["told"])
                for told, data in _parts(file, with_data=True):
                    arriving.take_part(int(told["number"]), first=int(told["first"]), data=data)
                    arriving.told["click_s"] = told.get("click_s", [])
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise LabError(
                "What arrived of this take can no longer be read. Throw it away and record again."
            ) from error
        return arriving

    def _path(self, take: str) -> Path:
        # The page chose the name of the take; a file is named by what no system refuses.
        return self.folder / f"arriving-{sha256(take.encode()).hexdigest()[:20]}.parts"


def _line(told: Mapping[str, Any]) -> bytes:
    return json.dumps(told, allow_nan=False).encode() + b"\n"


def _start(file: BinaryIO) -> dict[str, Any]:
    start = json.loads(file.readline(MOST_LINE_BYTES))
    if start["form"] != FORM:
        raise ValueError("another form of file")
    return dict(start)


def _end_frame(told: Mapping[str, Any]) -> int:
    return int(told["first"]) + int(told["bytes"]) // SAMPLE_BYTES


def _parts(file: BinaryIO, *, with_data: bool) -> Iterator[tuple[dict[str, Any], bytes]]:
    """The parts that are whole, in the order they came; without their samples where not needed."""
    here, size = file.tell(), file.seek(0, os.SEEK_END)
    file.seek(here)
    while line := file.readline(MOST_LINE_BYTES):
        if not line.endswith(b"\n"):
            return
        told = json.loads(line)
        length = int(told["bytes"])
        if not 0 <= length <= MOST_PART_BYTES or file.tell() + length > size:
            return
        if with_data:
            yield told, file.read(length)
        else:
            file.seek(length, os.SEEK_CUR)
            yield told, b""
