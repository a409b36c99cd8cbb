"""How the questions of a set did: hard or easy, and whether they tell strong from weak.

Difficulty is the share that named it. Discrimination is told in two ways: the point-biserial
correlation of naming it with how many of the *other* questions were named (the question itself
left out, so that it is not held against itself), and the difference of its share between the
upper and the lower 27 % of the class (T. L. Kelley, Journal of Educational Psychology 30, 1939).
Both are in R. L. Ebel and D. A. Frisbie, "Essentials of Educational Measurement", 5th ed., 1991.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

GROUP_SHARE: Final = 0.27
FEWEST: Final = 10
"""Below so many results discrimination is not told: it would be chance."""


@dataclass(frozen=True, slots=True)
class Sums:
    """What is added up of one question, over everyone who answered it: ``right`` is 0 or 1,
    ``rest`` how many of the other questions were named."""

    count: int
    right: int
    rest: float
    rest_squared: float
    right_rest: float


@dataclass(frozen=True, slots=True)
class Discrimination:
    """``correlation`` None: everyone or no one named it. ``difference``: upper less lower share."""

    correlation: float | None
    difference: float


def point_biserial(sums: Sums) -> float | None:
    """Pearson's correlation of being right with the rest; None where one of them never differs."""
    n, right = sums.count, float(sums.right)
    right_spread = n * right - right * right
    rest_spread = n * sums.rest_squared - sums.rest * sums.rest
    if right_spread <= 0.0 or rest_spread <= 1e-9 * max(1.0, n * sums.rest_squared):
        return None
    covariance = n * sums.right_rest - right * sums.rest
    return covariance / math.sqrt(right_spread * rest_spread)


def group_size(count: int) -> int:
    """How many of a class make up its upper, and its lower, 27 %; at least one."""
    return max(1, round(GROUP_SHARE * count))


def verdict_of(share: float, discrimination: Discrimination | None) -> str:
    """A word about a question, where there is something to say (limits are common practice)."""
    if discrimination is not None and discrimination.difference < 0.0 > (
        discrimination.correlation or 0.0
    ):
        return "named more by the weak: look at it"
    if share >= 0.95:
        return "nearly all name it"
    if share <= 0.05:
        return "hardly anyone names it"
    if discrimination is not None and discrimination.difference < 0.2 and 0.2 < share < 0.8:
        return "tells little"
    return ""
