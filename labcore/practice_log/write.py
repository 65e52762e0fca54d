"""Rows written for a take. Every function here runs inside a transaction of its caller."""

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from importlib import metadata
from typing import Any
from uuid import uuid4

from labcore.errors import LabError
from labcore.model import Finding, Report
from labcore.practice_log.clock import offset_minutes, utc_text
from labcore.practice_log.rows import rows
from labcore.practice_log.schema import JUDGED

Values = dict[str, Any]


def insert(db: sqlite3.Connection, table: str, lines: Iterable[Values]) -> None:
    """Insert dictionaries whose keys are our own column names."""
    for names, group in _by_names(lines):
        columns = ", ".join(names)
        marks = ", ".join("?" for _ in names)
        db.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", group)


def _by_names(lines: Iterable[Values]) -> Iterator[tuple[tuple[str, ...], list[tuple[Any, ...]]]]:
    groups: dict[tuple[str, ...], list[tuple[Any, ...]]] = {}
    for line in lines:
        groups.setdefault(tuple(line), []).append(tuple(line.values()))
    yield from groups.items()


def player_id(db: sqlite3.Connection, label: str, *, made: datetime | None = None) -> str:
    """The key of a player; made if there is none and ``made`` says when, else `LabError`."""
    found = db.execute("SELECT player_id FROM player WHERE nickname = ?", (label,)).fetchone()
    if found:
        return str(found[0])
    if made is None:
        raise LabError(f"The log holds no player called {label!r}. Check the spelling.")
    key = str(uuid4())
    line = {"player_id": key, "nickname": label, "created_utc": utc_text(made)}
    insert(db, "player", [line])
    return key


def write_take(
    db: sqlite3.Connection,
    report: Report,
    *,
    player: str,
    recorded: datetime,
    exercise: str | None,
    remark: str,
) -> str:
    """Write a take; the same sound of the same player is judged anew, not kept twice."""
    sha256 = report.take.facts.sha256
    known = db.execute(
        "SELECT take_id FROM take WHERE player_id = ? AND audio_sha256 = ?", (player, sha256)
    ).fetchone()
    judged = _take_line(report, exercise=exercise, remark=remark)
    if known:
        key = str(known[0])
        _update_take(db, key, judged)
    else:
        key = str(uuid4())
        times = {"recorded_utc": utc_text(recorded), "utc_offset_min": offset_minutes(recorded)}
        insert(db, "take", [{"take_id": key, "player_id": player, **times, **judged}])
    for table, lines in _parts(report).items():
        insert(db, table, ({"take_id": key, **line} for line in lines))
    return key


def _update_take(db: sqlite3.Connection, key: str, line: Values) -> None:
    said = {k: value for k, value in line.items() if value or k not in ("exercise", "remark")}
    columns = ", ".join(f"{name} = ?" for name in said)
    db.execute(f"UPDATE take SET {columns} WHERE take_id = ?", (*said.values(), key))
    for table in JUDGED:
        db.execute(f"DELETE FROM {table} WHERE take_id = ?", (key,))


def _take_line(report: Report, *, exercise: str | None, remark: str) -> Values:
    facts, task, context = report.take.facts, report.task, report.context
    return {
        "audio_sha256": facts.sha256,
        "audio_name": facts.name,
        "duration_s": facts.duration_s,
        "instrument": context.guitar,
        "string": context.string,
        "fret": context.fret,
        "finger": context.finger,
        "technique": task.technique.value,
        "tempo_bpm": task.tempo_bpm,
        "cycles_per_beat": task.cycles_per_beat,
        "home_asked": task.home.value,
        "home_hz": task.home_hz,
        "beat_origin_s": task.beat_origin_s,
        "software": software(),
        "exercise": exercise,
        "remark": remark,
    }


def software() -> str:
    """Name and version of what measured, so that old takes can be told from new ones."""
    try:
        return f"vibrato-lessons {metadata.version('vibrato-lessons')}"
    except metadata.PackageNotFoundError:
        return "vibrato-lessons"


def _parts(report: Report) -> dict[str, list[Values]]:
    return {
        "note": _notes(report),
        "turn": _turns(report),
        "plain_part": _plain_parts(report),
        "stretch": _stretches(report),
        "measure": [{key: row[key] for key in row if key != "take"} for row in rows(report)],
        "finding": finding_lines(report.findings),
    }


def _notes(report: Report) -> list[Values]:
    lines = []
    homes = [note.home for note in report.notes]
    for i, note in enumerate(report.take.notes):
        line: Values = {"i": i, "onset_s": note.onset_s, "offset_s": note.offset_s}
        home = homes[i] if i < len(homes) else None
        if home is not None:
            line |= {"home_hz": home.hz, "home_error_cents": home.error_cents}
            line |= {"home_place": home.place.value, "home_source": home.source.value}
        lines.append(line)
    return lines


def _turns(report: Report) -> list[Values]:
    every = [(i, turn) for i, note in enumerate(report.take.notes) for turn in note.turns]
    return [
        {
            "i": number,
            "note": i,
            "time_s": turn.time_s,
            "hz": turn.hz,
            "error_cents": turn.error_cents,
            "kind": turn.kind.value,
            "rest_s": turn.rest_s,
        }
        for number, (i, turn) in enumerate(every)
    ]


def _plain_parts(report: Report) -> list[Values]:
    every = [(i, part) for i, note in enumerate(report.take.notes) for part in note.plain_parts]
    return [
        {
            "i": number,
            "note": i,
            "start_s": part.start_s,
            "end_s": part.end_s,
            "hz": part.hz,
            "error_cents": part.error_cents,
            "spread_cents": part.spread_cents,
        }
        for number, (i, part) in enumerate(every)
    ]


def _stretches(report: Report) -> list[Values]:
    return [
        {
            "i": i,
            "start_s": fit.start_s,
            "end_s": fit.end_s,
            "cycles_per_beat": fit.cycles_per_beat,
            "named": fit.named,
            "rate_error_percent": fit.rate_error_percent,
            "offset_s": fit.offset_s,
            "concentration": fit.concentration,
            "origin": fit.origin.value,
            "waves": fit.waves,
        }
        for i, fit in enumerate(report.stretches)
    ]


def finding_lines(findings: Sequence[Finding]) -> list[Values]:
    """The findings of a take in their order."""
    return [
        {
            "place": place,
            "kind": finding.kind,
            "verdict": finding.verdict.value,
            "sentence": finding.sentence,
            "evidence": finding.evidence,
            "teacher_says": finding.overruled_by,
        }
        for place, finding in enumerate(findings)
    ]
