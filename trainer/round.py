"""The rules of one question, from first listen to review; no screen, no clock, no disk.

    LISTENING --answer--> ANSWERED --open_review--> REVIEW --close--> OVER
              <--take_back--

Nothing is answered unheard: B has sounded for a second at least. An answer is kept on disk before
its review is worked out.

A move that does not fit the stage raises IllegalMove and changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Final

from exercises.bands import HIGHEST_HZ, LOWEST_HZ
from exercises.kinds import TONE, Help, Kind
from exercises.loops import WHOLE_MIX, Loop
from exercises.question import Question, undo_answers
from exercises.samples import RATE_HZ, Samples
from exercises.spectrum import Difference, difference
from trainer.judging import WHOLE_LOOP, Answer, Named, Verdict, as_fixes, judge

if TYPE_CHECKING:
    from exercises.level_or_tone import PassageChange

LEAST_HEARD_S: Final = 1.0
"""How long B has sounded before an answer counts (our own choice: who hears less, guesses)."""


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
    ``left`` how ``fixed`` still does, in the passage that the problem is in, which begins
    ``begins_s`` seconds into the loop. ``passages`` tells level from tone, passage by passage,
    where the problem is in one of them.
    """

    answer: Answer
    verdict: Verdict
    fixed: Samples
    done: Difference
    left: Difference
    begins_s: float = 0.0
    passages: tuple[PassageChange, ...] = ()

    @property
    def undone(self) -> bool:
        """Whether the answer has anything to undo: it names a problem."""
        return self.answer.kind is not Kind.NOTHING


