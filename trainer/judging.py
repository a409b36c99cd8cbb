"""What an answer is, and whether it names the problem.

A frequency is named when it lies within a third of an octave of the truth: the third octave is
the grid that mixers' equalisers and analysers are ruled by, and it is about three times the
smallest shift of a resonance that listeners can tell at Q 1 (about 0.11 octave, after the
centre-frequency thresholds of 0.079/sqrt(Q)), so it can be reached and is still well clear of
luck. Beyond that, credit falls in a straight line to nothing at one octave: in the next band.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from exercises.bands import octaves
from exercises.kinds import TONE, Kind
from exercises.problems import USUAL_Q, Problem
from exercises.recipe import Recipe

NAMED_WITHIN_OCTAVES: Final = 1.0 / 3.0
NO_CREDIT_BEYOND_OCTAVES: Final = 1.0


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
    """``named``: kind right and, where there is one, frequency within a third of an octave.

    ``miss_octaves`` is signed (positive: named too high), None unless the kind is right and has a
    frequency. ``credit`` runs from 0 to 1.
    """

    kind_right: bool
    miss_octaves: float | None
    named: bool
    credit: float


def judge(recipe: Recipe, answer: Answer) -> Verdict:
    """Holds ``answer`` against the truth in ``recipe``."""
    if answer.kind is not recipe.kind:
        return Verdict(False, None, False, 0.0)
    if recipe.freq_hz is None or answer.freq_hz is None:
        return Verdict(True, None, True, 1.0)
    miss = octaves(answer.freq_hz, recipe.freq_hz)
    # A rounding error must not decide at the very edge.
    named = abs(miss) <= NAMED_WITHIN_OCTAVES + 1e-9
    return Verdict(True, miss, named, 1.0 if named else _credit(abs(miss)))


def as_fix(recipe: Recipe, answer: Answer) -> Problem:
    """The problem that ``answer`` claims, as something to undo: the true size, the named place."""
    return Problem(answer.kind, recipe.size_db, answer.freq_hz, recipe.q or USUAL_Q)


def _credit(miss: float) -> float:
    fall = (miss - NAMED_WITHIN_OCTAVES) / (NO_CREDIT_BEYOND_OCTAVES - NAMED_WITHIN_OCTAVES)
    return max(0.0, 1.0 - fall)
