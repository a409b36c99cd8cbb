"""A teacher's walk: a set made in the window and tried out, taken by three students, one page back.

What each student answers is decided here beforehand, from the set's file; all that the page and
the grades say is worked out from that anew, and read from what a browser shows.
"""

from __future__ import annotations

import csv
import math
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest

from exercises.demo_loops import demo_loop
from exercises.kinds import Kind
from exercises.question import make_question
from exercises.recipe import Recipe
from tests.browser import browser, picture
from tests.captured_sound import capture_environment, read_capture, who_sounds
from tests.screen import PATIENCE_S, Window, window
from tests.trainer.test_cli import ROOT, run
from trainer.assignments.practice_set import PracticeSet
from trainer.assignments.set_archive import read_set_file

TITLE = "Mud - or box"
BAND_NAMES = ("31.5", "63", "125", "250", "500", "1k", "2k", "4k", "8k", "16k")  # ISO 266
THIRD_OF_AN_OCTAVE = 1.0 / 3.0
PIECE_FRAMES = 8192
WRITTEN = {" ": "space", ".": "period", ",": "comma", "-": "minus"}


@dataclass(frozen=True, slots=True)
class Said:
    """What a student answers: a kind, and where."""

    kind: Kind
    freq_hz: float | None = None


def right(recipe: Recipe) -> Said:
    return Said(recipe.kind, recipe.freq_hz)


def an_octave_off(recipe: Recipe) -> Said:
    """The right kind an octave off, inwards; where nothing was, a problem at 1 kHz."""
    if recipe.freq_hz is None:
        return Said(Kind.TOO_MUCH, 1000.0)
    return Said(recipe.kind, recipe.freq_hz * (2.0 if recipe.freq_hz < 1000.0 else 0.5))


def plan_of(student: str, made: PracticeSet) -> list[Said]:
    """Ada names everything, Bo lets everything pass, Cy is an octave off in every other one."""
    recipes = [question.recipe for question in made.questions]
    if student == "Ada":
        return [right(recipe) for recipe in recipes]
    if student == "Bo":
        return [Said(Kind.NOTHING) for _ in recipes]
    return [
        right(recipe) if number % 2 else an_octave_off(recipe)
        for number, recipe in enumerate(recipes, start=1)
    ]


STUDENTS = ("Ada", "Bo", "Cy")


def named(recipe: Recipe, said: Said) -> bool:
    """By the README: the kind right, and the frequency within a third of an octave."""
    if said.kind is not recipe.kind:
        return False
    if recipe.freq_hz is None or said.freq_hz is None:
        return True
    return abs(math.log2(said.freq_hz / recipe.freq_hz)) <= THIRD_OF_AN_OCTAVE


def column_of(recipe: Recipe) -> str:
    """The octave band that a question lies in, by IEC 61260-1's edges; or that it has none."""
    return "nothing" if recipe.freq_hz is None else band_of(recipe.freq_hz)


def band_of(freq_hz: float) -> str:
    return BAND_NAMES[round(math.log10(freq_hz / 1000.0) / 0.3) + BAND_NAMES.index("1k")]


# The set --------------------------------------------------------------------------------------


def write(shown: Window, text: str) -> None:
    shown.press(*(WRITTEN.get(character, character) for character in text))


def make_the_set(home: Path, capture: Path, pictures: Path) -> PracticeSet:
    """A teacher makes a set of five by the keyboard, and tries its second question."""
    environment = capture_environment(capture, delay_ms=10) | {"NAMEFIRST_HOME": str(home)}
    with window(["drill", "--learner", "M Quill"], environment, pictures) as shown:
        shown.wait_title("Today")
        shown.press("s")
        shown.wait_title("sets")
        time.sleep(0.3)
        shown.picture("teacher_1_sets")
        shown.press("n")
        shown.wait_title("make a set")
        write(shown, TITLE)
        shown.press("Down")
        write(shown, "With headphones, please.")
        shown.press("Down", "Left", "Left", "Left", "space")  # from twenty to five
        time.sleep(0.3)
        shown.picture("teacher_2_form")
        shown.press("Return")
        shown.wait_title("a set")
        time.sleep(0.3)
        shown.picture("teacher_3_made")
        shown.press("2")
        shown.wait_title("questions of a set")
        time.sleep(0.3)
        shown.picture("teacher_4_preview")
        shown.press("Down", "Return")
        shown.wait_title("a past answer")
        time.sleep(1.5)
        shown.press("a")
        time.sleep(1.0)
        shown.picture("teacher_5_one_question")
        shown.press("Escape", "Escape")
        shown.wait_title("a set")
        shown.press("Escape")
        shown.wait_title("sets")
        shown.press("Escape")
        shown.wait_title("Today")
    (path,) = (home / "documents").glob("*.toml")
    return read_set_file(path)


# The students ---------------------------------------------------------------------------------


