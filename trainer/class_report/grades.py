"""The grades as CSV: one line a student and set, for a spreadsheet."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from typing import IO

from trainer.class_report.figures import Row, SetFigures
from trainer.statistics import share_of

HEADS = (
    "student",
    "set",
    "set_id",
    "state",
    "named",
    "answered",
    "questions",
    "asked_unheard",
    "share_of_questions",
    "low",
    "high",
    "late",
    "handed_in",
)
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins so would be worked out by a spreadsheet, whoever wrote it."""


def write_grades(out: IO[str], sets: Sequence[SetFigures]) -> None:
    """Writes every counted try, and a line for every one that is missing."""
    table = csv.writer(out, lineterminator="\n")
    table.writerow(HEADS)
    for each in sets:
        for line in _lines(each):
            table.writerow([_plain(cell) for cell in line])


def _lines(each: SetFigures) -> Iterator[list[object]]:
    for row in each.rows:
        yield _line(each, row)
    for name in each.missing:
        blank = [""] * (len(HEADS) - 4)
        yield [name, each.head.title, each.head.id, "missing", *blank]


def _line(each: SetFigures, row: Row) -> list[object]:
    share = share_of(row.named, row.asked)
    assert share.share is not None
    return [
        row.name,
        each.head.title,
        each.head.id,
        "finished" if row.finished else "unfinished",
        row.named,
        row.answered,
        row.asked,
        row.asked_unheard,
        round(share.share, 4),
        round(share.low or 0.0, 4),
        round(share.high or 0.0, 4),
        "yes" if row.late else "no",
        row.handed_in.isoformat(timespec="minutes"),
    ]


def _plain(cell: object) -> object:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell
