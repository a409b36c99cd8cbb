"""The answer as it is filled in: which part of it the keyboard belongs to, and what marks it.

It knows keys by what they do, and nothing of how it is drawn (``answer_drawing``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Final

from exercises.bands import read_hz
from exercises.kinds import TONE, Kind
from trainer.round import Round
from trainer.window.rule import pointed_hz, stepped_hz

KINDS: Final = tuple(Kind)
TYPED_KEYS: Final = "0123456789.,k"
"""What can be typed into it: figures to choose by, and those of a frequency."""

_TYPED_AT_MOST: Final = 7


class Field(Enum):
    """A part of the answer; the keyboard belongs to the underlined one."""

    WHAT = "What is it?"
    TRACK = "On which track?"
    PASSAGE = "In which passage?"
    WHERE = "Where?"


@dataclass(frozen=True, slots=True)
class Choice:
    """A field whose answer is one of a few names; ``mark`` takes one of them."""

    field: Field
    names: tuple[str, ...]
    marked: str | None
    mark: Callable[[str], None]


class AnswerSheet:
    """A round's draft as it is marked by keys and by pointing; ``note`` says what hinders.

    Marking something goes on to the next field by itself.
    """

    def __init__(self, round_: Round, track_marked: Callable[[], None]) -> None:
        """An empty sheet; ``track_marked`` is told whenever another track is marked."""
        self.round = round_
        self.fields = (
            Field.WHAT,
            *((Field.TRACK,) if round_.tracks else ()),
            *((Field.PASSAGE,) if round_.passages else ()),
            Field.WHERE,
        )
        self.at = Field.WHAT
        self.typed = ""
        self.note = ""
        self._track_marked = track_marked

    @property
    def state(self) -> object:
        """All that can change on it, to be compared."""
        round_ = self.round
        marked = round_.kind, round_.freq_hz, round_.track, round_.passage, round_.first
        return *marked, self.at, self.typed, self.note

    @property
    def choices(self) -> tuple[Choice, ...]:
        """The fields with names to choose from, as far as they are asked: track and passage."""
        round_ = self.round
        rows = (
            Choice(Field.TRACK, round_.tracks, round_.track, self._mark_track),
            Choice(Field.PASSAGE, round_.passages, round_.passage, self._mark_passage),
        )
        return tuple(row for row in rows if row.field in self.fields)

    def mark_kind(self, kind: Kind) -> None:
        """What it is."""
        self.round.mark_kind(kind)
        self.typed = ""
        self.at = Field.WHERE if kind is Kind.NOTHING else self.fields[1]

    def point(self, freq_hz: float) -> None:
        """Where it is: at a place pointed at along the rule."""
        self.typed = ""
        self.note = ""
        if not self._has_no_place():
            self.round.mark_freq(pointed_hz(freq_hz))
            self.at = Field.WHERE

    def go(self, direction: int) -> None:
        """To the field before (-1) or after (1)."""
        self.typed = ""
        index = self.fields.index(self.at) + direction
        self.at = self.fields[max(0, min(len(self.fields) - 1, index))]

    def step(self, direction: int, *, fine: bool) -> None:
        """One on (1) or back (-1) in the field: along the rule, or among what can be chosen."""
        if self.at is Field.WHERE:
            self.point(stepped_hz(self.round.freq_hz, direction, fine=fine))
        elif self.at is Field.WHAT:
            now = -1 if self.round.kind is None else KINDS.index(self.round.kind)
            self.round.mark_kind(KINDS[max(0, min(len(KINDS) - 1, now + direction))])
        else:
            row, at = self._choice_at(), self.at
            now = -1 if row.marked is None else row.names.index(row.marked)
            row.mark(row.names[max(0, min(len(row.names) - 1, now + direction))])
            self.at = at

    def type(self, character: str) -> None:
        """One of ``TYPED_KEYS``: of a frequency, or the number of what is chosen."""
        if self.at is Field.WHERE:
            if not self._has_no_place():
                self.typed = (self.typed + character)[:_TYPED_AT_MOST]
                self._mark_typed()
            return
        number = int(character) if character.isdecimal() else 0
        if self.at is Field.WHAT and 1 <= number <= len(KINDS):
            self.mark_kind(KINDS[number - 1])
        elif self.at is not Field.WHAT:
            row = self._choice_at()
            if 1 <= number <= len(row.names):
                row.mark(row.names[number - 1])

    def take_back(self) -> None:
        """The last figure that was typed; where none can be typed, goes back a field.

        Where a frequency is typed it stays when there is no more to take back: one Backspace too
        many must not turn the next figures into another kind.
        """
        if not self.typed and self.at is not Field.WHERE:
            self.go(-1)
        elif not self.typed and self.round.kind is not None and self.round.kind not in TONE:
            self.at = Field.WHAT
        self.typed = self.typed[:-1]
        self._mark_typed()

    def go_to_missing(self) -> None:
        """To the first field that is still to be filled in."""
        if self.round.kind is None:
            self.at = Field.WHAT
            return
        empty = [row.field for row in self.choices if row.marked is None]
        self.at = empty[0] if empty else Field.WHERE

    def begin_again(self) -> None:
        """For the other of two problems."""
        self.typed, self.at = "", Field.WHAT

    def _mark_track(self, name: str) -> None:
        self.round.mark_track(name)
        self._track_marked()
        self._go_on_from(Field.TRACK)

    def _mark_passage(self, name: str) -> None:
        self.round.mark_passage(name)
        self._go_on_from(Field.PASSAGE)

    def _go_on_from(self, field: Field) -> None:
        self.at = self.fields[self.fields.index(field) + 1]

    def _mark_typed(self) -> None:
        freq_hz = read_hz(self.typed)
        if freq_hz is not None:
            self.round.mark_freq(freq_hz)

    def _has_no_place(self) -> bool:
        """Whether the kind that is marked has no place; says so, and leaves it as it is."""
        kind = self.round.kind
        if kind is None or kind in TONE:
            return False
        self.note = f"'{kind}' has no place to mark. Backspace leads back to what it is."
        return True

    def _choice_at(self) -> Choice:
        return next(row for row in self.choices if row.field is self.at)
