"""The ledger: results one after another into SQLite, so that no class has to fit into memory.

A file of its own in a temporary folder, gone when the report is made. Answers are kept as a few
small numbers each; everything on the page is a query over them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from trainer.assignments.result import SetHead

DYNAMICS_COLUMN, LEVEL_COLUMN, NOTHING_COLUMN = 10, 11, 12
COLUMNS: Final = 13
"""What a class is compared by: ten bands, dynamics, level, nothing."""

_TABLES: Final = """
    CREATE TABLE try (
        id INTEGER PRIMARY KEY, file TEXT, set_id TEXT, student TEXT, name TEXT, number INTEGER,
        started REAL, handed_in REAL, finished INTEGER, answered INTEGER, named INTEGER,
        credit REAL, version TEXT, finest TEXT, unheard TEXT,
        status TEXT NOT NULL DEFAULT '', counted INTEGER NOT NULL DEFAULT 0,
        late INTEGER NOT NULL DEFAULT 0, side INTEGER NOT NULL DEFAULT 0
    );
    CREATE TABLE answer (
        try_id INTEGER, number INTEGER, place INTEGER, kind INTEGER, band INTEGER,
        said_kind INTEGER, said_band INTEGER, named INTEGER
    );
    CREATE TABLE finest (
        try_id INTEGER, skill TEXT, size_db REAL, low_db REAL, high_db REAL, answers INTEGER
    );
    CREATE TABLE question (set_id TEXT, number INTEGER, truth TEXT, PRIMARY KEY (set_id, number));
"""

AnswerRow = tuple[int, int, int, int | None, int, int | None, int]
"""number, column, kind, band, kind said, band said, named; kinds by their places in ``Kind``."""
FinestRow = tuple[str, float, float, float, int]


@dataclass(frozen=True, slots=True)
class ReadTry:
    """One result as it is carried from whoever read it into the ledger.

    ``unheard``: bands that the student's output did not bring.
    """

    file: str
    head: SetHead
    student: str
    number: int
    started: float
    handed_in: float
    finished: bool
    credit: float
    version: str
    finest_checked: str
    unheard: frozenset[int]
    answers: tuple[AnswerRow, ...]
    finest: tuple[FinestRow, ...]
    truths: tuple[tuple[int, str], ...]


class Ledger:
    """What has been read so far."""

    def __init__(self, folder: Path) -> None:
        self._db = sqlite3.connect(folder / "ledger.sqlite", isolation_level=None)
        # It is thrown away at the end: nothing has to survive a crash.
        self._db.execute("PRAGMA journal_mode = OFF")
        self._db.execute("PRAGMA synchronous = OFF")
        self._db.executescript(_TABLES)
        self._db.execute("BEGIN")

    def close(self) -> None:
        """Lets go of the file."""
        self._db.close()

    def add(self, read: ReadTry) -> None:
        """Takes one result."""
        cursor = self._db.execute(
            "INSERT INTO try (file, set_id, student, name, number, started, handed_in, finished,"
            " answered, named, credit, version, finest, unheard)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                read.file,
                read.head.id,
                student_key(read.student),
                " ".join(read.student.split()),
                read.number,
                read.started,
                read.handed_in,
                read.finished,
                len(read.answers),
                sum(row[-1] for row in read.answers),
                read.credit,
                read.version,
                read.finest_checked,
                " ".join(map(str, sorted(read.unheard))),
            ),
        )
        number = cursor.lastrowid
        self._db.executemany(
            f"INSERT INTO answer VALUES ({number}, ?, ?, ?, ?, ?, ?, ?)", read.answers
        )
        self._db.executemany(f"INSERT INTO finest VALUES ({number}, ?, ?, ?, ?, ?)", read.finest)

    def name_questions(self, set_id: str, truths: Iterable[tuple[int, str]]) -> None:
        """Says what the questions of a set were, as far as that is not known yet."""
        self._db.executemany(
            "INSERT OR IGNORE INTO question VALUES (?, ?, ?)",
            ((set_id, number, truth) for number, truth in truths),
        )

    def read_through(self) -> None:
        """All results are in: from here on it is asked."""
        self._db.execute("CREATE INDEX answer_by_try ON answer (try_id)")
        self._db.execute("CREATE INDEX finest_by_try ON finest (try_id)")

    def rows(self, sql: str, values: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
        """Rows of a query."""
        return iter(self._db.execute(sql, values))

    def change(self, sql: str, values: Iterable[tuple[Any, ...]]) -> None:
        """Writes down a judgement about many tries."""
        self._db.executemany(sql, values)


def student_key(name: str) -> str:
    """What makes two names one student: the same letters, however spaced or capitalised."""
    import unicodedata

    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())
