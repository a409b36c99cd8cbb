"""Fix rounds in the record: what was offered, what was picked or made, and what it left.

One row a round, written once, when its review opens. ``drill_id`` and ``number`` say before which
question of which drill it stood; both are None for rounds taken on their own.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from exercises.move_fields import fix_to_list, read_fix
from exercises.recipe import Recipe, read_recipe
from trainer import __version__
from trainer.fix_round import FixResult, Sort
from trainer.pace import FixTime, seconds_spent_on, seconds_spent_on_fix
from trainer.record import Record


@dataclass(frozen=True, slots=True)
class KeptFix:
    """One row. ``seconds``: from the first sound to the answer."""

    answered_at: datetime
    drill_id: int | None
    number: int | None
    result: FixResult
    seconds: float
    version: str


_MOST_OFFERED: Final = 16
_COLUMNS: Final = (
    "answered_at, drill_id, number, sort, recipe, seed, offered, fix, smallest, heard, left_db,"
    " damage_db, seconds, version, marked, true_order"
)


def keep_fix(record: Record, kept: KeptFix) -> None:
    """Writes a round to disk; ``answered_at`` is an aware local time."""
    result = kept.result
    last = None
    if kept.drill_id is not None and kept.number is not None:
        last = _settled(record, kept.drill_id, kept.number, kept.answered_at)
    spent_s = seconds_spent_on_fix(FixTime(kept.answered_at, kept.seconds), last)
    record.change(
        f"INSERT INTO fix_round (learner_id, {_COLUMNS}, day, spent_s)"
        f" VALUES ({', '.join('?' * 19)})",
        (
            kept.answered_at.isoformat(),
            kept.drill_id,
            kept.number,
            result.sort.value,
            json.dumps(result.recipe.to_dict(), sort_keys=True),
            result.seed,
            json.dumps([fix_to_list(fix) for fix in result.offered]),
            json.dumps(fix_to_list(result.fix)),
            json.dumps(fix_to_list(result.smallest)),
            result.heard,
            result.left_db,
            result.damage_db,
            kept.seconds,
            kept.version,
            json.dumps(result.marked),
            json.dumps(result.true_order),
            kept.answered_at.date().isoformat(),
            spent_s,
        ),
    )


def _settled(record: Record, drill_id: int, number: int, answered_at: datetime) -> datetime | None:
    """When the answer before question ``number`` was given. Where rounds are read from an export,
    that question is answered there already: its time is counted anew, from the round on."""
    rows = list(
        record.query(
            "SELECT id, answered_at, seconds FROM answer"
            " WHERE learner_id = ? AND drill_id = ? ORDER BY id LIMIT ?",
            (drill_id, number),
        )
    )
    before, after = rows[: number - 1], rows[number - 1 :]
    for row_id, at, seconds in after:
        record.change(
            "UPDATE answer SET spent_s = ?3 WHERE learner_id = ?1 AND id = ?2",
            (row_id, seconds_spent_on(seconds, answered_at, datetime.fromisoformat(at))),
        )
    return datetime.fromisoformat(before[-1][1]) if before else None


def new_kept_fix(
    result: FixResult,
    now: datetime,
    seconds: float,
    place: tuple[int | None, int] | None = None,
) -> KeptFix:
    """A round as it is kept; ``place`` is the drill and the number of the question after it."""
    drill_id, number = (None, None) if place is None else place
    return KeptFix(now, drill_id, number, result, seconds, __version__)


def kept_fixes(record: Record) -> Iterator[KeptFix]:
    """Every fix round of the learner, in the order in which they were kept."""
    for row in record.query(f"SELECT {_COLUMNS} FROM fix_round WHERE learner_id = ? ORDER BY id"):
        yield KeptFix(
            answered_at=datetime.fromisoformat(row[0]),
            drill_id=row[1],
            number=row[2],
            result=FixResult(
                Sort(row[3]),
                read_recipe(json.loads(row[4])),
                row[5],
                tuple(read_fix(fix) for fix in json.loads(row[6])),
                read_fix(json.loads(row[7])),
                read_fix(json.loads(row[8])),
                bool(row[9]),
                row[10],
                row[11],
                tuple(json.loads(row[14])),
                tuple(json.loads(row[15])),
            ),
            seconds=row[12],
            version=row[13],
        )


def count_fixes(record: Record) -> int:
    """How many fix rounds the learner has taken."""
    counts = record.query("SELECT count(*) FROM fix_round WHERE learner_id = ?")
    return int(next(counts)[0])


def fix_was_taken(record: Record, drill_id: int, number: int) -> bool:
    """Whether the fix round before question ``number`` of a drill is behind the learner."""
    found = record.query(
        "SELECT 1 FROM fix_round WHERE learner_id = ? AND drill_id = ? AND number = ?",
        (drill_id, number),
    )
    return next(found, None) is not None


def kept_fix_to_dict(kept: KeptFix) -> dict[str, Any]:
    """The round as JSON holds it, for an export; without the drill, whose number is the file's."""
    result = kept.result
    return {
        "answered_at": kept.answered_at.isoformat(),
        "number": kept.number,
        "sort": result.sort.value,
        "recipe": result.recipe.to_dict(),
        "seed": result.seed,
        "offered": [fix_to_list(fix) for fix in result.offered],
        "fix": fix_to_list(result.fix),
        "smallest": fix_to_list(result.smallest),
        "heard": result.heard,
        "left_db": result.left_db,
        "damage_db": result.damage_db,
        "seconds": kept.seconds,
        "version": kept.version,
        "marked": list(result.marked),
        "true_order": list(result.true_order),
    }


