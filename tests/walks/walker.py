"""Who walks through the program: a home folder, sittings at the window, and what each of them left.

What is left is looked at from outside alone: what ``namefirst export`` writes, and what SDL's disk
driver was given to play.
"""

from __future__ import annotations

import contextlib
import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from exercises.samples import RATE_HZ, Samples
from tests.captured_sound import capture_environment
from tests.screen import PATIENCE_S, Window, window
from tests.trainer.test_cli import run

Lines = list[dict[str, Any]]


@dataclass(slots=True)
class Walker:
    """A learner with a ``home`` of their own; without a name, the user of this computer.

    ``delay_ms`` is the pause after each 10.7 ms of sound: 2 plays four times faster or so.
    """

    home: Path
    pictures: Path
    learner: str = ""
    delay_ms: int = 2
    captures: list[Path] = field(default_factory=list)

    @contextlib.contextmanager
    def sits_down(self, *words: str, size: str = "1280x800") -> Iterator[Window]:
        """``namefirst WORDS`` in a window; its sound goes to a capture of its own."""
        self.captures.append(self.home.with_name(f"sound_{len(self.captures) + 1}.raw"))
        environment = capture_environment(self.captures[-1], self.delay_ms)
        environment |= {"NAMEFIRST_HOME": str(self.home)}
        seed = len(self.captures)
        asked = [*words, *self._whose]
        with window(asked, environment, self.pictures, size, first_run=True, seed=seed) as shown:
            yield shown

    @property
    def heard_frames(self) -> int:
        """How much this sitting has played so far, silence included."""
        capture = self.captures[-1]
        return capture.stat().st_size // 8 if capture.is_file() else 0

    def heard(self, start: int = 0, stop: int | None = None, sitting: int = -1) -> Samples:
        """What was played between two frames, (frames, 2) float32."""
        wanted = -1 if stop is None else 2 * (stop - start)
        flat = np.fromfile(self.captures[sitting], "<f4", wanted, offset=8 * start)
        return flat[: len(flat) // 2 * 2].reshape(-1, 2)

    def listens(self, seconds: float) -> tuple[int, int]:
        """Waits until so much more has been played; from which frame, and to which."""
        start = self.heard_frames
        stop = start + round(seconds * RATE_HZ)
        end = time.monotonic() + PATIENCE_S
        while self.heard_frames < stop:
            assert time.monotonic() < end, "nothing is played"
            time.sleep(0.02)
        return start, stop

    def forgets_sounds(self) -> None:
        """Throws the captures away, which are large."""
        for capture in self.captures:
            capture.unlink(missing_ok=True)

    def exported(self) -> dict[str, Lines]:
        """The lines that ``namefirst export`` writes, by what they are about."""
        done = run(self.home, "export", "-", *self._whose)
        assert (done.returncode, done.stderr) == (0, "")
        told: dict[str, Lines] = {}
        for line in done.stdout.splitlines()[1:]:
            ((about, fields),) = json.loads(line).items()
            told.setdefault(about, []).append(fields)
        return told

    @property
    def _whose(self) -> list[str]:
        return ["--learner", self.learner] if self.learner else []
