"""A past answer is made again as it was: the same samples, the same answer, the same verdict."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from exercises.demo_loops import demo_loop
from exercises.errors import BadLoop, NamefirstError
from exercises.kinds import Kind
from exercises.loops import WHOLE_MIX, Loop
from exercises.problems import Problem
from exercises.question import make_question
from exercises.recipe import Recipe
from trainer.asked_again import reviewed_again
from trainer.judging import Answer, Named, judge
from trainer.loop_shelf import LoopShelf
from trainer.record import KeptAnswer, Listening, Record
from trainer.round import Stage

AT = datetime(2026, 3, 5, 19, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def loop() -> Loop:
    return demo_loop("ferry-crossing")


def _kept(folder: Path, recipe: Recipe, answer: Answer) -> KeptAnswer:
    """The answer as it comes back from disk."""
    record = Record(folder, "ada", "1")
    record.keep(record.start_drill(AT.date(), {}), AT, recipe, answer, Listening(9, 2, 4, 5))
    return next(record.answers())


CASES = {
    "tone": ({"kind": Kind.TOO_MUCH}, Answer(Kind.TOO_MUCH, 214.3, True)),
    "another kind": ({"kind": Kind.TOO_MUCH}, Answer(Kind.SQUASHED, None, False)),
    "unheard": ({"kind": Kind.TOO_MUCH}, Answer(Kind.NOTHING, None, False)),
    "nothing": (
        {"kind": Kind.NOTHING, "size_db": 0.0, "freq_hz": None, "q": None},
        Answer(Kind.TOO_MUCH, 400.0, True),
    ),
    "track and passage": (
        {"kind": Kind.TOO_MUCH, "ask_track": True, "ask_passage": True},
        Answer(Kind.TOO_MUCH, 186.0, True, WHOLE_MIX, "open chords"),
    ),
    "two problems": (
        {"kind": Kind.TOO_MUCH, "second": Problem(Kind.TOO_LITTLE, 6.0, 3000.0, 1.4)},
        Answer(Kind.TOO_LITTLE, 3100.0, True, second=Named(Kind.TOO_MUCH, 180.0)),
    ),
}


@pytest.mark.parametrize(("fields", "answer"), CASES.values(), ids=CASES)
def test_it_is_the_same_question_answer_and_verdict(
    tmp_path: Path, loop: Loop, fields: dict[str, object], answer: Answer
) -> None:
    plain = {"size_db": 6.0, "freq_hz": 186.0, "q": 1.4} | fields
    recipe = Recipe(7, loop.name, loop.fingerprint, **plain)  # type: ignore[arg-type]
    kept = _kept(tmp_path, recipe, answer)
    assert (kept.recipe, kept.answer) == (recipe, answer)
    round_ = reviewed_again(kept, LoopShelf(tmp_path / "loops"))
    question = make_question(recipe, loop)
    assert np.array_equal(round_.question.a, question.a)
    assert np.array_equal(round_.question.b, question.b)
    assert round_.stage is Stage.REVIEW
    assert round_.review is not None
    assert round_.review.answer == answer
    assert round_.review.verdict == judge(recipe, answer)


def test_a_loop_that_is_gone_is_named(tmp_path: Path, loop: Loop) -> None:
    recipe = Recipe(7, "quay", "0" * 64, Kind.TOO_LOUD, 3.0)
    kept = _kept(tmp_path, recipe, Answer(Kind.TOO_LOUD, None, True))
    with pytest.raises(BadLoop, match="loop 'quay' is not at hand"):
        reviewed_again(kept, LoopShelf(tmp_path / "loops"))


def test_an_answer_that_does_not_fit_is_told_in_one_line(tmp_path: Path, loop: Loop) -> None:
    recipe = Recipe(7, loop.name, loop.fingerprint, Kind.TOO_LOUD, 3.0, ask_track=True)
    kept = _kept(tmp_path, recipe, Answer(Kind.TOO_LOUD, None, True, "kazoo"))
    with pytest.raises(NamefirstError, match=r"does not fit its question .*'kazoo'"):
        reviewed_again(kept, LoopShelf(tmp_path / "loops"))
