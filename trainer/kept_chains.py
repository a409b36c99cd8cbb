"""Chain checks in the record, one row a check, by the name of the output that was checked.

The drill leaves out the bands that did not reach the learner on the output in use, until that one
is checked again; and on an output that never was, the outermost two, unless they were asked for.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from exercises.bands import BANDS
from exercises.errors import NamefirstError
from trainer import __version__
from trainer.chain import Counted, Reach, reach_of
from trainer.limits import Limits
from trainer.record import Record

UNCHECKED: Final = frozenset((0, len(BANDS) - 1))
"""31.5 Hz and 16 kHz, which small loudspeakers and many ears do not bring (common practice, no
source): not asked of anyone for whom no check has shown that they do."""

_OUTPUT: Final = "output"


@dataclass(frozen=True, slots=True)
class KeptCheck:
    """A check of an output: when, at which volume, how each band came out, and every count.

    ``counts``: band, loud or not, bursts, bursts counted.
    """

    output: str
    checked_at: datetime
    volume_db: float
    reach: tuple[Reach, ...]
    counts: tuple[tuple[int, bool, int, int], ...]
    version: str


def keep_check(
    record: Record, output: str, counted: Sequence[Counted], volume_db: float, now: datetime
) -> KeptCheck:
    """Writes a check to disk, and makes its output the one in use; ``now`` is aware."""
    counts = tuple(
        (each.shown.band_index, each.shown.loud, each.shown.bursts, each.said) for each in counted
    )
    kept = KeptCheck(output, now, volume_db, reach_of(counted), counts, __version__)
    write_check(record, kept)
    use_output(record, output)
    return kept


def write_check(record: Record, kept: KeptCheck) -> None:
    """Writes a row."""
    record.change(
        "INSERT INTO chain_check"
        " (learner_id, output, checked_at, volume_db, reach, trials, version)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            kept.output,
            kept.checked_at.isoformat(),
            kept.volume_db,
            json.dumps([reach.value for reach in kept.reach]),
            json.dumps(kept.counts),
            kept.version,
        ),
    )


def kept_checks(record: Record) -> Iterator[KeptCheck]:
    """Every check of the learner, in the order in which they were kept."""
    for row in record.query(
        "SELECT output, checked_at, volume_db, reach, trials, version FROM chain_check"
        " WHERE learner_id = ? ORDER BY id"
    ):
        yield KeptCheck(
            row[0],
            datetime.fromisoformat(row[1]),
            row[2],
            tuple(Reach(word) for word in json.loads(row[3])),
            tuple((band, loud, shown, said) for band, loud, shown, said in json.loads(row[4])),
            row[5],
        )


def latest_check(record: Record, output: str | None) -> KeptCheck | None:
    """The latest check of ``output``; None where there is none."""
    latest: KeptCheck | None = None
    for kept in kept_checks(record):
        if kept.output == output and (latest is None or kept.checked_at >= latest.checked_at):
            latest = kept
    return latest


def check_to_dict(kept: KeptCheck) -> dict[str, Any]:
    """Plain data for JSON; ``read_kept_check`` takes it back."""
    return {
        "output": kept.output,
        "checked_at": kept.checked_at.isoformat(),
        "volume_db": kept.volume_db,
        "reach": [reach.value for reach in kept.reach],
        "counts": [list(count) for count in kept.counts],
        "version": kept.version,
    }


def read_kept_check(fields: Mapping[str, Any], checked_at: datetime) -> KeptCheck:
    """The check that ``check_to_dict`` gave.

    Raises:
        ValueError: a field is missing or not what it should be.
    """
    try:
        kept = KeptCheck(
            str(fields["output"]),
            checked_at,
            float(fields["volume_db"]),
            tuple(Reach(word) for word in fields["reach"]),
            tuple((int(b), bool(loud), int(n), int(said)) for b, loud, n, said in fields["counts"]),
            str(fields["version"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise ValueError(f"a chain check that does not hold together ({error})") from None
    if len(kept.reach) != len(BANDS):
        raise ValueError(f"a chain check of {len(kept.reach)} bands and not {len(BANDS)}")
    return kept


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


def bands_left_out(record: Record, limits: Limits) -> frozenset[int]:
    """The bands that a drill does not ask on the output in use."""
    output = output_in_use(record)
    if latest_check(record, output) is not None:
        return bands_not_reproduced(record, output)
    return UNCHECKED if limits.bands is None else frozenset()


def within_reach(limits: Limits, missing: frozenset[int]) -> Limits:
    """``limits`` without the bands that are ``missing``.

    Raises:
        NamefirstError: nothing is left to ask.
    """
    try:
        return replace(limits, unheard=missing)
    except NamefirstError:
        raise NamefirstError(
            "none of the bands asked for reaches you on this output: "
            "check it again with: namefirst chain"
        ) from None
