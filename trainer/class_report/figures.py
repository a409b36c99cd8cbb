"""What the page shows of one set, as plain data, from queries over the ledger."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from exercises.bands import BANDS
from exercises.kinds import Kind
from trainer.assignments.result import SetHead
from trainer.class_report.item_analysis import (
    FEWEST,
    Discrimination,
    Sums,
    group_size,
    point_biserial,
    verdict_of,
)
from trainer.class_report.ledger import COLUMNS, Ledger
from trainer.statistics import Share, share_of

KINDS: Final = tuple(Kind)
COLUMN_NAMES: Final = (*(band.name for band in BANDS), "dynamics", "level", "nothing")
_MOST_CONFUSIONS: Final = 8
_OF_COUNTED: Final = "FROM answer JOIN try ON try.id = answer.try_id WHERE set_id = ? AND counted"


@dataclass(frozen=True, slots=True)
class Row:
    """One student's counted try of a set: ``cells`` are (named, asked) a column. ``unheard`` are
    the bands that did not sound there."""

    student: str
    name: str
    named: int
    answered: int
    asked: int
    cells: tuple[tuple[int, int], ...]
    late: bool
    finished: bool
    handed_in: datetime
    finest_check: str
    unheard: frozenset[int]

    @property
    def asked_unheard(self) -> int:
        """How many questions lay in bands that did not sound."""
        return sum(self.cells[band][1] for band in self.unheard)


@dataclass(frozen=True, slots=True)
class OtherTry:
    """A result that does not count, and why."""

    name: str
    file: str
    status: str
    named: int
    answered: int


@dataclass(frozen=True, slots=True)
class Item:
    """One question of a set. ``fooled``: of a question that hid nothing, how many named a problem;
    ``missed``: of one that hid something, how many said "nothing"."""

    number: int
    truth: str
    share: Share
    discrimination: Discrimination | None
    fooled: int | None
    missed: int | None
    verdict: str


@dataclass(frozen=True, slots=True)
class SetFigures:
    """One set: who did how, what was taken for what, and how its questions did."""

    head: SetHead
    from_file: bool
    rows: tuple[Row, ...]
    columns: tuple[int, ...]
    class_shares: tuple[Share, ...]
    total: Share
    change: tuple[float | None, ...]
    kinds_named: tuple[tuple[int, ...], ...]
    bands_named: tuple[tuple[int, ...], ...]
    items: tuple[Item, ...]
    others: tuple[OtherTry, ...]
    missing: tuple[str, ...]

    @property
    def late(self) -> tuple[str, ...]:
        """Names of those who were late."""
        return tuple(row.name for row in self.rows if row.late)

    @property
    def unfinished(self) -> tuple[str, ...]:
        """Names of those who left before the end."""
        return tuple(row.name for row in self.rows if not row.finished)


def set_figures(
    ledger: Ledger,
    head: SetHead,
    everyone: Mapping[str, str],
    earlier: Sequence[Share] | None,
    *,
    from_file: bool,
) -> SetFigures:
    """The figures of one set. ``everyone``: names by student key; ``earlier``: the class shares
    of the set before, by column."""
    rows = _rows(ledger, head)
    handed_in = {row.student for row in rows}
    shares = tuple(
        share_of(
            sum(row.cells[column][0] for row in rows if column not in row.unheard),
            sum(row.cells[column][1] for row in rows if column not in row.unheard),
        )
        for column in range(COLUMNS)
    )
    return SetFigures(
        head=head,
        from_file=from_file,
        rows=rows,
        columns=tuple(
            column for column in range(COLUMNS) if any(row.cells[column][1] for row in rows)
        ),
        class_shares=shares,
        total=share_of(sum(row.named for row in rows), sum(row.answered for row in rows)),
        change=tuple(
            _change(share, None if earlier is None else earlier[column])
            for column, share in enumerate(shares)
        ),
        kinds_named=_table(ledger, head.id, "kind", "said_kind", len(KINDS)),
        bands_named=_table(ledger, head.id, "band", "said_band", len(BANDS)),
        items=_items(ledger, head.id),
        others=_others(ledger, head.id),
        missing=tuple(name for key, name in everyone.items() if key not in handed_in),
    )


def _change(now: Share, before: Share | None) -> float | None:
    if before is None or now.share is None or before.share is None:
        return None
    return now.share - before.share


def _rows(ledger: Ledger, head: SetHead) -> tuple[Row, ...]:
    cells: dict[int, list[tuple[int, int]]] = defaultdict(lambda: [(0, 0)] * COLUMNS)
    for try_id, column, named, count in ledger.rows(
        f"SELECT try_id, place, sum(answer.named), count(*) {_OF_COUNTED} GROUP BY try_id, place",
        (head.id,),
    ):
        cells[try_id][column] = (named, count)
    tries = ledger.rows(
        "SELECT id, student, name, named, answered, late, finished, handed_in, finest, unheard"
        " FROM try WHERE set_id = ? AND counted ORDER BY student",
        (head.id,),
    )
    return tuple(
        Row(
            student,
            name,
            named,
            answered,
            head.questions,
            tuple(cells[try_id]),
            bool(late),
            bool(finished),
            datetime.fromtimestamp(handed_in).astimezone(),
            check,
            frozenset(map(int, unheard.split())),
        )
        for try_id, student, name, named, answered, late, finished, handed_in, check, unheard in (
            tries
        )
    )


def _table(
    ledger: Ledger, set_id: str, there: str, said: str, size: int
) -> tuple[tuple[int, ...], ...]:
    table = [[0] * size for _ in range(size)]
    for was, named, count in ledger.rows(
        f"SELECT {there}, {said}, count(*) {_OF_COUNTED} AND {there} IS NOT NULL"
        f" AND {said} IS NOT NULL GROUP BY {there}, {said}",
        (set_id,),
    ):
        table[was][named] += count
    return tuple(map(tuple, table))


def _others(ledger: Ledger, set_id: str) -> tuple[OtherTry, ...]:
    return tuple(
        OtherTry(*row)
        for row in ledger.rows(
            "SELECT name, file, status, named, answered FROM try"
            " WHERE set_id = ? AND NOT counted ORDER BY student, started",
            (set_id,),
        )
    )


def _items(ledger: Ledger, set_id: str) -> tuple[Item, ...]:
    in_order = [
        row[0]
        for row in ledger.rows(
            "SELECT id FROM try WHERE set_id = ? AND counted ORDER BY named, credit, id", (set_id,)
        )
    ]
    count = len(in_order)
    group = group_size(count)
    sides = ((-1, try_id) for try_id in in_order[:group])
    ledger.change("UPDATE try SET side = ? WHERE id = ?", sides)
    sides = ((1, try_id) for try_id in in_order[count - group :])
    ledger.change("UPDATE try SET side = ? WHERE id = ?", sides)
    truths = dict(ledger.rows("SELECT number, truth FROM question WHERE set_id = ?", (set_id,)))
    nothing = KINDS.index(Kind.NOTHING)
    items = []
    for (
        number,
        kind,
        asked,
        right,
        rest,
        squared,
        product,
        upper,
        uppers,
        lower,
        lowers,
        said,
    ) in ledger.rows(
        "SELECT answer.number, kind, count(*), sum(answer.named), sum(try.named - answer.named),"
        " sum((try.named - answer.named) * (try.named - answer.named)),"
        " sum(answer.named * (try.named - answer.named)),"
        " sum(answer.named * (side = 1)), sum(side = 1),"
        " sum(answer.named * (side = -1)), sum(side = -1),"
        f" sum(said_kind = {nothing}) {_OF_COUNTED} GROUP BY answer.number"
        " ORDER BY answer.number",
        (set_id,),
    ):
        share = share_of(right, asked)
        assert share.share is not None
        told = None
        if count >= FEWEST and uppers and lowers:
            sums = Sums(asked, right, rest, squared, product)
            told = Discrimination(point_biserial(sums), upper / uppers - lower / lowers)
        hides_nothing = kind == nothing
        items.append(
            Item(
                number,
                truths.get(number, ""),
                share,
                told,
                asked - said if hides_nothing else None,
                None if hides_nothing else said,
                verdict_of(share.share, told),
            )
        )
    return tuple(items)
