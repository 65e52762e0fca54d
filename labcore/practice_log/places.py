"""Where the log lives, and who may read it."""

import os
import re
from pathlib import Path

from platformdirs import user_data_path

from labcore.errors import LabError

FILE_NAME = "practice-log.sqlite"
TAKE_KEY = re.compile(r"[0-9a-f-]{1,64}")  # also the name of its sound: no sign leads elsewhere
OWNER_ONLY_FILE = 0o600
OWNER_ONLY_FOLDER = 0o700


def default_path() -> Path:
    """The log's place in the user's data folder."""
    return user_data_path("vibrato-lessons", appauthor=False) / FILE_NAME


def private_folder(folder: Path) -> None:
    """Make the folder, for its owner only, unless it is there already."""
    try:
        folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
    except OSError as error:
        raise LabError(
            f"The folder {folder} for the practice log cannot be made ({error.strerror}). "
            "Choose another place for it."
        ) from error


def private_file(path: Path, *, fresh: bool = False) -> None:
    """Make an empty file that only its owner may read; ``fresh`` refuses one that is there."""
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | (os.O_EXCL if fresh else 0), 0o600)
        os.close(handle)
        path.chmod(OWNER_ONLY_FILE)
    except FileExistsError as error:
        raise LabError(
            f"There is a file called {path.name} already. Choose another name; nothing was "
            "written over."
        ) from error
    except OSError as error:
        raise LabError(
            f"The file {path} cannot be written ({error.strerror}). Choose another place for it."
        ) from error


def sound_folder(path: Path) -> Path:
    """The folder beside the log in which sound is kept, if any is."""
    return path.with_name(path.stem + "-sounds")


def backups(path: Path) -> list[Path]:
    """Copies made before the log was brought to a newer form."""
    return sorted(path.parent.glob(f"{_escaped(path.name)}.before-*"))


def backup_path(path: Path, *, version: int) -> Path:
    """Where the copy of a log of this version is put."""
    return path.with_name(f"{path.name}.before-{version + 1}")


def _escaped(name: str) -> str:
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)
