"""The shape of a wave, its shiver, its loudness, and when it starts."""

import numpy as np

from labcore.measures.even import LEAST_RUN
from labcore.measures.heard import DeclinedError, Heard, interquartile, mean_error, phase_of
from labcore.model import Floats, Measure, Take
from labcore.units import cents_between

HARMONICS = 5  # of a wave's shape
SHAPE_WAVES = 3  # fitted together: shape is what neighbours share


def rise_share(heard: Heard) -> Measure:
    """Time upward as a share of the wave, median."""
    if not heard.cycles:
        raise DeclinedError("no waves were heard")
    shares = np.array([
        ((w.turn_s - w.start_s) if w.turn.hz >= w.start.hz else (w.end_s - w.turn_s)) / w.duration_s
        for w in heard.cycles
    ])  # fmt: skip
    return Measure(
        float(np.median(shares)), "", shares.size, interquartile(shares), mean_error(shares)
    )


def shape(heard: Heard) -> Measure:
    """Harmonic ratio of the waves' pitch line: 0 is a sine, 0.43 dwells at one end."""
    ratios = np.array([ratio for ratio, _ in _shapes(heard)])
    return Measure(float(np.median(ratios)), "", len(heard.cycles), interquartile(ratios),
                   mean_error(ratios))  # fmt: skip


def roughness(heard: Heard) -> Measure:
    """What is left of the pitch line after `HARMONICS` harmonics, as a share of half the width."""
    rests = 100.0 * np.array([rest for _, rest in _shapes(heard)])
    return Measure(float(np.median(rests)), "%", len(heard.cycles), interquartile(rests),
                   mean_error(rests))  # fmt: skip


def _shapes(heard: Heard) -> list[tuple[float, float]]:
    """Harmonic ratio and relative residual of each few waves fitted together."""
    shapes = []
    for run in heard.runs:
        edges = heard.pulse.edges(run)
        for first in range(0, edges.size - SHAPE_WAVES, SHAPE_WAVES):
            extent = float(np.mean(heard.extents[list(run[first : first + SHAPE_WAVES])]))
            fitted = _fit_shape(heard.take, edges[first : first + SHAPE_WAVES + 1], extent)
            if fitted is not None:
                shapes.append(fitted)
    if not shapes:
        raise DeclinedError("fewer than three waves follow one another")
    return shapes


def _fit_shape(take: Take, edges_s: Floats, extent_cents: float) -> tuple[float, float] | None:
    """Least squares of `HARMONICS` over phase, each wave stretched to one turn of the phase.

    Harmonic ratio: sqrt(A2^2 + ... + A5^2) / A1; residual: rms over half the extent.
    """
    inside = take.contour.voiced_frames(edges_s[0], edges_s[-1])
    if inside.size < 4 * HARMONICS:
        return None
    phase = phase_of(take.contour.time_s[inside], edges_s)
    hz = take.contour.frequency_hz[inside]
    cents = cents_between(hz, float(hz[0]))
    angle = np.outer(phase, np.arange(1, HARMONICS + 1))
    terms = np.column_stack([np.ones_like(phase), phase, np.cos(angle), np.sin(angle)])
    fit = np.linalg.lstsq(terms, cents, rcond=None)[0]
    size = np.hypot(fit[2 : 2 + HARMONICS], fit[2 + HARMONICS :])
    rest = float(np.sqrt(np.mean((cents - terms @ fit) ** 2)))
    return float(np.sqrt(np.sum(size[1:] ** 2)) / size[0]), rest / (extent_cents / 2.0)


def amplitude_modulation(heard: Heard) -> Measure:
    """Peak-to-peak level swing at the vibrato's own phase, the decay removed."""
    swings = []
    contour = heard.take.contour
    for run in heard.runs:
        if len(run) < LEAST_RUN:
            continue
        edges_s = heard.pulse.edges(run)
        inside = contour.voiced_frames(edges_s[0], edges_s[-1])
        phase = phase_of(contour.time_s[inside], edges_s)
        decay = np.vander(phase / phase.max(), 3)
        terms = np.column_stack([decay, np.cos(phase), np.sin(phase)])
        fit = np.linalg.lstsq(terms, contour.level_db[inside], rcond=None)[0]
        swings.append(2.0 * float(np.hypot(fit[-2], fit[-1])))
    if not swings:
        raise DeclinedError("fewer than three waves follow one another")
    values = np.array(swings)
    return Measure(float(np.median(values)), "dB", len(heard.cycles), interquartile(values))


def onset_delay(heard: Heard) -> Measure:
    """Seconds from the pluck to where the pitch first moves, median of the notes with waves."""
    delays = np.array([
        min(heard.cycles[report.cycles[0]].start_s, note.turns[0].time_s) - note.onset_s
        for note, report in zip(heard.take.notes, heard.notes, strict=True)
        if report.cycles
    ])  # fmt: skip
    if not delays.size:
        raise DeclinedError("no waves were heard")
    delays = np.maximum(delays, 0.0)
    return Measure(float(np.median(delays)), "s", delays.size, interquartile(delays))
