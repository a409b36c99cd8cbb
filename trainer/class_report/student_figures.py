"""What the page shows of one student, over all sets of the class."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from exercises.bands import BANDS
from exercises.kinds import Kind
from trainer.ability import ENOUGH_ANSWERS, Estimate
from trainer.assignments.result import SetHead
from trainer.class_report.ledger import Ledger
from trainer.skills import Skill, skill_of_key
from trainer.statistics import Share, share_of, wilson_interval

KINDS: Final = tuple(Kind)
_MOST_CONFUSIONS: Final = 8
_MANY_FALSE_ALARMS: Final = 0.25


@dataclass(frozen=True, slots=True)
class Standing:
    """How a student did in one set, and the change of the share since the one before, with its
    95 % interval (None for the first)."""

    title: str
    share: Share
    change: tuple[float, float, float] | None
    late: bool


@dataclass(frozen=True, slots=True)
class Student:
    """One student over all sets; finest sizes are those of the newest set and the one before."""

    key: str
    name: str
    standings: tuple[Standing, ...]
    finest: tuple[tuple[Skill, Estimate], ...]
    before: dict[Skill, Estimate]
    confusions: tuple[tuple[str, str, int], ...]
    false_alarms: Share
    practise: str
    unheard: tuple[str, ...]


def newcombe_change(now: Share, before: Share) -> tuple[float, float, float] | None:
    """The difference of two shares with its 95 % interval: R. G. Newcombe, Statistics in Medicine
    17 (1998), method 10, from the Wilson interval of each. None where one is of nothing."""
    if now.total == 0 or before.total == 0:
        return None
    now_share, before_share = now.right / now.total, before.right / before.total
    now_low, now_high = wilson_interval(now.right, now.total)
    before_low, before_high = wilson_interval(before.right, before.total)
    difference = now_share - before_share
    below = math.hypot(now_share - now_low, before_high - before_share)
    above = math.hypot(now_high - now_share, before_share - before_low)
    return difference, difference - below, difference + above


def students(ledger: Ledger, heads: Sequence[SetHead]) -> Iterator[Student]:
    """Every student with a counted try, in order of names; ``heads`` from the oldest set on."""
    order = {head.id: place for place, head in enumerate(heads)}
    tries: dict[str, list[tuple[int, int, str, int, int, bool]]] = defaultdict(list)
    for try_id, set_id, student, name, named, answered, late in ledger.rows(
        "SELECT id, set_id, student, name, named, answered, late FROM try WHERE counted"
        " ORDER BY student"
    ):
        tries[student].append((order[set_id], try_id, name, named, answered, bool(late)))
    for key, mine in tries.items():
        mine.sort()
        yield _student(ledger, key, mine, heads)


def _student(
    ledger: Ledger,
    key: str,
    mine: list[tuple[int, int, str, int, int, bool]],
    heads: Sequence[SetHead],
) -> Student:
    standings = []
    before: Share | None = None
    for place, _, _, named, answered, late in mine:
        share = share_of(named, answered)
        change = None if before is None else newcombe_change(share, before)
        standings.append(Standing(heads[place].title, share, change, late))
        before = share
    newest = mine[-1][1]
    finest = tuple(_finest(ledger, newest))
    unheard = _unheard(ledger, newest)
    confusions, alarms = _confusions(ledger, [each[1] for each in mine])
    return Student(
        key,
        mine[-1][2],
        tuple(standings),
        finest,
        dict(_finest(ledger, mine[-2][1])) if len(mine) > 1 else {},
        confusions,
        alarms,
        practise_sentence(
            [pair for pair in finest if pair[0].band_index not in unheard], confusions, alarms
        ),
        tuple(BANDS[band].name for band in sorted(unheard)),
    )


def _finest(ledger: Ledger, try_id: int) -> Iterator[tuple[Skill, Estimate]]:
    for key, size_db, low_db, high_db, answers in ledger.rows(
        "SELECT skill, size_db, low_db, high_db, answers FROM finest WHERE try_id = ?", (try_id,)
    ):
        yield skill_of_key(key), Estimate(size_db, low_db, high_db, answers)


def _unheard(ledger: Ledger, try_id: int) -> frozenset[int]:
    """The bands that the student's output did not bring."""
    (words,) = next(ledger.rows("SELECT unheard FROM try WHERE id = ?", (try_id,)))
    return frozenset(map(int, words.split()))


def _confusions(
    ledger: Ledger, try_ids: Sequence[int]
) -> tuple[tuple[tuple[str, str, int], ...], Share]:
    """What was taken for what, the most frequent first; and the false alarms."""
    pairs: dict[tuple[str, str], int] = defaultdict(int)
    nothing = KINDS.index(Kind.NOTHING)
    asked = alarms = 0
    for try_id in try_ids:
        for kind, band, said_kind, said_band, named, count in ledger.rows(
            "SELECT kind, band, said_kind, said_band, named, count(*) FROM answer"
            " WHERE try_id = ? GROUP BY kind, band, said_kind, said_band, named",
            (try_id,),
        ):
            if kind == nothing:
                asked += count
                alarms += count * (said_kind != nothing)
            if not named:
                pairs[_called(kind, band), _called(said_kind, said_band)] += count
    most = sorted(pairs.items(), key=lambda pair: (-pair[1], pair[0]))[:_MOST_CONFUSIONS]
    return tuple((was, said, count) for (was, said), count in most), share_of(alarms, asked)


def _called(kind: int, band: int | None) -> str:
    return KINDS[kind].value if band is None else f"{KINDS[kind].value} {BANDS[band].name}"


def skill_words(skill: Skill) -> str:
    """A skill as a row is headed: "too much 250", "level"."""
    if skill.band_index is None:
        return skill.problem
    return f"{skill.problem} {BANDS[skill.band_index].name}"


def practise_sentence(
    finest: Sequence[tuple[Skill, Estimate]],
    confusions: Sequence[tuple[str, str, int]],
    alarms: Share,
) -> str:
    """What to practise: problems heard where there are none, then the surely weakest skill."""
    said = []
    if alarms.low is not None and alarms.low > _MANY_FALSE_ALARMS:
        said.append(
            f"Let more pass: a problem named in {alarms.right} of {alarms.total} of nothing"
        )
    enough = [(skill, each) for skill, each in finest if each.answers >= ENOUGH_ANSWERS]
    if enough:
        # By the low end of the interval: what is surely coarse, not what was hardly asked.
        skill, each = max(enough, key=lambda pair: pair[1].low_db)
        said.append(
            f"{skill_words(skill)}: named from about {each.size_db:.1f} dB"
            f" ({each.low_db:.1f} to {each.high_db:.1f})"
        )
    if confusions and confusions[0][2] > 1:
        was, taken, count = confusions[0]
        said.append(f"{was} taken for {taken} ({count} times)")
    if not said:
        return "Not enough answers yet to say."
    return "; ".join(said) + "."
