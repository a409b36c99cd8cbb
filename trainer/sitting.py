"""What a front end needs of a sitting: a daily drill, or a set being taken."""

from __future__ import annotations

from datetime import datetime
from typing import Protocol

from trainer.record import KeptAnswer, Listening
from trainer.round import Review, Round
from trainer.wrapping_up import WrapUp


class Sitting(Protocol):
    """Question after question, each answer on disk before the next is asked."""

    @property
    def answers(self) -> list[KeptAnswer]:
        """What was answered so far."""
        ...

    @property
    def answered(self) -> int:
        """How many answers that are."""
        ...

    @property
    def number(self) -> int:
        """The number of the question being asked, from 1."""
        ...

    def seconds_left(self, now: datetime) -> float:
        """What is left of its time; 0 when it is over, infinite where there is no limit."""
        ...

    def begin_next(self) -> None:
        """Starts making the next question in the background."""
        ...

    @property
    def begun(self) -> bool:
        """Whether a question is being made, or is made and not yet taken."""
        ...

    @property
    def ready(self) -> bool:
        """Whether the next question is made (or has failed)."""
        ...

    def next_round(self) -> Round:
        """The next question; waits for it where it must."""
        ...

    def answer(
        self, round_: Round, *, sure: bool, listening: Listening, now: datetime
    ) -> Review | None:
        """Takes the round's draft and keeps it; the review, unless it is not to be shown now."""
        ...

    def end(self) -> None:
        """It is over, and not taken up again."""
        ...

    def close(self) -> None:
        """Leaves; it can be taken up again."""
        ...

    def wrap_up(self) -> WrapUp:
        """The one thing to work on, after this sitting."""
        ...
