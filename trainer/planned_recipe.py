"""From what was planned to a recipe: the loop's own parts, and a loud passage made to mislead.

At the step *level or tone*, a passage is as much too loud as a thick one would be louder, so that
its level alone does not tell which it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.recipe import Recipe
from trainer.planner import Ask

THICK_DB: Final = 9.0
"""The thickness that a loud passage is taken for."""


def recipes_of(ask: Ask, loop: Loop) -> Iterator[Recipe]:
    """The recipes that ``ask`` may become on ``loop``, the one to be preferred first.

    Raises:
        BadRecipe: the loop lacks the place, or is silent there.
    """
    planned = recipe_of(ask, loop)
    if ask.step.alike and planned.kind is Kind.TOO_LOUD and planned.passage is not None:
        from exercises.level_or_tone import level_or_tone_recipes

        _, loud, _ = level_or_tone_recipes(
            loop, planned.passage, ask.seed, size_db=THICK_DB, track=planned.track
        )
        yield replace(planned, size_db=loud.size_db)
    yield planned


def recipe_of(ask: Ask, loop: Loop) -> Recipe:
    """The recipe of ``ask`` as planned. A place is asked where there are several to choose from.

    Raises:
        BadRecipe: the loop lacks the place.
    """
    problem, step = ask.problem, ask.step
    return Recipe(
        seed=ask.seed,
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=problem.kind,
        size_db=problem.size_db,
        freq_hz=problem.freq_hz,
        q=problem.q,
        track=ask.place.track,
        shape=problem.shape,
        style=problem.style,
        passage=ask.place.passage,
        help=step.help,
        second=ask.problems[1] if len(ask.problems) > 1 else None,
        ask_track=step.ask_track and len(loop.tracks) > 1,
        ask_passage=step.ask_passage and len(loop.passages) > 1,
        other_passage=only_other(loop, ask.place.passage),
    )


def only_other(loop: Loop, passage: str | None) -> str | None:
    """The passage of ``loop`` beside ``passage``, where there are just two; else None."""
    others = [each.name for each in loop.passages if each.name != passage]
    return others[0] if passage is not None and len(others) == 1 else None
