"""How well is the pitch of a vibrato measured, against three general trackers?

    python -m tests.benchmark.contour                     synthetic takes, all trackers
    python -m tests.benchmark.contour --ours              labcore alone: fast
    python -m tests.benchmark.contour --notes FOLDER      a folder of your own steady notes
    python -m tests.benchmark.contour --notes FOLDER --wobble    the notes' own wobble in the truth
    python -m tests.benchmark.contour --takes 12          more takes a condition
    python -m tests.benchmark.contour --memory            peak memory too (several minutes)

Prints Markdown tables. All trackers hear the same takes in the same run. Costs are processor
seconds a second of sound, so read the ratios, not the seconds.

A folder of your own holds plain plucked notes, one a file, held without vibrato for two seconds
or more: the benchmark plays each faster and slower so that its pitch moves by a known vibrato,
adds clicks, hum, a room and so on, and says how near the measured pitch comes ("how well does it
measure *my* guitar?"). Their pitch is read by praat-parselmouth, or from a ``manifest.csv`` with
the columns ``file`` and ``base_f0_hz``. A real string's pitch wobbles by itself (its two directions
of swing beat), and that stands in the table as an error; ``--wobble`` adds what labcore hears of
the plain, undisturbed note to the truth, so that what is left is the measurement's own.
"""

import argparse
import csv
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from labcore.measures.quality import sure
from labcore.model import ClickSource, ClickTrack, PitchContour, Recording
from labcore.pitch import track
from tests.benchmark.contour_score import FAR_CENTS, Doubt, Floats, Score, doubt, score
from tests.benchmark.contour_takes import (
    DISTURBANCES,
    RATE_HZ,
    KnownTake,
    from_steady_note,
    synthetic,
)

STEP_S = 0.005
LEAST_HZ, MOST_HZ = 58.0, 1500.0  # what every tracker is told
SILENCE_SHARE = 0.0005  # parselmouth's own threshold, 0.03, drops a decaying note
CLICKS_KNOWN_TO_S = 0.0005
SOUND_FILES = {".wav", ".flac", ".ogg", ".mp3", ".aif", ".aiff"}
GROSS_TAKE = 0.002  # a take in which more of the frames are on another note has a gross error

Line = tuple[Floats, Floats]  # times in s, pitches in Hz (NaN or 0: none)
Tracker = Callable[[KnownTake], Line]


# --- trackers --------------------------------------------------------------------------------


def recording_of(take: KnownTake) -> Recording:
    """A take as the package sees it."""
    return Recording(take.samples.astype(np.float32), take.rate_hz, take.name, "0" * 64)


def by_labcore(take: KnownTake) -> Line:
    """Our own contour."""
    found = contour_of(take)
    return found.time_s, found.frequency_hz


def contour_of(take: KnownTake) -> PitchContour:
    """What labcore hears; a take with clicks comes with their times, as a practice track does."""
    clicks = None
    if take.click_s:
        clicks = ClickTrack(np.array(take.click_s), ClickSource.KNOWN, CLICKS_KNOWN_TO_S)
    return track(recording_of(take), clicks=clicks)


def by_parselmouth(take: KnownTake) -> Line:
    """Autocorrelation after Boersma 1993."""
    import parselmouth

    sound = parselmouth.Sound(take.samples, sampling_frequency=take.rate_hz)
    found = sound.to_pitch_ac(
        time_step=STEP_S,
        pitch_floor=LEAST_HZ,
        pitch_ceiling=MOST_HZ,
        silence_threshold=SILENCE_SHARE,
    )
    return np.asarray(found.xs()), np.asarray(found.selected_array["frequency"])


def by_yin(take: KnownTake) -> Line:
    """librosa.yin with a frame of 2048 samples, at our step."""
    import librosa

    hop = round(STEP_S * take.rate_hz)
    hz = librosa.yin(take.samples, fmin=LEAST_HZ, fmax=MOST_HZ, sr=take.rate_hz, hop_length=hop)
    return np.arange(hz.size) * hop / take.rate_hz, hz


