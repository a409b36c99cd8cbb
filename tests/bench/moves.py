"""Fitting moves of tone against scipy.optimize.least_squares started cold on the same problem.

Cold: EQ points at no gain, Q 1, spread evenly over the octaves; one, then two, and so on until
no third octave has more than our own tolerance left. Told: the true number of them at once, which
ours is not. scipy is timed as it stands (trust region, numeric slopes) on the same measured change
with the same weights and the same curves. Beside the times stand the remaining errors.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from functools import partial
from typing import TypeVar

import numpy as np

from exercises.demo_loops import demo_loop
from exercises.measured_change import ToneChange, tone_change, tone_of
from exercises.move_fitting import fit_moves
from exercises.moves import EqPoint, apply_moves
from exercises.samples import RATE_HZ, Floats
from exercises.tone_fitting import MOST_TONE_MOVES, TOLERANCE_DB, fit_tone
from exercises.tone_refining import ToneFit, curve_db, fit_of

Row = tuple[str, float, float, float | None]
_Result = TypeVar("_Result")

CASES: tuple[tuple[EqPoint, ...], ...] = (
    (EqPoint(186.0, -6.0, 1.4),),
    (EqPoint(3_000.0, -9.0, 6.0),),
    (EqPoint(200.0, -4.0, 1.0), EqPoint(3_000.0, 3.0, 2.0)),
    (EqPoint(120.0, 2.5, 1.0), EqPoint(400.0, -3.0, 1.4), EqPoint(9_000.0, 3.0, 0.8)),
)
REPEATS = 5
# What is left of an exact fit is rounding: nobody hears under a hundredth of a dB.
FLOOR_DB = 0.01


def rows() -> Iterator[Row]:
    """Time, then remaining error, ours over scipy's; last, a whole fit in seconds against one."""
    loop = demo_loop("ferry-crossing")
    mix = loop.mix()
    for moves in CASES:
        change = tone_change(mix, tone_of(apply_moves(mix, moves)))
        ours_s, fitted = _timed(partial(fit_tone, change))
        cold_s, cold = _timed(partial(_cold, change))
        told_s, told = _timed(partial(_least_squares, change, len(moves)))
        name = f"{len(moves)} known, {moves[0].freq_hz:.0f} Hz"
        yield f"{name}: seconds, scipy cold", ours_s, cold_s, None
        yield f"{name}: seconds, scipy cold and told the number", ours_s, told_s, None
        for what, found in (("cold", cold), ("cold and told", told)):
            ours_db, theirs_db = fitted.error_db + FLOOR_DB, found.error_db + FLOOR_DB
            yield f"{name}: error + 0.01 dB, scipy {what}", ours_db, theirs_db, 1.1
        yield f"{name}: number of moves, scipy cold", len(fitted.moves), len(cold.moves), 1.0
    short = mix[: 8 * RATE_HZ]
    ours_s, _ = _timed(partial(fit_moves, short, apply_moves(short, CASES[0])))
    yield "8 s of sound to moves: seconds, of one second", ours_s, 1.0, 1.0


def _cold(change: ToneChange) -> ToneFit:
    for count in range(1, MOST_TONE_MOVES + 1):
        found = _least_squares(change, count)
        if found.worst_db <= TOLERANCE_DB:
            break
    return found


def _least_squares(change: ToneChange, count: int) -> ToneFit:
    from scipy.optimize import least_squares

    root = np.sqrt(change.weight / change.weight.sum())
    octaves = np.log2(np.geomspace(20.0, 20_000.0, count + 2)[1:-1])
    start = np.ravel([[octave, 0.0, 0.0] for octave in octaves])

    def moves_at(numbers: Floats) -> tuple[EqPoint, ...]:
        return tuple(
            EqPoint(float(2.0**octave), float(gain_db), float(2.0**log_q))
            for octave, gain_db, log_q in numbers.reshape(-1, 3)
        )

    def miss(numbers: Floats) -> Floats:
        left_db = change.change_db - curve_db(moves_at(numbers), change.freqs_hz)
        weighted: Floats = (left_db - left_db @ root**2) * root
        return weighted

    low, high = [np.log2(20.0), -24.0, np.log2(0.3)], [np.log2(20_000.0), 24.0, np.log2(12.0)]
    found = least_squares(miss, start, bounds=(low * count, high * count))
    return fit_of(change, moves_at(found.x))


def _timed(work: Callable[[], _Result]) -> tuple[float, _Result]:
    """Shortest of several runs, in seconds, and what it gave."""
    result = work()
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - start)
    return min(seconds), result
