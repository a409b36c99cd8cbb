"""Item statistics and changes of shares against scipy, published examples and hand counts."""

from __future__ import annotations

import math
import random

import pytest
from scipy import stats

from trainer.class_report.item_analysis import (
    Discrimination,
    Sums,
    group_size,
    point_biserial,
    verdict_of,
)
from trainer.class_report.student_figures import newcombe_change
from trainer.statistics import share_of


def sums_of(right: list[int], rest: list[int]) -> Sums:
    return Sums(
        len(right),
        sum(right),
        sum(rest),
        sum(each * each for each in rest),
        sum(r * each for r, each in zip(right, rest, strict=True)),
    )


@pytest.mark.parametrize("count", [2, 3, 10, 200])
@pytest.mark.parametrize("seed", range(5))
def test_point_biserial_is_scipys(seed: int, count: int) -> None:
    draws = random.Random(seed)
    right = [0, 1, *(int(draws.random() < 0.6) for _ in range(count - 2))]
    rest = [draws.randrange(40) for _ in range(count)]
    if len(set(rest)) == 1:
        rest[0] += 1
    expected = stats.pointbiserialr(right, rest).statistic
    assert point_biserial(sums_of(right, rest)) == pytest.approx(expected, abs=1e-9)


def test_point_biserial_by_hand() -> None:
    """(M1 - M0) / s * sqrt(p q), s of the population: M1 = 8, M0 = 5, s = sqrt(2.8), p = 3/5,
    worked by hand for scores 7, 8, 9 (right) and 4, 6 (wrong)."""
    expected = (8.0 - 5.0) / math.sqrt(2.96) * math.sqrt(0.6 * 0.4)
    assert point_biserial(sums_of([1, 1, 1, 0, 0], [7, 8, 9, 4, 6])) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("right", "rest"), [([1, 1, 1], [1, 2, 3]), ([0, 0], [1, 2]), ([0, 1, 0], [5, 5, 5])]
)
def test_no_correlation_where_nothing_differs(right: list[int], rest: list[int]) -> None:
    assert point_biserial(sums_of(right, rest)) is None


@pytest.mark.parametrize(("count", "size"), [(1, 1), (3, 1), (10, 3), (100, 27), (370, 100)])
def test_upper_and_lower_27_percent(count: int, size: int) -> None:
    """370 papers give groups of 100: the example usual in textbooks (Kelley 1939; from memory)."""
    assert group_size(count) == size


NEWCOMBE = [
    (56, 70, 48, 80, 0.0524, 0.3339),
    (9, 10, 3, 10, 0.1705, 0.8090),
    (6, 7, 2, 7, 0.0582, 0.8062),
    (5, 56, 0, 29, -0.0381, 0.1926),
    (0, 10, 0, 20, -0.1611, 0.2775),
    (0, 10, 0, 10, -0.2775, 0.2775),
    (10, 10, 0, 20, 0.6791, 1.0000),
    (10, 10, 0, 10, 0.6075, 1.0000),
]
"""R. G. Newcombe, Statistics in Medicine 17 (1998) 873-890, table II, method 10, cases (a) to (h);
from memory, to the four digits printed there."""


@pytest.mark.parametrize(("right", "total", "right_2", "total_2", "low", "high"), NEWCOMBE)
def test_the_interval_of_a_change(
    right: int, total: int, right_2: int, total_2: int, low: float, high: float
) -> None:
    change = newcombe_change(share_of(right, total), share_of(right_2, total_2))
    assert change is not None
    assert change[0] == pytest.approx(right / total - right_2 / total_2)
    assert change[1:] == (pytest.approx(low, abs=6e-5), pytest.approx(high, abs=6e-5))


def test_no_change_from_nothing() -> None:
    assert newcombe_change(share_of(1, 2), share_of(0, 0)) is None


@pytest.mark.parametrize(
    ("share", "told", "word"),
    [
        (0.97, None, "nearly all"),
        (0.02, None, "hardly anyone"),
        (0.5, Discrimination(-0.3, -0.4), "named more by the weak"),
        (0.5, Discrimination(0.1, 0.1), "tells little"),
        (0.5, Discrimination(0.5, 0.6), ""),
        (0.5, None, ""),
    ],
)
def test_a_word_about_a_question(share: float, told: Discrimination | None, word: str) -> None:
    said = verdict_of(share, told)
    assert said.startswith(word)
    assert bool(said) is bool(word)
