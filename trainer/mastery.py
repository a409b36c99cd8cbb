"""When a skill may be called mastered: a rule whose false share was simulated.

Mastered at a goal size: at the end of two sessions running, the belief that the finest size lies
below the goal is 0.90 or more, after at least sixteen answers on the skill. tests/bench prints the
share of such declarations that are false; a rule of "the estimate fell below the goal once" is
wrong several times as often.
"""

from __future__ import annotations

from typing import Final

from trainer.ability import Ability
from trainer.skills import SKILL_POSITION, Skill

BELIEF: Final = 0.90
LEAST_ANSWERS: Final = 16


def may_be_mastered(ability: Ability, skill: Skill, goal_db: float) -> bool:
    """Whether the end of this one session speaks for mastery of ``skill`` at ``goal_db``."""
    if ability.answers[SKILL_POSITION[skill]] < LEAST_ANSWERS:
        return False
    return ability.finer_than(skill, goal_db) >= BELIEF


def mastered(last_session: Ability, this_session: Ability, skill: Skill, goal_db: float) -> bool:
    """Whether ``skill`` is mastered: both sessions' ends, one after the other, speak for it."""
    return may_be_mastered(last_session, skill, goal_db) and may_be_mastered(
        this_session, skill, goal_db
    )
