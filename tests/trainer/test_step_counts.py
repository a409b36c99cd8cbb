"""Steps counted by hand, and how they are said."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from exercises.kinds import Kind
from exercises.recipe import Recipe
from trainer.judging import Answer
from trainer.progress import progress_of
from trainer.progress_forms import progress_json, progress_text
from trainer.record import Listening, Record
from trainer.statistics import wilson_interval
from trainer.step_counts import step_count_sentence, step_counts

TODAY = date(2026, 3, 1)


@pytest.fixture
def record(tmp_path: Path) -> Record:
    """On step 2: four problems, three named (one at the wrong track), and one "nothing"; on step 1
    one problem, named."""
    kept = Record(tmp_path, "ada", "1")
    drill = kept.start_drill(TODAY, {})
    at = datetime(2026, 3, 1, 12, tzinfo=UTC)
    for number, track in enumerate(("bass", "bass", "bass", "drums")):
        recipe = Recipe(number, "quay", "f" * 64, Kind.SQUASHED, 5.0, track="bass", ask_track=True)
        answer = Answer(Kind.SQUASHED, None, True, track)
        when = at + timedelta(seconds=20 * number)
        kept.keep(drill, when, recipe, answer, Listening(9, 2, 4.0, 6.0, 3.0))
    nothing = Recipe(9, "quay", "f" * 64, Kind.NOTHING, 0.0, ask_track=True)
    silent = Answer(Kind.NOTHING, None, True)
    kept.keep(drill, at + timedelta(seconds=99), nothing, silent, Listening(9, 2, 5.0, 5.0, 8.0))
    plain = Recipe(10, "quay", "f" * 64, Kind.TOO_LOUD, 3.0)
    loud = Answer(Kind.TOO_LOUD, None, True)
    kept.keep(drill, at + timedelta(seconds=120), plain, loud, Listening(9, 2, 5.0, 5.0))
    return kept


def test_a_step_counts_its_problems_and_all_its_listening(record: Record) -> None:
    one, two, *rest = step_counts(record)
    assert (two.step, two.answers, two.named.right, two.named.total) == (2, 5, 3, 4)
    assert (two.named.low, two.named.high) == pytest.approx(wilson_interval(3, 4))
    assert two.alone_share == pytest.approx((4 * 3.0 + 8.0) / 50.0)
    assert (one.answers, one.named.right, one.named.total) == (1, 1, 1)
    assert one.alone_share is None  # there is no track to be heard alone
    assert [(count.answers, count.named.share, count.alone_share) for count in rest] == [
        (0, None, None)
    ] * 5


def test_a_step_in_words(record: Record) -> None:
    one, two, *_ = step_counts(record)
    assert step_count_sentence(two) == (
        "Step 2 of 7: one problem on one track, to be named too; A at hand: 5 answers, "
        "3 of 4, 75 % (30 to 95) named, 40 % of the listening to one track alone."
    )
    assert step_count_sentence(one).endswith("1 answer, 1 of 1, 100 % (21 to 100) named.")


def test_progress_tells_the_step_and_every_step(record: Record) -> None:
    import json

    progress = progress_of(record, TODAY)
    assert progress.step == 1
    text = progress_text(progress)
    assert "you are on step 1" in text
    for count in progress.steps:
        assert step_count_sentence(count) in text
    steps = json.loads(progress_json(progress))["steps"]
    assert steps[1] == {
        "step": 2,
        "answers": 5,
        "named": {
            "right": 3,
            "total": 4,
            "share": 0.75,
            "low": 0.3006,
            "high": 0.9544,
            "interval": 0.95,
        },
        "alone_share": 0.4,
    }


def test_the_count_is_read_off_an_index(record: Record) -> None:
    """So that a record of hundreds of thousands of answers is counted at once."""
    plan = " ".join(
        str(row)
        for row in record.query(
            "EXPLAIN QUERY PLAN SELECT step, kind, named, count(*), sum(heard_a_s + heard_b_s),"
            " sum(alone_s) FROM answer WHERE learner_id = ? GROUP BY step, kind, named"
        )
    )
    assert "COVERING INDEX answer_by_step" in plan
    assert "TEMP B-TREE" not in plan
