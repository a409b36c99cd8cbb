"""The record: every answer, for ever, in one SQLite file in the user's data folder.

One row an answer, committed before the next question sounds (WAL, full sync), with everything
needed to make the question again. The log of answers is the truth; whatever else is kept here
(settings, the scorer's cached state) can be lost without losing anything learned.

    RecordError     the file or its folder cannot be used; nothing was changed
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from exercises.bands import band_of
from exercises.errors import NamefirstError
from exercises.kinds import Kind
from exercises.recipe import Recipe, read_recipe
from trainer.judging import Answer, Verdict, judge

FILE_NAME: Final = "record.sqlite"
_BUSY_MS: Final = 5000


class RecordError(NamefirstError):
    """The record cannot be opened, read or written; the message says how to mend it."""


# Each is run once, in order, in one transaction with the mark that it was (PRAGMA user_version).
MIGRATIONS: Final = (
    """
    CREATE TABLE learner (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL UNIQUE
    );
    CREATE TABLE drill (
        id INTEGER PRIMARY KEY,
        learner_id INTEGER NOT NULL REFERENCES learner (id),
        day TEXT NOT NULL,
        plan TEXT NOT NULL,
        ended INTEGER NOT NULL DEFAULT 0
    );
    CREATE TABLE answer (
        id INTEGER PRIMARY KEY,
        learner_id INTEGER NOT NULL REFERENCES learner (id),
        drill_id INTEGER NOT NULL REFERENCES drill (id),
        answered_at TEXT NOT NULL,
        day TEXT NOT NULL,
        recipe TEXT NOT NULL,
        loop TEXT NOT NULL,
        kind TEXT NOT NULL,
        size_db REAL NOT NULL,
        freq_hz REAL,
        band INTEGER,
        answered_kind TEXT NOT NULL,
        answered_hz REAL,
        sure INTEGER NOT NULL,
        named INTEGER NOT NULL,
        miss_octaves REAL,
        help INTEGER NOT NULL DEFAULT 0,
        seconds REAL NOT NULL,
        switches INTEGER NOT NULL,
        heard_a_s REAL NOT NULL,
        heard_b_s REAL NOT NULL,
        version TEXT NOT NULL
    );
    CREATE INDEX answer_by_learner ON answer (learner_id, id);
    CREATE INDEX answer_by_drill ON answer (drill_id);
    CREATE TABLE setting (
        learner_id INTEGER NOT NULL REFERENCES learner (id),
        name TEXT NOT NULL,
        value TEXT NOT NULL,
        PRIMARY KEY (learner_id, name)
    ) WITHOUT ROWID;
    """,
)


@dataclass(frozen=True, slots=True)
class Listening:
    """How it was heard: seconds to the answer, switches between A and B, seconds of each."""

    seconds: float
    switches: int
    heard_a_s: float
    heard_b_s: float


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """One row of the log."""

    id: int
    drill_id: int
    answered_at: datetime
    day: date
    recipe: Recipe
    answer: Answer
    help: int
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
        except sqlite3.Error as error:
            raise RecordError(_cannot_use(self.path, error)) from None

    def _open(self) -> None:
        self._db.execute(f"PRAGMA busy_timeout = {_BUSY_MS}")
        self._db.execute("PRAGMA foreign_keys = ON")
        self._db.execute("PRAGMA journal_mode = WAL")
        self._db.execute("PRAGMA synchronous = FULL")
        migrate(self._db, self.path)
        self._db.execute("INSERT OR IGNORE INTO learner (name) VALUES (?)", (self.learner,))
        row = self._db.execute("SELECT id FROM learner WHERE name = ?", (self.learner,)).fetchone()
        self._learner_id = int(row[0])

    def close(self) -> None:
        """Closes the file; everything is written already."""
        self._db.close()

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

    def open_drill(self, day: date) -> KeptDrill | None:
        """The latest sitting of ``day`` that was left before its end, if there is one."""
        for row in self._rows(
            "SELECT id, day, plan, ended FROM drill WHERE learner_id = ? AND day = ?"
            " ORDER BY id DESC LIMIT 1",
            (self._learner_id, day.isoformat()),
        ):
            drill = KeptDrill(row[0], date.fromisoformat(row[1]), json.loads(row[2]), bool(row[3]))
            return None if drill.ended else drill
        return None

    def keep(
        self,
        drill_id: int,
        answered_at: datetime,
        recipe: Recipe,
        answer: Answer,
        listening: Listening,
        help: int = 0,
    ) -> KeptAnswer:
        """Writes one answer to disk; when this returns it is safe.

        ``answered_at`` is an aware local time; the day it falls on is the learner's.
        """
        verdict = judge(recipe, answer)
        cursor = self._write(
            "INSERT INTO answer (learner_id, drill_id, answered_at, day, recipe, loop, kind,"
            " size_db, freq_hz, band, answered_kind, answered_hz, sure, named, miss_octaves, help,"
            " seconds, switches, heard_a_s, heard_b_s, version)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                self._learner_id,
                drill_id,
                answered_at.isoformat(),
                answered_at.date().isoformat(),
                json.dumps(recipe.to_dict(), sort_keys=True),
                recipe.loop,
                recipe.kind.value,
                recipe.size_db,
                recipe.freq_hz,
                None if recipe.freq_hz is None else band_of(recipe.freq_hz).index,
                answer.kind.value,
                answer.freq_hz,
                answer.sure,
                verdict.named,
                verdict.miss_octaves,
                help,
                listening.seconds,
                listening.switches,
                listening.heard_a_s,
                listening.heard_b_s,
                self._version,
            ),
        )
        return KeptAnswer(
            int(cursor.lastrowid or 0),
            drill_id,
            answered_at,
            answered_at.date(),
            recipe,
            answer,
            help,
            listening,
            self._version,
        )

    def answers(self, *, since_id: int = 0, drill_id: int | None = None) -> Iterator[KeptAnswer]:
        """The log in order, read as it is asked for; ``since_id`` leaves out what came up to it."""
        where, values = "learner_id = ? AND id > ?", [self._learner_id, since_id]
        if drill_id is not None:
            where, values = where + " AND drill_id = ?", [*values, drill_id]
        for row in self._rows(
            "SELECT id, drill_id, answered_at, day, recipe, answered_kind, answered_hz, sure, help,"
            f" seconds, switches, heard_a_s, heard_b_s, version FROM answer WHERE {where}"
            " ORDER BY id",
            tuple(values),
        ):
            yield KeptAnswer(
                id=row[0],
                drill_id=row[1],
                answered_at=datetime.fromisoformat(row[2]),
                day=date.fromisoformat(row[3]),
                recipe=read_recipe(json.loads(row[4])),
                answer=Answer(Kind(row[5]), row[6], bool(row[7])),
                help=row[8],
                listening=Listening(row[9], row[10], row[11], row[12]),
                version=row[13],
            )

    def query(self, sql: str, values: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
        """Rows of a reading query; ``:learner`` is not offered, put ``learner_id`` first."""
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

    def _write(self, sql: str, values: tuple[Any, ...]) -> sqlite3.Cursor:
        try:
            return self._db.execute(sql, values)
        except sqlite3.Error as error:
            raise RecordError(_cannot_use(self.path, error)) from None

    def _rows(self, sql: str, values: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
        try:
            yield from self._db.execute(sql, values)
        except sqlite3.Error as error:
            raise RecordError(_cannot_use(self.path, error)) from None


def migrate(db: sqlite3.Connection, path: Path) -> None:
    """Brings the schema up to date; a step that fails is rolled back whole and can be run again."""
    while (done := _schema(db)) != len(MIGRATIONS):
        if done > len(MIGRATIONS):
            raise RecordError(
                f"{path}: was written by a newer Namefirst (schema {done}); update this one"
            )
        db.execute("BEGIN IMMEDIATE")
        try:
            if _schema(db) != done:  # another window was quicker
                db.execute("ROLLBACK")
                continue
            for statement in MIGRATIONS[done].split(";"):
                db.execute(statement)
            db.execute(f"PRAGMA user_version = {done + 1}")
            db.execute("COMMIT")
        except BaseException:
            db.execute("ROLLBACK")
            raise


def _schema(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])


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
