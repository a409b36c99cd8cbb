"""The published values of ``tests/references``, a row at a time, for ``pytest.mark.parametrize``.

Each row holds ``id``, ``quantity``, ``inputs``, ``expected``, ``tolerance`` and ``source``, and how
we know it, ``provenance``: *text* (read in a public text), *library* (computed with the libraries
or formulas named) or *memory* (recalled).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

_FOLDER = Path(__file__).parent / "references"


def rows(table: str, prefix: str) -> list[Any]:
    """Rows of ``table`` whose id starts with ``prefix``, as named parameters; never none."""
    found = [row for row in _read(table) if row["id"].startswith(prefix)]
    assert found, f"no row {prefix} in {table}"
    return [pytest.param(row, id=row["id"]) for row in found]


def row(table: str, name: str) -> dict[str, Any]:
    """The row called ``name``."""
    (found,) = (row for row in _read(table) if row["id"] == name)
    return found


def _read(table: str) -> list[dict[str, Any]]:
    kept: list[dict[str, Any]] = json.loads((_FOLDER / f"{table}.json").read_text("utf-8"))
    return kept
