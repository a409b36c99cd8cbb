"""The steps from the nursery to real work, and how a learner goes up and down them.

STEPS is the table. Which step a learner is on follows from the log alone: a ``Climb`` is a value
that is told answer after answer (``after``), as the scorer's belief is.

*Up*: of the answers on the step to problems no larger than its goal (``goal_db``; half of it for
level), so many are right that "half of them or fewer would be" is refuted. The evidence is
E = mean over p of (2p)^right (2(1-p))^wrong, p in 0.65, 0.75, 0.85, 0.95; it may be looked at after
every answer, for under that hypothesis it reaches 20 in one case of twenty at most, however long
one goes on (A. Ramdas, P. Grünwald, V. Vovk, G. Shafer, Statistical Science 38, 2023). The least
that will do: 6 of 6, 8 of 8, 9 of 10, 14 of 16, 23 of 30. *Down*: the same the other way about,
over answers of any size: "half or more would be right" is refuted. After ``ATTEMPT`` answers on a
step both begin afresh, so that a bad start is not carried along for ever.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from exercises.kinds import LEVEL, Help, Kind, Shape, Style
from exercises.recipe import Recipe
from exercises.tone_curve import USUAL_Q
from trainer.judging import Verdict

NURSERY_KINDS: Final = (
    Kind.TOO_MUCH,
    Kind.TOO_LITTLE,
    Kind.SQUASHED,
    Kind.TOO_LOUD,
    Kind.TOO_QUIET,
)
ALL_KINDS: Final = tuple(kind for kind in Kind if kind is not Kind.NOTHING)
THICK_BANDS: Final = (2, 3)
"""125 and 250 Hz, where too much is thick and easily taken for loud."""
QS: Final = (0.7, USUAL_Q, 4.0)
"""Wide, usual and narrow."""

EVIDENCE: Final = 20.0
ATTEMPT: Final = 60
RIGHT_FROM_CREDIT: Final = 0.5
"""A frequency up to two thirds of an octave off still speaks for the step."""
_SHARES: Final = (0.65, 0.75, 0.85, 0.95)


@dataclass(frozen=True, slots=True)
class Step:
    """One step. ``about`` says in a learner's words where the problem is and what is to be named.

    ``goal_db`` is the size, for tone and dynamics, up to which a problem must be named before the
    next step. ``bands`` are those asked (None: all). ``alike``: every family of kinds is asked as
    often as the others. ``two``: two problems at once.
    """

    number: int
    about: str
    help: Help
    goal_db: float
    kinds: tuple[Kind, ...] = NURSERY_KINDS
    bands: tuple[int, ...] | None = None
    ask_track: bool = False
    ask_passage: bool = False
    shapes: tuple[Shape, ...] = (Shape.PEAK,)
    qs: tuple[float, ...] = (USUAL_Q,)
    styles: tuple[Style, ...] = (Style.OVER_COMPRESSED,)
    alike: bool = False
    two: bool = False

    @property
    def placed(self) -> bool:
        """Whether the answer must name a place as well."""
        return self.ask_track or self.ask_passage


STEPS: Final = (
    Step(1, "one problem on the whole mix", Help.A_AT_HAND, 6.0),
    Step(2, "one problem on one track, to be named too", Help.A_AT_HAND, 6.0, ask_track=True),
    Step(3, "one problem in one passage, to be named too", Help.A_AT_HAND, 6.0, ask_passage=True),
    Step(
        4,
        "level or tone, in one passage, to be named too",
        Help.A_ONCE,
        8.0,
        (Kind.TOO_MUCH, Kind.SQUASHED, Kind.TOO_LOUD),
        THICK_BANDS,
        ask_passage=True,
        alike=True,
    ),
    Step(
        5,
        "one problem of any shape, with its track and its passage",
        Help.A_ONCE,
        8.0,
        ALL_KINDS,
        ask_track=True,
        ask_passage=True,
        shapes=tuple(Shape),
        qs=QS,
        styles=tuple(Style),
    ),
    Step(
        6,
        "one problem of any shape, with its track and its passage",
        Help.NO_A,
        9.0,
        ALL_KINDS,
        ask_track=True,
        ask_passage=True,
        shapes=tuple(Shape),
        qs=QS,
        styles=tuple(Style),
    ),
    Step(
        7,
        "two problems at once, with their track and their passage",
        Help.NO_A,
        9.0,
        ALL_KINDS,
        ask_track=True,
        ask_passage=True,
        shapes=tuple(Shape),
        qs=QS,
        styles=tuple(Style),
        two=True,
    ),
)

_HELP_WORDS: Final = {
    Help.A_AT_HAND: "A at hand",
    Help.A_ONCE: "A heard once",
    Help.NO_A: "no A",
}


def step_sentence(number: int) -> str:
    """Where the learner is, for the first page: "Step 2 of 7: one problem on one track, ..."."""
    step = STEPS[number - 1]
    return f"Step {number} of {len(STEPS)}: {step.about}; {_HELP_WORDS[step.help]}."


def step_of(recipe: Recipe) -> int:
    """The number of the step that a question is of, as far as the learner can tell."""
    if recipe.second is not None:
        return 7
    if recipe.help is Help.NO_A:
        return 6
    if recipe.help is Help.A_ONCE:
        return 4 if recipe.ask_passage and not recipe.ask_track else 5
    if recipe.ask_passage:
        return 3
    return 2 if recipe.ask_track else 1


@dataclass(frozen=True, slots=True)
class Climb:
    """Where a learner stands: the step, and what was answered on it of late.

    ``asked`` and ``right`` count all its problems, ``near_goal`` and ``near_right`` those that are
    no larger than its goal.
    """

    step: int = 1
    asked: int = 0
    right: int = 0
    near_goal: int = 0
    near_right: int = 0

    def after(self, recipe: Recipe, verdict: Verdict) -> Climb:
        """Where the learner stands after one more answer. Only answers to problems on the present
        step change anything."""
        if recipe.kind is Kind.NOTHING or step_of(recipe) != self.step:
            return self
        right = verdict.credit >= RIGHT_FROM_CREDIT
        near = all(
            problem.size_db <= _goal_db(STEPS[self.step - 1], problem.kind)
            for problem in recipe.problems
        )
        now = Climb(
            self.step,
            self.asked + 1,
            self.right + right,
            self.near_goal + near,
            self.near_right + (near and right),
        )
        up = evidence(now.near_right, now.near_goal - now.near_right) >= EVIDENCE
        if up and self.step < len(STEPS):
            return Climb(self.step + 1)
        if evidence(now.asked - now.right, now.right) >= EVIDENCE and self.step > 1:
            return Climb(self.step - 1)
        return Climb(self.step) if now.asked >= ATTEMPT else now


def evidence(one_way: int, other_way: int) -> float:
    """How far ``one_way`` of all answers speaks against a share of one half or less."""
    return sum(
        (2.0 * share) ** one_way * (2.0 * (1.0 - share)) ** other_way for share in _SHARES
    ) / len(_SHARES)


def _goal_db(step: Step, kind: Kind) -> float:
    return step.goal_db / 2.0 if kind in LEVEL else step.goal_db
