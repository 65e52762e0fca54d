"""Plucked notes whose pitch is known, and what a room, an amplifier and a metronome add to them.

Every maker is a pure function of its arguments and a random generator, so that a take is told by
a few words and a seed. Truth is the pitch of the first partial at every sample; where a sound
comes from a recorded note, truth is the imposed change alone, and a constant and a slow drift of
the recorded note itself are the note's own.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
RATE_HZ = 44_100.0
PLUCK_S = 0.25  # where the note begins in every take
GRADED_FROM_S = 0.06  # after the pluck; before it nobody's pitch is settled
GRADED_TO_S = 0.10  # before the end


@dataclass(frozen=True)
class KnownTake:
    """A sound and the truth about it."""

    name: str
    condition: str
    samples: Floats
    rate_hz: float
    hz: Floats  # truth at every sample
    pluck_s: tuple[float, ...]
    start_s: float  # graded from here ...
    end_s: float  # ... to here
    turn_s: Floats  # instants of the turning points
    own_pitch: bool = False  # True: compare after a straight line is taken out
    click_s: tuple[float, ...] = ()


@dataclass(frozen=True)
class Vibrato:
    """Waves of raised cosines: their instants and the pitch between them in cents."""

    cents: Floats
    turn_s: Floats


# --- what the finger does --------------------------------------------------------------------


def vibrato(
    duration_s: float,
    *,
    rate_waves_hz: float,
    extent_cents: float,
    way: str,
    rng: np.random.Generator,
    plain_s: float = 0.5,
    jitter: float = 0.06,
    rate_hz: float = RATE_HZ,
) -> Vibrato:
    """Half cosines from turn to turn; each half wave differs a little in time and width.

    ``way`` is "up" from the plain pitch, "down", or "both". Turning points are where the pitch
    turns back: a way down leaves the plain pitch by a corner, which is none.
    """
    low, high = {"up": (0.0, 1.0), "down": (-1.0, 0.0), "both": (-0.5, 0.5)}[way]
    times, levels = [plain_s], [0.0]
    while times[-1] + 0.6 / rate_waves_hz < duration_s - 0.15:
        half = 0.5 / rate_waves_hz * max(0.5, 1.0 + jitter * rng.normal())
        target = high if len(times) % 2 else low
        times.append(times[-1] + half)
        levels.append(extent_cents * (target + 0.08 * rng.normal() * (target != 0.0)))
    first = 2 if way == "down" else 1
    return Vibrato(_cosines(times, levels, duration_s, rate_hz), np.array(times[first:-1]))


def _cosines(times: list[float], levels: list[float], duration_s: float, rate_hz: float) -> Floats:
    t = np.arange(int(duration_s * rate_hz)) / rate_hz
    knot = np.clip(np.searchsorted(times, t) - 1, 0, len(times) - 2)
    time, level = np.array(times), np.array(levels)
    share = np.clip((t - time[knot]) / (time[knot + 1] - time[knot]), 0.0, 1.0)
    rise = 0.5 - 0.5 * np.cos(np.pi * share)
    return np.asarray(level[knot] + (level[knot + 1] - level[knot]) * rise)


def moves(knots: list[tuple[float, float]], *, rate_hz: float = RATE_HZ) -> Floats:
    """Cents at every sample from (time in s, cents) knots joined by half cosines."""
    times, levels = zip(*knots, strict=True)
    return _cosines(list(times), list(levels), times[-1], rate_hz)


# --- strings -----------------------------------------------------------------------------------


def partial_weights(count: int, *, kind: str) -> Floats:
    """Amplitudes of partials 1 to ``count`` for a way of playing."""
    k = np.arange(1, count + 1)
    plain = np.abs(np.sin(np.pi * k * 0.17)) / k + 0.01 / k
    bend: dict[str, Floats] = {
        "plain": np.ones(count),
        "weak fundamental": np.where(k == 1, 0.06, 1.0),
        "weak odd": np.where(k % 2 == 1, 0.12, 1.0),
        "strong second": np.where(k == 2, 5.0, 1.0),
        "twelfth fret pluck": np.where(k % 2 == 0, 0.03, 1.0),
        "dark": np.exp(-0.5 * (k - 1)),
    }
    weights = plain * bend[kind]
    return np.asarray(weights / np.sqrt(np.sum(np.square(weights))))


def additive(
    hz: Floats,
    *,
    rng: np.random.Generator,
    kind: str = "plain",
    stiffness: float = 5e-5,
    decay_s: float = 1.6,
    odd_decay_share: float = 1.0,
    rate_hz: float = RATE_HZ,
) -> Floats:
    """A plucked note as a sum of partials; partial k is sharp by the stiff-string law.

    Higher partials die sooner; ``odd_decay_share`` below 1 lets the odd ones die sooner still.
    ``hz`` is the first partial.
    """
    t = np.arange(hz.size) / rate_hz
    phase = np.cumsum(hz) / rate_hz
    count = int(min(24, 0.4 * rate_hz / hz.max(), 8000.0 / hz.max()))
    weights = partial_weights(max(count, 1), kind=kind)
    base = np.sqrt(1.0 + stiffness)
    sound = np.zeros(hz.size)
    for k, weight in enumerate(weights, start=1):
        turns = k * np.sqrt(1.0 + stiffness * k * k) / base * phase + rng.random()
        life = decay_s / (1.0 + 0.12 * (k - 1)) * (odd_decay_share if k % 2 else 1.0)
        rise = 1.0 - np.exp(-t * hz[0] * 0.7)
        sound += weight * np.exp(-t / life) * rise * np.sin(2.0 * np.pi * turns)
    return 0.25 * sound


def waveguide(
    hz: Floats, *, rng: np.random.Generator, loss: float = 0.996, rate_hz: float = RATE_HZ
) -> tuple[Floats, Floats]:
    """A string as a delay line that is read where the string ends (Karplus & Strong 1983, Jaffe &
    Smith 1983): the sound, and its true pitch.

    The delay at sample n is one period of ``hz[n]``, read by a cubic; the loop's two-point mean
    (0.5 sample late) is part of the period. A period read at n began a period before, so the
    pitch heard at n is the one asked for half a period later.
    """
    delay = rate_hz / hz - 0.5
    reach = int(np.ceil(delay.max())) + 4
    line = np.zeros(hz.size + reach)
    shape = np.hanning(max(8, int(delay[0] * 0.35)))
    line[reach : reach + shape.size] = shape * (1.0 + 0.2 * rng.normal(size=shape.size))
    line[reach + int(delay[0] * 0.2) : reach + int(delay[0] * 0.2) + shape.size] -= shape
    chunk = int(delay.min()) - 4
    for start in range(0, hz.size, chunk):
        n = np.arange(start, min(start + chunk, hz.size))
        here = n + reach - delay[n]
        line[n + reach] += loss * 0.5 * (_cubic(line, here) + _cubic(line, here - 1.0))
    later = np.arange(hz.size) + 0.5 * rate_hz / hz
    true = np.interp(later, np.arange(hz.size), hz)
    sound = line[reach:] - np.mean(line[reach:])
    return 0.25 * sound / np.max(np.abs(sound)), true


def _cubic(line: Floats, place: Floats) -> Floats:
    whole = np.floor(place).astype(int)
    u = place - whole
    a, b, c, d = line[whole - 1], line[whole], line[whole + 1], line[whole + 2]
    return np.asarray(
        -u * (u - 1) * (u - 2) / 6 * a
        + (u + 1) * (u - 1) * (u - 2) / 2 * b
        - (u + 1) * u * (u - 2) / 2 * c
        + (u + 1) * u * (u - 1) / 6 * d
    )


SINC_REACH = 24  # samples on each side: images 70 dB down, far below half a cent


def places(cents: Floats, *, size: int) -> Floats:
    """The place in a recording of ``size`` samples that is read at each output sample.

    The running sum of the speed; the output ends where the recording does.
    """
    speed = 2.0 ** (cents / 1200.0)
    place = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))])
    return place[place < size - SINC_REACH - 2]


def resampled(samples: Floats, *, cents: Floats) -> Floats:
    """A recorded note played faster and slower so that its pitch moves by ``cents``.

    Read at its `places` by a windowed sinc.
    """
    place = places(cents, size=samples.size)
    padded = np.pad(samples, SINC_REACH)
    whole = np.floor(place).astype(int)
    u = place - whole
    out = np.zeros(place.size)
    for j in range(-SINC_REACH + 1, SINC_REACH + 1):
        x = u - j
        window = np.cos(0.5 * np.pi * np.clip(x / SINC_REACH, -1, 1)) ** 2
        out += padded[whole + j + SINC_REACH] * np.sinc(x) * window
    return out


# --- what the world adds -------------------------------------------------------------------------


def loudness(samples: Floats) -> Floats:
    """Mean power over a fifth of a second around every sample; silence outside the sound."""
    half = int(0.1 * RATE_HZ)
    sums = np.cumsum(np.pad(np.square(samples), (half + 1, half)))
    return np.asarray((sums[2 * half :] - sums[: -2 * half]) / (2 * half))[: samples.size]


def level(samples: Floats) -> float:
    """Root mean square over the loudest fifth of a second: the note when it is plucked."""
    return float(np.sqrt(loudness(samples).max()))


def with_noise(samples: Floats, *, snr_db: float, rng: np.random.Generator) -> Floats:
    """White noise this far below the mean power of the whole sound."""
    rms = np.sqrt(np.mean(np.square(samples)))
    return samples + rms * 10.0 ** (-snr_db / 20.0) * rng.normal(size=samples.size)


def one_click(*, rng: np.random.Generator, rate_hz: float = RATE_HZ) -> Floats:
    """A metronome's tick: 25 ms of a decaying tone and a little noise, peak 1."""
    t = np.arange(int(0.025 * rate_hz)) / rate_hz
    tone = rng.uniform(900.0, 2500.0)
    tick = np.exp(-t / 0.004) * (np.sin(2.0 * np.pi * tone * t) + 0.4 * rng.normal(size=t.size))
    return np.asarray(tick / np.max(np.abs(tick)))


