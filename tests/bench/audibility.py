"""What fairness costs: one candidate, and the loop's own measurement, beside one FFT of the loop.

All in milliseconds on an 8 s loop of three tracks and two passages. One candidate is promised
within 1 ms, which the second row shows outright: its reference is 1 ms.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np

from exercises.askable_table import askable_table
from exercises.audibility import audible_db, audible_sizes_db
from exercises.heard import ear_of
from exercises.kinds import Kind
from exercises.loops import Loop, Passage
from exercises.problems import Problem
from tests.synthetic_loops import frames_of, loop_of, small_band


def rows() -> Iterator[tuple[str, float, float, float | None]]:
    """(what, ours, reference, bound), as ``python -m tests.bench`` prints them."""
    loop = _two_passages(small_band(8.0))
    heard = ear_of(loop, "keys")
    mix = np.ascontiguousarray(loop.mix().T)
    fft_ms = _median_ms(lambda: np.fft.rfft(mix))
    freqs_hz = np.geomspace(40.0, 15_000.0, 64).tolist()
    problems = [Problem(Kind.TOO_MUCH, 6.0, freq_hz, 1.4) for freq_hz in freqs_hz]
    one_ms = _median_ms(lambda: audible_db(heard, problems[20]))
    many_ms = _median_ms(lambda: audible_sizes_db(heard, problems)) / len(problems)
    squash_ms = _median_ms(lambda: audible_db(heard, Problem(Kind.SQUASHED, 6.0)))
    yield "audible: one tone candidate, ms / one FFT pass of the loop", one_ms, fft_ms, None
    yield "audible: one tone candidate, ms / 1 ms", one_ms, 1.0, 1.0
    yield "audible: one of 64 candidates together, ms / 1 ms", many_ms, 1.0, 1.0
    yield "audible: one squashed candidate, ms / 1 ms", squash_ms, 1.0, 1.0
    ear_ms = _median_ms(lambda: ear_of(loop, "keys"), times=5)
    yield "audible: measuring a track in the mix, ms / FFT pass", ear_ms, fft_ms, None
    table_ms = _median_ms(lambda: askable_table(loop), times=1)
    yield "audible: table of 7 ways of hearing, ms / FFT pass", table_ms, fft_ms, None


def _two_passages(loop: Loop) -> Loop:
    half, whole = frames_of(4.0), frames_of(8.0)
    tracks = [(track.name, track.samples) for track in loop.tracks]
    return loop_of(*tracks, passages=(Passage("first", 0, half), Passage("second", half, whole)))


def _median_ms(work: Callable[[], object], times: int = 21) -> float:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(1000.0 * (time.perf_counter() - start))
    return float(np.median(taken))
