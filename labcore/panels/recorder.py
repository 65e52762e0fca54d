"""Record a take inside the lesson, with a click that is set on the clock of the sound card.

The page records and sends what it hears in parts while it is played (`recorder.js`); here the
parts are put together, kept on this computer, and handed on with the times of the clicks. How
late the clicks are heard is measured once per device (`labcore.panels.recorder_delay`); as long
as it is not known, the take carries no clicks and nothing is said about early or late.
"""

import logging
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from labcore.audio import recording_from_samples
from labcore.audio.limits import CALL_RATE_HZ
from labcore.beats import LEAST_TEMPO_BPM, MOST_TEMPO_BPM, NOTE_VALUES
from labcore.errors import LabError
from labcore.model import Recording
from labcore.panels import recorder_delay
from labcore.panels.recorder_delay import find_delay
from labcore.panels.recorder_files import InputSettings, RecordedTake, TakeFolder, device_key
from labcore.panels.recorder_keeping import PartsFolder
from labcore.panels.recorder_parts import MOST_TAKE_S, Arrived, ArrivingTake, gap_words

log = logging.getLogger(__name__)
HERE = Path(__file__).parent
TakeTaker = Callable[[RecordedTake], None]

FIRST_TEMPO_BPM = 72.0  # a good start for practising (common practice, no source)
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
LISTED = 12  # takes shown in the list, newest first
BROKE_OFF_S = 3.0  # a page that records sends a part every second

# Words in the name of an input or output that travels by radio. Its delay changes from one
# minute to the next, so it is not measured.
BY_RADIO = re.compile(r"bluetooth|hands.?free|\bhfp\b|\bhsp\b|\ba2dp\b|wireless", re.I)
LATE_OUTPUT_S = 0.12  # a page that says so of its own sound plays it by radio, or as if

CONSENT = (
    "Recordings stay on this computer; nothing is sent anywhere. Before you record somebody else, "
    "ask them. For anyone under age, ask a parent or guardian as well, and delete the take when "
    "they say so."
)
NOT_CALIBRATED = (
    "Early and late are not shown: how late this computer plays and records has not been "
    "measured. Everything else is. Press “measure the delay” once."
)
RADIO = (
    "This sound travels by radio (such as Bluetooth), which is late by an amount that changes. "
    "Early and late are switched off; use a cable for them. Speed, width and the way home are "
    "measured as ever."
)
CALL_MODE = (
    "The microphone works as in a phone call ({rate:g} kHz): high partials are missing. Use the "
    "built-in or a wired microphone."
)
PROCESSED = (
    "The computer still changes the sound (echo, noise or level control stays on), which bends "
    "loudness and may cut quiet notes. Switch such effects off in the sound settings."
)


def _joined(*names: str) -> str:
    """Files of this folder as one text: a page takes one script and one style from a widget."""
    return "\n".join((HERE / name).read_text(encoding="utf-8") for name in names)


