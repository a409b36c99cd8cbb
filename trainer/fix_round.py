"""What the two sorts of fix round have in common: their stages, and what is kept of them.

In a *choice* (``choice_round``) four fixes of one named problem are heard, and the simplest that
works is to be found; in an *open* round (``open_round``) the learner makes the fix. Either is
judged by what is left when it is done, and by how many moves it takes over the simplest that the
program knows.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum

from exercises.loudness import loudness_lufs
from exercises.moves import Fix
from exercises.recipe import Recipe
from exercises.residual import Judgement
from exercises.samples import Samples, as_samples, db_to_gain
from trainer.round import IllegalMove


class Stage(Enum):
    """Where a fix round stands."""

    LISTENING = "listening"
    HANDED_IN = "handed in"
    REVIEW = "review"
    OVER = "over"


class Sort(StrEnum):
    """The two fix rounds; the values are kept in the record."""

    CHOICE = "choice"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Attempt:
    """One fix, what it sounds like (frames, 2), and how it was judged."""

    fix: Fix
    sound: Samples
    judgement: Judgement

    @property
    def works(self) -> bool:
        """Whether nobody would hear a difference from A."""
        return not self.judgement.now.heard


@dataclass(frozen=True, slots=True)
class FixResult:
    """What is kept of one fix round.

    ``offered``: the fixes in the order in which they were shown, by ``seed``; none in an open
    round. ``fix`` is the one picked or made, ``smallest`` the simplest that works. ``left_db`` and
    ``damage_db``: the most that is left of what was wrong, and that the fix spoiled, as change of
    excitation in the ear; ``heard`` whether a person would tell the fixed sound from A.

    ``marked`` are the numbers (from 1) that the learner put in order, the picked one first, and
    ``true_order`` all of them from the simplest that works on; both are empty in an open round,
    and in a choice kept before an order was asked for.
    """

    sort: Sort
    recipe: Recipe
    seed: int
    offered: tuple[Fix, ...]
    fix: Fix
    smallest: Fix
    heard: bool
    left_db: float
    damage_db: float
    marked: tuple[int, ...] = ()
    true_order: tuple[int, ...] = ()

    @property
    def moves_over(self) -> int:
        """Moves more than the simplest has; of a fix that works, never under 0 in a choice."""
        return len(self.fix) - len(self.smallest)

    @property
    def simplest(self) -> bool:
        """Whether it works in as few moves as the simplest."""
        return not self.heard and self.moves_over <= 0

    @property
    def swapped(self) -> tuple[tuple[int, int], ...]:
        """Pairs of numbers that were put one before the other, and belong the other way round."""
        place = self.true_order.index
        return tuple(
            (one, other)
            for one, other in itertools.combinations(self.marked, 2)
            if place(one) > place(other)
        )


def as_loud_as_the_softest(sounds: Mapping[str, Samples]) -> dict[str, Samples]:
    """``sounds`` turned down to the loudness of the softest of them."""
    lufs = {name: loudness_lufs(sound) for name, sound in sounds.items()}
    softest = min(lufs.values())
    return {
        name: as_samples(sound * db_to_gain(softest - lufs[name])) for name, sound in sounds.items()
    }


def result_of(
    sort: Sort, recipe: Recipe, seed: int, offered: tuple[Fix, ...], done: Attempt, smallest: Fix
) -> FixResult:
    """What is kept of a round that ended with ``done``."""
    judged = done.judgement
    return FixResult(
        sort,
        recipe,
        seed,
        offered,
        done.fix,
        smallest,
        judged.now.heard,
        judged.left_excitation_db,
        judged.damage_excitation_db,
    )


def must_be(at: Stage, stage: Stage) -> None:
    """Raises IllegalMove for a round that is not at ``stage``."""
    if at is not stage:
        raise IllegalMove(f"a fix round that is at '{at.value}' cannot do that")
