"""Where the learner's frequency names fall: bias and spread of each band, in octaves.

An error e = log2(named / true) is either a real attempt, normal with the band's bias and spread,
or a guess, even over the rule: a raw mean and deviation would be ruined by a few guesses. Spreads
hang together between bands by 0.6, biases do not. The share of guesses is unknown as well: a bank
of four shares is weighed by the evidence. Evidence fades slowly as days pass.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from exercises.bands import BANDS, HIGHEST_HZ, LOWEST_HZ
from trainer.gaussian_bank import Bank, Floats, from_state, learn, make_grid, to_state

GUESS_SHARES: Final = (0.05, 0.2, 0.5, 0.95)
GUESS_SHARE_PRIORS: Final = (0.4, 0.35, 0.2, 0.05)
BIAS_SD: Final = 0.15
LOG2_SPREAD_MEAN: Final = math.log2(0.45)
LOG2_SPREAD_SD: Final = 0.6
SPREADS_CORRELATION: Final = 0.6
KEPT_A_DAY: Final = 0.995

_COUNT: Final = len(BANDS)
_RULE_OCTAVES: Final = math.log2(HIGHEST_HZ / LOWEST_HZ)
_GRID: Final = make_grid(25, 9)
_ROOT_TWO_PI: Final = math.sqrt(2.0 * math.pi)
_PRIOR_MEAN: Final = np.repeat([0.0, LOG2_SPREAD_MEAN], _COUNT)


@dataclass(frozen=True, slots=True)
class Naming:
    """How one band is named: signed bias (above 0: too high) and spread, octaves, 90 % intervals.

    ``answers`` counts the frequency answers heard in this band.
    """

    bias: float
    bias_low: float
    bias_high: float
    spread: float
    spread_low: float
    spread_high: float
    answers: int


@dataclass(frozen=True, slots=True, eq=False)
class NamingSpread:
    """The belief: a bank over the share of guesses; unknowns are ten biases, ten log2 spreads."""

    bank: Bank
    answers: tuple[int, ...]


def _prior_cov() -> Floats:
    cov = np.zeros((2 * _COUNT, 2 * _COUNT))
    cov[:_COUNT, :_COUNT] = BIAS_SD**2 * np.eye(_COUNT)
    cov[_COUNT:, _COUNT:] = LOG2_SPREAD_SD**2 * (
        SPREADS_CORRELATION + (1.0 - SPREADS_CORRELATION) * np.eye(_COUNT)
    )
    return cov


def fresh_naming() -> NamingSpread:
    """The belief before the first answer."""
    members = len(GUESS_SHARES)
    return NamingSpread(
        Bank(
            np.tile(_PRIOR_MEAN, (members, 1)),
            np.tile(_prior_cov(), (members, 1, 1)),
            np.log(GUESS_SHARE_PRIORS),
        ),
        (0,) * _COUNT,
    )


def naming_after(naming: NamingSpread, band_index: int, miss_octaves: float) -> NamingSpread:
    """The belief after one frequency answer in the band that held the truth."""
    shares = np.array(GUESS_SHARES)[:, None]

    def likelihood(values: Floats) -> Floats:
        bias, log2_spread = values
        spread = np.exp2(log2_spread)
        attempt = np.exp(-0.5 * ((miss_octaves - bias) / spread) ** 2) / (_ROOT_TWO_PI * spread)
        return np.asarray((1.0 - shares) * attempt + shares / _RULE_OCTAVES)

    bank = learn(naming.bank, ((band_index,), (_COUNT + band_index,)), _GRID, likelihood)
    answers = tuple(n + (index == band_index) for index, n in enumerate(naming.answers))
    return NamingSpread(bank, answers)


def naming_later(naming: NamingSpread, days: int) -> NamingSpread:
    """The belief after ``days`` without an answer: part of the way back to the prior."""
    kept = KEPT_A_DAY**days
    bank = naming.bank
    log_prior = np.log(GUESS_SHARE_PRIORS)
    return NamingSpread(
        Bank(
            _PRIOR_MEAN + kept * (bank.mean - _PRIOR_MEAN),
            kept**2 * bank.cov + (1.0 - kept**2) * _prior_cov(),
            kept * bank.log_share + (1.0 - kept) * log_prior,
        ),
        naming.answers,
    )


def naming_of(naming: NamingSpread, band_index: int) -> Naming:
    """Bias and spread of one band, with 90 % intervals."""
    mean, sd = naming.bank.moments()
    bias, log2_spread = mean[band_index], mean[_COUNT + band_index]
    bias_reach, spread_reach = 1.645 * sd[band_index], 1.645 * sd[_COUNT + band_index]
    return Naming(
        float(bias),
        float(bias - bias_reach),
        float(bias + bias_reach),
        float(2.0**log2_spread),
        float(2.0 ** (log2_spread - spread_reach)),
        float(2.0 ** (log2_spread + spread_reach)),
        naming.answers[band_index],
    )


def naming_to_state(naming: NamingSpread) -> dict[str, Any]:
    """Plain data for JSON."""
    return {"bank": to_state(naming.bank), "answers": list(naming.answers)}


def naming_from_state(state: dict[str, Any]) -> NamingSpread:
    """The belief that ``naming_to_state`` wrote. Raises ValueError, KeyError or TypeError."""
    bank = from_state(state["bank"])
    answers = tuple(int(count) for count in state["answers"])
    if bank.mean.shape != (len(GUESS_SHARES), 2 * _COUNT) or len(answers) != _COUNT:
        raise ValueError("a saved naming spread has another shape")
    return NamingSpread(bank, answers)
