"""What is due today, in words."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from trainer.record import Record
from trainer.words import due_sentence


@pytest.mark.parametrize(
    ("minutes", "begins"),
    [
        (45.0, "Today: 45 minutes. "),
        (10.0, "Today: ten minutes. "),
        (1.0, "Today: one minute. "),
        (1.5, "Today: two minutes. "),
        (0.4, "Today: less than a minute. "),
    ],
)
def test_minutes_are_whole_and_in_words(minutes: float, begins: str) -> None:
    assert due_sentence(minutes, 0, 60.0 * minutes).startswith(begins)


@pytest.mark.parametrize(
    ("answered", "begins"), [(1, "after 1 question; 6 min 40 s"), (3, "after 3 questions; 6 min")]
)
def test_a_drill_that_stopped_says_what_is_left(answered: int, begins: str) -> None:
    assert begins in due_sentence(10.0, answered, 400.0)


def test_a_drill_that_is_done_is_said_to_be(tmp_path: Path) -> None:
    assert due_sentence(10.0, 0, 600.0, done=True).startswith("Today's drill is done.")
    record, today = Record(tmp_path, "ada", "1"), date(2026, 3, 5)
    number = record.start_drill(today, {"limits": {}})
    assert not record.drill_done(today)
    record.end_drill(number)
    assert record.drill_done(today)
    assert not record.drill_done(today + timedelta(days=1))
    record.end_drill(record.start_drill(today + timedelta(days=1), {"set": "week 1"}))
    assert not record.drill_done(today + timedelta(days=1)), "a set is no drill"
    record.close()
