"""Chain checks in the record, one row a check, by the name of the output that was checked.

The drill leaves out the bands that did not reach the learner on the output in use, until that one
is checked again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from exercises.bands import BANDS
from exercises.errors import NamefirstError
from exercises.kinds import Kind
from trainer import __version__
from trainer.chain import Counted, Reach, reach_of
from trainer.limits import Limits
from trainer.record import Record

_OUTPUT: Final = "output"


@dataclass(frozen=True, slots=True)
class KeptCheck:
    """The latest check of an output: when, at which volume, and how each band came out."""

    output: str
    checked_at: datetime
    volume_db: float
    reach: tuple[Reach, ...]


def keep_check(
    record: Record, output: str, counted: Iterable[Counted], volume_db: float, now: datetime
) -> KeptCheck:
    """Writes a check to disk, and makes its output the one in use; ``now`` is aware."""
    counted = tuple(counted)
    kept = KeptCheck(output, now, volume_db, reach_of(counted))
    record.change(
        "INSERT INTO chain_check"
        " (learner_id, output, checked_at, volume_db, reach, trials, version)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            output,
            now.isoformat(),
            volume_db,
            json.dumps([reach.value for reach in kept.reach]),
            json.dumps(
                [
                    [each.shown.band_index, each.shown.loud, each.shown.bursts, each.said]
                    for each in counted
                ]
            ),
            __version__,
        ),
    )
    use_output(record, output)
    return kept


def latest_check(record: Record, output: str | None) -> KeptCheck | None:
    """The latest check of ``output``; None where there is none."""
    for row in record.query(
        "SELECT output, checked_at, volume_db, reach FROM chain_check"
        " WHERE learner_id = ? AND output = ? ORDER BY id DESC LIMIT 1",
        (output,),
    ):
        return KeptCheck(
            row[0],
            datetime.fromisoformat(row[1]),
            row[2],
            tuple(Reach(word) for word in json.loads(row[3])),
        )
    return None


def checked_outputs(record: Record) -> tuple[str, ...]:
    """The names of all outputs that were checked, the latest first."""
    rows = record.query(
        "SELECT output FROM chain_check WHERE learner_id = ? GROUP BY output ORDER BY max(id) DESC"
    )
    return tuple(row[0] for row in rows)


def use_output(record: Record, output: str) -> None:
    """Makes ``output`` the one in use."""
    record.set_setting(_OUTPUT, output)


def output_in_use(record: Record) -> str | None:
    """The output in use, as the learner named it; None before any check."""
    name = record.setting(_OUTPUT)
    return name if isinstance(name, str) else None


def bands_not_reproduced(record: Record, output: str | None) -> frozenset[int]:
    """The bands that did not reach the learner when ``output`` was last checked."""
    kept = latest_check(record, output)
    if kept is None:
        return frozenset()
    return frozenset(index for index, reach in enumerate(kept.reach) if reach is Reach.NOT)


def within_reach(limits: Limits, missing: frozenset[int]) -> Limits:
    """``limits`` without the bands that are ``missing``.

    Raises:
        NamefirstError: nothing is left to ask.
    """
    if not missing:
        return limits
    wanted = range(len(BANDS)) if limits.bands is None else limits.bands
    left = tuple(index for index in wanted if index not in missing)
    kinds = limits.kinds
    if kinds is None and limits.bands is None:
        kinds = tuple(Kind)  # with bands alone only tone would be asked
    try:
        return replace(limits, bands=left, kinds=kinds)
    except NamefirstError:
        raise NamefirstError(
            "none of the bands asked for reaches you on this output: "
            "check it again with: namefirst chain"
        ) from None
