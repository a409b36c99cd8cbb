"""The scorer: what is believed of a learner, from the answers and the days between them.

``Ability`` is a value: ``after(answer)`` returns the next one, nothing is changed in place, and
neither the clock nor the record is read. It joins the belief about finest sizes, that about where
frequency names fall, and the false alarms.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from trainer.answer_model import MODEL, Floats, Model
from trainer.finest_sizes import (
    UNKNOWNS,
    Asking,
    finest_after,
    finest_later,
    foretold_success,
    fresh_finest,
    success_and_information,
)
from trainer.gaussian_bank import Bank, from_state, to_state
from trainer.naming_spread import (
    Naming,
    NamingSpread,
    fresh_naming,
    naming_after,
    naming_from_state,
    naming_later,
    naming_of,
    naming_to_state,
)
from trainer.observation import NothingAnswer, Observation
from trainer.skills import SKILL_POSITION, SKILLS, Skill

ENOUGH_ANSWERS: Final = 8
"""Below this many answers a skill's figure is "not enough yet"."""

STATE_VERSION: Final = 1

_COUNT: Final = len(SKILLS)
_REACH: Final = 1.645
"""Half width of a 90 % interval, in standard deviations of a normal."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """Finest size of a skill, dB, with its 90 % interval, after ``answers`` answers."""

    size_db: float
    low_db: float
    high_db: float
    answers: int

    @property
    def enough(self) -> bool:
        """Whether there were enough answers to show the figure at all."""
        return self.answers >= ENOUGH_ANSWERS


@dataclass(frozen=True, slots=True, eq=False)
class Ability:
    """What is believed on ``day`` (None before the first answer)."""

    day: int | None
    bank: Bank
    naming_spread: NamingSpread
    answers: tuple[int, ...]
    nothing_asked: int
    false_alarms: int
    kept_false_alarms: tuple[float, float]
    model: Model

    @staticmethod
    def fresh(model: Model = MODEL) -> Ability:
        """A learner of whom nothing is known."""
        return Ability(
            None,
            fresh_finest(model),
            fresh_naming(),
            (0,) * _COUNT,
            0,
            0,
            model.false_alarms,
            model,
        )

    def after(self, answer: Observation | NothingAnswer) -> Ability:
        """The belief after one answer. A day before the last one is taken as the last one."""
        here = self.on_day(answer.day)
        if isinstance(answer, NothingAnswer):
            alarms, quiet = here.kept_false_alarms
            return replace(
                here,
                nothing_asked=here.nothing_asked + 1,
                false_alarms=here.false_alarms + answer.false_alarm,
                kept_false_alarms=(alarms + answer.false_alarm, quiet + (not answer.false_alarm)),
            )
        position = SKILL_POSITION[answer.skill]
        naming = here.naming_spread
        if answer.miss_octaves is not None and answer.skill.band_index is not None:
            naming = naming_after(naming, answer.skill.band_index, answer.miss_octaves)
        return replace(
            here,
            bank=finest_after(
                here.bank, answer, here.answers[position], here.false_alarm_rate, here.model
            ),
            naming_spread=naming,
            answers=tuple(count + (place == position) for place, count in enumerate(here.answers)),
        )

    def on_day(self, day: int) -> Ability:
        """The belief on a later day with no answer between: wider, drifted, today's form unknown.

        The same day, or an earlier one, changes nothing.
        """
        if self.day is None:
            return replace(self, day=day)
        gap = day - self.day
        if gap <= 0:
            return self
        kept = self.model.false_alarms_kept**gap
        alarms, quiet = (
            prior + kept * (count - prior)
            for prior, count in zip(self.model.false_alarms, self.kept_false_alarms, strict=True)
        )
        return replace(
            self,
            day=day,
            bank=finest_later(self.bank, gap, self.model),
            naming_spread=naming_later(self.naming_spread, gap),
            kept_false_alarms=(alarms, quiet),
        )

    def finest(self, skill: Skill) -> Estimate:
        """Finest size of a skill with its 90 % interval, today's form and help apart."""
        position = SKILL_POSITION[skill]
        mean, sd = self.bank.moments()
        return Estimate(
            float(2.0 ** mean[position]),
            float(2.0 ** (mean[position] - _REACH * sd[position])),
            float(2.0 ** (mean[position] + _REACH * sd[position])),
            self.answers[position],
        )

    def log2_finest(self) -> tuple[Floats, Floats]:
        """Mean and sd of the log2 finest size (dB) of every skill, each of shape (22,)."""
        mean, sd = self.bank.moments()
        return mean[:_COUNT], sd[:_COUNT]

    def finer_than(self, skill: Skill, size_db: float) -> float:
        """Probability that the finest size of a skill lies below ``size_db``."""
        position = SKILL_POSITION[skill]
        sd = np.sqrt(self.bank.cov[:, position, position])
        reach = (math.log2(size_db) - self.bank.mean[:, position]) / (sd * math.sqrt(2.0))
        below = [0.5 * math.erfc(-each) for each in reach]
        return float(self.bank.weight @ below)

    def named_probability(
        self,
        skill: Skill,
        size_db: float,
        *,
        help: int = 0,
        chance: float | None = None,
        forced: bool = False,
        placed: bool = False,
    ) -> float:
        """Foretold share of a success at this size, today."""
        asking = Asking(skill, help, chance, forced, placed)
        return foretold_success(self.bank, asking, size_db, self.false_alarm_rate, self.model)

    def placement(
        self,
        skill: Skill,
        log2_sizes: Sequence[float] | Floats,
        *,
        help: int = 0,
        chance: float | None = None,
        forced: bool = False,
        placed: bool = False,
    ) -> tuple[Floats, Floats]:
        """Foretold success and information (nats) on the finest size, for each size asked."""
        asking = Asking(skill, help, chance, forced, placed)
        return success_and_information(
            self.bank, asking, log2_sizes, self.false_alarm_rate, self.model
        )

    @property
    def false_alarm_rate(self) -> float:
        """Foretold share of "nothing" questions on which a problem is named."""
        alarms, quiet = self.kept_false_alarms
        return alarms / (alarms + quiet)

    def naming(self, band_index: int) -> Naming:
        """Bias and spread of the frequency names in a band, octaves, with 90 % intervals."""
        return naming_of(self.naming_spread, band_index)

    def walk_weights(self) -> tuple[float, ...]:
        """How far the evidence supports each speed of forgetting of the model, sum 1."""
        return tuple(float(weight) for weight in self.bank.weight)

    def to_state(self) -> dict[str, Any]:
        """Plain data for JSON, exact: ``from_state`` gives the same numbers back."""
        return {
            "version": STATE_VERSION,
            "model": repr(self.model),
            "day": self.day,
            "bank": to_state(self.bank),
            "naming": naming_to_state(self.naming_spread),
            "answers": {
                skill.key: count for skill, count in zip(SKILLS, self.answers, strict=True)
            },
            "nothing_asked": self.nothing_asked,
            "false_alarms": self.false_alarms,
            "kept_false_alarms": list(self.kept_false_alarms),
        }

    @staticmethod
    def from_state(state: dict[str, Any], model: Model = MODEL) -> Ability:
        """The ability that ``to_state`` wrote, for the same model.

        Raises ValueError if it is damaged, of another version or learned under another model:
        rebuild it from the answers.
        """
        try:
            if state["version"] != STATE_VERSION:
                raise ValueError(f"version {state['version']}, not {STATE_VERSION}")
            if state["model"] != repr(model):
                raise ValueError("it was learned under other assumptions")
            bank = from_state(state["bank"])
            if bank.mean.shape != (len(model.walks), UNKNOWNS):
                raise ValueError("another model's shape")
            alarms, quiet = state["kept_false_alarms"]
            return Ability(
                None if state["day"] is None else int(state["day"]),
                bank,
                naming_from_state(state["naming"]),
                tuple(int(state["answers"][skill.key]) for skill in SKILLS),
                int(state["nothing_asked"]),
                int(state["false_alarms"]),
                (float(alarms), float(quiet)),
                model,
            )
        except (ValueError, KeyError, TypeError) as error:
            raise ValueError(f"a saved ability cannot be used: {error}") from error