def read_kept_fix(
    fields: Mapping[str, Any], answered_at: datetime, recipe: Recipe, drill_id: int | None
) -> KeptFix:
    """The round in ``fields``, as ``kept_fix_to_dict`` gave them; what is read already beside it.

    Raises:
        ValueError: a field is missing, of the wrong type or out of range; the error names it.
    """
    offered, heard, version = (fields.get(name) for name in ("offered", "heard", "version"))
    if not isinstance(offered, list) or len(offered) > _MOST_OFFERED:
        raise ValueError(f"'offered' {offered!r} is no list of fixes")
    if not isinstance(heard, bool):
        raise ValueError(f"'heard' {heard!r} is no bool")
    if not isinstance(version, str):
        raise ValueError(f"'version' {version!r} is no str")
    number = None if fields.get("number") is None else _count(fields, "number")
    result = FixResult(
        _sort(fields.get("sort")),
        recipe,
        _count(fields, "seed"),
        tuple(read_fix(fix) for fix in offered),
        read_fix(fields.get("fix")),
        read_fix(fields.get("smallest")),
        heard,
        _size(fields, "left_db"),
        _size(fields, "damage_db"),
        _places(fields, "marked", len(offered)),
        _places(fields, "true_order", len(offered)),
    )
    if not set(result.marked) <= set(result.true_order):
        raise ValueError(f"'marked' {fields['marked']!r} are not all in 'true_order'")
    return KeptFix(answered_at, drill_id, number, result, _size(fields, "seconds"), version)


def _sort(word: object) -> Sort:
    if word not in [sort.value for sort in Sort]:
        raise ValueError(f"'sort' {word!r} is none of {', '.join(Sort)}")
    return Sort(word)


def _count(fields: Mapping[str, Any], name: str) -> int:
    value = fields.get(name)
    if type(value) is not int or not 0 <= value < 2**63:
        raise ValueError(f"'{name}' {value!r} is no count")
    return value


def _places(fields: Mapping[str, Any], name: str, count: int) -> tuple[int, ...]:
    """Numbers from 1 to ``count``, each at most once; none in what an earlier version wrote."""
    value = fields.get(name, [])
    known = isinstance(value, list) and all(type(place) is int for place in value)
    if not (known and len(set(value)) == len(value) and set(value) <= set(range(1, count + 1))):
        raise ValueError(f"'{name}' {value!r} is no order of 1 to {count}")
    return tuple(value)


def _size(fields: Mapping[str, Any], name: str) -> float:
    value = fields.get(name)
    if type(value) not in (int, float) or not 0.0 <= value < math.inf:  # type: ignore[operator]
        raise ValueError(f"'{name}' {value!r} is no number from 0 up")
    return float(value)  # type: ignore[arg-type]