def by_pyin(take: KnownTake) -> Line:
    """librosa.pyin with a frame of 2048 samples, at our step."""
    import librosa

    hop = round(STEP_S * take.rate_hz)
    hz, _, _ = librosa.pyin(
        take.samples, fmin=LEAST_HZ, fmax=MOST_HZ, sr=take.rate_hz, hop_length=hop
    )
    return np.arange(hz.size) * hop / take.rate_hz, hz


TRACKERS: dict[str, Tracker] = {
    "labcore": by_labcore,
    "parselmouth": by_parselmouth,
    "librosa.yin": by_yin,
    "librosa.pyin": by_pyin,
}


# --- takes -----------------------------------------------------------------------------------


def made_takes(count: int) -> Iterator[KnownTake]:
    """Synthetic notes in every condition, and waveguide strings clean and overdriven."""
    for condition in DISTURBANCES:
        for seed in range(count):
            yield synthetic(seed=seed, condition=condition)
    for condition in ("clean", "overdrive"):
        for seed in range(count):
            take = synthetic(seed=seed, condition=condition, strings="waveguide")
            yield KnownTake(**{**vars(take), "condition": f"waveguide, {condition}"})


def takes_of_notes(folder: Path, count: int, *, wobble: bool) -> Iterator[KnownTake]:
    """Every condition imposed ``count`` times on every steady note of a folder."""
    pitches = dict(manifest(folder / "manifest.csv"))
    sounds = (path for path in folder.iterdir() if path.suffix.lower() in SOUND_FILES)
    for place, path in enumerate(sorted(sounds)):
        samples = at_our_rate(path)
        base_hz = pitches.get(path.name) or steady_hz(samples)
        own_cents = own_wobble(samples, base_hz=base_hz) if wobble else None
        for number, condition in enumerate(DISTURBANCES):
            for repeat in range(count):
                seed = 10_000 * repeat + 100 * place + number
                yield from_steady_note(
                    samples,
                    name=path.stem,
                    seed=seed,
                    condition=condition,
                    base_hz=base_hz,
                    own_cents=own_cents,
                )


def manifest(path: Path) -> Iterator[tuple[str, float]]:
    """Names and pitches of the notes in a folder, if somebody wrote them down."""
    if path.exists():
        with path.open(newline="") as lines:
            for row in csv.DictReader(lines):
                yield row["file"], float(row["base_f0_hz"])


def at_our_rate(path: Path) -> Floats:
    """Mono samples of a file at `RATE_HZ`."""
    import librosa
    import soundfile

    try:
        samples, rate_hz = soundfile.read(path, always_2d=True)
    except soundfile.LibsndfileError as problem:
        sys.exit(f"{path.name} is not a sound file that can be read ({problem}).")
    mono = samples.mean(axis=1)
    if rate_hz != RATE_HZ:
        mono = librosa.resample(mono, orig_sr=rate_hz, target_sr=RATE_HZ)
    return np.asarray(mono, dtype=np.float64)


def plain(samples: Floats) -> KnownTake:
    """A plain note as a take, for the trackers to hear."""
    return KnownTake("note", "plain", samples, RATE_HZ, samples, (), 0.0, 1.0, samples[:0])


def own_wobble(samples: Floats, *, base_hz: float) -> Floats:
    """What the pitch of a plain note does by itself, in cents at every sample, as labcore hears it.

    Held at its ends, where the note is not heard.
    """
    time_s, hz = by_labcore(plain(samples))
    heard = np.isfinite(hz)
    cents = 1200.0 * np.log2(hz[heard] / base_hz)
    return np.interp(np.arange(samples.size) / RATE_HZ, time_s[heard], cents)


