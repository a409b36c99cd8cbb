"""What can be called by two names makes one sound, and what cannot does not."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from exercises.kinds import Kind, Shape
from exercises.loops import Passage
from exercises.other_names import other_names
from exercises.problems import Problem
from exercises.question import Place, make_question, undo_answers
from exercises.recipe import Recipe
from exercises.spectrum import difference
from tests.synthetic_loops import frames_of, small_band

TWO = (Passage("first", 0, 40_000), Passage("second", 40_000, frames_of(2.0)))
THREE = (TWO[0], Passage("second", 40_000, 70_000), Passage("third", 70_000, frames_of(2.0)))
LOOP = dataclasses.replace(small_band(2.0), passages=TWO)
SHELF = Problem(Kind.TOO_MUCH, 9.0, 400.0, shape=Shape.LOW_SHELF)
LOUD = Problem(Kind.TOO_LOUD, 6.0)


def recipe_of(problem, **more):
    return Recipe(
        1,
        LOOP.name,
        LOOP.fingerprint,
        problem.kind,
        problem.size_db,
        problem.freq_hz,
        problem.q,
        shape=problem.shape,
        **more,
    )


@pytest.mark.parametrize(
    ("problem", "more"),
    [
        (SHELF, {}),
        (SHELF, {"track": "drums"}),
        (dataclasses.replace(SHELF, kind=Kind.TOO_LITTLE, shape=Shape.HIGH_SHELF), {}),
        (LOUD, {"passage": "first"}),
        (LOUD, {"passage": "second", "track": "keys", "alone": True}),
        (Problem(Kind.TOO_QUIET, 6.0), {"passage": "second"}),
    ],
    ids=str,
)
def test_the_other_name_is_the_same_sound_and_is_as_good_a_cure(problem, more):
    recipe = recipe_of(problem, **more)
    question = make_question(recipe, LOOP)
    ((other,),) = other_names(recipe, LOOP.passages)
    assert other.problem.kind is not problem.kind
    again = make_question(recipe_of(other.problem, **(more | {"passage": other.passage})), LOOP)
    np.testing.assert_allclose(again.b, question.b, atol=1e-6)
    fixed = undo_answers(question, LOOP, [other.problem], Place(recipe.track, other.passage))
    np.testing.assert_allclose(fixed, question.a, atol=2e-6)


@pytest.mark.parametrize(
    ("problem", "more", "passages"),
    [
        (Problem(Kind.TOO_MUCH, 9.0, 400.0, 1.4), {}, TWO),
        (SHELF, {"passage": "first"}, TWO),
        (LOUD, {}, TWO),
        (LOUD, {"passage": "first"}, THREE),
        (LOUD, {"passage": "first", "track": "keys"}, TWO),
        (Problem(Kind.SQUASHED, 6.0), {"passage": "first"}, TWO),
        (Problem(Kind.NOTHING, 0.0), {}, TWO),
    ],
    ids=str,
)
def test_all_else_has_one_name(problem, more, passages):
    assert other_names(recipe_of(problem, **more), passages) == ((),)


def test_a_track_ridden_in_the_mix_is_not_the_same_as_its_other_passage_ridden_back():
    loud = make_question(recipe_of(LOUD, passage="first", track="keys"), LOOP)
    quiet = make_question(
        recipe_of(Problem(Kind.TOO_QUIET, 6.0), passage="second", track="keys"), LOOP
    )
    assert difference(quiet.b, loud.b).most_db > 0.5


def test_of_two_problems_each_has_its_own_names():
    recipe = recipe_of(SHELF, second=Problem(Kind.SQUASHED, 6.0))
    names = other_names(recipe, TWO)
    assert [len(each) for each in names] == [1, 0]
