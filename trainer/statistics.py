"""Figures about answers that stand by themselves: intervals, sensitivity, exact tests, scores.

Sources: E. B. Wilson, JASA 22 (1927) for the interval; N. A. Macmillan and C. D. Creelman,
"Detection Theory: A User's Guide" (2nd ed., 2005) for d' and the criterion; M. J. Hautus, Behavior
Research Methods 27 (1995) for the log-linear correction; G. W. Brier, Monthly Weather Review 78
(1950) for the score. Needs the standard library and numpy only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

_NORMAL: Final = NormalDist()


@dataclass(frozen=True, slots=True)
class Share:
    """``right`` of ``total``, as a share with its interval (all None when total is 0)."""

    right: int
    total: int
    share: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Calibration:
    """How far *sure* and *guessing* can be believed: the share right of each."""

    sure: Share
    guessing: Share


def wilson_interval(right: int, total: int, confidence: float = 0.95) -> tuple[float, float]:
    """Wilson's score interval of a share, without continuity correction.

    Raises ValueError unless 0 <= right <= total, total >= 1 and 0 < confidence < 1.
    """
    _check_counts(right, total)
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must lie between 0 and 1, not {confidence}")
    z = _NORMAL.inv_cdf(0.5 + confidence / 2.0)
    share = right / total
    middle = share + z * z / (2.0 * total)
    reach = z * math.sqrt(share * (1.0 - share) / total + z * z / (4.0 * total * total))
    whole = 1.0 + z * z / total
    return max(0.0, (middle - reach) / whole), min(1.0, (middle + reach) / whole)


def share_of(right: int, total: int, confidence: float = 0.95) -> Share:
    """A share with its Wilson interval; of nothing at all, a share that is None."""
    if total == 0:
        return Share(0, 0, None, None, None)
    low, high = wilson_interval(right, total, confidence)
    return Share(right, total, right / total, low, high)


def d_prime(hits: int, signals: int, false_alarms: int, noises: int) -> float:
    """d' of yes/no answers, z(H) - z(F), with the log-linear correction: a half added to each
    count and one to each total, always, so that 20 of 20 has a finite d'."""
    hit, alarm = _corrected_rates(hits, signals, false_alarms, noises)
    return _NORMAL.inv_cdf(hit) - _NORMAL.inv_cdf(alarm)


def criterion(hits: int, signals: int, false_alarms: int, noises: int) -> float:
    """Criterion c = -(z(H) + z(F)) / 2, corrected likewise; below 0: inclined to hear problems."""
    hit, alarm = _corrected_rates(hits, signals, false_alarms, noises)
    return -(_NORMAL.inv_cdf(hit) + _NORMAL.inv_cdf(alarm)) / 2.0


def d_prime_of_rates(hit_rate: float, false_alarm_rate: float) -> float:
    """d' = z(H) - z(F) of two rates as they stand, each between 0 and 1, ends excluded."""
    return _NORMAL.inv_cdf(hit_rate) - _NORMAL.inv_cdf(false_alarm_rate)


def criterion_of_rates(hit_rate: float, false_alarm_rate: float) -> float:
    """c = -(z(H) + z(F)) / 2 of two rates as they stand."""
    return -(_NORMAL.inv_cdf(hit_rate) + _NORMAL.inv_cdf(false_alarm_rate)) / 2.0


def share_right_of_d_prime(d: float, ways: int) -> float:
    """Share right of an unbiased chooser among ``ways``: integral of phi(x - d) Phi(x)^(m-1)."""
    if ways < 2:
        raise ValueError(f"a choice needs at least 2 ways, not {ways}")
    x, step = np.linspace(-9.0, 9.0 + max(d, 0.0), 2001, retstep=True)
    below = np.array([_NORMAL.cdf(each) for each in x])
    density = np.exp(-0.5 * (x - d) ** 2) / math.sqrt(2.0 * math.pi)
    return float(np.sum(density * below ** (ways - 1)) * step)


def d_prime_of_share_right(share: float, ways: int) -> float:
    """d' of an unbiased chooser among ``ways`` who is right in this share, above 0 and below 1.

    A share below chance gives a negative d'. Two ways: sqrt(2) z(share).
    """
    if not 0.0 < share < 1.0:
        raise ValueError(f"share must lie between 0 and 1, not {share}")
    low, high = -9.0, 9.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        if share_right_of_d_prime(middle, ways) < share:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def binomial_tail(right: int, total: int, chance: float = 0.5) -> float:
    """Exact probability of ``right`` or more of ``total`` by guessing alone, 0 < chance < 1."""
    _check_counts(right, total)
    if not 0.0 < chance < 1.0:
        raise ValueError(f"chance must lie between 0 and 1, not {chance}")
    log_right, log_wrong = math.log(chance), math.log1p(-chance)
    # By logarithms: the binomial coefficients of long records overflow.
    ways = math.lgamma(total + 1)
    return min(
        1.0,
        math.fsum(
            math.exp(
                ways
                - math.lgamma(k + 1)
                - math.lgamma(total - k + 1)
                + k * log_right
                + (total - k) * log_wrong
            )
            for k in range(right, total + 1)
        ),
    )


def brier_score(foretold: Sequence[float], came_true: Sequence[bool]) -> float:
    """Mean squared gap between foretold probability and what came; 0 best, proper.

    Raises ValueError when there is nothing to score or the lengths differ.
    """
    if not foretold or len(foretold) != len(came_true):
        raise ValueError("Brier score needs as many outcomes as forecasts, and at least one")
    pairs = zip(foretold, came_true, strict=True)
    return math.fsum((p - bool(came)) ** 2 for p, came in pairs) / len(foretold)


def calibration_of(sure: Sequence[bool], right: Sequence[bool]) -> Calibration:
    """Share right of the answers given as sure, and of those given as guesses."""
    pairs = list(zip(sure, right, strict=True))
    counted = {
        said: share_of(
            sum(was_right for was_sure, was_right in pairs if was_sure is said),
            sum(was_sure is said for was_sure, _ in pairs),
        )
        for said in (True, False)
    }
    return Calibration(counted[True], counted[False])


def _check_counts(right: int, total: int) -> None:
    if total < 1 or not 0 <= right <= total:
        raise ValueError(f"{right} of {total} is no share")


def _corrected_rates(
    hits: int, signals: int, false_alarms: int, noises: int
) -> tuple[float, float]:
    _check_counts(hits, signals)
    _check_counts(false_alarms, noises)
    return (hits + 0.5) / (signals + 1.0), (false_alarms + 0.5) / (noises + 1.0)
