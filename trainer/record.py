"""The record: every answer, for ever, in one SQLite file in the user's data folder.

One row an answer, committed before the next question sounds (WAL, full sync), with everything
needed to make the question again. The log of answers is the truth; whatever else is kept here
(settings, the scorer's cached state, its standing after each day) can be lost without losing
anything learned. Columns that repeat what recipe and answer say are there to be counted by.

    RecordError     the file or its folder cannot be used; nothing was changed
"""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from threading import RLock
from typing import Any, Final

from exercises.bands import band_of
from exercises.errors import NamefirstError
from exercises.recipe import Recipe, read_recipe
from trainer.answer_fields import answer_plain, read_answer
from trainer.judging import Answer, Verdict, judge
from trainer.ladder import step_of
from trainer.pace import FixTime, seconds_spent_on
from trainer.schema import NewerSchema, migrate, refuse_newer

FILE_NAME: Final = "record.sqlite"
_BUSY_MS: Final = 5000
_NEVER: Final = 2**63 - 1


class RecordError(NamefirstError):
    """The record cannot be opened, read or written; the message says how to mend it."""


@dataclass(frozen=True, slots=True)
class Listening:
    """How it was heard: seconds to the answer, switches between A and B, seconds of each; and
    ``alone_s``, how long of them one track was heard alone."""

    seconds: float
    switches: int
    heard_a_s: float
    heard_b_s: float
    alone_s: float = 0.0


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """One row of the log."""

    id: int
    drill_id: int
    answered_at: datetime
    day: date
    recipe: Recipe
    answer: Answer
    listening: Listening
    version: str

    @property
    def verdict(self) -> Verdict:
        """The answer held against the truth."""
        return judge(self.recipe, self.answer)


@dataclass(frozen=True, slots=True)
class KeptDrill:
    """One sitting: the day it belongs to, what was asked of the planner, and whether it is over."""

    id: int
    day: date
    plan: dict[str, Any]
    ended: bool


