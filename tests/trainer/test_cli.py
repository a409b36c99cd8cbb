"""The command line as a person meets it: processes of their own, exit statuses, and one line each.

Bad input ends with status 2, one line and nothing written over; what is slow to import is not
imported by what must answer at once.
"""

from __future__ import annotations

import hashlib
import json
import os
import shlex
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from exercises.loop_writing import write_loop
from exercises.loops import read_loop
from tests.exercises.songs import song
from tests.synthetic_loops import small_band
from trainer import __version__
from trainer.arguments import read_arguments
from trainer.help_examples import EXAMPLES
from trainer.home import home_folder, loops_folder, record_folder

ROOT = Path(__file__).parents[2]
DRILL = ("--terminal", "--silent")


def run(
    home: Path, *arguments: str, typed: str = "", module: tuple[str, ...] = ("-m", "trainer")
) -> subprocess.CompletedProcess[str]:
    """One command in a process of its own, its data in ``home``, its sound going nowhere."""
    return subprocess.run(
        [sys.executable, *module, *arguments],
        cwd=ROOT,
        env=os.environ
        | {
            "NAMEFIRST_HOME": str(home),
            "SDL_AUDIODRIVER": "dummy",
            "SDL_VIDEODRIVER": "dummy",
            "PYTHONIOENCODING": "utf-8",
        },
        input=typed,
        capture_output=True,
        encoding="utf-8",
        timeout=90,
    )


def refused(done: subprocess.CompletedProcess[str]) -> str:
    """The one line of a command that was refused, once it is known to be that."""
    assert done.returncode == 2, done.stderr
    lines = done.stderr.splitlines()
    assert len(lines) == 1, done.stderr
    assert lines[0].startswith("namefirst: ")
    return lines[0].removeprefix("namefirst: ")


def contents(folder: Path) -> dict[str, str]:
    """A digest of every file below ``folder``."""
    return {
        str(file.relative_to(folder)): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in sorted(folder.rglob("*"))
        if file.is_file()
    }


# What must answer at once ---------------------------------------------------------------------

HEAVY = ("pygame", "numpy", "scipy", "soundfile", "tqdm")

HELP = f"""
import sys
from trainer.cli import main
try:
    main(sys.argv[1:])
except SystemExit as left:
    print("status", left.code)
print("heavy:", [name for name in {HEAVY} if name in sys.modules])
"""

UP_TO_THE_WINDOW = """
import sys
import trainer.window.app
def run(kept, limits, *, silent, instead):
    print("silent:", silent, "scipy:", "scipy" in sys.modules, kept.record.learner, limits.minutes)
trainer.window.app.run = run
from trainer.cli import main
print("status", main(sys.argv[1:]))
"""


