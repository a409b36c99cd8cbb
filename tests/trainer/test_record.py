"""The record: what is answered is on disk, and stays readable."""

from __future__ import annotations

import sqlite3
import threading
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from exercises.kinds import Kind
from exercises.recipe import Recipe
from trainer import schema
from trainer.judging import Answer
from trainer.record import FILE_NAME, Listening, Record, RecordError
from trainer.schema import MIGRATIONS, migrate

NOW = datetime(2026, 3, 5, 19, 30, tzinfo=UTC)
RECIPE = Recipe(7, "quay", "f" * 64, Kind.TOO_MUCH, 6.0, 186.0, 1.4)
ANSWER = Answer(Kind.TOO_MUCH, 214.0, True)
LISTENED = Listening(8.5, 3, 4.0, 4.5)


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return Record(tmp_path, "ada", "9.9")


def test_an_answer_comes_back_whole(record: Record) -> None:
    drill_id = record.start_drill(NOW.date(), {"minutes": 10})
    kept = record.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
    assert list(record.answers()) == [kept]
    assert (kept.recipe, kept.answer, kept.listening) == (RECIPE, ANSWER, LISTENED)
    assert (kept.day, kept.answered_at, kept.version) == (date(2026, 3, 5), NOW, "9.9")
    assert kept.verdict.miss_octaves == pytest.approx(0.2023, abs=1e-3)


def test_an_answer_is_on_disk_when_keep_returns(record: Record) -> None:
    drill_id = record.start_drill(NOW.date(), {})
    record.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
    with sqlite3.connect(record.path) as other:
        rows = other.execute("SELECT kind, band, named, answered_hz FROM answer").fetchall()
    assert rows == [("too much", 3, 1, 214.0)]


def test_the_file_is_in_wal_mode_and_synced_in_full(record: Record) -> None:
    with sqlite3.connect(record.path) as other:
        assert other.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    assert record._db.execute("PRAGMA synchronous").fetchone()[0] == 2


def test_learners_share_a_file_and_not_their_answers(tmp_path: Path) -> None:
    ada, bo = Record(tmp_path, "ada", "1"), Record(tmp_path, "bo", "1")
    ada.keep(ada.start_drill(NOW.date(), {}), NOW, RECIPE, ANSWER, LISTENED)
    assert [len(list(each.answers())) for each in (ada, bo)] == [1, 0]
    assert ada.learners() == ("ada", "bo")


def test_a_drill_left_early_is_found_on_its_day_only(record: Record) -> None:
    drill_id = record.start_drill(NOW.date(), {"minutes": 10})
    found = record.open_drill(NOW.date())
    assert found is not None
    assert (found.id, found.plan) == (drill_id, {"minutes": 10})
    assert record.open_drill(NOW.date() + timedelta(days=1)) is None
    record.end_drill(drill_id)
    assert record.open_drill(NOW.date()) is None


def test_settings_are_kept_for_each_learner(tmp_path: Path) -> None:
    ada, bo = Record(tmp_path, "ada", "1"), Record(tmp_path, "bo", "1")
    ada.set_setting("volume_db", -30.0)
    ada.set_setting("volume_db", -32.0)
    assert Record(tmp_path, "ada", "1").setting("volume_db") == -32.0
    assert bo.setting("volume_db", "none") == "none"


def test_answers_since_and_of_a_drill(record: Record) -> None:
    one, two = (record.start_drill(NOW.date(), {}) for _ in range(2))
    first = record.keep(one, NOW, RECIPE, ANSWER, LISTENED)
    second = record.keep(two, NOW, RECIPE, ANSWER, LISTENED)
    assert list(record.answers(since_id=first.id)) == [second]
    assert list(record.answers(drill_id=one)) == [first]


def test_two_windows_write_to_one_record(tmp_path: Path) -> None:
    one, two = Record(tmp_path, "ada", "1"), Record(tmp_path, "ada", "1")
    for each in (one, two, one):
        each.keep(each.start_drill(NOW.date(), {}), NOW, RECIPE, ANSWER, LISTENED)
    assert len(list(two.answers())) == 3


def test_a_damaged_file_is_named_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / FILE_NAME
    path.write_bytes(b"this is no database, and long enough to be read as one" * 40)
    before = path.read_bytes()
    with pytest.raises(RecordError, match=r"record\.sqlite: is damaged .*move it aside"):
        Record(tmp_path, "ada", "1")
    assert path.read_bytes() == before


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(RecordError, match="NAMEFIRST_HOME"):
        Record(tmp_path / "file" / "home", "ada", "1")


def test_a_newer_schema_is_refused_and_left_as_it_is(record: Record) -> None:
    record._db.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    with pytest.raises(RecordError, match="newer Namefirst"):
        Record(record.path.parent, "ada", "1")


