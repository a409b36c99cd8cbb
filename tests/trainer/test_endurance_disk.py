"""A disk that is full, read-only or gone, and two windows on one record: nothing is lost."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.question import Question, make_question
from exercises.recipe import Recipe
from tests.killed_drill import PreparedDrill, UnreviewedRound
from tests.synthetic_loops import small_band
from tests.trainer.test_cli import ROOT, contents, refused
from trainer.judging import Answer
from trainer.limits import Limits
from trainer.loop_shelf import LoopShelf
from trainer.record import FILE_NAME, Listening, Record, RecordError
from trainer.rehearsal import rehearsed
from trainer.scoring import scored_of

NOW = datetime(2026, 3, 5, 19, 30, tzinfo=UTC)
RECIPE = Recipe(7, "quay", "f" * 64, Kind.TOO_MUCH, 6.0, 186.0, 1.4)
ANSWER = Answer(Kind.TOO_MUCH, 214.0, True)
LISTENED = Listening(8.5, 3, 4.0, 4.5)


@pytest.fixture(scope="module")
def asked() -> tuple[Question, Loop]:
    loop = small_band(1.0, level_db=-12.0)
    recipe = Recipe(1, "test loop", loop.fingerprint, Kind.TOO_MUCH, 12.0, 200.0, 1.4)
    return make_question(recipe, loop), loop


def count(folder: Path) -> int:
    """How many answers are on disk, as another program sees them."""
    with contextlib.closing(sqlite3.connect(folder / FILE_NAME)) as db:
        return int(db.execute("SELECT count(*) FROM answer").fetchone()[0])


def fill_up(record: Record, folder: Path) -> Callable[[], None]:
    pages = record._db.execute("PRAGMA page_count").fetchone()[0]
    record._db.execute(f"PRAGMA max_page_count = {pages}")
    return lambda: record._db.execute("PRAGMA max_page_count = 1000000") and None


def forbid_writing(record: Record, folder: Path) -> Callable[[], None]:
    record._db.execute("PRAGMA query_only = ON")
    return lambda: record._db.execute("PRAGMA query_only = OFF") and None


def take_away(record: Record, folder: Path) -> Callable[[], None]:
    folder.rename(folder.with_name("elsewhere"))

    def bring_back() -> None:
        folder.with_name("elsewhere").rename(folder)

    return bring_back


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (fill_up, "the disk is full .*; free some space"),
        (forbid_writing, "readonly .*; check that you may write there"),
        (take_away, "was moved or deleted .*; put it back"),
    ],
)
def test_an_answer_that_cannot_be_written_is_refused_and_can_be_given_again(
    tmp_path: Path,
    asked: tuple[Question, Loop],
    spoil: Callable[[Record, Path], Callable[[], None]],
    says: str,
) -> None:
    folder = tmp_path / "home"
    record = Record(folder, "ada", "1")
    drill = PreparedDrill(record, LoopShelf(folder / "loops"), Limits(), 1, NOW)

    def answer(round_: UnreviewedRound) -> None:
        drill.answer(round_, sure=True, listening=LISTENED, now=NOW)

    def marked() -> UnreviewedRound:
        round_ = UnreviewedRound(*asked)
        round_.mark_kind(Kind.TOO_MUCH)
        round_.mark_freq(200.0)
        return round_

    answer(marked())
    mend = spoil(record, folder)
    refused_at = None
    for _ in range(200):  # a full disk has some room left in the pages that it has
        round_ = marked()
        before = drill.number
        try:
            answer(round_)
        except RecordError as error:
            refused_at = str(error)
            break
    assert refused_at is not None
    assert len(refused_at.splitlines()) == 1
    with pytest.raises(RecordError, match=says):
        answer(round_)
    assert drill.number == before
    mend()
    answer(round_)
    assert drill.number == before + 1
    assert count(folder) == before
    assert len(list(record.answers())) == before


def test_a_deleted_record_takes_no_answers(tmp_path: Path) -> None:
    """SQLite would write them to a file that has no name any more."""
    record = Record(tmp_path / "home", "ada", "1")
    drill_id = record.start_drill(NOW.date(), {})
    shutil.rmtree(tmp_path / "home")
    with pytest.raises(RecordError, match="moved or deleted"):
        record.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
    Record(tmp_path / "home", "ada", "1").close()  # another one in its place is not taken for it
    with pytest.raises(RecordError, match="moved or deleted"):
        record.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
    assert count(tmp_path / "home") == 0


# The command, in a process of its own ---------------------------------------------------------

TYPED = "b\nwait 1.4\nnothing\n\n" * 40


def drill(
    home: Path, begin: Sequence[str] = (), limit: Callable[[], None] | None = None
) -> subprocess.CompletedProcess[str]:
    """A drill in the terminal, sounding to nobody."""
    words = ["--terminal", "--learner", "ada", "--kinds", "squashed", "--loops", "slipway"]
    return subprocess.run(
        [*begin, sys.executable, "-B", "-m", "trainer", "drill", *words],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(home), "SDL_AUDIODRIVER": "dummy"},
        input=TYPED,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
        preexec_fn=limit,
    )


@pytest.mark.skipif(sys.platform == "win32", reason="needs a limit on the size of files")
def test_a_disk_that_fills_up_ends_a_drill_in_one_line(tmp_path: Path) -> None:
    """No file may grow past the limit: what a full disk is to a process, for any user."""
    import resource

    record = Record(tmp_path, "ada", "1")
    record.keep(record.start_drill(NOW.date(), {}), NOW, RECIPE, ANSWER, LISTENED)
    record.close()
    limit = (tmp_path / FILE_NAME).stat().st_size
    done = drill(tmp_path, limit=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit)))
    line = done.stderr.splitlines()
    assert done.returncode == 2, done.stderr
    assert len(line) == 1
    assert FILE_NAME in line[0]
    # Every answer that was reviewed was written, and the one that was not was not reviewed.
    assert count(tmp_path) == 1 + done.stdout.count("You said")
    with contextlib.closing(sqlite3.connect(tmp_path / FILE_NAME)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_a_copy_for_which_there_is_no_room_is_refused_in_one_line(tmp_path: Path) -> None:
    record = Record(tmp_path, "ada", "1")
    with pytest.raises(RecordError, match=r"nowhere.*: cannot be used") as refusal:
        record.copy_to(tmp_path / "nowhere")
    assert len(str(refusal.value).splitlines()) == 1
    record.keep(record.start_drill(NOW.date(), {}), NOW, RECIPE, ANSWER, LISTENED)
    with rehearsed(record, "1") as copy:
        copy.keep(copy.start_drill(NOW.date(), {}), NOW, RECIPE, ANSWER, LISTENED)
        assert copy.count_answers() == 2
    assert record.count_answers() == 1


def bound_by_rights() -> list[str]:
    """What to begin a command with so that rights bind it: root may write anywhere, unless it
    lays that down."""
    if os.geteuid() != 0:
        return []
    without = ["setpriv", "--bounding-set", "-dac_override", "--inh-caps", "-dac_override"]
    if (
        shutil.which("setpriv") is None
        or subprocess.run([*without, "true"], capture_output=True, check=False).returncode
    ):
        pytest.skip("root cannot lay down its rights here")
    return without


@pytest.mark.skipif(sys.platform == "win32", reason="folders have other rights there")
@pytest.mark.parametrize("begun", [False, True], ids=["empty", "with a record"])
def test_a_folder_that_may_only_be_read_is_refused_in_one_line(tmp_path: Path, begun: bool) -> None:
    home = tmp_path / "home"
    home.mkdir()
    if begun:
        Record(home, "ada", "1").close()
    before = contents(home)
    home.chmod(0o555)
    try:
        line = refused(drill(home, begin=bound_by_rights()))
    finally:
        home.chmod(0o755)
    assert FILE_NAME in line
    assert "NAMEFIRST_HOME" in line
    assert contents(home) == before


# Two windows on one record --------------------------------------------------------------------


def test_who_still_reads_the_log_keeps_no_answer_from_being_written(tmp_path: Path) -> None:
    """A window that reads a long log while another one writes: its own answers are taken too."""
    one, two = Record(tmp_path, "ada", "1"), Record(tmp_path, "ada", "1")
    drill_id = one.start_drill(NOW.date(), {})
    for _ in range(3):
        one.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
    reading = one.answers()
    next(reading)
    two.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
    one.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
    assert len(list(reading)) == 2
    assert len(list(one.answers())) == 5


def test_a_log_read_within_a_transaction_shows_what_was_written_in_it(tmp_path: Path) -> None:
    record = Record(tmp_path, "ada", "1")
    with record.transaction():
        drill_id = record.start_drill(NOW.date(), {})
        record.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
        assert len(list(record.answers())) == 1


def test_windows_that_open_a_new_record_at_once_all_open_it(tmp_path: Path) -> None:
    windows = 6
    for turn in range(15):
        start = threading.Barrier(windows)
        failed: list[BaseException] = []

        def open_it(folder: Path, start: threading.Barrier, failed: list[BaseException]) -> None:
            start.wait()
            try:
                Record(folder, "ada", "1").close()
            except RecordError as error:
                failed.append(error)

        threads = [
            threading.Thread(target=open_it, args=(tmp_path / str(turn), start, failed))
            for _ in range(windows)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert failed == []


ANSWERING = """
import sys
from datetime import timedelta
from pathlib import Path
from tests.trainer.test_endurance_disk import ANSWER, LISTENED, NOW, RECIPE, keep_many
keep_many(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
"""


def keep_many(folder: Path, first: int, answers: int) -> None:
    """One window of several: answers as fast as it can, and scores all there is now and then."""
    record = Record(folder, "ada", "1")
    kept = record.open_drill(NOW.date())
    assert kept is not None
    for number in range(first, first + answers):
        at = NOW + timedelta(seconds=number)
        recipe = replace(RECIPE, seed=number)
        record.keep(kept.id, at, recipe, ANSWER, LISTENED)
        record.set_setting("volume_db", -float(number % 40))
        if number % 20 == 0:
            scored_of(record, NOW.date())
    record.close()


def test_two_windows_answer_at_once_and_nothing_is_lost(tmp_path: Path) -> None:
    record = Record(tmp_path, "ada", "1")
    record.start_drill(NOW.date(), {})
    answers, windows = 80, 3
    processes = [
        subprocess.Popen(
            [sys.executable, "-c", ANSWERING, str(tmp_path), str(1000 * each), str(answers)],
            cwd=ROOT,
            stderr=subprocess.PIPE,
            text=True,
        )
        for each in range(windows)
    ]
    for process in processes:
        _, said = process.communicate(timeout=120)
        assert (process.returncode, said) == (0, "")
    seeds = [kept.recipe.seed for kept in record.answers()]
    expected = [1000 * each + number for each in range(windows) for number in range(answers)]
    assert sorted(seeds) == expected
    assert scored_of(record, NOW.date()).ability.day == NOW.date().toordinal()
