"""How vibrato cycles sit on the beat: which note value was played, and how tightly.

The note value is named first, from waves a beat, and only then is its phase tested: evenly played
eighths sit perfectly on the sixteenth grid too. Whether waves are early or late is told only where
something other than the waves says where the beat falls.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from labcore.beats import NOTE_VALUES, beat_s, name_note_value
from labcore.model import BeatOrigin, ClickSource, ClickTrack, Floats, GridFit, Task, VibratoCycle

SAME_TEMPO = 0.01  # clicks this near the asked tempo, or its half or double, are that tempo's
CLICK_RATIOS = (1.0, 2.0, 0.5)  # clicks on every beat, on every eighth, on two and four

# Viterbi over the waves: how far a wave's own speed may lie from the note value it belongs to
# (one sigma, as a share), what a single odd wave may cost at most, what a change costs. A change
# from 2 to 3 pays after two waves, from 5 to 6 after seven; a few waves that hurry do not look
# like a change, or an uneven player would be told of many note values, each of them even.
WAVE_SIGMA = 0.12
MOST_WAVE_COST = 6.0
CHANGE_COST = 8.0
FREE_RATES_HZ = np.geomspace(0.7, 12.0, 37)  # without a beat: steps of 8 %
LEAST_STRETCH_WAVES = 3
MOST_FOLLOW = 0.5  # of the waves follow another, or they have neither a speed nor a note value
OWN_STEPS = 81  # tried around the mean length of the waves, some hundredths of a percent apart
TOPS_EVENER = 0.27  # the tops carry the time where they are this much evener than the homes


@dataclass(frozen=True, slots=True)
class Beat:
    """The beat a take is set against: ``origin_s`` is the time of any one beat."""

    step_s: float
    origin_s: float
    origin: BeatOrigin


# --- the beat ----------------------------------------------------------------------------------


def find_beat(task: Task, *, clicks: ClickTrack | None) -> Beat | None:
    """The beat of the asked tempo, placed by the reader, by clicks that agree, or not at all.

    None when no tempo was asked: then nothing is judged against a beat.
    """
    if task.tempo_bpm is None:
        return None
    asked_s = beat_s(task.tempo_bpm)
    if task.beat_origin_s is not None:
        return Beat(asked_s, task.beat_origin_s, BeatOrigin.GIVEN)
    if clicks is None or not clicks_agree(clicks, tempo_bpm=task.tempo_bpm):
        return Beat(asked_s, 0.0, BeatOrigin.FITTED)
    step_s, origin_s = even_series(clicks.time_s)
    ratio = min(CLICK_RATIOS, key=lambda r: abs(np.log(step_s * r / asked_s)))
    known = clicks.source is ClickSource.KNOWN
    return Beat(step_s * ratio, origin_s, BeatOrigin.RECORDER if known else BeatOrigin.CLICKS)


def clicks_agree(clicks: ClickTrack, *, tempo_bpm: float) -> bool:
    """Whether the clicks run at this tempo, at its double, or at its half."""
    if clicks.time_s.size < 2:
        return False
    step_s, _ = even_series(clicks.time_s)
    asked_s = beat_s(tempo_bpm)
    return any(abs(step_s * ratio / asked_s - 1.0) <= SAME_TEMPO for ratio in CLICK_RATIOS)


def even_series(time_s: Floats) -> tuple[float, float]:
    """Step and origin of the even series that fits the clicks best; gaps are allowed."""
    step_s = float(np.median(np.diff(time_s)))
    number = np.round((time_s - time_s[0]) / step_s)
    step_s, origin_s = np.polyfit(number, time_s, 1)
    return float(step_s), float(origin_s)


# --- waves of one note value -------------------------------------------------------------------


def runs(cycles: Sequence[VibratoCycle]) -> tuple[tuple[int, ...], ...]:
    """Indices of waves that follow one another without a break, run by run."""
    groups: list[list[int]] = []
    for index, wave in enumerate(cycles):
        previous = cycles[index - 1] if index else None
        joined = previous is not None and previous.end == wave.start and previous.note == wave.note
        if joined:
            groups[-1].append(index)
        else:
            groups.append([index])
    return tuple(tuple(group) for group in groups)


def runs_within(
    cycles: Sequence[VibratoCycle], *, group: Sequence[int]
) -> Iterator[tuple[int, ...]]:
    """Indices of a group's waves that follow one another without a break, run by run."""
    members = set(group)
    for run in runs(cycles):
        for inside, part in groupby(run, key=members.__contains__):
            if inside:
                yield tuple(part)


