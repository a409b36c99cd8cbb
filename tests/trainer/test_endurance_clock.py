"""A clock that is set back, and the two nights of the year on which it is changed.

Berlin is on UTC+1 and from 01:00 UTC on the last Sunday in March to 01:00 UTC on the last Sunday
in October on UTC+2 (Directive 2000/84/EC): 29 March and 25 October in 2026.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.question import Question, make_question
from exercises.recipe import Recipe
from tests.killed_drill import PreparedDrill, UnreviewedRound
from tests.synthetic_loops import small_band
from trainer.limits import Limits
from trainer.loop_shelf import LoopShelf
from trainer.progress import progress_of
from trainer.progress_forms import progress_csv, progress_json, progress_text
from trainer.record import Listening, Record
from trainer.scoring import forget_ability, scored_of

LISTENED = Listening(15.0, 1, 1.0, 2.0)
GAP = timedelta(seconds=20)


@pytest.fixture(scope="module")
def asked() -> tuple[Question, Loop]:
    loop = small_band(1.0, level_db=-12.0)
    recipe = Recipe(1, "test loop", loop.fingerprint, Kind.TOO_MUCH, 12.0, 200.0, 1.4)
    return make_question(recipe, loop), loop


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return Record(tmp_path, "ada", "1")


@pytest.fixture
def _in_berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    if not hasattr(time, "tzset"):
        pytest.skip("the time zone cannot be chosen here")
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def local(*utc: int) -> datetime:
    """A moment as the program reads its clock: local time with its offset."""
    return datetime(*utc, tzinfo=UTC).astimezone()  # type: ignore[misc, arg-type]


def drill_at(record: Record, now: datetime) -> PreparedDrill:
    shelf = LoopShelf(record.path.parent / "loops")
    return PreparedDrill(record, shelf, Limits(minutes=10.0), 1, now)


def answer(drill: PreparedDrill, asked: tuple[Question, Loop], now: datetime) -> None:
    round_ = UnreviewedRound(*asked)
    round_.mark_kind(Kind.TOO_MUCH)
    round_.mark_freq(200.0)
    drill.answer(round_, sure=True, listening=LISTENED, now=now)


def test_a_clock_set_back_a_day_opens_that_days_drill_and_loses_nothing(
    record: Record, asked: tuple[Question, Loop]
) -> None:
    today = datetime(2026, 3, 5, 19, tzinfo=UTC)
    yesterday = today - timedelta(days=1)
    answer(drill_at(record, today), asked, today + GAP)
    before = drill_at(record, yesterday)
    assert before.answers == []
    assert before.seconds_left(yesterday) == 600.0
    answer(before, asked, yesterday + GAP)
    again = drill_at(record, today + GAP)  # and the clock is right once more
    assert [kept.day for kept in again.answers] == [today.date()]
    days = [kept.day for kept in record.answers()]
    assert days == [today.date(), yesterday.date()]
    for day in (yesterday.date(), today.date()):
        progress = progress_of(record, day)
        assert (progress.days, progress.first_day) == (2, yesterday.date())
        for form in (progress_text, progress_csv, progress_json):
            assert form(progress)


def test_a_clock_set_back_within_a_drill_stops_no_countdown_and_never_turns_it_back(
    record: Record, asked: tuple[Question, Loop]
) -> None:
    now = datetime(2026, 3, 5, 19, tzinfo=UTC)
    drill = drill_at(record, now)
    answer(drill, asked, now + GAP)
    left_s = [drill.seconds_left(now + GAP)]
    back = now - timedelta(days=1)
    left_s.append(drill.seconds_left(back))
    answer(drill, asked, back)
    left_s.append(drill.seconds_left(back))
    left_s.append(drill.seconds_left(back + GAP))
    assert left_s == [585.0, 585.0, 570.0, 550.0]  # 15 s of listening each, then 20 s
    assert len(drill.answers) == record.count_answers() == 2


def test_a_drill_that_is_held_counts_from_its_first_question(
    record: Record, asked: tuple[Question, Loop]
) -> None:
    now = datetime(2026, 3, 5, 19, tzinfo=UTC)
    drill = drill_at(record, now)
    drill.hold()
    assert drill.seconds_left(now + 4 * GAP) == 600.0
    drill.run(now + 4 * GAP)
    drill.run(now + 5 * GAP)  # it runs already
    assert drill.seconds_left(now + 5 * GAP) == 580.0
    answer(drill, asked, now + 5 * GAP)
    assert drill.seconds_left(now + 6 * GAP) == 565.0


def test_what_is_scored_on_a_day_before_the_last_answer_is_what_is_scored_on_that_day(
    record: Record, asked: tuple[Question, Loop]
) -> None:
    """Nobody gets better by setting the clock back, and a lost cache gives the same again."""
    now = datetime(2026, 3, 5, 19, tzinfo=UTC)
    answer(drill_at(record, now), asked, now)
    answer(drill_at(record, now), asked, now - timedelta(days=1))
    there = scored_of(record, now.date()).ability.log2_finest()
    back = scored_of(record, now.date() - timedelta(days=1)).ability.log2_finest()
    for one, other in zip(there, back, strict=True):
        assert one.tolist() == other.tolist()
    forget_ability(record)
    anew = scored_of(record, now.date())
    assert anew.ability.day == now.date().toordinal()


@pytest.mark.usefixtures("_in_berlin")
@pytest.mark.parametrize(
    ("before", "after", "day"),
    [
        ((2026, 3, 29, 0, 59, 50), (2026, 3, 29, 1, 0, 10), date(2026, 3, 29)),  # 2 h is 3 h
        ((2026, 10, 25, 0, 59, 50), (2026, 10, 25, 1, 0, 10), date(2026, 10, 25)),  # 3 h is 2 h
    ],
    ids=["spring", "autumn"],
)
def test_a_drill_across_a_change_of_clocks_goes_on_by_the_seconds_that_passed(
    record: Record,
    asked: tuple[Question, Loop],
    before: tuple[int, ...],
    after: tuple[int, ...],
    day: date,
) -> None:
    drill = drill_at(record, local(*before))
    answer(drill, asked, local(*before))
    answer(drill, asked, local(*after))
    hours = [kept.answered_at.hour for kept in drill.answers]
    assert hours == ([1, 3] if day.month == 3 else [2, 2])
    assert drill.seconds_left(local(*after)) == 600.0 - 15.0 - 20.0
    again = drill_at(record, local(*after))
    assert again.answers == drill.answers
    assert [kept.day for kept in again.answers] == [day, day]


@pytest.mark.usefixtures("_in_berlin")
@pytest.mark.parametrize(
    ("last_minute", "first_minute"),
    [
        ((2026, 3, 28, 22, 59), (2026, 3, 28, 23, 1)),  # still UTC+1
        ((2026, 3, 29, 21, 59), (2026, 3, 29, 22, 1)),  # a day of 23 hours ends
        ((2026, 10, 24, 21, 59), (2026, 10, 24, 22, 1)),  # still UTC+2
        ((2026, 10, 25, 22, 59), (2026, 10, 25, 23, 1)),  # a day of 25 hours ends
    ],
)
def test_today_ends_at_midnight_where_the_learner_is(
    record: Record,
    asked: tuple[Question, Loop],
    last_minute: tuple[int, ...],
    first_minute: tuple[int, ...],
) -> None:
    drill = drill_at(record, local(*last_minute))
    answer(drill, asked, local(*last_minute))
    assert drill_at(record, local(*last_minute)).answers == drill.answers
    assert drill_at(record, local(*first_minute)).answers == []
    (kept,) = record.answers_on(local(*last_minute).date())
    assert kept == drill.answers[0]
