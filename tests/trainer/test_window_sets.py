"""Sets in the window: killed and gone on with, made by mouse, dropped, at other sizes."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.captured_sound import capture_environment
from tests.screen import Window, wait_until, window
from tests.simulated_class import class_set
from tests.trainer.test_cli import ROOT, run
from trainer.assignments.journal import journals_of
from trainer.assignments.practice_set import PracticeSet
from trainer.assignments.set_archive import read_set_file, write_set


def environment(home: Path) -> dict[str, str]:
    return capture_environment(home / "heard.raw", delay_ms=10) | {"NAMEFIRST_HOME": str(home)}


def to_sets(shown: Window) -> None:
    shown.wait_title("Today")
    shown.press("s")
    shown.wait_title("sets")


def small_set(tmp_path: Path) -> tuple[PracticeSet, Path]:
    """A set file on a demo loop that is drawn without a window."""
    path = tmp_path / "mud.toml"
    done = run(
        tmp_path / "quill", "set", "new", str(path), "--title", "Mud", "--questions", "4",
        "--loops", "slipway", "--seed", "3",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return read_set_file(path), path


def test_a_killed_window_loses_no_answer_of_a_set(tmp_path: Path) -> None:
    made, path = small_set(tmp_path)
    home = tmp_path / "ada"
    words = ["set", "take", str(path), "--learner", "Ada"]
    with window(words, environment(home), tmp_path) as shown:
        shown.wait_title("a set")
        shown.press("Return")
        for number in (1, 2):
            shown.wait_title(f"question {number}")
            shown.hear_b()
            shown.press("7", "Return")
            shown.wait_title(f"review {number}")
            if number == 1:
                shown.press("Return")
        shown.process.send_signal(signal.SIGKILL)
        shown.process.wait()
    (journal,) = journals_of(home / "sets" / made.id, "Ada")
    assert len(journal.answers) == 2
    with window(words, environment(home), tmp_path) as shown:
        shown.wait_title("a set")
        shown.press("Return")
        shown.wait_title("question 3")
        shown.press("Escape")
        to_sets(shown)  # it stands there, and can be gone on with from there too
        shown.press("Return")
        shown.wait_title("a set")
        shown.press("Return")
        shown.wait_title("question 3")


def test_a_set_is_made_and_begun_by_mouse(tmp_path: Path) -> None:
    home = tmp_path / "quill"
    with window(["drill", "--learner", "Quill"], environment(home), tmp_path) as shown:
        to_sets(shown)
        shown.click(1092, 106)  # Make a set
        shown.wait_title("make a set")
        shown.click(600, 98)  # the title
        shown.press("m", "u", "d")
        shown.click(222, 176)  # the first count: five questions
        shown.picture("set_form_by_mouse")
        shown.click(150, 680)  # Make the set
        shown.wait_title("a set")
        shown.click(400, 670)  # Preview
        shown.wait_title("questions of a set")
        shown.click(400, 135)  # the second line is marked,
        shown.click(400, 135)  # and opened
        shown.wait_title("a past answer")
        shown.press("Escape", "Escape")
        shown.wait_title("a set")
        shown.click(150, 670)  # Start
        shown.wait_title("question 1")
    (path,) = (home / "documents").glob("*.toml")
    assert len(read_set_file(path).questions) == 5


DROPPED = """
import sys
from pathlib import Path
import pygame
from trainer import __version__
from trainer.limits import Limits
from trainer.loop_shelf import LoopShelf
from trainer.record import Record
from trainer.window.app import Window
from trainer.window.desk import Kept

home = Path(sys.argv[1])
pygame.display.init(); pygame.font.init()
record = Record(home, "Ada", __version__)
kept = Kept(record, LoopShelf(home / "loops"))
shown = Window(pygame.display.set_mode((1280, 800)), kept, Limits(), silent=True)
for file in sys.argv[2:]:
    shown._take(pygame.event.Event(pygame.DROPFILE, file=file))
    shown._show()
    print(shown._page.title, "|", shown._desk._notice)
shown._desk.close()
"""


def test_a_set_dropped_on_the_window_opens(tmp_path: Path) -> None:
    """The event as SDL gives it; a real drop cannot be made by xdotool."""
    made = class_set(4)
    good, bad = tmp_path / "mud.toml", tmp_path / "bad.toml"
    write_set(made, good, tmp_path)
    bad.write_text("soup")
    done = subprocess.run(
        [sys.executable, "-c", DROPPED, str(tmp_path), str(bad), str(good)],
        cwd=ROOT,
        env=environment(tmp_path) | {"SDL_VIDEODRIVER": "dummy"},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    refused, opened = done.stdout.splitlines()[-2:]
    assert refused.startswith("Today | ")
    assert "no TOML" in refused
    assert opened == "a set | "


@pytest.mark.parametrize("size", [(1024, 640), (2560, 1440)])
def test_the_form_fits_windows_of_other_sizes(tmp_path: Path, size: tuple[int, int]) -> None:
    screen = "x".join(map(str, size))
    words = ["drill", "--learner", "Quill", "--silent"]
    with window(words, environment(tmp_path), tmp_path, size=screen) as shown:
        to_sets(shown)
        shown.press("n")
        shown.wait_title("make a set")
        shown.resize(*size)
        time.sleep(0.3)
        shown.picture(f"set_form_{screen}")
        wait_until(lambda: shown.title == "make a set")
        assert shown.process.poll() is None
