"""A drill that is killed in the midst of it, again and again: ``python -m tests.killed_drill``.

FOLDER KILLS SEED: a parent that has made one question forks a child for each kill. The child takes
up the day's drill and answers as fast as it can, and tells the number of each answer once it is
written; the parent kills it (SIGKILL: nothing can be put in order) after a few answers and a
moment more, drawn from SEED. One line of JSON for each kill says what was left.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.question import Question, make_question
from exercises.recipe import Recipe
from tests.synthetic_loops import small_band
from trainer.drill import Drill
from trainer.limits import Limits
from trainer.loop_shelf import LoopShelf
from trainer.record import FILE_NAME, Listening, Record
from trainer.round import Review, Round

DAY = datetime(2026, 3, 5, 9, tzinfo=UTC)
LIMITS = Limits(minutes=240.0)


class PreparedDrill(Drill):
    """A drill whose next question is there at once: always the same."""

    def begin_next(self) -> None:
        """Nothing to make."""


class UnreviewedRound(Round):
    """A round whose review takes no time: it is killed in writing, not in working that out."""

    def open_review(self) -> Review:
        """No review."""
        return None  # type: ignore[return-value]


def answer_for_ever(folder: Path, question: Question, loop: Loop, told: int) -> None:
    """The child: answers until it is killed."""
    record = Record(folder, "Kim", "test")
    record._db.execute("PRAGMA wal_autocheckpoint = 20")  # so that it is killed in some of them
    drill = PreparedDrill(record, LoopShelf(folder / "loops"), LIMITS, 3, DAY)
    os.write(told, b"0\n")
    while True:
        number = drill.number
        round_ = UnreviewedRound(question, loop)
        round_.mark_kind(Kind.TOO_MUCH)
        round_.mark_freq(200.0)
        now = DAY + timedelta(seconds=number)
        drill.answer(round_, sure=True, listening=Listening(number, 1, 0.5, 1.5), now=now)
        os.write(told, f"{number}\n".encode())


def kill_once(folder: Path, question: Question, loop: Loop, draw: random.Random) -> None:
    """Forks, lets it answer, kills it."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        answer_for_ever(folder, question, loop, write)
    os.close(write)
    with os.fdopen(read) as lines:
        told = []
        for _ in range(draw.choice((0, 1, 1, 2, 3, 6))):
            told.append(int(lines.readline()))
        time.sleep(draw.random() * 0.01)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        told += [int(line) for line in lines if line.endswith("\n")]
    print(json.dumps({"told": max(told, default=None), **left_in(folder)}), flush=True)


def left_in(folder: Path) -> dict[str, object]:
    """What a program that opens the record next finds in it."""
    db = sqlite3.connect(folder / FILE_NAME)
    whole = db.execute("PRAGMA integrity_check").fetchone()[0]
    db.close()
    record = Record(folder, "Kim", "test")
    drill = PreparedDrill(record, LoopShelf(folder / "loops"), LIMITS, 3, DAY)
    numbers = [kept.listening.seconds for kept in drill.answers]
    drills = sum(1 for _ in record.drills())
    record.close()
    return {
        "whole": whole,
        "answers": len(numbers),
        "in_order": numbers == list(range(1, len(numbers) + 1)),
        "drills": drills,
    }


def main() -> None:
    folder, kills, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    loop = small_band(1.0, level_db=-12.0)
    recipe = Recipe(1, "test loop", loop.fingerprint, Kind.TOO_MUCH, 12.0, 200.0, 1.4)
    question = make_question(recipe, loop)
    draw = random.Random(seed)
    for _ in range(kills):
        kill_once(folder, question, loop, draw)


if __name__ == "__main__":
    main()
