"""Panels of the page on long looks at fast waves: sliders, and a take of the reader's own."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import ipywidgets as w
import numpy as np

from labcore.analysis import hear, judge
from labcore.audio import load_recording
from labcore.errors import LabError
from labcore.figures.physics_window import (
    widths_figure,
    widths_words,
    window_figure,
    window_words,
)
from labcore.model import Floats, Recording, Report, Task
from labcore.panels.controls import Slider, StatusLine
from labcore.panels.demo import DemoTake, demo_take
from labcore.panels.drop import FileDrop, take_name
from labcore.panels.physics_choice import Drawn, live, panel, side_by_side
from labcore.panels.picture import Picture
from labcore.physics.hearing import Wobble
from labcore.physics.window import median_width_cents, window_reading
from labcore.synthesis import from_dict, pitch_cents

WINDOWS_S = (0.020, 0.046, 0.093)  # short; long enough for low notes; a usual ready-made one
LEAST_WAVES = 4
MARGIN_S = 0.15  # of sound read on both sides of a stretch


def window_panel(*, rate_hz: float = 7.2, window_ms: float = 93.0) -> w.VBox:
    """A wave and the look that reads it: what is left of the width."""
    speed = Slider("speed", value=rate_hz, low=0.5, high=9.0, step=0.1, unit="waves a second")
    width = Slider("width", value=60, low=10, high=120, unit="cents, bottom to top (100 = 1 fret)")
    long = Slider("one look", value=window_ms, low=5, high=120, unit="ms long")

    def draw() -> Drawn:
        wobble = Wobble(rate_hz=speed.value, extent_cents=width.value)
        window_s = long.value / 1e3
        return Drawn(
            window_figure(wobble, window_s=window_s), window_words(wobble, window_s=window_s)
        )

    picture, status = live(draw, controls=[speed, width, long])
    return panel(side_by_side(speed, width, long), picture, status)


# --- a take, read in several ways -------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Some waves of one kind: what they are called, where they lie, and about which pitch."""

    name: str
    waves: tuple[tuple[float, float], ...]
    near_hz: float


def take_widths(
    recording: Recording, report: Report, *, truth: tuple[Floats, Floats] | None = None
) -> tuple[list[str], Mapping[str, list[float | None]]]:
    """Names of a take's stretches, and the width of the waves in each by every reading.

    ``truth`` is the pitch line of a take that was made from a description: seconds and hertz.
    """
    stretches = _stretches(report)
    if not stretches:
        raise LabError(
            f"Fewer than {LEAST_WAVES} waves were heard in this take; a width cannot be compared. "
            "Play a note with more waves."
        )
    contour = report.take.contour
    lines = {"the take itself": truth} if truth else {}
    lines["these lessons"] = (contour.time_s, contour.frequency_hz)
    widths: dict[str, list[float | None]] = {
        name: [median_width_cents(*line, waves=s.waves) for s in stretches]
        for name, line in lines.items()
    }
    for window_s in WINDOWS_S:
        name = f"{1e3 * window_s:.0f} ms looks"
        widths[name] = [_read_width(recording, s, window_s=window_s) for s in stretches]
    return [s.name for s in stretches], widths


def _stretches(report: Report) -> list[_Stretch]:
    """The stretches of one note value each; without a beat all waves are one stretch."""
    cycles = report.cycles
    groups = [(f"{fit.named or '?'} to the click", fit.cycle) for fit in report.stretches]
    if not groups:
        groups = [("all waves", np.arange(len(cycles)))]
    found = []
    for name, numbers in groups:
        chosen = [cycles[int(n)] for n in numbers]
        if len(chosen) < LEAST_WAVES:
            continue
        waves = tuple((cycle.start_s, cycle.end_s) for cycle in chosen)
        speed_hz = 1.0 / float(np.median([end - start for start, end in waves]))
        near_hz = float(np.median([np.sqrt(c.start.hz * c.turn.hz) for c in chosen]))
        found.append(_Stretch(f"{name}<br>{speed_hz:.1f} a second", waves, near_hz))
    return found


def _read_width(recording: Recording, stretch: _Stretch, *, window_s: float) -> float | None:
    """The stretch's width by the plain reader; only its own part of the sound is read."""
    rate = recording.sample_rate_hz
    start = max(0, round((stretch.waves[0][0] - MARGIN_S) * rate))
    part = recording.samples[start : round((stretch.waves[-1][1] + MARGIN_S) * rate)]
    piece = Recording(part, rate, recording.name, recording.sha256)
    time_s, hz = window_reading(piece, near_hz=stretch.near_hz, window_s=window_s)
    return median_width_cents(time_s + start / rate, hz, waves=stretch.waves)


@lru_cache(maxsize=4)  # the page prints what its picture shows
def demo_widths(take: DemoTake) -> tuple[list[str], Mapping[str, list[float | None]]]:
    """`take_widths` of a demo take, the line it was made from among the readings."""
    recording = load_recording(take.path)
    report = judge(hear(recording), take.task, context=take.context)
    return take_widths(recording, report, truth=true_line(take))


def true_line(take: DemoTake) -> tuple[Floats, Floats]:
    """The pitch line a demo take was made from: seconds and hertz, NaN between the notes."""
    plain = json.loads(take.path.with_suffix(".json").read_text(encoding="utf-8"))
    description = from_dict(plain.get("description", plain))
    time_s = np.arange(0.0, description.duration_s, 0.002)
    hz = np.full(time_s.size, np.nan)
    for note in description.notes:
        inside = (time_s >= note.onset_s) & (time_s < note.offset_s)
        cents = pitch_cents(note, time_s[inside] - note.onset_s)
        hz[inside] = note.hz * 2.0 ** (cents / 1200.0)
    return time_s, hz


def own_take_panel(*, demo: str = "desk_ladder") -> w.VBox:
    """A demo take read in several ways; drop one of your own to see the same of it."""
    names, widths = demo_widths(demo_take(demo))
    picture = Picture(widths_figure(names, widths), words=widths_words(names, widths))
    status = StatusLine(label="remark")

    def taken(name: str, sound: bytes) -> None:
        status.say(f"Listening to {name}")
        try:
            recording = load_recording(sound, name=take_name(name))
            found, read = take_widths(recording, judge(hear(recording), Task()))
        except LabError as problem:
            status.say(str(problem), problem=True)
            return
        status.say(f"{recording.name}: what it really was is not known; compare the readings.")
        picture.show(widths_figure(found, read), words=widths_words(found, read))

    drop = FileDrop(on_file=taken, on_problem=lambda words: status.say(words, problem=True))
    return panel(picture, drop, status)
