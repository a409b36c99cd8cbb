"""How an answer follows from the size of a problem: the scorer's one table of constants.

A learner attends but for a share ``lapse`` of the questions. Attending, the kind and place are
found with probability W(size) = 1 - exp(-(size / finest)^slope), a Weibull function: ``finest``,
in dB, is the size that is found 63 times in 100. That *something* is wrong is found at a size
smaller by a factor 2^lead. Who hears nothing says so, or guesses, as often as on questions that
hide nothing; guesses are right by chance. A lapse is half the time a miss, half a wrong name.

Everything is followed in log2 dB. The figures in MODEL are assumptions that were simulated, not
yet estimated from real learners; change them here and nowhere else.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from exercises.bands import HIGHEST_HZ, LOWEST_HZ
from trainer.observation import FULL_CREDIT_OCTAVES, NO_CREDIT_OCTAVES
from trainer.skills import LEVEL_NAME, SKILLS

Floats = NDArray[np.float64]

_KINDS_ON_OFFER: Final = 6
_PLACES_ON_OFFER: Final = 4
_LARGEST_POWER: Final = 60.0  # of two: far beyond any doubt, and far from overflow
_RULE_OCTAVES: Final = math.log2(HIGHEST_HZ / LOWEST_HZ)


@dataclass(frozen=True, slots=True)
class Model:
    """Every assumption of the scorer. Sizes in log2 dB; "a day" is a day of the calendar."""

    # A learner before the first answer: 4 dB give or take a factor 1.72; level is easier.
    finest_mean: float = 2.0
    finest_level_mean: float = 1.0
    finest_sd: float = 0.78
    # Shares of variance common to all skills, to a direction, and to a band in both directions:
    # two bands of a direction correlate by 0.50, a band's two directions by 0.50, others by 0.35.
    common_share: float = 0.35
    direction_share: float = 0.15
    band_share: float = 0.15
    # Dynamics and level hang together with all else by 0.30 and with each other by 0.25.
    other_common_loading: float = 0.5
    # ln slope; lead of hearing over naming, lead = lead_median * exp(N(0, sd^2)); logit lapse.
    slope_mean: float = math.log(2.0)
    slope_sd: float = 0.3
    lead_median: float = 0.4
    lead_sd: float = 0.5
    lapse_mean: float = math.log(0.028 / 0.972)
    lapse_sd: float = 0.5
    # Offsets of the help ladder: A at hand is the reference, A once, no A.
    help_means: tuple[float, float] = (0.3, 0.6)
    help_sd: float = 0.3
    # Offset where the answer must say on which track or in which passage as well.
    placed_mean: float = 0.3
    placed_sd: float = 0.3
    # Good and bad days, and the common drift a day, which dies away over some ninety days.
    today_sd: float = 0.12
    drift_sd: float = 0.06
    drift_kept: float = 0.989
    drift_days: int = 2
    # Three speeds of forgetting, sd of the walk a day; the evidence weighs them, and a learner
    # keeps to one from day to day with probability walk_kept.
    walks: tuple[float, ...] = (0.03, 0.10, 0.18)
    walk_priors: tuple[float, ...] = (1 / 3, 1 / 3, 1 / 3)
    walk_common_share: float = 0.25
    walk_longest_days: int = 30
    walk_kept: float = 0.98
    # Slope, lead and lapse go back towards the prior, so that their evidence fades too.
    habits_kept: float = 0.995
    # An answer foretold in fewer cases than this raises the question whether the skill stands
    # apart from all others: how often that is so before its first answer, and by how much.
    surprise: float = 0.05
    apart_share: float = 0.05
    apart_sd: float = 1.5
    # False alarms: Beta prior and how much of the evidence is kept a day.
    false_alarms: tuple[float, float] = (1.5, 8.5)
    false_alarms_kept: float = 0.98


MODEL: Final = Model()


def chance_of_guess(
    has_frequency: bool, kinds_on_offer: int = _KINDS_ON_OFFER, *, placed: bool = False
) -> float:
    """Average credit of a guess: one kind of those on offer and, for tone, anywhere on the rule.

    A point dropped on the rule (20 Hz to 20 kHz, 9.97 octaves) earns the credit's area over the
    rule's length: 2 (1/3) + (1 - 1/3) octaves of 9.97. A place to be named is one of four or so.
    """
    chance = 1.0 / kinds_on_offer
    if has_frequency:
        chance *= (FULL_CREDIT_OCTAVES + NO_CREDIT_OCTAVES) / _RULE_OCTAVES
    return chance / _PLACES_ON_OFFER if placed else chance


def prior_means(model: Model) -> Floats:
    """Prior log2 finest size of each skill, shape (22,)."""
    return np.array(
        [
            model.finest_level_mean if skill.problem == LEVEL_NAME else model.finest_mean
            for skill in SKILLS
        ]
    )


def prior_covariance(model: Model) -> Floats:
    """Prior covariance of log2 finest sizes, shape (22, 22), positive definite by its making."""
    columns = [
        np.array(
            [
                math.sqrt(model.common_share)
                if skill.band_index is not None
                else model.other_common_loading
                for skill in SKILLS
            ]
        )
    ]
    for problem in {skill.problem: None for skill in SKILLS if skill.band_index is not None}:
        member = np.array([skill.problem == problem for skill in SKILLS])
        columns.append(math.sqrt(model.direction_share) * member)
    for band_index in range(10):
        member = np.array([skill.band_index == band_index for skill in SKILLS])
        columns.append(math.sqrt(model.band_share) * member)
    loadings = np.column_stack(columns)
    shared = loadings @ loadings.T
    correlation = shared + np.diag(1.0 - np.diag(shared))
    return np.asarray(model.finest_sd**2 * correlation)


def named_and_missed(
    size: Floats | float,
    finest: Floats,
    log_slope: Floats,
    log_lead: Floats,
    logit_lapse: Floats,
    *,
    false_alarm: float,
    chance: float,
    forced: bool,
    model: Model,
) -> tuple[Floats, Floats]:
    """Probabilities of a named and of a missed problem; arrays broadcast.

    ``size`` and ``finest`` in log2 dB; ``log_lead`` is the ln of the lead over its median.
    """
    slope = np.exp(log_slope)
    hazard = np.exp2(np.minimum(slope * (size - finest), _LARGEST_POWER))
    unnamed = np.exp(-hazard)
    lapse = 1.0 / (1.0 + np.exp(-logit_lapse))
    if forced:
        named = (1.0 - lapse) * (1.0 - unnamed) * (1.0 - chance) + chance
        return named, np.zeros_like(named)
    lead = model.lead_median * slope * np.exp(log_lead)
    unheard = np.exp(-hazard * np.exp2(np.minimum(lead, _LARGEST_POWER)))
    guesses = unnamed - (1.0 - false_alarm) * unheard
    named = (1.0 - lapse) * (1.0 - unnamed + chance * guesses) + 0.5 * chance * lapse
    missed = (1.0 - lapse) * (1.0 - false_alarm) * unheard + 0.5 * lapse
    return named, missed
