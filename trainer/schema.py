"""The record's tables, and how an older file is brought up to date.

Each migration is run once, in order, in one transaction with the mark that it was (PRAGMA
user_version). One that has shipped is never changed: the next change is one more.
"""

from __future__ import annotations

import sqlite3
from typing import Final

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
        answer TEXT NOT NULL,
        loop TEXT NOT NULL,
        kind TEXT NOT NULL,
        size_db REAL NOT NULL,
        freq_hz REAL,
        band INTEGER,
        answered_kind TEXT NOT NULL,
        answered_hz REAL,
        answered_band INTEGER,
        sure INTEGER NOT NULL,
        named INTEGER NOT NULL,
        miss_octaves REAL,
        step INTEGER NOT NULL,
        seconds REAL NOT NULL,
        spent_s REAL NOT NULL,
        switches INTEGER NOT NULL,
        heard_a_s REAL NOT NULL,
        heard_b_s REAL NOT NULL,
        alone_s REAL NOT NULL,
        version TEXT NOT NULL
    );
    CREATE INDEX answer_by_learner ON answer (learner_id, id);
    CREATE INDEX answer_by_drill ON answer (drill_id);
    CREATE INDEX answer_by_day ON answer (learner_id, day, seconds, spent_s);
    CREATE INDEX answer_by_name ON answer
        (learner_id, kind, band, answered_kind, answered_band, sure, named);
    CREATE INDEX answer_by_miss ON answer (learner_id, kind, band, abs(miss_octaves));
    CREATE INDEX answer_by_step ON answer
        (learner_id, step, kind, named, heard_a_s, heard_b_s, alone_s);
    CREATE TABLE setting (
        learner_id INTEGER NOT NULL REFERENCES learner (id),
        name TEXT NOT NULL,
        value TEXT NOT NULL,
        PRIMARY KEY (learner_id, name)
    ) WITHOUT ROWID;
    CREATE TABLE standing (
        learner_id INTEGER NOT NULL REFERENCES learner (id),
        day TEXT NOT NULL,
        week TEXT NOT NULL,
        skills TEXT NOT NULL,
        PRIMARY KEY (learner_id, day)
    ) WITHOUT ROWID;
    """,
    """
    CREATE TABLE claim (
        id INTEGER PRIMARY KEY,
        learner_id INTEGER NOT NULL REFERENCES learner (id),
        claimed_at TEXT NOT NULL,
        title TEXT NOT NULL,
        track TEXT,
        start_s REAL NOT NULL,
        seconds REAL NOT NULL,
        freq_hz REAL NOT NULL,
        gain_db REAL NOT NULL,
        q REAL NOT NULL,
        centre_hz REAL,
        height_db REAL,
        width_octaves REAL,
        outcome TEXT NOT NULL,
        trials TEXT NOT NULL,
        points TEXT NOT NULL,
        version TEXT NOT NULL
    );
    CREATE INDEX claim_by_learner ON claim (learner_id, id);
    CREATE TABLE chain_check (
        id INTEGER PRIMARY KEY,
        learner_id INTEGER NOT NULL REFERENCES learner (id),
        output TEXT NOT NULL,
        checked_at TEXT NOT NULL,
        volume_db REAL NOT NULL,
        reach TEXT NOT NULL,
        trials TEXT NOT NULL,
        version TEXT NOT NULL
    );
    CREATE INDEX chain_check_by_output ON chain_check (learner_id, output, id);
    """,
    """
    CREATE TABLE fix_round (
        id INTEGER PRIMARY KEY,
        learner_id INTEGER NOT NULL REFERENCES learner (id),
        answered_at TEXT NOT NULL,
        drill_id INTEGER REFERENCES drill (id),
        number INTEGER,
        sort TEXT NOT NULL,
        recipe TEXT NOT NULL,
        seed INTEGER NOT NULL,
        offered TEXT NOT NULL,
        fix TEXT NOT NULL,
        smallest TEXT NOT NULL,
        heard INTEGER NOT NULL,
        left_db REAL NOT NULL,
        damage_db REAL NOT NULL,
        seconds REAL NOT NULL,
        version TEXT NOT NULL
    );
    CREATE INDEX fix_round_by_learner ON fix_round (learner_id, id);
    """,
    """
    ALTER TABLE fix_round ADD COLUMN marked TEXT NOT NULL DEFAULT '[]';
    ALTER TABLE fix_round ADD COLUMN true_order TEXT NOT NULL DEFAULT '[]';
    """,
    """
    ALTER TABLE fix_round ADD COLUMN day TEXT NOT NULL DEFAULT '';
    ALTER TABLE fix_round ADD COLUMN spent_s REAL NOT NULL DEFAULT 0;
    UPDATE fix_round SET day = substr(answered_at, 1, 10), spent_s = min(seconds, 90.0);
    CREATE INDEX fix_round_by_drill ON fix_round (drill_id);
    """,
)


class NewerSchema(Exception):
    """The file was written by a newer program than this one."""


def refuse_newer(db: sqlite3.Connection) -> None:
    """Raises NewerSchema for a file of a newer program; changes nothing."""
    if _schema(db) > len(MIGRATIONS):
        raise NewerSchema(f"schema {_schema(db)}")


def migrate(db: sqlite3.Connection) -> None:
    """Brings the tables up to date; a step that fails is rolled back whole and can be run again.

    Raises:
        NewerSchema: there is nothing here to bring it up to.
        sqlite3.Error: a step failed, or the file is no database.
    """
    while (done := _schema(db)) != len(MIGRATIONS):
        refuse_newer(db)
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
