"""A standard MIDI file, written by hand: header, tempo track, and tracks of events.

Format 1 of the Standard MIDI File; `TICKS_PER_BEAT` divides by every note value we use.
Pitch bend is 14 bits around 8192 over two semitones (MIDI 1.0's default range, also written
out as registered parameter 0).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from labcore.errors import LabError
from labcore.model import Floats, Ints

TICKS_PER_BEAT = 960
BEND_CENTRE, BEND_MOST = 8192, 16383
BEND_RANGE_CENTS = 200.0


@dataclass(frozen=True, slots=True)
class MidiEvent:
    """Bytes of one message and when it is due; of those at one tick the lower ``order``
    comes first, then those given first."""

    tick: int
    order: int
    message: bytes


def variable_length(value: int) -> bytes:
    """A number in seven-bit groups, as MIDI files write times and lengths.

    >>> variable_length(127).hex(), variable_length(128).hex(), variable_length(0x0FFFFFFF).hex()
    ('7f', '8100', 'ffffff7f')
    """
    if not 0 <= value <= 0x0FFFFFFF:
        raise LabError(f"{value} does not fit into a MIDI file; make the track shorter.")
    groups = [value & 0x7F]
    while value := value >> 7:
        groups.append(0x80 | (value & 0x7F))
    return bytes(reversed(groups))


def meta(kind: int, content: bytes) -> bytes:
    """A meta event: text, tempo, time signature, marker."""
    return bytes([0xFF, kind]) + variable_length(len(content)) + content


def text(kind: int, words: str) -> bytes:
    """A text meta event; what is not Latin-1 becomes a question mark."""
    return meta(kind, words.encode("latin-1", errors="replace"))


def tempo(tempo_bpm: float) -> bytes:
    """Microseconds a beat."""
    return meta(0x51, round(60e6 / tempo_bpm).to_bytes(3, "big"))


def time_signature(beats_per_bar: int) -> bytes:
    """So many quarters a bar, a click each."""
    return meta(0x58, bytes([beats_per_bar, 2, 24, 8]))


def note_pair(
    number: int, *, channel: int, velocity: int, tick: int, ticks: int
) -> list[MidiEvent]:
    """A note's start and end; an end comes before a start at the same tick."""
    return [
        MidiEvent(tick, 2, bytes([0x90 | channel, number, velocity])),
        MidiEvent(tick + ticks, 0, bytes([0x80 | channel, number, 0])),
    ]


def bend_range_messages(*, channel: int) -> list[MidiEvent]:
    """Registered parameter 0: two semitones."""
    pairs = ((101, 0), (100, 0), (6, int(BEND_RANGE_CENTS // 100)), (38, 0))
    return [
        MidiEvent(0, 0, bytes([0xB0 | channel, controller, value])) for controller, value in pairs
    ]


def bend_values(cents: Floats) -> Ints:
    """14-bit pitch-bend values, clipped to what two semitones can say; same shape.

    >>> bend_values(np.array([0.0, 20.0, 50.0, 200.0, -200.0])).tolist()
    [8192, 9011, 10240, 16383, 0]
    """
    steps = np.round(np.asarray(cents) / BEND_RANGE_CENTS * BEND_CENTRE).astype(np.int64)
    return np.asarray(np.clip(BEND_CENTRE + steps, 0, BEND_MOST), dtype=np.int64)


def bend_events(ticks: Ints, cents: Floats, *, channel: int) -> list[MidiEvent]:
    """Pitch bends where the value changes."""
    values = bend_values(cents)
    new = np.concatenate([[True], np.diff(values) != 0])
    return [
        MidiEvent(int(tick), 1, bytes([0xE0 | channel, value & 0x7F, value >> 7]))
        for tick, value in zip(ticks[new].tolist(), values[new].tolist(), strict=True)
    ]


def _chunk(name: bytes, content: bytes) -> bytes:
    return name + len(content).to_bytes(4, "big") + content


def midi_file(tracks: Sequence[Sequence[MidiEvent]], *, end_tick: int) -> bytes:
    """The bytes of a format 1 file; every track ends at ``end_tick``."""
    header = b"".join(number.to_bytes(2, "big") for number in (1, len(tracks), TICKS_PER_BEAT))
    return _chunk(b"MThd", header) + b"".join(
        _chunk(b"MTrk", _track(events, end_tick=end_tick)) for events in tracks
    )


def _track(events: Sequence[MidiEvent], *, end_tick: int) -> bytes:
    content, now = bytearray(), 0
    for event in sorted(events, key=lambda event: (event.tick, event.order)):
        content += variable_length(event.tick - now) + event.message
        now = event.tick
    return bytes(content + variable_length(max(end_tick - now, 0)) + meta(0x2F, b""))