def most_follow(cycles: Sequence[VibratoCycle], *, group: Sequence[int]) -> bool:
    """Whether half of a group's waves or more follow another without a rest.

    How long a wave takes that stands alone between rests says nothing of how often they come.
    """
    lengths = [len(run) for run in runs_within(cycles, group=group)]
    return sum(length for length in lengths if length > 1) >= MOST_FOLLOW * sum(lengths)


def one_value_groups(
    cycles: Sequence[VibratoCycle], *, beat: Beat | None
) -> tuple[tuple[int, ...], ...]:
    """Indices of waves played in one note value, stretch by stretch, in order.

    Without a beat a stretch is one speed, changing by less than a few percent from wave to wave.
    """
    if not cycles:
        return ()
    rates = np.array([1.0 / wave.duration_s for wave in cycles])
    states = FREE_RATES_HZ if beat is None else np.array(list(NOTE_VALUES)) / beat.step_s
    labels = _most_likely(np.log(rates), np.log(states))
    groups: list[tuple[int, ...]] = []
    for _, members in groupby(range(len(cycles)), key=lambda index: labels[index]):
        groups.append(tuple(members))
    return tuple(groups)


def _most_likely(values: Floats, states: Floats) -> list[int]:
    """Viterbi: the state of each value, changes being rare and single odd values cheap."""
    misfit = (values[:, None] - states[None, :]) / WAVE_SIGMA
    cost = np.minimum(misfit**2 / 2.0, MOST_WAVE_COST)
    total = cost[0]
    back = np.zeros(cost.shape, dtype=int)
    for index in range(1, values.size):
        change = int(np.argmin(total))
        stays = total <= total[change] + CHANGE_COST
        back[index] = np.where(stays, np.arange(states.size), change)
        total = np.where(stays, total, total[change] + CHANGE_COST) + cost[index]
    path = [int(np.argmin(total))]
    for index in range(values.size - 1, 0, -1):
        path.append(int(back[index, path[-1]]))
    return path[::-1]


@dataclass(frozen=True, slots=True)
class Pulse:
    """When the waves fall: one time a wave, and how long it is until the next.

    ``time_s`` has shape (waves,). Times at home also know how long the last wave of a run is.
    """

    cycles: tuple[VibratoCycle, ...]
    time_s: Floats
    at_home: bool

    def edges(self, run: Sequence[int]) -> Floats:
        """Times of the waves of a run, and of its end where that is known."""
        ends = [self.cycles[run[-1]].end_s] if self.at_home else []
        return np.concatenate([self.time_s[list(run)], ends])

    def steps(self, run: Sequence[int]) -> Floats:
        """Seconds from wave to wave along waves that follow one another, shape (n - 1 or n,)."""
        return np.diff(self.edges(run))

    def step_runs(self, group: Sequence[int]) -> tuple[Floats, ...]:
        """The steps of a group of waves, run by run; a wave alone between rests has none."""
        runs = runs_within(self.cycles, group=group)
        return tuple(self.steps(run) for run in runs if len(run) > 1)


def find_pulse(cycles: Sequence[VibratoCycle]) -> Pulse:
    """The waves' homes, or their tops where the player rests at home or those fall far more evenly.

    Where a player rests at home, the moment of coming home is blunt and the top is sharp, and the
    first and the last wave, which have the rest on one side only, look shorter. A top
    lies between two homes, so the tops of an uneven player always change less (by 0.4 to 0.5,
    arithmetic); where the player rests it is 0.2 or less (tried with rests of a third of a wave).
    """
    starts = Pulse(tuple(cycles), np.array([wave.start_s for wave in cycles], dtype=float), True)
    tops = pulse_of_tops(cycles)
    rests = bool(cycles) and float(np.median([wave.start.rest_s for wave in cycles])) > 0.0
    evener = _unevenness(tops) < TOPS_EVENER * _unevenness(starts)
    return tops if rests or evener else starts


def pulse_of_tops(cycles: Sequence[VibratoCycle]) -> Pulse:
    """The waves' turns away from home."""
    return Pulse(tuple(cycles), np.array([wave.turn_s for wave in cycles], dtype=float), False)


def _unevenness(pulse: Pulse) -> float:
    changes = [
        np.abs(np.diff(np.log(steps))) for steps in pulse.step_runs(range(len(pulse.cycles)))
    ]
    joined = np.concatenate(changes) if changes else np.empty(0)
    return float(np.sqrt(np.mean(joined**2))) if joined.size else 0.0


# --- the fit -----------------------------------------------------------------------------------


def fit_grid(cycles: Sequence[VibratoCycle], *, beat: Beat) -> tuple[GridFit, ...]:
    """One `GridFit` for each stretch of waves in one note value, in order."""
    pulse = find_pulse(cycles)
    groups = _merged(pulse, one_value_groups(cycles, beat=beat), beat=beat)
    return tuple(_fit(pulse, group, beat=beat) for group in groups)