class Recorder(anywidget.AnyWidget):
    """Records one take after another.

    Parameters
    ----------
    on_take : called with every take that was recorded, or chosen from the list.
    folder : where takes are kept; the user's own data folder unless given.

    >>> recorder = Recorder(on_take=print, folder=Path("nowhere"))
    >>> recorder.tempo_bpm, recorder.cycles_per_beat
    (72.0, 3)
    """

    _esm = _joined("recorder_line.js", "recorder_sound.js", "recorder_take.js", "recorder.js")
    _css = _joined("controls.css", "recorder.css")
    listener = traitlets.Unicode(_joined("recorder_listener.js")).tag(sync=True)
    tempo_bpm = traitlets.Float(FIRST_TEMPO_BPM, min=LEAST_TEMPO_BPM, max=MOST_TEMPO_BPM).tag(
        sync=True
    )
    cycles_per_beat = traitlets.Int(3, min=0, max=max(NOTE_VALUES)).tag(sync=True)  # 0: any
    beats_per_bar = traitlets.Int(4, min=1, max=12).tag(sync=True)
    bars = traitlets.Int(4, min=1, max=32).tag(sync=True)
    most_take_s = traitlets.Float(MOST_TAKE_S).tag(sync=True)
    note_values = traitlets.List(traitlets.Unicode(), list(NOTE_VALUES.values())).tag(sync=True)
    consent = traitlets.Unicode(CONSENT).tag(sync=True)
    probe = traitlets.Dict(
        {
            "low_hz": recorder_delay.SWEEP_LOW_HZ,
            "high_hz": recorder_delay.SWEEP_HIGH_HZ,
            "length_s": recorder_delay.SWEEP_S,
            "clicks": recorder_delay.CLICKS,
            "every_s": recorder_delay.CLICK_EVERY_S,
            "after_s": recorder_delay.MOST_DELAY_S + 0.1,
        }
    ).tag(sync=True)
    takes = traitlets.List(traitlets.Dict()).tag(sync=True)
    unfinished = traitlets.List(traitlets.Dict()).tag(sync=True)

    def __init__(self, *, on_take: TakeTaker, folder: Path | None = None) -> None:
        super().__init__()
        self._on_take = on_take
        self.folder = TakeFolder(folder)
        self._on_disk = PartsFolder(self.folder.folder)
        self._arriving: dict[str, ArrivingTake] = {}
        self._last_s: dict[str, float] = {}  # when a part of it last came
        self._list_takes()
        self.on_msg(self._answer)

    def __repr__(self) -> str:
        return f"Recorder: {len(self.takes)} takes in the list"

    # --- what comes from the page ---------------------------------------------------------------

    def _answer(self, _widget: Any, content: Any, buffers: Any) -> None:
        try:
            self.receive(content, buffers)
        except LabError as problem:
            self._say(str(problem), problem=True)
        except Exception as problem:
            log.exception("the recorder met something unexpected")
            self._say(
                f"Something went wrong that should not ({type(problem).__name__}: {problem}). "
                "Record again; takes in the list are safe.",
                problem=True,
            )

    def receive(self, content: Mapping[str, Any], buffers: Any = ()) -> None:
        """Act on one message of the page.

        Raises
        ------
        LabError
            What it asks for cannot be done.
        """
        kind = content.get("kind")
        if kind in ("open", "drop", "choose", "forget"):
            self.send({"kind": "heard"})  # at once: what is asked for may take seconds
        if kind == "part":
            self._take_part(content, buffers[0])
        elif kind in ("start", "end", "drop", "open"):
            getattr(self, f"_{kind}")(content, str(content.get("take", "")))
        elif kind == "hello":
            self._offer_broken()
        elif kind == "input":
            self._tell_input(_settings(content))
        elif kind == "choose":
            self._on_take(self.folder.load(str(content["name"])))
        elif kind == "forget":
            self.folder.forget(str(content["name"]))
            self._list_takes()

    def _start(self, content: Mapping[str, Any], take: str) -> None:
        self._arriving[take] = ArrivingTake(content)
        self._last_s[take] = time.monotonic()
        self.unfinished = [broken for broken in self.unfinished if broken["take"] != take]
        if content.get("purpose") != "delay":
            self._on_disk.begin(take, content)

    def _take_part(self, content: Mapping[str, Any], data: Any) -> None:
        take = str(content["take"])
        arriving = self._arriving.get(take)
        if arriving is None:  # this computer was started anew while the page went on
            self.send({"kind": "unknown", "take": take})
            return
        number, first = int(content["number"]), int(content["first"])
        arriving.take_part(number, first=first, data=data)
        arriving.told["click_s"] = content.get("click_s", [])
        self._last_s[take] = time.monotonic()
        part = {"number": number, "first": first, "click_s": arriving.told["click_s"]}
        self._on_disk.add(take, part, data=bytes(data))

    def _end(self, content: Mapping[str, Any], take: str) -> None:
        arriving = self._arriving.get(take)
        if arriving is None:
            self.send({"kind": "unknown", "take": take})
            return
        lost = arriving.missing(int(content["parts"]))
        if lost and not content.get("is_last_try"):
            self.send({"kind": "again", "take": take, "parts": list(lost)})
            return
        self.send({"kind": "have", "take": take})
        self._close(take, lambda: arriving.whole(content))

    def _open(self, _content: Mapping[str, Any], take: str) -> None:
        """Open what arrived of a take that broke off."""
        arriving = self._arriving.get(take) or self._on_disk.load(take)
        self._close(take, arriving.so_far)

    def _drop(self, _content: Mapping[str, Any], take: str) -> None:
        self._forget_arriving(take)
        self._on_disk.forget(take)

    def _close(self, take: str, arrived: Callable[[], Arrived]) -> None:
        """Make a take of what arrived; its parts stay on disk until the take is kept there."""
        self._forget_arriving(take)
        try:
            is_done = self._finish(arrived())
        except LabError:
            self._on_disk.forget(take)  # nothing can be made of it
            raise
        if is_done:
            self._on_disk.forget(take)

    def _forget_arriving(self, take: str) -> None:
        self._arriving.pop(take, None)
        self._last_s.pop(take, None)
        self.unfinished = [broken for broken in self.unfinished if broken["take"] != take]

    def _offer_broken(self) -> None:
        """Takes that stopped coming: the page was closed, its connection lost, Python stopped."""
        now = time.monotonic()
        broken: list[tuple[str, datetime | None, float]] = [
            (take, None, arriving.duration_s)
            for take, arriving in self._arriving.items()
            if now - self._last_s[take] > BROKE_OFF_S
        ]
        broken += [
            (left.take, left.began, left.duration_s)
            for left in self._on_disk.left_over()
            if left.take not in self._arriving and left.quiet_s > BROKE_OFF_S
        ]
        self.unfinished = [
            {"take": take, "words": broke_off_words(duration_s, began=began)}
            for take, began, duration_s in broken
            if duration_s > 0.0
        ]

    # --- what becomes of it ---------------------------------------------------------------------

    def _finish(self, arrived: Arrived) -> bool:
        """Hand a take on; whether it is kept on this computer, or is nothing to keep."""
        if arrived.told.get("purpose") == "delay":
            self._measure_delay(arrived)
            return True
        take = self._recorded(arrived)
        try:
            name = self.folder.keep(take)
        except LabError as problem:
            self._say(str(problem), problem=True)
            self._on_take(take)
            return False
        take = replace(take, name=name, recording=_renamed(take.recording, name=name))
        self._list_takes()
        self._say(f"Recorded {take.recording.duration_s:.0f} s, kept on this computer.")
        self._on_take(take)
        return True

    def _recorded(self, arrived: Arrived) -> RecordedTake:
        """The take as a record, with everything a player should know about it."""
        told, settings = arrived.told, _settings(arrived.told)
        click_s = tuple(float(time_s) for time_s in told.get("click_s", ()))
        delay = None if is_by_radio(settings) else self.folder.delay(device_key(settings))
        recording = recording_from_samples(
            arrived.samples, sample_rate_hz=arrived.sample_rate_hz, name="recorded take"
        )
        own = [gap_words(arrived.gaps), PROCESSED if settings.is_processed else ""]
        if not arrived.is_whole:
            own.append("The take broke off; this is what arrived of it.")
        if click_s and delay is None:
            own.append(RADIO if is_by_radio(settings) else NOT_CALIBRATED)
        recording = replace(recording, warnings=(*recording.warnings, *filter(None, own)))
        return RecordedTake(
            recording,
            settings,
            click_s=click_s,
            tempo_bpm=float(told["tempo_bpm"]) if click_s else None,
            cycles_per_beat=int(told.get("cycles_per_beat") or 0) or None if click_s else None,
            beats_per_bar=int(told.get("beats_per_bar", 4)),
            delay_s=delay.delay_s if delay else None,
            delay_spread_s=delay.spread_s if delay else 0.0,
            gaps=arrived.gaps,
        )

    def _measure_delay(self, arrived: Arrived) -> None:
        settings = _settings(arrived.told)
        if is_by_radio(settings):
            raise LabError(RADIO)
        if arrived.gaps or not arrived.is_whole:
            raise LabError("Some of the sound was lost on the way. Measure the delay again.")
        found = find_delay(
            arrived.samples,
            sample_rate_hz=arrived.sample_rate_hz,
            click_s=arrived.told["click_s"],
        )
        self.folder.remember_delay(device_key(settings), found)
        self._tell_input(settings)
        self._say(
            f"The delay is {1000 * found.delay_s:.1f} ms, alike for all clicks to "
            f"{max(1000 * found.spread_s, 0.1):.1f} ms. It is remembered for this input. Measure "
            "it again when you plug in something else. Now put your headphones on for the take."
        )

    # --- what the page is told ------------------------------------------------------------------

    def _tell_input(self, settings: InputSettings) -> None:
        radio = is_by_radio(settings)
        delay = None if radio else self.folder.delay(device_key(settings))
        words = [PROCESSED] if settings.is_processed else []
        rate_hz = settings.track_rate_hz or settings.sample_rate_hz
        if 0.0 < rate_hz <= CALL_RATE_HZ:
            words.append(CALL_MODE.format(rate=rate_hz / 1000.0))
        if radio:
            words.append(RADIO)
        elif delay is None:
            words.append(NOT_CALIBRATED)
        else:
            delay_ms = 1000 * delay.delay_s
            words.append(f"Delay measured: {delay_ms:.1f} ms. Early and late can be told.")
        self.send(
            {
                "kind": "input",
                "words": words,
                "radio": radio,
                "delay_s": delay.delay_s if delay else 0.0,
            }
        )

    def _say(self, text: str, *, problem: bool = False) -> None:
        self.send({"kind": "say", "text": text, "problem": problem})

    def _list_takes(self) -> None:
        self.takes = [
            {"name": name, "words": take_name_words(name)} for name in self.folder.names()[:LISTED]
        ]


