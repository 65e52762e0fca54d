"""The practice log: what a lesson calls. Each errand opens the file, does its work, and closes it.

So no lock outlives a call, and two pages or two threads can use one log at once.
"""

import sqlite3
from collections.abc import Sequence
from datetime import date, datetime
from os import PathLike
from pathlib import Path
from uuid import uuid4

from labcore.audio import flac_bytes, load_recording
from labcore.errors import LabError
from labcore.exercises import PastTake
from labcore.exercises.past import aware
from labcore.findings.words import count
from labcore.model import Finding, Home, Note, Recording, Report
from labcore.paths import given_path
from labcore.practice_log import clock, exchange, merge, read, write
from labcore.practice_log.connect import connected, prepare, writing
from labcore.practice_log.labels import free_words, player_label
from labcore.practice_log.places import (
    TAKE_KEY,
    backups,
    default_path,
    private_file,
    private_folder,
    sound_folder,
)
from labcore.practice_log.records import Merged, Player, PracticeTask, Remark


def open_log(path: str | PathLike[str] | None = None) -> "PracticeLog":
    """The log at ``path``, or in the user's data folder; made if there is none."""
    place = default_path() if path is None else given_path(path)
    if place.is_dir():
        raise LabError(f"{place} is a folder; give the name of a file in it.")
    private_folder(place.parent)
    private_file(place)
    prepare(place)
    return PracticeLog(place)


