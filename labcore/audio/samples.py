"""Samples to a checked `Recording`: finite, loud enough, long enough, and what to be warned of."""

import hashlib
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labcore.audio import limits
from labcore.audio.channels import Choice, best_channel
from labcore.errors import LabError
from labcore.model import Recording
from labcore.units import level_db

Samples = NDArray[np.float32]


def recording_from_samples(
    samples: ArrayLike, *, sample_rate_hz: float, name: str = "take"
) -> Recording:
    """A checked `Recording` of samples already in memory.

    Parameters
    ----------
    samples : array_like
        Shape (frames,), or (frames, channels) or (channels, frames): the longer side is time, and
        the best channel is taken. Floats have full scale 1; 8-, 16- and 32-bit whole numbers
        have that of their type.
    sample_rate_hz : float
        8000 to 192000.

    Raises
    ------
    LabError
        For anything that is not half a second to half an hour of audible sound.

    >>> wave = 0.5 * np.sin(2 * np.pi * 220 * np.arange(8000) / 8000)
    >>> recording_from_samples(wave, sample_rate_hz=8000).duration_s
    1.0
    """
    rate_hz = checked_rate_hz(sample_rate_hz)
    values = _as_floats(samples)
    check_duration(values.shape[0] / rate_hz)
    warnings: list[str] = []
    choice = Choice(0)
    if values.shape[1] > 1:
        choice = best_channel([values], sample_rate_hz=rate_hz)
        warnings += [choice.remark] if choice.remark else []
    with np.errstate(over="ignore"):  # what is too large becomes infinite, and is refused as such
        mono = np.array(values[:, choice.channel], dtype=np.float32)
        beside = None if choice.beside is None else np.array(values[:, choice.beside], np.float32)
    return checked_recording(
        mono, sample_rate_hz=rate_hz, name=name, warnings=warnings, beside=beside
    )


def checked_rate_hz(sample_rate_hz: float) -> float:
    """The rate as a plain float, or `LabError`."""
    try:
        rate_hz = float(sample_rate_hz)
    except (TypeError, ValueError, OverflowError):
        rate_hz = float("nan")
    if not limits.LEAST_RATE_HZ <= rate_hz <= limits.MOST_RATE_HZ:
        raise LabError(
            f"The sample rate is {sample_rate_hz!s:.40} Hz; it must lie between "
            f"{limits.LEAST_RATE_HZ:g} and {limits.MOST_RATE_HZ:g}. Save the recording at 44100 "
            "or 48000 Hz."
        )
    return rate_hz


def check_channels(channels: int) -> None:
    """Raise `LabError` unless there is a number of channels we take."""
    if not 1 <= channels <= limits.MOST_CHANNELS:
        raise LabError(
            f"The sound has {channels} channels; 1 to {limits.MOST_CHANNELS} are allowed. "
            "Save it as mono or stereo."
        )


def check_duration(duration_s: float) -> None:
    """Raise `LabError` unless a take of this length is neither too short nor too long."""
    if duration_s < limits.LEAST_DURATION_S:
        raise LabError(
            f"The recording lasts {duration_s:.2g} s; at least {limits.LEAST_DURATION_S:g} s are "
            "needed. Let one note ring for a few seconds."
        )
    if duration_s > limits.MOST_DURATION_S:
        raise LabError(
            f"The recording lasts {duration_s / 60:.0f} minutes; at most "
            f"{limits.MOST_DURATION_S / 60:g} can be taken at once. Take a part of it: give "
            "start_s and end_s in seconds."
        )


