"""From samples to findings with numpy and the standard library, and nothing else installed."""

import subprocess
import sys

import pytest

from labcore.units import cents_between

PROBE = """
import sys

class OnlyNumpy:
    def find_spec(self, name, path=None, target=None):
        top = name.split(".")[0]
        if top not in {"numpy", "labcore"} and top not in sys.stdlib_module_names:
            raise ModuleNotFoundError(name + " is not installed")

sys.meta_path.insert(0, OnlyNumpy())
import numpy as np
from labcore.analysis import hear, judge
from labcore.audio import recording_from_samples
from labcore.findings import choose
from labcore.model import Task
from labcore.synthesis import NoteDescription, TakeDescription, synthesise, waves

shy = waves(12, rate_hz=3.6, extent_cents=30, start_s=0.9, return_cents=30)
note = NoteDescription(0.5, 5.0, 329.6, knots=shy)
made, _ = synthesise(TakeDescription("shy", 6.0, (note,)), rng=np.random.default_rng(1))
recording = recording_from_samples(made.samples, sample_rate_hz=made.sample_rate_hz, name="shy")
report = judge(hear(recording), Task())
print(report.notes[0].home.hz)
print(choose(report).work.kind)
try:
    import scipy
except ModuleNotFoundError:
    print("nothing else is there")
"""
TOLERANCE_CENTS = 0.5


def test_a_take_is_heard_and_judged_with_numpy_alone() -> None:
    run = subprocess.run(
        [sys.executable, "-c", PROBE], check=False, capture_output=True, text=True, timeout=60
    )
    assert run.returncode == 0, run.stderr
    home_hz, kind, blocked = run.stdout.splitlines()
    assert cents_between(float(home_hz), 329.6) == pytest.approx(0.0, abs=TOLERANCE_CENTS)
    assert (kind, blocked) == ("return", "nothing else is there")
