"""What Progress says of fix rounds: counts and medians against numbers worked out by hand."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from exercises.kinds import Kind
from exercises.moves import EqPoint, Ride
from exercises.recipe import Recipe
from tests.filled_record import fill
from trainer.fix_counts import fix_counts
from trainer.fix_round import FixResult, Sort
from trainer.kept_fixes import keep_fix, new_kept_fix
from trainer.progress import progress_of
from trainer.progress_forms import progress_json, progress_text
from trainer.progress_words import fix_sentence
from trainer.record import Record

AT = datetime(2026, 3, 5, 19, 30, tzinfo=UTC)
RECIPE = Recipe(3, "quay", "f" * 64, Kind.TOO_MUCH, 6.0, 200.0, 1.0)
ONE = (EqPoint(200.0, -6.0, 1.0),)
# Moves made, whether it is heard, left, damage: eight choices.
ROUNDS = (
    (1, False, 0.0, 0.0),
    (1, False, 0.1, 0.0),
    (1, False, 0.0, 0.2),
    (2, False, 0.3, 0.1),
    (2, False, 0.4, 0.0),
    (4, False, 0.5, 0.0),
    (1, True, 4.0, 0.5),
    (3, True, 0.5, 3.0),
)


def _record(folder: Path) -> Record:
    record = Record(folder, "ada", "1.0")
    for number, (moves, heard, left_db, damage_db) in enumerate(ROUNDS):
        fix = (*ONE, *(Ride(0.5),) * (moves - 1))
        result = FixResult(Sort.CHOICE, RECIPE, number, (), fix, ONE, heard, left_db, damage_db)
        keep_fix(record, new_kept_fix(result, AT + timedelta(minutes=number), 20.0))
    opened = FixResult(Sort.OPEN, RECIPE, 99, (), ONE, ONE, False, 0.1, 0.0)
    keep_fix(record, new_kept_fix(opened, AT + timedelta(hours=1), 60.0))
    return record


def test_shares_and_medians_are_those_counted_by_hand(tmp_path: Path) -> None:
    choice, made = fix_counts(_record(tmp_path))
    assert (choice.sort, choice.rounds, made.sort, made.rounds) == ("choice", 8, "open", 1)
    assert (choice.works.right, choice.works.total) == (6, 8)
    assert (choice.simplest.right, choice.simplest.total) == (3, 8)
    # Wilson's interval for 6 of 8 at 95 %: 40.9 to 92.9 % (E. B. Wilson, JASA 22, 1927).
    assert choice.works.low == pytest.approx(0.409, abs=0.001)
    assert choice.works.high == pytest.approx(0.929, abs=0.001)
    assert choice.moves_over is not None
    assert choice.left_db is not None
    assert choice.moves_over.median == 0.5  # of 0 0 0 1 1 3
    assert choice.left_db.median == pytest.approx(0.35)  # of 0 .1 .2 .3 .4 .5 3 4
    # Ranks 1 and 8 bound the median of eight with 99.2 % (binomial, n 8, p 1/2).
    assert (choice.left_db.low, choice.left_db.high) == (0.0, 4.0)


def test_few_rounds_are_not_enough_yet(tmp_path: Path) -> None:
    choice, made = fix_counts(_record(tmp_path))
    assert fix_sentence(made) == "Making a fix: 1 round, not enough yet."
    assert fix_sentence(choice) == (
        "Choosing the simplest fix: 8 rounds; works 6 of 8, 75 % (41 to 93); "
        "simplest 3 of 8, 38 % (14 to 69); 0.5 move (0.0 to 3.0) over the simplest; "
        "0.3 dB (0.0 to 4.0) left."
    )


def test_an_empty_record_has_none_of_either(tmp_path: Path) -> None:
    for counts in fix_counts(Record(tmp_path, "bo", "1")):
        assert counts.rounds == 0
        assert fix_sentence(counts).endswith("0 rounds, not enough yet.")


def test_progress_tells_them_in_text_and_in_json(tmp_path: Path) -> None:
    record = _record(tmp_path)
    fill(record, 12)
    progress = progress_of(record, date(2026, 3, 6))
    assert "  Making a fix: 1 round, not enough yet." in progress_text(progress).splitlines()
    plain = json.loads(progress_json(progress))["fixes"]
    assert [each["sort"] for each in plain] == ["choice", "open"]
    assert plain[0]["works"]["right"] == 6
    assert plain[0]["moves_over"]["median"] == 0.5
