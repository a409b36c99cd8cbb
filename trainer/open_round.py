"""The rules of the open round, without a screen: the learner makes the fix, in few moves.

    LISTENING --hand_in--> HANDED_IN --open_review--> REVIEW --close--> OVER
              <------------- take_back --------------

Three moves at the most. A step that does not fit the stage raises IllegalMove and changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from exercises.fix_at_once import FixAtOnce
from exercises.fixing import few_stems_of, fix_question, fixed_at_level
from exercises.loops import Loop
from exercises.loudness import loudness_lufs
from exercises.move_fitting import smallest_fix
from exercises.moves import Fix, Move
from exercises.question import Question
from exercises.residual import Sounding, judge_measured, measure
from exercises.samples import Samples
from trainer.fix_round import Attempt, FixResult, Sort, Stage, must_be, result_of
from trainer.own_moves import MOST_MOVES, checked
from trainer.round import LEAST_HEARD_S, IllegalMove


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
        self._at_once = FixAtOnce(question, self._stems)

    def sound_of(self, moves: Fix) -> Samples:
        """B with ``moves`` done, (frames, 2), as loud as A whatever its peaks; takes a moment."""
        return fixed_at_level(self.question, self._stems, moves, self._a_lufs)

    def piece_of(self, moves: Fix, start_frame: int, frames: int) -> Samples:
        """A part of the same, round the loop, as near as can be told in some milliseconds."""
        return self._at_once.piece(moves, start_frame, frames)

    def add(self, move: Move) -> int:
        """Adds a move, put on the question's track; gives its place.

        Raises:
            IllegalMove: three are made already, or it is none that can be made here.
        """
        must_be(self.stage, Stage.LISTENING)
        if len(self.moves) >= MOST_MOVES:
            raise IllegalMove(f"{MOST_MOVES} moves at the most: take one out first.")
        self.moves = (*self.moves, self._checked(move))
        return len(self.moves) - 1

    def change(self, place: int, move: Move) -> None:
        """Puts another move in the place of one."""
        must_be(self.stage, Stage.LISTENING)
        self._at(place)
        checked = self._checked(move)
        self.moves = (*self.moves[:place], checked, *self.moves[place + 1 :])

    def take_out(self, place: int) -> None:
        """Takes a move out again."""
        must_be(self.stage, Stage.LISTENING)
        self._at(place)
        self.moves = (*self.moves[:place], *self.moves[place + 1 :])

    def hand_in(self, heard_s: float) -> Fix:
        """Takes the moves as the answer; ``heard_s`` is how long they have sounded as they are.

        Raises:
            IllegalMove: there are none, they were not heard, or they were handed in already.
        """
        must_be(self.stage, Stage.LISTENING)
        if not self.moves:
            raise IllegalMove("Make a move first.")
        if heard_s < LEAST_HEARD_S:
            raise IllegalMove("Listen to B with your moves first, for a second.")
        self.stage = Stage.HANDED_IN
        return self.moves

    def open_review(self) -> OpenReview:
        """Judges what was handed in, and finds the smallest fix (about a second)."""
        must_be(self.stage, Stage.HANDED_IN)
        b, a = (measure(each, self.loop.passages) for each in (self.question.b, self.question.a))
        yours = self._attempt(self.moves, b, a)
        smallest = self._attempt(smallest_fix(self.question, self.loop), b, a)
        result = result_of(Sort.OPEN, self.question.recipe, self.seed, (), yours, smallest.fix)
        self.review = OpenReview(yours, smallest, result)
        self.stage = Stage.REVIEW
        return self.review

    def take_back(self) -> None:
        """Takes a fix back that could not be kept; it can be handed in again."""
        must_be(self.stage, Stage.REVIEW)
        self.review = None
        self.stage = Stage.LISTENING

    def close(self) -> None:
        """Leaves the review."""
        must_be(self.stage, Stage.REVIEW)
        self.stage = Stage.OVER

    def _attempt(self, fix: Fix, b: Sounding, a: Sounding) -> Attempt:
        sound = fix_question(self.question, self._stems, fix, self._a_lufs)
        return Attempt(fix, sound, judge_measured(measure(sound, self.loop.passages), b, a))

    def _at(self, place: int) -> Move:
        if not 0 <= place < len(self.moves):
            raise IllegalMove(f"there is no move {place + 1}")
        return self.moves[place]

    def _checked(self, move: Move) -> Move:
        return checked(move, self.question.recipe.track, self.loop.passages)
