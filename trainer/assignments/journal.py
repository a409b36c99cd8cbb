"""The journal of one try of a set: what survives whatever happens to the program.

A file of JSON lines in the user's data folder: who takes what, then each answer, written through
to the disk before the next question sounds, and at last that it is finished and where the result
went. A last line that was cut off belongs to an answer that was never taken, and is let be.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from exercises.loop_writing import slug
from trainer.assignments.practice_set import MOST_TRIES, BadSet
from trainer.assignments.result import answered_plain, read_answered
from trainer.assignments.strangers import Refused, read_json, read_within
from trainer.record import KeptAnswer

_LARGEST_BYTES: Final = 4 * 1024 * 1024


@dataclass(slots=True)
class Journal:
    """One try, as far as it has come."""

    path: Path
    student: str
    try_number: int
    started_at: datetime
    answers: list[KeptAnswer] = field(default_factory=list)
    finished_at: datetime | None = None

    def keep(self, kept: KeptAnswer) -> None:
        """Writes an answer; when this returns it is safe.

        Raises:
            BadSet: the disk refuses.
        """
        if self.answers:
            _append(self.path, answered_plain(kept))
        else:
            head: dict[str, Any] = {"student": self.student, "try": self.try_number}
            head |= {"started_at": self.started_at.isoformat(), "namefirst": kept.version}
            _append(self.path, head, answered_plain(kept), anew=True)
        self.answers.append(kept)

    def finish(self, now: datetime) -> None:
        """Writes that the try is over."""
        _append(self.path, {"finished_at": now.isoformat()})
        self.finished_at = now


def journals_of(folder: Path, student: str) -> list[Journal]:
    """Every try of ``student`` that is kept in a set's ``folder``, the first one first.

    Raises:
        NamefirstError: one is damaged.
    """
    found = []
    for number in range(1, MOST_TRIES + 1):
        path = _path(folder, student, number)
        if not path.exists():
            break
        journal = _read(path, student, number)
        if journal is None:
            break
        found.append(journal)
    return found


def new_journal(folder: Path, student: str, number: int, now: datetime) -> Journal:
    """A try that begins; nothing is written before its first answer."""
    return Journal(_path(folder, student, number), student, number, now)


def _path(folder: Path, student: str, number: int) -> Path:
    told_apart = hashlib.sha256(student.encode()).hexdigest()[:8]
    return folder / f"{slug(student)}-{told_apart}-try{number}.jsonl"


def _read(path: Path, student: str, number: int) -> Journal | None:
    """The try at ``path``; None when it was cut off before its first answer."""
    # What follows the last line's end was cut off in writing.
    lines = read_within(path, _LARGEST_BYTES).split(b"\n")[:-1]
    if len(lines) < 2:
        return None
    try:
        head = read_json(lines[0], f"{path}, line 1")
        journal = Journal(path, head.name("student"), number, head.moment("started_at"))
        version = head.name("namefirst", 40)
        for count, line in enumerate(lines[1:], start=2):
            fields = read_json(line, f"{path}, line {count}")
            if fields.has("finished_at"):
                journal.finished_at = fields.moment("finished_at")
            else:
                journal.answers.append(read_answered(fields, version))
    except Refused as error:
        raise BadSet(
            f"{error}; the journal is damaged: move it aside to begin this try anew"
        ) from (None)
    if journal.student != student:
        raise BadSet(f"{path}: belongs to '{journal.student}'; move it aside")
    return journal


def _append(path: Path, *plain: dict[str, Any], anew: bool = False) -> None:
    """Adds lines after the last whole one; ``anew``: what was begun before never came to much."""
    lines = b"".join(json.dumps(each).encode() + b"\n" for each in plain)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("r+b" if path.exists() else "xb") as out:
            out.seek(0 if anew else path.read_bytes().rfind(b"\n") + 1)
            out.truncate()
            out.write(lines)
            out.flush()
            os.fsync(out.fileno())
    except OSError as error:
        raise BadSet(f"{path}: cannot be written ({error.strerror}); make room first") from None
