"""The belief about finest sizes: what an answer, and a day without one, do to it.

Unknowns, in log2 dB: the finest size of each of the 22 skills; then the slope, the lead of hearing
over naming, the lapse (each on the scale of ``answer_model``), a common drift a day, today's
offset, one offset for each step of help, and one for answers that must name the place as well.
Evidence on one skill moves the others by their correlation. Three speeds of forgetting run side by
side, weighed by how well they foretell.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from trainer.answer_model import (
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
    interacted,
    learn,
    make_grid,
    mixed,
    widened,
)
from trainer.observation import Observation, Outcome
from trainer.skills import SKILL_POSITION, SKILLS, Skill

_COUNT: Final = len(SKILLS)
_SLOPE, _LEAD, _LAPSE, _DRIFT, _TODAY, _HELP = range(_COUNT, _COUNT + 6)
_PLACED: Final = _HELP + 2
UNKNOWNS: Final = _PLACED + 1
_LEARN_GRID: Final = make_grid(25, 5, 3, 3)
_FORETELL_GRID: Final = make_grid(15, 3, 3, 3)
_PLACE_GRID: Final = make_grid(15, 3)


@dataclass(frozen=True, slots=True)
class Asking:
    """What is or would be asked: see Observation for all but the skill."""

    skill: Skill
    help: int = 0
    chance: float | None = None
    forced: bool = False
    placed: bool = False

    @property
    def guess(self) -> float:
        """Average credit of a guess."""
        if self.chance is not None:
            return self.chance
        return chance_of_guess(self.skill.band_index is not None, placed=self.placed)

    @property
    def features(self) -> tuple[tuple[int, ...], ...]:
        """Positions that sum to today's finest size, then slope, lead and lapse."""
        finest: tuple[int, ...] = (SKILL_POSITION[self.skill], _TODAY)
        if self.help:
            finest = (*finest, _HELP + self.help - 1)
        if self.placed:
            finest = (*finest, _PLACED)
        return finest, (_SLOPE,), (_LEAD,), (_LAPSE,)


def fresh_finest(model: Model) -> Bank:
    """The belief before the first answer."""
    members = len(model.walks)
    mean, cov = _prior(model)
    return Bank(
        np.tile(mean, (members, 1)), np.tile(cov, (members, 1, 1)), np.log(model.walk_priors)
    )


def finest_after(
    bank: Bank, answer: Observation, answers_before: int, false_alarm: float, model: Model
) -> Bank:
    """The belief after an answer, ``answers_before`` others on the same skill having come first.

    ``false_alarm`` is the share of "nothing" questions on which a problem is named.
    """
    asking = Asking(answer.skill, answer.help, answer.chance, answer.forced, answer.placed)
    size, credit = math.log2(answer.size_db), answer.credit

    def likelihood(values: Floats) -> Floats:
        named, missed = named_and_missed(
            size,
            *values,
            false_alarm=false_alarm,
            chance=asking.guess,
            forced=answer.forced,
            model=model,
        )
        if answer.outcome is Outcome.MISSED and not answer.forced:
            return missed
        # A near miss is a success with probability ``credit``: the two likelihoods mix.
        return credit * named + (1.0 - credit) * (1.0 - named - missed)

    learned = learn(bank, asking.features, _LEARN_GRID, likelihood)
    foretold = float(bank.weight @ np.exp(learned.log_weight - bank.log_weight))
    if foretold >= model.surprise:
        return learned
    # A normal belief takes one surprise after another for lapses and never gives in: let the
    # skill stand apart from the others, as where hearing is lost in one region. Answers that
    # came as foretold speak against that: a lapse among many must not count as news.
    apart = widened(bank, SKILL_POSITION[answer.skill], model.apart_sd)
    share = model.apart_share / (1 + answers_before)
    return mixed(learned, learn(apart, asking.features, _LEARN_GRID, likelihood), share)


