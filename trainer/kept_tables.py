"""What can be heard on each loop, worked out once and kept: ``exercises.askable_table`` on disk.

One JSON file a loop, named after its sound and the model's version, so that a table can never be
taken for another loop's or another model's. Whatever is damaged or missing is worked out anew.
This module loads what is slow to import, so import it behind the first screen.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from exercises.askable_table import AskableTable, askable_table, read_table
from exercises.audibility import MODEL_VERSION
from exercises.errors import BadLoop
from exercises.loops import Loop


def table_of(
    loop: Loop, folder: Path, progress: Callable[[float], None] | None = None
) -> AskableTable:
    """The table of ``loop``: the one kept in ``folder``, or a new one, which is then kept there.

    A new one takes seconds; ``progress`` is told the share that is done, and may raise to give up.
    """
    path = folder / f"{loop.fingerprint}-{MODEL_VERSION}.json"
    kept = _read(path)
    if kept is not None and kept.fits(loop):
        return kept
    table = askable_table(loop, progress=progress)
    # Where the disk refuses it, it is worked out again the next time.
    with suppress(OSError):
        _write(table, path)
    return table


def _read(path: Path) -> AskableTable | None:
    try:
        return read_table(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, BadLoop):
        return None


def _write(table: AskableTable, path: Path) -> None:
    """In one move, so that a half-written table is never found."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_suffix(f".{os.getpid()}.part")
    beside.write_text(json.dumps(table.to_dict()), encoding="utf-8")
    beside.replace(path)