class PracticeLog:
    """Takes, measures, findings, tasks and remarks of any number of players."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __repr__(self) -> str:
        return f"PracticeLog({str(self.path)!r})"

    # --- takes ---

    def add(
        self,
        report: Report,
        *,
        player: str | None = None,
        recorded: datetime | None = None,
        exercise: str | None = None,
        remark: str = "",
        sound: Recording | None = None,
    ) -> str:
        """Keep a take and return its key.

        ``player`` defaults to the one in the report; ``recorded`` to this moment. The sound is
        kept beside the log only if it is given here; its hash is kept always. The same sound kept
        again by the same player is judged anew and not kept twice.
        """
        label = player_label(report.context.player if player is None else player)
        when = clock.now() if recorded is None else aware(recorded)
        words = free_words(remark)
        if sound is not None and sound.sha256 != report.take.facts.sha256:
            raise LabError(
                f"The sound {sound.name!r} is not the one the report is about. Give the recording "
                "that was analysed, or leave the sound out."
            )
        with writing(self.path) as db:
            key = write.player_id(db, label, made=when)
            take_id = write.write_take(
                db, report, player=key, recorded=when, exercise=exercise, remark=words
            )
            if sound is not None:
                self._keep_sound(sound, take_id=take_id)
        return take_id

    def history(
        self, player: str, *, since: datetime | None = None, last: int | None = None
    ) -> tuple[PastTake, ...]:
        """Takes of a player, oldest first; only the ``last`` few, or those ``since`` a moment."""
        with connected(self.path) as db:
            key = write.player_id(db, player_label(player))
            return read.past_takes(db, key, since=since, last=last)

    def findings(self, take_id: str) -> tuple[Finding, ...]:
        """What was heard in a take, in order of importance."""
        with connected(self.path) as db:
            self._check_take(db, take_id)
            return read.findings(db, take_id)

    def notes(self, take_id: str) -> tuple[tuple[Note, Home | None], ...]:
        """The notes of a take with all their turns, and the home each was judged against."""
        with connected(self.path) as db:
            self._check_take(db, take_id)
            return read.notes(db, take_id)

    def forget_take(self, take_id: str) -> None:
        """Delete one take and its sound for good."""
        with writing(self.path) as db:
            self._check_take(db, take_id)
            self._forget_takes(db, [take_id])

    # --- sound ---

    def sound(self, take_id: str) -> Recording | None:
        """The sound of a take, or None if only its hash was kept."""
        place = self._sound_path(take_id)
        return load_recording(place) if place.exists() else None

    def forget_sound(self, take_id: str) -> None:
        """Delete the sound of a take and keep what was measured."""
        with writing(self.path) as db:
            self._check_take(db, take_id)
            self._sound_path(take_id).unlink(missing_ok=True)

    def _keep_sound(self, sound: Recording, *, take_id: str) -> None:
        place = self._sound_path(take_id)
        private_folder(place.parent)
        unfinished = place.with_suffix(".unfinished")
        private_file(unfinished)
        try:
            unfinished.write_bytes(flac_bytes(sound))
        except OSError as error:
            unfinished.unlink(missing_ok=True)
            raise LabError(
                f"The sound could not be kept ({error.strerror}); the take was not kept either. "
                "Make room, or keep the take without its sound."
            ) from error
        unfinished.replace(place)

    def _sound_path(self, take_id: str) -> Path:
        if not TAKE_KEY.fullmatch(take_id):
            raise LabError(f"{take_id!r} is not the key of a take; keys come from add or history.")
        return sound_folder(self.path) / f"{take_id}.flac"

    # --- players ---

    def players(self) -> tuple[Player, ...]:
        """Every player, in the order in which they first came."""
        with connected(self.path) as db:
            return read.players(db)

    def describe(self, player: str, *, instrument: str = "", strings: str = "") -> None:
        """Note what a player plays."""
        label = player_label(player)
        given = (free_words(instrument), free_words(strings))
        with writing(self.path) as db:
            key = write.player_id(db, label, made=clock.now())
            query = "UPDATE player SET instrument = ?, strings = ? WHERE player_id = ?"
            db.execute(query, (*given, key))

    def rename(self, player: str, *, to: str) -> None:
        """Give a player another label."""
        old, new = player_label(player), player_label(to)
        with writing(self.path) as db:
            key = write.player_id(db, old)
            taken = db.execute("SELECT player_id FROM player WHERE nickname = ?", (new,)).fetchone()
            if taken and taken[0] != key:
                raise LabError(f"There is a player called {new!r} already. Choose another label.")
            db.execute("UPDATE player SET nickname = ? WHERE player_id = ?", (new, key))

    def forget(self, player: str) -> int:
        """Delete a player for good: takes, measures, remarks, tasks, sound; how many takes.

        What is deleted is overwritten, and copies that were made before the log was brought to a
        newer form are deleted too. Files exported by hand are the user's own to delete.
        """
        with writing(self.path) as db:
            key = write.player_id(db, player_label(player))
            query = "SELECT take_id FROM take WHERE player_id = ?"
            takes = [row[0] for row in db.execute(query, (key,))]
            self._forget_takes(db, takes)
            db.execute("INSERT OR IGNORE INTO forgotten VALUES (?)", (key,))
            db.execute(
                "INSERT OR IGNORE INTO forgotten SELECT id FROM other_id WHERE player_id = ?",
                (key,),
            )
            db.execute("DELETE FROM player WHERE player_id = ?", (key,))
            for copy in backups(self.path):
                copy.unlink(missing_ok=True)
        return len(takes)

    def _forget_takes(self, db: sqlite3.Connection, takes: Sequence[str]) -> None:
        # The sound goes first: should the machine stop half way, the take still says it is there
        # to be forgotten.
        for take_id in takes:
            self._sound_path(take_id).unlink(missing_ok=True)
        keys = [(take_id,) for take_id in takes]
        db.executemany("INSERT OR IGNORE INTO forgotten VALUES (?)", keys)
        db.executemany("UPDATE player SET target_take = NULL WHERE target_take = ?", keys)
        db.executemany("DELETE FROM take WHERE take_id = ?", keys)
        self._sweep(db)

    def _sweep(self, db: sqlite3.Connection) -> None:
        """Delete sound that belongs to no take: what a crash between two steps may leave."""
        kept = {row[0] for row in db.execute("SELECT take_id FROM take")}
        folder = sound_folder(self.path)
        for place in folder.iterdir() if folder.is_dir() else ():
            if place.stem not in kept or place.suffix == ".unfinished":
                place.unlink(missing_ok=True)

    # --- teacher ---

    def set_task(
        self,
        player: str,
        *,
        exercise: str = "",
        words: str = "",
        tempo_bpm: float | None = None,
        cycles_per_beat: int | None = None,
        due_on: date | None = None,
        set_at: datetime | None = None,
    ) -> None:
        """Set the one thing a player works on; the newest task counts."""
        label, said = player_label(player), free_words(words)
        if not exercise and not said:
            raise LabError("The task is empty. Name an exercise, or say in words what to do.")
        when = clock.now() if set_at is None else aware(set_at)
        with writing(self.path) as db:
            key = write.player_id(db, label, made=when)
            line = {"task_id": str(uuid4()), "player_id": key, "kind": exercise, "words": said}
            asked = {"tempo_bpm": tempo_bpm, "cycles_per_beat": cycles_per_beat}
            days = {"set_utc": clock.utc_text(when), "due_utc": clock.day_text(due_on)}
            write.insert(db, "task", [line | asked | days])

    def task(self, player: str) -> PracticeTask | None:
        """The task set last, or None."""
        with connected(self.path) as db:
            return read.newest_task(db, write.player_id(db, player_label(player)))

    def add_remark(
        self,
        take_id: str,
        *,
        words: str,
        by: str = "teacher",
        at_s: float | None = None,
        wave: int | None = None,
    ) -> str:
        """Write a remark about a take, at a time or at a wave of it; return its key."""
        said = free_words(words)
        if not said:
            raise LabError("The remark is empty. Write a word or two.")
        key = str(uuid4())
        line = {"remark_id": key, "take_id": take_id, "at_s": at_s, "wave": wave, "words": said}
        line |= {"written_by": player_label(by), "written_utc": clock.utc_text(clock.now())}
        with writing(self.path) as db:
            self._check_take(db, take_id)
            write.insert(db, "remark", [line])
        return key

    def remarks(self, take_id: str) -> tuple[Remark, ...]:
        """Remarks about a take, in the order of the take."""
        with connected(self.path) as db:
            self._check_take(db, take_id)
            return read.remarks(db, take_id)

    def overrule(self, take_id: str, *, kind: str, by: str = "teacher") -> None:
        """Let a teacher's ear stand over a finding; the finding stays to be seen."""
        with writing(self.path) as db:
            self._check_take(db, take_id)
            query = "UPDATE finding SET teacher_says = ? WHERE take_id = ? AND kind = ?"
            done = db.execute(query, (player_label(by), take_id, kind)).rowcount
            if not done:
                raise LabError(f"The take has no finding of the kind {kind!r} to overrule.")

    def set_target(self, player: str, *, take_id: str | None) -> None:
        """Choose the take a player works toward, often the teacher's own; None takes it away."""
        with writing(self.path) as db:
            key = write.player_id(db, player_label(player), made=clock.now())
            if take_id is not None:
                self._check_take(db, take_id)
            db.execute("UPDATE player SET target_take = ? WHERE player_id = ?", (take_id, key))

    def target(self, player: str) -> str | None:
        """The key of the take a player works toward, or None."""
        with connected(self.path) as db:
            key = write.player_id(db, player_label(player))
            query = "SELECT target_take FROM player WHERE player_id = ?"
            found = db.execute(query, (key,)).fetchone()[0]
        return None if found is None else str(found)

    # --- out and in ---

    def export_to(self, path: str | PathLike[str], *, names: bool = True) -> Path:
        """Copy the whole log into one fresh file, to carry to another computer.

        ``names=False`` leaves out labels, remarks, file names and everything else anyone wrote.
        Sound is not in it.
        """
        return merge.export_file(self.path, to=given_path(path), names=names)

    def merge_from(self, path: str | PathLike[str]) -> Merged:
        """Bring in what another log has and this one has not. The other file is not changed."""
        return merge.merge_file(self.path, other=given_path(path))

    def export_json(self, path: str | PathLike[str]) -> Path:
        """Everything, as readable text in a fresh file."""
        return exchange.write_text(exchange.json_text(self.path), to=given_path(path))

    def import_json(self, path: str | PathLike[str]) -> Merged:
        """Bring in what `export_json` wrote."""
        return exchange.import_json(self.path, source=given_path(path))

    def export_csv(self, path: str | PathLike[str]) -> Path:
        """One row a measure, for a spreadsheet, in a fresh file."""
        return exchange.write_text(exchange.csv_text(self.path), to=given_path(path))

    def import_csv(self, path: str | PathLike[str]) -> Merged:
        """Bring in what `export_csv` wrote: players, takes and measures."""
        return exchange.import_csv(self.path, source=given_path(path))

    def what_is_kept(self) -> tuple[str, ...]:
        """Sentences for the page that says what is stored where."""
        takes = sum(player.takes for player in self.players())
        folder = sound_folder(self.path)
        sounds = len(list(folder.glob("*.flac"))) if folder.is_dir() else 0
        return (
            f"Everything stays on this computer, in one file: {self.path}",
            f"It holds {count(takes, 'take')} of {count(len(self.players()), 'player')}: settings, "
            "measures, what was heard, remarks and tasks. Only your account on this computer may "
            "read it.",
            f"Sound is kept for {sounds} of them, in {folder}."
            if sounds
            else "No sound is kept, only a fingerprint of it by which a take is known again.",
            "Players are labels you make up. Forgetting a player deletes all of it for good; "
            "files you exported are yours to delete.",
        )

    def _check_take(self, db: sqlite3.Connection, take_id: str) -> None:
        query = "SELECT 1 FROM take WHERE take_id = ?"
        if not TAKE_KEY.fullmatch(take_id) or not db.execute(query, (take_id,)).fetchone():
            raise LabError(f"The log holds no take with the key {take_id!r}.")