class Record:
    """The log of one learner in the file at ``path``; several learners share a file."""

    def __init__(self, folder: Path, learner: str, version: str) -> None:
        """Opens or makes the record.

        Raises:
            RecordError: the folder cannot be written, or the file is damaged or too new.
        """
        self.path = folder / FILE_NAME
        self.learner = learner
        self._version = version
        self._lock = RLock()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise RecordError(
                f"{folder}: cannot be made ({error.strerror});"
                " set NAMEFIRST_HOME to a folder of your own"
            ) from None
        try:
            self._db = sqlite3.connect(self.path, isolation_level=None, check_same_thread=False)
            self._open()
            self._file = os.stat(self.path)
        except sqlite3.Error as error:
            raise RecordError(_cannot_use(self.path, error)) from None
        except OSError:
            raise RecordError(_gone(self.path)) from None

    def _open(self) -> None:
        self._db.execute(f"PRAGMA busy_timeout = {_BUSY_MS}")
        try:
            refuse_newer(self._db)
            self._db.execute("PRAGMA foreign_keys = ON")
            _keep_a_wal(self._db)
            self._db.execute("PRAGMA synchronous = FULL")
            migrate(self._db)
        except NewerSchema as error:
            raise RecordError(
                f"{self.path}: was written by a newer Namefirst ({error}); update this one"
            ) from None
        self._db.execute("INSERT OR IGNORE INTO learner (name) VALUES (?)", (self.learner,))
        row = self._db.execute("SELECT id FROM learner WHERE name = ?", (self.learner,)).fetchone()
        self._learner_id = int(row[0])

    def close(self) -> None:
        """Closes the file; everything is written already."""
        self._db.close()

    def copy_to(self, folder: Path) -> None:
        """Writes all of the file, as it is now, into another ``folder``.

        Raises:
            RecordError: there is no room, or one of the two cannot be used.
        """
        path = folder / self.path.name
        try:
            with closing(sqlite3.connect(path)) as copy:
                self._db.backup(copy)
        except sqlite3.Error as error:
            raise RecordError(_cannot_use(path, error)) from None

    def learners(self) -> tuple[str, ...]:
        """Everyone in this file."""
        return tuple(row[0] for row in self._rows("SELECT name FROM learner ORDER BY name"))

    def start_drill(self, day: date, plan: dict[str, Any]) -> int:
        """Opens a sitting and gives its number."""
        cursor = self._write(
            "INSERT INTO drill (learner_id, day, plan) VALUES (?, ?, ?)",
            (self._learner_id, day.isoformat(), json.dumps(plan)),
        )
        return int(cursor.lastrowid or 0)

    def end_drill(self, drill_id: int) -> None:
        """Marks a sitting as over."""
        self._write("UPDATE drill SET ended = 1 WHERE id = ?", (drill_id,))

    def open_drill(self, day: date, limits: dict[str, Any] | None = None) -> KeptDrill | None:
        """The latest drill of ``day`` that was left before its end; a set is no drill.

        With ``limits`` only one that was asked for the same, whatever came in between.
        """
        for row in self._rows(
            "SELECT id, day, plan, ended FROM drill WHERE learner_id = ? AND day = ? AND ended = 0"
            " AND json_extract(plan, '$.set') IS NULL ORDER BY id DESC",
            (self._learner_id, day.isoformat()),
        ):
            drill = KeptDrill(row[0], date.fromisoformat(row[1]), json.loads(row[2]), bool(row[3]))
            if limits is None or drill.plan.get("limits") == limits:
                return drill
        return None

    def drill_done(self, day: date) -> bool:
        """Whether a drill of ``day`` was carried to its end; a set is no drill."""
        rows = self._rows(
            "SELECT 1 FROM drill WHERE learner_id = ? AND day = ? AND ended = 1"
            " AND json_extract(plan, '$.set') IS NULL LIMIT 1",
            (self._learner_id, day.isoformat()),
        )
        return any(True for _ in rows)

    def keep(
        self,
        drill_id: int,
        answered_at: datetime,
        recipe: Recipe,
        answer: Answer,
        listening: Listening,
        *,
        version: str | None = None,
    ) -> KeptAnswer:
        """Writes one answer to disk; when this returns it is safe.

        ``answered_at`` is an aware local time; the day it falls on is the learner's. ``version``
        is the program's that asked, where that was another one (None: this one).
        """
        verdict = judge(recipe, answer)
        named = verdict.parts[0].named  # what was named for the first problem, if there are two
        version = self._version if version is None else version
        last = self.last_in(drill_id)
        cursor = self._write(
            "INSERT INTO answer (learner_id, drill_id, answered_at, day, recipe, answer, loop,"
            " kind, size_db, freq_hz, band, answered_kind, answered_hz, answered_band, sure, named,"
            " miss_octaves, step, seconds, spent_s, switches, heard_a_s, heard_b_s, alone_s,"
            " version) VALUES (" + ", ".join("?" * 25) + ")",
            (
                self._learner_id,
                drill_id,
                answered_at.isoformat(),
                answered_at.date().isoformat(),
                json.dumps(recipe.to_dict(), sort_keys=True),
                json.dumps(answer_plain(answer), sort_keys=True),
                recipe.loop,
                recipe.kind.value,
                recipe.size_db,
                recipe.freq_hz,
                _band_index(recipe.freq_hz),
                named.kind.value,
                named.freq_hz,
                _band_index(named.freq_hz),
                answer.sure,
                verdict.named,
                verdict.miss_octaves,
                step_of(recipe),
                listening.seconds,
                seconds_spent_on(listening.seconds, last, answered_at),
                listening.switches,
                listening.heard_a_s,
                listening.heard_b_s,
                listening.alone_s,
                version,
            ),
        )
        return KeptAnswer(
            int(cursor.lastrowid or 0),
            drill_id,
            answered_at,
            answered_at.date(),
            recipe,
            answer,
            listening,
            version,
        )

    def answers(
        self, *, since_id: int = 0, until_id: int = _NEVER, drill_id: int | None = None
    ) -> Iterator[KeptAnswer]:
        """The log in order, read as it is asked for; ``since_id`` leaves out what came up to it,
        ``until_id`` what came after it."""
        within = "id > ? AND id <= ?"
        if drill_id is None:
            return self._kept(f"{within} ORDER BY id", since_id, until_id)
        return self._kept(f"{within} AND drill_id = ? ORDER BY id", since_id, until_id, drill_id)

    def answers_by_day(self, until_id: int) -> Iterator[KeptAnswer]:
        """The log up to ``until_id`` in order of days, as it was lived: what was brought in from
        elsewhere stands where it belongs, not where it was written."""
        return self._kept("id <= ? ORDER BY day, id", until_id)

    def answers_on(self, day: date) -> Iterator[KeptAnswer]:
        """The log of one day."""
        return self._kept("day = ? ORDER BY id", day.isoformat())

    def latest_answers(self, count: int, skip: int = 0) -> tuple[KeptAnswer, ...]:
        """``count`` answers, newest first, after the newest ``skip``."""
        return tuple(self._kept("1 ORDER BY day DESC, id DESC LIMIT ? OFFSET ?", count, skip))

    def count_answers(self, since_id: int = 0) -> int:
        """How many answers were written after ``since_id``."""
        counts = self.query(
            "SELECT count(*) FROM answer WHERE learner_id = ? AND id > ?", (since_id,)
        )
        return int(next(counts)[0])

    def first_day(self) -> date | None:
        """The day of the earliest answer or fix round; None when there is none."""
        days = [
            next(self.query(f"SELECT min(day) FROM {table} WHERE learner_id = ?"))[0]
            for table in ("answer", "fix_round")
        ]
        return min((date.fromisoformat(day) for day in days if day is not None), default=None)

    def last_id(self) -> int:
        """The number of the answer that was written last; 0 when there is none."""
        ids = self.query("SELECT coalesce(max(id), 0) FROM answer WHERE learner_id = ?")
        return int(next(ids)[0])

    def _kept(self, where: str, *values: Any) -> Iterator[KeptAnswer]:
        for row in self._log_rows(
            "SELECT id, drill_id, answered_at, day, recipe, answer,"
            " seconds, switches, heard_a_s, heard_b_s, alone_s, version FROM answer"
            f" WHERE learner_id = ? AND {where}",
            (self._learner_id, *values),
        ):
            yield KeptAnswer(
                id=row[0],
                drill_id=row[1],
                answered_at=datetime.fromisoformat(row[2]),
                day=date.fromisoformat(row[3]),
                recipe=read_recipe(json.loads(row[4])),
                answer=read_answer(json.loads(row[5])),
                listening=Listening(*row[6:11]),
                version=row[11],
            )

    def last_in(self, drill_id: int) -> datetime | None:
        """When the latest answer, or fix round, of a sitting was given."""
        times = [
            datetime.fromisoformat(row[0])
            for table in ("answer", "fix_round")
            for row in self._rows(
                f"SELECT answered_at FROM {table} WHERE drill_id = ? ORDER BY id DESC LIMIT 1",
                (drill_id,),
            )
        ]
        return max(times, default=None)

    def fix_times(self, drill_id: int) -> list[FixTime]:
        """When the fix rounds of a sitting were answered, and how long they took."""
        rows = self._rows(
            "SELECT answered_at, seconds FROM fix_round WHERE drill_id = ? ORDER BY id",
            (drill_id,),
        )
        return [FixTime(datetime.fromisoformat(at), seconds) for at, seconds in rows]

    def drills(self) -> Iterator[KeptDrill]:
        """Every sitting, in the order in which they were opened."""
        for row in self.query(
            "SELECT id, day, plan, ended FROM drill WHERE learner_id = ? ORDER BY id"
        ):
            yield KeptDrill(row[0], date.fromisoformat(row[1]), json.loads(row[2]), bool(row[3]))

    def settings(self) -> dict[str, Any]:
        """Every kept setting by its name."""
        rows = self.query("SELECT name, value FROM setting WHERE learner_id = ? ORDER BY name")
        return {name: json.loads(value) for name, value in rows}

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All that is written inside is kept together, or, after an exception, none of it.

        One may stand inside another: the outermost decides. Other threads wait to write.
        """
        with self._lock:
            if self._db.in_transaction:
                yield
                return
            self._write("BEGIN IMMEDIATE")
            try:
                yield
                self._write("COMMIT")
            except BaseException:
                self._db.rollback()
                raise

    def query(self, sql: str, values: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
        """Rows of a reading query whose first parameter is the learner's number."""
        return self._rows(sql, (self._learner_id, *values))

    def setting(self, name: str, default: Any = None) -> Any:
        """A kept setting (anything JSON holds), or ``default``."""
        for row in self._rows(
            "SELECT value FROM setting WHERE learner_id = ? AND name = ?", (self._learner_id, name)
        ):
            return json.loads(row[0])
        return default

    def set_setting(self, name: str, value: Any) -> None:
        """Keeps a setting."""
        self._write(
            "INSERT INTO setting (learner_id, name, value) VALUES (?, ?, ?)"
            " ON CONFLICT (learner_id, name) DO UPDATE SET value = excluded.value",
            (self._learner_id, name, json.dumps(value)),
        )

    def change(self, sql: str, values: tuple[Any, ...] = ()) -> None:
        """A writing statement whose first parameter is the learner's number; for what can be lost
        (the log itself is written by ``keep`` alone)."""
        self._write(sql, (self._learner_id, *values))

    def _write(self, sql: str, values: tuple[Any, ...] = ()) -> sqlite3.Cursor:
        self._must_be_there()
        try:
            with self._lock:
                return self._db.execute(sql, values)
        except sqlite3.Error as error:
            raise RecordError(_cannot_use(self.path, error)) from None

    def _rows(self, sql: str, values: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
        """All at once: a row left unread would hold us to what the file was, and once another
        window has written nothing more could be written here."""
        try:
            return iter(self._db.execute(sql, values).fetchall())
        except sqlite3.Error as error:
            raise RecordError(_cannot_use(self.path, error)) from None

    def _log_rows(self, sql: str, values: tuple[Any, ...]) -> Iterator[tuple[Any, ...]]:
        """Rows of the log, which is long, as they are asked for: over a connection of their own,
        so that who is still reading keeps nobody from writing. Inside a transaction over ours,
        which alone sees what is not committed yet."""
        if self._db.in_transaction:
            yield from self._rows(sql, values)
            return
        self._must_be_there()
        try:
            reader = sqlite3.connect(
                f"{self.path.absolute().as_uri()}?mode=rw", uri=True, check_same_thread=False
            )
            try:
                reader.execute(f"PRAGMA busy_timeout = {_BUSY_MS}")
                yield from reader.execute(sql, values)
            finally:
                reader.close()
        except sqlite3.Error as error:
            raise RecordError(_cannot_use(self.path, error)) from None

    def _must_be_there(self) -> None:
        """What is written to a file that was deleted is lost without a word from SQLite."""
        try:
            there = os.path.samestat(os.stat(self.path), self._file)
        except OSError:
            there = False
        if not there:
            raise RecordError(_gone(self.path))


def _band_index(freq_hz: float | None) -> int | None:
    return None if freq_hz is None else band_of(freq_hz).index


def _keep_a_wal(db: sqlite3.Connection) -> None:
    """Switches to WAL; of two windows that open a new record at once, one must wait by itself."""
    until_s = time.monotonic() + _BUSY_MS / 1000.0
    while True:
        try:
            db.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until_s:
                raise
            time.sleep(0.01)


def _gone(path: Path) -> str:
    return (
        f"{path}: was moved or deleted while it was in use; put it back where it was and go on, "
        "or start again with a new one"
    )


def _cannot_use(path: Path, error: sqlite3.Error) -> str:
    damaged = isinstance(error, sqlite3.DatabaseError) and not isinstance(
        error, sqlite3.OperationalError
    )
    if damaged:
        return f"{path}: is damaged ({error}); move it aside or put a copy back, then start again"
    if "full" in str(error):
        return f"{path}: the disk is full ({error}); free some space, then start again"
    return (
        f"{path}: cannot be used ({error}); check that you may write there, or set NAMEFIRST_HOME"
    )
