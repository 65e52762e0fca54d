"""A process that keeps takes until it is stopped: run by the tests of crashes and of two pages.

Usage: python writer.py LOG LABEL HOW_MANY [WITH_SOUND]. Prints the number of each take kept.
"""

import dataclasses
import runpy
import sys
from pathlib import Path

import numpy as np

from labcore.audio import recording_from_samples
from labcore.practice_log import open_log


def main(path: str, label: str, how_many: int, *, with_sound: bool) -> None:
    report = runpy.run_path(str(Path(__file__).with_name("conftest.py")))["report"]
    log = open_log(path)
    for number in range(how_many):
        take, sound = report(number, player=label), None
        if with_sound:
            samples = np.random.default_rng(number).uniform(-0.3, 0.3, 44100)
            sound = recording_from_samples(samples, sample_rate_hz=44100.0)
            heard = dataclasses.replace(take.take, facts=sound.facts)
            take = dataclasses.replace(take, take=heard)
        log.add(take, sound=sound)
        print(number, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]), with_sound=len(sys.argv) > 4)
