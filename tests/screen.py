"""A real window on a virtual screen, driven by real keys and the mouse, for end-to-end tests.

Needs Xvfb, xdotool and ImageMagick's ``import``; where they are missing a test is skipped, unless
``NAMEFIRST_CI`` is set, where it fails. Pictures go to ``NAMEFIRST_PICTURES`` if that is set.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from exercises.samples import RATE_HZ
from tests.captured_sound import read_capture
from trainer.record import Record
from trainer.round import LEAST_HEARD_S
from trainer.volume import FIRST_START_DB, START_DROP_DB

NEEDED = ("Xvfb", "xdotool", "import")
# How long something may take until it counts as never: a busy machine is slow, and that is no
# fault. Nothing waits for so long that comes.
PATIENCE_S = 240.0
# A number of its own for each: two that look for a free one at the same moment can find the same.
_SCREENS = itertools.count(100 + os.getpid() % 300 * 100)
# By its class: without a window manager xdotool finds none by name. It is alone on its screen.
_OUR_WINDOW = ("search", "--class", "namefirst")


@dataclass(frozen=True, slots=True)
class Window:
    """The program under test and the screen that it is on."""

    process: subprocess.Popen[bytes]
    display: str
    pictures: Path
    capture: Path | None = None  # what has sounded, where the disk driver writes it down

    def xdotool(self, *words: str) -> str:
        """Runs xdotool and gives what it printed."""
        done = subprocess.run(
            ["xdotool", *words],
            env=os.environ | {"DISPLAY": self.display},
            capture_output=True,
            text=True,
            check=False,
        )
        return done.stdout.strip()

    def press(self, *keys: str) -> None:
        """Presses keys one after another, by their X names."""
        for key in keys:
            self.xdotool("key", "--clearmodifiers", key)
            time.sleep(0.06)

    def type(self, text: str) -> None:
        """Types characters."""
        self.press(*({".": "period", ",": "comma"}.get(each, each) for each in text))

    def hear_b(self) -> None:
        """Listens to B for as long as a question asks for, and a little more.

        By what has sounded since the key was taken, where that is written down: on a busy machine
        the sound is slower than the clock.
        """
        self.press("b")
        if self.capture is None:
            time.sleep(LEAST_HEARD_S + 0.6)
            return
        self.settle()
        capture = self.capture
        begun = capture.stat().st_size if capture.exists() else 0
        wait_until(lambda: sounded_s(capture, begun) > LEAST_HEARD_S + 0.1)

    def settle(self) -> None:
        """Waits until every key pressed so far has been taken: they are taken in turn."""
        page = self.title
        self.press("F1")
        wait_until(lambda: self.title != page)
        self.press("Escape")
        self.wait_title(page)

    def click(self, x: int, y: int) -> None:
        """Clicks at a point in pixels."""
        self.xdotool("mousemove", str(x), str(y), "click", "1")
        time.sleep(0.06)

    def drag(self, start: tuple[int, int], stop: tuple[int, int]) -> None:
        """Presses at one point, moves to another, and lets go."""
        self.xdotool("mousemove", *map(str, start), "mousedown", "1")
        self.xdotool("mousemove", *map(str, stop))
        time.sleep(0.1)
        self.xdotool("mouseup", "1")

    def resize(self, width: int, height: int) -> None:
        """Changes the window's size in pixels."""
        self.xdotool(*_OUR_WINDOW, "windowsize", str(width), str(height))
        time.sleep(0.5)

    @property
    def title(self) -> str:
        """The window's title without the program's name; empty before there is a window."""
        return self.xdotool(*_OUR_WINDOW, "getwindowname").removeprefix("Namefirst: ")

    def wait_title(self, title: str) -> None:
        """Waits until the page with ``title`` is up."""
        with contextlib.suppress(AssertionError):
            wait_until(lambda: self.title == title or self.process.poll() is not None)
        assert self.title == title, self.title

    def picture(self, name: str) -> Path:
        """Takes a picture of the screen and gives where it is."""
        path = self.pictures / f"{name}.png"
        subprocess.run(
            ["import", "-window", "root", str(path)],
            check=True,
            env=os.environ | {"DISPLAY": self.display},
        )
        return path


def wait_until(holds: Callable[[], object]) -> None:
    """Waits until ``holds()`` is true; gives up when that seems never to be, and fails."""
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end, "what was waited for never came"
        time.sleep(0.1)


def sounded_s(capture: Path, from_byte: int = 0) -> float:
    """Seconds of a capture in which anything sounded; silence before and between does not count."""
    if not capture.exists():
        return 0.0
    return np.count_nonzero(read_capture(capture, from_byte).any(axis=1)) / RATE_HZ


def _set_level(home: Path, learner: str) -> None:
    record = Record(home, learner, "test")
    if record.setting("volume_db") is None:
        record.set_setting("volume_db", FIRST_START_DB + START_DROP_DB)
    record.close()


def _open_screen(size: str) -> tuple[subprocess.Popen[bytes], str]:
    """A virtual screen and its name; tries the next number where one is taken."""
    for number in itertools.islice(_SCREENS, 20):
        read, write = os.pipe()
        # Not begun anew when its last client leaves: who looks for a window before there is one
        # comes and goes, and the program would find the door shut.
        words = ["-displayfd", str(write), "-noreset"]
        words += ["-screen", "0", f"{size}x24", "-nolisten", "tcp"]
        screen = subprocess.Popen(
            ["Xvfb", f":{number}", *words], pass_fds=(write,), stderr=subprocess.DEVNULL
        )
        os.close(write)
        with os.fdopen(read) as told:
            if name := told.readline().strip():
                return screen, f":{name}"
        screen.wait()
    raise AssertionError("no virtual screen could be opened")


@contextlib.contextmanager
def window(
    words: list[str],
    environment: dict[str, str],
    pictures: Path,
    size: str = "1280x800",
    *,
    first_run: bool = False,
    seed: int = 0,
) -> Iterator[Window]:
    """``namefirst WORDS`` on a virtual screen of ``size``; ended when the block ends.

    What it draws by chance follows from ``seed``.

    Unless it is to be their ``first_run``, the learner named in WORDS has set a level before: so
    that the program starts at -40 dB and does not ask for it.
    """
    missing = [tool for tool in NEEDED if shutil.which(tool) is None]
    if missing and "NAMEFIRST_CI" not in os.environ:
        pytest.skip(f"needs {', '.join(missing)}")
    if not first_run and "--learner" in words:
        _set_level(Path(environment["NAMEFIRST_HOME"]), words[words.index("--learner") + 1])
    folder = Path(os.environ.get("NAMEFIRST_PICTURES", pictures))
    folder.mkdir(parents=True, exist_ok=True)
    screen, display = _open_screen(size)
    program = subprocess.Popen(
        [sys.executable, "-m", "tests.same_draws", str(seed), *words],
        env=environment | {"DISPLAY": display, "SDL_VIDEODRIVER": "x11"},
        cwd=Path(__file__).parent.parent,
    )
    try:
        file = environment.get("SDL_DISKAUDIOFILE")
        yield Window(program, display, folder, None if file is None else Path(file))
    finally:
        for process in (program, screen):
            process.kill()
            process.wait()
