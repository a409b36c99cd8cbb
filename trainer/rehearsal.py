"""A rehearsal, with ``--silent``: what was not heard is not scored, and nothing of it is kept.

It has a copy of the record, so that it asks what would be asked, and the copy is thrown away.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from exercises.errors import NamefirstError
from trainer.record import Record

REHEARSAL: Final = "Without sound this is a rehearsal: nothing is scored, and nothing is kept."


@contextmanager
def rehearsed(record: Record, version: str) -> Iterator[Record]:
    """A copy of ``record`` for as long as the block lasts."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        with (
            closing(sqlite3.connect(record.path)) as original,
            closing(sqlite3.connect(Path(folder) / record.path.name)) as copy,
        ):
            original.backup(copy)
        with closing(Record(Path(folder), record.learner, version)) as copied:
            yield copied


def refuse_silent(what: str, *, silent: bool) -> None:
    """Refuses ``what`` (as in "a set") without sound.

    Raises:
        NamefirstError: ``silent`` was asked for.
    """
    if silent:
        raise NamefirstError(
            f"--silent: {what} without sound would tell nothing; leave --silent out"
        )
