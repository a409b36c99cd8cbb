"""A rehearsal, with ``--silent``: what was not heard is not scored, and nothing of it is kept.

It has a copy of the record, so that it asks what would be asked, and the copy is thrown away.
"""

from __future__ import annotations

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
    """A copy of ``record`` for as long as the block lasts.

    Raises:
        RecordError: there is no room for it.
    """
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        record.copy_to(Path(folder))
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
