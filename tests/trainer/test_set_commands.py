"""Sets on the command line: a teacher, three students, one page; strangers' files at the door."""

from __future__ import annotations

import csv
import itertools
import json
import os
import shutil
import subprocess
import sys
import zipfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from exercises.kinds import Kind
from exercises.loop_writing import write_loop
from tests.simulated_class import class_set
from tests.synthetic_loops import small_band
from tests.trainer.test_cli import ROOT, refused, run
from trainer.assignments.practice_set import Terms
from trainer.assignments.result import read_result
from trainer.assignments.set_archive import read_set_file
from trainer.assignments.set_words import end_sentence, late_sentence
from trainer.record import Record
from trainer.set_arguments import _due

STUDENTS = ("Ada", "Bo", "Cy")
LISTEN = "b\nwait 1.5\n"  # to B, for as long as a question asks for, and a little more


def new_set(home: Path, path: Path, *more: str) -> subprocess.CompletedProcess[str]:
    return run(
        home, "set", "new", str(path), "--title", "Mud or box", "--bands", "250,500",
        "--loops", "ferry-crossing", "--questions", "4", "--seed", "5", *more,
    )  # fmt: skip


def test_from_the_teacher_to_three_students_and_back(tmp_path: Path) -> None:
    teacher, path = tmp_path / "teacher", tmp_path / "mud.toml"
    done = new_set(
        teacher, path, "--teacher", "M. Quill", "--note", "Slowly.", "--due", "2036-03-06"
    )
    assert done.returncode == 0, done.stderr
    assert "4 questions; one try." in done.stdout
    truth = run(teacher, "set", "show", str(path), "--truth").stdout
    assert truth.count("Ferry crossing, whole mix: ") == 4
    made = read_set_file(path)
    box = tmp_path / "box"
    box.mkdir()
    for place, student in enumerate(STUDENTS):
        here = tmp_path / student
        here.mkdir()
        shutil.copy(path, here)
        lines = []
        for number, question in enumerate(made.questions):
            truth_of = question.recipe
            right = number < 2 * place  # Ada none, Bo two, Cy all four
            said = "too loud" if not right else truth_of.kind.value
            where = f" {truth_of.freq_hz:g}" if right and truth_of.freq_hz else ""
            lines += [LISTEN + said + where, ""]
        took = run(
            here, "set", "take", str(here / path.name), "--learner", student, "--terminal",
            typed="\n".join(lines),
        )  # fmt: skip
        assert took.returncode == 0, took.stderr
        assert "Slowly." in took.stdout
        assert "Question 1 of 4." in took.stdout
        assert "Send that file to M. Quill." in took.stdout
        (result,) = here.glob("*.result.json")
        assert read_result(result.read_bytes(), "x").student == student
        shutil.copy(result, box)
    shutil.copy(path, box)
    page, grades = tmp_path / "report.html", tmp_path / "grades.csv"
    report = run(teacher, "class", str(box), "--out", str(page), "--csv", str(grades))
    assert report.returncode == 0, report.stderr
    assert "3 results of 1 set:" in report.stdout
    with grades.open(newline="", encoding="utf-8") as lines_of:
        table = {row["student"]: int(row["named"]) for row in csv.DictReader(lines_of)}
    assert table == {"Ada": 0, "Bo": 2, "Cy": 4}
    text = page.read_text(encoding="utf-8")
    assert all(student in text for student in STUDENTS)
    assert "all agree" in text
    again = run(teacher, "class", str(box), "--out", str(page))
    assert "already there" in refused(again)


def test_a_set_left_in_the_middle_goes_on_and_is_then_used_up(tmp_path: Path) -> None:
    path = tmp_path / "mud.toml"
    assert new_set(tmp_path / "t", path, "--review", "at the end").returncode == 0
    words = ("set", "take", str(path), "--learner", "Ada", "--terminal")
    first = run(tmp_path / "ada", *words, typed=f"nothing\n{LISTEN}too much 250\n" * 2 + "q\n")
    assert first.stdout.count("Not taken: listen to B for a second first (b).") == 2
    assert "Left with 2 of 4 answered" in first.stdout
    assert "Too much at" not in first.stdout  # the truth comes at the end
    half = run(tmp_path / "ada", "set", "result", str(path), "--learner", "Ada")
    assert half.returncode == 0, half.stderr
    (written,) = tmp_path.glob("*.result.json")
    assert json.loads(written.read_text())["finished_at"] is None
    second = run(tmp_path / "ada", *words, typed=f"{LISTEN}nothing\n" * 2)
    assert "2 answered before" in second.stdout
    assert "Question 3 of 4." in second.stdout
    assert second.stdout.count("You said") == 4
    assert "one try is used by 'Ada'" in refused(run(tmp_path / "ada", *words))
    record = Record(tmp_path / "ada", "Ada", "test")
    try:
        assert record.count_answers() == 4
    finally:
        record.close()


