"""The rules of the two fix rounds, without a screen: choosing among fixes, and making one.

    choice   LISTENING --choose--> REVIEW --close--> OVER
    open     LISTENING --hand_in--> HANDED_IN --open_review--> REVIEW --close--> OVER

In a *choice* round four fixes of one named problem are heard under one playhead, all as loud as
one another; the simplest of those that work is to be found. In an *open* round the learner makes
the fix, in three moves at the most. Either is judged by what is left when it is done, and by how
many moves it takes over the simplest that the program knows.

A step that does not fit the stage raises IllegalMove and changes nothing.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, StrEnum
from typing import Final

from exercises.fix_candidates import Candidate, Role, roles_hold
from exercises.fixing import few_stems_of, fix_question
from exercises.loops import Loop
from exercises.loudness import loudness_lufs
from exercises.move_fitting import smallest_fix
from exercises.moves import EqPoint, Fix, HighShelf, LowShelf, Move, Ride
from exercises.question import Question
from exercises.recipe import LARGEST_Q, SMALLEST_Q, Recipe
from exercises.residual import Judgement, Sounding, judge_measured, measure
from exercises.samples import Samples, as_samples, db_to_gain
from trainer.round import IllegalMove

MOST_MOVES: Final = 3
LARGEST_GAIN_DB: Final = 18.0
LOWEST_MOVE_HZ, HIGHEST_MOVE_HZ = 20.0, 20_000.0
_OWN_MOVES: Final = (EqPoint, LowShelf, HighShelf, Ride)


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

    @property
    def moves_over(self) -> int:
        """Moves more than the simplest has; of a fix that works, never under 0 in a choice."""
        return len(self.fix) - len(self.smallest)

    @property
    def simplest(self) -> bool:
        """Whether it works in as few moves as the simplest."""
        return not self.heard and self.moves_over <= 0


def drawn_order(seed: int, count: int) -> tuple[int, ...]:
    """The places 0 to ``count`` in an order drawn from ``seed``."""
    draws = random.Random(seed)
    lots = [draws.random() for _ in range(count)]
    return tuple(sorted(range(count), key=lots.__getitem__))


class ChoiceRound:
    """Four fixes of one problem in a drawn order; ``picked`` is the number (from 1) marked last."""

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
        self.picked: int | None = None
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

    def pick(self, number: int) -> None:
        """Marks a fix, by its number from 1."""
        _must_be(self.stage, Stage.LISTENING)
        if number not in self.numbers:
            raise IllegalMove(
                f"there is no fix {number} to pick; there are 1 to {self.numbers[-1]}"
            )
        self.picked = number

    def choose(self) -> FixResult:
        """Takes the marked fix as the answer.

        Raises:
            IllegalMove: none is marked, or the answer was given already.
        """
        _must_be(self.stage, Stage.LISTENING)
        if self.picked is None:
            raise IllegalMove("Pick one first: hear 1 to 4.")
        candidate = self.offered[self.picked - 1]
        self.stage = Stage.REVIEW
        self.result = _result(
            Sort.CHOICE,
            self.question.recipe,
            self.seed,
            tuple(each.fix for each in self.offered),
            Attempt(candidate.fix, candidate.sound, candidate.judgement),
            self.simplest.fix,
        )
        return self.result

    @property
    def simplest(self) -> Candidate:
        """The fix of the fewest moves that works."""
        return next(each for each in self.offered if each.role is Role.ONE_MOVE)

    def close(self) -> None:
        """Leaves the review."""
        _must_be(self.stage, Stage.REVIEW)
        self.stage = Stage.OVER


@dataclass(frozen=True, slots=True)
class OpenReview:
    """The learner's fix beside the smallest that the program found."""

    yours: Attempt
    smallest: Attempt
    result: FixResult


