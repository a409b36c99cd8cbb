"""The form by which a set is made: rows of choices and text, and what they come to. No screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from enum import Enum
from typing import Final

from exercises.bands import BANDS
from exercises.kinds import TONE, Help, Kind
from trainer.assignments.practice_set import (
    LONGEST_TITLE,
    Counts,
    PracticeSet,
    Review,
    Rule,
    Terms,
)
from trainer.assignments.set_making import Drawing, Letter, drawn_set
from trainer.assignments.usual_set import (
    USUAL_BANDS,
    USUAL_COUNT,
    USUAL_KINDS,
    USUAL_SIZES_DB,
)
from trainer.loop_shelf import LoopShelf

_LONGEST_NOTE: Final = 600
_SIZES_DB: Final = (3.0, 4.0, 6.0, 9.0, 12.0)
_COUNTS: Final = (5, 10, 15, 20, 30, 40, 60)
_MINUTES: Final = (None, 5.0, 10.0, 15.0, 20.0, 30.0)
_DUE_DAYS: Final = (None, 1, 2, 3, 5, 7, 14, 28)
_TRIES: Final = (1, 2, 3, 5)


class Row(Enum):
    """A row of the form; its value is what stands before it."""

    TITLE = "Title"
    NOTE = "Note"
    COUNT = "Questions"
    KINDS = "Kinds"
    BANDS = "Bands"
    SIZES = "Sizes"
    HELP = "A is given"
    LOOPS = "Loops"
    MINUTES = "At most"
    DUE = "Due"
    TRIES = "Tries"
    REVIEW = "Truth shown"

    @property
    def is_text(self) -> bool:
        """Whether it is typed."""
        return self in (Row.TITLE, Row.NOTE)


FORM_ROWS: Final = tuple(Row)
_SEVERAL: Final = frozenset({Row.KINDS, Row.BANDS, Row.SIZES, Row.HELP, Row.LOOPS})
"""Rows of which more than one choice may be taken."""
_KINDS: Final = tuple(Kind)
_HELPS: Final = tuple(Help)
_REVIEWS: Final = tuple(Review)


@dataclass(slots=True)
class Form:
    """What is filled in so far; ``marked`` holds the places of what is chosen."""

    teacher: str
    loops: tuple[str, ...]
    loop_titles: tuple[str, ...]
    today: datetime
    texts: dict[Row, str] = field(default_factory=dict)
    marked: dict[Row, set[int]] = field(default_factory=dict)

    def choices(self, row: Row) -> tuple[str, ...]:
        """What can be chosen in a row, in words."""
        return {
            Row.COUNT: tuple(map(str, _COUNTS)),
            Row.KINDS: tuple(kind.value for kind in _KINDS),
            Row.BANDS: tuple(band.name for band in BANDS),
            Row.SIZES: (*(f"{size:g} dB" for size in _SIZES_DB), "as each one needs"),
            Row.HELP: ("at hand", "once", "not at all"),
            Row.LOOPS: self.loop_titles,
            Row.MINUTES: tuple("no limit" if m is None else f"{m:g} min" for m in _MINUTES),
            Row.DUE: tuple(map(self._due_words, _DUE_DAYS)),
            Row.TRIES: tuple(map(str, _TRIES)),
            Row.REVIEW: tuple(review.value for review in _REVIEWS),
        }[row]

    def chosen(self, row: Row, place: int) -> bool:
        """Whether a choice is taken."""
        return place in self.marked[row]

    def choose(self, row: Row, place: int) -> None:
        """Takes a choice, or lets go of one where several may be taken."""
        adaptive = len(_SIZES_DB)
        if row is Row.SIZES and (place == adaptive or adaptive in self.marked[row]):
            self.marked[row] = {place}
        elif row in _SEVERAL:
            self.marked[row] ^= {place}
        else:
            self.marked[row] = {place}

    def text(self, row: Row) -> str:
        """What is typed in a row."""
        return self.texts.get(row, "")

    def write(self, row: Row, words: str) -> None:
        """Puts text into a row."""
        self.texts[row] = words[: LONGEST_TITLE if row is Row.TITLE else _LONGEST_NOTE]

    def state(self) -> object:
        """Something that differs whenever the form does."""
        return tuple(self.texts.items()), tuple(
            (row, tuple(sorted(marked))) for row, marked in self.marked.items()
        )

    @property
    def problem(self) -> str:
        """What is still wanted; empty when a set can be made of it."""
        if not self.text(Row.TITLE).strip():
            return "Give it a title first."
        for row in _SEVERAL - {Row.BANDS}:
            if not self.marked[row]:
                return f"Choose something under '{row.value}'."
        if (
            TONE & {_KINDS[place] for place in self.marked[Row.KINDS]}
            and not self.marked[Row.BANDS]
        ):
            return "Choose a band for what is too much or too little."
        return ""

    def wanted(self, seed: int) -> Callable[[LoopShelf], PracticeSet]:
        """What makes the set, some seconds' work: call it in the background."""
        adaptive = len(_SIZES_DB) in self.marked[Row.SIZES]
        rule = Rule(
            bands=tuple(sorted(self.marked[Row.BANDS])),
            kinds=tuple(_KINDS[place] for place in sorted(self.marked[Row.KINDS])),
            sizes_db=()
            if adaptive
            else tuple(_SIZES_DB[place] for place in sorted(self.marked[Row.SIZES])),
            help=tuple(_HELPS[place] for place in sorted(self.marked[Row.HELP])),
        )
        loops = tuple(self.loops[place] for place in sorted(self.marked[Row.LOOPS]))
        terms = Terms(
            self._due(_DUE_DAYS[self._one(Row.DUE)]),
            _MINUTES[self._one(Row.MINUTES)],
            _TRIES[self._one(Row.TRIES)],
            Counts.BEST,
            _REVIEWS[self._one(Row.REVIEW)],
        )
        letter = Letter(
            self.text(Row.TITLE).strip(), self.teacher, self.text(Row.NOTE).strip(), self.today
        )
        drawing = Drawing(rule, loops, _COUNTS[self._one(Row.COUNT)], seed)
        return lambda shelf: drawn_set(shelf, letter, terms, drawing)

    def _one(self, row: Row) -> int:
        return next(iter(self.marked[row]))

    def _due(self, days: int | None) -> datetime | None:
        if days is None:
            return None
        day = (self.today + timedelta(days=days)).date()
        return datetime.combine(day, time(23, 59)).astimezone()

    def _due_words(self, days: int | None) -> str:
        due = self._due(days)
        return "whenever" if due is None else f"{due:%a} {due.day} {due:%b}"


def begun_form(shelf: LoopShelf, teacher: str) -> Form:
    """A form with the usual choices taken."""
    loops = shelf.names()
    own = len(shelf.own_names())
    marked: dict[Row, set[int]] = {
        Row.COUNT: {_COUNTS.index(USUAL_COUNT)},
        Row.KINDS: set(map(_KINDS.index, USUAL_KINDS)),
        Row.BANDS: set(USUAL_BANDS),
        Row.SIZES: set(map(_SIZES_DB.index, USUAL_SIZES_DB)),
        Row.HELP: {0},
        Row.LOOPS: set(range(own, len(loops))),
        Row.MINUTES: {0},
        Row.DUE: {0},
        Row.TRIES: {0},
        Row.REVIEW: {0},
    }
    titles = tuple(map(shelf.title, loops))
    return Form(teacher, loops, titles, datetime.now().astimezone(), marked=marked)
