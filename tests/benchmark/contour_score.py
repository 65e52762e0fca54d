"""How far a pitch line is from the truth: per frame, per wave, per turning point."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.benchmark.contour_takes import KnownTake

Floats = NDArray[np.float64]
GROSS_CENTS = 50.0  # further off than this is another note, not an inaccuracy
FAR_CENTS = 15.0  # further off than this changes what would be said of a wave
VERTEX_SHARE = 0.20  # of a wave on each side of a turning point, for its quartic


@dataclass(frozen=True)
class Score:
    """Errors of one tracker on one take."""

    take: KnownTake
    cents: Floats  # signed error of every graded frame that has a pitch
    missed: float  # share of graded frames without a pitch
    turn_ms: Floats  # signed, one a turning point
    extent: Floats  # measured over true, one a half wave

    @property
    def gross(self) -> float:
        """Share of graded frames more than `GROSS_CENTS` off."""
        if self.cents.size == 0:
            return 0.0
        return float(np.mean(np.abs(self.cents) > GROSS_CENTS) * (1.0 - self.missed))

    @property
    def octave(self) -> float:
        """Share of frames nearer to another octave than to the truth."""
        return float(np.mean(np.abs(self.cents) > 600.0)) if self.cents.size else 0.0


def truth_at(take: KnownTake, time_s: Floats) -> Floats:
    """The true pitch at any time."""
    return np.interp(time_s * take.rate_hz, np.arange(take.hz.size), take.hz)


@dataclass(frozen=True)
class Doubt:
    """Size of the error on every graded frame, and whether the tracker itself doubts it."""

    cents: Floats
    doubted: NDArray[np.bool_]


def score(take: KnownTake, *, time_s: Floats, hz: Floats) -> Score:
    """Compare a pitch line (NaN or 0: no pitch) with the truth of the take."""
    hz = np.where(hz > 0, hz, np.nan)
    error, found = errors(take, time_s=time_s, hz=hz)
    graded = (time_s >= take.start_s) & (time_s <= take.end_s)
    missed = 1.0 - found.sum() / max(graded.sum(), 1)
    turn_ms, extent = turns(take, time_s=time_s, hz=hz)
    return Score(take, error[found], float(missed), turn_ms, extent)


def doubt(take: KnownTake, *, time_s: Floats, hz: Floats, sure: NDArray[np.bool_]) -> Doubt:
    """The error of a pitch line beside what its tracker believes of it."""
    error, found = errors(take, time_s=time_s, hz=hz)
    return Doubt(np.abs(error[found]), ~sure[found])


def errors(take: KnownTake, *, time_s: Floats, hz: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Signed error in cents of every frame, and which frames are graded and have a pitch."""
    graded = (time_s >= take.start_s) & (time_s <= take.end_s)
    error = 1200.0 * np.log2(hz / truth_at(take, time_s))
    found = graded & np.isfinite(error)
    if take.own_pitch and found.sum() > 10:
        error = error - own_line(time_s, error, found)
    return error, found


def own_line(time_s: Floats, error: Floats, found: NDArray[np.bool_]) -> Floats:
    """The recorded note's own pitch and drift: a straight line through its sound frames."""
    middle = np.median(error[found])
    sound = found & (np.abs(error - middle) < GROSS_CENTS)
    if abs(middle) > 600.0:  # an octave off as a whole is an error, not the note's own pitch
        return np.zeros_like(error)
    return np.asarray(np.polyval(np.polyfit(time_s[sound], error[sound], 1), time_s))


def turns(take: KnownTake, *, time_s: Floats, hz: Floats) -> tuple[Floats, Floats]:
    """Errors of turning times in ms, and measured over true widths of the half waves.

    Both lines, the measured and the true one, are read in the same way: the vertex of a quartic
    around every known turning point.
    """
    if take.turn_s.size < 3:
        return np.zeros(0), np.zeros(0)
    cents = 1200.0 * np.log2(hz / np.median(take.hz))
    fine = np.arange(take.hz.size)[:: int(take.rate_hz * 0.002)] / take.rate_hz
    true = 1200.0 * np.log2(truth_at(take, fine) / np.median(take.hz))
    reach = VERTEX_SHARE * 2.0 * np.diff(take.turn_s).min()
    pairs = [
        (vertex(time_s, cents, near=t, reach=reach), vertex(fine, true, near=t, reach=reach))
        for t in take.turn_s
    ]
    late = np.array([1000.0 * (m[0] - w[0]) for m, w in pairs])
    measured, wanted = (np.abs(np.diff([p[i][1] for p in pairs])) for i in (0, 1))
    return late, measured / np.maximum(wanted, 1e-9)


def vertex(time_s: Floats, cents: Floats, *, near: float, reach: float) -> tuple[float, float]:
    """Time and height of the turning point near ``near``; NaN where the line has a hole."""
    here = np.abs(time_s - near) <= max(reach, 0.012)
    if here.sum() < 5 or not np.isfinite(cents[here]).all():
        return float("nan"), float("nan")
    x = (time_s[here] - near) / reach
    quartic = np.polynomial.Polynomial.fit(x, cents[here], 4)
    grid = np.linspace(x.min(), x.max(), 201)
    height = quartic(grid)
    middle = np.median(cents[here])
    best = grid[np.argmax(np.abs(height - _side(height, middle)))]
    root = min(
        (float(r.real) for r in quartic.deriv().roots() if abs(r.imag) < 1e-6),
        key=lambda r: abs(r - best),
        default=best,
    )
    root = root if abs(root) <= 1.0 else best
    return near + root * reach, float(quartic(root))


def _side(height: Floats, middle: float) -> float:
    """The end of the piece the turning point is furthest from."""
    top = height[height.size // 2] >= 0.5 * (height[0] + height[-1])
    return float(height.min() if top else height.max())
