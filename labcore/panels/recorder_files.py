"""Takes that were recorded, and delays that were measured, in the user's own data folder.

A take is a FLAC file with a JSON file of the same name beside it: what the player chose, the
times of the clicks, the settings of the input, the gaps. Nothing leaves the computer.
"""

import json
import os
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from secrets import token_hex
from typing import Any

import numpy as np
from platformdirs import user_data_path

from labcore.audio import flac_bytes, load_recording
from labcore.errors import LabError
from labcore.model import ClickSource, ClickTrack, Recording
from labcore.panels.recorder_delay import Delay
from labcore.panels.recorder_parts import Gap

OWNER_ONLY_FILE, OWNER_ONLY_FOLDER = 0o600, 0o700
SAFE_NAME = re.compile(
    r"take-[0-9]{4}(0[1-9]|1[0-2])[0-9]{2}-[0-9]{6}-[0-9a-f]{4}"
)  # no sign any system forbids
FORM = 1  # of the JSON file


@dataclass(frozen=True, slots=True)
class InputSettings:
    """The input as the page reported it after it was opened."""

    label: str = ""
    output_label: str = ""
    sample_rate_hz: float = 0.0
    track_rate_hz: float | None = None  # of the microphone itself, where the page knows it
    echo_cancellation: bool | None = None  # None: the page does not say
    noise_suppression: bool | None = None
    gain_control: bool | None = None
    output_delay_s: float | None = None  # what the page believes its own sound to be late by

    @property
    def is_processed(self) -> bool:
        """Whether the computer still cleans or levels the sound."""
        return any((self.echo_cancellation, self.noise_suppression, self.gain_control))


@dataclass(frozen=True, slots=True, eq=False)
class RecordedTake:
    """A take from the recorder, with what was chosen and known when it was played.

    ``click_s`` are the times the clicks were sent, in seconds of the recording; the player heard
    them, and the microphone heard the player, later by ``delay_s``, if that was measured.
    """

    recording: Recording
    settings: InputSettings
    click_s: tuple[float, ...] = ()
    tempo_bpm: float | None = None
    cycles_per_beat: int | None = None
    beats_per_bar: int = 4
    delay_s: float | None = None
    delay_spread_s: float = 0.0
    gaps: tuple[Gap, ...] = ()
    name: str = ""  # of the files

    @property
    def clicks(self) -> ClickTrack | None:
        """Where the clicks lie for the player; None when the way there and back is not known."""
        if self.delay_s is None or len(self.click_s) < 2:
            return None
        times = np.array(self.click_s) + self.delay_s
        return ClickTrack(times, ClickSource.KNOWN, self.delay_spread_s)


def default_folder() -> Path:
    """Where takes are kept unless another place is given."""
    return user_data_path("vibrato-lessons", appauthor=False) / "takes"


class TakeFolder:
    """Recorded takes and measured delays on this computer; the folder is made when needed."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = default_folder() if folder is None else Path(folder)

    # --- takes ----------------------------------------------------------------------------------

    def names(self) -> list[str]:
        """Names of the takes, newest first."""
        found = (path.stem for path in self.folder.glob("take-*.flac"))
        return sorted((name for name in found if SAFE_NAME.fullmatch(name)), reverse=True)

    def keep(self, take: RecordedTake, *, now: datetime | None = None) -> str:
        """Write a take and return its name.

        Raises
        ------
        LabError
            The folder cannot be written.
        """
        moment = datetime.now().astimezone() if now is None else now
        name = f"take-{moment:%Y%m%d-%H%M%S}-{token_hex(2)}"
        told = {"form": FORM, "recorded": moment.isoformat(timespec="seconds"), **_told(take)}
        self._write(f"{name}.flac", flac_bytes(take.recording))
        self._write(f"{name}.json", json.dumps(told, indent=1, allow_nan=False).encode())
        return name

    def load(self, name: str) -> RecordedTake:
        """A take kept before, with what was known about it.

        Raises
        ------
        LabError
            There is no such take, or its files were damaged.
        """
        self._check(name)
        recording = load_recording(self.folder / f"{name}.flac", name=name)
        try:
            told = json.loads((self.folder / f"{name}.json").read_text(encoding="utf-8"))
            return _from_told(told, recording=recording, name=name)
        except (OSError, ValueError, KeyError, TypeError):
            # The sound is what matters; without its note it is a take like any dropped file.
            return RecordedTake(recording, InputSettings(), name=name)

    def forget(self, name: str) -> None:
        """Delete a take and its note."""
        self._check(name)
        for ending in ("flac", "json"):
            (self.folder / f"{name}.{ending}").unlink(missing_ok=True)

    def _check(self, name: str) -> None:
        if name not in self.names():
            raise LabError(
                f"There is no take called “{name:.60}” any more; choose one of the list."
            )

    # --- delays ---------------------------------------------------------------------------------

    def delay(self, device: str) -> Delay | None:
        """What was measured for a device, by `device_key`; None when nothing was."""
        try:
            return Delay(**self._delays()[device])
        except (KeyError, TypeError):
            return None

    def remember_delay(self, device: str, delay: Delay) -> None:
        """Keep what was measured for a device."""
        known = {**self._delays(), device: asdict(delay)}
        self._write("delays.json", json.dumps(known, indent=1, allow_nan=False).encode())

    def _delays(self) -> dict[str, Any]:
        try:
            known = json.loads((self.folder / "delays.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return known if isinstance(known, dict) else {}

    def _write(self, name: str, data: bytes) -> None:
        """A file only its owner may read, whole or not at all."""
        partial = self.folder / f"{name}.{token_hex(4)}.part"
        try:
            self.folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
            handle = os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY_FILE)
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            partial.replace(self.folder / name)
        except OSError as error:
            with suppress(OSError):
                partial.unlink(missing_ok=True)
            raise LabError(
                f"The take cannot be kept in {self.folder} ({error.strerror}). Make room there, "
                "or give another folder; the take can still be looked at now."
            ) from error


def device_key(settings: InputSettings) -> str:
    """What a measured delay belongs to: input and output by name, and the sample rate."""
    return f"{settings.label} / {settings.output_label} @ {settings.sample_rate_hz:.0f} Hz"


def _told(take: RecordedTake) -> dict[str, Any]:
    return {
        "clicks_sent_s": list(take.click_s),
        "tempo_bpm": take.tempo_bpm,
        "cycles_per_beat": take.cycles_per_beat,
        "beats_per_bar": take.beats_per_bar,
        "delay_s": take.delay_s,
        "delay_spread_s": take.delay_spread_s,
        "input": asdict(take.settings),
        "gaps": [asdict(gap) for gap in take.gaps],
        "warnings": list(take.recording.warnings),
    }


def _from_told(told: Mapping[str, Any], *, recording: Recording, name: str) -> RecordedTake:
    kept = Recording(
        recording.samples,
        recording.sample_rate_hz,
        name,
        recording.sha256,
        tuple(dict.fromkeys((*told["warnings"], *recording.warnings))),
    )
    return RecordedTake(
        kept,
        InputSettings(**told["input"]),
        click_s=tuple(float(time_s) for time_s in told["clicks_sent_s"]),
        tempo_bpm=told["tempo_bpm"],
        cycles_per_beat=told["cycles_per_beat"],
        beats_per_bar=int(told["beats_per_bar"]),
        delay_s=told["delay_s"],
        delay_spread_s=float(told["delay_spread_s"]),
        gaps=tuple(Gap(**gap) for gap in told["gaps"]),
        name=name,
    )