@pytest.mark.parametrize(
    "arguments", [("--help",), ("--version",), ("drill", "--help"), ("loops", "add", "--help")]
)
def test_help_imports_nothing_heavy(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    done = run(tmp_path, *arguments, module=("-c", HELP))
    assert done.stderr == ""
    assert done.stdout.endswith("status 0\nheavy: []\n")
    assert contents(tmp_path) == {}


@pytest.mark.parametrize(
    ("command", "example"),
    [(command, line) for command, lines in EXAMPLES.items() for line in lines],
)
def test_every_example_can_be_typed_and_stands_in_the_help(
    command: str, example: str, capsys: pytest.CaptureFixture[str]
) -> None:
    program, *words = shlex.split(example.partition(" > ")[0])
    assert program == "namefirst"
    assert read_arguments(words).command == command
    with pytest.raises(SystemExit):
        read_arguments([*command.split(), "--help"])
    assert example in capsys.readouterr().out


def test_every_command_has_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        read_arguments(["--help"])
    listed = capsys.readouterr().out.partition("COMMAND\n")[2]
    commands = {line.split()[0] for line in listed.splitlines() if line[4:5].strip()}
    assert len(commands) > 8
    assert {line.split()[1] for lines in EXAMPLES.values() for line in lines} == commands


@pytest.mark.parametrize(
    "arguments", [(), ("drill",), ("--silent", "--learner", "ann", "--minutes", "3")]
)
def test_the_window_opens_before_scipy_is_imported(
    tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    done = run(tmp_path, *arguments, module=("-c", UP_TO_THE_WINDOW))
    assert done.stderr == ""
    silent, learner, minutes = ("True", "ann", "3.0") if arguments[1:] else ("False", "", "10.0")
    told = done.stdout.splitlines()[-2:]  # pygame greets before, for it is imported first here
    assert told[0].startswith(f"silent: {silent} scipy: False {learner}")
    assert told[0].endswith(f" {minutes}")
    assert told[1] == "status 0"


def test_the_version_is_told(tmp_path: Path) -> None:
    assert run(tmp_path, "--version").stdout == f"namefirst {__version__}\n"


# Where the data lives -------------------------------------------------------------------------


def test_the_data_lives_where_the_variable_says(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NAMEFIRST_HOME", os.path.join("~", "drills"))
    assert home_folder() == Path.home() / "drills"
    assert record_folder() == Path.home() / "drills"
    assert loops_folder() == Path.home() / "drills" / "loops"


@pytest.mark.skipif(sys.platform != "linux", reason="the XDG folders are a Linux habit")
def test_else_it_lives_in_the_users_data_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """XDG Base Directory Specification 0.8: $XDG_DATA_HOME is for user-specific data files."""
    monkeypatch.setenv("NAMEFIRST_HOME", "")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert home_folder() == tmp_path / "Namefirst"


# Bad input: audio -----------------------------------------------------------------------------


def _write(path: Path, sound: np.ndarray, rate_hz: int = 48_000, **how: str) -> None:
    soundfile.write(path, sound, rate_hz, **how)


def _music(seconds: float = 4.0, channels: int = 2) -> np.ndarray:
    state = np.random.RandomState(3)
    return (0.1 * state.randn(round(seconds * 48_000), channels)).astype(np.float32)


def _with_nan(path: Path) -> None:
    sound = _music()
    sound[1000] = np.nan
    _write(path, sound, subtype="FLOAT")


BAD_AUDIO: dict[str, tuple[str, Callable[[Path], object], str]] = {
    "missing": ("gone.wav", lambda path: None, "no such file|not there|does not exist"),
    "a folder": ("folder.wav", Path.mkdir, "folder"),
    "unreadable": ("noise.wav", lambda path: path.write_bytes(b"not audio at all" * 99), "audio"),
    "empty": ("empty.wav", lambda path: path.write_bytes(b""), "empty"),
    "no frames": ("nothing.wav", lambda path: _write(path, _music(0.0)), "holds no sound"),
    "silent": ("silent.flac", lambda path: _write(path, 0.0 * _music()), "silent"),
    "too short": ("short.ogg", lambda path: _write(path, _music(1.5)), "short"),
    "not a number": ("nan.wav", _with_nan, "not numbers|NaN"),
    "slow rate": ("slow.wav", lambda path: _write(path, _music(), 100), "Hz"),
    "fast rate": ("fast.wav", lambda path: _write(path, _music(), 3_000_000), "Hz"),
    "many channels": ("many.wav", lambda path: _write(path, _music(channels=12)), "channels"),
    "wrong extension": (
        "words.mp3",
        lambda path: path.write_text("These are words.\n" * 50),
        "audio",
    ),
}


@pytest.mark.parametrize("name", BAD_AUDIO)
def test_bad_audio_is_refused_in_one_line(tmp_path: Path, name: str) -> None:
    file_name, write, reason = BAD_AUDIO[name]
    source = tmp_path / "source"
    source.mkdir()
    write(source / file_name)
    before = contents(source)
    done = run(tmp_path / "home", "--loop", str(source / file_name), "--terminal", "--silent")
    line = refused(done)
    assert file_name in line
    assert any(word in line for word in reason.split("|")), line
    assert done.stdout == ""
    assert contents(source) == before
    assert not (tmp_path / "home" / "loops").exists()


# Bad input: the data folder -------------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments",
    [("drill", "--terminal", "--silent"), ("drill", "--silent"), ("export", "-")],
    ids=" ".join,
)
def test_a_data_folder_that_cannot_be_made(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    """Below a regular file nobody may make a folder, not even root."""
    (tmp_path / "file").write_text("mine")
    line = refused(run(tmp_path / "file" / "home", *arguments))
    assert "NAMEFIRST_HOME" in line
    assert (tmp_path / "file").read_text() == "mine"


def test_a_loop_that_cannot_be_kept(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    (home / "loops").write_text("mine")
    soundfile.write(tmp_path / "song.wav", _music(), 48_000)
    line = refused(run(home, "loops", "add", str(tmp_path / "song.wav")))
    assert "cannot be written" in line
    assert contents(home) == {"loops": hashlib.sha256(b"mine").hexdigest()}


@pytest.mark.parametrize("damage", ["garbage", "torn", "from the future"])
def test_a_damaged_record_is_left_as_it_is(tmp_path: Path, damage: str) -> None:
    record = tmp_path / "record.sqlite"
    if damage == "garbage":
        record.write_bytes(b"my only copy of something else" * 300)
    else:
        assert run(tmp_path, "drill", "--terminal", "--silent").returncode == 0
        with sqlite3.connect(record) as db:
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            if damage == "from the future":
                db.execute("PRAGMA user_version = 999")
        db.close()
        if damage == "torn":
            whole = record.read_bytes()
            record.write_bytes(whole[:100] + b"\xff" * (len(whole) - 100))
    before = contents(tmp_path)
    for arguments in (("drill", "--terminal", "--silent"), ("export", "-")):
        line = refused(run(tmp_path, *arguments))
        assert str(record) in line
        assert ("newer" if damage == "from the future" else "damaged") in line
    after = contents(tmp_path)
    assert after["record.sqlite"] == before["record.sqlite"]


# Bad input: what is asked for -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (("dril",), "dril"),
        (("--term",), "--term"),
        (("--minutes", "soon"), "soon"),
        (("--bands", "300"), "'300' is no octave band, and lies in that of 250"),
        (("--bands", "250", "--kinds", "squashed"), "only too much and too little have a band"),
        (("--minutes", "0"), "--minutes 0"),
        (("--minutes", "nan"), "--minutes nan"),
        (("--minutes", "1e9"), "at most 240"),
        (("--bands", "250,3 apples"), "'3 apples' is no band"),
        (("--bands", ","), "names no band"),
        (("--kinds", "mud"), "'mud' is no kind"),
        (("--kinds", "nothing"), "nothing to ask"),
        (("--loops", "nowhere"), "no loop 'nowhere'"),
        (("--loops", "x", "--loop", "y"), "not allowed with"),
        (("--learner", ""), "1 to 60 characters"),
        (("--learner", "a\nb"), "1 to 60 characters"),
        (("loops",), "COMMAND"),
        (("loops", "show", "nowhere"), "no loop 'nowhere'; there are bandstand-waltz, ferry-cro"),
        (("loops", "show", "../../etc"), "no loop '../../etc'"),
        (("loops", "remove", "ferry-crossing"), "demo loop"),
        (("loops", "remove", "nowhere"), "no loop 'nowhere'; there are bandstand-waltz"),
        (("loops", "add", "nowhere.wav"), "nowhere.wav"),
        (("import", "nowhere.jsonl"), "nowhere.jsonl"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_what_cannot_be_done_is_said_in_one_line(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    reason: str,
) -> None:
    """In this process, to save time: the other tests show that a process of its own is alike."""
    from trainer.cli import main

    monkeypatch.setenv("NAMEFIRST_HOME", str(tmp_path))
    assert main([*arguments, *DRILL] if arguments[0].startswith("--") else arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.splitlines()) == 1
    assert captured.err.startswith("namefirst: ")
    assert reason in captured.err


def test_a_rehearsal_without_sound_says_so_and_keeps_nothing(tmp_path: Path) -> None:
    typed = "b\nwait 1.5\nnothing\n\nq\n"
    heard = run(tmp_path, "--terminal", "--learner", "ann", typed=typed)
    exported = run(tmp_path, "export", "-", "--learner", "ann").stdout
    assert exported.count('"answer"') >= 1, heard.stderr
    silent = run(tmp_path, "--terminal", "--silent", "--learner", "ann", typed=typed)
    assert "nothing is scored" in silent.stdout.splitlines()[0]
    assert "Question 2" in silent.stdout  # it goes on from the record's copy
    assert run(tmp_path, "export", "-", "--learner", "ann").stdout == exported

    # A slip in the name is told where it would begin a record, and refused where one is read.
    for command in (("progress",), ("export", "-")):
        line = refused(run(tmp_path, *command, "--learner", "anne"))
        assert line.startswith("there is no record of 'anne'; there are records of ann: ")
    begun = run(tmp_path, "--terminal", "--silent", "--learner", "Anne", typed="q\n").stdout
    assert begun.startswith("A record is begun for 'Anne'; there are records of ann.\n")
    assert "begun" not in run(tmp_path, "--terminal", "--learner", "ann", typed="q\n").stdout


def test_without_a_sound_output_the_terminal_says_so(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "trainer", "drill", "--terminal"],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(tmp_path), "SDL_AUDIODRIVER": "none-such"},
        input="b\n",
        capture_output=True,
        text=True,
        timeout=90,
    )
    assert "--silent" in refused(done)
    assert done.stdout == ""


def test_without_a_screen_the_window_says_so(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "trainer"],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(tmp_path), "SDL_VIDEODRIVER": "none-such"},
        capture_output=True,
        text=True,
        timeout=90,
    )
    assert "--terminal" in refused(done)


# Leaving --------------------------------------------------------------------------------------


@pytest.mark.skipif(sys.platform == "win32", reason="signals are not sent like this on Windows")
@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_ends_the_drill_quietly(tmp_path: Path, number: int, status: int) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "trainer", "drill", "--terminal"],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(tmp_path), "SDL_AUDIODRIVER": "dummy"},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    for line in process.stdout:
        if line.startswith("Question 1"):
            break
    process.send_signal(number)
    _, complaint = process.communicate(timeout=60)
    assert (process.returncode, complaint) == (status, "")


