"""Own material: two hours of stereo FLAC searched for loops, its memory, and resampling.

Reference for the search is soundfile reading the same file in the same blocks and doing nothing
with it; for the memory the 500 MB that we promise; for resampling soxr at its highest quality.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr

from exercises.resampling import resample
from tests.exercises.songs import song

_RATE_HZ = 44_100
_HOURS = 2.0

_SEARCH = """
import sys
from exercises.own_loop import loop_from_file
loop_from_file(sys.argv[1])
print(open("/proc/self/status").read())
"""


def rows() -> Iterator[tuple[str, float, float, float | None]]:
    """See tests/bench/__main__.py."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.flac"
        _write_long(path)
        decoding_s = _timed(lambda: _decode(path))
        started = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-c", _SEARCH, str(path)],
            check=True,
            capture_output=True,
            text=True,
            cwd=Path(__file__).parents[2],
        )
        searching_s = time.perf_counter() - started
        yield "loop out of 2 h of FLAC / decoding it, s", searching_s, decoding_s, None
        peak = re.search(r"VmHWM:\s+(\d+)", done.stdout)
        if peak:
            yield "peak memory of that, MB", int(peak[1]) / 1024, 500.0, 1.0
    sound = np.random.RandomState(1).randn(20 * _RATE_HZ, 2).astype(np.float32)
    resample(sound[:_RATE_HZ], _RATE_HZ)  # scipy.signal takes a second to import
    ours_s = _timed(lambda: resample(sound, _RATE_HZ))
    theirs_s = _timed(lambda: soxr.resample(sound, _RATE_HZ, 48_000, quality="VHQ"))
    yield "resampling 20 s of stereo / soxr VHQ, s", ours_s, theirs_s, None


def _write_long(path: Path) -> None:
    """Three songs at different tempos, over and over."""
    songs = [song(bpm, 24, 0.3, seed=seed) for seed, bpm in enumerate((96.0, 128.0, 84.0))]
    piece = np.concatenate(songs)
    with soundfile.SoundFile(path, "w", _RATE_HZ, 2, "PCM_16") as file:
        while file.frames < _HOURS * 3600 * _RATE_HZ:
            file.write(piece)


def _decode(path: Path) -> None:
    with soundfile.SoundFile(path) as file:
        block = np.empty((65_536, 2), dtype=np.float32)
        while len(file.read(out=block)):
            pass


def _timed(work: object) -> float:
    started = time.perf_counter()
    work()  # type: ignore[operator]
    return time.perf_counter() - started
