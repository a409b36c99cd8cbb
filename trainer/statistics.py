"""Figures about answers that stand by themselves: intervals, sensitivity, exact tests.

Sources: E. B. Wilson, JASA 22 (1927) for the interval; N. A. Macmillan and C. D. Creelman,
"Detection Theory: A User's Guide" (2nd ed., 2005) for d' and the criterion; M. J. Hautus, Behavior
Research Methods 27 (1995) for the log-linear correction. Needs the standard library only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

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
    return d_prime_of_rates(*_corrected_rates(hits, signals, false_alarms, noises))


def criterion(hits: int, signals: int, false_alarms: int, noises: int) -> float:
    """Criterion c = -(z(H) + z(F)) / 2, corrected likewise; below 0: inclined to hear problems."""
    return criterion_of_rates(*_corrected_rates(hits, signals, false_alarms, noises))


def d_prime_of_rates(hit_rate: float, false_alarm_rate: float) -> float:
    """d' = z(H) - z(F) of two rates as they stand, each between 0 and 1, ends excluded."""
    return _NORMAL.inv_cdf(hit_rate) - _NORMAL.inv_cdf(false_alarm_rate)


def criterion_of_rates(hit_rate: float, false_alarm_rate: float) -> float:
    """c = -(z(H) + z(F)) / 2 of two rates as they stand."""
    return -(_NORMAL.inv_cdf(hit_rate) + _NORMAL.inv_cdf(false_alarm_rate)) / 2.0


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


def _check_counts(right: int, total: int) -> None:
    if total < 1 or not 0 <= right <= total:
        raise ValueError(f"{right} of {total} is no share")


def _corrected_rates(
    hits: int, signals: int, false_alarms: int, noises: int
) -> tuple[float, float]:
    _check_counts(hits, signals)
    _check_counts(false_alarms, noises)
    return (hits + 0.5) / (signals + 1.0), (false_alarms + 0.5) / (noises + 1.0)
