"""The time of fix rounds: counted once, with what is idle left out, in a drill and in Progress."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from exercises.kinds import Kind
from exercises.moves import EqPoint
from exercises.recipe import Recipe
from trainer.drill import Drill
from trainer.exchange import export_record, import_record
from trainer.fix_plan import fix_round_is_due
from trainer.fix_round import FixResult, Sort
from trainer.judging import Answer
from trainer.kept_fixes import keep_fix, new_kept_fix
from trainer.limits import MOST_FIXES, Limits
from trainer.loop_shelf import LoopShelf
from trainer.pace import LONGEST_FIX_S, ActiveTime, FixTime, seconds_spent, seconds_spent_on_fix
from trainer.progress import progress_of
from trainer.progress_counts import weeks
from trainer.progress_forms import progress_csv, progress_text
from trainer.record import Listening, Record
from trainer.study import may_open_before

AT = datetime(2026, 3, 5, 19, 30, tzinfo=UTC)
RECIPE = Recipe(3, "quay", "f" * 64, Kind.TOO_MUCH, 6.0, 200.0, 1.0)
ONE = (EqPoint(200.0, -6.0, 1.0),)
RESULT = FixResult(Sort.CHOICE, RECIPE, 1, (ONE,), ONE, ONE, False, 0.0, 0.0, (1,), (1,))


def after(seconds: float) -> datetime:
    return AT + timedelta(seconds=seconds)


@pytest.mark.parametrize(
    ("seconds", "before_s", "counted"),
    [
        (40.0, None, 40.0),  # on its own
        (40.0, 60.0, 60.0),  # the review before it took twenty more
        (200.0, 210.0, 210.0),  # longer than any gap, and none of it idle
        (40.0, 900.0, 130.0),  # someone was at the door in between
        (40.0, 10.0, 40.0),
        (-5.0, None, 0.0),
        (1e9, None, LONGEST_FIX_S),
    ],
)
def test_a_fix_round_counts_its_own_seconds_and_the_gap_before(
    seconds: float, before_s: float | None, counted: float
) -> None:
    last = None if before_s is None else after(-before_s)
    assert seconds_spent_on_fix(FixTime(AT, seconds), last) == pytest.approx(counted)


def test_what_is_idle_between_two_acts_is_left_out() -> None:
    at_it = ActiveTime(100.0)
    for now_s in (110.0, 150.0, 1150.0, 1160.0):
        at_it.act(now_s)
    assert at_it.seconds == 10.0 + 40.0 + 90.0 + 10.0


def _record(folder: Path) -> tuple[Record, int]:
    """A question, a fix round of two minutes, a question: 20, 5 + 120 and 15 seconds."""
    record = Record(folder, "ada", "1.0")
    drill_id = record.start_drill(AT.date(), {"seed": 1, "limits": {}})
    heard = Listening(20.0, 3, 9.0, 9.0, 0.0)
    answer = Answer(Kind.TOO_MUCH, 200.0, sure=True)
    record.keep(drill_id, AT, RECIPE, answer, heard)
    keep_fix(record, new_kept_fix(RESULT, after(125.0), 120.0, (drill_id, 2)))
    record.keep(drill_id, after(140.0), RECIPE, answer, Listening(10.0, 1, 4.0, 4.0, 0.0))
    return record, drill_id


def test_in_a_drill_no_second_is_counted_twice(tmp_path: Path) -> None:
    record, drill_id = _record(tmp_path)
    answers = list(record.answers(drill_id=drill_id))
    assert seconds_spent(answers, record.fix_times(drill_id)) == pytest.approx(160.0)
    progress = progress_of(record, date(2026, 3, 6))
    assert progress.minutes == pytest.approx(160.0 / 60.0)
    assert progress.weeks[0].minutes == pytest.approx(160.0 / 60.0)


def test_a_clock_set_back_within_a_drill_leaves_earlier_answers_their_time(tmp_path: Path) -> None:
    record = Record(tmp_path, "ada", "1.0")
    drill_id = record.start_drill(AT.date(), {"seed": 1, "limits": {}})
    answer = Answer(Kind.TOO_MUCH, 200.0, sure=True)
    record.keep(drill_id, AT, RECIPE, answer, Listening(20.0, 3, 9.0, 9.0, 0.0))
    an_hour_back = AT - timedelta(hours=1)
    keep_fix(record, new_kept_fix(RESULT, an_hour_back, 30.0, (drill_id, 2)))
    assert [week.minutes for week in weeks(record)] == pytest.approx([50.0 / 60.0])


def test_carried_to_another_record_the_minutes_are_the_same(tmp_path: Path) -> None:
    """Its answers are read before its fix rounds there."""
    record, _ = _record(tmp_path / "one")
    out = io.StringIO()
    export_record(record, out)
    other = Record(tmp_path / "two", "bo", "1.0")
    import_record(other, out.getvalue().splitlines(keepends=True))
    one, two = (list(weeks(each)) for each in (record, other))
    assert [week.minutes for week in two] == pytest.approx([week.minutes for week in one])


def test_who_took_fix_rounds_alone_has_practised(tmp_path: Path) -> None:
    record = Record(tmp_path, "bo", "1.0")
    for number in range(8):
        keep_fix(record, new_kept_fix(RESULT, AT + timedelta(days=number), 45.0))
    progress = progress_of(record, date(2026, 3, 20))
    assert (progress.days, progress.minutes, progress.answers) == (8, 6.0, 0)
    lines = progress_text(progress).splitlines()
    assert "8 days practised since 5 March 2026, 6 minutes, 0 answers, 8 fix rounds." in lines
    assert any("Choosing the simplest fix: 8 rounds; works 8 of 8" in line for line in lines)
    rows = progress_csv(progress).splitlines()
    assert any(row.startswith("fix rounds: choice,2026-03-20,8,8,") for row in rows)


def test_a_fix_round_and_a_guided_minute_never_fall_together() -> None:
    opens = [number for number in range(1, 200) if may_open_before(number)]
    assert opens[:2] == [13, 28]
    for seed in range(40):
        for in_ten in (1, 4, MOST_FIXES):
            assert not any(fix_round_is_due(seed, number, in_ten) for number in opens)


def test_the_most_rounds_are_eight_in_ten_and_seven_where_a_minute_may_open() -> None:
    for seed in range(5):
        due = [fix_round_is_due(seed, number, MOST_FIXES) for number in range(1, 41)]
        tens = [sum(due[first : first + 10]) for first in range(0, 40, 10)]
        assert tens == [8, 7, 7, 8]  # minutes: before the 13th and the 28th


def test_the_rounds_are_of_this_drill(tmp_path: Path) -> None:
    record, drill_id = _record(tmp_path)
    assert record.fix_times(drill_id) == [FixTime(after(125.0), 120.0)]
    assert record.fix_times(drill_id + 1) == []


def test_what_passes_while_a_drill_is_shut_or_held_costs_none_of_its_minutes(
    tmp_path: Path,
) -> None:
    record = Record(tmp_path, "ada", "1.0")
    limits, answer = Limits(minutes=10.0), Answer(Kind.TOO_MUCH, 200.0, sure=True)
    drill_id = record.start_drill(AT.date(), {"seed": 1, "limits": limits.to_dict()})
    record.keep(drill_id, AT, RECIPE, answer, Listening(20.0, 3, 9.0, 9.0, 0.0))
    shelf, later = LoopShelf(tmp_path / "loops"), after(1800.0)
    drill = Drill(record, shelf, limits, 2, later)
    assert drill.id == drill_id
    drill.hold()
    assert drill.seconds_left(later) == 580.0
    drill.run(later)
    assert drill.seconds_left(after(1830.0)) == 550.0
    drill._count(
        record.keep(drill_id, after(1830.0), RECIPE, answer, Listening(30.0, 3, 9.0, 9.0, 0.0))
    )
    drill.hold()
    assert drill.seconds_left(after(3600.0)) == 550.0
    drill.run(after(3600.0))
    drill.leave(after(3640.0))  # forty seconds at a question that was not answered
    drill.close()
    again = Drill(record, shelf, limits, 2, after(7200.0))
    again.hold()
    assert again.seconds_left(after(7200.0)) == 510.0
    again.close()
    record.close()
