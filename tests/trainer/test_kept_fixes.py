"""Fix rounds in the record, carried out and in, and counted."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from exercises.kinds import Kind
from exercises.loops import Passage
from exercises.moves import Compressor, EqPoint, HighShelf, LowShelf, Ride
from exercises.recipe import Recipe
from trainer import schema
from trainer.exchange import BadExchange, export_record, import_record
from trainer.fix_round import FixResult, Sort
from trainer.kept_fixes import (
    KeptFix,
    count_fixes,
    fix_was_taken,
    keep_fix,
    kept_fix_to_dict,
    kept_fixes,
    new_kept_fix,
)
from trainer.record import Record
from trainer.schema import MIGRATIONS

AT = datetime(2026, 3, 5, 19, 30, tzinfo=UTC)
RECIPE = Recipe(3, "quay", "f" * 64, Kind.TOO_MUCH, 6.0, 200.0, 1.0, "guitar")
ONE = (EqPoint(200.0, -6.0, 1.0, "guitar"),)
OFFERED = (
    (LowShelf(120.0, 6.0, "guitar"), HighShelf(350.0, 6.0, "guitar")),
    ONE,
    tuple(Ride(0.5, Passage(f"bar {bar}", bar, bar + 1), "guitar") for bar in range(8)),
    (Compressor(3.0, track="guitar"),),
)
CHOICE = FixResult(
    Sort.CHOICE, RECIPE, 77, OFFERED, OFFERED[3], ONE, True, 4.5, 0.25, (4, 2), (2, 1, 4, 3)
)
OPEN = FixResult(Sort.OPEN, RECIPE, 78, (), ONE, ONE, False, 0.0, 0.125)


def _record(folder: Path) -> tuple[Record, list[KeptFix]]:
    record = Record(folder, "ada", "1.0")
    drill_id = record.start_drill(AT.date(), {"seed": 1})
    kept = [
        new_kept_fix(CHOICE, AT, 31.5, (drill_id, 4)),
        new_kept_fix(OPEN, AT + timedelta(minutes=3), 80.0),
    ]
    for each in kept:
        keep_fix(record, each)
    return record, kept


def _lines(record: Record) -> list[str]:
    out = io.StringIO()
    export_record(record, out)
    return out.getvalue().splitlines(keepends=True)


def test_rounds_come_back_as_they_were_kept(tmp_path: Path) -> None:
    record, kept = _record(tmp_path)
    record.close()
    again = Record(tmp_path, "ada", "1.0")
    assert list(kept_fixes(again)) == kept
    assert count_fixes(again) == 2


def test_another_learner_has_none_of_them(tmp_path: Path) -> None:
    _record(tmp_path)
    assert count_fixes(Record(tmp_path, "bo", "1.0")) == 0


def test_a_round_of_a_drill_is_known_to_be_taken(tmp_path: Path) -> None:
    record, kept = _record(tmp_path)
    drill_id = kept[0].drill_id
    assert drill_id is not None
    assert fix_was_taken(record, drill_id, 4)
    assert not fix_was_taken(record, drill_id, 5)
    assert not fix_was_taken(record, drill_id + 1, 4)


def test_they_are_carried_out_and_in_once(tmp_path: Path) -> None:
    one, kept = _record(tmp_path / "one")
    two = Record(tmp_path / "two", "bo", "2.0")
    other = two.start_drill(AT.date(), {"seed": 5})  # so that drills have other numbers here
    imported = import_record(two, _lines(one))
    assert (imported.fix_rounds, imported.drills, imported.already) == (2, 1, 0)
    assert list(kept_fixes(two)) == [replace(kept[0], drill_id=other + 1), kept[1]]
    again = import_record(two, _lines(one))
    assert (again.fix_rounds, again.already) == (0, 3)
    assert count_fixes(two) == 2


def test_an_export_from_before_there_were_fix_rounds_is_taken(tmp_path: Path) -> None:
    head = {
        "format": "namefirst record",
        "version": 1,
        "learner": "ada",
        "drills": 0,
        "answers": 0,
        "settings": 0,
    }
    assert import_record(Record(tmp_path, "bo", "1"), [json.dumps(head)]).fix_rounds == 0


def test_a_round_from_before_an_order_was_asked_for_is_taken(tmp_path: Path) -> None:
    one, kept = _record(tmp_path / "one")
    lines = []
    for line in _lines(one):
        plain = json.loads(line)
        for name in ("marked", "true_order"):
            plain.get("fix_round", {}).pop(name, None)
        lines.append(json.dumps(plain))
    two = Record(tmp_path / "two", "bo", "2.0")
    import_record(two, lines)
    first = next(kept_fixes(two)).result
    assert first == replace(kept[0].result, marked=(), true_order=())
    assert first.swapped == ()


def test_rows_of_the_schema_before_have_no_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file as the version before wrote it: the columns are added, and the row is there."""
    before = next(at for at, step in enumerate(MIGRATIONS) if "ADD COLUMN true_order" in str(step))
    with monkeypatch.context() as patch:
        patch.setattr(schema, "MIGRATIONS", MIGRATIONS[:before])
        record = Record(tmp_path, "ada", "1.0")
        plain = kept_fix_to_dict(new_kept_fix(CHOICE, AT, 1.0))
        written = ("recipe", "offered", "fix", "smallest")
        row = {
            name: json.dumps(value) if name in written else value
            for name, value in plain.items()
            if name not in ("marked", "true_order")
        }
        record.change(
            f"INSERT INTO fix_round (learner_id, {', '.join(row)})"
            f" VALUES (?, {', '.join('?' * len(row))})",
            tuple(row.values()),
        )
        record.close()
    (kept,) = kept_fixes(Record(tmp_path, "ada", "1.0"))
    assert kept.result == replace(CHOICE, marked=(), true_order=())


@pytest.mark.parametrize(
    ("field", "value", "why"),
    [
        ("fix", [{"move": "eq point"}], "'freq_hz'|'q'|'gain_db'|'track'"),
        ("fix", "cut", "a fix is a list"),
        ("offered", 4, "'offered' 4"),
        ("sort", "guess", "'sort' 'guess'"),
        ("heard", 1, "'heard' 1"),
        ("left_db", -1.0, "'left_db' -1.0"),
        ("damage_db", "0", "'damage_db' '0'"),
        ("seed", -1, "'seed' -1"),
        ("number", 1.5, "'number' 1.5"),
        ("drill", 99, "'drill' is of no drill above it"),
        ("seconds", None, "'seconds' None"),
        ("version", 1, "'version' 1"),
        ("marked", [5], "'marked' .5. is no order of 1 to 4"),
        ("marked", [2, 2], "'marked' .2, 2. is no order"),
        ("true_order", [1, 2], "are not all in 'true_order'"),
        ("recipe", {}, "'recipe|recipe field"),
    ],
)
def test_a_damaged_round_refuses_the_file_whole(
    tmp_path: Path, field: str, value: Any, why: str
) -> None:
    one, _ = _record(tmp_path / "one")
    lines = _lines(one)
    place = next(at for at, line in enumerate(lines) if line.startswith('{"fix_round"'))
    plain = json.loads(lines[place])
    plain["fix_round"][field] = value
    lines[place] = json.dumps(plain)
    two = Record(tmp_path / "two", "bo", "2.0")
    with pytest.raises(BadExchange, match=f"line {place + 1}: .*({why})"):
        import_record(two, lines)
    assert count_fixes(two) == 0
    assert not list(two.drills())