class OpenRound:
    """One problem to be mended by hand; ``moves`` is the fix so far.

    Every move sits on the track that the question is about.
    """

    def __init__(self, question: Question, loop: Loop, seed: int) -> None:
        self.question = question
        self.loop = loop
        self.seed = seed
        self.stage = Stage.LISTENING
        self.moves: Fix = ()
        self.review: OpenReview | None = None
        self._stems = few_stems_of(question, loop)
        self._a_lufs = loudness_lufs(question.a)

    def sound_of(self, moves: Fix) -> Samples:
        """B with ``moves`` done, (frames, 2), as loud as A; some hundredths of a second."""
        return fix_question(self.question, self._stems, moves, self._a_lufs)

    def add(self, move: Move) -> int:
        """Adds a move, put on the question's track; gives its place.

        Raises:
            IllegalMove: three are made already, or it is none that can be made here.
        """
        _must_be(self.stage, Stage.LISTENING)
        if len(self.moves) >= MOST_MOVES:
            raise IllegalMove(f"{MOST_MOVES} moves at the most: take one out first.")
        self.moves = (*self.moves, self._checked(move))
        return len(self.moves) - 1

    def change(self, place: int, move: Move) -> None:
        """Puts another move in the place of one."""
        _must_be(self.stage, Stage.LISTENING)
        self._at(place)
        checked = self._checked(move)
        self.moves = (*self.moves[:place], checked, *self.moves[place + 1 :])

    def take_out(self, place: int) -> None:
        """Takes a move out again."""
        _must_be(self.stage, Stage.LISTENING)
        self._at(place)
        self.moves = (*self.moves[:place], *self.moves[place + 1 :])

    def hand_in(self) -> Fix:
        """Takes the moves as the answer.

        Raises:
            IllegalMove: there are none, or they were handed in already.
        """
        _must_be(self.stage, Stage.LISTENING)
        if not self.moves:
            raise IllegalMove("Make a move first.")
        self.stage = Stage.HANDED_IN
        return self.moves

    def open_review(self) -> OpenReview:
        """Judges what was handed in, and finds the smallest fix (about a second)."""
        _must_be(self.stage, Stage.HANDED_IN)
        b, a = (measure(each, self.loop.passages) for each in (self.question.b, self.question.a))
        yours = self._attempt(self.moves, b, a)
        smallest = self._attempt(smallest_fix(self.question, self.loop), b, a)
        result = _result(Sort.OPEN, self.question.recipe, self.seed, (), yours, smallest.fix)
        self.review = OpenReview(yours, smallest, result)
        self.stage = Stage.REVIEW
        return self.review

    def close(self) -> None:
        """Leaves the review."""
        _must_be(self.stage, Stage.REVIEW)
        self.stage = Stage.OVER

    def _attempt(self, fix: Fix, b: Sounding, a: Sounding) -> Attempt:
        sound = self.sound_of(fix)
        return Attempt(fix, sound, judge_measured(measure(sound, self.loop.passages), b, a))

    def _at(self, place: int) -> Move:
        if not 0 <= place < len(self.moves):
            raise IllegalMove(f"there is no move {place + 1}")
        return self.moves[place]

    def _checked(self, move: Move) -> Move:
        if not isinstance(move, _OWN_MOVES):
            raise IllegalMove("a point, a shelf or a ride can be made here")
        if not abs(move.gain_db) <= LARGEST_GAIN_DB:
            raise IllegalMove(f"{LARGEST_GAIN_DB:g} dB up or down at the most")
        if isinstance(move, Ride):
            if move.passage is not None and move.passage not in self.loop.passages:
                raise IllegalMove(f"there is no passage '{move.passage.name}' to ride")
        elif not LOWEST_MOVE_HZ <= move.freq_hz <= HIGHEST_MOVE_HZ:
            raise IllegalMove(f"no move at {move.freq_hz:g} Hz: 20 Hz to 20 kHz")
        if isinstance(move, EqPoint) and not SMALLEST_Q <= move.q <= LARGEST_Q:
            raise IllegalMove(f"Q {move.q:g} is not within {SMALLEST_Q:g} to {LARGEST_Q:g}")
        if move.track != self.question.recipe.track:
            raise IllegalMove("every move here sits where the problem is")
        return move


def as_loud_as_the_softest(sounds: Mapping[str, Samples]) -> dict[str, Samples]:
    """``sounds`` turned down to the loudness of the softest of them."""
    lufs = {name: loudness_lufs(sound) for name, sound in sounds.items()}
    softest = min(lufs.values())
    return {
        name: as_samples(sound * db_to_gain(softest - lufs[name])) for name, sound in sounds.items()
    }


def _result(
    sort: Sort, recipe: Recipe, seed: int, offered: tuple[Fix, ...], done: Attempt, smallest: Fix
) -> FixResult:
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


def _must_be(at: Stage, stage: Stage) -> None:
    if at is not stage:
        raise IllegalMove(f"a fix round that is at '{at.value}' cannot do that")
