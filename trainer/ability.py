"""The scorer: what is believed of a learner, from the answers and the days between them.

``Ability`` is a value: ``after(answer)`` returns the next one, nothing is changed in place, and
neither the clock nor the record is read. Unknowns, in log2 dB: the finest size of each of the 22
skills; then the slope, the lead of hearing over naming, the lapse, a common drift a day, today's
offset, and one offset for each step of help. Evidence on one skill moves the others by their
correlation. Three speeds of forgetting run side by side, weighed by how well they foretell.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np

from trainer.answer_model import (
    MODEL,
    Floats,
    Model,
    chance_of_guess,
    named_and_missed,
    prior_covariance,
    prior_means,
)
from trainer.gaussian_bank import (
    Bank,
    feature_moments,
    from_state,
    learn,
    make_grid,
    mixed,
    to_state,
    widened,
)
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
from trainer.observation import NothingAnswer, Observation, Outcome
from trainer.skills import SKILL_POSITION, SKILLS, Skill

ENOUGH_ANSWERS: Final = 8
"""Below this many answers a skill's figure is "not enough yet"."""

STATE_VERSION: Final = 1

_COUNT: Final = len(SKILLS)
_SLOPE, _LEAD, _LAPSE, _DRIFT, _TODAY, _HELP = range(_COUNT, _COUNT + 6)
_SIZE: Final = _HELP + 2
_LEARN_GRID: Final = make_grid(25, 5, 3, 3)
_FORETELL_GRID: Final = make_grid(15, 3, 3, 3)
_PLACE_GRID: Final = make_grid(15, 3)
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
        members = len(model.walks)
        mean, cov = _prior(model)
        return Ability(
            None,
            Bank(
                np.tile(mean, (members, 1)),
                np.tile(cov, (members, 1, 1)),
                np.log(model.walk_priors),
            ),
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
            bank=_bank_after(here, answer),
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
            bank=_bank_later(self.bank, gap, self.model),
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
    ) -> float:
        """Foretold share of a success at this size, today."""
        mean, _, factor = feature_moments(self.bank, _features(skill, help))
        values = mean[:, :, None] + factor @ _FORETELL_GRID.points
        named, _ = named_and_missed(
            math.log2(size_db),
            *values.swapaxes(0, 1),
            false_alarm=self.false_alarm_rate,
            chance=_chance(skill, chance),
            forced=forced,
            model=self.model,
        )
        return float(self.bank.weight @ (named @ _FORETELL_GRID.weights))

    def placement(
        self,
        skill: Skill,
        log2_sizes: Sequence[float] | Floats,
        *,
        help: int = 0,
        chance: float | None = None,
        forced: bool = False,
    ) -> tuple[Floats, Floats]:
        """Foretold success and information (nats) on the finest size, for each size asked.

        Information is the mutual information of the outcome (missed, misnamed, named) and the
        skill's finest size today, the slope integrated over; lead and lapse stand at their means.
        """
        mean, _, factor = feature_moments(self.bank, _features(skill, help))
        weight = self.bank.weight
        middle = weight @ mean
        off = mean - middle
        among = np.einsum("k,kij->ij", weight, factor @ factor.swapaxes(1, 2))
        among += np.einsum("k,ki,kj->ij", weight, off, off)
        finest, log_slope = middle[:2, None] + np.linalg.cholesky(among[:2, :2]) @ (
            _PLACE_GRID.points
        )
        named, missed = named_and_missed(
            np.asarray(log2_sizes, dtype=np.float64)[:, None],
            finest,
            log_slope,
            middle[2:3],
            middle[3:4],
            false_alarm=self.false_alarm_rate,
            chance=_chance(skill, chance),
            forced=forced,
            model=self.model,
        )
        outcomes = np.stack((named, missed, 1.0 - named - missed))
        slopes = _PLACE_GRID.weights.reshape(15, 3)
        finest_weight = slopes.sum(axis=1)
        given = (outcomes.reshape(3, -1, 15, 3) @ slopes[0]) / slopes[0].sum()
        overall = given @ finest_weight
        information = _entropy(overall) - _entropy(given) @ finest_weight
        return overall[0], information

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

        Raises ValueError if it is damaged or of another version: rebuild it from the answers.
        """
        try:
            if state["version"] != STATE_VERSION:
                raise ValueError(f"version {state['version']}, not {STATE_VERSION}")
            bank = from_state(state["bank"])
            if bank.mean.shape != (len(model.walks), _SIZE):
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


@lru_cache(maxsize=8)
def _prior(model: Model) -> tuple[Floats, Floats]:
    mean = np.concatenate(
        (
            prior_means(model),
            [model.slope_mean, 0.0, model.lapse_mean, 0.0, 0.0],
            model.help_means,
        )
    )
    cov = np.diag(
        np.concatenate(
            (
                np.zeros(_COUNT),
                [model.slope_sd, model.lead_sd, model.lapse_sd, model.drift_sd, model.today_sd],
                [model.help_sd, model.help_sd],
            )
        )
        ** 2
    )
    cov[:_COUNT, :_COUNT] = prior_covariance(model)
    return mean, cov


def _features(skill: Skill, help: int) -> tuple[tuple[int, ...], ...]:
    finest: tuple[int, ...] = (SKILL_POSITION[skill], _TODAY)
    if help:
        finest = (*finest, _HELP + help - 1)
    return finest, (_SLOPE,), (_LEAD,), (_LAPSE,)


def _chance(skill: Skill, chance: float | None) -> float:
    return chance_of_guess(skill.band_index is not None) if chance is None else chance


def _bank_after(ability: Ability, answer: Observation) -> Bank:
    size = math.log2(answer.size_db)
    credit = answer.credit

    def likelihood(values: Floats) -> Floats:
        named, missed = named_and_missed(
            size,
            *values,
            false_alarm=ability.false_alarm_rate,
            chance=_chance(answer.skill, answer.chance),
            forced=answer.forced,
            model=ability.model,
        )
        if answer.outcome is Outcome.MISSED and not answer.forced:
            return missed
        # A near miss is a success with probability ``credit``: the two likelihoods mix.
        return credit * named + (1.0 - credit) * (1.0 - named - missed)

    features = _features(answer.skill, answer.help)
    bank, model = ability.bank, ability.model
    learned = learn(bank, features, _LEARN_GRID, likelihood)
    foretold = float(bank.weight @ np.exp(learned.log_weight - bank.log_weight))
    if foretold >= model.surprise:
        return learned
    # A normal belief takes one surprise after another for lapses and never gives in: let the
    # skill stand apart from the others, as where hearing is lost in one region. Answers that
    # came as foretold speak against that: a lapse among many must not count as news.
    position = SKILL_POSITION[answer.skill]
    apart = widened(bank, position, model.apart_sd)
    share = model.apart_share / (1 + ability.answers[position])
    return mixed(learned, learn(apart, features, _LEARN_GRID, likelihood), share)


def _bank_later(bank: Bank, gap: int, model: Model) -> Bank:
    prior_mean, prior_cov = _prior(model)
    kept = np.ones(_SIZE)
    kept[[_SLOPE, _LEAD, _LAPSE, _HELP, _HELP + 1]] = model.habits_kept**gap
    kept[_DRIFT] = model.drift_kept**gap
    kept[_TODAY] = 0.0
    step = np.diag(kept)
    step[:_COUNT, _DRIFT] = min(gap, model.drift_days)
    noise = np.tile(np.diag((1.0 - kept**2) * np.diag(prior_cov)), (len(model.walks), 1, 1))
    common = model.walk_common_share
    walk = common + (1.0 - common) * np.eye(_COUNT)
    days = min(gap, model.walk_longest_days)
    noise[:, :_COUNT, :_COUNT] = days * np.square(model.walks)[:, None, None] * walk
    mean = bank.mean @ step.T + (1.0 - kept) * prior_mean
    cov = step @ bank.cov @ step.T + noise
    evidence_kept = model.walk_evidence_kept**gap
    log_weight = evidence_kept * bank.log_share + (1.0 - evidence_kept) * np.log(model.walk_priors)
    return Bank(mean, 0.5 * (cov + cov.swapaxes(1, 2)), log_weight)


def _entropy(probabilities: Floats) -> Floats:
    safe = np.maximum(probabilities, 1e-12)
    return np.asarray(-(safe * np.log(safe)).sum(axis=0))
