"""The sequential test against Wald's formulas, simulation, and the binomial table.

Formulas: A. Wald, "Sequential Analysis" (Wiley, 1947), chapter 3: bounds, operating characteristic
and average sample number of the test of a binomial share, overshoot neglected.
"""

from __future__ import annotations

import math
import random

import pytest
import scipy.stats

from trainer.sequential_test import (
    RULE,
    Outcome,
    Rule,
    e_value,
    operating,
    outcome,
    wald_rule,
)
from trainer.statistics import binomial_tail

RUNS = 10_000


def play(share: float, rule: Rule, draws: random.Random) -> tuple[Outcome, int]:
    """One test of somebody who is right in this share of trials."""
    right = total = 0
    stands = Outcome.GOING_ON
    while stands is Outcome.GOING_ON:
        total += 1
        right += draws.random() < share
        stands = outcome(right, total, rule)
    return stands, total


# Wald's test ----------------------------------------------------------------------------------

WALD = [(0.75, 0.05, 0.20), (0.75, 0.05, 0.10), (0.80, 0.05, 0.10), (0.65, 0.05, 0.10)]


def wald_length(share: float, p1: float, alpha: float, beta: float) -> float:
    """Wald (1947), equation 3:57: average sample number at p0 = 0.5 or at p1."""
    upper, lower = math.log((1.0 - beta) / alpha), math.log(beta / (1.0 - alpha))
    heard = alpha if share == 0.5 else 1.0 - beta
    step = share * math.log(p1 / 0.5) + (1.0 - share) * math.log((1.0 - p1) / 0.5)
    return (heard * upper + (1.0 - heard) * lower) / step


@pytest.mark.parametrize(("p1", "alpha", "beta"), WALD)
def test_wald_error_rates_hold_in_simulation(p1: float, alpha: float, beta: float) -> None:
    rule = wald_rule(p1, alpha, beta, most=2000)
    draws = random.Random(1)
    guessing = [play(0.5, rule, draws) for _ in range(RUNS)]
    hearing = [play(p1, rule, draws) for _ in range(RUNS)]
    false = sum(stands is Outcome.HEARD for stands, _ in guessing) / RUNS
    missed = sum(stands is Outcome.NOT_SHOWN for stands, _ in hearing) / RUNS
    # Wald (3:28, 3:29): at most alpha / (1 - beta) and beta / (1 - alpha); 10,000 runs stray by
    # less than 0.012 (three standard errors).
    assert false <= alpha / (1.0 - beta) + 0.007
    assert missed <= beta / (1.0 - alpha) + 0.012
    # Overshoot makes both smaller, by no more than about half here.
    assert false > 0.4 * alpha
    assert missed > 0.5 * beta


@pytest.mark.parametrize(("p1", "alpha", "beta"), WALD)
@pytest.mark.parametrize("hearing", [False, True])
def test_wald_expected_lengths_hold_in_simulation(
    p1: float, alpha: float, beta: float, hearing: bool
) -> None:
    share = p1 if hearing else 0.5
    rule = wald_rule(p1, alpha, beta, most=2000)
    draws = random.Random(2)
    length = sum(play(share, rule, draws)[1] for _ in range(RUNS)) / RUNS
    expected = wald_length(share, p1, alpha, beta)
    # The formula neglects overshoot, which lengthens a test by at most one step in either bound.
    step = abs(share * math.log(2.0 * p1) + (1.0 - share) * math.log(2.0 * (1.0 - p1)))
    assert 0.97 * expected < length < expected + math.log(2.0 * p1) / step * 1.1


def test_wald_bounds_of_a_published_example() -> None:
    # p1 0.75, alpha 0.05, beta 0.20: ln 16 = 2.773 and ln(0.2/0.95) = -1.558.
    rule = wald_rule(0.75, 0.05, 0.20)
    assert math.log(rule.heard_at) == pytest.approx(2.773, abs=0.0005)
    assert -math.log(rule.not_shown_at) == pytest.approx(-1.558, abs=0.0005)