def _merged(
    pulse: Pulse, groups: Sequence[tuple[int, ...]], *, beat: Beat
) -> list[tuple[int, ...]]:
    """Neighbouring groups of one name joined; groups too short to name left out."""
    joined: list[tuple[int, ...]] = []
    for group in groups:
        if len(group) < LEAST_STRETCH_WAVES:
            continue
        name = name_note_value(_waves_a_beat(pulse, group, beat=beat))
        if joined and name == name_note_value(_waves_a_beat(pulse, joined[-1], beat=beat)):
            joined[-1] = joined[-1] + group
        else:
            joined.append(group)
    return joined


def _waves_a_beat(pulse: Pulse, group: Sequence[int], *, beat: Beat) -> float:
    return beat.step_s / float(np.mean(_steps_s(pulse, group)))


def _steps_s(pulse: Pulse, group: Sequence[int]) -> Floats:
    """From one wave to the next where they follow each other; else the waves' own lengths."""
    runs = pulse.step_runs(group)
    return np.concatenate(runs) if runs else np.array([pulse.cycles[i].duration_s for i in group])


def _fit(pulse: Pulse, group: tuple[int, ...], *, beat: Beat) -> GridFit:
    measured = _waves_a_beat(pulse, group, beat=beat)
    follow = most_follow(pulse.cycles, group=group)
    named = name_note_value(measured) if follow else None
    inside = list(group)
    step_s = beat.step_s / (named or measured)
    if beat.origin is BeatOrigin.FITTED:
        step_s = _own_step_s(pulse, group)
    concentration, _, apart_s = _sit(pulse.time_s[inside] - beat.origin_s, step_s=step_s)
    starts = np.array([pulse.cycles[index].start_s for index in group])
    _, offset_s, _ = _sit(starts - beat.origin_s, step_s=step_s)
    return GridFit(
        start_s=pulse.cycles[group[0]].start_s,
        end_s=pulse.cycles[group[-1]].end_s,
        cycle=np.array(group, dtype=np.int64),
        asynchrony_s=apart_s if named else np.full(len(group), np.nan),
        cycles_per_beat=measured,
        named=named,
        rate_error_percent=None if named is None else 100.0 * (measured / named - 1.0),
        offset_s=offset_s if named else 0.0,
        concentration=concentration if named else 0.0,
        origin=beat.origin,
        step_s=step_s,
    )


def _own_step_s(pulse: Pulse, group: Sequence[int]) -> float:
    """The step that the waves keep among themselves.

    Without a click nobody holds a tempo to the percent. How far it is off is told as the tempo;
    how evenly it is held, around the step on which the waves sit best, as near their mean length
    as that is known (two standard errors: a first wave that sets out of a rest looks shorter).
    """
    steps = _steps_s(pulse, group)
    error = float(np.std(steps)) / np.sqrt(steps.size)
    tried = np.mean(steps) + 2.0 * error * np.linspace(-1.0, 1.0, OWN_STEPS)
    turns = pulse.time_s[list(group)] / tried[:, np.newaxis]
    strength = np.abs(np.mean(np.exp(2j * np.pi * turns), axis=1))
    return float(tried[np.argmax(strength)])


def _sit(time_s: Floats, *, step_s: float) -> tuple[float, float, Floats]:
    """Concentration, mean offset and each distance around it, of events on a grid."""
    angle = 2.0 * np.pi * time_s / step_s
    strength, mean = resultant(angle)
    apart = np.angle(np.exp(1j * (angle - mean)))
    return strength, mean / (2.0 * np.pi) * step_s, apart / (2.0 * np.pi) * step_s


# --- circular statistics -----------------------------------------------------------------------


def resultant(angle_rad: Floats) -> tuple[float, float]:
    """Mean resultant length R (0 to 1) and mean direction in (-pi, pi] of angles, shape (n,).

    Zar 2010, Biostatistical Analysis, chapter 26.

    >>> strength, mean = resultant(np.radians([45, 55, 81, 96, 110, 117, 132, 154]))
    >>> round(strength, 5), round(float(np.degrees(mean)), 2)
    (0.82522, 98.99)
    """
    vector = complex(np.mean(np.exp(1j * np.asarray(angle_rad))))
    return abs(vector), float(np.angle(vector))


def circular_spread(concentration: float) -> float:
    """Circular standard deviation sqrt(-2 ln R) in radians (Zar 2010, chapter 26).

    >>> round(float(np.degrees(circular_spread(0.82522))), 2)
    35.51
    """
    return float(np.sqrt(-2.0 * np.log(np.clip(concentration, 1e-12, 1.0))))