def test_a_set_is_not_due_in_the_past_and_one_that_is_overdue_says_so(tmp_path: Path) -> None:
    path = tmp_path / "mud.toml"
    past = new_set(tmp_path / "t", path, "--due", "2020-03-06")
    assert "--due Fri 6 Mar 2020, 23:59 is past already" in refused(past)
    assert new_set(tmp_path / "t", path, "--due", "2099-03-06").returncode == 0
    path.write_text(path.read_text(encoding="utf-8").replace("2099", "2020"), encoding="utf-8")
    words = ("set", "take", str(path), "--learner", "Ada", "--terminal")
    took = run(tmp_path / "ada", *words, typed="q\n")
    assert "That is past: a result from now on is marked as late." in took.stdout
    assert "You have set no level yet" in took.stdout
    assert "--silent" in refused(run(tmp_path / "ada", *words, "--silent"))


@pytest.mark.parametrize(
    ("typed", "due"),
    [
        ("2036-03-06", datetime(2036, 3, 6, 23, 59).astimezone()),
        ("20360306", datetime(2036, 3, 6, 23, 59).astimezone()),
        ("2036-03-06T18:00", datetime(2036, 3, 6, 18, 0).astimezone()),
        ("2036-03-06 18:00", datetime(2036, 3, 6, 18, 0).astimezone()),
        ("2036-03-06T18:00:30", datetime(2036, 3, 6, 18, 0, 30).astimezone()),
        ("2036-03-06T18:00+01:00", datetime(2036, 3, 6, 17, 0, tzinfo=UTC)),
    ],
)
def test_due_is_a_day_to_its_last_minute_or_a_moment(typed: str, due: datetime) -> None:
    """As ISO 8601 writes them; the day without a time is over when the day is."""
    assert _due(typed) == due


def test_who_takes_a_set_past_its_due_time_is_told_once() -> None:
    due = datetime(2036, 3, 6, 18, 0, tzinfo=UTC)
    terms = Terms(due)
    minutes = [due + timedelta(minutes=each) for each in (-2, -1, 1, 2)]
    told = [late_sentence(terms, *pair) for pair in itertools.pairwise(minutes)]
    assert [bool(words) for words in told] == [False, True, False]
    assert "marked as late" in told[1]
    assert not late_sentence(Terms(), minutes[0], minutes[-1])


@pytest.mark.parametrize(
    ("answered", "said"),
    [(20, "That was the set."), (19, "The time is up: 19 of 20 questions answered.")],
)
def test_the_end_of_a_set_says_whether_the_time_was_up(answered: int, said: str) -> None:
    assert end_sentence(class_set(20), answered) == said


def test_own_loops_travel_in_a_zip(tmp_path: Path) -> None:
    teacher = tmp_path / "teacher"
    write_loop(replace(small_band(level_db=-12.0), name="own"), teacher / "loops" / "own")
    path = tmp_path / "own.zip"
    words = (
        "--title",
        "Ours",
        "--loops",
        "own",
        "--questions",
        "2",
        "--bands",
        "500",
        "--seed",
        "1",
    )
    assert "ends with .zip" in refused(
        run(teacher, "set", "new", str(tmp_path / "own.toml"), *words)
    )
    assert run(teacher, "set", "new", str(path), *words).returncode == 0
    with zipfile.ZipFile(path) as packed:
        assert "loops/own/loop.toml" in packed.namelist()
    took = run(
        tmp_path / "ada", "set", "take", str(path), "--learner", "Ada", "--terminal",
        typed=f"{LISTEN}nothing\n\n" * 2,
    )  # fmt: skip
    assert took.returncode == 0, took.stderr
    (result,) = tmp_path.glob("*.result.json")
    assert [kept.answer.kind for kept in read_result(result.read_bytes(), "x").answers] == [
        Kind.NOTHING,
        Kind.NOTHING,
    ]


