"""The class report: seconds and memory for large classes, and that both grow as they should.

Students are simulated; a few answer patterns are handed in under many names, since the report does
not know one name from another. Seconds are the processor's, of program and readers together: they
read side by side, so that a quiet machine of two cores takes about half as long by the clock.
"""

from __future__ import annotations

import contextlib
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import psutil

from tests.simulated_class import class_set, renamed, skills, taken
from trainer.assignments.result import result_text
from trainer.assignments.set_file import set_text

QUESTIONS = 500
CLASSES = (250, 500, 1000, 2000)
PATTERNS = 12
LIMIT_S, LIMIT_MB = 60.0, 1024.0
Row = tuple[str, float, float, float | None]


def rows() -> Iterator[Row]:
    """(what, ours, reference, highest ratio promised): each class against twice what half of it
    took, and the largest against the limits."""
    made = class_set(QUESTIONS)
    patterns = [taken(made, "", skill, seed=n) for n, skill in enumerate(skills(PATTERNS))]
    seconds, megabytes = 0.0, 0.0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "class"
        folder.mkdir()
        (folder / "set.toml").write_text(set_text(made))
        handed_in = 0
        for count in CLASSES:
            while handed_in < count:
                text = result_text(renamed(patterns[handed_in % PATTERNS], f"n{handed_in:05d}"))
                (folder / f"{handed_in:05d}.json").write_text(text)
                handed_in += 1
            half = seconds, megabytes
            seconds, megabytes = reported(folder, Path(name) / f"{count}.html")
            if half[0]:
                yield f"report of {count} students, s against twice half", seconds, 2 * half[0], 1.1
                yield f"report of {count} students, MB against half", megabytes, half[1], 1.5
    answers = f"{CLASSES[-1]} students x {QUESTIONS} answers"
    yield f"report of {answers}, s", seconds, LIMIT_S, 1.0
    yield f"report of {answers}, MB", megabytes, LIMIT_MB, 1.0


def reported(folder: Path, out: Path) -> tuple[float, float]:
    """Processor seconds, and the most memory (MB, shared pages counted once) of the program and
    its readers."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    words = [sys.executable, "-m", "trainer", "class", str(folder), "--out", str(out)]
    program = subprocess.Popen(
        words, cwd=Path(__file__).parents[2], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    most = 0
    while program.poll() is None:
        most = max(most, _memory(program.pid))
        time.sleep(0.1)
    assert program.returncode == 0
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, most / 1e6


def _memory(pid: int) -> int:
    total = 0
    with contextlib.suppress(psutil.NoSuchProcess):
        parent = psutil.Process(pid)
        for process in (parent, *parent.children(recursive=True)):
            with contextlib.suppress(psutil.NoSuchProcess, psutil.AccessDenied):
                total += process.memory_full_info().pss
    return total