def steady_hz(samples: Floats) -> float:
    """The pitch of a plain note, by a tracker that is not ours."""
    hz = by_parselmouth(plain(samples))[1]
    if not (hz > 0).any():
        sys.exit("A note in the folder has no pitch; give plain plucked notes, one a file.")
    return float(np.median(hz[hz > 0]))


# --- results ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    """One tracker in one condition."""

    condition: str
    tracker: str
    scores: list[Score]
    cost: float  # processor seconds a second of sound

    def cells(self) -> list[str]:
        """What the table shows."""
        error = np.abs(np.concatenate([one.cents for one in self.scores]))
        extent = 100.0 * (np.concatenate([one.extent for one in self.scores]) - 1.0)
        turn = np.abs(np.concatenate([one.turn_ms for one in self.scores]))
        extent, turn = extent[np.isfinite(extent)], turn[np.isfinite(turn)]
        gross = 100.0 * float(np.mean([one.gross for one in self.scores]))
        takes = sum(one.gross > GROSS_TAKE for one in self.scores)
        octave = sum(one.octave > GROSS_TAKE for one in self.scores)
        missed = 100.0 * float(np.mean([one.missed for one in self.scores]))
        return [
            self.condition,
            self.tracker,
            f"{np.median(error):.2f} / {np.quantile(error, 0.95):.2f}",
            f"{np.median(extent):+.2f} / {np.quantile(np.abs(extent), 0.95):.1f}",
            f"{np.median(turn):.2f} / {np.quantile(turn, 0.95):.2f}",
            f"{gross:.2f}",
            f"{takes} / {octave} of {len(self.scores)}",
            f"{missed:.1f}",
        ]


HEAD = [
    "condition",
    "tracker",
    "error, cents (median / 95 %)",
    "width, % (bias / 95 %)",
    "turning point, ms (median / 95 %)",
    "frames on another note, %",
    "takes with such / octave errors",
    "frames missed, %",
]