def with_clicks(
    samples: Floats,
    *,
    below_db: float,
    rng: np.random.Generator,
    tempo_bpm: float = 72.0,
    rate_hz: float = RATE_HZ,
) -> tuple[Floats, tuple[float, ...]]:
    """Ticks whose peak lies this far below the peak of the note, and their times."""
    tick = one_click(rng=rng, rate_hz=rate_hz)
    size = np.max(np.abs(samples)) * 10.0 ** (-below_db / 20.0)
    out, step = samples.copy(), 60.0 / tempo_bpm
    times = np.arange(rng.uniform(0.0, step), samples.size / rate_hz - 0.03, step)
    for time in times:
        n = round(time * rate_hz)
        out[n : n + tick.size] += size * tick
    return out, tuple(round(time * rate_hz) / rate_hz for time in times)


def hum(
    size: int, *, mains_hz: float, rng: np.random.Generator, rate_hz: float = RATE_HZ
) -> Floats:
    """Mains and nine multiples, odd ones stronger, as a rectifier leaves them; rms 1."""
    t = np.arange(size) / rate_hz
    sound = np.zeros(size)
    for m in range(1, 11):
        weight = rng.uniform(0.3, 1.0) / m**0.7 * (1.0 if m % 2 else 0.6)
        sound += weight * np.sin(2.0 * np.pi * (m * mains_hz * t + rng.random()))
    return np.asarray(sound / np.sqrt(np.mean(np.square(sound))))