def test_a_newer_file_is_not_touched(tmp_path: Path) -> None:
    """Not a byte of it, nor is anything put beside it."""
    path = tmp_path / FILE_NAME
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE what_is_to_come (id INTEGER)")
    db.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    db.close()
    before = path.read_bytes()
    with pytest.raises(RecordError, match="newer Namefirst"):
        Record(tmp_path, "ada", "1")
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == [FILE_NAME]


def test_how_long_a_track_was_heard_alone_is_kept(record: Record) -> None:
    listening = Listening(9.0, 3, 4.0, 5.0, alone_s=2.5)
    at = datetime(2026, 3, 1, 12, tzinfo=UTC)
    recipe = Recipe(1, "quay", "f" * 64, Kind.NOTHING, 0.0, ask_track=True)
    answer = Answer(Kind.NOTHING, None, True)
    record.keep(record.start_drill(at.date(), {}), at, recipe, answer, listening)
    (kept,) = record.answers()
    assert kept.listening == listening


def test_a_failing_migration_is_rolled_back_and_can_be_run_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / FILE_NAME
    Record(tmp_path, "ada", "1").close()
    broken = (*MIGRATIONS, "CREATE TABLE half (id INTEGER); SELECT no_such_column FROM answer")
    monkeypatch.setattr(schema, "MIGRATIONS", broken)
    db = sqlite3.connect(path, isolation_level=None)
    with pytest.raises(sqlite3.OperationalError, match="no_such_column"):
        migrate(db)
    tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master")}
    assert "half" not in tables
    assert db.execute("PRAGMA user_version").fetchone()[0] == len(MIGRATIONS)
    whole = (*MIGRATIONS, "CREATE TABLE half (id INTEGER)")
    monkeypatch.setattr(schema, "MIGRATIONS", whole)
    migrate(db)
    assert db.execute("PRAGMA user_version").fetchone()[0] == len(whole)


class _Interrupted(Exception):
    pass


def test_a_transaction_keeps_all_or_nothing(record: Record) -> None:
    def interrupted() -> None:
        with record.transaction():
            drill_id = record.start_drill(NOW.date(), {})
            record.keep(drill_id, NOW, RECIPE, ANSWER, LISTENED)
            with record.transaction():
                record.set_setting("kept", 2)
            raise _Interrupted

    with record.transaction(), record.transaction():
        record.set_setting("kept", 1)
    with pytest.raises(_Interrupted):
        interrupted()
    assert record.setting("kept") == 1
    assert record.count_answers() == 0
    assert record.open_drill(NOW.date()) is None


def test_another_thread_waits_for_a_transaction_and_is_not_undone_by_it(record: Record) -> None:
    begun = threading.Event()

    def write() -> None:
        begun.set()
        record.set_setting("from elsewhere", 1)

    thread = threading.Thread(target=write)

    def interrupted() -> None:
        with record.transaction():
            record.set_setting("undone", 1)
            thread.start()
            assert begun.wait(10)
            thread.join(0.2)
            assert thread.is_alive()
            raise _Interrupted

    with pytest.raises(_Interrupted):
        interrupted()
    thread.join(10)
    assert record.settings() == {"from elsewhere": 1}


def test_practice_is_the_time_between_answers_and_at_most_ninety_seconds(record: Record) -> None:
    """8.5 s to the first; then 30 s with the review; then someone went to the door; then a clock
    that was put back, where the seconds of listening count."""
    drill_id = record.start_drill(NOW.date(), {})
    for after_s in (0, 30, 5000, 4000):
        at = NOW + timedelta(seconds=after_s)
        record.keep(drill_id, at, RECIPE, ANSWER, LISTENED)
    rows = record.query("SELECT spent_s FROM answer WHERE learner_id = ? ORDER BY id")
    assert [row[0] for row in rows] == [8.5, 30.0, 90.0, 8.5]


def test_the_log_by_days_puts_what_came_late_where_it_belongs(record: Record) -> None:
    drill_id = record.start_drill(NOW.date(), {})
    days = [0, 1, -3, 1]
    kept = [
        record.keep(drill_id, NOW + timedelta(days=day), RECIPE, ANSWER, LISTENED) for day in days
    ]
    by_day = list(record.answers_by_day(record.last_id()))
    assert by_day == [kept[2], kept[0], kept[1], kept[3]]
    assert list(record.latest_answers(3)) == by_day[:0:-1]
    assert list(record.answers_by_day(kept[1].id)) == kept[:2]
    assert list(record.answers_on(kept[1].day)) == [kept[1], kept[3]]
    assert record.first_day() == kept[2].day


def test_a_drill_of_another_kind_in_between_does_not_lose_the_one_that_was_left(
    record: Record,
) -> None:
    left = record.start_drill(NOW.date(), {"limits": {"minutes": 10}})
    short = record.start_drill(NOW.date(), {"limits": {"minutes": 1}})
    record.end_drill(short)
    found = record.open_drill(NOW.date(), {"minutes": 10})
    assert found is not None
    assert found.id == left
    assert record.open_drill(NOW.date(), {"minutes": 1}) is None
