"""Progress with a long record: how soon it opens, in how much memory, and how that grows.

The records are filled by a simulated learner (tests/filled_record.py), 60 answers a day; 300,000
are fourteen years of daily drills. Opening is measured in a process of its own, caches in place,
and held against reading the same log row by row. Building the caches anew is measured as well.
Seconds are the processor's: a wall clock would measure whatever else the machine is doing.
Some six minutes, nearly all of it the making of the long record.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from tests.filled_record import FIRST_DAY, fill
from trainer.exchange import export_record, import_record
from trainer.progress import progress_of
from trainer.record import Record

Row = tuple[str, float, float, float | None]

COUNTS = (10_000, 300_000)
TODAY = date(2042, 1, 1)

OPENING = """
import resource, sys, time
from datetime import date
from pathlib import Path
from trainer.progress import progress_of
from trainer.record import Record

record = Record(Path(sys.argv[1]), "ada", "0")
seconds = []
for _ in range(3):
    begun = time.process_time()
    progress = progress_of(record, date(2042, 1, 1))
    seconds.append(time.process_time() - begun)
unit = 1e6 if sys.platform == "darwin" else 1e3
peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit
print(seconds[0], min(seconds), peak_mb, progress.answers)
"""


def rows() -> Iterator[Row]:
    """(what, ours, reference, highest ratio promised) for each measurement."""
    seconds, rebuilt = {}, {}
    with tempfile.TemporaryDirectory() as folder:
        for count in COUNTS:
            home = Path(folder) / str(count)
            record = Record(home, "ada", "0")
            fill(record, count)
            begun = time.process_time()
            progress_of(record, TODAY)
            rebuilt[count] = (time.process_time() - begun) / count
            first, seconds[count], peak_mb = _opened(home, count)
            yield f"open with {count:,} answers, first time, s (1 s)", first, 1.0, 1.0
            yield f"open with {count:,} answers, again, s (1 s)", seconds[count], 1.0, 1.0
            yield "peak of that process, MB (300 MB)", peak_mb, 300.0, 1.0
            begun = time.process_time()
            assert sum(1 for _ in record.answers()) == count
            read = time.process_time() - begun
            yield f"open : read the log, {count:,} answers, s", seconds[count], read, 0.2
            fill(record, 60, seed=2, first_day=TODAY)
            begun = time.process_time()
            progress_of(record, TODAY)
            after = time.process_time() - begun
            yield f"open after a drill more, {count:,} answers, s (1 s)", after, 1.0, 1.0
            record.close()
        few, many = COUNTS
        name = "s an answer, 300,000 : 10,000"
        yield f"open, {name}", seconds[many] / many, seconds[few] / few, 1.3
        yield f"caches built anew, {name}", rebuilt[many], rebuilt[few], 1.3
        yield from _exchange(Path(folder))


def _opened(home: Path, count: int) -> tuple[float, float, float]:
    """Seconds to open the first time and at best, and the peak of the process in MB."""
    done = subprocess.run(
        [sys.executable, "-c", OPENING, str(home)],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    first, best, peak_mb, answers = map(float, done.stdout.split())
    assert answers == count
    return first, best, peak_mb


def _exchange(folder: Path) -> Iterator[Row]:
    """Carrying a record out and in, at two lengths."""
    took: dict[tuple[str, int], float] = {}
    for count in (2_000, 20_000):
        one = Record(folder / f"from {count}", "ada", "0")
        fill(one, count, first_day=FIRST_DAY)
        out, two = io.StringIO(), Record(folder / f"to {count}", "ada", "0")
        begun = time.process_time()
        export_record(one, out)
        took["out", count] = (time.process_time() - begun) / count
        begun = time.process_time()
        assert import_record(two, out.getvalue().splitlines()).answers == count
        took["in", count] = (time.process_time() - begun) / count
    for way in ("out", "in"):
        name = f"carried {way}, s an answer, 20,000 : 2,000"
        yield name, took[way, 20_000], took[way, 2_000], 1.3
