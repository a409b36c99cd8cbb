"""From files to the ledger: which files there are, what is in them, and what had to be refused.

A folder is looked through at its top alone, and links in it are not followed. Many results are
read by several processes side by side, a few at a time, so that memory does not grow with the
class. What the results say of finest sizes is worked out again for some of them (all of a small
class): it takes the scorer a quarter of a millisecond an answer, too long for a million of them.
"""

from __future__ import annotations

import multiprocessing
import os
import random
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from exercises.bands import band_of
from exercises.errors import NamefirstError
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind
from exercises.recipe import Recipe
from trainer import __version__
from trainer.assignments.practice_set import PracticeSet
from trainer.assignments.result import (
    LARGEST_FILE_BYTES,
    Result,
    ability_after,
    finest_of,
    read_result,
)
from trainer.assignments.set_archive import read_set_file
from trainer.assignments.strangers import Refused, read_within
from trainer.class_report.ledger import (
    DYNAMICS_COLUMN,
    LEVEL_COLUMN,
    NOTHING_COLUMN,
    AnswerRow,
    ReadTry,
)
from trainer.record import KeptAnswer
from trainer.words import truth_sentence

MOST_FILES: Final = 50_000
CHECKED_BYTES: Final = 2 * 1024 * 1024
"""Of results: some five thousand answers, a second or two of the scorer's time."""
_SEVERAL: Final = 60
"""From so many results on they are read by several processes."""
_BATCH: Final = 8
_AGREES: Final = 0.01
_KIND_PLACE: Final = {kind: place for place, kind in enumerate(Kind)}

AGREED, DIFFERS, UNCHECKED, OTHER_VERSION = "agreed", "differs", "unchecked", "other version"


@dataclass(frozen=True, slots=True)
class RefusedFile:
    """A file that was left out, and why."""

    file: str
    why: str


@dataclass(frozen=True, slots=True)
class Found:
    """What a teacher pointed at: sets, files that should be results, and what is neither."""

    sets: dict[str, PracticeSet]
    results: tuple[Path, ...]
    refused: tuple[RefusedFile, ...]


def find_files(paths: Sequence[Path]) -> Found:
    """The sets and results at ``paths``, each a folder or a file.

    Raises:
        NamefirstError: a path is not there, or there are too many files.
    """
    sets: dict[str, PracticeSet] = {}
    results: dict[Path, None] = {}
    refused: list[RefusedFile] = []
    for path in _files_at(paths, refused):
        if path.suffix.lower() == ".json":
            results[path] = None
            continue
        try:
            made = read_set_file(path)
            sets[made.id] = made
        except NamefirstError as error:
            refused.append(RefusedFile(str(path), _why(path, error)))
    return Found(sets, tuple(results), tuple(refused))


def _files_at(paths: Sequence[Path], refused: list[RefusedFile]) -> Iterator[Path]:
    count = 0
    for path in paths:
        if not path.is_dir():
            if not path.exists():
                raise NamefirstError(f"{path}: is not there; name a folder or files")
            yield path
            continue
        try:
            with os.scandir(path) as entries:
                for entry in sorted(entries, key=lambda each: each.name):
                    ending = Path(entry.name).suffix.lower()
                    if entry.name.startswith(".") or ending not in (".json", ".toml", ".zip"):
                        continue
                    count += 1
                    if count > MOST_FILES:
                        raise NamefirstError(f"{path}: holds over {MOST_FILES:,} files; split it")
                    if entry.is_file(follow_symlinks=False):
                        yield path / entry.name
                    else:
                        why = "is a link or a folder; put the file itself there"
                        refused.append(RefusedFile(str(path / entry.name), why))
        except OSError as error:
            raise NamefirstError(f"{path}: cannot be read ({error.strerror}); check it") from None


def read_all(
    paths: Sequence[Path], sets: dict[str, PracticeSet]
) -> Iterator[ReadTry | RefusedFile]:
    """Every result, in the order of ``paths``, or why it was refused."""
    checked = _drawn_to_check(paths)
    asked = [(path, path in checked) for path in paths]
    if len(paths) < _SEVERAL:
        _take_sets(sets)
        for each in asked:
            yield _read(*each)
        return
    yield from _read_side_by_side(asked, sets)


def _drawn_to_check(paths: Sequence[Path]) -> set[Path]:
    """Which results are worked out again: drawn afresh each time, so that nobody knows."""
    budget = CHECKED_BYTES
    drawn = set()
    for path in random.SystemRandom().sample(paths, len(paths)):
        try:
            budget -= path.stat().st_size
        except OSError:
            continue
        drawn.add(path)
        if budget <= 0:
            break
    return drawn


