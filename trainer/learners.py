"""Whose records there are, told before one is opened: a slip in a name would begin another."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from exercises.errors import NamefirstError
from trainer.record import FILE_NAME

_NAMES: Final = (
    "SELECT name FROM learner WHERE EXISTS (SELECT 1 FROM answer WHERE learner_id = learner.id)"
    + "".join(
        f" OR EXISTS (SELECT 1 FROM {table} WHERE learner_id = learner.id)"
        for table in ("claim", "chain_check", "fix_round")
    )
    + " ORDER BY name"
)


def learners_in(folder: Path) -> tuple[str, ...]:
    """The names of those of whom anything is kept in ``folder``; none where it cannot be read:
    opening it will tell why."""
    if not (folder / FILE_NAME).is_file():
        return ()
    try:
        with closing(sqlite3.connect(folder / FILE_NAME)) as db:
            return tuple(row[0] for row in db.execute(_NAMES))
    except sqlite3.Error:
        return ()


def new_learner_sentence(name: str, known: tuple[str, ...]) -> str | None:
    """What to say when ``name`` is about to begin a record beside those of others."""
    if not known or name in known:
        return None
    return f"A record is begun for '{name}'; there are records of {', '.join(known)}."


def refuse_new_learner(name: str, known: tuple[str, ...]) -> None:
    """Refuses to read a record that is not there.

    Raises:
        NamefirstError: nobody of that ``name`` has one, and others have.
    """
    if known and name not in known:
        raise NamefirstError(
            f"there is no record of '{name}'; there are records of {', '.join(known)}: say whose "
            "with --learner"
        )
