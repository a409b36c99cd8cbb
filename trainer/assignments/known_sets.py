"""The sets that this computer has seen: made here, or opened here to be taken.

Each has a folder under its id, with its text, its own loops and the journals of its tries; a set
that was made here is marked, so that its maker may look at its truths.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from exercises.errors import NamefirstError
from trainer.assignments.journal import Journal, journals_of
from trainer.assignments.practice_set import PracticeSet, Review
from trainer.assignments.set_file import LARGEST_FILE_BYTES, read_set, set_text
from trainer.assignments.strangers import read_within

_TEXT: Final = "set.toml"
_MADE_HERE: Final = "made-here"
_MOST: Final = 500


@dataclass(frozen=True, slots=True)
class KnownSet:
    """A set, whether it was made here, and what this learner has done with it."""

    set: PracticeSet
    made_here: bool
    tries: tuple[Journal, ...]

    @property
    def open_try(self) -> Journal | None:
        """The try that was left before its end."""
        if self.tries and self.tries[-1].finished_at is None:
            return self.tries[-1]
        return None

    @property
    def may_take(self) -> bool:
        """Whether there is a try to go on with, or another one allowed."""
        return self.open_try is not None or len(self.tries) < self.set.terms.tries

    @property
    def reviewable(self) -> Journal | None:
        """The latest finished try whose truths may be seen."""
        finished = [each for each in self.tries if each.finished_at is not None]
        shown = self.set.terms.review is not Review.NOT_AT_ALL
        return finished[-1] if finished and shown else None

    @property
    def state(self) -> str:
        """How it stands, in words."""
        if self.open_try is not None:
            return f"{len(self.open_try.answers)} of {len(self.set.questions)} answered"
        if self.tries:
            allowed = self.set.terms.tries
            return "finished" if allowed == 1 else f"{len(self.tries)} of {allowed} tries taken"
        return "made here" if self.made_here else "not begun"


def remember(made: PracticeSet, folder: Path, *, made_here: bool = False) -> None:
    """Keeps a set's text; what cannot be kept is not, for nothing depends on it."""
    kept = folder / made.id
    try:
        kept.mkdir(parents=True, exist_ok=True)
        (kept / _TEXT).write_text(set_text(made), encoding="utf-8", newline="\n")
        if made_here:
            (kept / _MADE_HERE).touch()
    except OSError:
        return


def known_set(made: PracticeSet, folder: Path, learner: str) -> KnownSet:
    """How ``made`` stands with ``learner``.

    Raises:
        NamefirstError: a journal is damaged.
    """
    kept = folder / made.id
    tries = tuple(journals_of(kept, learner))
    return KnownSet(made, (kept / _MADE_HERE).exists(), tries)


def known_sets(folder: Path, learner: str) -> tuple[KnownSet, ...]:
    """Every set that was seen here and can still be read, the newest first."""
    found = []
    for path in sorted(folder.glob(f"*/{_TEXT}"))[:_MOST]:
        try:
            made = read_set(read_within(path, LARGEST_FILE_BYTES), str(path))
            found.append(known_set(made, folder, learner))
        except NamefirstError:
            continue
    return tuple(sorted(found, key=lambda each: each.set.made, reverse=True))
