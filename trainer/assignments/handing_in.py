"""Handing in: from a try's journal to a result's file, in a place where it is found.

Beside the set where that can be written to, else where sets are kept; never over another file.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from exercises.loop_writing import slug
from trainer.assignments.journal import Journal, journals_of
from trainer.assignments.practice_set import BadSet, PracticeSet
from trainer.assignments.result import (
    ChainState,
    Result,
    ability_after,
    finest_of,
    head_of,
    result_text,
)
from trainer.assignments.set_archive import fresh_file
from trainer.kept_chains import latest_check, output_in_use
from trainer.record import Record

_RESULT_ENDING: Final = ".result.json"


def result_of(made: PracticeSet, journal: Journal, record: Record, version: str) -> Result:
    """The result of a try as it stands."""
    return Result(
        head_of(made),
        record.learner,
        journal.try_number,
        journal.started_at,
        journal.finished_at,
        version,
        chain_state(record),
        finest_of(ability_after(journal.answers)),
        tuple(journal.answers),
    )


def chain_state(record: Record) -> ChainState | None:
    """What the check of the output in use found; None where there was none."""
    kept = latest_check(record, output_in_use(record))
    if kept is None:
        return None
    return ChainState(kept.output, kept.checked_at, kept.volume_db, kept.reach)


def write_result(result: Result, outbox: Path, fallback: Path) -> Path:
    """Writes a result under a free name in ``outbox``, else in ``fallback``.

    Raises:
        BadSet: neither can be written to.
    """
    stem = f"{slug(result.set.title)}-{slug(result.student)}-try{result.try_number}"
    text = result_text(result).encode()
    try:
        return _write_free(text, outbox, stem)
    except BadSet:
        fallback.mkdir(parents=True, exist_ok=True)
        return _write_free(text, fallback, stem)


def _write_free(text: bytes, folder: Path, stem: str) -> Path:
    path, number = folder / f"{stem}{_RESULT_ENDING}", 2
    while path.exists():
        path, number = folder / f"{stem}-{number}{_RESULT_ENDING}", number + 1
    with fresh_file(path) as out:
        out.write(text)
    return path


def write_latest_result(
    made: PracticeSet, folder: Path, outbox: Path, record: Record, version: str
) -> Path:
    """Writes the result of the latest try again, finished or not, and gives where it is.

    Raises:
        BadSet: there was no try, or it cannot be written.
    """
    kept = journals_of(folder / made.id, record.learner)
    if not kept:
        raise BadSet(f"'{record.learner}' has answered nothing of this set; take it first")
    return write_result(result_of(made, kept[-1], record, version), outbox, folder / made.id)