@pytest.mark.skipif(sys.platform == "win32", reason="a closed pipe is another error on Windows")
def test_a_reader_that_has_had_enough_is_no_error(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "trainer", "loops", "list"],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(tmp_path)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == ""
    process.stderr.close()
    assert process.wait(timeout=60) == 1


# The record -----------------------------------------------------------------------------------


def test_the_record_goes_out_and_comes_in_again(tmp_path: Path) -> None:
    answers = "b\nwait 1.5\nnothing\n\nb\nwait 1.5\nsquashed?\n\n"
    home, other = tmp_path / "home", tmp_path / "other"
    assert run(home, "--learner", "ann", "--terminal", typed=answers).returncode == 0
    file = tmp_path / "ann.jsonl"
    assert run(home, "export", str(file), "--learner", "ann").returncode == 0
    exported = file.read_text(encoding="utf-8")
    assert run(home, "export", "-", "--learner", "ann").stdout == exported
    assert len(exported.splitlines()) > 3

    line = refused(run(home, "export", str(file), "--learner", "ann"))
    assert "is already there" in line
    assert file.read_text(encoding="utf-8") == exported

    brought = run(other, "import", str(file), "--learner", "ann")
    assert (brought.returncode, brought.stderr) == (0, "")
    assert brought.stdout.startswith("Brought in 2 answers, 1 drill and ")
    again = run(other, "import", "-", "--learner", "ann", typed=exported)
    assert again.stdout.startswith("Brought in 0 answers, 0 drills")
    assert run(other, "export", "-", "--learner", "ann").stdout == exported

    file.write_bytes(b"\xff\xfe not text")
    assert "not text" in refused(run(other, "import", str(file)))
    assert "standard input: line 1: " in refused(run(other, "import", "-", typed="{}"))
    file.write_text("[", encoding="utf-8")
    assert f"{file}: line 1: is no JSON" in refused(run(other, "import", str(file)))

    text = run(other, "progress", "--learner", "ann")
    assert (text.returncode, text.stderr) == (0, "")
    assert text.stdout.startswith("Progress of ann on ")
    assert json.loads(run(other, "progress", "--json", "--learner", "ann").stdout)["answers"] == 2
    assert run(other, "progress", "--csv", "--learner", "ann").stdout.count("\n") > 20


