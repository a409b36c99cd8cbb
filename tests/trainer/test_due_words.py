"""What is due today, in words."""

from __future__ import annotations

import pytest

from trainer.words import due_sentence


@pytest.mark.parametrize(
    ("minutes", "begins"),
    [
        (10.0, "Today: 10 minutes. "),
        (1.0, "Today: 1 minute. "),
        (0.5, "Today: 0.5 minutes. "),
    ],
)
def test_minutes_are_counted_as_they_are_said(minutes: float, begins: str) -> None:
    assert due_sentence(minutes, 0, 60.0 * minutes).startswith(begins)


@pytest.mark.parametrize(
    ("answered", "begins"), [(1, "after 1 question; 6 min 40 s"), (3, "after 3 questions; 6 min")]
)
def test_a_drill_that_stopped_says_what_is_left(answered: int, begins: str) -> None:
    assert begins in due_sentence(10.0, answered, 400.0)
