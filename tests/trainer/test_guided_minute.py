"""The guided minute as a plain machine: its steps for every subject, and where it stands."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exercises.kinds import LEVEL, TONE, Kind, Shape
from exercises.problems import Problem
from exercises.recipe import Recipe
from trainer.guided_minute import (
    LARGEST_DB,
    LARGEST_LEVEL_DB,
    Ground,
    GuidedMinute,
    confused_step,
    minute_of,
    pair_words,
    plain_db,
)
from trainer.judging import Answer, judge
from trainer.round import IllegalMove
from trainer.subject import SUBJECTS, Subject

GROUNDS = (
    Ground("quay", 1.5, (2.0, 2.0)),
    Ground("mill", 2.0, (None, 3.0)),
    Ground("dock", 3.5, (4.5, 2.0)),
)
MUD = Subject(Kind.TOO_MUCH, 3)


@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda subject: subject.key)
def test_a_minute_has_every_kind_of_step_and_lasts_a_minute(subject: Subject) -> None:
    steps = minute_of(subject, GROUNDS, 2.5)
    titles = [step.title for step in steps]
    assert titles[0] == "Without and with"
    assert {"On other music", "Fading", "Side by side"} <= set(titles)
    assert ("The region alone" in titles) == (subject.kind in TONE)
    assert steps[0].loop == "quay"
    assert {step.loop for step in steps} == {"quay", "mill", "dock"}
    assert 54.0 <= sum(step.seconds for step in steps) <= 66.0
    for step in steps:
        names = [part.name for part in step.parts]
        assert len(set(names)) == len(names)
        assert {name for name, _ in step.turns} == set(names)
        assert step.listen.endswith(".")
        assert any(part.problem is not None for part in step.parts)


@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda subject: subject.key)
def test_the_fading_step_goes_down_evenly_to_the_finest_size(subject: Subject) -> None:
    (step,) = [each for each in minute_of(subject, GROUNDS, 2.5) if each.title == "Fading"]
    sizes = [part.problem.size_db for part in step.parts if part.problem is not None]
    assert sizes[0] == (LARGEST_LEVEL_DB if subject.kind in LEVEL else LARGEST_DB)
    assert sizes[-1] == pytest.approx(2.5)
    assert sizes == sorted(sizes, reverse=True)
    ratios = [later / former for former, later in pairwise(sizes)]
    assert max(ratios) - min(ratios) < 0.01
    assert [name for name, _ in step.turns] == ["1", "2", "3", "4", "5", "A"]


def test_fading_never_goes_below_what_can_be_heard_on_the_loop() -> None:
    coarse = (Ground("quay", 4.0, (4.0, 4.0)),)
    (step,) = [each for each in minute_of(MUD, coarse, 1.0) if each.title == "Fading"]
    assert step.parts[-1].problem is not None
    assert step.parts[-1].problem.size_db == pytest.approx(4.0)
    assert "your finest" not in step.listen


@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda subject: subject.key)
def test_neighbours_stand_side_by_side_at_one_size_that_is_plain_for_each(subject: Subject) -> None:
    (step,) = [each for each in minute_of(subject, GROUNDS, None) if each.title == "Side by side"]
    problems = [part.problem for part in step.parts if part.problem is not None]
    assert [Subject(problems[0].kind, subject.band_index)] == [subject]
    expected = [(each.kind, each.freq_hz) for each in (subject, *subject.neighbours)]
    assert [(problem.kind, problem.freq_hz) for problem in problems] == expected
    if subject.kind in TONE:
        assert {problem.size_db for problem in problems} == {1.5 * 4.5}


def test_a_plain_size_is_half_as_large_again_as_can_just_be_heard() -> None:
    assert plain_db(MUD, Ground("quay", 1.0, ())) == 6.0
    assert plain_db(MUD, Ground("quay", 6.0, ())) == 9.0
    assert plain_db(MUD, Ground("quay", 11.0, ())) == 12.0
    assert plain_db(Subject(Kind.TOO_LOUD), Ground("quay", 1.0, ())) == 3.0


@pytest.mark.parametrize("count", [1, 2])
def test_fewer_loops_will_do(count: int) -> None:
    steps = minute_of(MUD, GROUNDS[:count], None)
    assert {step.loop for step in steps} == {ground.loop for ground in GROUNDS[:count]}


def test_without_a_loop_there_is_no_minute() -> None:
    with pytest.raises(ValueError, match="no loop to study 'too much:250' on"):
        minute_of(MUD, (), None)
    with pytest.raises(ValueError, match="without steps"):
        GuidedMinute(())


def test_parts_take_turns_as_seconds_are_heard_and_the_next_step_follows() -> None:
    minute = GuidedMinute(minute_of(MUD, GROUNDS, None))
    heard = []
    while not minute.over:
        heard.append((minute.number, minute.part))
        minute.pass_time(0.1)
    in_turn = [each for place, each in enumerate(heard) if place == 0 or heard[place - 1] != each]
    expected = [
        (number, name)
        for number, step in enumerate(minute.steps, start=1)
        for name, _ in step.turns
    ]
    assert in_turn == expected
    assert len(heard) * 0.1 == pytest.approx(sum(step.seconds for step in minute.steps), abs=0.6)
    assert minute.seconds_left == 0.0


def test_a_part_chosen_by_hand_stays_until_the_learner_goes_on() -> None:
    minute = GuidedMinute(minute_of(MUD, GROUNDS, None))
    minute.pass_time(4.0)
    minute.choose("A")
    minute.pass_time(1000.0)
    assert (minute.number, minute.part, minute.held) == (1, "A", True)
    minute.go_on()
    assert (minute.number, minute.part, minute.held) == (2, "1", False)
    minute.go_back()
    minute.go_back()
    assert minute.number == 1


MOVES: dict[str, tuple[Callable[[GuidedMinute], None], str]] = {
    "a part of another step": (lambda minute: minute.choose("5"), "no part '5'"),
    "time backwards": (lambda minute: minute.pass_time(-1.0), "forwards"),
}


@pytest.mark.parametrize("move", MOVES)
def test_a_move_that_does_not_fit_changes_nothing(move: str) -> None:
    do, says = MOVES[move]
    minute = GuidedMinute(minute_of(MUD, GROUNDS, None))
    minute.pass_time(4.0)
    with pytest.raises(IllegalMove, match=says):
        do(minute)
    assert (minute.number, minute.part, minute.held) == (1, "B", False)


def test_after_the_last_step_only_going_back_is_left() -> None:
    minute = GuidedMinute(minute_of(MUD, GROUNDS, None))
    for _ in minute.steps:
        minute.go_on()
    assert minute.over
    for do in (minute.go_on, lambda: minute.choose("B"), lambda: minute.pass_time(1.0)):
        with pytest.raises(IllegalMove, match="over"):
            do()
    minute.go_back()
    assert (minute.over, minute.number) == (False, len(minute.steps))


@given(st.lists(st.sampled_from(["on", "back", "A", "B", "1", 0.5, 3.0, 40.0]), max_size=40))
def test_whatever_is_done_a_part_of_the_step_sounds(moves: list[object]) -> None:
    minute = GuidedMinute(minute_of(MUD, GROUNDS, None))
    for move in moves:
        if move == "back":
            minute.go_back()
        elif minute.over:
            continue
        elif move == "on":
            minute.go_on()
        elif isinstance(move, float):
            minute.pass_time(move)
        elif move in {part.name for part in minute.step.parts}:
            minute.choose(str(move))
        assert minute.part in {part.name for part in minute.step.parts}
        assert 0.0 <= minute.seconds_left <= 66.0


def recipe(**fields: object) -> Recipe:
    usual = {"kind": Kind.TOO_MUCH, "size_db": 5.0, "freq_hz": 250.0, "q": 1.4}
    return Recipe(seed=1, loop="quay", fingerprint="f" * 64, **(usual | fields))  # type: ignore[arg-type]


def test_a_wrong_place_is_heard_beside_the_right_one_at_the_same_size() -> None:
    asked, answer = recipe(track="guitar", passage="open"), Answer(Kind.TOO_MUCH, 500.0, True)
    verdict = judge(asked, answer)
    step = confused_step(asked, answer, verdict)
    assert step is not None
    assert [part.problem for part in step.parts] == [
        None,
        Problem(Kind.TOO_MUCH, 5.0, 250.0, 1.4),
        Problem(Kind.TOO_MUCH, 5.0, 500.0, 1.4),
    ]
    assert step.like == asked
    assert step.listen == ("1 is what was there: 250 Hz (mud). 2 is what you named: 500 Hz (boxy).")
    assert pair_words(asked, answer, verdict) == ("250 Hz", "500 Hz")


def test_a_wrong_kind_is_heard_beside_the_right_one() -> None:
    asked = recipe(kind=Kind.SQUASHED, size_db=9.0, freq_hz=None, q=None)
    answer = Answer(Kind.TOO_QUIET, None, True)
    verdict = judge(asked, answer)
    step = confused_step(asked, answer, verdict)
    assert step is not None
    assert [part.problem for part in step.parts[1:]] == [
        Problem(Kind.SQUASHED, 9.0),
        Problem(Kind.TOO_QUIET, LARGEST_LEVEL_DB),
    ]
    assert pair_words(asked, answer, verdict) == ("squashed", "too quiet")
    answer = Answer(Kind.TOO_LITTLE, 3200.0, True)
    assert pair_words(asked, answer, judge(asked, answer)) == ("squashed", "too little at 3.2 kHz")


def test_a_shelf_is_compared_with_a_shelf() -> None:
    asked = recipe(shape=Shape.HIGH_SHELF, q=None, freq_hz=4000.0)
    answer = Answer(Kind.TOO_MUCH, 1000.0, True)
    step = confused_step(asked, answer, judge(asked, answer))
    assert step is not None
    named = Problem(Kind.TOO_MUCH, 5.0, 1000.0, None, Shape.HIGH_SHELF)
    assert step.parts[2].problem == named


@pytest.mark.parametrize(
    "answer", [Answer(Kind.TOO_MUCH, 260.0, True), Answer(Kind.NOTHING, None, True)]
)
def test_nothing_is_compared_where_nothing_was_confused(answer: Answer) -> None:
    asked = recipe()
    assert confused_step(asked, answer, judge(asked, answer)) is None