def test_a_list_in_the_teachers_own_order(tmp_path: Path) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text(
        "kind,freq_hz,size_db,loop\nsquashed,,9,slipway\nnothing,,,slipway\n"
        "too much,20.5k,6,slipway\n",
        encoding="utf-8",
    )
    words = ("set", "new", str(tmp_path / "l.toml"), "--title", "Mine", "--list", str(listed))
    assert "line 4" in refused(run(tmp_path / "t", *words))
    listed.write_text(listed.read_text().replace("20.5k,6", "2.5k,0.2"), encoding="utf-8")
    done = run(tmp_path / "t", *words)
    assert done.returncode == 0, done.stderr
    assert "Hardly to be heard on their loops: 3." in done.stdout
    assert len(read_set_file(tmp_path / "l.toml").questions) == 3
    assert "leave out" in refused(run(tmp_path / "t", *words, "--kinds", "squashed", "--force"))


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--questions", "1000000"), "1 to 1,000"),
        (("--sizes", "nan"), "no list of sizes"),
        (("--due", "soon"), "no day such as"),
        (("--due", "18:00"), "no day such as"),
        (("--due", "2026-02-30"), "no day such as"),
        (("--due", "1799971200"), "no day such as"),
        (("--tries", "0"), "give 1 to 20"),
        (("--minutes", "nan"), "give 0.1 to 240"),
        (("--seed", "-1"), "whole number from 0"),
        (("--a", "twice"), "at hand, once, none"),
        (("--loops", "nowhere"), "no loop 'nowhere'"),
        (("--sizes", "0.1"), "allow larger sizes"),
        (("--title", ""), "a title has"),
        (("--note", "\x1b[2J"), "a note is text"),
        (("--review", "never"), "invalid choice"),
    ],
)
def test_what_no_set_can_be_is_told_in_one_line(
    words: tuple[str, ...], why: str, tmp_path: Path
) -> None:
    done = new_set(tmp_path / "t", tmp_path / "x.toml", *words)
    assert why in refused(done)
    assert not (tmp_path / "x.toml").exists()


def test_nothing_is_written_over_unasked(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text("mine")
    assert "already there" in refused(new_set(tmp_path / "t", path))
    assert path.read_text() == "mine"
    assert new_set(tmp_path / "t", path, "--force").returncode == 0


# Strangers' files: at most 2 s of the processor and 200 MB, all of Python's own start included.

DOOR = """
import resource, sys
from pathlib import Path
from trainer.cli import main
status = main(sys.argv[1:])
used = resource.getrusage(resource.RUSAGE_SELF)
# The most memory since this program began; ru_maxrss would count what it was forked from.
words = Path("/proc/self/status").read_text().split()
print(status, used.ru_utime + used.ru_stime, int(words[words.index("VmHWM:") + 1]) / 1e3)
"""


def _nested(path: Path) -> None:
    path.write_text('{"a":' + "[" * 900_000)


def _many_objects(path: Path) -> None:
    path.write_text('{"answers":[' + "{}," * 345_000 + "{}]}")


def _two_gigabytes(path: Path) -> None:
    with path.open("wb") as out:
        os.truncate(out.fileno(), 2 * 1024**3)


def _long_keys(path: Path) -> None:
    path.write_text("a." * 130_000 + "a = 1")


def _many_tables(path: Path) -> None:
    path.write_text("".join(f"[a{n}]\nb=1\n" for n in range(20_000)))


def _bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("set.toml", bytes(150 * 1024 * 1024))


def _a_million_entries(path: Path) -> None:
    """A directory of a million entries, made up without writing them one by one."""
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("set.toml", "")
    whole = path.read_bytes()
    at = whole.index(b"PK\x01\x02")
    entry, end = whole[at:-22], bytearray(whole[-22:])
    directory = entry * 1_000_000
    end[12:16] = len(directory).to_bytes(4, "little")
    path.write_bytes(whole[:at] + directory + end)


@pytest.mark.parametrize(
    ("name", "make"),
    [
        ("x.json", _nested),
        ("x.json", _many_objects),
        ("x.json", _two_gigabytes),
        ("x.toml", _two_gigabytes),
        ("x.toml", _long_keys),
        ("x.toml", _many_tables),
        ("x.zip", _two_gigabytes),
        ("x.zip", _bomb),
        ("x.zip", _a_million_entries),
    ],
)
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="told by Linux alone")
def test_hostile_files_cost_little(name: str, make, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / name
    make(path)
    out = str(tmp_path / "r.html")
    words = ["class", str(path), "--out", out] if name == "x.json" else ["set", "show", str(path)]
    done = subprocess.run(
        [sys.executable, "-c", DOOR, *words],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(tmp_path), "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    status, seconds, megabytes = done.stdout.split()
    assert status == "2"
    assert len(done.stderr.splitlines()) == 1
    assert float(seconds) < 2.0
    assert float(megabytes) < 200.0