# The e-value ----------------------------------------------------------------------------------

LEAST_RIGHT = [(6, 6), (7, 7), (8, 8), (9, 10), (11, 12), (14, 16), (16, 20), (23, 30)]


@pytest.mark.parametrize(("right", "total"), LEAST_RIGHT)
def test_least_right_answers_for_heard(right: int, total: int) -> None:
    assert e_value(right, total) >= 20.0
    assert e_value(right - 1, total) < 20.0
    # And it asks for more than the exact binomial test of a fixed number of trials.
    assert binomial_tail(right, total) < 0.05


def test_e_value_is_one_before_the_first_trial_and_fair_at_every_step() -> None:
    assert e_value(0, 0) == 1.0
    for total in range(30):
        for right in range(total + 1):
            mean = (e_value(right + 1, total + 1) + e_value(right, total + 1)) / 2.0
            assert mean == pytest.approx(e_value(right, total), rel=1e-12)


def test_exact_rates_of_the_rule() -> None:
    guessing = operating(0.5)
    assert guessing.heard <= 0.05  # Ville's inequality: at most 1 in 20
    assert guessing.heard > 0.02  # and not far below, or it would be needlessly slow
    assert guessing.not_shown > 0.75
    for share, least, most_trials in ((0.75, 0.6, 22.0), (0.85, 0.9, 14.0), (0.95, 0.985, 8.5)):
        hearing = operating(share)
        assert hearing.not_shown <= 0.10
        assert hearing.heard > least
        assert hearing.trials < most_trials


@pytest.mark.parametrize("share", [0.5, 0.65, 0.75, 0.85, 0.95])
def test_exact_rates_agree_with_simulation(share: float) -> None:
    draws = random.Random(3)
    played = [play(share, RULE, draws) for _ in range(RUNS)]
    exact = operating(share)
    assert exact.heard + exact.not_shown + exact.undecided == pytest.approx(1.0)
    for stands, chance in ((Outcome.HEARD, exact.heard), (Outcome.NOT_SHOWN, exact.not_shown)):
        seen = sum(each is stands for each, _ in played) / RUNS
        assert seen == pytest.approx(chance, abs=4.0 * math.sqrt(0.25 / RUNS))
    assert sum(total for _, total in played) / RUNS == pytest.approx(exact.trials, rel=0.03)


def test_rates_are_those_of_the_binomial_where_no_bound_is_in_reach() -> None:
    # With bounds out of reach every test goes the whole way and the paths must sum as binomial.
    open_ended = Rule(heard_at=1e30, not_shown_at=1e30, most=12)
    assert operating(0.7, open_ended).undecided == pytest.approx(1.0)
    reached = Rule((0.95,), e_value(12, 12, (0.95,)), 0.75, 1e30, 12)
    assert operating(0.7, reached).heard == pytest.approx(scipy.stats.binom.pmf(12, 12, 0.7))


@pytest.mark.parametrize(
    ("right", "total", "p"),
    [(9, 10, 0.0107), (10, 12, 0.0193), (12, 16, 0.0384), (15, 20, 0.0207), (17, 24, 0.0320)],
)
def test_exact_binomial_beside_it(right: int, total: int, p: float) -> None:
    assert binomial_tail(right, total) == pytest.approx(p, abs=0.00005)
    assert binomial_tail(right, total) == pytest.approx(scipy.stats.binom.sf(right - 1, total, 0.5))


def test_it_ends_within_forty_trials_whatever_comes() -> None:
    for right in range(41):
        assert outcome(right, 40) is not Outcome.GOING_ON


@pytest.mark.parametrize(("right", "total"), [(-1, 3), (4, 3)])
def test_counts_that_are_none_are_refused(right: int, total: int) -> None:
    with pytest.raises(ValueError, match="is no count"):
        outcome(right, total)
