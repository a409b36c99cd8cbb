"""What counts as practice: from one answer to the next, up to ninety seconds."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from trainer.pace import LONGEST_GAP_S, seconds_between, seconds_spent_on

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("seconds", "since_last", "counted"),
    [
        (12.0, None, 12.0),
        (12.0, 20.0, 20.0),
        (12.0, 5.0, 12.0),
        (500.0, None, LONGEST_GAP_S),
        (12.0, 3600.0, LONGEST_GAP_S),
        (12.0, -3600.0, 12.0),
    ],
    ids=["the first", "with its review", "its own", "to the door", "tea", "a clock set back"],
)
def test_an_answer_stands_for_the_time_since_the_last(
    seconds: float, since_last: float | None, counted: float
) -> None:
    last = None if since_last is None else AT - timedelta(seconds=since_last)
    assert seconds_spent_on(seconds, last, AT) == counted


@pytest.mark.parametrize(("seconds", "counted"), [(30.0, 30.0), (91.0, 90.0), (-1.0, 0.0)])
def test_what_runs_counts_as_well(seconds: float, counted: float) -> None:
    assert seconds_between(AT, AT + timedelta(seconds=seconds)) == counted
