"""How well white noise lets anyone know when a wave turns: the bound of Cramer and Rao.

Noise of power s^2 a sample says the phase of a partial of amplitude a to s^2 * 2 / a^2 square
radians a sample, and partial k turns k times as fast as the first one, so that each second of
sound knows the common phase with the information J = rate * sum(k^2 a_k^2) / (2 s^2). A turning
point is found by fitting a quartic to the pitch, which is a quintic of the phase; the inverse of
its Fisher matrix gives the least variance of the slope of the pitch at the turn, and slope over
curvature is time.
"""

import numpy as np

from labcore.pitch.carrier import Carrier
from labcore.pitch.decimate import decimated
from labcore.pitch.demodulate import NUTTALL, demodulate, window_of
from labcore.pitch.frames import grid_for
from tests.benchmark.contour_score import VERTEX_SHARE, Floats
from tests.benchmark.contour_takes import PLUCK_S, KnownTake

MOST_PARTIAL_HZ = 4800.0  # what the tracker listens to


def turning_bound_ms(clean: KnownTake, *, noisy: KnownTake) -> Floats:
    """Least standard error in ms of every turning point of ``noisy``, of which ``clean`` is told.

    For an unbiased fit to the sound within `VERTEX_SHARE` of a wave on both sides.
    """
    noise = float(np.std(noisy.samples[: int(0.8 * PLUCK_S * noisy.rate_hz)]))
    information, step_s = phase_information(clean, noise=noise)
    if noisy.turn_s.size < 3:
        return np.zeros(0)
    reach = VERTEX_SHARE * 2.0 * float(np.diff(noisy.turn_s).min())
    here = information[(noisy.turn_s / step_s).astype(int)]
    slope = 2.0 * np.sqrt(least_variance(reach) / here) / (2.0 * np.pi)
    return np.asarray(1000.0 * slope / curvature(noisy, reach=reach))


def phase_information(take: KnownTake, *, noise: float) -> tuple[Floats, float]:
    """J on every frame, and the step from frame to frame in s."""
    sound = decimated(take.samples.astype(np.float32), rate_hz=take.rate_hz)
    grid = grid_for(sound.rate_hz)
    frame_s = np.arange(grid.frames(sound.samples.size)) * grid.step_s
    hz = np.interp(frame_s * take.rate_hz, np.arange(take.hz.size), take.hz)
    numbers = np.arange(1.0, max(1, int(MOST_PARTIAL_HZ / hz.max())) + 1.0)
    window = window_of(NUTTALL, seconds=max(0.036, 4.5 / float(hz.min())), grid=grid)
    found = demodulate(sound, carrier=Carrier(0, hz), numbers=numbers, window=window, grid=grid)
    power = np.square(numbers[:, None] * found.amplitude).sum(axis=0)
    return take.rate_hz * power / (2.0 * noise**2), grid.step_s


def least_variance(reach: float) -> float:
    """Of the quadratic coefficient of a quintic phase known for ``reach`` s on both sides, J = 1.

    The integral of u^n over -1 to 1 is 2 / (n + 1) for even n and nothing for odd n.
    """
    power = np.add.outer(np.arange(6), np.arange(6))
    fisher = reach * np.where(power % 2 == 0, 2.0 / (power + 1.0), 0.0)
    return float(np.linalg.inv(fisher)[2, 2] / reach**4)


def curvature(take: KnownTake, *, reach: float) -> Floats:
    """Of the true pitch at every turning point, Hz a square second."""
    near = take.turn_s[:, None] + 0.5 * reach * np.array([-1.0, 0.0, 1.0])
    hz = np.interp(near * take.rate_hz, np.arange(take.hz.size), take.hz)
    return np.asarray(np.abs(hz[:, 0] - 2.0 * hz[:, 1] + hz[:, 2]) / (0.5 * reach) ** 2)
