"""The ladder: the table, the rule of going up and down, and learners who climb it or do not."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict

import pytest

from exercises.kinds import Help, Kind
from exercises.problems import Problem
from exercises.recipe import Recipe
from tests.simulated_climber import Climber, climb
from trainer.judging import Answer, Named, judge
from trainer.ladder import (
    ATTEMPT,
    EVIDENCE,
    STEPS,
    Climb,
    Step,
    evidence,
    step_of,
    step_sentence,
)

FINGERPRINT = "f" * 64


def _recipe(size_db: float = 4.0, kind: Kind = Kind.SQUASHED, **fields: object) -> Recipe:
    return Recipe(1, "quay", FINGERPRINT, kind, size_db, **fields)


def _after(stands: Climb, right: bool, recipe: Recipe | None = None) -> Climb:
    recipe = _recipe() if recipe is None else recipe
    answer = Answer(recipe.kind if right else Kind.NOTHING, None, True, "whole mix")
    return stands.after(recipe, judge(recipe, answer))


# The rule


@pytest.mark.parametrize(
    ("answers", "least"),
    # A. Ramdas, P. Grünwald, V. Vovk, G. Shafer (2023): the mixture's bound of 20 worked out.
    [(6, 6), (7, 7), (8, 8), (10, 9), (12, 11), (16, 14), (20, 16), (30, 23)],
)
def test_least_right_answers_that_are_evidence(answers: int, least: int) -> None:
    assert evidence(least, answers - least) >= EVIDENCE
    assert evidence(least - 1, answers - least + 1) < EVIDENCE


@pytest.mark.parametrize("answers", [1, 7, 30, 60])
def test_evidence_is_fair(answers: int) -> None:
    """Where half are right, its mean stays 1 (Ville's inequality then bounds what it reaches)."""
    mean = sum(
        math.comb(answers, right) / 2.0**answers * evidence(right, answers - right)
        for right in range(answers + 1)
    )
    assert mean == pytest.approx(1.0, rel=1e-9)


def _chances(share: float, start: Climb, answers: int) -> dict[int, float]:
    """Exact chances of having gone to each step, or of being on the first one still, after so many
    answers of which a share is right. What has moved stays where it went."""
    stands: dict[Climb, float] = {start: 1.0}
    gone: dict[int, float] = defaultdict(float)
    for _ in range(answers):
        following: dict[Climb, float] = defaultdict(float)
        for climb_, chance in stands.items():
            for right, likely in ((True, share), (False, 1.0 - share)):
                now = _after(climb_, right, _on_step(start.step))
                if now.step == start.step:
                    following[now] += chance * likely
                else:
                    gone[now.step] += chance * likely
        stands = following
    gone[start.step] = sum(stands.values())
    return gone


def _on_step(step: int) -> Recipe:
    return _recipe(ask_track=True) if step == 2 else _recipe()


def test_who_names_half_is_hardly_ever_moved_up() -> None:
    """At most 5 % in an attempt; half of that in fact. Who names a third: less than 1 % in four
    attempts."""
    assert 0.01 < _chances(0.5, Climb(1), ATTEMPT)[2] < 0.05
    assert _chances(1 / 3, Climb(1), 4 * ATTEMPT)[2] < 0.01


@pytest.mark.parametrize(("share", "answers"), [(0.75, 40), (0.8, 30), (0.9, 16)])
def test_who_names_most_is_moved_up_soon(share: float, answers: int) -> None:
    """So many answers suffice in seven cases of ten."""
    assert _chances(share, Climb(1), answers)[2] > 0.7


def test_who_names_most_is_hardly_ever_moved_down() -> None:
    """Three quarters named, as the planner means it to be."""
    assert _chances(0.75, Climb(2), 4 * ATTEMPT)[1] < 0.001
    assert _chances(0.5, Climb(2), ATTEMPT)[1] < 0.05


def test_who_names_a_fifth_is_moved_down_soon() -> None:
    assert _chances(0.2, Climb(2), 30)[1] > 0.7


def test_nobody_leaves_the_ladder() -> None:
    stands = Climb(1)
    for _ in range(200):
        stands = _after(stands, False)
    assert stands.step == 1
    two = Problem(Kind.TOO_LOUD, 3.0)
    top = _recipe(help=Help.NO_A, second=two, ask_track=True)
    stands = Climb(7)
    for _ in range(200):
        stands = stands.after(
            top, judge(top, Answer(Kind.SQUASHED, None, True, "whole mix", None, _named(two)))
        )
    assert stands.step == 7


def test_large_sizes_do_not_speak_for_the_next_step() -> None:
    """Named at 7 dB a hundred times, or at 4 dB of level: the goals are 6 and 3 dB."""
    for recipe in (_recipe(7.0), _recipe(4.0, Kind.TOO_LOUD)):
        stands = Climb(1)
        for _ in range(100):
            stands = _after(stands, True, recipe)
        assert stands.step == 1
    assert _climbed(_recipe(6.0), 6) == 2
    assert _climbed(_recipe(3.0, Kind.TOO_QUIET), 6) == 2


def _climbed(recipe: Recipe, answers: int) -> int:
    stands = Climb(1)
    for _ in range(answers):
        stands = _after(stands, True, recipe)
    return stands.step


def test_other_steps_and_nothing_do_not_count() -> None:
    stands = Climb(2, 5, 5, 5, 5)
    assert _after(stands, True, _recipe()) == stands
    nothing = Recipe(1, "quay", FINGERPRINT, Kind.NOTHING, 0.0, ask_track=True)
    assert stands.after(nothing, judge(nothing, Answer(Kind.NOTHING, None, True))) == stands


def test_the_wrong_place_does_not_speak_for_the_step() -> None:
    recipe = _recipe(track="bass", ask_track=True)
    for track, right in (("bass", 1), ("drums", 0)):
        now = Climb(2).after(recipe, judge(recipe, Answer(Kind.SQUASHED, None, True, track)))
        assert (now.asked, now.right) == (1, right)


def test_a_frequency_counts_up_to_two_thirds_of_an_octave() -> None:
    recipe = Recipe(1, "quay", FINGERPRINT, Kind.TOO_MUCH, 4.0, 1000.0, 1.4)
    for octaves, right in ((0.6, 1), (-0.6, 1), (0.75, 0)):
        answer = Answer(Kind.TOO_MUCH, 1000.0 * 2.0**octaves, True)
        assert Climb(1).after(recipe, judge(recipe, answer)).right == right


def _named(problem: Problem) -> Named:
    return Named(problem.kind, problem.freq_hz)


# Learners who climb, or not


@pytest.mark.parametrize("seed", range(4))
def test_a_fine_ear_is_at_the_last_step_within_four_days(seed: int) -> None:
    """Finest size 2 dB, sixty answers a day; all of twelve others came there within 240 too."""
    assert climb(Climber(2.0), 240, 1000 * seed)[-1] == 7


@pytest.mark.parametrize("seed", range(4))
def test_an_ear_that_needs_nine_db_stays_on_the_first_step(seed: int) -> None:
    assert set(climb(Climber(9.0), 240, 1000 * seed)) == {1}


def test_who_is_put_too_high_comes_down() -> None:
    """Tracks and passages are hopeless for this ear: it is not left among them."""
    hopeless = Climber(2.0, placed=12.0)
    steps = climb(hopeless, 240, 5)
    assert max(steps) == 2
    assert steps.count(2) < 180
    assert any(one > other for one, other in itertools.pairwise(steps))


# The table


def test_steps_are_numbered_and_get_no_easier() -> None:
    assert [step.number for step in STEPS] == list(range(1, 8))
    helps = [int(step.help) for step in STEPS]
    assert helps == sorted(helps)
    assert set(helps) == {0, 1, 2}
    goals = [step.goal_db for step in STEPS]
    assert goals == sorted(goals)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: str(step.number))
def test_the_step_of_a_question_can_be_told(step: Step) -> None:
    """But for two problems, which a question of one must not look like."""
    recipe = _recipe(
        help=step.help,
        ask_track=step.ask_track,
        ask_passage=step.ask_passage,
        second=Problem(Kind.TOO_LOUD, 3.0) if step.two else None,
    )
    assert step_of(recipe) == step.number


def test_a_step_is_said_in_plain_words() -> None:
    assert step_sentence(1) == "Step 1 of 7: one problem on the whole mix; A at hand."
    assert step_sentence(6).endswith("; no A.")
    assert len({step_sentence(step.number) for step in STEPS}) == 7
