"""The rules of one question: what is allowed when, and what counts as named."""

from __future__ import annotations

from dataclasses import replace

import pytest

from exercises.kinds import Help, Kind, Shape
from exercises.loops import WHOLE_MIX, Passage
from exercises.problems import Problem
from exercises.question import Place, make_question, undo_answers
from exercises.recipe import Recipe
from exercises.samples import RATE_HZ
from exercises.spectrum import difference
from tests.synthetic_loops import small_band
from trainer.judging import WHOLE_LOOP, Answer, Named, as_fixes, judge
from trainer.round import IllegalMove, Round, Stage

_BAND = small_band()
LOOP = replace(
    _BAND,
    passages=(
        Passage("verse", 0, _BAND.frames // 2),
        Passage("chorus", _BAND.frames // 2, _BAND.frames),
    ),
)


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
        round_.answer(sure=True, heard_b_s=1.0)
    round_.mark_kind(Kind.TOO_LITTLE)
    with pytest.raises(IllegalMove, match="where it is"):
        round_.answer(sure=True, heard_b_s=1.0)
    assert round_.stage is Stage.LISTENING
    round_.mark_kind(Kind.NOTHING)
    assert round_.answer(sure=True, heard_b_s=1.0) == Answer(Kind.NOTHING, None, True)


def test_what_was_not_listened_to_is_not_answered_and_nothing_changes() -> None:
    round_ = round_of(Kind.TOO_MUCH, 200.0)
    round_.mark_kind(Kind.NOTHING)
    for heard_b_s in (0.0, 0.99):
        with pytest.raises(IllegalMove, match="not listened to"):
            round_.answer(sure=True, heard_b_s=heard_b_s)
    assert (round_.stage, round_.given) == (Stage.LISTENING, None)


def test_changing_the_kind_keeps_the_mark() -> None:
    round_ = round_of(Kind.TOO_MUCH, 200.0)
    round_.mark_freq(210.0)
    round_.mark_kind(Kind.NOTHING)
    round_.mark_kind(Kind.TOO_MUCH)
    assert round_.answer(sure=False, heard_b_s=1.0) == Answer(Kind.TOO_MUCH, 210.0, False)


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
    round_.answer(sure=True, heard_b_s=1.0)
    for illegal in (
        lambda: round_.answer(sure=True, heard_b_s=1.0),
        lambda: round_.mark_kind(Kind.NOTHING),
    ):
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
    round_.answer(sure=True, heard_b_s=1.0)
    review = round_.open_review()
    assert review.verdict.named
    assert review.left.most_db < 0.02
    assert (review.done.most_db > 2.0) is (kind is not Kind.NOTHING)


def test_a_wrong_answer_undone_makes_it_worse() -> None:
    round_ = round_of(Kind.TOO_MUCH, 200.0)
    round_.mark_kind(Kind.TOO_LITTLE)
    round_.mark_freq(200.0)
    round_.answer(sure=True, heard_b_s=1.0)
    review = round_.open_review()
    assert review.left.most_db > review.done.most_db + 3.0


@pytest.mark.parametrize("passage", [*LOOP.passages, None], ids=str)
def test_what_is_left_is_measured_where_the_problem_is(passage: Passage | None) -> None:
    name = None if passage is None else passage.name
    recipe = replace(recipe_of(Kind.TOO_LOUD), passage=name, ask_passage=True)
    round_ = Round(make_question(recipe, LOOP), LOOP)
    round_.mark_kind(Kind.NOTHING)
    round_.answer(sure=True, heard_b_s=1.0)
    review = round_.open_review()
    start, stop = (0, LOOP.frames) if passage is None else (passage.start_frame, passage.stop_frame)
    assert review.begins_s == start / RATE_HZ
    slices = (stop - start) / (0.1 * RATE_HZ)
    assert review.left.slice_db.shape == (round(slices),)


def test_as_fix_takes_the_true_size_and_the_named_place() -> None:
    (fix,), _ = as_fixes(recipe_of(Kind.TOO_MUCH, 200.0), Answer(Kind.TOO_MUCH, 214.0, True))
    assert (fix.kind, fix.size_db, fix.freq_hz, fix.q) == (Kind.TOO_MUCH, 6.0, 214.0, 1.4)


def test_mending_what_was_whole_leaves_the_harm_to_be_heard() -> None:
    round_ = round_of(Kind.NOTHING)
    round_.mark_kind(Kind.TOO_MUCH)
    round_.mark_freq(300.0)
    round_.answer(sure=True, heard_b_s=1.0)
    review = round_.open_review()
    assert review.done.most_db == 0.0
    assert review.left.most_db > 3.0


def in_the_mix(kind: Kind = Kind.TOO_MUCH, **more: object) -> Recipe:
    fields = {"track": LOOP.tracks[0].name, "passage": LOOP.passages[0].name} | more
    return replace(
        recipe_of(kind, 200.0 if kind is Kind.TOO_MUCH else None),
        ask_track=True,
        ask_passage=True,
        **fields,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(
    ("track", "passage", "track_right", "passage_right"),
    [
        (LOOP.tracks[0].name, LOOP.passages[0].name, True, True),
        (LOOP.tracks[1].name, LOOP.passages[0].name, False, True),
        (LOOP.tracks[0].name, WHOLE_LOOP, True, False),
        (WHOLE_MIX, WHOLE_LOOP, False, False),
    ],
)
def test_the_right_problem_at_the_wrong_place_is_not_named(
    track: str, passage: str, track_right: bool, passage_right: bool
) -> None:
    answer = Answer(Kind.TOO_MUCH, 200.0, True, track, passage)
    verdict = judge(in_the_mix(), answer)
    assert (verdict.track_right, verdict.passage_right) == (track_right, passage_right)
    assert verdict.named is (track_right and passage_right)
    assert verdict.kind_right


def test_nothing_has_no_place_to_be_wrong_at() -> None:
    recipe = replace(recipe_of(Kind.NOTHING), ask_track=True, ask_passage=True)
    assert judge(recipe, Answer(Kind.NOTHING, None, True)).named


def test_the_fix_goes_where_the_answer_says() -> None:
    _, place = as_fixes(in_the_mix(), Answer(Kind.TOO_MUCH, 200.0, True, WHOLE_MIX, WHOLE_LOOP))
    assert place == Place(None, None)
    other = LOOP.tracks[1].name
    _, place = as_fixes(in_the_mix(), Answer(Kind.TOO_MUCH, 200.0, True, other, WHOLE_LOOP))
    assert place == Place(other, None)


def two_problems() -> Recipe:
    second = Problem(Kind.TOO_LITTLE, 5.0, 3000.0, 1.4)
    return replace(recipe_of(Kind.TOO_MUCH, 200.0), second=second)


@pytest.mark.parametrize("swapped", [False, True])
def test_of_two_problems_either_may_be_named_first(swapped: bool) -> None:
    much, little = Named(Kind.TOO_MUCH, 210.0), Named(Kind.TOO_LITTLE, 3100.0)
    first, second = (little, much) if swapped else (much, little)
    verdict = judge(two_problems(), Answer(first.kind, first.freq_hz, True, second=second))
    assert verdict.named
    assert [part.named for part in verdict.parts] == [much, little]


def test_one_of_two_problems_is_half_an_answer() -> None:
    answer = Answer(Kind.TOO_MUCH, 200.0, True, second=Named(Kind.NOTHING))
    assert judge(two_problems(), answer).credit == 0.5
    assert judge(two_problems(), Answer(Kind.NOTHING, None, True)).credit == 0.0


def test_the_draft_asks_for_what_the_question_asks() -> None:
    round_ = Round(make_question(in_the_mix(), LOOP), LOOP)
    assert round_.tracks == (WHOLE_MIX, *(track.name for track in LOOP.tracks))
    round_.mark_kind(Kind.TOO_MUCH)
    for missing, mark in (
        ("which track", lambda: round_.mark_track(round_.tracks[1])),
        ("which passage", lambda: round_.mark_passage(WHOLE_LOOP)),
        ("where it is", lambda: round_.mark_freq(200.0)),
    ):
        assert round_.missing is not None
        assert missing in round_.missing
        mark()
    assert round_.missing is None
    with pytest.raises(IllegalMove, match="no track 'tuba'"):
        round_.mark_track("tuba")


def test_two_problems_are_named_one_after_the_other() -> None:
    round_ = Round(make_question(two_problems(), LOOP), LOOP)
    round_.mark_kind(Kind.TOO_LITTLE)
    round_.mark_freq(3000.0)
    assert round_.wants_another
    with pytest.raises(IllegalMove, match="other problem"):
        round_.answer(sure=True, heard_b_s=1.0)
    round_.keep_first()
    assert (round_.kind, round_.freq_hz, round_.wants_another) == (None, None, False)
    round_.mark_kind(Kind.TOO_MUCH)
    round_.mark_freq(200.0)
    round_.answer(sure=True, heard_b_s=1.0)
    review = round_.open_review()
    assert review.verdict.named
    assert review.left.most_db < 0.05


@pytest.mark.parametrize(
    ("help_", "heard_a_s", "sounding", "may"),
    [
        (Help.A_AT_HAND, 100.0, False, True),
        (Help.NO_A, 0.0, False, False),
        (Help.A_ONCE, 0.0, False, True),
        (Help.A_ONCE, 1.0, True, True),
        (Help.A_ONCE, 1.0, False, False),  # left off: that was the once
        (Help.A_ONCE, LOOP.seconds, True, False),  # once round
    ],
)
def test_the_help_ladder_says_when_a_may_sound(
    help_: Help, heard_a_s: float, sounding: bool, may: bool
) -> None:
    recipe = replace(recipe_of(Kind.TOO_MUCH, 200.0), help=help_)
    round_ = Round(make_question(recipe, LOOP), LOOP)
    assert round_.a_may_sound(heard_a_s, sounding=sounding) is may
    round_.mark_kind(Kind.NOTHING)
    round_.answer(sure=True, heard_b_s=1.0)
    assert round_.a_may_sound(heard_a_s, sounding=sounding)  # in review A is there for everyone


def test_a_level_in_one_of_two_passages_may_be_told_of_the_other() -> None:
    recipe = replace(
        recipe_of(Kind.TOO_LOUD), passage="verse", other_passage="chorus", ask_passage=True
    )
    assert judge(recipe, Answer(Kind.TOO_LOUD, None, True, passage="verse")).named
    other = Answer(Kind.TOO_QUIET, None, True, passage="chorus")
    assert judge(recipe, other).named
    for kind, passage in ((Kind.TOO_QUIET, "verse"), (Kind.TOO_LOUD, "chorus")):
        assert not judge(recipe, Answer(kind, None, True, passage=passage)).named
    question = make_question(recipe, LOOP)
    fixed = undo_answers(question, LOOP, *as_fixes(recipe, other))
    assert difference(fixed, question.a).most_db < 0.1


def test_too_much_below_may_be_told_as_too_little_above() -> None:
    recipe = replace(recipe_of(Kind.TOO_MUCH, 1000.0), shape=Shape.LOW_SHELF, q=None)
    other = Answer(Kind.TOO_LITTLE, 1000.0, True)
    assert judge(recipe, other).named
    question = make_question(recipe, LOOP)
    fixed = undo_answers(question, LOOP, *as_fixes(recipe, other))
    assert difference(fixed, question.a).most_db < 0.05
    # In one passage the rest of the loop tells them apart.
    assert not judge(replace(recipe, passage="verse"), other).named
