"""A blind test that may stop at any trial: is this heard, or is it guessing?

*Heard* is declared by an e-value: the mean, over what the share right might be if it is heard, of
the likelihood against guessing (A. Ramdas, P. Gruenwald, V. Vovk, G. Shafer, arXiv 2210.01948). By
Ville's inequality guessing alone ever brings it to 20 in at most 1 case of 20, whenever one stops.
*Not shown* is declared the same way the other way round: when guessing is ten times likelier than
a share right of 75 %, which somebody who does hear it so often ever suffers in at most 1 case of
10. With one share on both sides and Wald's bounds it is his sequential probability ratio test
(A. Wald, "Sequential Analysis", 1947). *Undecided* is what is neither after the most trials.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Final


class Outcome(Enum):
    """How a test stands; the value is the word for it."""

    GOING_ON = "going on"
    HEARD = "heard"
    NOT_SHOWN = "not shown"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Rule:
    """When to stop.

    ``shares``: shares right that hearing it might mean; *heard* when the mean of their likelihoods
    is ``heard_at`` times that of guessing. *Not shown* when guessing is ``not_shown_at`` times
    likelier than a share right of ``worth_share``. *Undecided* after ``most`` trials.
    """

    shares: tuple[float, ...] = (0.65, 0.75, 0.85, 0.95)
    heard_at: float = 20.0
    worth_share: float = 0.75
    not_shown_at: float = 10.0
    most: int = 40


RULE: Final = Rule()


def wald_rule(share: float, alpha: float, beta: float, most: int = 40) -> Rule:
    """Wald's test of ``share`` against guessing: bounds (1 - beta)/alpha and beta/(1 - alpha)."""
    return Rule((share,), (1.0 - beta) / alpha, share, (1.0 - alpha) / beta, most)


def e_value(right: int, total: int, shares: tuple[float, ...] = RULE.shares) -> float:
    """Mean likelihood of ``shares`` against guessing, of ``right`` out of ``total`` trials."""
    wrong = total - right
    ratios = ((2.0 * share) ** right * (2.0 * (1.0 - share)) ** wrong for share in shares)
    return math.fsum(ratios) / len(shares)


def outcome(right: int, total: int, rule: Rule = RULE) -> Outcome:
    """How a test stands that was not decided before; raises ValueError for counts that are none."""
    if not 0 <= right <= total:
        raise ValueError(f"{right} of {total} is no count")
    # A hair under the bound, so that a ratio that equals it exactly passes.
    if total and e_value(right, total, rule.shares) >= rule.heard_at * (1.0 - 1e-12):
        return Outcome.HEARD
    guessing = 1.0 / e_value(right, total, (rule.worth_share,))
    if total and guessing >= rule.not_shown_at * (1.0 - 1e-12):
        return Outcome.NOT_SHOWN
    return Outcome.UNDECIDED if total >= rule.most else Outcome.GOING_ON


@dataclass(frozen=True, slots=True)
class Operating:
    """What becomes of somebody with a given share right: chances of each outcome, and trials."""

    heard: float
    not_shown: float
    undecided: float
    trials: float


def operating(share: float, rule: Rule = RULE) -> Operating:
    """The exact chances, by going through every path of trials."""
    ends = dict.fromkeys(Outcome, 0.0)
    going = {0: 1.0}
    trials = 0.0
    for total in range(1, rule.most + 1):
        trials += math.fsum(going.values())
        reached: dict[int, float] = {}
        for right, chance in going.items():
            for gained, likely in ((1, share), (0, 1.0 - share)):
                reached[right + gained] = reached.get(right + gained, 0.0) + chance * likely
        going = {}
        for right, chance in reached.items():
            stands = outcome(right, total, rule)
            if stands is Outcome.GOING_ON:
                going[right] = chance
            else:
                ends[stands] += chance
    return Operating(ends[Outcome.HEARD], ends[Outcome.NOT_SHOWN], ends[Outcome.UNDECIDED], trials)
