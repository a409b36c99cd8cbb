"""Endurance: a four-hour drill of 10,000 questions in compressed time, and what it leaves behind.

Takes half an hour or more; told in steps of a thousand questions. The reference of memory is
itself at question 1,000, of the callback the length of its block, of answers the questions asked.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from exercises.samples import RATE_HZ
from tests.endured_drill import BLOCK, QUESTIONS_IN_FOUR_HOURS, endure

WARM_UP = 1000
EVERY = 100
BLOCK_MS = 1000.0 * BLOCK / RATE_HZ
MEBI = 2.0**20


def rows() -> Iterator[tuple[str, float, float, float | None]]:
    """(what, ours, reference, highest ratio promised) for each measurement."""
    with tempfile.TemporaryDirectory() as folder:
        for told in endure(Path(folder), QUESTIONS_IN_FOUR_HOURS, every=EVERY, listen_every=50):
            if told.answered >= WARM_UP + 2 * EVERY and told.answered % WARM_UP == 0:
                warm = told.rss_after(WARM_UP) / MEBI
                yield f"MiB at question {told.answered} : 1000", told.rss[-1] / MEBI, warm, 1.05
    assert told.answers_sha == told.record_sha
    yield "answers on disk : given", float(told.on_disk), float(told.answered), None
    yield "blocks delivered : pulled", float(told.blocks - told.undelivered), told.blocks, None
    yield "questions listened to and right : asked", told.listened, told.answered / 50, None
    own, wall = np.array(told.own_ms), np.array(told.wall_ms)
    yield "callback's own processor ms, median : block", float(np.median(own)), BLOCK_MS, 0.05
    yield "callback's own processor ms, longest : block", float(own.max()), BLOCK_MS, 1.0
    yield "callback by the clock ms, 99.9 % : block", float(np.quantile(wall, 0.999)), BLOCK_MS, 1.0
