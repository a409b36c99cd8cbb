"""The rules of one question: what is allowed when, and what counts as named."""

from __future__ import annotations

import pytest

from exercises.kinds import Kind
from exercises.question import make_question
from exercises.recipe import Recipe
from tests.synthetic_loops import small_band
from trainer.judging import Answer, as_fix, judge
from trainer.round import IllegalMove, Round, Stage

LOOP = small_band()


def recipe_of(kind: Kind, freq_hz: float | None = None) -> Recipe:
    size_db = 0.0 if kind is Kind.NOTHING else 6.0
    q = None if freq_hz is None else 1.4
    return Recipe(1, LOOP.name, LOOP.fingerprint, kind, size_db, freq_hz, q)


def round_of(kind: Kind, freq_hz: float | None = None) -> Round:
    return Round(make_question(recipe_of(kind, freq_hz), LOOP), LOOP)


@pytest.mark.parametrize(
    ("named_hz", "miss_octaves", "credit"),
    [
        (200.0, 0.0, 1.0),
        (250.0, 0.3219, 1.0),  # the next third octave still names it
        (160.0, -0.3219, 1.0),
        (200.0 * 2 ** (2 / 3), 2 / 3, 0.5),  # half way from a third of an octave to one
        (400.0, 1.0, 0.0),
        (1600.0, 3.0, 0.0),
    ],
)
def test_frequency_counts_by_its_miss(named_hz: float, miss_octaves: float, credit: float) -> None:
    verdict = judge(recipe_of(Kind.TOO_MUCH, 200.0), Answer(Kind.TOO_MUCH, named_hz, True))
    assert verdict.kind_right
    assert verdict.miss_octaves == pytest.approx(miss_octaves, abs=1e-3)
    assert verdict.credit == pytest.approx(credit, abs=1e-9)
    assert verdict.named is (credit == 1.0)


def test_the_wrong_kind_earns_nothing_even_at_the_right_place() -> None:
    verdict = judge(recipe_of(Kind.TOO_MUCH, 200.0), Answer(Kind.TOO_LITTLE, 200.0, True))
    assert (verdict.kind_right, verdict.miss_octaves, verdict.named) == (False, None, False)


@pytest.mark.parametrize("kind", [Kind.SQUASHED, Kind.TOO_LOUD, Kind.TOO_QUIET, Kind.NOTHING])
def test_kinds_without_a_place_are_named_by_kind_alone(kind: Kind) -> None:
    assert judge(recipe_of(kind), Answer(kind, None, False)).named


def test_an_answer_has_a_frequency_exactly_where_its_kind_has_one() -> None:
    with pytest.raises(ValueError, match="too much"):
        Answer(Kind.TOO_MUCH, None, True)
    with pytest.raises(ValueError, match="nothing"):
        Answer(Kind.NOTHING, 200.0, True)


def test_a_draft_without_kind_or_place_is_not_an_answer_and_changes_nothing() -> None:
    round_ = round_of(Kind.TOO_MUCH, 200.0)
    with pytest.raises(IllegalMove, match="what it is"):
        round_.answer(sure=True)
    round_.mark_kind(Kind.TOO_LITTLE)
    with pytest.raises(IllegalMove, match="where it is"):
        round_.answer(sure=True)
    assert round_.stage is Stage.LISTENING
    round_.mark_kind(Kind.NOTHING)
    assert round_.answer(sure=True) == Answer(Kind.NOTHING, None, True)


def test_changing_the_kind_keeps_the_mark() -> None:
    round_ = round_of(Kind.TOO_MUCH, 200.0)
    round_.mark_freq(210.0)
    round_.mark_kind(Kind.NOTHING)
    round_.mark_kind(Kind.TOO_MUCH)
    assert round_.answer(sure=False) == Answer(Kind.TOO_MUCH, 210.0, False)


@pytest.mark.parametrize("marked_hz", [1.0, 19.0, 20001.0, 1e9])
def test_a_mark_stays_within_hearing(marked_hz: float) -> None:
    round_ = round_of(Kind.TOO_MUCH, 200.0)
    round_.mark_freq(marked_hz)
    assert round_.freq_hz in (20.0, 20_000.0)


def test_stages_follow_in_one_order_and_an_illegal_move_changes_nothing() -> None:
    round_ = round_of(Kind.SQUASHED)
    for illegal in (round_.open_review, round_.close):
        with pytest.raises(IllegalMove, match="listening"):
            illegal()
    round_.mark_kind(Kind.SQUASHED)
    round_.answer(sure=True)
    for illegal in (lambda: round_.answer(sure=True), lambda: round_.mark_kind(Kind.NOTHING)):
        with pytest.raises(IllegalMove, match="answered"):
            illegal()
    round_.open_review()
    with pytest.raises(IllegalMove, match="review"):
        round_.mark_freq(200.0)
    round_.close()
    with pytest.raises(IllegalMove, match="over"):
        round_.close()


@pytest.mark.parametrize("kind", list(Kind))
def test_the_right_answer_undone_leaves_nothing(kind: Kind) -> None:
    freq_hz = 200.0 if kind in (Kind.TOO_MUCH, Kind.TOO_LITTLE) else None
    round_ = round_of(kind, freq_hz)
    round_.mark_kind(kind)
    if freq_hz is not None:
        round_.mark_freq(freq_hz)
    round_.answer(sure=True)
    review = round_.open_review()
    assert review.verdict.named
    assert review.left.most_db < 0.02
    assert (review.done.most_db > 2.0) is (kind is not Kind.NOTHING)


def test_a_wrong_answer_undone_makes_it_worse() -> None:
    round_ = round_of(Kind.TOO_MUCH, 200.0)
    round_.mark_kind(Kind.TOO_LITTLE)
    round_.mark_freq(200.0)
    round_.answer(sure=True)
    review = round_.open_review()
    assert review.left.most_db > review.done.most_db + 3.0


def test_as_fix_takes_the_true_size_and_the_named_place() -> None:
    fix = as_fix(recipe_of(Kind.TOO_MUCH, 200.0), Answer(Kind.TOO_MUCH, 214.0, True))
    assert (fix.kind, fix.size_db, fix.freq_hz, fix.q) == (Kind.TOO_MUCH, 6.0, 214.0, 1.4)


def test_mending_what_was_whole_leaves_the_harm_to_be_heard() -> None:
    round_ = round_of(Kind.NOTHING)
    round_.mark_kind(Kind.TOO_MUCH)
    round_.mark_freq(300.0)
    round_.answer(sure=True)
    review = round_.open_review()
    assert review.done.most_db == 0.0
    assert review.left.most_db > 3.0