def with_hum(
    samples: Floats, *, below_db: float, mains_hz: float, rng: np.random.Generator
) -> Floats:
    """Hum this far below the level of the note."""
    size = level(samples) * 10.0 ** (-below_db / 20.0)
    return samples + size * hum(samples.size, mains_hz=mains_hz, rng=rng)


def overdriven(samples: Floats, *, drive: float) -> Floats:
    """Light overdrive: a bent transfer curve, stronger on one side."""
    x = drive * samples / np.max(np.abs(samples))
    bent = np.tanh(x + 0.15 * np.square(x))
    return np.asarray(0.3 * (bent - bent.mean()) / np.max(np.abs(bent)))


def in_room(
    samples: Floats,
    *,
    rng: np.random.Generator,
    below_db: float = 14.0,
    decay_s: float = 0.35,
    rate_hz: float = RATE_HZ,
) -> Floats:
    """A room's tail, this far below the direct sound, 60 dB down after ``decay_s``."""
    t = np.arange(int(decay_s * rate_hz)) / rate_hz
    tail = rng.normal(size=t.size) * 10.0 ** (-3.0 * t / decay_s) * (t > 0.004)
    tail *= 10.0 ** (-below_db / 20.0) / np.sqrt(np.sum(np.square(tail)))
    size = samples.size + tail.size
    wet = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(tail, size), size)
    return np.asarray(samples + wet[: samples.size])