def _read_side_by_side(
    asked: list[tuple[Path, bool]], sets: dict[str, PracticeSet]
) -> Iterator[ReadTry | RefusedFile]:
    workers = max(1, min(8, os.cpu_count() or 1))
    batches = (asked[start : start + _BATCH] for start in range(0, len(asked), _BATCH))
    waiting: deque[Future[list[ReadTry | RefusedFile]]] = deque()
    with ProcessPoolExecutor(
        workers, multiprocessing.get_context("spawn"), _take_sets, (sets,)
    ) as pool:
        for batch in batches:
            waiting.append(pool.submit(_read_batch, batch))
            if len(waiting) > 3 * workers:
                yield from waiting.popleft().result()
        while waiting:
            yield from waiting.popleft().result()


_sets: dict[str, PracticeSet] = {}
_told: set[tuple[str, int]] = set()
"""Questions whose truth was put into words already: once is enough for a class."""


def _take_sets(sets: dict[str, PracticeSet]) -> None:
    """What a reading process knows of the sets; told once when it starts."""
    _sets.clear()
    _told.clear()
    _sets.update(sets)


def _read_batch(batch: Iterable[tuple[Path, bool]]) -> list[ReadTry | RefusedFile]:
    return [_read(*each) for each in batch]


def _read(path: Path, check: bool) -> ReadTry | RefusedFile:
    try:
        result = read_result(read_within(path, LARGEST_FILE_BYTES), str(path))
        _check_questions(result, _sets.get(result.set.id), path)
        return _packed(path, result, _finest_checked(result) if check else UNCHECKED)
    except NamefirstError as error:
        return RefusedFile(str(path), _why(path, error))


def _why(path: Path, error: NamefirstError) -> str:
    return " ".join(str(error).removeprefix(f"{path}").lstrip(":, ").split())


def _check_questions(result: Result, made: PracticeSet | None, path: Path) -> None:
    """Refuses answers to other questions than the set asks, where the set is there to see."""
    if made is None:
        return
    for kept in result.answers:
        asked = made.questions[kept.id - 1].recipe if kept.id <= len(made.questions) else None
        if asked is None or not _same(asked, kept.recipe, adaptive=made.adaptive):
            raise Refused(f"{path}: question {kept.id} is not the set's; it was changed")


def _same(asked: Recipe, answered: Recipe, *, adaptive: bool) -> bool:
    if asked == answered or not adaptive:
        return asked == answered
    return asked.to_dict() | {"size_db": 0.0} == answered.to_dict() | {"size_db": 0.0}


def _finest_checked(result: Result) -> str:
    """Whether the scorer comes to what the result says, from the result's own answers."""
    if result.version != __version__:
        return OTHER_VERSION
    again = dict(finest_of(ability_after(result.answers)))
    said = dict(result.finest)
    if set(again) != set(said):
        return DIFFERS
    for skill, finest in again.items():
        for name in ("size_db", "low_db", "high_db"):
            ratio = getattr(said[skill], name) / getattr(finest, name)
            if abs(ratio - 1.0) > _AGREES:
                return DIFFERS
    return AGREED


def _packed(path: Path, result: Result, finest_checked: str) -> ReadTry:
    credit = 0.0
    rows: list[AnswerRow] = []
    truths = []
    for kept in result.answers:
        verdict = kept.verdict
        credit += verdict.credit
        rows.append(_row(kept, named=verdict.named))
        question = (result.set.id, kept.id)
        if result.set.id not in _sets and question not in _told:
            _told.add(question)
            truths.append((kept.id, truth_sentence(kept.recipe)))
    return ReadTry(
        str(path),
        result.set,
        result.student,
        result.try_number,
        result.started_at.timestamp(),
        result.handed_in_at.timestamp(),
        result.finished_at is not None,
        credit,
        result.version,
        finest_checked,
        frozenset() if result.chain is None else result.chain.not_reached,
        tuple(rows),
        tuple(
            (skill.key, each.size_db, each.low_db, each.high_db, each.answers)
            for skill, each in result.finest
        ),
        tuple(truths),
    )


def _row(kept: KeptAnswer, *, named: bool) -> AnswerRow:
    recipe, answer = kept.recipe, kept.answer
    band = None if recipe.freq_hz is None else band_of(recipe.freq_hz).index
    said_band = None if answer.freq_hz is None else band_of(answer.freq_hz).index
    return (
        kept.id,
        _column(recipe.kind, band),
        _KIND_PLACE[recipe.kind],
        band,
        _KIND_PLACE[answer.kind],
        said_band,
        int(named),
    )


def _column(kind: Kind, band: int | None) -> int:
    if kind in TONE and band is not None:
        return band
    if kind in DYNAMICS:
        return DYNAMICS_COLUMN
    return LEVEL_COLUMN if kind in LEVEL else NOTHING_COLUMN
