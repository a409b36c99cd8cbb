"""The rules of the choice round, without a screen: which of four fixes is the simplest that works?

    LISTENING --choose--> REVIEW --close--> OVER
              <--take_back--

Four fixes of one named problem are heard under one playhead, all as loud as one another. The
learner picks one, the one heard last, or marks two or more in order, the simplest that works
first. A step that does not fit the stage raises IllegalMove and changes nothing.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

from exercises.fix_candidates import Candidate, roles_hold, true_order
from exercises.loops import Loop
from exercises.question import Question
from exercises.samples import Samples
from trainer.fix_round import (
    Attempt,
    FixResult,
    Sort,
    Stage,
    as_loud_as_the_softest,
    must_be,
    result_of,
)
from trainer.round import IllegalMove


def drawn_order(seed: int, count: int) -> tuple[int, ...]:
    """The places 0 to ``count`` in an order drawn from ``seed``."""
    draws = random.Random(seed)
    lots = [draws.random() for _ in range(count)]
    return tuple(sorted(range(count), key=lots.__getitem__))


class ChoiceRound:
    """Four fixes of one problem in a drawn order, with numbers from 1.

    ``at_hand`` is the one heard last; ``marked`` those put in order so far.
    """

    def __init__(
        self, question: Question, loop: Loop, candidates: Sequence[Candidate], seed: int
    ) -> None:
        """Raises ValueError for candidates that do not play their roles."""
        if not roles_hold(candidates):
            raise ValueError("these candidates make no round")
        self.question = question
        self.loop = loop
        self.seed = seed
        self.offered = tuple(candidates[place] for place in drawn_order(seed, len(candidates)))
        self.stage = Stage.LISTENING
        self.at_hand: int | None = None
        self.marked: tuple[int, ...] = ()
        self.result: FixResult | None = None

    @property
    def numbers(self) -> tuple[int, ...]:
        """What can be picked: 1 to 4."""
        return tuple(range(1, len(self.offered) + 1))

    def sounds(self) -> dict[str, Samples]:
        """ "B", "A" and each number: all as loud as one another, and none beyond full scale."""
        named = {"B": self.question.b, "A": self.question.a}
        named |= {str(number): self.offered[number - 1].sound for number in self.numbers}
        return as_loud_as_the_softest(named)

    def hear(self, number: int) -> None:
        """Takes a fix to hand, by its number from 1."""
        must_be(self.stage, Stage.LISTENING)
        self._known(number)
        self.at_hand = number

    def mark(self, number: int) -> None:
        """Gives a fix the next place in the order; one that has a place keeps it."""
        must_be(self.stage, Stage.LISTENING)
        self._known(number)
        if number not in self.marked:
            self.marked = (*self.marked, number)

    def unmark(self, number: int) -> None:
        """Takes the place of a fix away again; those behind it move up."""
        must_be(self.stage, Stage.LISTENING)
        self._known(number)
        self.marked = tuple(other for other in self.marked if other != number)

    @property
    def picked(self) -> int | None:
        """What the answer would be: the first that is marked, else the one at hand."""
        return self.marked[0] if self.marked else self.at_hand

    def choose(self) -> FixResult:
        """Takes the fix that is picked as the answer, with the order as far as it was marked.

        Raises:
            IllegalMove: none is, or the answer was given already.
        """
        must_be(self.stage, Stage.LISTENING)
        if self.picked is None:
            raise IllegalMove("Hear one first: 1 to 4.")
        candidate = self.offered[self.picked - 1]
        self.stage = Stage.REVIEW
        result = result_of(
            Sort.CHOICE,
            self.question.recipe,
            self.seed,
            tuple(each.fix for each in self.offered),
            Attempt(candidate.fix, candidate.sound, candidate.judgement),
            self.simplest.fix,
        )
        marked = self.marked or (self.picked,)
        self.result = replace(result, marked=marked, true_order=self.true_order)
        return self.result

    def take_back(self) -> None:
        """Takes an answer back that could not be kept; all is as it was before it."""
        must_be(self.stage, Stage.REVIEW)
        self.result = None
        self.stage = Stage.LISTENING

    @property
    def true_order(self) -> tuple[int, ...]:
        """The numbers from the simplest that works on."""
        return tuple(place + 1 for place in true_order(self.offered))

    @property
    def simplest(self) -> Candidate:
        """The fix of the fewest moves that works."""
        return self.offered[self.true_order[0] - 1]

    def close(self) -> None:
        """Leaves the review."""
        must_be(self.stage, Stage.REVIEW)
        self.stage = Stage.OVER

    def _known(self, number: int) -> None:
        if number not in self.numbers:
            raise IllegalMove(f"there is no fix {number}; there are 1 to {self.numbers[-1]}")