def finest_later(bank: Bank, gap: int, model: Model) -> Bank:
    """The belief after ``gap`` days without an answer: wider, drifted, today's form unknown."""
    prior_mean, prior_cov = _prior(model)
    kept = np.ones(UNKNOWNS)
    kept[[_SLOPE, _LEAD, _LAPSE, _HELP, _HELP + 1, _PLACED]] = model.habits_kept**gap
    kept[_DRIFT] = model.drift_kept**gap
    kept[_TODAY] = 0.0
    step = np.diag(kept)
    step[:_COUNT, _DRIFT] = min(gap, model.drift_days)
    noise = np.tile(np.diag((1.0 - kept**2) * np.diag(prior_cov)), (len(model.walks), 1, 1))
    common = model.walk_common_share
    walk = common + (1.0 - common) * np.eye(_COUNT)
    days = min(gap, model.walk_longest_days)
    noise[:, :_COUNT, :_COUNT] = days * np.square(model.walks)[:, None, None] * walk
    bank = interacted(bank, model.walk_priors, model.walk_kept**gap)
    mean = bank.mean @ step.T + (1.0 - kept) * prior_mean
    cov = step @ bank.cov @ step.T + noise
    return Bank(mean, 0.5 * (cov + cov.swapaxes(1, 2)), bank.log_weight)


def foretold_success(
    bank: Bank, asking: Asking, size_db: float, false_alarm: float, model: Model
) -> float:
    """Foretold share of a success at this size, today."""
    mean, _, factor = feature_moments(bank, asking.features)
    values = mean[:, :, None] + factor @ _FORETELL_GRID.points
    named, _ = named_and_missed(
        math.log2(size_db),
        *values.swapaxes(0, 1),
        false_alarm=false_alarm,
        chance=asking.guess,
        forced=asking.forced,
        model=model,
    )
    return float(bank.weight @ (named @ _FORETELL_GRID.weights))


def success_and_information(
    bank: Bank,
    asking: Asking,
    log2_sizes: Sequence[float] | Floats,
    false_alarm: float,
    model: Model,
) -> tuple[Floats, Floats]:
    """Foretold success and information (nats) on the finest size, for each size asked.

    Information is the mutual information of the outcome (missed, misnamed, named) and the
    skill's finest size today, the slope integrated over; lead and lapse stand at their means.
    """
    mean, _, factor = feature_moments(bank, asking.features)
    weight = bank.weight
    middle = weight @ mean
    off = mean - middle
    among = np.einsum("k,kij->ij", weight, factor @ factor.swapaxes(1, 2))
    among += np.einsum("k,ki,kj->ij", weight, off, off)
    finest, log_slope = middle[:2, None] + np.linalg.cholesky(among[:2, :2]) @ (_PLACE_GRID.points)
    named, missed = named_and_missed(
        np.asarray(log2_sizes, dtype=np.float64)[:, None],
        finest,
        log_slope,
        middle[2:3],
        middle[3:4],
        false_alarm=false_alarm,
        chance=asking.guess,
        forced=asking.forced,
        model=model,
    )
    outcomes = np.stack((named, missed, 1.0 - named - missed))
    slopes = _PLACE_GRID.weights.reshape(15, 3)
    finest_weight = slopes.sum(axis=1)
    given = (outcomes.reshape(3, -1, 15, 3) @ slopes[0]) / slopes[0].sum()
    overall = given @ finest_weight
    information = _entropy(overall) - _entropy(given) @ finest_weight
    return overall[0], information


@lru_cache(maxsize=8)
def _prior(model: Model) -> tuple[Floats, Floats]:
    mean = np.concatenate(
        (
            prior_means(model),
            [model.slope_mean, 0.0, model.lapse_mean, 0.0, 0.0],
            model.help_means,
            [model.placed_mean],
        )
    )
    cov = np.diag(
        np.concatenate(
            (
                np.zeros(_COUNT),
                [model.slope_sd, model.lead_sd, model.lapse_sd, model.drift_sd, model.today_sd],
                [model.help_sd, model.help_sd, model.placed_sd],
            )
        )
        ** 2
    )
    cov[:_COUNT, :_COUNT] = prior_covariance(model)
    return mean, cov


def _entropy(probabilities: Floats) -> Floats:
    safe = np.maximum(probabilities, 1e-12)
    return np.asarray(-(safe * np.log(safe)).sum(axis=0))
