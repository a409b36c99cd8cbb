"""Choices of fixes taken by listeners of one habit each: only an ear finds the simplest.

Each round is offered in many orders, as many rounds would be: where a fix stands is drawn anew for
every round, and rendering them is what takes time.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pytest

from exercises.candidate_moves import Role
from exercises.demo_loops import demo_loop
from exercises.fix_candidates import Candidate, fix_candidates
from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.question import Question, make_question
from exercises.recipe import Recipe
from exercises.samples import Samples
from tests.simulated_picker import (
    Picker,
    always,
    by_chance,
    by_ear,
    fewest_moves_by_number,
    longest,
    loudest,
    most_moves,
    softest,
)
from trainer.choice_round import ChoiceRound

# One problem of each sort that a drill makes rounds of.
PROBLEMS: Sequence[tuple[Kind, float, float | None, float | None, dict[str, str]]] = (
    (Kind.TOO_MUCH, 6.0, 500.0, 0.8, {"track": "guitar"}),
    (Kind.TOO_LITTLE, 7.0, 400.0, 1.0, {"passage": "open chords"}),
    (Kind.TOO_LOUD, 5.0, None, None, {"track": "guitar", "passage": "damped strokes"}),
    (Kind.TOO_LOUD, 5.0, None, None, {"track": "keys"}),
    (Kind.LIFTED, 6.0, None, None, {"track": "drums"}),
)
ROUNDS = len(PROBLEMS)
ORDERS = 60
CHANCE = 0.25


@dataclass(frozen=True)
class Made:
    """A round, and every sound of it by the candidate it is of."""

    question: Question
    loop: Loop
    candidates: Sequence[Candidate]
    played: dict[str, Samples]

    def in_order(self, seed: int) -> tuple[ChoiceRound, dict[str, Samples]]:
        """The round as ``seed`` offers it, and what is played under each name."""
        round_ = ChoiceRound(self.question, self.loop, self.candidates, seed)
        sounds = {"A": self.played["A"], "B": self.played["B"]}
        for number, candidate in enumerate(round_.offered, 1):
            sounds[str(number)] = self.played[candidate.role]
        return round_, sounds


@pytest.fixture(scope="module")
def made() -> list[Made]:
    loop = demo_loop("ferry-crossing")
    rounds = []
    for kind, size_db, freq_hz, q, place in PROBLEMS:
        recipe = Recipe(1, loop.name, loop.fingerprint, kind, size_db, freq_hz, q, **place)  # type: ignore[arg-type]
        question = make_question(recipe, loop)
        round_ = ChoiceRound(question, loop, fix_candidates(question, loop), 1)
        sounds = round_.sounds()
        played = {"A": sounds["A"], "B": sounds["B"]}
        played |= {
            candidate.role.value: sounds[str(number)]
            for number, candidate in enumerate(round_.offered, 1)
        }
        by_role = {candidate.role: candidate for candidate in round_.offered}
        rounds.append(Made(question, loop, [by_role[role] for role in Role], played))
    return rounds


def found(made: Sequence[Made], picker: Picker, orders: int = ORDERS) -> int:
    """How often the simplest that works is found."""
    right = 0
    for which, each in enumerate(made):
        for order in range(orders):
            round_, sounds = each.in_order(1000 * which + order)
            round_.hear(picker(round_, sounds))
            right += round_.choose().simplest
    return right


def chance_of(right: int, total: int, share: float) -> float:
    """Two-sided exact binomial: of counts no likelier than this one."""
    each = [
        math.comb(total, count) * share**count * (1.0 - share) ** (total - count)
        for count in range(total + 1)
    ]
    return sum(one for one in each if one <= each[right] * (1.0 + 1e-9))


def test_who_hears_well_finds_the_simplest(made: Sequence[Made]) -> None:
    """What is played is judged anew: nothing is taken from how the round judged it."""
    assert found(made, by_ear, orders=1) >= 0.9 * ROUNDS


HABITS: Sequence[tuple[str, Callable[[], Picker]]] = (
    ("guesses", lambda: by_chance(5)),
    ("always number 1", lambda: always(1)),
    ("always number 2", lambda: always(2)),
    ("always number 3", lambda: always(3)),
    ("always number 4", lambda: always(4)),
    ("the loudest", lambda: loudest),
    ("the softest", lambda: softest),
    ("the longest", lambda: longest),
)


@pytest.mark.parametrize(("_name", "habit"), HABITS, ids=[name for name, _ in HABITS])
def test_nothing_but_the_ear_tells(
    made: Sequence[Made], _name: str, habit: Callable[[], Picker]
) -> None:
    """At chance, one in four, by an exact binomial test at 0.1 %: one false alarm in 125 runs."""
    right, total = found(made, habit()), ROUNDS * ORDERS
    assert chance_of(right, total, CHANCE) > 0.001, f"{right} of {total}"


def test_the_most_moves_are_never_the_simplest(made: Sequence[Made]) -> None:
    assert found(made, most_moves) == 0


def test_the_counts_alone_leave_two_to_choose_from(made: Sequence[Made]) -> None:
    """Of the two of one move, one works and one is clever: the counts, which are shown since they
    are what is to be kept small, are right half of the time and no more."""
    right, total = found(made, fewest_moves_by_number), ROUNDS * ORDERS
    assert chance_of(right, total, 0.5) > 0.001, f"{right} of {total}"


def test_the_exact_binomial_is_that_of_the_handbook() -> None:
    """n 10, p 1/4: P(0) = 0.0563, P(5 or more) = 0.0781; "no likelier than 5" adds 0 to it
    (NIST/SEMATECH e-Handbook, 1.3.6.6.18, worked by hand)."""
    assert chance_of(5, 10, 0.25) == pytest.approx(0.0781 + 0.0563, abs=2e-4)
    assert chance_of(2, 10, 0.25) == pytest.approx(1.0)
