"""Ten thousand recipes against the cap: the highest true peak and the loudest of A and B.

Each figure is an amplitude or power beside the most that it may be, so a ratio over 1 is a fault.
Takes some minutes.
"""

from __future__ import annotations

from collections.abc import Iterator

from exercises.samples import db_to_gain
from tests.output_cap import CAP_DBTP, worst_of

RECIPES = 10_000


def rows() -> Iterator[tuple[str, float, float, float | None]]:
    over_db, louder_lu, measured = worst_of(range(RECIPES))
    what = f"of {RECIPES:,} recipes, {measured:,} sounds"
    cap = db_to_gain(CAP_DBTP)
    yield f"highest true peak {what}", cap * db_to_gain(over_db), cap, 1.00001
    yield f"loudest A or B {what}", db_to_gain(louder_lu), 1.0, 1.0001
