"""The log counted: everything about past answers that needs no model, by SQL over its indexes.

Each figure is one pass over an index that holds all it needs (see ``schema``), so that a record of
300,000 answers is counted in a fraction of a second, and nothing of it is held in memory.
Medians carry the interval of their order statistics, which asks nothing of the distribution
(H. A. David and H. N. Nagaraja, "Order Statistics", 3rd ed., 2003, section 7.1).
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from itertools import groupby
from statistics import NormalDist
from typing import Final

from exercises.kinds import Kind
from trainer.record import Record
from trainer.skills import Skill

EXACT_UP_TO: Final = 200
"""Up to so many values the ranks of a median's interval come of exact binomial sums."""
_Z95: Final = NormalDist().inv_cdf(0.975)


@dataclass(frozen=True, slots=True)
class Median:
    """The median of ``count`` values with a 95 % interval.

    Of fewer than six values no interval of that confidence exists: ``low`` and ``high`` are None.
    """

    count: int
    median: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Tally:
    """So many answers of one sort; ``band`` and ``answered_band`` are None without a frequency."""

    kind: Kind
    band: int | None
    answered_kind: Kind
    answered_band: int | None
    sure: bool
    named: bool
    count: int


@dataclass(frozen=True, slots=True)
class Week:
    """One week of practice from ``monday`` on: days and minutes practised, seconds to answer.

    ``seconds`` is None in a week of fix rounds alone.
    """

    monday: date
    days: int
    minutes: float
    seconds: Median | None


def tallies(record: Record) -> tuple[Tally, ...]:
    """Every sort of answer there was, with how many there were."""
    return tuple(
        Tally(Kind(kind), band, Kind(said), said_band, bool(sure), bool(named), count)
        for kind, band, said, said_band, sure, named, count in record.query(
            "SELECT kind, band, answered_kind, answered_band, sure, named, count(*)"
            " FROM answer WHERE learner_id = ?"
            " GROUP BY kind, band, answered_kind, answered_band, sure, named"
        )
    )


def median_miss(record: Record, skill: Skill) -> Median | None:
    """The median distance, in octaves, of the frequencies named for a tone skill (its kind being
    named rightly) from the truth; None when there was none."""
    if skill.band_index is None:
        return None
    which = (skill.problem, skill.band_index)
    where = "FROM answer WHERE learner_id = ? AND kind = ? AND band = ?"
    where += " AND abs(miss_octaves) IS NOT NULL"
    count = int(next(record.query(f"SELECT count(*) {where}", which))[0])
    if count == 0:
        return None

    def ranked(rank: int) -> float:
        rows = record.query(
            f"SELECT abs(miss_octaves) {where} ORDER BY abs(miss_octaves) LIMIT 1 OFFSET ?",
            (*which, rank - 1),
        )
        return float(next(rows)[0])

    low, high = median_ranks(count) or (None, None)
    return Median(
        count,
        (ranked((count + 1) // 2) + ranked(count // 2 + 1)) / 2.0,
        None if low is None else ranked(low),
        None if high is None else ranked(high),
    )


def weeks(record: Record) -> Iterator[Week]:
    """Every week with an answer or a fix round in it, oldest first."""
    answers = record.query(
        "SELECT day, seconds, spent_s FROM answer WHERE learner_id = ? ORDER BY day, seconds"
    )
    fixes = record.query(
        "SELECT day, NULL, spent_s FROM fix_round WHERE learner_id = ? ORDER BY day"
    )
    rows = heapq.merge(answers, fixes, key=lambda row: row[0])
    for monday, in_week in groupby(rows, key=lambda row: _monday(row[0])):
        days, seconds, spent_s = zip(*in_week, strict=True)
        to_answer = sorted(each for each in seconds if each is not None)
        median = median_of(to_answer) if to_answer else None
        yield Week(monday, len(set(days)), sum(spent_s) / 60.0, median)


def latest_names_hz(record: Record, skill: Skill, count: int) -> tuple[float, ...]:
    """The frequencies named on the latest ``count`` questions of a tone skill that named one."""
    rows = record.query(
        "SELECT answered_hz FROM answer WHERE id IN (SELECT id FROM answer WHERE learner_id = ?"
        " AND kind = ? AND band = ? AND answered_band IS NOT NULL ORDER BY id DESC LIMIT ?)",
        (skill.problem, skill.band_index, count),
    )
    return tuple(float(row[0]) for row in rows)


def median_of(ordered: Sequence[float]) -> Median:
    """The median of values in rising order. Raises ValueError when there are none."""
    count = len(ordered)
    if count == 0:
        raise ValueError("nothing has no median")
    ranks = median_ranks(count)
    return Median(
        count,
        (ordered[(count - 1) // 2] + ordered[count // 2]) / 2.0,
        None if ranks is None else ordered[ranks[0] - 1],
        None if ranks is None else ordered[ranks[1] - 1],
    )


@lru_cache(maxsize=4096)
def median_ranks(count: int) -> tuple[int, int] | None:
    """Ranks, from 1, of the values that bound the median with 95 % confidence or more.

    The widest k with P(Binomial(count, 1/2) < k) <= 2.5 %: the k-th value from either end. None
    below six values. Beyond ``EXACT_UP_TO``, by the normal approximation, rounded outwards.
    """
    if count > EXACT_UP_TO:
        k = math.floor((count + 1) / 2.0 - _Z95 * math.sqrt(count) / 2.0)
        return k, count + 1 - k
    below, k = 0.0, 0
    while (below := below + math.comb(count, k) / 2.0**count) <= 0.025:
        k += 1
    return (k, count + 1 - k) if k else None


@lru_cache(maxsize=512)
def _monday(day: str) -> date:
    at = date.fromisoformat(day)
    return at - timedelta(days=at.weekday())
