"""The whole chain: `hear` a recording once, `judge` it at every move of a slider.

recording -> clicks -> pitch contour -> notes with their turning points     hear: slow, once
take + task -> home -> waves -> grid -> measures -> findings                judge: milliseconds
"""

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import replace
from functools import partial
from pathlib import Path

from labcore.audio import load_recording
from labcore.clicks import Bars, find_bars, find_clicks
from labcore.cycles import find_turns, pair_cycles
from labcore.errors import LabError
from labcore.findings import find
from labcore.measures import measure
from labcore.metre import find_beat, fit_grid
from labcore.model import (
    ClickSource,
    ClickTrack,
    Context,
    Dropped,
    Home,
    Note,
    NoteReport,
    PitchContour,
    Place,
    Recording,
    Report,
    Take,
    Task,
    VibratoCycle,
)
from labcore.notes import find_home, find_plain_parts, find_spans
from labcore.pitch import track

CLICKS_BESIDE = (
    "One channel holds the clicks, the other the guitar: the beat is taken from the one, the "
    "pitch from the other."
)


def hear(recording: Recording, *, clicks: ClickTrack | None = None) -> Take:
    """What a recording holds, knowing no tempo and no task: clicks, pitch, notes and turns.

    ``clicks`` known beforehand (from the recorder or a practice track) are taken as they are;
    otherwise clicks are listened for, and first on a channel of their own.
    """
    if not isinstance(recording, Recording):
        raise LabError(
            f"A recording was asked for, and {type(recording).__name__} was given. Open a file by "
            "load_recording, or take samples in by recording_from_samples."
        )
    facts, in_sound = recording.facts, clicks
    if clicks is None and recording.beside is not None:
        clicks = find_clicks(replace(recording, samples=recording.beside))
        if clicks is not None:
            facts = replace(facts, warnings=(*facts.warnings, CLICKS_BESIDE))
    if clicks is None:
        clicks = in_sound = find_clicks(recording)
    contour = track(recording, clicks=in_sound)
    return Take(facts, clicks, contour, notes_of(contour))


def bars_of(recording: Recording, *, take: Take) -> Bars | None:
    """The bars that an accented click tells, where one was heard in this recording."""
    if take.clicks is None or take.clicks.source is not ClickSource.HEARD:
        return None
    if CLICKS_BESIDE in take.facts.warnings and recording.beside is not None:
        recording = replace(recording, samples=recording.beside)
    return find_bars(recording, clicks=take.clicks)


def notes_of(contour: PitchContour) -> tuple[Note, ...]:
    """The notes of a contour, each with its turning points and its plain parts."""
    notes = []
    for span in find_spans(contour):
        turns = find_turns(contour, start_s=span.onset_s, end_s=span.offset_s)
        plain_parts = find_plain_parts(contour, span=span, turns=turns)
        notes.append(Note(span.onset_s, span.offset_s, turns, plain_parts))
    return tuple(notes)


def judge(take: Take, task: Task | None = None, *, context: Context | None = None) -> Report:
    """A take set against a task: homes, waves, grid, measures, findings.

    Without a task nothing is asked, and nothing is judged against a beat.
    """
    task, context = task or Task(), context or Context()
    notes, cycles, dropped = _waves(take, task)
    beat = find_beat(task, clicks=take.clicks)
    stretches = fit_grid(cycles, beat=beat) if beat is not None else ()
    measures = measure(take, notes=notes, cycles=cycles, stretches=stretches, beat=beat)
    report = Report(take, task, context, notes, cycles, dropped, stretches, measures, ())
    return replace(report, findings=find(report))


def _waves(
    take: Take, task: Task
) -> tuple[tuple[NoteReport, ...], tuple[VibratoCycle, ...], tuple[Dropped, ...]]:
    notes: list[NoteReport] = []
    cycles: list[VibratoCycle] = []
    dropped: list[Dropped] = []
    held = [note for note in take.notes if note.plain_parts]
    homes = [
        find_home(note, task=task, others=[other for other in held if other is not note])
        for note in take.notes
    ]
    usual = _usual_place(homes)
    for index, (note, home) in enumerate(zip(take.notes, homes, strict=True)):
        found, lost = pair_cycles(note, index=index, home=home, contour=take.contour, usual=usual)
        notes.append(NoteReport(home, tuple(range(len(cycles), len(cycles) + len(found)))))
        cycles.extend(found)
        dropped.extend(lost)
    return tuple(notes), tuple(cycles), tuple(dropped)


def _usual_place(homes: Sequence[Home | None]) -> Place:
    """Where home lies in most of the notes that tell."""
    places = [home.place for home in homes if home is not None]
    known = [place for place in places if place is not Place.UNKNOWN]
    return max(known, key=known.count) if known else Place.UNKNOWN


def analyse(
    recording: Recording, *, tempo_bpm: float | None = None, cycles_per_beat: int | None = None
) -> Report:
    """The short road from a recording to its report; leave out what was not asked."""
    return judge(hear(recording), Task(tempo_bpm=tempo_bpm, cycles_per_beat=cycles_per_beat))


def analyse_many(
    paths: Iterable[Path], *, task: Task | None = None, executor: Executor | None = None
) -> Iterator[Report | LabError]:
    """Reports of many files in their order; a file that cannot be read gives its `LabError`.

    ``executor`` is any ``concurrent.futures.Executor``; without one the files are taken in turn.
    """
    one = partial(_analyse_one, task=task or Task())
    try:
        yield from executor.map(one, paths) if executor is not None else map(one, paths)
    except BrokenExecutor as error:
        raise LabError(
            "A process that was hearing takes was stopped, perhaps for want of memory. Close other "
            "programs, then hear the takes once more, or fewer of them at a time."
        ) from error


def _analyse_one(path: Path, *, task: Task) -> Report | LabError:
    try:
        return judge(hear(load_recording(path)), task)
    except LabError as error:
        return error
    except Exception as error:  # one file must never stop the others
        return LabError(
            f"{path.name} could not be analysed ({type(error).__name__}: {error}); the others "
            "were. Please report this file."
        )
