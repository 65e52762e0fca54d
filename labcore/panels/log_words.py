"""The words of the log's panel as HTML. Whatever a user wrote is escaped."""

from collections.abc import Sequence
from html import escape

from labcore.beats import NOTE_VALUES
from labcore.exercises import Exercise, PastTake
from labcore.exercises.ladder import drill_minutes
from labcore.findings.words import listed
from labcore.model import Finding
from labcore.practice_log import Player, PracticeTask, Remark


def paragraphs(sentences: Sequence[str]) -> str:
    """Each sentence in a line of its own."""
    inside = "".join(f"<p>{escape(sentence)}</p>" for sentence in sentences if sentence)
    return f'<div class="labcore-says">{inside}</div>'


def exercise_html(exercise: Exercise) -> str:
    """The next exercise: what, why, what is new, how often, and what to beware of."""
    rung = exercise.rung
    new = f"New in it: {exercise.new}." if exercise.new else "Nothing in it is new."
    often = (
        f"{rung.sets} sets of {rung.set_s:.0f} s, rest as long; at most "
        f"{drill_minutes(rung.week)} minutes a day."
    )
    place = f"String {rung.string}, fret {rung.fret}, finger {rung.finger}."
    bands = [band.words for band in rung.bands]
    passed = listed(bands) if bands else "your own ear decides"
    asked = asked_words(rung.task.tempo_bpm, rung.values)
    return (
        f'<div class="labcore-says" role="region" aria-label="the next exercise">'
        f"<p><b>Next: {escape(rung.title)}</b> ({escape(asked)}). "
        f"{escape(rung.doing)} {escape(rung.form.words)} {place}</p>"
        f"<p><b>Why:</b> {escape(exercise.why)} {escape(new)}</p>"
        f"<p><b>How it should sound:</b> {escape(rung.listen)}</p>"
        f"<p>{escape(often)} {escape(rung.caution)} {escape(exercise.rest)}</p>"
        f"<p>Passed when {escape(passed)}: in two takes of three, on two days.</p></div>"
    )


def asked_words(tempo_bpm: float | None, values: Sequence[int | None]) -> str:
    """What was asked of a take, briefly.

    >>> asked_words(72.0, [3]), asked_words(None, [])
    ('3 to the click at 72', 'without a click')
    """
    if tempo_bpm is None:
        return "without a click"
    numbers = ", ".join(str(value) for value in values if value is not None)
    return f"{numbers} to the click at {tempo_bpm:g}" if numbers else f"click at {tempo_bpm:g}"


def takes_html(
    takes: Sequence[PastTake],
    *,
    findings: Sequence[Sequence[Finding]],
    remarks: Sequence[Sequence[Remark]],
) -> str:
    """The last takes under each other, newest first, with what was heard and remarked."""
    rows = [
        cells(
            f"{take.recorded:%Y-%m-%d %H:%M}",
            escape(_played(take)),
            _heard(heard),
            _remarked(take, said),
        )
        for take, heard, said in reversed(list(zip(takes, findings, remarks, strict=True)))
    ]
    return table_html(["when", "what", "what I heard", "remarks"], rows)


def table_html(head: Sequence[str], rows: Sequence[str]) -> str:
    """A table of rows made by `cells`."""
    names = "".join(f'<th class="labcore-why">{escape(name)}</th>' for name in head)
    body = "".join(f"<tr>{row}</tr>" for row in rows)
    return f'<table class="labcore-table"><tr>{names}</tr>{body}</table>'


def cells(*inside: str) -> str:
    """Cells of words, which read from the left; what is inside is HTML already."""
    return "".join(f'<td class="labcore-why">{words}</td>' for words in inside)


def _played(take: PastTake) -> str:
    parts = [asked_words(take.task.tempo_bpm, [take.task.cycles_per_beat])]
    parts += [f"finger {take.context.finger}"] if take.context.finger else []
    return ", ".join(parts)


def _heard(findings: Sequence[Finding]) -> str:
    lines = [
        f"{escape(finding.verdict.value)}: {escape(finding.sentence)}"
        + (f" <i>(overruled by {escape(finding.overruled_by)})</i>" if finding.overruled_by else "")
        for finding in findings
    ]
    return "<br>".join(lines)


def _remarked(take: PastTake, remarks: Sequence[Remark]) -> str:
    lines = [escape(take.remark)] if take.remark else []
    for remark in remarks:
        place = f"wave {remark.wave + 1}: " if remark.wave is not None else ""
        lines.append(f"{place}{escape(remark.words)} <i>{escape(remark.written_by)}</i>")
    return "<br>".join(lines)


def player_words(player: Player) -> str:
    """A player and what they play, in a line."""
    parts = [part for part in (player.nickname, player.instrument, player.strings) if part]
    takes = "1 take" if player.takes == 1 else f"{player.takes} takes"
    return ", ".join([*parts, takes])


def task_words(task: PracticeTask | None) -> str:
    """The one task of a player, or that there is none."""
    if task is None:
        return "No task has been set."
    what = " ".join(part for part in (task.words, task.exercise) if part)
    value = NOTE_VALUES.get(task.cycles_per_beat or 0, "")
    at = f" ({value} at {task.tempo_bpm:g})" if task.tempo_bpm and value else ""
    due = f", until {task.due_on.isoformat()}" if task.due_on else ""
    return f"Task of {task.set_on.isoformat()}{due}: {what}{at}"
