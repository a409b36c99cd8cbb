"""What is wanted most of a drill's next question: skills drawn by need, as problems to be sized.

Skills are drawn in proportion to how weak and how uncertain they are (easy questions: how strong),
less so the more often this drill had them, never the same band twice running. Each becomes a
``Candidate``: a problem of the step's shapes and styles whose size is still open.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from exercises.bands import BANDS, band_of
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind, Shape
from exercises.problems import Problem
from exercises.recipe import HIGHEST_PROBLEM_HZ, LOWEST_PROBLEM_HZ, pick
from trainer.ability import Ability
from trainer.ladder import Step
from trainer.limits import Limits, skills_within
from trainer.sizing import best_size_db, sizes_db
from trainer.skills import SKILL_POSITION, Skill, skill_of

BANDLESS_SHARE: Final = 2.0
"""Dynamics and level are drawn twice as often as one band of one direction."""
LEAST_SHARE: Final = 0.25
"""No skill's draw falls below this part of the mean: what is mastered comes round again."""
_LOW_SHELF_BANDS: Final = range(5)

_Item = TypeVar("_Item")


@dataclass(frozen=True, slots=True)
class Asked:
    """What the planner needs to know of a question that this drill has asked already."""

    kind: Kind
    band_index: int | None
    loop: str
    second: Problem | None = None

    @property
    def skills(self) -> tuple[Skill, ...]:
        """What it exercised."""
        if self.kind is Kind.NOTHING:
            return ()
        first = skill_of(self.kind, self.band_index)
        return (first,) if self.second is None else (first, problem_skill(self.second))


@dataclass(frozen=True, slots=True)
class Asking:
    """What a question is drawn for: a learner at a moment of a drill, on a step."""

    ability: Ability
    asked: Sequence[Asked]
    limits: Limits
    step: Step
    easy: bool

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """The kinds that may be asked."""
        return self.step.kinds if self.limits.kinds is None else self.limits.kinds

    def best_db(self, skill: Skill, least_db: float = 0.0) -> float:
        """The size that tells most of a skill on this step, ``least_db`` at least."""
        smallest, largest = sizes_db(skill)
        return best_size_db(
            self.ability,
            skill,
            max(smallest, least_db),
            largest,
            easy=self.easy,
            help=int(self.step.help),
            placed=self.step.placed,
        )


@dataclass(frozen=True, slots=True)
class Candidate:
    """A skill with the problem that would exercise it, its size still open.

    The one with the shortest ``wait`` is wanted most.
    """

    skill: Skill
    problem: Problem
    wait: float


def candidates(asking: Asking, draws: random.Random) -> list[Candidate]:
    """Every skill that may be asked now, the one wanted most first."""
    bands = asking.step.bands if asking.limits.bands is None else None
    within = [
        skill
        for skill in skills_within(asking.limits)
        if any(kind in asking.kinds for kind in skill.kinds)
        and (bands is None or skill.band_index is None or skill.band_index in bands)
    ]
    last = next((each.skills for each in reversed(asking.asked) if each.skills), ())
    fresh = [skill for skill in within if not any(_alike(skill, other) for other in last)]
    # Where families are asked alike, which was last must not tell which is next.
    skills = within if asking.step.alike or not fresh else fresh
    found = [
        _candidate(asking, skill, wait, draws)
        for skill, wait in zip(skills, waits(_weights(asking, skills), draws), strict=True)
    ]
    return sorted(found, key=lambda candidate: candidate.wait)


def by_problem(found: Sequence[Candidate]) -> list[list[Candidate]]:
    """Groups of one sort of problem, the one whose first member is wanted most first."""
    groups: dict[str, list[Candidate]] = {}
    for candidate in found:
        groups.setdefault(candidate.skill.problem, []).append(candidate)
    return list(groups.values())


