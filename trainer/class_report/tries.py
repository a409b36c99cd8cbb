"""Which try of a student counts, by the set's own rule; the others are shown with the reason.

A try that was handed in twice is one try. Of the tries that began first, as many as the set
allows may count; the best, first or last of them does. What is unfinished counts as far as it
goes. Later than due is late, and says so; it counts all the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from trainer.assignments.practice_set import Counts, Terms
from trainer.class_report.ledger import Ledger


@dataclass(frozen=True, slots=True)
class Handed:
    """One result, as far as the rule looks at it; moments in seconds since 1970."""

    id: int
    student: str
    started: float
    handed_in: float
    answered: int
    named: int
    credit: float


@dataclass(frozen=True, slots=True)
class Judged:
    """What becomes of a result: whether it counts, is late, and in words where it does not."""

    id: int
    counted: bool
    late: bool
    status: str


def judge_tries(ledger: Ledger, set_id: str, terms: Terms) -> None:
    """Writes down for every result of a set whether it counts."""
    handed = [
        Handed(*row)
        for row in ledger.rows(
            "SELECT id, student, started, handed_in, answered, named, credit FROM try"
            " WHERE set_id = ? ORDER BY student, started, answered DESC, id",
            (set_id,),
        )
    ]
    judged = [
        each
        for _, tries in groupby(handed, key=lambda one: one.student)
        for each in judged_tries(list(tries), terms)
    ]
    ledger.change(
        "UPDATE try SET counted = ?, late = ?, status = ? WHERE id = ?",
        ((each.counted, each.late, each.status, each.id) for each in judged),
    )


def judged_tries(tries: list[Handed], terms: Terms) -> list[Judged]:
    """The rule, for one student's tries in the order in which they began."""
    distinct: list[Handed] = []
    status: dict[int, str] = {}
    for each in tries:
        if distinct and each.started == distinct[-1].started:
            status[each.id] = "the same try, handed in again"
        else:
            distinct.append(each)
    allowed = distinct[: terms.tries]
    for number, each in enumerate(distinct[terms.tries :], start=terms.tries + 1):
        status[each.id] = f"try {number} of {terms.tries}: not allowed, not counted"
    chosen = _chosen(allowed, terms.counts)
    for each in allowed:
        if each is not chosen:
            status[each.id] = f"another try counts ({terms.counts})"
    due = None if terms.due is None else terms.due.timestamp()
    return [
        Judged(
            each.id,
            each is chosen,
            due is not None and each.handed_in > due,
            status.get(each.id, ""),
        )
        for each in tries
    ]


def _chosen(allowed: list[Handed], counts: Counts) -> Handed:
    if counts is Counts.FIRST:
        return allowed[0]
    if counts is Counts.LAST:
        return allowed[-1]
    return max(allowed, key=lambda each: (each.named, each.credit, -each.started))