def inbox_of(home: Path, path: Path) -> Path:
    """The set as a student has got it."""
    inbox = home / "inbox" / path.name
    inbox.parent.mkdir(parents=True)
    inbox.write_bytes(path.read_bytes())
    return inbox


def take_in_the_window(home: Path, path: Path, plan: list[Said], pictures: Path) -> None:
    numbers = {kind: str(number) for number, kind in enumerate(Kind, start=1)}
    environment = capture_environment(home / "sound.raw") | {"NAMEFIRST_HOME": str(home)}
    words = ["set", "take", str(path), "--learner", "Ada"]
    with window(words, environment, pictures) as shown:
        shown.wait_title("a set")
        time.sleep(0.3)
        shown.picture("teacher_6_student_welcome")
        shown.press("Return")
        for number, said in enumerate(plan, start=1):
            shown.wait_title(f"question {number}")
            shown.hear_b()
            shown.press(numbers[said.kind])
            if said.freq_hz is not None:
                shown.type(f"{said.freq_hz:.0f}")
            if number == 1:
                shown.picture("teacher_7_student_question")
            shown.press("Return")
            shown.wait_title(f"review {number}")
            shown.press("Return")
        shown.wait_title("end of the set")
        time.sleep(0.3)
        shown.picture("teacher_8_student_end")
        shown.press("1")
        shown.wait_title("questions of a set")
        shown.press("Return")
        shown.wait_title("a past answer")
        shown.press("Escape", "Escape")
        shown.wait_title("end of the set")
        shown.press("Return")
        shown.wait_title("Today")


def begin_in_a_terminal(
    home: Path, path: Path, student: str, plan: list[Said]
) -> subprocess.Popen[str]:
    """A student who takes the set by typed lines, while others take it too."""
    home.mkdir(parents=True, exist_ok=True)
    typed = home / "typed.txt"
    with typed.open("w", encoding="utf-8") as lines:
        for said in plan:
            where = "" if said.freq_hz is None else f" {said.freq_hz:.0f}"
            lines.write(f"b\nwait 1.2\n{said.kind.value}{where}\n\n")
    with typed.open(encoding="utf-8") as lines:
        return subprocess.Popen(
            [
                *(sys.executable, "-m", "tests.same_draws", "1", "set", "take", str(path)),
                *("--learner", student, "--terminal"),
            ],
            cwd=ROOT,
            env=capture_environment(home / "sound.raw") | {"NAMEFIRST_HOME": str(home)},
            stdin=lines,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
        )


# The walk -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Class:
    """What the walk left: the set, the report's page and the grades."""

    made: PracticeSet
    preview: Path
    told: str
    page: Path
    grades: Path


@pytest.fixture(scope="module")
def handed_in(tmp_path_factory: pytest.TempPathFactory) -> Class:
    """From the teacher's empty form to the class's page."""
    folder = tmp_path_factory.mktemp("school")
    teacher, capture = folder / "quill", folder / "preview.raw"
    made = make_the_set(teacher, capture, folder)
    (path,) = (teacher / "documents").glob("*.toml")
    box = folder / "box"
    box.mkdir()
    (box / path.name).write_bytes(path.read_bytes())
    inboxes = {student: inbox_of(folder / student, path) for student in STUDENTS}
    by_lines = [
        begin_in_a_terminal(folder / student, inboxes[student], student, plan_of(student, made))
        for student in STUDENTS[1:]
    ]
    take_in_the_window(folder / "Ada", inboxes["Ada"], plan_of("Ada", made), folder)
    for taking in by_lines:
        said, trouble = taking.communicate(timeout=PATIENCE_S)
        assert (taking.returncode, trouble) == (0, "")
        assert "Send that file to M Quill." in said
    for inbox in inboxes.values():
        (result,) = inbox.parent.glob("*.json")
        (box / result.name).write_bytes(result.read_bytes())
    page, grades = folder / "class.html", folder / "grades.csv"
    done = run(teacher, "class", str(box), "--out", str(page), "--csv", str(grades))
    assert (done.returncode, done.stderr) == (0, "")
    return Class(made, capture, done.stdout, page, grades)


@pytest.fixture(scope="module")
def shown(handed_in: Class) -> Iterator[Any]:
    with browser() as opened:
        opened.get(handed_in.page.as_uri())
        yield opened


def table(opened: Any, number: int) -> list[list[str]]:
    """Every row of the page's table of that number, as its cells are read; the head first."""
    rows = opened.execute_script(
        "return [...document.querySelectorAll('table')[arguments[0]].rows]"
        ".map(row => [...row.cells].map(cell => cell.innerText.trim()))",
        number,
    )
    return [[str(cell) for cell in row] for row in rows]


def answers(made: PracticeSet) -> Iterator[tuple[str, Recipe, Said]]:
    """Every answer that was given, with its student and its question."""
    for student in STUDENTS:
        plan = plan_of(student, made)
        for question, said in zip(made.questions, plan, strict=True):
            yield student, question.recipe, said


