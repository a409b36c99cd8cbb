"""Sets as files: written, read back, and refused where they were changed or cannot be trusted."""

from __future__ import annotations

import os
import re
import tomllib
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from exercises.kinds import Help, Kind
from exercises.loop_writing import write_loop
from exercises.problems import Problem
from exercises.recipe import Recipe
from tests.simulated_class import LOOPS, MADE, class_set
from tests.synthetic_loops import small_band
from trainer.assignments.practice_set import (
    BadSet,
    Counts,
    PracticeSet,
    Review,
    SetLoop,
    SetQuestion,
    Terms,
)
from trainer.assignments.set_archive import (
    own_loop_files,
    read_set_file,
    unpack_loops,
    write_set,
)
from trainer.assignments.set_file import read_set, set_text
from trainer.assignments.strangers import Refused

BAND = small_band(level_db=-12.0)
RICH = Recipe(
    seed=1,
    loop=LOOPS[0].name,
    fingerprint=LOOPS[0].fingerprint,
    kind=Kind.TOO_MUCH,
    size_db=6.0,
    freq_hz=200.0,
    q=1.4,
    track="guitar",
    passage="damped",
    help=Help.NO_A,
    second=Problem(Kind.TOO_LITTLE, 6.0, 4000.0, 1.4),
    ask_track=True,
    ask_passage=True,
)


def rich_set() -> PracticeSet:
    made = class_set(30, tries=3, counts=Counts.LAST, review=Review.AT_THE_END, minutes=12.5)
    note = 'Take "your" time;\n\nκαλημέρα, \\ and # and """ and \'\'\'.\n. . . . . . . .'
    return replace(
        made, note=note, rule=None, seed=0, questions=(*made.questions, SetQuestion(RICH))
    )


@pytest.mark.parametrize("made", [class_set(1), class_set(200), rich_set()])
def test_a_set_is_read_back_as_it_was(made: PracticeSet) -> None:
    assert read_set(set_text(made).encode(), "x.toml") == made


def test_an_adaptive_set_keeps_the_smallest_sizes() -> None:
    made = class_set(8)
    assert made.rule is not None
    questions = tuple(SetQuestion(each.recipe, 2.25) for each in made.questions)
    rule = replace(made.rule, sizes_db=())
    adaptive = replace(made, adaptive=True, rule=rule, questions=questions)
    assert read_set(set_text(adaptive).encode(), "x.toml") == adaptive


def test_the_answers_do_not_stand_legible_in_the_file() -> None:
    made = class_set(40)
    text = set_text(replace(made, rule=None, seed=0))
    body = re.sub('fingerprint = ".*"', "", text[text.index("[terms]") :])
    for question in made.questions:
        recipe = question.recipe
        assert recipe.kind.value not in body
        if recipe.freq_hz is not None:
            assert f"{recipe.freq_hz:.1f}" not in body


def test_what_a_teacher_may_change_by_hand() -> None:
    made = class_set(5)
    text = set_text(made).replace("Mud or box", "Box or mud").replace("tries = 1", "tries = 4")
    changed = read_set(text.encode(), "x.toml")
    assert (changed.title, changed.terms.tries) == ("Box or mud", 4)
    assert changed.id == made.id


def test_a_due_date_put_off_is_the_same_set() -> None:
    made = class_set(5)
    later = replace(made, terms=Terms(due=MADE + timedelta(days=30)))
    assert later.id == made.id
    assert replace(made, questions=made.questions[:4]).id != made.id


