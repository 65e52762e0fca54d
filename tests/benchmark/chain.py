"""How long the chain takes, as ratios within one run: ``python -m tests.benchmark.chain``.

A take of 20 s at 44.1 kHz is heard and judged; beside it librosa's pyin at the same hop, as a
common measure of this machine. A fresh Python shows the way from nothing imported to the first
picture's figure.
"""

import subprocess
import sys

import librosa
import numpy as np

from labcore.analysis import hear, judge
from labcore.audio import load_recording, wav_bytes
from labcore.figures.take import take_figure
from labcore.model import Task, Technique
from labcore.synthesis import Playing
from tests.judging.takes import bars
from tests.made import least_cpu_s, sound_of

REPEATS = 5
FIRST_PICTURE = """
import time
start = time.perf_counter()
from labcore.analysis import hear, judge
from labcore.audio import load_recording
from labcore.figures.take import take_figure
from labcore.model import Task
import pathlib, sys
report = judge(hear(load_recording(pathlib.Path(sys.argv[1]).read_bytes())), Task(72.0, 3))
take_figure(report).to_json()
print(time.perf_counter() - start)
"""


def main() -> None:
    """Print a Markdown table of ratios."""
    description = bars("twenty", Playing(cycles_per_beat=(3,) * 6), seed=1)
    recording = sound_of(description)
    length_s = recording.duration_s
    task = Task(72.0, 3, Technique.BEND)
    sound = wav_bytes(recording)
    take = hear(recording)
    report = judge(take, task)
    step = round(0.005 * recording.sample_rate_hz)
    work = {
        "read the file": lambda: load_recording(sound),
        "hear: clicks, contour, notes": lambda: hear(recording),
        "judge: homes, waves, grid, measures, findings": lambda: judge(take, task),
        "figure to JSON": lambda: take_figure(report).to_json(),
    }
    rows = {name: least_cpu_s(job, times=REPEATS) for name, job in work.items()}
    samples = np.asarray(recording.samples, dtype=float)
    pyin = least_cpu_s(
        lambda: librosa.pyin(
            samples, fmin=60, fmax=1400, sr=recording.sample_rate_hz, hop_length=step
        ),
        times=2,
    )
    print(f"A take of {length_s:.1f} s; CPU time against real time, and against pyin at 5 ms.\n")
    print("| step | share of real time | pyin takes longer by |")
    print("| --- | --- | --- |")
    for name, spent in rows.items():
        print(f"| {name} | {spent / length_s:.4f} | {pyin / spent:.0f} x |")
    first = first_picture(sound)
    print(f"\nA fresh Python to the first picture's figure: {first / pyin:.2f} of pyin's time.")


def first_picture(sound: bytes) -> float:
    """Wall seconds in a fresh interpreter from nothing imported to a figure."""
    import tempfile
    from pathlib import Path

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        path.write_bytes(sound)
        command = [sys.executable, "-c", FIRST_PICTURE, str(path)]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
    return float(done.stdout)


if __name__ == "__main__":
    main()
