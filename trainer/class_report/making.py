"""Making the class report: gather, judge, count, write; nothing is written over unasked."""

from __future__ import annotations

import io
import tempfile
from collections import Counter
from collections.abc import Sequence
from contextlib import ExitStack
from datetime import datetime
from pathlib import Path
from typing import Final

from exercises.errors import NamefirstError
from trainer.assignments.practice_set import BadSet, PracticeSet
from trainer.assignments.result import SetHead, head_of
from trainer.assignments.set_archive import fresh_file
from trainer.assignments.set_words import question_sentence
from trainer.assignments.strangers import LONGEST_NAME, read_within
from trainer.class_report.figures import SetFigures, set_figures
from trainer.class_report.gathering import (
    AGREED,
    DIFFERS,
    Found,
    RefusedFile,
    find_files,
    read_all,
)
from trainer.class_report.grades import write_grades
from trainer.class_report.ledger import Ledger, student_key
from trainer.class_report.page import PageData, write_page
from trainer.class_report.student_figures import students
from trainer.class_report.tries import judge_tries
from trainer.words import counted

_LARGEST_ROLL_BYTES: Final = 4 * 1024 * 1024


def make_report(
    paths: Sequence[Path],
    page: Path,
    grades: Path | None,
    roll: Path | None,
    now: datetime,
    *,
    force: bool = False,
) -> tuple[str, ...]:
    """Writes the page, and the grades where asked for; what to tell the teacher.

    Raises:
        NamefirstError: there is no result to report, or a file cannot be read or written.
    """
    for path in (page, grades):
        if path is not None and path.exists() and not force:
            raise BadSet(f"{path}: is already there; choose another name, or say --force")
    named = {} if roll is None else _roll(roll)
    found = find_files(paths)
    with ExitStack() as last:
        ledger = Ledger(Path(last.enter_context(tempfile.TemporaryDirectory(prefix="namefirst-"))))
        last.callback(ledger.close)
        heads, refused = _fill(ledger, found)
        sets = _sets(ledger, heads, found.sets, named)
        _write(ledger, sets, (*found.refused, *refused), page, grades, now, force=force)
    count = sum(len(each.rows) for each in sets)
    said = [f"{counted(count, 'result')} of {counted(len(sets), 'set')}: see {page}."]
    if grades is not None:
        said.append(f"The grades are in {grades}.")
    if left_out := len(found.refused) + len(refused):
        said.append(f"{counted(left_out, 'file')} left out; the page says why.")
    return tuple(said)


def _fill(ledger: Ledger, found: Found) -> tuple[list[SetHead], list[RefusedFile]]:
    """Every result into the ledger; the heads of the sets there are, the oldest first."""
    from tqdm import tqdm

    heads: dict[str, SetHead] = {}
    refused = []
    read = read_all(found.results, found.sets)
    for each in tqdm(read, "reading", len(found.results), disable=None, leave=False, unit=" files"):
        if isinstance(each, RefusedFile):
            refused.append(each)
            continue
        ledger.add(each)
        ledger.name_questions(each.head.id, each.truths)
        heads.setdefault(each.head.id, each.head)
    if not heads:
        first = (*found.refused, *refused)
        why = f"; {first[0].file}: {first[0].why}" if first else "; results end with .json"
        raise NamefirstError(f"there is no result to report{why}")
    for set_id, made in found.sets.items():
        if set_id in heads:
            heads[set_id] = head_of(made)
            count = len(made.questions)
            truths = [(number, _truth(made, number)) for number in range(1, count + 1)]
            ledger.name_questions(set_id, truths)
    ledger.read_through()
    return sorted(heads.values(), key=lambda head: (head.made, head.id)), refused


def _truth(made: PracticeSet, number: int) -> str:
    return question_sentence(made, number).partition(". ")[2]


def _sets(
    ledger: Ledger,
    heads: Sequence[SetHead],
    known: dict[str, PracticeSet],
    roll: dict[str, str],
) -> list[SetFigures]:
    """The figures of every set, the oldest first."""
    for head in heads:
        judge_tries(ledger, head.id, head.terms)
    everyone = dict(ledger.rows("SELECT student, max(name) FROM try GROUP BY student"))
    everyone = dict(sorted((everyone | roll).items()))
    sets: list[SetFigures] = []
    for head in heads:
        earlier = sets[-1].class_shares if sets else None
        sets.append(set_figures(ledger, head, everyone, earlier, from_file=head.id in known))
    return sets


def _write(
    ledger: Ledger,
    sets: Sequence[SetFigures],
    refused: Sequence[RefusedFile],
    page: Path,
    grades: Path | None,
    now: datetime,
    *,
    force: bool,
) -> None:
    with_missing = {name for each in sets for name in map(student_key, each.missing)}
    rows = [row for each in sets for row in each.rows]
    data = PageData(
        title=sets[-1].head.title,
        made_at=now,
        sets=sets[::-1],
        student_count=len({row.student for row in rows}),
        result_count=len(rows) + sum(len(each.others) for each in sets),
        check_words=_check_words(Counter(row.finest_check for row in rows)),
        with_missing=frozenset(with_missing),
        unfinished=frozenset(row.student for row in rows if not row.finished),
        refused=refused,
    )
    with fresh_file(page, force=force) as out:
        write_page(out, data, students(ledger, [each.head for each in sets]))
    if grades is not None:
        with fresh_file(grades, force=force) as out:
            text = io.TextIOWrapper(out, encoding="utf-8", newline="")
            write_grades(text, sets)
            text.flush()
            text.detach()


def _check_words(checks: Counter[str]) -> str:
    """How far the finest sizes that the results state were worked out again."""
    done = checks[AGREED] + checks[DIFFERS]
    if checks[DIFFERS]:
        return (
            f"Finest sizes were worked out again for {done} of them:"
            f" {checks[DIFFERS]} do not follow from their answers and are marked."
        )
    stated = "Finest sizes are as the results state them"
    return f"{stated}; worked out again for {done}: all agree." if done else f"{stated}."


def _roll(path: Path) -> dict[str, str]:
    """The names of a class by their keys, from a file with a name a line."""
    try:
        lines = read_within(path, _LARGEST_ROLL_BYTES).decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise NamefirstError(f"{path}: is not text in UTF-8; save it as such") from None
    names = [" ".join(line.split()) for line in lines if line.strip()]
    for name in names:
        if len(name) > LONGEST_NAME or not name.isprintable():
            raise NamefirstError(f"{path}: a line is no name; write one name a line")
    return {student_key(name): name for name in names}
