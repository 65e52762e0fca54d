"""Reports from formulas, so that figures are tested without any hearing or judging."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from labcore.model import (
    BeatOrigin,
    ClickSource,
    ClickTrack,
    Context,
    Dropped,
    Finding,
    GridFit,
    Home,
    HomeSource,
    Measure,
    Measures,
    Note,
    NoteReport,
    PitchContour,
    Place,
    PlainPart,
    RecordingFacts,
    Report,
    Take,
    Task,
    Turn,
    TurnKind,
    Verdict,
    VibratoCycle,
)

HOME_HZ = 329.63
STEP_S = 0.005


def cycle(
    *,
    start_s: float,
    period_s: float,
    start_cents: float,
    end_cents: float,
    top_cents: float,
    place: Place = Place.BOTTOM,
) -> VibratoCycle:
    """One wave out and back, in cents above home."""
    out, back = (
        (TurnKind.LOW, TurnKind.HIGH) if place is not Place.TOP else (TurnKind.HIGH, TurnKind.LOW)
    )

    def turn(time_s: float, cents: float, kind: TurnKind) -> Turn:
        return Turn(time_s, HOME_HZ * 2 ** (cents / 1200), 1.0, kind)

    return VibratoCycle(
        0,
        turn(start_s, start_cents, out),
        turn(start_s + period_s / 2, top_cents, back),
        turn(start_s + period_s, end_cents, out),
        Home(HOME_HZ, 1.0, place, HomeSource.STRAIGHT, 0.0, 1.0),
    )


def make_report(
    *,
    tempo_bpm: float | None = 72.0,
    waves_per_beat: int | None = 3,
    bars: int = 4,
    landings_cents: Sequence[float] = (2.0, -3.0, 14.0, 1.0, 30.0),
    width_cents: float = 50.0,
    clicks: bool = True,
    played_per_beat: int = 3,
    played_bpm: float = 72.0,
    name: str = "bench 3",
) -> Report:
    """A take of whole bars: pluck on one, beat one plain, waves on the other three."""
    beat_s = 60.0 / played_bpm
    lead_s = 4 * beat_s if clicks else 0.3
    period_s = beat_s / played_per_beat
    end_s = lead_s + 4 * bars * beat_s
    time_s = np.arange(0.0, end_s + 0.4, STEP_S)
    cents = np.full(time_s.size, np.nan)
    cents[(time_s >= lead_s) & (time_s <= end_s)] = 0.0
    cycles: list[VibratoCycle] = []
    for bar in range(bars):
        before = 0.0
        for k in range(3 * played_per_beat):
            start = lead_s + (4 * bar + 1) * beat_s + k * period_s
            after = landings_cents[len(cycles) % len(landings_cents)]
            top = width_cents * (1.0 + 0.08 * np.sin(1.7 * len(cycles)))
            cycles.append(
                cycle(
                    start_s=start,
                    period_s=period_s,
                    start_cents=before,
                    end_cents=after,
                    top_cents=top,
                )
            )
            inside = (time_s >= start) & (time_s < start + period_s)
            phase = (time_s[inside] - start) / period_s
            floor = before + (after - before) * phase
            cents[inside] = floor + (top - floor) * (0.5 - 0.5 * np.cos(2 * np.pi * phase))
            before = after
    hz = HOME_HZ * 2 ** (cents / 1200)
    voiced = np.isfinite(hz)
    attacks = np.array([lead_s])
    level = np.where(voiced, -12.0 - 1.2 * (time_s - lead_s), -70.0)
    contour = PitchContour(
        time_s,
        hz,
        level,
        np.where(voiced, 1.0, np.nan),
        np.full(time_s.size, np.nan),
        attacks,
        STEP_S,
    )
    turns = tuple(t for c in cycles for t in (c.start, c.turn))
    note = Note(lead_s, end_s, turns, (PlainPart(lead_s, lead_s + beat_s, HOME_HZ, 1.0, 1.5),))
    click_s = np.arange(0.0, end_s, beat_s)
    track = ClickTrack(click_s, ClickSource.HEARD, 0.001) if clicks else None
    facts = RecordingFacts(name, "0" * 64, 44100.0, float(time_s[-1]))
    take = Take(facts, track, contour, (note,))
    return Report(
        take,
        Task(tempo_bpm=tempo_bpm, cycles_per_beat=waves_per_beat),
        Context(),
        (NoteReport(cycles[0].home, tuple(range(len(cycles)))),),
        tuple(cycles),
        (Dropped(0.1, 0.2, "it was cut off"),),
        (_fit(cycles, played_per_beat=played_per_beat, tempo_bpm=tempo_bpm, clicks=clicks),)
        if tempo_bpm
        else (),
        Measures(
            rate=Measure(1 / period_s, "Hz", len(cycles), 0.1, 0.01),
            extent=Measure(width_cents, "cents", len(cycles), 3.0, 0.5),
            declined={"lock": "16 waves and 8 beats are needed"},
        ),
        (
            Finding(
                "plain_note",
                Verdict.SETTLED,
                "Your plain note was steady.",
                "It wandered 1.5 cents.",
            ),
            Finding(
                "return",
                Verdict.WORK,
                "Some waves did not come home.",
                "7 of 36 came back over 20 cents high.",
            ),
        ),
    )


def _fit(
    cycles: Sequence[VibratoCycle], *, played_per_beat: int, tempo_bpm: float, clicks: bool
) -> GridFit:
    n, step_s = len(cycles), 60.0 / tempo_bpm / played_per_beat
    return GridFit(
        cycles[0].start_s,
        cycles[-1].end_s,
        np.arange(n),
        np.zeros(n),
        float(played_per_beat),
        played_per_beat,
        0.0,
        0.0 if clicks else cycles[0].start_s % step_s,
        1.0,
        BeatOrigin.CLICKS if clicks else BeatOrigin.FITTED,
        step_s,
    )


@pytest.fixture
def report_from() -> Callable[..., Report]:
    """`make_report`, for tests that are collected one file at a time."""
    return make_report