def with_second_string(
    samples: Floats, *, hz: float, below_db: float, rng: np.random.Generator
) -> Floats:
    """Another string rings on, plain, this far below the note."""
    other = additive(np.full(samples.size, hz), rng=rng, decay_s=4.0)
    return samples + other * level(samples) / level(other) * 10.0 ** (-below_db / 20.0)


# --- whole takes ---------------------------------------------------------------------------------


def placed(
    sound: Floats, hz: Floats, *, name: str, condition: str, turn_s: Floats, own_pitch: bool = False
) -> KnownTake:
    """A note with silence before and after it; times become times of the take."""
    lead = int(PLUCK_S * RATE_HZ)
    padded = np.pad(sound, (lead, lead))
    truth = np.pad(hz, (lead, lead), mode="edge")
    end = PLUCK_S + sound.size / RATE_HZ - GRADED_TO_S
    start = PLUCK_S + GRADED_FROM_S
    turns = turn_s + PLUCK_S
    turns = turns[(turns > start + 0.05) & (turns < end - 0.05)]
    return KnownTake(
        name, condition, padded, RATE_HZ, truth, (PLUCK_S,), start, end, turns, own_pitch
    )


def synthetic(
    *,
    seed: int,
    condition: str = "clean",
    kind: str = "plain",
    strings: str = "additive",
    base_hz: float | None = None,
    odd_decay_share: float = 1.0,
) -> KnownTake:
    """One vibrato note, what is not given of it drawn from the seed.

    82 to 988 Hz, 2.4 to 7.2 waves a second.
    """
    rng = np.random.default_rng(seed)
    drawn_hz = 82.4 * 2.0 ** rng.uniform(0.0, 3.58)
    base = drawn_hz if base_hz is None else base_hz
    waves, extent = rng.uniform(2.4, 7.2), 10.0 ** rng.uniform(1.0, 2.08)
    way = ("up", "both", "down")[seed % 3]
    wave = vibrato(2.8, rate_waves_hz=waves, extent_cents=extent, way=way, rng=rng)
    hz = base * 2.0 ** (wave.cents / 1200.0)
    if strings == "waveguide":
        sound, hz = waveguide(hz, rng=rng, loss=0.9985)
    else:
        stiffness = 10.0 ** rng.uniform(-5.0, -3.7)
        sound = additive(
            hz, rng=rng, kind=kind, stiffness=stiffness, odd_decay_share=odd_decay_share
        )
    name = f"{strings} {kind} {base:.0f} Hz, {waves:.1f} Hz x {extent:.0f} c {way}"
    take = placed(sound, hz, name=name, condition=condition, turn_s=wave.turn_s)
    return disturbed(take, condition=condition, rng=rng)


Disturb = Callable[[KnownTake, np.random.Generator], KnownTake]
GRADED_ABOVE_DB = 6.0  # a note is graded as long as it is this much louder than what was added


def added(take: KnownTake, samples: Floats) -> KnownTake:
    """The take with another sound in it, graded up to where that drowns the note."""
    other = loudness(samples - take.samples)
    drowned = loudness(take.samples) < other * 10.0 ** (GRADED_ABOVE_DB / 10.0)
    drowned[: int(take.start_s * take.rate_hz)] = False
    end = float(np.argmax(drowned)) / take.rate_hz if drowned.any() else take.end_s
    end = max(min(take.end_s, end), take.start_s)
    turns = take.turn_s[take.turn_s < end - 0.05]
    return replace(take, samples=samples, end_s=end, turn_s=turns)


def _noise(snr_db: float) -> Disturb:
    return lambda take, rng: added(take, with_noise(take.samples, snr_db=snr_db, rng=rng))


