"""What an answer is, and whether it names the problem.

How far a frequency counts, and why, is said in ``observation``: a third of an octave names it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from exercises.bands import octaves
from exercises.kinds import TONE, Kind
from exercises.problems import USUAL_Q, Problem
from exercises.recipe import Recipe
from trainer.observation import credit_for_miss


@dataclass(frozen=True, slots=True)
class Answer:
    """What the learner named. ``freq_hz`` is set for *too much* and *too little* alone."""

    kind: Kind
    freq_hz: float | None
    sure: bool

    def __post_init__(self) -> None:
        if (self.freq_hz is not None) != (self.kind in TONE):
            raise ValueError(f"an answer '{self.kind}' with frequency {self.freq_hz}")


@dataclass(frozen=True, slots=True)
class Verdict:
    """``credit`` from 0 to 1; ``named`` when it is whole.

    ``miss_octaves`` is signed (positive: named too high), None unless the kind is right and has a
    frequency.
    """

    kind_right: bool
    miss_octaves: float | None
    credit: float

    @property
    def named(self) -> bool:
        """Kind right and, where there is one, frequency within a third of an octave."""
        return self.credit == 1.0


def judge(recipe: Recipe, answer: Answer) -> Verdict:
    """Holds ``answer`` against the truth in ``recipe``."""
    if answer.kind is not recipe.kind:
        return Verdict(False, None, 0.0)
    if recipe.freq_hz is None or answer.freq_hz is None:
        return Verdict(True, None, 1.0)
    miss = octaves(answer.freq_hz, recipe.freq_hz)
    return Verdict(True, miss, credit_for_miss(miss))


USUAL_FIX_DB: Final = 6.0
"""What would have been turned where nothing was wrong (common practice, no source)."""


def as_fix(recipe: Recipe, answer: Answer) -> Problem:
    """The problem that ``answer`` claims, as something to undo: the true size, the named place."""
    size_db = recipe.size_db if recipe.kind is not Kind.NOTHING else USUAL_FIX_DB
    return Problem(answer.kind, size_db, answer.freq_hz, recipe.q or USUAL_Q)