# Loops ----------------------------------------------------------------------------------------


def test_an_own_song_becomes_a_loop_is_shown_and_put_away(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "morning song.wav", song(bars=8), 48_000)
    file = str(tmp_path / "morning song.wav")
    home = tmp_path / "home"

    added = run(home, "loops", "add", file)
    assert (added.returncode, added.stderr) == (0, "")
    assert "\n1. From " in added.stdout
    assert "Added 'morning-song': " in added.stdout
    loop = read_loop(home / "loops" / "morning-song")
    assert loop.title == "morning song"

    again = run(home, "loops", "add", file)
    assert "is on the shelf already, as 'morning-song'" in again.stdout
    other = run(home, "loops", "add", file, "--choose", "2", "--title", "Other bars")
    assert "Added 'other-bars': " in other.stdout
    assert read_loop(home / "loops" / "other-bars").fingerprint != loop.fingerprint
    beyond = run(home, "loops", "add", file, "--choose", "9")
    assert "no loop number 9" in refused(beyond)

    listed = run(home, "loops", "list").stdout.splitlines()
    assert listed[0].startswith("morning-song: morning song, your own, ")
    assert listed[1].startswith("other-bars: Other bars, your own, ")
    assert all(", demo, " in line for line in listed[2:])
    assert len(listed) > 5

    assert run(home, "loops", "remove", "Morning Song").returncode == 0
    assert "no loop 'morning-song'" in refused(run(home, "loops", "show", "morning-song"))
    # The drill's own --loop finds what is there, and keeps anew what was put away.
    drill = run(home, "--loop", file, "--terminal", "--silent")
    assert (drill.returncode, drill.stderr) == (0, "")
    assert "is kept as 'morning-song'" in drill.stdout
    assert ". morning song, whole mix.\n" in drill.stdout
    drill = run(home, "--loop", file, "--terminal", "--silent")
    assert "kept as" not in drill.stdout
    assert ". morning song, whole mix.\n" in drill.stdout


