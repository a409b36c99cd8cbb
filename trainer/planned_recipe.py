"""From what was planned to a recipe: the loop's own parts, and a loud passage made to mislead.

At the step *level or tone*, a passage is as much too loud as a thick one would be louder, so that
its level alone does not tell which it is.
"""

from __future__ import annotations

from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.recipe import Recipe
from trainer.planner import Ask

THICK_DB = 9.0
"""The thickness that a loud passage is taken for."""


def recipe_of(ask: Ask, loop: Loop) -> Recipe:
    """The recipe of ``ask`` on ``loop``. A place is asked where there are several to choose from.

    Raises:
        BadRecipe: the loop lacks the place, or is silent there.
    """
    problem, step = ask.problem, ask.step
    size_db = problem.size_db
    if step.alike and problem.kind is Kind.TOO_LOUD and ask.place.passage is not None:
        from exercises.level_or_tone import level_or_tone_recipes

        _, loud, _ = level_or_tone_recipes(
            loop, ask.place.passage, ask.seed, size_db=THICK_DB, track=ask.place.track
        )
        size_db = loud.size_db
    return Recipe(
        seed=ask.seed,
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=problem.kind,
        size_db=size_db,
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
    )
