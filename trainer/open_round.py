"""The rules of the open round, without a screen: the learner makes the fix, in few moves.

    LISTENING --hand_in--> HANDED_IN --open_review--> REVIEW --close--> OVER

Three moves at the most. A step that does not fit the stage raises IllegalMove and changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from exercises.fixing import few_stems_of, fix_question
from exercises.loops import Loop
from exercises.loudness import loudness_lufs
from exercises.move_fitting import smallest_fix
from exercises.moves import EqPoint, Fix, HighShelf, LowShelf, Move, Ride
from exercises.question import Question
from exercises.recipe import LARGEST_Q, SMALLEST_Q
from exercises.residual import Sounding, judge_measured, measure
from exercises.samples import Samples
from trainer.fix_round import Attempt, FixResult, Sort, Stage, must_be, result_of
from trainer.round import IllegalMove

MOST_MOVES: Final = 3
LARGEST_GAIN_DB: Final = 18.0
LOWEST_MOVE_HZ, HIGHEST_MOVE_HZ = 20.0, 20_000.0
_OWN_MOVES: Final = (EqPoint, LowShelf, HighShelf, Ride)


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

    def hand_in(self) -> Fix:
        """Takes the moves as the answer.

        Raises:
            IllegalMove: there are none, or they were handed in already.
        """
        must_be(self.stage, Stage.LISTENING)
        if not self.moves:
            raise IllegalMove("Make a move first.")
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

    def close(self) -> None:
        """Leaves the review."""
        must_be(self.stage, Stage.REVIEW)
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
