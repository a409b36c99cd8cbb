"""How well "something" is told from "nothing": hits, false alarms, d' and criterion.

A hit is any problem named where there was one, the right one or not; a false alarm any problem
named where there was none. d' and criterion with the log-linear correction (see ``statistics``);
their 95 % intervals by the variance of a normal deviate of a share (Gourevitch and Galanter,
Psychometrika 32, 1967; Macmillan and Creelman, "Detection Theory", 2nd ed., 2005, chapter 13).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

from trainer.statistics import Share, criterion, d_prime, share_of

ENOUGH_OF_EACH: Final = 8
"""Below so many questions with a problem, or so many without, d' is "not enough yet"."""
_NORMAL: Final = NormalDist()
_Z95: Final = _NORMAL.inv_cdf(0.975)


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """``criterion`` below 0: inclined to hear problems; each with half its 95 % interval.

    d' and criterion are None until there are ``ENOUGH_OF_EACH`` questions of both sorts.
    """

    hits: Share
    false_alarms: Share
    d_prime: float | None
    d_prime_reach: float | None
    criterion: float | None
    criterion_reach: float | None


def sensitivity_of(hits: int, signals: int, false_alarms: int, noises: int) -> Sensitivity:
    """Sensitivity from counts: hits of signals, false alarms of noises."""
    shares = share_of(hits, signals), share_of(false_alarms, noises)
    if min(signals, noises) < ENOUGH_OF_EACH:
        return Sensitivity(*shares, None, None, None, None)
    spread = math.sqrt(_deviate_variance(hits, signals) + _deviate_variance(false_alarms, noises))
    return Sensitivity(
        *shares,
        d_prime(hits, signals, false_alarms, noises),
        _Z95 * spread,
        criterion(hits, signals, false_alarms, noises),
        _Z95 * spread / 2.0,
    )


def _deviate_variance(right: int, total: int) -> float:
    """Variance of z(share), the share corrected as in ``d_prime``."""
    share = (right + 0.5) / (total + 1.0)
    return share * (1.0 - share) / (total * _NORMAL.pdf(_NORMAL.inv_cdf(share)) ** 2)