def test_the_set_is_as_it_was_asked_for(handed_in: Class) -> None:
    made = handed_in.made
    assert (made.title, made.teacher, made.note) == (TITLE, "M Quill", "With headphones, please.")
    assert len(made.questions) == 5
    kinds = {question.recipe.kind for question in made.questions}
    assert kinds <= {Kind.TOO_MUCH, Kind.TOO_LITTLE, Kind.NOTHING}  # what the form offers first


def test_the_preview_sounds_the_question_as_students_hear_it(handed_in: Class) -> None:
    recipe = handed_in.made.questions[1].recipe
    question = make_question(recipe, demo_loop(recipe.loop))
    sources = {"A": question.a, "B": question.b}
    pieces = who_sounds(read_capture(handed_in.preview), sources, PIECE_FRAMES)
    names = [one.name for one in pieces if one.name in sources]
    assert [name for name, _ in groupby(names)] == ["B", "A"]


def test_each_student_stands_there_with_what_they_named(shown: Any, handed_in: Class) -> None:
    picture(shown, handed_in.page.parent, "teacher_9_class_report")
    head, *rows = table(shown, 0)
    columns = head[2:-1]
    asked_in = {column_of(question.recipe) for question in handed_in.made.questions}
    assert columns == [each for each in (*BAND_NAMES, "nothing") if each in asked_in]
    by_student = {row[0]: row for row in rows if row[0] in STUDENTS}
    assert set(by_student) == set(STUDENTS)
    for student, row in by_student.items():
        given = [(recipe, said) for who, recipe, said in answers(handed_in.made) if who == student]
        right_ones = [recipe for recipe, said in given if named(recipe, said)]
        assert row[1] == f"{len(right_ones)}/{len(given)}"
        for column, cell in zip(columns, row[2:-1], strict=True):
            there = [recipe for recipe, _ in given if column_of(recipe) == column]
            of_these = [recipe for recipe in right_ones if column_of(recipe) == column]
            assert cell == f"{len(of_these)}/{len(there)}", (student, column)


def test_what_was_taken_for_what_is_counted(shown: Any, handed_in: Class) -> None:
    head, *rows = table(shown, 1)
    counted = {
        (row[0], said): int(cell)
        for row in rows
        for said, cell in zip(head[1:], row[1:], strict=True)
        if cell
    }
    given: dict[tuple[str, str], int] = {}
    for _, recipe, said in answers(handed_in.made):
        pair = (recipe.kind.value, said.kind.value)
        given[pair] = given.get(pair, 0) + 1
    assert counted == given


def test_bands_taken_for_bands_are_counted(shown: Any, handed_in: Class) -> None:
    head, *rows = table(shown, 2)
    counted = {
        (row[0], said): int(cell)
        for row in rows
        for said, cell in zip(head[1:], row[1:], strict=True)
        if cell
    }
    given: dict[tuple[str, str], int] = {}
    for _, recipe, said in answers(handed_in.made):
        if recipe.freq_hz is not None and said.freq_hz is not None:
            pair = (band_of(recipe.freq_hz), band_of(said.freq_hz))
            given[pair] = given.get(pair, 0) + 1
    assert counted == given


def test_every_question_tells_how_many_named_it(shown: Any, handed_in: Class) -> None:
    _, *rows = table(shown, 3)
    assert len(rows) == 5
    for number, row in enumerate(rows, start=1):
        recipe = handed_in.made.questions[number - 1].recipe
        given = [said for _, each, said in answers(handed_in.made) if each is recipe]
        right_ones = sum(named(recipe, said) for said in given)
        assert row[0] == str(number)
        assert row[3] == f"{right_ones}/{len(given)}"
        # Who lets a problem pass has missed it; who names one where there is none is fooled.
        assert len(row[6] + row[7]) == 1
        passed = sum(said.kind is Kind.NOTHING for said in given)
        if recipe.kind is Kind.NOTHING:
            assert row[6] == str(len(given) - passed)
        else:
            assert row[7] == str(passed)


def test_the_page_fetches_nothing(shown: Any) -> None:
    fetched = shown.execute_script(
        "return performance.getEntriesByType('resource').map(each => each.name)"
    )
    assert [name for name in fetched if not name.startswith("data:")] == []
    assert shown.get_log("browser") == []


def test_the_grades_agree_with_the_page(shown: Any, handed_in: Class) -> None:
    with handed_in.grades.open(encoding="utf-8", newline="") as file:
        grades = {row["student"]: row for row in csv.DictReader(file)}
    _, *rows = table(shown, 0)
    page = {row[0]: row[1] for row in rows if row[0] in STUDENTS}
    assert {name: f"{row['named']}/{row['questions']}" for name, row in grades.items()} == page
    assert {row["state"] for row in grades.values()} == {"finished"}
    assert {row["set"] for row in grades.values()} == {TITLE}
    assert "3 results" in handed_in.told