NASTY: dict[str, tuple[Callable[[str], str], str]] = {
    "another rule": (lambda t: t.replace("6.0,", "3.0,"), "does not fit"),
    "another seed": (lambda t: t.replace("seed = 7", "seed = 8"), "does not fit"),
    "fewer questions": (lambda t: t.replace("count = 5", "count = 4"), "no list of at most 4"),
    "a million questions": (lambda t: t.replace("count = 5", "count = 1000000"), "from 1 to 1000"),
    "a newer version": (lambda t: t.replace("version = 1", "version = 2"), "reads 1"),
    "a version of yes": (lambda t: t.replace("version = 1", "version = true"), "reads 1"),
    "no set": (lambda t: t.replace('"namefirst set"', '"soup"'), "is no namefirst set"),
    "a field too many": (lambda t: t.replace("version = 1", "version = 1\nsoup = 1"), "'soup'"),
    "a field missing": (lambda t: t.replace("tries = 1\n", ""), "'tries' is missing"),
    "NaN minutes": (lambda t: t.replace("tries = 1", "tries = 1\nminutes = nan"), "minutes"),
    "endless minutes": (lambda t: t.replace("tries = 1", "tries = 1\nminutes = inf"), "minutes"),
    "NaN size": (lambda t: t.replace("6.0,", "nan,"), "'sizes_db' \\(nan\\)"),
    "a huge number": (lambda t: t.replace("tries = 1", "tries = 0x" + "f" * 5000), "huge number"),
    "digits": (lambda t: t.replace("tries = 1", "tries = " + "9" * 5000), "is no TOML"),
    "a name twice": (lambda t: t.replace("version = 1", "version = 1\nversion = 1"), "is no TOML"),
    "deep": (lambda t: t + "\nx = " + "[" * 20_000 + "]" * 20_000, "nested too deeply"),
    "long keys": (lambda t: t + "\n" + "a." * 60_000 + "a = 1", "too many parts"),
    "long keys in quotes": (lambda t: t + "\n" + '"a".' * 30_000 + "a = 1", "too many parts"),
    "an open string": (lambda t: t + '\nx = """' + '\\"""' * 40_000, "is no TOML"),
    "not text": (lambda t: t.replace("Mud", "\udcff"), "not text"),
    "escapes for a terminal": (lambda t: t.replace("Mud", "\\u001b[2J"), "cannot be shown"),
    "written backwards": (lambda t: t.replace("Mud", "\u202e"), "cannot be shown"),
    "an endless title": (lambda t: t.replace("Mud", "M" * 500), "'title'"),
    "list damaged": (lambda t: t.replace("eN", "e#"), "is damaged"),
    "a year": (lambda t: t.replace("made = 2026", "made = 9999"), "year that cannot be"),
    "no time zone": (lambda t: t.replace("09:00:00+00:00", "09:00:00"), "time zone"),
    "a loop twice": (lambda t: t.replace('"slipway"', '"ferry-crossing"'), "twice under one name"),
}


@pytest.mark.parametrize("what", NASTY)
def test_a_changed_set_is_refused_in_one_line(what: str) -> None:
    change, why = NASTY[what]
    text = change(set_text(class_set(5)))
    with pytest.raises(Refused, match=why) as caught:
        read_set(text.encode("utf-8", "surrogateescape"), "x.toml")
    assert len(str(caught.value).splitlines()) == 1
    assert len(str(caught.value)) < 400


def test_a_note_of_many_dots_is_let_through() -> None:
    made = replace(class_set(5), note="www.a.b.c " * 200 + "\n" + "." * 1000)
    assert read_set(set_text(made).encode(), "x.toml").note == made.note


# Own loops in a zip ------------------------------------------------------------------------------


def own_set(folder: Path) -> PracticeSet:
    """A set on a loop of the teacher's own, kept in ``folder``."""
    write_loop(replace(BAND, name="my-loop"), folder / "my-loop")
    loop = SetLoop("my-loop", BAND.fingerprint, own_loop_files(folder / "my-loop"))
    made = class_set(4)
    questions = tuple(
        SetQuestion(replace(each.recipe, loop="my-loop", fingerprint=loop.fingerprint))
        for each in made.questions
    )
    return replace(made, loops=(loop,), questions=questions)


def zipped(tmp_path: Path) -> Path:
    """The set of ``own_set`` in a zip."""
    path = tmp_path / "set.zip"
    write_set(own_set(tmp_path / "loops"), path, tmp_path / "loops")
    return path


def test_own_loops_travel_and_are_unpacked_as_they_were(tmp_path: Path) -> None:
    path = zipped(tmp_path)
    made = read_set_file(path)
    unpack_loops(path, tmp_path / "there")
    unpack_loops(path, tmp_path / "there")  # again: what is there stays
    for file in made.own_loops[0].files:
        there = (tmp_path / "there" / "my-loop" / file.name).read_bytes()
        assert there == (tmp_path / "loops" / "my-loop" / file.name).read_bytes()
    assert [path.name for path in (tmp_path / "there").iterdir()] == ["my-loop"]