def checked_recording(
    mono: Samples,
    *,
    sample_rate_hz: float,
    name: str,
    warnings: Sequence[str] = (),
    beside: Samples | None = None,
) -> Recording:
    """The end of every road in: a `Recording` with all its warnings. ``mono`` is kept, changed."""
    check_duration(mono.size / sample_rate_hz)
    remarks = list(warnings)
    for look in (_filled_in, _in_scale, _clipping, _centred):
        mono, remark = look(mono)
        remarks += [remark] if remark else []
    remarks += _level_remarks(mono, sample_rate_hz=sample_rate_hz)
    if sample_rate_hz <= limits.CALL_RATE_HZ:
        remarks.append(
            f"The sound was recorded at {sample_rate_hz / 1000:g} kHz, like a headset in a call: "
            "high partials are missing. Use the built-in or a wired microphone."
        )
    digest = hashlib.sha256(np.ascontiguousarray(mono, dtype="<f4").data).hexdigest()
    if beside is not None:
        beside, _ = _in_scale(np.nan_to_num(beside, posinf=0.0, neginf=0.0))
    return Recording(mono, sample_rate_hz, _plain_name(name), digest, tuple(remarks), beside)


def _plain_name(name: str) -> str:
    """Something printable on one line."""
    return "".join(letter for letter in str(name) if letter.isprintable())[:120].strip() or "take"


def _as_floats(samples: ArrayLike) -> NDArray[Any]:
    """Shape (frames, channels), full scale 1."""
    try:
        values = np.asarray(samples)
    except (TypeError, ValueError) as error:
        raise LabError("The samples are no even table of numbers; give one row of them.") from error
    values = values[:, np.newaxis] if values.ndim == 1 else values
    if values.ndim != 2 or values.size == 0:
        raise LabError(
            f"The samples have the shape {np.shape(samples)}; give (frames,) or "
            "(frames, channels), with something in it."
        )
    values = values.T if values.shape[0] < values.shape[1] else values
    check_channels(values.shape[1])
    return _scaled(values)


def _scaled(values: NDArray[Any]) -> NDArray[Any]:
    """Whole numbers by the range of their type; floats as they are."""
    if values.dtype.kind == "f":
        return values
    if values.dtype == np.uint8:  # 8-bit sound is unsigned, its middle is 128
        return (values.astype(np.float32) - 128.0) / 128.0
    if values.dtype.kind == "i" and values.dtype.itemsize <= 4:
        return (values / -float(np.iinfo(values.dtype).min)).astype(np.float32)
    raise LabError(
        f"The samples are of type {values.dtype}; give floats from -1 to 1, or whole numbers of "
        "8, 16 or 32 bits."
    )


def _blocks(mono: Samples) -> Iterator[Samples]:
    """Views of a long array, so that no step needs a second array of its size."""
    for first in range(0, mono.size, limits.BLOCK_FRAMES):
        yield mono[first : first + limits.BLOCK_FRAMES]


def _filled_in(mono: Samples) -> tuple[Samples, str | None]:
    """A few lost samples become a straight line between their neighbours; more are refused."""
    lost = np.concatenate(
        [
            first * limits.BLOCK_FRAMES + np.flatnonzero(~np.isfinite(block))
            for first, block in enumerate(_blocks(mono))
        ]
    )
    if lost.size == 0:
        return mono, None
    longest = max(len(run) for run in np.split(lost, np.flatnonzero(np.diff(lost) > 1) + 1))
    if lost.size > limits.MOST_REPAIRED or longest > limits.MOST_REPAIRED_RUN:
        raise LabError(
            f"{lost.size} of {mono.size} samples are no numbers (NaN or infinite); at most "
            f"{limits.MOST_REPAIRED} single ones can be mended. Record or export the take again."
        )
    # A neighbourhood is enough to draw the line, and keeps a long take out of the interpolation.
    for place in lost:
        near = np.arange(max(place - 16, 0), min(place + 17, mono.size))
        good = near[np.isfinite(mono[near])]
        mono[place] = np.interp(place, good, mono[good])
    plural = "sample was" if lost.size == 1 else "samples were"
    return mono, f"{lost.size} lost {plural} filled in."


def _in_scale(mono: Samples) -> tuple[Samples, str | None]:
    """Samples in some other scale than full scale 1 are brought to it."""
    peak = max(float(np.max(np.abs(block))) for block in _blocks(mono))
    if peak <= limits.HOT_PEAK:
        return mono, None
    for block in _blocks(mono):
        block /= np.float32(peak)
    return mono, f"The samples reached {peak:.3g} times full scale; they were brought down to it."


