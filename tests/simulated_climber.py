"""Simulated learners who answer planned questions, place and all, and so go up the ladder or not.

They answer by the formulas of ``simulated_listener``: nothing is said, misnamed or named, the last
by 1 - exp(-(size / finest)^2) but for a lapse of 3 %. Without A, and where the place is to be named
as well, they need a larger size by factors of their own.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from exercises.kinds import TONE, Kind
from exercises.problems import Problem
from exercises.question import Place
from exercises.recipe import Recipe
from trainer.ability import Ability
from trainer.judging import Answer, Named, judge
from trainer.ladder import Climb
from trainer.limits import Limits
from trainer.observation import NothingAnswer, Observation, Outcome
from trainer.planner import Ask, Parts, plan_next
from trainer.wanted import Asked, problem_skill

LOOPS = ("quay", "mill", "ferry", "lock")
ANSWERS_A_DAY = 60


class Everywhere:
    """Loops of three tracks and two passages on which anything of 1 dB or more can be heard."""

    def parts(self, loop: str) -> Parts:
        return Parts(("drums", "bass", "guitar"), ("damped strokes", "open chords"))

    def smallest_db(
        self, loop: str, place: Place, problems: Sequence[Problem], given: Sequence[Problem] = ()
    ) -> list[float | None]:
        return [1.0 for _ in problems]


@dataclass(frozen=True)
class Climber:
    """``finest_db`` with A at hand on the whole mix (half of it for level); ``placed`` and
    ``without_a`` are the factors by which place and no A (half of it in log for A once) raise it.
    """

    finest_db: float
    placed: float = 1.2
    without_a: float = 1.5

    def names(self, problem: Problem, ask: Ask, luck: random.Random) -> bool:
        """Whether one hidden problem is named."""
        finest = self.finest_db if problem.kind in TONE else 0.7 * self.finest_db
        if ask.step.placed:
            finest *= self.placed
        finest *= float(self.without_a ** (int(ask.step.help) / 2.0))
        found = 1.0 - 2.718281828 ** -((problem.size_db / finest) ** 2)
        return luck.random() < 0.97 * found


def recipe_of_ask(ask: Ask) -> Recipe:
    """The recipe of a planned question on a loop of several tracks and passages."""
    problem = ask.problem
    return Recipe(
        ask.seed,
        ask.loop,
        "f" * 64,
        problem.kind,
        problem.size_db,
        problem.freq_hz,
        problem.q,
        track=ask.place.track,
        shape=problem.shape,
        style=problem.style,
        passage=ask.place.passage,
        help=ask.step.help,
        second=ask.problems[1] if len(ask.problems) > 1 else None,
        ask_track=ask.step.ask_track,
        ask_passage=ask.step.ask_passage,
    )


def climb(who: Climber, answers: int, seed: int) -> list[int]:
    """The step before each of so many answers of daily drills, from the very first one."""
    luck = random.Random(seed)
    ability, stands, asked = Ability.fresh(), Climb(), []
    steps: list[int] = []
    fairness, limits = Everywhere(), Limits()
    for number in range(answers):
        day = 1 + number // ANSWERS_A_DAY
        if number % ANSWERS_A_DAY == 0:
            asked: list[Asked] = []
        ability = ability.on_day(day)
        steps.append(stands.step)
        ask = plan_next(ability, asked, limits, LOOPS, fairness, seed + day, stands.step)
        asked.append(ask.asked)
        recipe = recipe_of_ask(ask)
        if not ask.problems:
            ability = ability.after(NothingAnswer(day, luck.random() < 0.15))
            continue
        named = [who.names(problem, ask, luck) for problem in ask.problems]
        for problem, right in zip(ask.problems, named, strict=True):
            ability = ability.after(
                Observation(
                    day,
                    problem_skill(problem),
                    problem.size_db,
                    Outcome.NAMED if right else Outcome.MISNAMED,
                    help=int(ask.step.help),
                    placed=ask.step.placed,
                )
            )
        stands = stands.after(recipe, judge(recipe, _answer(recipe, named)))
    return steps


def _answer(recipe: Recipe, named: Sequence[bool]) -> Answer:
    wrong = Named(Kind.NOTHING)
    said = [
        Named(problem.kind, problem.freq_hz) if right else wrong
        for problem, right in zip(recipe.problems, named, strict=True)
    ]
    said.sort(key=lambda one: one.kind is Kind.NOTHING)
    return Answer(
        said[0].kind,
        said[0].freq_hz,
        True,
        recipe.track or "whole mix",
        recipe.passage or "whole loop",
        said[1] if len(said) > 1 else None,
    )