def test_the_ending_says_whether_loops_travel(tmp_path: Path) -> None:
    with pytest.raises(BadSet, match=r"ends with \.zip"):
        write_set(own_set(tmp_path / "loops"), tmp_path / "set.toml", tmp_path / "loops")
    with pytest.raises(BadSet, match=r"ends with \.toml"):
        write_set(class_set(4), tmp_path / "set.zip", tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["loops"]


def test_nothing_is_written_over_unasked(tmp_path: Path) -> None:
    path = tmp_path / "set.toml"
    path.write_text("mine")
    with pytest.raises(BadSet, match="already there"):
        write_set(class_set(4), path, tmp_path)
    assert path.read_text() == "mine"
    write_set(class_set(4), path, tmp_path, force=True)
    assert tomllib.loads(path.read_text())["title"] == "Mud or box"


def rezipped(path: Path, change: Callable[[zipfile.ZipFile, dict[str, bytes]], None]) -> Path:
    """The zip at ``path`` with the same entries after ``change`` had its way."""
    with zipfile.ZipFile(path) as packed:
        entries = {name: packed.read(name) for name in packed.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        change(packed, entries)
        for name, data in entries.items():
            packed.writestr(name, data)
    return path


def _climbing(packed: zipfile.ZipFile, _entries: dict[str, bytes]) -> None:
    packed.writestr("../evil.toml", "x")


def _absolute(packed: zipfile.ZipFile, _entries: dict[str, bytes]) -> None:
    packed.writestr("/namefirst-evil", "x")


def _link(packed: zipfile.ZipFile, _entries: dict[str, bytes]) -> None:
    link = zipfile.ZipInfo("loops/my-loop/extra.flac")
    link.external_attr = 0o120777 << 16
    packed.writestr(link, "/etc/passwd")


def _bomb(packed: zipfile.ZipFile, entries: dict[str, bytes]) -> None:
    entries["loops/my-loop/loop.toml"] = bytes(300 * 1024 * 1024)


def _many(packed: zipfile.ZipFile, _entries: dict[str, bytes]) -> None:
    for number in range(3000):
        packed.writestr(f"{number:05d}", "")


def _another_sound(_packed: zipfile.ZipFile, entries: dict[str, bytes]) -> None:
    name = next(name for name in entries if name.endswith(".flac"))
    entries[name] = entries[name][:-1] + b"x"


def _huge_set(_packed: zipfile.ZipFile, entries: dict[str, bytes]) -> None:
    entries["set.toml"] = b"#" * (1024 * 1024)


def _no_set(_packed: zipfile.ZipFile, entries: dict[str, bytes]) -> None:
    del entries["set.toml"]


ZIPS: dict[str, tuple[Callable[[zipfile.ZipFile, dict[str, bytes]], None], str]] = {
    "a path that climbs out": (_climbing, "does not hold the files"),
    "an absolute path": (_absolute, "does not hold the files"),
    "a link": (_link, "a link, a folder or a locked file"),
    "a bomb": (_bomb, "unpacks to more than"),
    "thousands of files": (_many, "lists too many files"),
    "another sound": (_another_sound, "is not what the set says"),
    "a huge set": (_huge_set, "too large"),
    "no set": (_no_set, "holds no set.toml"),
}


@pytest.mark.parametrize("what", ZIPS)
def test_a_bad_zip_is_refused_and_leaves_nothing(what: str, tmp_path: Path) -> None:
    change, why = ZIPS[what]
    path = rezipped(zipped(tmp_path), change)
    with pytest.raises(Refused, match=why):
        unpack_loops(path, tmp_path / "there")
    assert list(tmp_path.glob("there/**/*")) == []
    assert not Path("/namefirst-evil").exists()


def test_a_file_twice_in_a_zip_is_refused(tmp_path: Path) -> None:
    path = zipped(tmp_path)
    with zipfile.ZipFile(path, "a") as packed, pytest.warns(UserWarning, match="Duplicate name"):
        packed.writestr("set.toml", "x")
    with pytest.raises(Refused, match="holds a file twice"):
        read_set_file(path)


def test_a_cut_off_zip_is_refused(tmp_path: Path) -> None:
    path = zipped(tmp_path)
    path.write_bytes(path.read_bytes()[:-100])
    with pytest.raises(Refused, match="no plain zip"):
        read_set_file(path)


def test_ten_minutes_of_silence_in_a_few_bytes_is_not_decoded(tmp_path: Path) -> None:
    folder = tmp_path / "loops" / "my-loop"
    made = own_set(tmp_path / "loops")
    name = next(path.name for path in folder.iterdir() if path.suffix == ".flac")
    with soundfile.SoundFile(folder / name, "w", 48_000, 2, format="FLAC") as out:
        minute = np.zeros((60 * 48_000, 2), dtype=np.int16)
        for _ in range(10):
            out.write(minute)
    loop = replace(made.loops[0], files=own_loop_files(folder))
    path = tmp_path / "set.zip"
    write_set(replace(made, loops=(loop,)), path, tmp_path / "loops")
    assert path.stat().st_size < 4_000_000
    with pytest.raises(Refused, match="longer than 120 s"):
        unpack_loops(path, tmp_path / "there")
    assert list((tmp_path / "there").iterdir()) == []


def test_a_file_of_two_gigabytes_is_not_read(tmp_path: Path) -> None:
    for name in ("set.toml", "set.zip"):
        path = tmp_path / name
        with path.open("wb") as out:
            os.truncate(out.fileno(), 2 * 1024**3)
        with pytest.raises(Refused, match=r"too large|no zip of at most"):
            read_set_file(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_what_is_no_plain_file_is_not_waited_for(tmp_path: Path) -> None:
    for name in ("set.toml", "set.zip"):
        os.mkfifo(tmp_path / name)
        with pytest.raises(Refused, match=r"no plain file|no zip"):
            read_set_file(tmp_path / name)
