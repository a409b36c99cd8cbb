"""A four-hour drill in compressed time: real rules, a real record, and blocks pulled as a sound
card pulls them, 1.44 s of them to a question; for the endurance test and benchmark.

The learner is simulated and the clock is ours; all else is the program's own. Now and then a
question is listened to: what sounded is held against the question made once more from what the
record says was asked.
"""

from __future__ import annotations

import hashlib
import json
import random
import sqlite3
import time
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np
import psutil

from exercises.kinds import TONE, Kind
from exercises.loop_writing import write_loop
from exercises.loops import WHOLE_MIX
from exercises.question import Question, make_question
from exercises.recipe import Recipe, read_recipe
from exercises.samples import RATE_HZ, Samples, db_to_gain
from tests.synthetic_loops import small_band
from trainer.answer_fields import answer_plain
from trainer.drill import Drill
from trainer.judging import WHOLE_LOOP, Answer
from trainer.loop_shelf import LoopShelf
from trainer.planner import Limits
from trainer.playhead import FADE_FRAMES
from trainer.record import FILE_NAME, Listening, Record
from trainer.round import Round
from trainer.window.sound import Sound

BLOCK: Final = 512
B_BLOCKS, A_BLOCKS, FIX_BLOCKS = 108, 13, 14
QUESTION_S: Final = (B_BLOCKS + A_BLOCKS + FIX_BLOCKS) * BLOCK / RATE_HZ
QUESTIONS_IN_FOUR_HOURS: Final = round(4 * 3600 / QUESTION_S)
VOLUME_DB: Final = -20.0
HIGHEST_DB: Final = -1.0  # dBTP; no sample lies above its true peak
LOOPS: Final = {"short": 1.0, "longer": 1.5}  # names and seconds


@dataclass
class Endured:
    """What a long drill came to; ``rss`` in bytes, one reading every ``every`` questions."""

    every: int
    answered: int = 0
    on_disk: int = 0
    blocks: int = 0
    undelivered: int = 0
    wall_ms: array[float] = field(default_factory=lambda: array("d"))  # a list would weigh more
    own_ms: array[float] = field(default_factory=lambda: array("d"))
    listened: int = 0
    rss: list[int] = field(default_factory=list)
    answers_sha: str = ""
    record_sha: str = ""

    def rss_after(self, questions: int) -> float:
        """Median of three readings from ``questions`` on: one may fall into a passing need."""
        first = questions // self.every - 1
        return float(np.median(self.rss[first : first + 3]))


class Card:
    """Pulls blocks from a playhead, as a sound card does, and keeps what each cost."""

    def __init__(self, sound: Sound, told: Endured) -> None:
        self._sound = sound
        self._told = told
        self._out = np.empty((BLOCK, 2), dtype=np.float32)
        self.captured: list[Samples] | None = None

    def pull(self, blocks: int) -> None:
        """Takes so many blocks; a frame that was not written stays NaN, and is seen."""
        told = self._told
        for _ in range(blocks):
            self._out.fill(np.nan)
            wall, own = time.perf_counter(), time.thread_time()
            self._sound.playhead.fill(self._out)
            own, wall = time.thread_time() - own, time.perf_counter() - wall
            if told.blocks % 32 == 0:  # one in so many is kept: enough to know, little to hold
                told.own_ms.append(1000.0 * own)
                told.wall_ms.append(1000.0 * wall)
            told.blocks += 1
            if self._sound.playhead.error is not None or not np.isfinite(self._out).all():
                told.undelivered += 1
            if self.captured is not None:
                self.captured.append(self._out.copy())


def endure(folder: Path, questions: int, *, every: int, listen_every: int) -> Iterator[Endured]:
    """Drills, and tells what it came to so far after each ``every`` questions and at the end."""
    shelf = _shelf(folder)
    record = Record(folder, "Enna", "test")
    now = datetime(2026, 3, 5, 9, tzinfo=UTC)
    drill = Drill(record, shelf, Limits(loops=tuple(LOOPS), minutes=240.0), 11, now)
    drill.begin_next()
    told, random_ = Endured(every), random.Random(5)
    notices: list[str] = []
    sound = Sound(VOLUME_DB, notices.append, silent=True)
    card, digest, me = Card(sound, told), hashlib.sha256(), psutil.Process()
    for number in range(1, questions + 1):
        round_ = drill.next_round()
        listen = number % listen_every == 0
        card.captured = [] if listen else None
        question = round_.question
        sound.take({"B": question.b, "A": question.a})
        sound.choose("B")
        card.pull(B_BLOCKS)
        sound.choose("A")
        card.pull(A_BLOCKS)
        sound.choose("B")
        _mark(round_, random_)
        now += timedelta(seconds=QUESTION_S)
        listening = Listening(
            QUESTION_S, sound.switches, sound.heard_s("A"), sound.heard_s("B"), sound.alone_s
        )
        review = drill.answer(round_, sure=random_.random() < 0.7, listening=listening, now=now)
        digest.update(_line(question.recipe, review.answer).encode())
        sound.add({"fix": review.fixed})
        sound.choose("fix")
        card.pull(FIX_BLOCKS)
        round_.close()
        told.answered = number
        if listen:
            assert card.captured is not None
            _listen(np.concatenate(card.captured), _last_recipe(folder), question, shelf)
            told.listened += 1
        if number % every == 0 or number == questions:
            told.rss.append(me.memory_info().rss)
            told.on_disk = _count(folder)
            if number == questions:
                sound.close()
                drill.close()
                record.close()
                told.answers_sha, told.record_sha = digest.hexdigest(), _sha_of_record(folder)
            yield told


