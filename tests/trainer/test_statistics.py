"""Intervals, sensitivity and exact tests against published tables and scipy."""

from __future__ import annotations

import pytest
from scipy import stats

from trainer.statistics import (
    binomial_tail,
    criterion,
    criterion_of_rates,
    d_prime,
    d_prime_of_rates,
    share_of,
    wilson_interval,
)


@pytest.mark.parametrize(
    ("right", "total", "low", "high"),
    [
        # R. G. Newcombe, Statistics in Medicine 17 (1998), table I, score method (from memory;
        # the same as scipy's below).
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        # scipy.stats.binomtest(8, 10).proportion_ci(method="wilson")
        (8, 10, 0.4902, 0.9433),
    ],
)
def test_wilson_interval_of_published_table(
    right: int, total: int, low: float, high: float
) -> None:
    assert wilson_interval(right, total) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.95, 0.99])
@pytest.mark.parametrize(("right", "total"), [(0, 1), (1, 1), (3, 7), (60, 60), (499, 1000)])
def test_wilson_interval_is_scipys(right: int, total: int, confidence: float) -> None:
    theirs = stats.binomtest(right, total).proportion_ci(confidence, method="wilson")
    assert wilson_interval(right, total, confidence) == pytest.approx(
        (theirs.low, theirs.high), abs=1e-9
    )


@pytest.mark.parametrize(("right", "total"), [(-1, 3), (4, 3), (0, 0)])
def test_wilson_refuses_what_is_no_share(right: int, total: int) -> None:
    with pytest.raises(ValueError, match="is no share"):
        wilson_interval(right, total)


def test_wilson_refuses_a_certain_interval() -> None:
    with pytest.raises(ValueError, match="confidence must lie between 0 and 1"):
        wilson_interval(1, 2, 1.0)


def test_share_of_nothing_has_no_figure() -> None:
    assert share_of(0, 0).share is None
    assert share_of(0, 0).low is None
    assert share_of(3, 4).share == 0.75


@pytest.mark.parametrize(
    ("hit_rate", "false_alarm_rate", "d", "c"),
    [
        # Macmillan & Creelman, Detection Theory, 2005: d' = z(H) - z(F), c = -(z(H) + z(F)) / 2;
        # figures by scipy.stats.norm.
        (0.80, 0.20, 1.683, 0.0),
        (0.95, 0.40, 1.898, -0.696),
        (0.50, 0.50, 0.0, 0.0),
        (0.20, 0.80, -1.683, 0.0),
    ],
)
def test_d_prime_and_criterion_of_rates(
    hit_rate: float, false_alarm_rate: float, d: float, c: float
) -> None:
    assert d_prime_of_rates(hit_rate, false_alarm_rate) == pytest.approx(d, abs=6e-4)
    assert criterion_of_rates(hit_rate, false_alarm_rate) == pytest.approx(c, abs=6e-4)


def test_log_linear_correction_keeps_perfect_answers_finite() -> None:
    """Hautus 1995: (20 + 0.5) / 21 hits and (0 + 0.5) / 11 false alarms; scipy.stats.norm."""
    assert d_prime(20, 20, 0, 10) == pytest.approx(3.671, abs=6e-4)
    expected = -(stats.norm.ppf(20.5 / 21) + stats.norm.ppf(0.5 / 11)) / 2
    assert criterion(20, 20, 0, 10) == pytest.approx(expected, abs=1e-12)


def test_d_prime_needs_both_sorts_of_question() -> None:
    with pytest.raises(ValueError, match="0 of 0 is no share"):
        d_prime(3, 4, 0, 0)


@pytest.mark.parametrize(
    ("right", "total", "tail"),
    # One-sided exact binomial tables; scipy.stats.binom.sf.
    [(9, 10, 0.0107), (10, 12, 0.0193), (12, 16, 0.0384), (15, 20, 0.0207), (17, 24, 0.0320)],
)
def test_binomial_tail_of_blind_pairs(right: int, total: int, tail: float) -> None:
    assert binomial_tail(right, total) == pytest.approx(tail, abs=6e-5)


@pytest.mark.parametrize(
    ("right", "total", "chance"),
    [(0, 5, 0.5), (200, 1000, 0.17), (31, 60, 0.4), (2600, 20_000, 0.125)],
)
def test_binomial_tail_is_scipys(right: int, total: int, chance: float) -> None:
    assert binomial_tail(right, total, chance) == pytest.approx(
        stats.binom.sf(right - 1, total, chance), rel=1e-9
    )


def test_binomial_tail_refuses_a_certain_guess() -> None:
    with pytest.raises(ValueError, match="chance must lie between 0 and 1"):
        binomial_tail(1, 2, 1.0)
