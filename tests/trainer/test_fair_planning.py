"""Nothing that is drawn before the answer gives a planned question's kind away.

A reader is shown all that the pages and the terminal show before an answer: the loop's title and
length, what is said to be heard, what must be named, what of A is given, whether it is two. It
learns from two thousand planned questions and is then tried on two thousand others: for every kind
it says so wherever that kind was commoner than usual, and must be right no more often than the
kind's share (exact binomial, 1 in 1,000, over some twenty tests).
"""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Sequence
from functools import lru_cache

import pytest

from exercises.bands import band_of
from exercises.kinds import TONE, Kind
from exercises.problems import Problem
from exercises.question import Place
from exercises.recipe import Recipe
from tests.simulated_climber import LOOPS, recipe_of_ask
from trainer.ability import Ability
from trainer.limits import Limits
from trainer.planner import Ask, Parts, plan_next
from trainer.statistics import binomial_tail
from trainer.wanted import Asked
from trainer.words import heard_part

QUESTIONS = 2000
A_DRILL = 50
Seen = tuple[object, ...]


class Uneven:
    """Loops that differ in what they carry, as the demo loops do: of tone half of the bands, on
    each track and in each passage others, sizes from 1 to 12 dB; dynamics and level everywhere,
    at sizes that differ."""

    def parts(self, loop: str) -> Parts:
        return Parts(("drums", "bass", "guitar"), ("damped strokes", "open chords"))

    def smallest_db(
        self, loop: str, place: Place, problems: Sequence[Problem], given: Sequence[Problem] = ()
    ) -> list[float | None]:
        return [_smallest_db(loop, place, problem) for problem in problems]


def _smallest_db(loop: str, place: Place, problem: Problem) -> float | None:
    if problem.kind in TONE:
        assert problem.freq_hz is not None
        what = f"{problem.kind} {band_of(problem.freq_hz).name}"
        if loop == "quay" and band_of(problem.freq_hz).index < 4:
            return None
    else:
        what = problem.kind.value
    draws = random.Random(f"{loop} {place.track} {place.passage} {what}")
    if problem.kind not in TONE:
        return 0.5 + 5.0 * draws.random()
    return None if draws.random() < 0.5 else 1.0 + 11.0 * draws.random()


@lru_cache(maxsize=16)
def _planned(step: int, half: int) -> tuple[tuple[Seen, Recipe], ...]:
    ability, fairness, limits = Ability.fresh().on_day(1), Uneven(), Limits()
    shown = []
    asked: list[Asked] = []
    for number in range(QUESTIONS):
        if number % A_DRILL == 0:
            asked = []
        seed = 1 + number // A_DRILL + 1000 * half
        ask = plan_next(ability, asked, limits, LOOPS, fairness, seed, step)
        asked.append(ask.asked)
        if len(asked) > 2:  # the two easy ones always hide something
            shown.append((_seen(ask), recipe_of_ask(ask)))
    return tuple(shown)


def _seen(ask: Ask) -> Seen:
    recipe = recipe_of_ask(ask)
    return (
        recipe.loop,
        heard_part(recipe),
        recipe.alone,
        recipe.ask_track,
        recipe.ask_passage,
        recipe.help,
        recipe.second is not None,
    )


@pytest.mark.parametrize("kind", list(Kind), ids=str)
@pytest.mark.parametrize("step", [2, 4, 7])
def test_what_is_seen_before_the_answer_tells_no_kind(step: int, kind: Kind) -> None:
    """A question that says it is two is held against others that say so. Steps 1, 3 and 6 are the
    ones below these, and asked with them."""
    usual, by_seen = _shares(_planned(step, 0), kind)
    said = right = 0
    expected = 0.0
    base, _ = _shares(_planned(step, 1), kind)
    for seen, recipe in _planned(step, 1):
        if by_seen[seen] > usual[seen[3:]]:
            said += 1
            right += recipe.kind is kind
            expected += base[seen[3:]]
    if said and 0.0 < expected < said:
        assert binomial_tail(right, said, expected / said) > 0.001


def _shares(
    shown: Sequence[tuple[Seen, Recipe]], kind: Kind
) -> tuple[dict[Seen, float], dict[Seen, float]]:
    """The kind's share by what a question asks, and by all that is seen of it."""
    shares = []
    for start in (3, 0):
        total: Counter[Seen] = Counter()
        count: Counter[Seen] = Counter()
        for seen, recipe in shown:
            total[seen[start:]] += 1
            count[seen[start:]] += recipe.kind is kind
        shares.append(defaultdict(float, {key: count[key] / n for key, n in total.items()}))
    return shares[0], shares[1]


def test_nothing_is_as_common_on_every_step_and_help() -> None:
    """One in eight whatever is asked, but where two are: so that what is asked tells nothing.

    Exact binomial, 1 in 1,000, both ways.
    """
    for step in (2, 4, 7):
        by_asking: dict[Seen, list[bool]] = defaultdict(list)
        for seen, recipe in _planned(step, 0):
            by_asking[seen[3:]].append(recipe.kind is Kind.NOTHING)
        assert len(by_asking) == 2
        for asking, nothing in by_asking.items():
            if asking[-1]:
                assert not any(nothing)
                continue
            assert binomial_tail(sum(nothing), len(nothing), 1 / 8) > 0.001
            assert binomial_tail(len(nothing) - sum(nothing), len(nothing), 7 / 8) > 0.001


def test_the_reader_would_find_what_does_give_it_away() -> None:
    """The same reader, shown the track that the problem sits on, names "nothing" at once."""
    shown = [((*seen, recipe.track is None), recipe) for seen, recipe in _planned(2, 0)]
    total, nothing = Counter(seen for seen, _ in shown), Counter()
    for seen, recipe in shown:
        nothing[seen] += recipe.kind is Kind.NOTHING
    best = max(total, key=lambda seen: nothing[seen] / total[seen] * (total[seen] > 50))
    assert binomial_tail(nothing[best], total[best], 1 / 8) < 1e-6