class Round:
    """One question being listened to, answered and reviewed.

    The draft (``kind``, ``freq_hz``, ``track``, ``passage``) is what the learner has marked so far;
    marking a kind without a frequency keeps the mark on the rule, so that changing one's mind
    costs nothing. Where two problems are asked, ``keep_first`` lays the first aside.
    """

    def __init__(self, question: Question, loop: Loop) -> None:
        self.question = question
        self.loop = loop
        self.stage = Stage.LISTENING
        self.kind: Kind | None = None
        self.freq_hz: float | None = None
        self.track: str | None = None
        self.passage: str | None = None
        self.first: Named | None = None
        self.given: Answer | None = None
        self.review: Review | None = None

    @property
    def tracks(self) -> tuple[str, ...]:
        """The tracks to choose from, where the answer must name one; else none."""
        if not self.question.recipe.ask_track:
            return ()
        return (WHOLE_MIX, *(track.name for track in self.loop.tracks))

    @property
    def passages(self) -> tuple[str, ...]:
        """The passages to choose from, where the answer must name one; else none."""
        if not self.question.recipe.ask_passage:
            return ()
        return (WHOLE_LOOP, *(passage.name for passage in self.loop.passages))

    def mark_kind(self, kind: Kind) -> None:
        """Marks what it is."""
        self._must_be(Stage.LISTENING)
        self.kind = kind

    def mark_freq(self, freq_hz: float) -> None:
        """Marks where it is, in Hz; held within 20 Hz to 20 kHz."""
        self._must_be(Stage.LISTENING)
        self.freq_hz = min(HIGHEST_HZ, max(LOWEST_HZ, freq_hz))

    def mark_track(self, track: str) -> None:
        """Marks which track it is on; one of ``tracks``."""
        self._must_be(Stage.LISTENING)
        if track not in self.tracks:
            raise IllegalMove(f"there is no track '{track}' to choose")
        self.track = track

    def mark_passage(self, passage: str) -> None:
        """Marks which passage it is in; one of ``passages``."""
        self._must_be(Stage.LISTENING)
        if passage not in self.passages:
            raise IllegalMove(f"there is no passage '{passage}' to choose")
        self.passage = passage

    @property
    def missing(self) -> str | None:
        """What the draft still lacks, in words for the learner; None when it is whole."""
        if self.kind is None:
            return "Say what it is first." if self.freq_hz is None else "Say what it is, too."
        if self.kind is Kind.NOTHING:
            return None
        if self.tracks and self.track is None:
            return "Say which track first."
        if self.passages and self.passage is None:
            return "Say which passage first."
        if self.kind in TONE and self.freq_hz is None:
            return "Say where it is, too."
        return None

    @property
    def wants_another(self) -> bool:
        """Whether a second problem is asked and the draft is still the first."""
        asked = self.question.recipe.second is not None
        return asked and self.first is None and self.kind is not Kind.NOTHING

    def keep_first(self) -> None:
        """Lays the draft aside as the first of two problems, for the second to be marked."""
        self._must_be(Stage.LISTENING)
        if self.missing is not None or self.kind is None or not self.wants_another:
            raise IllegalMove(self.missing or "only one problem is asked")
        self.first = self._draft(self.kind)
        self.kind, self.freq_hz = None, None

    def answer(self, *, sure: bool, heard_b_s: float) -> Answer:
        """Takes the draft as the answer; ``heard_b_s`` is how long B has sounded, in seconds.

        Raises:
            IllegalMove: B was not heard, the draft is not whole, or it was answered already.
        """
        self._must_be(Stage.LISTENING)
        if heard_b_s < LEAST_HEARD_S:
            raise IllegalMove("B was not listened to yet")
        if self.missing is not None or self.kind is None or self.wants_another:
            raise IllegalMove(self.missing or "the other problem is not named yet")
        draft = self._draft(self.kind)
        first, second = (draft, None) if self.first is None else (self.first, draft)
        self.given = Answer(first.kind, first.freq_hz, sure, self.track, self.passage, second)
        self.stage = Stage.ANSWERED
        return self.given

    def take_back(self) -> None:
        """Takes an answer back that could not be kept; the draft is as it was before it."""
        self._must_be(Stage.ANSWERED)
        self.given = None
        self.stage = Stage.LISTENING

    def open_review(self) -> Review:
        """Works out the truth of the answered question (some tenths of a second)."""
        self._must_be(Stage.ANSWERED)
        assert self.given is not None
        recipe = self.question.recipe
        fixed = undo_answers(self.question, self.loop, *as_fixes(recipe, self.given))
        a, b, left = (each[self._part] for each in (self.question.a, self.question.b, fixed))
        self.review = Review(
            self.given,
            judge(recipe, self.given),
            fixed,
            difference(b, a),
            difference(left, a),
            self._part.start / RATE_HZ,
            self._passage_changes(),
        )
        self.stage = Stage.REVIEW
        return self.review

    def a_may_sound(self, heard_a_s: float, *, sounding: bool) -> bool:
        """Whether A may be heard now, by the help that this question gives.

        ``heard_a_s`` is how long it has sounded, ``sounding`` whether it does now. Heard *once*
        is once round the loop, in one go.
        """
        help_ = self.question.recipe.help
        if self.stage is not Stage.LISTENING or help_ is Help.A_AT_HAND:
            return True
        if help_ is Help.NO_A:
            return False
        return heard_a_s < self.loop.seconds and (sounding or heard_a_s == 0.0)

    def close(self) -> None:
        """Leaves the review."""
        self._must_be(Stage.REVIEW)
        self.stage = Stage.OVER

    def _draft(self, kind: Kind) -> Named:
        return Named(kind, self.freq_hz if kind in TONE else None)

    @property
    def _part(self) -> slice:
        """Frames of the passage that the problem is in, or of all of the loop."""
        for passage in self.loop.passages:
            if passage.name == self.question.recipe.passage:
                return slice(passage.start_frame, passage.stop_frame)
        return slice(0, self.loop.frames)

    def _passage_changes(self) -> tuple[PassageChange, ...]:
        """What became of each passage of what the problem sits on, if it is in one passage."""
        from exercises.level_or_tone import passage_changes

        question = self.question
        if question.recipe.passage is None:
            return ()
        a, b = question.a, question.b
        if question.a_alone is not None and question.b_alone is not None:
            a, b = question.a_alone, question.b_alone
        return passage_changes(a, b, self.loop.passages)

    def _must_be(self, stage: Stage) -> None:
        if self.stage is not stage:
            raise IllegalMove(f"a question that is at '{self.stage.value}' cannot do that")
