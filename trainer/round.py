"""The rules of one question, from first listen to review; no screen, no clock, no disk.

    LISTENING --answer--> ANSWERED --open_review--> REVIEW --close--> OVER

An answer is kept on disk before its review is worked out.

A move that does not fit the stage raises IllegalMove and changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from exercises.bands import HIGHEST_HZ, LOWEST_HZ
from exercises.kinds import TONE, Kind
from exercises.loops import Loop
from exercises.question import Question, undo_answer
from exercises.samples import Samples
from exercises.spectrum import Difference, difference
from trainer.judging import Answer, Verdict, as_fix, judge


class Stage(Enum):
    """Where a round stands."""

    LISTENING = "listening"
    ANSWERED = "answered"
    REVIEW = "review"
    OVER = "over"


class IllegalMove(Exception):
    """A front end asked for something that this stage does not allow."""


@dataclass(frozen=True, slots=True)
class Review:
    """The truth of one answered question.

    ``fixed`` is B with the answer undone, (frames, 2) float32; ``done`` how B differs from A, and
    ``left`` how ``fixed`` still does.
    """

    answer: Answer
    verdict: Verdict
    fixed: Samples
    done: Difference
    left: Difference


class Round:
    """One question being listened to, answered and reviewed.

    The draft (``kind``, ``freq_hz``) is what the learner has marked so far; marking a kind without
    a frequency keeps the mark on the rule, so that changing one's mind costs nothing.
    """

    def __init__(self, question: Question, loop: Loop) -> None:
        self.question = question
        self.loop = loop
        self.stage = Stage.LISTENING
        self.kind: Kind | None = None
        self.freq_hz: float | None = None
        self.given: Answer | None = None
        self.review: Review | None = None

    def mark_kind(self, kind: Kind) -> None:
        """Marks what it is."""
        self._must_be(Stage.LISTENING)
        self.kind = kind

    def mark_freq(self, freq_hz: float) -> None:
        """Marks where it is, in Hz; held within 20 Hz to 20 kHz."""
        self._must_be(Stage.LISTENING)
        self.freq_hz = min(HIGHEST_HZ, max(LOWEST_HZ, freq_hz))

    @property
    def missing(self) -> str | None:
        """What the answer still lacks, in words for the learner; None when it is whole."""
        if self.kind is None:
            return "Say what it is first."
        if self.kind in TONE and self.freq_hz is None:
            return "Mark where it is first."
        return None

    def answer(self, *, sure: bool) -> Answer:
        """Takes the draft as the answer.

        Raises:
            IllegalMove: the draft is not whole, or the question was answered already.
        """
        self._must_be(Stage.LISTENING)
        if self.missing is not None or self.kind is None:
            raise IllegalMove(self.missing or "no kind")
        self.given = Answer(self.kind, self.freq_hz if self.kind in TONE else None, sure)
        self.stage = Stage.ANSWERED
        return self.given

    def open_review(self) -> Review:
        """Works out the truth of the answered question (some tenths of a second)."""
        self._must_be(Stage.ANSWERED)
        assert self.given is not None
        a, b = self.question.a, self.question.b
        recipe = self.question.recipe
        fixed = undo_answer(self.question, self.loop, as_fix(recipe, self.given))
        self.review = Review(
            self.given, judge(recipe, self.given), fixed, difference(b, a), difference(fixed, a)
        )
        self.stage = Stage.REVIEW
        return self.review

    def close(self) -> None:
        """Leaves the review."""
        self._must_be(Stage.REVIEW)
        self.stage = Stage.OVER

    def _must_be(self, stage: Stage) -> None:
        if self.stage is not stage:
            raise IllegalMove(f"a question that is at '{self.stage.value}' cannot do that")
