"""Where the learner stood at the end of each day of practice: the path over weeks, kept ready.

A day's standing holds four figures for each skill, in the order of ``SKILLS``: mean and standard
deviation of the log2 finest size (log2 dB), the answers so far, and the belief that the finest size
lies below the goal. It is worked out from the log by ``scoring``, and can be lost.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from trainer.ability import Ability, Estimate
from trainer.mastery import BELIEF, LEAST_ANSWERS
from trainer.record import Record
from trainer.skills import SKILL_POSITION, SKILLS, Skill

GOAL_DB: Final = 3.0
"""The size at which a skill may be called mastered: a change that a mixer would make as a matter of
course, and a client would hear (common practice, no source)."""
_REACH: Final = 1.645


@dataclass(frozen=True, slots=True)
class Standing:
    """What was believed at the end of ``day``: four figures for each skill (see above)."""

    day: date
    figures: tuple[tuple[float, float, int, float], ...]

    def finest(self, skill: Skill) -> Estimate:
        """Finest size of a skill as it stood, with its 90 % interval."""
        mean, sd, answers, _ = self.figures[SKILL_POSITION[skill]]
        low, high = mean - _REACH * sd, mean + _REACH * sd
        return Estimate(math.exp2(mean), math.exp2(low), math.exp2(high), answers)

    def may_be_mastered(self, skill: Skill) -> bool:
        """Whether the end of this day speaks for mastery (see ``mastery``) at ``GOAL_DB``."""
        _, _, answers, belief = self.figures[SKILL_POSITION[skill]]
        return answers >= LEAST_ANSWERS and belief >= BELIEF


def standing_of(ability: Ability) -> Standing:
    """The standing that an ability amounts to. Raises ValueError before its first day."""
    if ability.day is None:
        raise ValueError("an ability without a day stands nowhere")
    mean, sd = ability.log2_finest()
    return Standing(
        date.fromordinal(ability.day),
        tuple(
            (
                round(float(mean[place]), 5),
                round(float(sd[place]), 5),
                ability.answers[place],
                round(ability.finer_than(skill, GOAL_DB), 5),
            )
            for place, skill in enumerate(SKILLS)
        ),
    )


def keep_standings(record: Record, standings: Iterable[Standing], *, anew: bool) -> None:
    """Keeps some days' standings in place of these days' old ones; ``anew``: in place of all."""
    with record.transaction():
        if anew:
            record.change("DELETE FROM standing WHERE learner_id = ?")
        for each in standings:
            monday = each.day - timedelta(days=each.day.weekday())
            record.change(
                "INSERT OR REPLACE INTO standing (learner_id, day, week, skills)"
                " VALUES (?, ?, ?, ?)",
                (each.day.isoformat(), monday.isoformat(), json.dumps(each.figures)),
            )


def weekly_standings(record: Record) -> Iterator[Standing]:
    """The last standing of every week, oldest first."""
    for row in record.query(
        "SELECT max(day), skills FROM standing WHERE learner_id = ? GROUP BY week ORDER BY week"
    ):
        yield _read(row[0], row[1])


def latest_standings(record: Record, count: int) -> tuple[Standing, ...]:
    """The last ``count`` standings, newest first."""
    rows = record.query(
        "SELECT day, skills FROM standing WHERE learner_id = ? ORDER BY day DESC LIMIT ?", (count,)
    )
    return tuple(_read(day, skills) for day, skills in rows)


def _read(day: str, skills: str) -> Standing:
    return Standing(
        date.fromisoformat(day),
        tuple((mean, sd, int(n), belief) for mean, sd, n, belief in json.loads(skills)),
    )
