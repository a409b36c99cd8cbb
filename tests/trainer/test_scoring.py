"""What an answer tells the scorer, and the step: from the log, with a cache that may be lost."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from exercises.kinds import Help, Kind
from exercises.problems import Problem
from exercises.recipe import Recipe
from trainer.ability import Ability
from trainer.assignments.result import ability_after, finest_of
from trainer.judging import Answer, Named
from trainer.ladder import Climb
from trainer.observation import NothingAnswer, Observation, Outcome
from trainer.record import KeptAnswer, Listening, Record
from trainer.scoring import (
    CACHE_SETTING,
    Scored,
    forget_ability,
    observations_of,
    scored_after,
    scored_of,
)

TODAY = date(2026, 3, 1)
AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
TWO = Recipe(
    1,
    "quay",
    "f" * 64,
    Kind.TOO_MUCH,
    6.0,
    250.0,
    1.4,
    track="guitar",
    help=Help.NO_A,
    second=Problem(Kind.SQUASHED, 5.0),
    ask_track=True,
)
ONE = Recipe(1, "quay", "f" * 64, Kind.TOO_LOUD, 3.0, passage="open chords", ask_passage=True)


def _kept(recipe: Recipe, answer: Answer) -> KeptAnswer:
    return KeptAnswer(1, 1, AT, TODAY, recipe, answer, Listening(9, 0, 0, 9), "1")


@pytest.mark.parametrize(
    ("answer", "outcomes"),
    [
        # Either problem may be named first.
        (
            Answer(Kind.SQUASHED, None, True, "guitar", None, Named(Kind.TOO_MUCH, 260.0)),
            ("named", "named"),
        ),
        (
            Answer(Kind.TOO_MUCH, 390.0, True, "guitar", None, Named(Kind.TOO_LOUD)),
            ("near", "misnamed"),
        ),
        (
            Answer(Kind.TOO_MUCH, 250.0, True, "guitar", None, Named(Kind.NOTHING)),
            ("named", "missed"),
        ),
        (Answer(Kind.NOTHING, None, True), ("missed", "missed")),
        (
            Answer(Kind.TOO_MUCH, 250.0, True, "bass", None, Named(Kind.SQUASHED)),
            ("misnamed", "misnamed"),
        ),
    ],
    ids=["both", "one near", "one of two", "nothing", "wrong track"],
)
def test_two_problems_are_two_observations(answer: Answer, outcomes: tuple[str, str]) -> None:
    told = observations_of(_kept(TWO, answer))
    for one in told:
        assert isinstance(one, Observation)
        assert (one.help, one.placed, one.day) == (2, True, TODAY.toordinal())
    assert [(one.skill.key, one.size_db, one.outcome) for one in told] == [
        ("too much:250", 6.0, Outcome(outcomes[0])),
        ("dynamics", 5.0, Outcome(outcomes[1])),
    ]


def test_both_problems_are_learned_from_in_the_drill_and_in_a_set() -> None:
    named = Answer(Kind.TOO_MUCH, 250.0, True, "guitar", None, Named(Kind.SQUASHED))
    kept = _kept(TWO, named)
    drilled = scored_after(Scored(Ability.fresh(), Climb()), kept).ability
    assert {skill.key for skill, _ in finest_of(drilled)} == {"too much:250", "dynamics"}
    assert finest_of(ability_after([kept])) == finest_of(drilled)


@pytest.mark.parametrize(
    ("passage", "outcome"),
    [("open chords", Outcome.NAMED), ("damped strokes", Outcome.MISNAMED)],
)
def test_the_wrong_passage_is_a_wrong_name(passage: str, outcome: Outcome) -> None:
    (told,) = observations_of(_kept(ONE, Answer(Kind.TOO_LOUD, None, True, None, passage)))
    assert isinstance(told, Observation)
    assert told.outcome is outcome


def test_nothing_is_one_answer_to_nothing() -> None:
    nothing = Recipe(1, "quay", "f" * 64, Kind.NOTHING, 0.0, ask_track=True)
    (told,) = observations_of(_kept(nothing, Answer(Kind.SQUASHED, None, False, "bass")))
    assert told == NothingAnswer(TODAY.toordinal(), True, False)


def _answer_step_one(record: Record, number: int) -> KeptAnswer:
    recipe = Recipe(number, "quay", "f" * 64, Kind.SQUASHED, 4.0)
    at = AT + timedelta(seconds=20 * number)
    drill = 1 if number else record.start_drill(at.date(), {})
    answer = Answer(Kind.SQUASHED, None, True)
    return record.keep(drill, at, recipe, answer, Listening(9, 0, 0, 9))


def test_the_step_follows_from_the_log(tmp_path: Path) -> None:
    """By answer after answer, from the cache, and from the log anew: the same."""
    record = Record(tmp_path, "ada", "1")
    lived = scored_of(record, TODAY)
    assert lived.climb == Climb()
    for number in range(8):
        lived = scored_after(lived, _answer_step_one(record, number))
        assert scored_of(record, TODAY).climb == lived.climb
    assert lived.climb.step == 2
    forget_ability(record)
    assert record.setting(CACHE_SETTING) is None
    assert scored_of(record, TODAY).climb == lived.climb
    record.close()


@pytest.mark.parametrize("climb", [None, {"stair": 3}, {"step": "up"}, 3])
def test_a_damaged_cache_is_made_anew(tmp_path: Path, climb: object) -> None:
    record = Record(tmp_path, "ada", "1")
    for number in range(8):
        _answer_step_one(record, number)
    good = scored_of(record, TODAY)
    record.set_setting(CACHE_SETTING, record.setting(CACHE_SETTING) | {"climb": climb})
    anew = scored_of(record, TODAY)
    assert anew.climb == good.climb
    assert anew.ability.to_state() == good.ability.to_state()
    record.close()
