"""A take to listen to, with a line running through the pictures while it sounds."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from uuid import uuid4

import anywidget
import traitlets

from labcore.audio import wav_bytes
from labcore.model import Recording

HERE = Path(__file__).parent
LONGEST_SOUND_S = 600.0  # a longer take is shown, but not sent to the page to be played
PLAY = "play the take"


def take_sounds(recording: Recording) -> dict[str, bytes]:
    """A take as `Player.load` has it; nothing where it is too long for the page."""
    return {} if recording.duration_s > LONGEST_SOUND_S else {PLAY: wav_bytes(recording)}


class Player(anywidget.AnyWidget):
    """Plays a take: whole or one stretch round and round, at full or half speed.

    Half speed keeps the pitch. Pictures whose ``player`` is this player's `voice` show where it
    is, moved by the page itself; pressing on such a picture goes there.
    """

    _esm = HERE / "player.js"
    _css = HERE / "controls.css"
    labels = traitlets.List(traitlets.Unicode()).tag(sync=True)
    sounds = traitlets.List(traitlets.Bytes()).tag(sync=True)
    voice = traitlets.Unicode().tag(sync=True)  # the name by which pictures follow this player
    stretch_labels = traitlets.List(traitlets.Unicode()).tag(sync=True)
    stretch_s = traitlets.List(traitlets.List(traitlets.Float())).tag(sync=True)

    def __init__(self, sounds: Mapping[str, bytes] | None = None) -> None:
        super().__init__(voice=uuid4().hex)
        self.load(sounds or {})

    def load(self, sounds: Mapping[str, bytes]) -> None:
        """Take other sounds: words on the button, and the sound file's bytes."""
        with self.hold_sync():
            self.labels = list(sounds)
            self.sounds = list(sounds.values())

    def play(self, label: str) -> None:
        """Start one of the sounds, by the words on its button."""
        self.send({"play": self.labels.index(label)})

    def offer_stretches(self, stretches: Sequence[tuple[str, float, float]]) -> None:
        """Say what may be played round and round: name, start and end in seconds."""
        with self.hold_sync():
            self.stretch_labels = [name for name, _, _ in stretches]
            self.stretch_s = [[float(start), float(end)] for _, start, end in stretches]

    def __repr__(self) -> str:
        return f"Player: {', '.join(self.labels) or 'nothing yet'}"
