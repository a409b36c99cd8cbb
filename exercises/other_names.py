"""Problems that make the very same sound, so that either name is right.

Loudness matching takes an even gain away, and with it the difference between

- a low shelf up and a high shelf down at the same frequency, over the whole loop (a low shelf is,
  exactly, a high shelf of opposite gain and a change of level);
- one of two passages too loud and the other too quiet, where all that is heard is ridden.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from exercises.kinds import LEVEL, TONE, Kind, Shape
from exercises.loops import Passage
from exercises.problems import Problem
from exercises.recipe import Recipe

OPPOSITE: Final = {
    Kind.TOO_MUCH: Kind.TOO_LITTLE,
    Kind.TOO_LITTLE: Kind.TOO_MUCH,
    Kind.TOO_LOUD: Kind.TOO_QUIET,
    Kind.TOO_QUIET: Kind.TOO_LOUD,
}
OTHER_SHELF: Final = {Shape.LOW_SHELF: Shape.HIGH_SHELF, Shape.HIGH_SHELF: Shape.LOW_SHELF}


@dataclass(frozen=True, slots=True)
class Name:
    """A problem and the passage it is in (None: the whole loop)."""

    problem: Problem
    passage: str | None


def other_names(recipe: Recipe, passages: Sequence[Passage]) -> tuple[tuple[Name, ...], ...]:
    """For each problem of ``recipe``, what else it can be called with equal right.

    ``passages`` are those of its loop.
    """
    return tuple(_others(recipe, problem, passages) for problem in recipe.problems)


def _others(recipe: Recipe, problem: Problem, passages: Sequence[Passage]) -> tuple[Name, ...]:
    opposite = OPPOSITE.get(problem.kind, problem.kind)
    if problem.kind in TONE and problem.shape in OTHER_SHELF and recipe.passage is None:
        shape = OTHER_SHELF[problem.shape]
        return (Name(replace(problem, kind=opposite, shape=shape), None),)
    if (
        problem.kind in LEVEL
        and recipe.second is None
        and len(passages) == 2
        and (recipe.track is None or recipe.alone)
    ):
        return tuple(
            Name(replace(problem, kind=opposite), passage.name)
            for passage in passages
            if recipe.passage not in (None, passage.name)
        )
    return ()