def _clipping(mono: Samples) -> tuple[Samples, str | None]:
    """A remark when loud moments are cut off: flat tops, or flat bottoms, that end in a corner."""
    high = min(max(float(block.max()) for block in _blocks(mono)), 1.0)
    low = min(max(float(-block.min()) for block in _blocks(mono)), 1.0)
    step = _smallest_step(mono)
    cut = 0
    for top, sign in ((high, 1.0), (low, -1.0)):
        # The two sides may be cut at different levels, but a side that is far lower is not cut.
        if top >= max(limits.CLIP_LEAST_PEAK, high / 2.0, low / 2.0):
            flat = max(limits.CLIP_FLAT * top, step)
            cut += sum(_flat_samples(sign * block, top=top, flat=flat) for block in _blocks(mono))
    share = cut / mono.size
    if share < limits.CLIP_SHARE:
        return mono, None
    return mono, (
        f"Loud moments are cut off ({100 * share:.2g} % of the samples): the input was turned up "
        "too far. The take is still measured; turn the input down for the next one."
    )


def _smallest_step(mono: Samples) -> float:
    """The smallest difference of neighbours that are not equal: the step of 8- or 16-bit sound."""
    steps = [np.abs(np.diff(block)) for block in _blocks(mono)]
    return min((float(each[each > 0].min()) for each in steps if (each > 0).any()), default=0.0)


def _flat_samples(values: Samples, *, top: float, flat: float) -> int:
    """How many samples lie on flat tops: `limits.CLIP_RUN` neighbours or more, then a corner.

    A smooth top that is merely coarse in steps leaves its height by few steps, not at a corner.
    """
    at_top = np.concatenate([[False], values >= top - flat, [False]])
    edges = np.flatnonzero(np.diff(at_top))
    starts, ends = edges[::2], edges[1::2]
    before = values[np.maximum(starts - 1, 0)]
    after = values[np.minimum(ends, values.size - 1)]
    is_corner = np.minimum(before, after) < top - limits.CLIP_CORNER * flat
    lengths = (ends - starts)[is_corner]
    return int(lengths[lengths >= limits.CLIP_RUN].sum())


def _centred(mono: Samples) -> tuple[Samples, str | None]:
    """A constant offset is taken out, and told."""
    mean = sum(float(np.sum(block, dtype=np.float64)) for block in _blocks(mono)) / mono.size
    if abs(mean) < limits.OFFSET:
        return mono, None
    mono -= np.float32(mean)
    return mono, (
        f"The sound is shifted off its middle by {100 * abs(mean):.2g} % of full scale; the shift "
        "was taken out. A fault of the cable or the sound card does this."
    )


def _level_remarks(mono: Samples, *, sample_rate_hz: float) -> list[str]:
    """`LabError` for silence, a remark when the take is very quiet."""
    loudest_db = float(np.max(frame_levels_db(mono, sample_rate_hz=sample_rate_hz)))
    if loudest_db < limits.SILENCE_DB:
        heard = "every sample is the same" if np.ptp(mono) == 0 else f"loudest {loudest_db:.0f} dB"
        raise LabError(
            f"The recording is silent ({heard}); a note must be heard in it. Check that the "
            "microphone is on and not muted, and record again."
        )
    if loudest_db < limits.QUIET_DB:
        return [
            f"The recording is very quiet ({loudest_db:.0f} dB below full scale at its loudest): "
            "go nearer, or turn the input up."
        ]
    return []


def frame_levels_db(mono: Samples, *, sample_rate_hz: float) -> NDArray[np.float64]:
    """Level of each 50 ms of sound around its own mean, in dB re full scale."""
    frame = round(limits.LEVEL_FRAME_S * sample_rate_hz)
    frames = mono[: mono.size // frame * frame].reshape(-1, frame)
    return np.concatenate(
        [level_db(np.std(frames[i : i + 64], axis=1)) for i in range(0, len(frames), 64)]
    )
