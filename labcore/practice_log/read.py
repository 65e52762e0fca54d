"""Rows read back into records: one query a table, whatever the number of takes."""

import sqlite3
from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any

from labcore.exercises.past import HeldValue, PastTake
from labcore.model import (
    Context,
    Finding,
    Home,
    HomeSource,
    Measure,
    Note,
    Place,
    PlainPart,
    Task,
    Technique,
    Turn,
    TurnKind,
    Verdict,
)
from labcore.practice_log.clock import moment, utc_text
from labcore.practice_log.records import Player, PracticeTask, Remark
from labcore.practice_log.rows import WHOLE_TAKE

Line = dict[str, Any]


def lines(db: sqlite3.Connection, query: str, given: Sequence[object] = ()) -> Iterator[Line]:
    """Each row of a query as a dictionary."""
    answer = db.execute(query, given)
    names = [column[0] for column in answer.description]
    return (dict(zip(names, row, strict=True)) for row in answer)


def past_takes(
    db: sqlite3.Connection, player: str, *, since: datetime | None, last: int | None
) -> tuple[PastTake, ...]:
    """Takes of a player, oldest first; ``player`` is a key."""
    chosen = "SELECT take_id FROM take WHERE player_id = ? AND recorded_utc >= ?"
    chosen += " ORDER BY recorded_utc DESC, take_id DESC LIMIT ?"
    given = (player, "" if since is None else utc_text(since), -1 if last is None else last)
    nickname = db.execute("SELECT nickname FROM player WHERE player_id = ?", (player,)).fetchone()
    measures = _measures(db, chosen, given)
    held = _held(db, chosen, given)
    takes = lines(
        db,
        f"SELECT * FROM take WHERE take_id IN ({chosen}) ORDER BY recorded_utc, take_id",
        given,
    )
    return tuple(
        _past_take(
            line,
            player=nickname[0],
            measures=measures.get(line["take_id"], {}),
            held=tuple(held.get(line["take_id"], ())),
        )
        for line in takes
    )


def _measures(
    db: sqlite3.Connection, chosen: str, given: Sequence[object]
) -> dict[str, dict[str, Measure]]:
    found: dict[str, dict[str, Measure]] = defaultdict(dict)
    query = "SELECT take_id, name, value, unit, n, spread, error FROM measure"
    query += f" WHERE note = {WHOLE_TAKE} AND take_id IN ({chosen})"
    for take_id, name, *values in db.execute(query, given):
        found[take_id][name] = Measure(*values)
    return found


def _held(
    db: sqlite3.Connection, chosen: str, given: Sequence[object]
) -> dict[str, list[HeldValue]]:
    found: dict[str, list[HeldValue]] = defaultdict(list)
    query = "SELECT take_id, named, start_s, end_s FROM stretch"
    query += f" WHERE take_id IN ({chosen}) ORDER BY take_id, i"
    for take_id, *values in db.execute(query, given):
        found[take_id].append(HeldValue(*values))
    return found


def _past_take(
    line: Line, *, player: str, measures: dict[str, Measure], held: tuple[HeldValue, ...]
) -> PastTake:
    return PastTake(
        recorded=moment(line["recorded_utc"], offset_min=line["utc_offset_min"]),
        task=Task(
            tempo_bpm=line["tempo_bpm"],
            cycles_per_beat=line["cycles_per_beat"],
            technique=Technique(line["technique"] or Technique.NOT_SAID),
            home=Place(line["home_asked"] or Place.UNKNOWN),
            home_hz=line["home_hz"],
            beat_origin_s=line["beat_origin_s"],
        ),
        context=Context(
            player=player,
            guitar=line["instrument"] or "",
            string=line["string"],
            fret=line["fret"],
            finger=line["finger"],
        ),
        measures=measures,
        held=held,
        exercise=line["exercise"],
        take_id=line["take_id"],
        sha256=line["audio_sha256"] or "",
        remark=line["remark"] or "",
    )


def players(db: sqlite3.Connection) -> tuple[Player, ...]:
    """Every player, in the order in which they first came."""
    query = """SELECT nickname, player.instrument AS instrument, strings, created_utc,
            count(take_id) AS takes, max(recorded_utc) AS last
        FROM player LEFT JOIN take USING (player_id) GROUP BY player_id
        ORDER BY created_utc, nickname"""
    return tuple(
        Player(
            line["nickname"],
            line["instrument"],
            line["strings"],
            moment(line["created_utc"]),
            line["takes"],
            None if line["last"] is None else moment(line["last"]),
        )
        for line in lines(db, query)
    )


def findings(db: sqlite3.Connection, take_id: str) -> tuple[Finding, ...]:
    """The findings of a take in order of importance."""
    query = "SELECT * FROM finding WHERE take_id = ? ORDER BY place"
    return tuple(
        Finding(
            line["kind"],
            Verdict(line["verdict"]),
            line["sentence"],
            line["evidence"],
            line["teacher_says"],
        )
        for line in lines(db, query, (take_id,))
    )


def notes(db: sqlite3.Connection, take_id: str) -> tuple[tuple[Note, Home | None], ...]:
    """The notes of a take with their homes, enough to judge it again by newer bands."""
    turns: dict[int, list[Turn]] = defaultdict(list)
    for line in lines(db, "SELECT * FROM turn WHERE take_id = ? ORDER BY i", (take_id,)):
        kind = TurnKind(line["kind"] or TurnKind.LOW)
        place = line["time_s"], line["hz"], line["error_cents"]
        turns[line["note"]].append(Turn(*place, kind, line["rest_s"]))
    plain: dict[int, list[PlainPart]] = defaultdict(list)
    for line in lines(db, "SELECT * FROM plain_part WHERE take_id = ? ORDER BY i", (take_id,)):
        plain[line["note"]].append(
            PlainPart(
                line["start_s"],
                line["end_s"],
                line["hz"],
                line["error_cents"],
                line["spread_cents"],
            )
        )
    return tuple(
        (
            Note(line["onset_s"], line["offset_s"], tuple(turns[i]), tuple(plain[i])),
            _home(line),
        )
        for line in lines(db, "SELECT * FROM note WHERE take_id = ? ORDER BY i", (take_id,))
        for i in (line["i"],)
    )


def _home(line: Line) -> Home | None:
    if line["home_hz"] is None:
        return None
    return Home(
        line["home_hz"],
        line["home_error_cents"],
        Place(line["home_place"]),
        HomeSource(line["home_source"]),
    )


def remarks(db: sqlite3.Connection, take_id: str) -> tuple[Remark, ...]:
    """Remarks on a take in the order of the take."""
    query = "SELECT * FROM remark WHERE take_id = ? ORDER BY at_s, written_utc"
    return tuple(
        Remark(
            line["remark_id"],
            take_id,
            line["words"],
            line["written_by"],
            moment(line["written_utc"]),
            line["at_s"],
            line["wave"],
        )
        for line in lines(db, query, (take_id,))
    )


def newest_task(db: sqlite3.Connection, player: str) -> PracticeTask | None:
    """The task set last for a player."""
    query = "SELECT * FROM task WHERE player_id = ? ORDER BY set_utc DESC LIMIT 1"
    for line in lines(db, query, (player,)):
        return PracticeTask(
            line["task_id"],
            line["kind"],
            line["words"],
            line["tempo_bpm"],
            line["cycles_per_beat"],
            moment(line["set_utc"]).astimezone().date(),
            None if line["due_utc"] is None else date.fromisoformat(line["due_utc"][:10]),
        )
    return None
