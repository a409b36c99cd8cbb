"""How fix rounds went: shares and medians with their intervals, for Progress."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.fix_round import Sort
from trainer.kept_fixes import KeptFix, kept_fixes
from trainer.progress_counts import Median, median_of
from trainer.record import Record
from trainer.statistics import Share, share_of


@dataclass(frozen=True, slots=True)
class FixCounts:
    """Rounds of one sort.

    ``works``: the share whose fix leaves nothing to be heard; ``simplest``: in no more moves than
    the simplest. ``moves_over``: moves over the simplest, of those that work; ``left_db``: what is
    left or spoiled, whichever is more, as change of excitation in the ear. None without any.
    """

    sort: str
    rounds: int
    works: Share
    simplest: Share
    moves_over: Median | None
    left_db: Median | None


def fix_counts(record: Record) -> tuple[FixCounts, ...]:
    """One for each sort, in the order of ``Sort``."""
    kept = list(kept_fixes(record))
    return tuple(_counts(sort, [one for one in kept if one.result.sort is sort]) for sort in Sort)


def _counts(sort: Sort, kept: Sequence[KeptFix]) -> FixCounts:
    results = [each.result for each in kept]
    over = sorted(float(result.moves_over) for result in results if not result.heard)
    left_db = sorted(max(result.left_db, result.damage_db) for result in results)
    return FixCounts(
        sort.value,
        len(results),
        share_of(len(over), len(results)),
        share_of(sum(result.simplest for result in results), len(results)),
        median_of(over) if over else None,
        median_of(left_db) if left_db else None,
    )