def _shelf(folder: Path) -> LoopShelf:
    for number, (name, seconds) in enumerate(LOOPS.items()):
        write_loop(small_band(seconds, level_db=-12.0, seed=1 + number), folder / "loops" / name)
    return LoopShelf(folder / "loops")


def _mark(round_: Round, random_: random.Random) -> None:
    """A learner who names large problems, misses small ones, and mixes up some."""
    recipe = round_.question.recipe
    heard = random_.random() < 1.0 - 2.0 ** -((recipe.size_db / 4.0) ** 2)
    if round_.tracks:
        round_.mark_track(recipe.track or WHOLE_MIX)
    if round_.passages:
        round_.mark_passage(recipe.passage or WHOLE_LOOP)
    if recipe.kind is Kind.NOTHING or not heard:
        round_.mark_kind(Kind.NOTHING)
        return
    for problem in recipe.problems:
        round_.mark_kind(problem.kind if random_.random() < 0.9 else Kind.TOO_LITTLE)
        if round_.kind in TONE:
            round_.mark_freq((problem.freq_hz or 1000.0) * 2.0 ** random_.gauss(0.0, 0.3))
        if round_.wants_another:
            round_.keep_first()


def _listen(captured: Samples, recipe: Recipe, asked: Question, shelf: LoopShelf) -> None:
    """What sounded is what the record says was asked: faded, in time, and never too loud."""
    again = make_question(recipe, shelf.get(recipe.loop))
    gain, frames = db_to_gain(VOLUME_DB), len(again.b)
    fade = np.arange(1, FADE_FRAMES + 1)[:, np.newaxis] / FADE_FRAMES
    # The old sound ends in silence, the new one begins at the loop's start.
    assert float(np.abs(captured[FADE_FRAMES - 1]).max()) == 0.0
    place = np.arange(B_BLOCKS * BLOCK - FADE_FRAMES) % frames
    b = again.b[place] * np.float32(gain)
    b[:FADE_FRAMES] *= fade.astype(np.float32)
    heard_b = captured[FADE_FRAMES : B_BLOCKS * BLOCK]
    np.testing.assert_allclose(heard_b, b, atol=2e-6)
    np.testing.assert_array_equal(asked.b, again.b)
    if recipe.kind is not Kind.NOTHING:
        a = again.a[place] * np.float32(gain)
        assert float(np.abs(heard_b[FADE_FRAMES:] - a[FADE_FRAMES:]).max()) > 1e-4
    assert float(np.abs(captured).max()) <= gain * db_to_gain(HIGHEST_DB) + 1e-6


def _line(recipe: Recipe, answer: Answer) -> str:
    return json.dumps([recipe.to_dict(), answer_plain(answer)], sort_keys=True) + "\n"


def _rows(folder: Path, sql: str) -> list[tuple[str, ...]]:
    """As another program reads them: only what is on disk."""
    db = sqlite3.connect(folder / FILE_NAME)
    try:
        return db.execute(sql).fetchall()
    finally:
        db.close()


def _count(folder: Path) -> int:
    return int(_rows(folder, "SELECT count(*) FROM answer")[0][0])


def _last_recipe(folder: Path) -> Recipe:
    (row,) = _rows(folder, "SELECT recipe FROM answer ORDER BY id DESC LIMIT 1")
    return read_recipe(json.loads(row[0]))


def _sha_of_record(folder: Path) -> str:
    digest = hashlib.sha256()
    for recipe, answer in _rows(folder, "SELECT recipe, answer FROM answer ORDER BY id"):
        digest.update(json.dumps([json.loads(recipe), json.loads(answer)], sort_keys=True).encode())
        digest.update(b"\n")
    return digest.hexdigest()