def test_what_can_be_asked_on_a_loop_is_shown(tmp_path: Path) -> None:
    write_loop(small_band(3.0, level_db=-6.0), tmp_path / "loops" / "small")
    shown = run(tmp_path, "loops", "show", "small").stdout
    assert "Test loop (small), synthetic\nLength: 3.0 s, 3 tracks\n" in shown
    assert "Tracks: drums, bass, keys\n" in shown
    assert "Passages: the loop (0.0 to 3.0 s)\n" in shown
    sizes = {line[:10].strip(): line[10:].split() for line in shown.splitlines()}
    assert all(len(sizes[name]) == 2 for name in ("31.5", "63", "250", "1k", "16k"))
    # Peaks are easier to hear than dips (R. Bücklein, JAES 29(3), 1981).
    much_db, little_db = map(float, sizes["1k"])
    assert 0.5 <= much_db <= little_db <= 12.0
    # A level problem changes everything alike, so it is heard from about 1 dB on.
    assert float(sizes["too loud"][0]) <= 1.5
    assert run(tmp_path, "loops", "show", "TEST loop").stdout == shown, "by its title too"


def test_a_damaged_loop_does_not_hide_the_others(tmp_path: Path) -> None:
    (tmp_path / "loops" / "broken").mkdir(parents=True)
    (tmp_path / "loops" / "broken" / "loop.toml").write_text("format = 1\n")
    done = run(tmp_path, "loops", "list")
    assert done.returncode == 0
    lines = done.stdout.splitlines()
    assert lines[0].startswith("broken: damaged. ")
    assert any(line.startswith("ferry-crossing: ") for line in lines)
