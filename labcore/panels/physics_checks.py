"""The two one-minute checks: how much the grip squeezes, and whether the string comes back."""

from pathlib import Path

import ipywidgets as w
import numpy as np

from labcore.analysis import hear
from labcore.audio import load_recording, wav_bytes
from labcore.errors import LabError
from labcore.model import Recording
from labcore.panels.controls import Choice, StatusLine, fold
from labcore.panels.drop import FileDrop, take_name
from labcore.panels.recorder import Recorder
from labcore.panels.recorder_files import RecordedTake
from labcore.panels.sound import Sound
from labcore.physics.checks import (
    compare_plain,
    first_and_last_plain,
    grip_sentence,
    guitar_sentence,
)
from labcore.synthesis import NoteDescription, TakeDescription, synthesise

GRIP, GUITAR = "grip", "guitar"
HOW = {
    GRIP: "Play one fretted note with the least pressure that still sounds clean, two seconds; "
    "then the same note with your usual pressure, two seconds.",
    GUITAR: "Play one fretted note plain, two seconds; push it up by a whole tone and let it back; "
    "pluck again and hold it plain, two seconds.",
}
SENTENCES = {GRIP: grip_sentence, GUITAR: guitar_sentence}
NOTE_HZ = 329.63  # E4, third string, fret 9
SQUEEZE_CENTS, HELD_CENTS = 14.0, -9.0  # what the front desk's two examples have in them


def check_sentence(recording: Recording, *, check: str) -> str:
    """What a recording of two plain notes says about the grip or the guitar."""
    first, last = first_and_last_plain(hear(recording))
    return SENTENCES[check](compare_plain(first, last))


def check_example(check: str) -> Recording:
    """The front desk's example of a check: a squeezing grip, or a nut that holds the string."""
    shift = 2.0 ** ((SQUEEZE_CENTS if check == GRIP else HELD_CENTS) / 1200.0)
    first = NoteDescription(0.3, 2.2, NOTE_HZ)
    bend = NoteDescription(2.6, 1.6, NOTE_HZ, knots=((0.3, 0.0), (0.7, 200.0), (1.3, 0.0)))
    last_s = 2.7 if check == GRIP else 4.4
    last = NoteDescription(last_s, 2.2, NOTE_HZ * shift)
    notes = (first, last) if check == GRIP else (first, bend, last)
    take = TakeDescription(f"front desk: {check} check", last_s + 2.4, notes)
    return synthesise(take, rng=np.random.default_rng(7))[0]


def check_panel(check: str = GRIP, *, folder: Path | None = None) -> w.VBox:
    """Record two plain notes, or drop a recording of them, and read what they say."""
    which = Choice("check", options=[GRIP, GUITAR], value=check)
    how, told = StatusLine(label="how to"), StatusLine(label="what was heard")

    def explain(_change: object = None) -> None:
        how.say(HOW[which.value])
        told.say("")

    def judge(recording: Recording) -> None:
        try:
            told.say(check_sentence(recording, check=which.value))
        except LabError as problem:
            told.say(str(problem), problem=True)

    def taken(name: str, sound: bytes) -> None:
        try:
            judge(load_recording(sound, name=take_name(name)))
        except LabError as problem:
            told.say(str(problem), problem=True)

    def recorded(take: RecordedTake) -> None:
        judge(take.recording)

    def example() -> bytes:
        recording = check_example(which.value)
        judge(recording)
        return wav_bytes(recording)

    drop = FileDrop(on_file=taken, on_problem=lambda words: told.say(words, problem=True))
    which.observe(explain, names="value")
    explain()
    buttons = Sound({"hear the front desk's example": example}, label="listen to an example")
    record = fold("record it here", Recorder(on_take=recorded, folder=folder))
    return w.VBox([which, how, drop, record, buttons, told])
