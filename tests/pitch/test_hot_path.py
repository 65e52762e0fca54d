"""From samples to contour with nothing but numpy installed."""

import subprocess
import sys

PROBE = """
import sys

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {"scipy", "librosa", "soundfile", "numba", "soxr", "av"}:
            raise ImportError(name + " is not installed")

sys.meta_path.insert(0, Blocked())
import numpy as np
from labcore.model import Recording
from labcore.pitch import track
t = np.arange(44100) / 44100
note = (np.sin(2 * np.pi * 220 * t) + 0.5 * np.sin(2 * np.pi * 440 * t)).astype(np.float32)
contour = track(Recording(0.1 * note, 44100.0, "a", "0" * 64))
print(np.nanmedian(contour.frequency_hz))
try:
    import scipy
except ImportError:
    print("blocked")
"""


def test_a_contour_needs_numpy_alone() -> None:
    run = subprocess.run(
        [sys.executable, "-c", PROBE], check=False, capture_output=True, text=True, timeout=60
    )
    assert run.returncode == 0, run.stderr
    hz, blocked = run.stdout.split()
    assert abs(float(hz) - 220.0) < 0.01
    assert blocked == "blocked"
