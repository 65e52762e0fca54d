"""Parts of a take put together: in any order, with some lost, with gaps, with wrong totals."""

import numpy as np
import pytest

from labcore.errors import LabError
from labcore.panels.recorder_parts import MOST_PART_BYTES, Arrived, ArrivingTake, Gap, gap_words

RATE_HZ = 8_000.0
RAMP = (np.arange(16_000) / 16_000.0).astype("<f4")  # no two samples alike: any shift shows


def arriving() -> ArrivingTake:
    return ArrivingTake({"take": "a", "rate_hz": RATE_HZ, "tempo_bpm": 72})


def send(take: ArrivingTake, number: int, first: int, last: int) -> None:
    take.take_part(number, first=first, data=RAMP[first:last].tobytes())


def end(parts: int, samples: int, frames: int = RAMP.size) -> dict[str, int]:
    return {"parts": parts, "samples": samples, "frames": frames}


def whole_of(take: ArrivingTake, parts: int, samples: int) -> Arrived:
    return take.whole(end(parts, samples))


def test_parts_in_any_order_make_the_sound_that_was_sent() -> None:
    take = arriving()
    send(take, 1, 6_000, 16_000)
    send(take, 0, 0, 6_000)
    came = whole_of(take, 2, 16_000)
    np.testing.assert_array_equal(came.samples, RAMP)
    assert came.is_whole
    assert came.gaps == ()
    assert came.told["tempo_bpm"] == 72


def test_a_part_sent_twice_counts_once() -> None:
    take = arriving()
    send(take, 0, 0, 16_000)
    send(take, 0, 0, 16_000)
    np.testing.assert_array_equal(whole_of(take, 1, 16_000).samples, RAMP)


def test_a_gap_becomes_silence_and_moves_nothing_after_it() -> None:
    take = arriving()
    send(take, 0, 0, 4_000)
    send(take, 1, 4_896, 16_000)
    came = whole_of(take, 2, 16_000 - 896)
    assert came.is_whole
    assert came.gaps == (Gap(0.5, 0.112),)
    np.testing.assert_array_equal(came.samples[4_000:4_896], 0.0)
    np.testing.assert_array_equal(came.samples[4_896:], RAMP[4_896:])


def test_a_gap_at_either_end_is_told_too() -> None:
    take = arriving()
    send(take, 0, 512, 15_000)
    gaps = whole_of(take, 1, 14_488).gaps
    assert gaps == (Gap(0.0, 0.064), Gap(1.875, 0.125))


def test_a_lost_part_is_named_and_stands_as_silence_in_what_is_kept() -> None:
    take = arriving()
    send(take, 0, 0, 6_000)
    send(take, 2, 10_000, 16_000)
    assert take.missing(3) == (1,)
    came = take.whole(end(3, 16_000))
    assert not came.is_whole
    assert came.gaps == (Gap(0.75, 0.5),)
    np.testing.assert_array_equal(came.samples[10_000:], RAMP[10_000:])


def test_a_total_that_does_not_agree_is_refused() -> None:
    take = arriving()
    send(take, 0, 0, 6_000)
    with pytest.raises(LabError, match="6000 samples arrived, 6001 were sent"):
        take.whole(end(1, 6_001))


def test_what_arrived_before_the_page_was_closed_is_kept() -> None:
    take = arriving()
    send(take, 0, 0, 8_000)
    assert take.duration_s == 1.0
    came = take.so_far()
    assert not came.is_whole
    np.testing.assert_array_equal(came.samples, RAMP[:8_000])


def test_nothing_at_all_is_said() -> None:
    with pytest.raises(LabError, match="Nothing of the take arrived"):
        arriving().so_far()


@pytest.mark.parametrize(
    ("first", "data", "words"),
    [
        (0, b"abc", "3 bytes"),
        (0, bytes(MOST_PART_BYTES + 4), "at most 1048576"),
        (-1, bytes(4), "begins at sample -1"),
        (2**40, bytes(4), "a take has at most"),
    ],
)
def test_a_part_that_cannot_be_one_is_refused(first: int, data: bytes, words: str) -> None:
    with pytest.raises(LabError, match=words):
        arriving().take_part(0, first=first, data=data)


@pytest.mark.parametrize("rate", [None, 0, "many", 1e9, float("nan")])
def test_no_usable_rate_is_refused(rate: object) -> None:
    with pytest.raises(LabError, match="sample rate"):
        ArrivingTake({"rate_hz": rate})


def test_no_gaps_need_no_words() -> None:
    assert gap_words(()) == ""
    assert "112 ms" in gap_words([Gap(0.5, 0.112)])