def is_by_radio(settings: InputSettings) -> bool:
    """Whether the sound comes or goes by radio, as far as a page can tell."""
    if BY_RADIO.search(settings.label) or BY_RADIO.search(settings.output_label):
        return True
    if settings.track_rate_hz is not None and 0 < settings.track_rate_hz <= CALL_RATE_HZ:
        return True  # a headset in call mode
    return settings.output_delay_s is not None and settings.output_delay_s > LATE_OUTPUT_S


def take_name_words(name: str) -> str:
    """When a take was recorded, from the name of its file.

    >>> take_name_words("take-20260304-181502-0a1b")
    '4 March 2026, 18:15'
    """
    _, day, clock, _ = name.split("-")
    month = MONTHS[int(day[4:6]) - 1]
    return f"{int(day[6:])} {month} {day[:4]}, {clock[:2]}:{clock[2:4]}"


def broke_off_words(duration_s: float, *, began: datetime | None) -> str:
    """What a reader is told of a take that stopped arriving.

    >>> broke_off_words(3.2, began=datetime(2026, 3, 4, 18, 15))
    'A take of 4 March 2026, 18:15 broke off after 3 s; what arrived until then is safe.'
    """
    of = "" if began is None else f" of {began.day} {MONTHS[began.month - 1]} {began:%Y, %H:%M}"
    return f"A take{of} broke off after {duration_s:.0f} s; what arrived until then is safe."


def _renamed(recording: Recording, *, name: str) -> Recording:
    return replace(recording, name=take_name_words(name))


def _settings(told: Mapping[str, Any]) -> InputSettings:
    """What the page said about the input; anything it did not say stays unknown."""
    given = told.get("input") or {}
    return InputSettings(
        label=str(given.get("label") or "")[:200],
        output_label=str(given.get("output_label") or "")[:200],
        sample_rate_hz=float(told.get("rate_hz") or 0.0),
        track_rate_hz=_number(given.get("track_rate_hz")),
        echo_cancellation=_flag(given.get("echo_cancellation")),
        noise_suppression=_flag(given.get("noise_suppression")),
        gain_control=_flag(given.get("gain_control")),
        output_delay_s=_number(given.get("output_delay_s")),
    )


def _number(given: Any) -> float | None:
    return float(given) if isinstance(given, int | float) else None


def _flag(given: Any) -> bool | None:
    return given if isinstance(given, bool) else None
