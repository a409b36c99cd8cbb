"""What should be studied next, when the drill opens a minute, and on which loops."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from exercises.kinds import TONE, Kind
from exercises.recipe import Recipe
from trainer.ability import ENOUGH_ANSWERS, Ability
from trainer.assignments.result import ability_after
from trainer.judging import Answer
from trainer.record import KeptAnswer, Listening, Record
from trainer.skills import skill_of
from trainer.study import (
    EVERY,
    FIRST_AFTER,
    Need,
    after_opening,
    confusions,
    drill_opens,
    finest_db,
    grounds_of,
    need_of,
    opens_with_study,
    study_next,
)
from trainer.subject import SUBJECTS, Subject

AT = datetime(2026, 3, 5, 19, 30, tzinfo=UTC)
MUD, BOX = Subject(Kind.TOO_MUCH, 3), Subject(Kind.TOO_MUCH, 4)
SQUASHED = Subject(Kind.SQUASHED)

Said = tuple[Subject, float, Subject]  # truth, size in dB, what was named


def kept(folder: Path, *said: Said) -> list[KeptAnswer]:
    """Answers that name ``said`` for the truths, as they come back from disk."""
    record = Record(folder, "ada", "1")
    drill = record.start_drill(AT.date(), {})
    for number, (truth, size_db, named) in enumerate(said):
        q = 1.4 if truth.kind in TONE else None
        recipe = Recipe(number, "quay", "f" * 64, truth.kind, size_db, truth.freq_hz, q)
        answer = Answer(named.kind, named.freq_hz, True)
        at = AT + timedelta(seconds=10 * number)
        record.keep(drill, at, recipe, answer, Listening(9, 2, 4, 5))
    answers = list(record.answers())
    record.close()
    return answers


def test_to_a_fresh_learner_everything_is_new_the_middle_of_the_rule_first() -> None:
    wanted = study_next(Ability.fresh(), (), {})
    assert {subject for subject, _ in wanted} == set(SUBJECTS)
    assert {need for _, need in wanted} == {Need.NEW}
    assert wanted[0][0] == MUD


def test_what_was_taken_for_another_twice_comes_before_all_else(tmp_path: Path) -> None:
    answers = kept(tmp_path, (MUD, 9.0, BOX), (SQUASHED, 9.0, BOX), (MUD, 9.0, BOX))
    assert confusions(answers) == {MUD: 2, SQUASHED: 1}
    wanted = study_next(ability_after(answers), answers, {})
    assert wanted[0] == (MUD, Need.CONFUSED)
    assert SQUASHED not in {subject for subject, _ in wanted}


def test_a_near_miss_in_the_same_band_confuses_nothing(tmp_path: Path) -> None:
    assert not confusions(kept(tmp_path, (MUD, 9.0, MUD), (MUD, 9.0, MUD)))


def test_weak_is_what_is_surely_coarser_than_the_goal(tmp_path: Path) -> None:
    answers = kept(tmp_path, *[(MUD, 11.0, SQUASHED)] * 12, *[(BOX, 3.0, BOX)] * 12)
    ability = ability_after(answers)
    assert need_of(MUD, ability, {}, {}) is Need.WEAK
    assert need_of(BOX, ability, {}, {}) is None
    assert finest_db(MUD, ability) == pytest.approx(ability.finest(skill_of(MUD.kind, 3)).size_db)
    assert finest_db(SQUASHED, ability) is None


def test_a_minute_opens_the_first_time_only(tmp_path: Path) -> None:
    fresh = Ability.fresh()
    assert opens_with_study(MUD, Need.NEW, fresh, {})
    assert not opens_with_study(MUD, None, fresh, {})
    seen = after_opening(MUD, fresh, {})
    assert seen == {"too much:250": 0}
    assert not opens_with_study(MUD, Need.NEW, fresh, seen)
    weak = ability_after(kept(tmp_path, *[(MUD, 11.0, SQUASHED)] * 12))
    assert opens_with_study(MUD, Need.WEAK, weak, seen)  # once more, as it turned out weak
    assert not opens_with_study(MUD, Need.WEAK, weak, after_opening(MUD, weak, seen))


def test_the_drill_opens_one_after_twelve_answers_and_then_every_fifteen(tmp_path: Path) -> None:
    answers = kept(tmp_path, *[(BOX, 6.0, BOX)] * 45)
    opened = [
        count
        for count in range(len(answers) + 1)
        if drill_opens(Ability.fresh(), count, lambda: answers, {}, ()) is not None
    ]
    assert opened == [FIRST_AFTER, FIRST_AFTER + EVERY, FIRST_AFTER + 2 * EVERY]


@pytest.mark.parametrize("hidden", SUBJECTS, ids=lambda subject: subject.key)
def test_what_is_opened_never_gives_the_next_question_away(tmp_path: Path, hidden: Subject) -> None:
    answers = kept(tmp_path, *[(BOX, 6.0, BOX)] * FIRST_AFTER)
    seen: dict[str, int] = {}
    opens = partial(drill_opens, Ability.fresh(), FIRST_AFTER, lambda: answers)
    while (opened := opens(seen, (hidden,))) is not None:
        subject, need = opened
        assert need is Need.NEW
        assert subject != hidden
        assert subject.band_index is None or subject.band_index != hidden.band_index
        seen = after_opening(subject, Ability.fresh(), seen)
    assert len(seen) >= len(SUBJECTS) - 5  # and all the rest is opened in its turn


def test_a_drill_that_keeps_to_some_bands_or_kinds_opens_nothing_else(tmp_path: Path) -> None:
    answers = kept(tmp_path, *[(BOX, 6.0, BOX)] * FIRST_AFTER)

    def opened(**limits: tuple[object, ...]) -> Subject | None:
        opened = drill_opens(Ability.fresh(), FIRST_AFTER, lambda: answers, {}, (), **limits)  # type: ignore[arg-type]
        return None if opened is None else opened[0]

    assert opened(bands=(9,)) == Subject(Kind.TOO_MUCH, 9)
    assert opened(kinds=(Kind.LIFTED,)) == Subject(Kind.LIFTED)
    assert opened(kinds=(Kind.TOO_LITTLE,), bands=(0,)) == Subject(Kind.TOO_LITTLE, 0)


def test_enough_answers_are_as_many_as_the_scorer_asks_for() -> None:
    assert FIRST_AFTER >= ENOUGH_ANSWERS


LOOPS = tuple(f"loop {number}" for number in range(14))


def test_loops_are_those_on_which_it_is_heard_best_and_few_are_measured() -> None:
    asked: list[str] = []

    def smallest(loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        if freq_hz == MUD.freq_hz:
            asked.append(loop)
        return 2.0 + int(loop.split()[1]) % 3

    grounds = grounds_of(MUD, LOOPS, smallest)
    assert len(grounds) == 3
    assert [ground.smallest_db for ground in grounds] == [2.0, 3.0, 4.0]
    assert len(asked) == 3
    assert grounds[0].neighbours_db == (2.0, 2.0)


def test_poor_loops_are_measured_only_until_six_are() -> None:
    asked: list[str] = []

    def smallest(loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        if freq_hz == MUD.freq_hz:
            asked.append(loop)
        return 9.0 if len(asked) != 5 else 5.0

    assert grounds_of(MUD, LOOPS, smallest)[0].smallest_db == 5.0
    assert len(asked) == 6


def test_where_nothing_can_be_heard_all_loops_are_tried_before_giving_up() -> None:
    asked: list[str] = []

    def deaf(loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        asked.append(loop)
        return None

    assert grounds_of(MUD, LOOPS, deaf) == ()
    assert len(asked) == 14
    assert grounds_of(MUD, (), deaf) == ()


def test_subjects_begin_on_different_loops() -> None:
    firsts = {grounds_of(each, LOOPS, lambda *_: 2.0)[0].loop for each in SUBJECTS}
    assert len(firsts) >= 10