def may_stand_beside(problem: Problem, first: Problem) -> bool:
    """Whether two problems may be asked together: of two families, or tone an octave apart."""
    for family in (TONE, DYNAMICS, LEVEL):
        if problem.kind in family and first.kind in family:
            if problem.freq_hz is None or first.freq_hz is None:
                return False
            return abs(math.log2(problem.freq_hz / first.freq_hz)) >= 1.0
    return True


def problem_skill(problem: Problem) -> Skill:
    """The skill that a problem exercises. Raises ValueError for *nothing*."""
    return skill_of(problem.kind, band_index_of(problem))


def band_index_of(problem: Problem) -> int | None:
    """The octave band that a problem sits in, where it has a frequency."""
    return None if problem.freq_hz is None else band_of(problem.freq_hz).index


def in_drawn_order(items: Sequence[_Item], draws: random.Random) -> list[_Item]:
    """``items`` in an order drawn evenly."""
    turn = [draws.random() for _ in items]
    return [items[place] for place in sorted(range(len(items)), key=turn.__getitem__)]


def waits(weights: Sequence[float], draws: random.Random) -> list[float]:
    """Exponential waiting times: taken by rising time, items are drawn one after another in
    proportion to the weights (P. S. Efraimidis, P. G. Spirakis, Inf. Process. Lett. 97, 2006)."""
    return [-math.log(1.0 - draws.random()) / weight for weight in weights]


def _weights(asking: Asking, skills: Sequence[Skill]) -> list[float]:
    mean, sd = asking.ability.log2_finest()
    weights = []
    for skill in skills:
        position = SKILL_POSITION[skill]
        largest = sizes_db(skill)[1]
        weakness = min(largest, 2.0 ** float(mean[position])) / largest
        weight = weakness**-2.0 if asking.easy else weakness * float(sd[position])
        weights.append(weight if skill.band_index is not None else weight * BANDLESS_SHARE)
    least = LEAST_SHARE * sum(weights) / max(1, len(weights))
    times = [sum(skill in each.skills for each in asking.asked) for skill in skills]
    weights = [max(weight, least) / (1 + n) for weight, n in zip(weights, times, strict=True)]
    if not asking.step.alike:
        return weights
    sums = {
        problem: sum(w for s, w in zip(skills, weights, strict=True) if s.problem == problem)
        for problem in {skill.problem for skill in skills}
    }
    return [w / sums[skill.problem] for skill, w in zip(skills, weights, strict=True)]


def _candidate(asking: Asking, skill: Skill, wait: float, draws: random.Random) -> Candidate:
    step = asking.step
    kind = pick(draws, [kind for kind in skill.kinds if kind in asking.kinds])
    problem = Problem(kind, 0.0)
    if skill.band_index is not None:
        unfit = Shape.HIGH_SHELF if skill.band_index in _LOW_SHELF_BANDS else Shape.LOW_SHELF
        shape = pick(draws, [each for each in step.shapes if each is not unfit])
        freq_hz, q = _freq_within(skill.band_index, draws), pick(draws, step.qs)
        problem = Problem(kind, 0.0, freq_hz, q if shape is Shape.PEAK else None, shape)
    elif kind is Kind.SQUASHED:
        problem = Problem(kind, 0.0, style=pick(draws, step.styles))
    return Candidate(skill, problem, wait)


def _alike(skill: Skill, last: Skill) -> bool:
    """Whether a skill would repeat the last question: its band, or its family."""
    if last.band_index is not None:
        return skill.band_index == last.band_index
    return skill == last


def _freq_within(band_index: int, draws: random.Random) -> float:
    """Even in log frequency within the band, kept to what a problem may sit at; to 0.1 Hz."""
    band = BANDS[band_index]
    low = max(band.low_hz, LOWEST_PROBLEM_HZ)
    high = min(band.high_hz, HIGHEST_PROBLEM_HZ)
    freq_hz = round(low * math.exp(math.log(high / low) * draws.random()), 1)
    # Rounding must not carry it over the edge into another band.
    return min(math.floor(high * 10.0) / 10.0, max(math.ceil(low * 10.0) / 10.0, freq_hz))
