"""The rules of the two fix rounds, on the demo loops that they are played on."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from exercises.candidate_moves import Role
from exercises.demo_loops import demo_loop
from exercises.errors import NamefirstError
from exercises.fix_candidates import Candidate, fix_candidates
from exercises.fixing import fix_question, stems_of
from exercises.kinds import Kind
from exercises.loops import Loop, Passage
from exercises.loudness import loudness_lufs
from exercises.moves import Compressor, EqPoint, Expander, HighShelf, Ride
from exercises.question import Question, make_question
from exercises.recipe import Recipe
from exercises.residual import judge, residual
from trainer.choice_round import ChoiceRound, drawn_order
from trainer.fix_plan import (
    fix_round_is_due,
    make_fix_round,
    sort_due,
)
from trainer.fix_reasons import why_sentence
from trainer.fix_round import FixResult, Sort, Stage
from trainer.fix_words import (
    attempt_sentence,
    choice_sentence,
    fix_words,
    open_sentence,
    order_sentence,
    residual_words,
)
from trainer.limits import MOST_FIXES, Limits
from trainer.loop_shelf import LoopShelf
from trainer.open_round import OpenRound
from trainer.round import LEAST_HEARD_S, IllegalMove

MUD_HZ = 186.0


def _question(**fields: object) -> tuple[Question, Loop]:
    loop = demo_loop("ferry-crossing")
    recipe = Recipe(1, loop.name, loop.fingerprint, **fields)  # type: ignore[arg-type]
    return make_question(recipe, loop), loop


@pytest.fixture(scope="module")
def mud() -> tuple[Question, Loop, tuple[Candidate, ...]]:
    question, loop = _question(kind=Kind.TOO_MUCH, size_db=6.0, freq_hz=MUD_HZ, q=1.0)
    return question, loop, fix_candidates(question, loop)


@pytest.fixture
def choice(mud: tuple[Question, Loop, tuple[Candidate, ...]]) -> ChoiceRound:
    return ChoiceRound(*mud, seed=7)


@pytest.fixture
def made(mud: tuple[Question, Loop, tuple[Candidate, ...]]) -> OpenRound:
    return OpenRound(mud[0], mud[1], seed=7)


def _number(round_: ChoiceRound, role: Role) -> int:
    return [each.role for each in round_.offered].index(role) + 1


# The order that is drawn ----------------------------------------------------------------------


def test_the_order_is_that_of_the_seeds_own_numbers() -> None:
    """random.Random(7).random() begins 0.32383, 0.15085, 0.65093, 0.07243 (seen with CPython 3.11;
    the stream is promised by Python's documentation of ``random.seed`` and ``random``)."""
    assert drawn_order(7, 4) == (3, 1, 0, 2)


def test_every_order_comes_up_and_no_role_has_a_place_of_its_own() -> None:
    orders = Counter(drawn_order(seed, 4) for seed in range(2400))
    assert len(orders) == 24
    # 100 each on average; the chance that one of 24 strays so far is below one in ten thousand.
    assert 55 < min(orders.values()) <= max(orders.values()) < 150


# The choice round -----------------------------------------------------------------------------


def test_picking_the_one_move_is_the_simplest(choice: ChoiceRound) -> None:
    choice.hear(_number(choice, Role.CLEVER))
    choice.hear(_number(choice, Role.ONE_MOVE))  # changing one's mind costs nothing
    result = choice.choose()
    assert choice.stage is Stage.REVIEW
    assert result.simplest
    assert result.moves_over == 0
    assert result.fix == result.smallest
    assert result.offered == tuple(each.fix for each in choice.offered)
    assert "nothing simpler does" in choice_sentence(choice, result)


def test_two_moves_work_with_one_too_many(choice: ChoiceRound) -> None:
    choice.hear(_number(choice, Role.TWO_MOVES))
    result = choice.choose()
    assert not result.heard
    assert result.moves_over == 1
    assert not result.simplest
    assert "1 move more than the simplest" in choice_sentence(choice, result)


def test_the_clever_one_has_no_move_too_many_and_does_not_work(choice: ChoiceRound) -> None:
    choice.hear(_number(choice, Role.CLEVER))
    result = choice.choose()
    assert result.heard
    assert result.moves_over == 0
    assert not result.simplest
    assert result.left_db > 2.0
    right = _number(choice, Role.ONE_MOVE)
    assert f"still to be heard. Number {right} works" in choice_sentence(choice, result)


def test_all_that_is_heard_in_a_choice_is_equally_loud(choice: ChoiceRound) -> None:
    sounds = choice.sounds()
    assert list(sounds) == ["B", "A", "1", "2", "3", "4"]
    loudness = {name: loudness_lufs(sound) for name, sound in sounds.items()}
    # A just noticeable difference in loudness is some 0.5 to 1 dB (common knowledge of the field).
    assert max(loudness.values()) - min(loudness.values()) < 0.05
    assert all(np.abs(sound).max() <= 1.0 for sound in sounds.values())


def test_roles_are_proven_by_what_is_really_played(choice: ChoiceRound) -> None:
    sounds, passages = choice.sounds(), choice.loop.passages
    left = {
        role: residual(sounds[str(_number(choice, role))], sounds["A"], passages) for role in Role
    }
    assert not left[Role.ONE_MOVE].heard
    assert not left[Role.TWO_MOVES].heard
    assert left[Role.CLEVER].heard
    assert left[Role.MANY_MOVES].heard
    judged = judge(sounds[str(_number(choice, Role.CLEVER))], sounds["B"], sounds["A"], passages)
    assert judged.left_excitation_db > 0.7 * judged.wrong.excitation_db


def test_an_order_is_judged_pair_by_pair(choice: ChoiceRound) -> None:
    one, two, clever, many = choice.true_order
    roles = [choice.offered[number - 1].role for number in (one, two, clever, many)]
    assert roles == [Role.ONE_MOVE, Role.TWO_MOVES, Role.CLEVER, Role.MANY_MOVES]
    for number in (one, many, two):
        choice.mark(number)
    choice.mark(one)  # has its place
    choice.unmark(two)
    choice.mark(clever)
    choice.mark(two)
    choice.hear(many)  # hearing goes on, and the order stays
    result = choice.choose()
    assert result.marked == (one, many, clever, two)
    assert result.simplest
    assert result.swapped == ((many, clever), (many, two), (clever, two))
    assert f"{many} before {clever}" in order_sentence(result)
    part = replace(result, marked=(one, two, many))
    assert part.swapped == ()
    assert order_sentence(part) == f"Your order, {one} {two} {many}, is right."
    assert order_sentence(replace(result, marked=(one,))) == ""


def test_illegal_steps_of_a_choice_change_nothing(choice: ChoiceRound) -> None:
    with pytest.raises(IllegalMove, match="Hear one first"):
        choice.choose()
    with pytest.raises(IllegalMove, match="there is no fix 5"):
        choice.hear(5)
    with pytest.raises(IllegalMove, match="'listening' cannot"):
        choice.close()
    assert choice.stage is Stage.LISTENING
    assert choice.picked is None
    choice.hear(1)
    choice.choose()
    for late in (choice.choose, lambda: choice.hear(2)):
        with pytest.raises(IllegalMove, match="'review' cannot"):
            late()
    assert choice.picked == 1
    choice.close()
    assert choice.stage is Stage.OVER


def test_candidates_without_their_roles_make_no_round(
    mud: tuple[Question, Loop, tuple[Candidate, ...]],
) -> None:
    question, loop, (one, two, many, _) = mud
    deaf = Candidate(Role.CLEVER, one.fix, one.sound, one.judgement)
    with pytest.raises(ValueError, match="make no round"):
        ChoiceRound(question, loop, (one, two, many, deaf), 1)


def test_why_each_works_or_not_is_said_from_what_was_measured(choice: ChoiceRound) -> None:
    said = {
        each.role: why_sentence(each, choice.question.recipe, choice.loop)
        for each in choice.offered
    }
    assert "takes it out" in said[Role.ONE_MOVE]
    assert said[Role.TWO_MOVES].startswith("Boosting below and above comes to the same as cutting")
    assert "leaves the tone" in said[Role.MANY_MOVES]
    assert "differ in tone" in said[Role.CLEVER]
    assert "not in level" in said[Role.CLEVER]
    assert "near 200 Hz" in said[Role.CLEVER]


# The open round -------------------------------------------------------------------------------


def test_the_right_cut_is_as_small_as_the_programs_own(made: OpenRound) -> None:
    made.add(EqPoint(MUD_HZ, -6.0, 1.0))
    assert made.hand_in(LEAST_HEARD_S) == (EqPoint(MUD_HZ, -6.0, 1.0),)
    review = made.open_review()
    assert review.yours.works
    assert review.smallest.works
    assert len(review.smallest.fix) == 1
    assert review.result.simplest
    assert review.result.sort is Sort.OPEN
    assert review.result.left_db < 0.2
    assert open_sentence(review) == "It works in 1 move: nothing is left that you would hear."


def test_a_cut_at_the_wrong_place_leaves_and_damages(made: OpenRound) -> None:
    made.add(EqPoint(2000.0, -9.0, 1.4))
    made.hand_in(LEAST_HEARD_S)
    review = made.open_review()
    assert not review.yours.works
    assert review.result.left_db > 2.0
    assert review.result.damage_db > 2.0
    assert not review.result.simplest
    assert "near 2 kHz" in attempt_sentence(review.yours, None)


def test_a_useless_second_move_is_one_too_many(made: OpenRound) -> None:
    made.add(EqPoint(MUD_HZ, -6.0, 1.0))
    made.add(HighShelf(15_000.0, 0.1))
    made.hand_in(LEAST_HEARD_S)
    review = made.open_review()
    assert review.yours.works
    assert review.result.moves_over == 1
    assert open_sentence(review) == "It works in 2 moves; the simplest takes 1."


def test_what_is_heard_while_mending_is_as_loud_as_a(made: OpenRound) -> None:
    a_lufs = loudness_lufs(made.question.a)
    assert np.array_equal(made.sound_of(()).shape, made.question.b.shape)
    for moves in ((), (EqPoint(MUD_HZ, -18.0, 0.3),), (EqPoint(1000.0, 6.0, 1.0),)):
        assert loudness_lufs(made.sound_of(moves)) == pytest.approx(a_lufs, abs=0.05)


@pytest.mark.parametrize(("track", "alone"), [(None, False), ("guitar", False), ("guitar", True)])
def test_what_is_heard_while_mending_is_the_fix_done_to_every_track(
    track: str | None, alone: bool
) -> None:
    question, loop = _question(
        kind=Kind.TOO_MUCH, size_db=6.0, freq_hz=MUD_HZ, q=1.0, track=track, alone=alone
    )
    moves = (EqPoint(MUD_HZ, -6.0, 1.0, track), Ride(-2.0, loop.passages[0], track))
    heard = OpenRound(question, loop, 1).sound_of(moves)
    assert np.abs(heard - fix_question(question, stems_of(question, loop), moves)).max() < 1e-5


def test_moves_are_changed_and_taken_out_in_their_places(made: OpenRound) -> None:
    passage = made.loop.passages[0]
    assert made.add(EqPoint(100.0, -3.0)) == 0
    assert made.add(Ride(2.0, passage)) == 1
    made.change(0, EqPoint(120.0, -4.0))
    assert made.moves == (EqPoint(120.0, -4.0), Ride(2.0, passage))
    made.take_out(0)
    assert made.moves == (Ride(2.0, passage),)


@pytest.mark.parametrize(
    ("move", "why"),
    [
        (EqPoint(10.0, -3.0), "no move at 10 Hz"),
        (EqPoint(200.0, -19.0), "18 dB up or down"),
        (EqPoint(200.0, float("nan")), "18 dB up or down"),
        (EqPoint(200.0, -3.0, 20.0), "Q 20"),
        (Compressor(19.0), "dynamics by up to 18 dB"),
        (Expander(0.0), "dynamics by up to 18 dB"),
        (Compressor(3.0, ratio=1.0), "no ratio 1: 1.2 to 20"),
        (EqPoint(200.0, -3.0, passage=Passage("x", 0, 100)), "a ride has a passage"),
        (Ride(3.0, Passage("elsewhere", 0, 100)), "no passage 'elsewhere'"),
        (EqPoint(200.0, -3.0, track="guitar"), "where the problem is"),
    ],
)
def test_moves_that_cannot_be_made_here(made: OpenRound, move: EqPoint, why: str) -> None:
    with pytest.raises(IllegalMove, match=why):
        made.add(move)
    assert made.moves == ()


def test_illegal_steps_of_an_open_round_change_nothing(made: OpenRound) -> None:
    with pytest.raises(IllegalMove, match="Make a move first"):
        made.hand_in(LEAST_HEARD_S)
    with pytest.raises(IllegalMove, match="there is no move 1"):
        made.take_out(0)
    with pytest.raises(IllegalMove, match="'listening' cannot"):
        made.open_review()
    for gain_db in (-1.0, -2.0, -3.0):
        made.add(EqPoint(500.0, gain_db))
    with pytest.raises(IllegalMove, match="3 moves at the most"):
        made.add(EqPoint(500.0, -4.0))
    assert len(made.moves) == 3
    with pytest.raises(IllegalMove, match="Listen to B with your moves first"):
        made.hand_in(LEAST_HEARD_S - 0.1)
    made.hand_in(LEAST_HEARD_S)
    for late in (
        lambda: made.hand_in(LEAST_HEARD_S),
        lambda: made.add(EqPoint(1.0, 1.0)),
        lambda: made.take_out(0),
    ):
        with pytest.raises(IllegalMove, match="'handed in' cannot"):
            late()
    with pytest.raises(IllegalMove, match="'handed in' cannot"):
        made.close()


# What is drawn --------------------------------------------------------------------------------


@pytest.mark.parametrize("in_ten", range(MOST_FIXES + 1))
def test_so_many_fix_rounds_in_every_ten_and_none_before_the_easy_two(in_ten: int) -> None:
    for seed in range(50):
        due = [number for number in range(1, 41) if fix_round_is_due(seed, number, in_ten)]
        counts = [sum(10 * ten < number <= 10 * ten + 10 for number in due) for ten in range(4)]
        # Before questions 13 and 28 a guided minute may be opened: the most there can be is less.
        assert counts == [in_ten, min(in_ten, 7), min(in_ten, 7), in_ten]
        assert all((number - 1) % 10 >= 2 for number in due)


def test_where_a_fix_round_falls_is_not_to_be_foretold() -> None:
    places = Counter(
        next(number for number in range(1, 11) if fix_round_is_due(seed, number))
        for seed in range(800)
    )
    assert sorted(places) == list(range(3, 11))
    assert min(places.values()) > 60  # 100 on average


@pytest.mark.parametrize(
    ("asked", "in_ten"),
    [
        ({}, 1),
        ({"fixes": 3}, 3),
        ({"fixes": 0}, 0),
        ({"kinds": (Kind.SQUASHED,)}, 0),
        ({"bands": (3,)}, 0),
        ({"bands": (3,), "fixes": 2}, 2),
    ],
)
def test_a_drill_that_keeps_to_a_part_has_no_fix_rounds_unless_asked(
    asked: dict[str, Any], in_ten: int
) -> None:
    assert Limits(**asked).fixes_in_ten == in_ten


def test_more_fix_rounds_than_there_is_room_for_are_refused() -> None:
    with pytest.raises(NamefirstError, match="--fixes 9: give 0 to 8"):
        Limits(fixes=MOST_FIXES + 1)


def test_choice_and_open_take_turns() -> None:
    assert [sort_due(count) for count in range(4)] == [
        Sort.CHOICE,
        Sort.OPEN,
        Sort.CHOICE,
        Sort.OPEN,
    ]


def test_the_same_seed_makes_the_same_rounds(tmp_path: Path) -> None:
    shelf = LoopShelf(tmp_path)
    one, two = (make_fix_round(shelf, ("gull-parade",), Sort.CHOICE, 11) for _ in range(2))
    assert isinstance(one, ChoiceRound)
    assert isinstance(two, ChoiceRound)
    assert one.question.recipe == two.question.recipe
    assert [each.fix for each in one.offered] == [each.fix for each in two.offered]
    assert residual(one.question.b, one.question.a, one.loop.passages).excitation_db >= 2.0


@pytest.mark.parametrize("sort", list(Sort))
def test_problems_lie_in_the_bands_that_may_be_asked(tmp_path: Path, sort: Sort) -> None:
    """Band 5 is that of 1 kHz: 708 to 1413 Hz (IEC 61260-1, base ten)."""
    made = make_fix_round(LoopShelf(tmp_path), ("gull-parade",), sort, 4, bands=(5,))
    for problem in made.question.recipe.problems:
        assert problem.freq_hz is None or 708.0 < problem.freq_hz < 1413.0


def test_problems_are_of_the_kinds_that_may_be_asked(tmp_path: Path) -> None:
    kinds = (Kind.TOO_LOUD, Kind.TOO_QUIET)
    made = make_fix_round(
        LoopShelf(tmp_path), ("ferry-crossing",), Sort.CHOICE, 4, bands=(0,), kinds=kinds
    )
    assert made.question.recipe.kind in kinds


def test_where_no_round_can_be_made_it_says_what_to_widen(tmp_path: Path) -> None:
    with pytest.raises(NamefirstError, match="widen --loops, --bands or --kinds"):
        make_fix_round(
            LoopShelf(tmp_path),
            ("gull-parade",),
            Sort.CHOICE,
            4,
            bands=(0,),
            kinds=(Kind.TOO_MUCH, Kind.TOO_LITTLE),
        )


def test_open_rounds_hide_more_than_one_cut(tmp_path: Path) -> None:
    shelf = LoopShelf(tmp_path)
    recipes = [
        make_fix_round(shelf, ("ferry-crossing",), Sort.OPEN, seed).question.recipe
        for seed in range(14)
    ]
    assert any(recipe.second is not None for recipe in recipes)
    assert any(recipe.passage is not None for recipe in recipes)
    assert any(recipe.shape.value.endswith("shelf") for recipe in recipes)
    assert sum(recipe.kind in (Kind.TOO_MUCH, Kind.TOO_LITTLE) for recipe in recipes) >= 7


# Words ----------------------------------------------------------------------------------------


def test_a_fix_is_a_written_list_of_moves() -> None:
    fix = (EqPoint(200.0, -6.0, 1.4, "guitar"), HighShelf(8000.0, 2.0, "guitar"))
    assert fix_words(fix) == (
        "cut 6 dB at 200 Hz, Q 1.4, on the guitar; high shelf up 2 dB above 8 kHz, on the guitar"
    )
    rides = tuple(Ride(1.0, Passage(f"bar {bar}", bar, bar + 1)) for bar in range(7))
    assert fix_words(rides).endswith("and 5 rides more")
    assert fix_words(()) == "nothing done"


def test_what_is_left_is_said_as_what_is_to_be_heard(choice: ChoiceRound) -> None:
    words = {each.role: residual_words(each.judgement) for each in choice.offered}
    assert words[Role.ONE_MOVE] == "nothing is left that you would hear"
    assert re.fullmatch(
        r"still to be heard: \d\.\d dB in the ear, near (160|200|250) Hz", words[Role.CLEVER]
    )


def test_a_fix_shorter_than_the_programs_own_counts_as_the_simplest() -> None:
    recipe = Recipe(1, "quay", "f" * 64, Kind.TOO_MUCH, 6.0, 200.0, 1.0)
    two = (EqPoint(200.0, -6.0), EqPoint(400.0, 1.0))
    result = FixResult(Sort.OPEN, recipe, 1, (), two[:1], two, False, 0.1, 0.0)
    assert result.simplest
    assert result.moves_over == -1