def _clicks(below_db: float) -> Disturb:
    def disturb(take: KnownTake, rng: np.random.Generator) -> KnownTake:
        samples, times = with_clicks(take.samples, below_db=below_db, rng=rng)
        return replace(added(take, samples), click_s=times)

    return disturb


def _overdrive(take: KnownTake, rng: np.random.Generator) -> KnownTake:
    return replace(take, samples=overdriven(take.samples, drive=rng.uniform(1.0, 3.0)))


def _room(take: KnownTake, rng: np.random.Generator) -> KnownTake:
    return replace(take, samples=in_room(take.samples, rng=rng))


def _second(take: KnownTake, rng: np.random.Generator) -> KnownTake:
    interval = rng.choice([-12, -7, -5, 4, 5, 7])
    hz = float(np.median(take.hz)) * 2.0 ** (interval / 12.0) * 2.0 ** (rng.normal() * 4 / 1200)
    while hz < 75.0:
        hz *= 2.0
    below = rng.uniform(20.0, 28.0)
    return added(take, with_second_string(take.samples, hz=hz, below_db=below, rng=rng))


def _hum(below_db: float) -> Disturb:
    def disturb(take: KnownTake, rng: np.random.Generator) -> KnownTake:
        mains = rng.choice([50.0, 60.0]) + 0.03 * rng.normal()
        samples = with_hum(take.samples, below_db=below_db, mains_hz=mains, rng=rng)
        return added(take, samples)

    return disturb


def _all(*steps: Disturb) -> Disturb:
    def disturb(take: KnownTake, rng: np.random.Generator) -> KnownTake:
        for step in steps:
            take = step(take, rng)
        return take

    return disturb


DISTURBANCES: dict[str, Disturb] = {
    "clean": _noise(60.0),
    "SNR 40 dB": _noise(40.0),
    "SNR 20 dB": _noise(20.0),
    "clicks -10 dB": _all(_clicks(10.0), _noise(50.0)),
    "overdrive": _all(_overdrive, _noise(50.0)),
    "reverb": _all(_room, _noise(50.0)),
    "second string": _all(_second, _noise(50.0)),
    "hum -30 dB": _all(_hum(30.0), _noise(50.0)),
    "hum -20 dB": _all(_hum(20.0), _noise(50.0)),
    "mixed": _all(_overdrive, _second, _room, _clicks(14.0), _hum(36.0), _noise(35.0)),
}


def disturbed(take: KnownTake, *, condition: str, rng: np.random.Generator) -> KnownTake:
    """The take with what its condition adds."""
    return replace(DISTURBANCES[condition](take, rng), condition=condition)


def from_steady_note(
    samples: Floats,
    *,
    name: str,
    seed: int,
    condition: str,
    base_hz: float,
    own_cents: Floats | None = None,
) -> KnownTake:
    """A vibrato imposed on a recorded plain note at `RATE_HZ`, whose own pitch is ``base_hz``.

    The note is played from silence, with the condition added and, by the seed, up to 24 dB of
    further fading over its length. Truth is the imposed change; with ``own_cents``, one a sample
    of the note, also what the plain note itself does.
    """
    rng = np.random.default_rng(seed)
    wave = vibrato(
        samples.size / RATE_HZ,
        rate_waves_hz=rng.uniform(2.4, 7.2),
        extent_cents=10.0 ** rng.uniform(1.3, 2.08),
        way=("up", "both", "down")[seed % 3],
        rng=rng,
    )
    sound = resampled(samples, cents=wave.cents)
    fade = 10.0 ** (-rng.uniform(0.0, 24.0) / 20.0 * np.arange(sound.size) / sound.size)
    cents = wave.cents[: sound.size]
    if own_cents is not None:
        place = places(wave.cents, size=samples.size)
        cents = cents + np.interp(place, np.arange(own_cents.size), own_cents)
    hz = base_hz * 2.0 ** (cents / 1200.0)
    extent = float(np.ptp(wave.cents))
    take = placed(
        sound * fade,
        hz,
        name=f"{name}, {extent:.0f} c, seed {seed}",
        condition=condition,
        turn_s=wave.turn_s,
        own_pitch=True,
    )
    return disturbed(take, condition=condition, rng=rng)
