"""The demo takes of the checkout: every player is a bench of an invented workshop."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labcore.audio import load_recording
from labcore.errors import LabError
from labcore.model import Context, Place, Recording, Task, Technique

FOLDER = Path(__file__).parents[2] / "data_demo"


@dataclass(frozen=True, slots=True)
class DemoTake:
    """One take of the catalogue: where it lies, what was asked, and who played it where."""

    name: str
    title: str
    path: Path
    task: Task
    context: Context

    @property
    def words(self) -> str:
        """What a list of takes shows: the bench, and what the take is about."""
        return f"{self.context.player}: {self.title}" if self.context.player else self.title

    def recording(self) -> Recording:
        """The sound of the take, named after its player."""
        return load_recording(self.path, name=self.context.player or self.name)


def demo_takes(folder: Path = FOLDER) -> tuple[DemoTake, ...]:
    """All takes of the catalogue in their order; empty where there is no demo folder."""
    catalogue = folder / "takes.json"
    if not catalogue.is_file():
        return ()
    rows = json.loads(catalogue.read_text(encoding="utf-8"))
    return tuple(_take(row, folder=folder) for row in rows)


def demo_take(name: str, *, folder: Path = FOLDER) -> DemoTake:
    """The take of that name.

    Raises
    ------
    LabError
        There is no such take.
    """
    found = {take.name: take for take in demo_takes(folder)}
    if name not in found:
        raise LabError(
            f"There is no demo take “{name}”; there are {', '.join(found) or 'none at all'}. "
            "Choose one of these."
        )
    return found[name]


def _take(row: dict[str, Any], *, folder: Path) -> DemoTake:
    asked = row["task"]
    task = Task(
        tempo_bpm=asked["tempo_bpm"],
        cycles_per_beat=asked["cycles_per_beat"],
        technique=Technique(asked["technique"]),
        home=Place(asked["home"]),
    )
    return DemoTake(
        row["name"], row["title"], folder / row["file"], task, Context(**row["context"])
    )
