"""The goals of the contour, every row, on takes made for the purpose; and what it costs."""

import time

import numpy as np
import pytest

from tests.benchmark.contour import by_labcore, by_parselmouth, by_pyin, peak_mb
from tests.benchmark.contour_bound import turning_bound_ms
from tests.benchmark.contour_score import Score, score
from tests.benchmark.contour_takes import RATE_HZ, KnownTake, additive, synthetic

pytestmark = pytest.mark.slow

# Median and 95 % of the error in cents; bias and 95 % of the width in %; median and 95 % of the
# turning point in ms. The goals are what was found feasible before this tracker was written, but
# for the last one in noise: 1.5 ms was hoped for, and `turning_bound_ms` shows that no fit of the
# same few moments of sound can know it that well.
GOALS = {
    "clean": (0.05, 0.3, 0.2, 1.0, 0.1, 0.5),
    "overdrive": (0.1, 0.7, 0.3, 1.5, 0.1, 0.5),
    "SNR 20 dB": (0.3, 1.0, 0.3, 4.0, 0.3, 2.5),
    "clicks -10 dB": (0.1, 1.0, 0.3, 3.0, 0.1, 1.5),
    "reverb": (0.7, 3.5, 2.0, 14.0, 1.0, 4.0),
    "mixed": (0.7, 3.5, 2.0, 14.0, 1.0, 4.0),
}
LEAST_TURNING_CENTS = 25.0
SEEDS = range(20, 60)  # none of them was looked at while the constants were chosen


def scores_of(takes: list[KnownTake]) -> list[Score]:
    results = []
    for take in takes:
        time_s, hz = by_labcore(take)
        results.append(score(take, time_s=time_s, hz=hz))
    return results


def is_wide(take: KnownTake) -> bool:
    """Whether a wave turns sharply enough to have an instant: 10 cents at 2 Hz have not."""
    return bool(1200 * np.log2(take.hz.max() / take.hz.min()) > LEAST_TURNING_CENTS)


@pytest.mark.parametrize("condition", GOALS)
def test_a_row_of_the_goals_is_reached(condition: str) -> None:
    found = scores_of([synthetic(seed=seed, condition=condition) for seed in SEEDS])
    error = np.abs(np.concatenate([one.cents for one in found]))
    width = 100 * (np.concatenate([one.extent for one in found]) - 1)
    late = np.abs(np.concatenate([one.turn_ms for one in found if is_wide(one.take)]))
    width, late = width[np.isfinite(width)], late[np.isfinite(late)]
    measured = (
        np.median(error),
        np.quantile(error, 0.95),
        abs(np.median(width)),
        np.quantile(np.abs(width), 0.95),
        np.median(late),
        np.quantile(late, 0.95),
    )
    assert all(have <= want for have, want in zip(measured, GOALS[condition], strict=True)), (
        np.round(measured, 2),
        GOALS[condition],
    )
    assert max(one.gross for one in found) == 0.0


def test_turning_points_in_noise_are_known_as_well_as_noise_allows() -> None:
    seeds = [s for s in SEEDS if is_wide(synthetic(seed=s))]
    takes = [synthetic(seed=s, condition="SNR 20 dB") for s in seeds]
    late = np.abs(np.concatenate([one.turn_ms for one in scores_of(takes)]))
    bound = np.concatenate([turning_bound_ms(synthetic(seed=s), noisy=t)
                            for s, t in zip(seeds, takes, strict=True)])  # fmt: skip
    normal = np.abs(np.random.default_rng(0).normal(size=(100, bound.size))) * bound
    assert np.nanquantile(late, 0.95) < np.quantile(normal, 0.95)
    assert GOALS["SNR 20 dB"][-1] < np.quantile(normal, 0.95)


BASES_HZ = (60.5, 82.4, 116.0, 165.0, 233.0, 330.0, 466.0, 659.0, 932.0, 1390.0)


@pytest.mark.parametrize("odd_decay_share", [1.0, 0.4])
@pytest.mark.parametrize(
    "kind", ["plain", "weak fundamental", "weak odd", "strong second", "twelfth fret pluck", "dark"]
)
def test_no_way_of_plucking_fools_the_octave(kind: str, odd_decay_share: float) -> None:
    conditions = ["SNR 40 dB", "SNR 20 dB", "reverb"]
    if odd_decay_share == 1.0:  # otherwise a click in a room may pass for a pluck of what is left
        conditions.append("mixed")
    takes = [
        synthetic(
            seed=700 + 10 * i + j,
            condition=condition,
            kind=kind,
            base_hz=hz,
            odd_decay_share=odd_decay_share,
        )
        for i, hz in enumerate(BASES_HZ)
        for j, condition in enumerate(conditions)
    ]
    assert [one.take.name for one in scores_of(takes) if one.octave > 0.0] == []


def test_waveguide_strings_are_measured_as_well() -> None:
    takes = [synthetic(seed=s, condition="overdrive", strings="waveguide") for s in SEEDS]
    error = np.abs(np.concatenate([one.cents for one in scores_of(takes)]))
    assert np.median(error) < 0.1
    assert np.quantile(error, 0.95) < 0.7


def long_take(seconds: float) -> KnownTake:
    note = additive(np.full(int(4 * RATE_HZ), 196.0), rng=np.random.default_rng(0))
    sound = np.tile(note, int(seconds / 4))
    return KnownTake("long", "", sound, RATE_HZ, sound, (), 0.0, seconds, np.zeros(0))


def cost(tracker: object, take: KnownTake, *, times: int) -> float:
    """Least processor seconds of a few runs, after one that warms up."""
    assert callable(tracker)
    tracker(take)
    spent = []
    for _ in range(times):
        begin = time.process_time()
        tracker(take)
        spent.append(time.process_time() - begin)
    return min(spent)


SHARE_OF_PARSELMOUTH = 1.25  # about as fast; two measurements in one run differ by so much


def test_it_is_as_fast_as_parselmouth_and_forty_times_as_fast_as_pyin() -> None:
    take = long_take(20.0)
    ours = cost(by_labcore, take, times=3)
    assert ours < SHARE_OF_PARSELMOUTH * cost(by_parselmouth, take, times=3)
    short = long_take(8.0)
    assert cost(by_pyin, short, times=1) / 8.0 > 40 * ours / 20.0


def test_ten_minutes_need_less_than_300_mb() -> None:
    assert peak_mb("labcore", minutes=10.0) < 300.0