def table(head: list[str], rows: list[list[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines)


def compare(takes: list[KnownTake], trackers: dict[str, Tracker]) -> list[Row]:
    """Every tracker on every take, grouped by condition."""
    rows = []
    for condition in dict.fromkeys(take.condition for take in takes):
        chosen = [take for take in takes if take.condition == condition]
        for name, tracker in trackers.items():
            scores, spent, heard = [], 0.0, 0.0
            for take in chosen:
                begin = time.process_time()
                time_s, hz = tracker(take)
                spent += time.process_time() - begin
                heard += take.samples.size / take.rate_hz
                scores.append(score(take, time_s=time_s, hz=hz))
            rows.append(Row(condition, name, scores, spent / heard))
            print(f"{condition}, {name}: done", file=sys.stderr)
    return rows


DOUBT_HEAD = [
    "condition",
    "frames in doubt, %",
    "error of the others, cents (median / 95 %)",
    "error of those in doubt",
    f"frames over {FAR_CENTS:.0f} cents off: in doubt",
]


def doubt_table(takes: list[KnownTake]) -> str:
    """What labcore itself calls doubtful: does it know where it is wrong?"""
    rows = []
    for condition in dict.fromkeys(take.condition for take in takes):
        found = [doubt_of(take) for take in takes if take.condition == condition]
        error = np.concatenate([one.cents for one in found])
        doubted = np.concatenate([one.doubted for one in found])
        far = error > FAR_CENTS
        rows.append([
            condition,
            f"{100.0 * doubted.mean():.1f}",
            spread(error[~doubted]),
            spread(error[doubted]),
            f"{(far & doubted).sum()} of {far.sum()}",
        ])  # fmt: skip
    return table(DOUBT_HEAD, rows)


def doubt_of(take: KnownTake) -> Doubt:
    """labcore's errors on a take, and which frames it doubts."""
    found = contour_of(take)
    return doubt(take, time_s=found.time_s, hz=found.frequency_hz, sure=sure(found))


def spread(values: Floats) -> str:
    """Median and 95 %, or a dash where there is nothing."""
    if values.size == 0:
        return "-"
    return f"{np.median(values):.2f} / {np.quantile(values, 0.95):.2f}"


def cost_table(rows: list[Row]) -> str:
    """Cost of every tracker, as a ratio to ours, over all conditions."""
    mean = {
        name: float(np.mean([row.cost for row in rows if row.tracker == name]))
        for name in dict.fromkeys(row.tracker for row in rows)
    }
    return table(
        ["tracker", "times real time", "cost, labcore = 1"],
        [[name, f"{1 / cost:.0f}", f"{cost / mean['labcore']:.1f}"] for name, cost in mean.items()],
    )


# --- memory ----------------------------------------------------------------------------------

MEMORY_PROBE = """
import re, sys
from pathlib import Path
import numpy as np
from labcore.pitch import track
from tests.benchmark.contour import TRACKERS, recording_of
from tests.benchmark.contour_takes import KnownTake, RATE_HZ, additive

def status_mb(field):
    text = Path("/proc/self/status").read_text()
    return int(re.search(field + r":\\s+(\\d+)", text).group(1)) / 1024

def take_of(samples):
    return KnownTake("", "", samples, RATE_HZ, np.zeros(0), (), 0, 0, np.zeros(0))

name, minutes = sys.argv[1], float(sys.argv[2])
TRACKERS[name](take_of(np.zeros(44100)))
note = additive(np.full(int(3 * RATE_HZ), 196.0), rng=np.random.default_rng(0))
take = take_of(np.tile(note.astype(np.float32), int(minutes * 20)))
if name == "labcore":
    recording, take = recording_of(take), None
Path("/proc/self/clear_refs").write_text("5")  # forget the peak so far
before = status_mb("VmRSS")
track(recording) if name == "labcore" else TRACKERS[name](take)
print(status_mb("VmHWM") - before)
"""


def peak_mb(name: str, *, minutes: float) -> float:
    """Memory in MB that a tracker needs above the sound itself, in a process of its own (Linux)."""
    probe = [sys.executable, "-c", MEMORY_PROBE, name, str(minutes)]
    return float(subprocess.run(probe, check=True, capture_output=True, text=True).stdout)


def memory_table(trackers: dict[str, Tracker]) -> str:
    """Ours on ten minutes; the others on one, times ten, for some would not fit."""
    rows = []
    for name in trackers:
        minutes = 10.0 if name == "labcore" else 1.0
        how = "measured" if name == "labcore" else "one minute, times ten"
        rows.append([name, f"{peak_mb(name, minutes=minutes) * 10.0 / minutes:.0f}", how])
    return table(["tracker", "MB above the sound, 10 minutes", ""], rows)


def main() -> None:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--notes", type=Path, help="a folder of your own steady notes")
    parser.add_argument("--wobble", action="store_true", help="the notes' own wobble is truth too")
    parser.add_argument("--takes", type=int, default=6, help="takes a condition (or note)")
    parser.add_argument("--ours", action="store_true", help="labcore alone")
    parser.add_argument("--memory", action="store_true", help="peak memory too")
    chosen = parser.parse_args()
    trackers = {"labcore": by_labcore} if chosen.ours else TRACKERS
    takes = list(
        takes_of_notes(chosen.notes, chosen.takes, wobble=chosen.wobble)
        if chosen.notes
        else made_takes(chosen.takes)
    )
    if not takes:
        sys.exit(f"No sound files in {chosen.notes}; give a folder of plain plucked notes.")
    for tracker in trackers.values():
        tracker(takes[0])  # the first call of some compiles for seconds
    rows = compare(takes, trackers)
    print(table(HEAD, [row.cells() for row in rows]))
    print()
    print(doubt_table(takes))
    print()
    print(cost_table(rows))
    if chosen.memory:
        print()
        print(memory_table(trackers))


if __name__ == "__main__":
    main()
