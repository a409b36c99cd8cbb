"""The chain check: which bands reach the learner on this output; the rules of it, no screen.

Each presentation has 0 to 3 bursts of one band's noise, soft or loud, and the learner says how many
they counted. Silent ones are among them, taken like the rest: whoever counts bursts in two or more
of the eight is guessing, and nothing is kept. (One who guesses half of the time gets by in 3.5 % of
checks.) A wrong count above nought is a slip and asked once more, so is a loud band that was not
heard. *Reproduced*: heard soft; *faint*: heard loud alone; *not*: not heard even loud.

It is no hearing test: what does not arrive may be lost in the output, the volume, the room or the
ear, and for the drill it makes no difference. All draws are ``random.Random(seed).random()``.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

from exercises.bands import BANDS
from exercises.check_noise import MOST_BURSTS
from trainer.round import IllegalMove

SILENT: Final = 8
MOST_FALSE: Final = 1
_MOST_ASKED: Final = 2


class Reach(Enum):
    """How a band reaches the learner; the value is the word for it."""

    REPRODUCED = "reproduced"
    FAINT = "faint"
    NOT = "not"


@dataclass(frozen=True, slots=True)
class Presentation:
    """What is sounded: so many bursts of a band, soft or loud; nought is silence."""

    band_index: int
    loud: bool
    bursts: int
    seed: int


@dataclass(frozen=True, slots=True)
class Counted:
    """A presentation, and how many bursts were counted."""

    shown: Presentation
    said: int

    @property
    def right(self) -> bool:
        """Whether the count is right."""
        return self.said == self.shown.bursts


class ChainCheck:
    """One check, presentation after presentation, until ``current`` is None."""

    def __init__(self, seed: int) -> None:
        self._draws = random.Random(seed)
        self.counted: tuple[Counted, ...] = ()
        waiting = [self._sounding(band.index, loud) for band in BANDS for loud in (False, True)]
        waiting += [Presentation(0, False, 0, 0)] * SILENT
        self._waiting: list[Presentation] = []
        for each in waiting:
            self._put_in(each)

    @property
    def current(self) -> Presentation | None:
        """What to sound now; None when the check is over."""
        return self._waiting[0] if self._waiting else None

    @property
    def left(self) -> int:
        """How many are left, as far as is known now."""
        return len(self._waiting)

    @property
    def most_left(self) -> int:
        """How many are left if all that can be asked once more is; it never rises."""
        again = (each for each in self._waiting if each.bursts > 0)
        fresh = sum(
            not any(_same(counted.shown, each) for counted in self.counted) for each in again
        )
        return len(self._waiting) + fresh

    def say(self, bursts: int) -> None:
        """Says how many bursts were counted.

        Raises:
            IllegalMove: the check is over, or it is not 0 to 3; nothing is changed.
        """
        if self.current is None:
            raise IllegalMove("this check is over")
        if not 0 <= bursts <= MOST_BURSTS:
            raise IllegalMove(f"0 to {MOST_BURSTS} bursts, not {bursts}")
        shown = self._waiting.pop(0)
        self.counted = (*self.counted, Counted(shown, bursts))
        if self._wants_again(self.counted[-1]):
            self._put_in(self._sounding(shown.band_index, shown.loud))

    def _wants_again(self, last: Counted) -> bool:
        shown = last.shown
        if shown.bursts == 0 or last.right or not (shown.loud or last.said):
            return False
        asked = sum(_same(each.shown, shown) for each in self.counted)
        return asked < _MOST_ASKED

    def _sounding(self, band_index: int, loud: bool) -> Presentation:
        bursts = 1 + int(self._draws.random() * MOST_BURSTS)
        return Presentation(band_index, loud, bursts, int(self._draws.random() * 2**31))

    def _put_in(self, presentation: Presentation) -> None:
        """Somewhere among those that wait, evenly."""
        self._waiting.insert(int(self._draws.random() * (len(self._waiting) + 1)), presentation)


def false_counts(counted: Sequence[Counted]) -> int:
    """How often bursts were counted in silence."""
    return sum(each.said > 0 for each in counted if each.shown.bursts == 0)


def is_believable(counted: Sequence[Counted]) -> bool:
    """Whether silence was told from sound well enough for the rest to mean anything.

    And whether anything was heard at all: if not, the output was off or the volume down.
    """
    return false_counts(counted) <= MOST_FALSE and any(map(_heard, counted))


def reach_of(counted: Sequence[Counted]) -> tuple[Reach, ...]:
    """How each of the ten bands came out of a check that is over."""
    heard = Counter((each.shown.band_index, each.shown.loud) for each in counted if _heard(each))
    return tuple(
        Reach.REPRODUCED
        if heard[band.index, False]
        else Reach.FAINT
        if heard[band.index, True]
        else Reach.NOT
        for band in BANDS
    )


def _heard(each: Counted) -> bool:
    return each.right and each.shown.bursts > 0


def _same(one: Presentation, other: Presentation) -> bool:
    return one.bursts > 0 and (one.band_index, one.loud) == (other.band_index, other.loud)
