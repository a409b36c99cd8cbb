"""Fitting moves against scipy.optimize.least_squares started cold, and moves heard at once.

Cold: EQ points at no gain, Q 1, spread evenly over the octaves; one, then two, and so on until
no third octave has more than our own tolerance left. Told: the true number of them at once, which
ours is not. scipy is timed as it stands (trust region, numeric slopes) on the same measured change
with the same weights and the same curves. Beside the times stand the remaining errors.

The smallest fix of a question stands beside one second of the processor, on every demo loop and of
dynamics too. A change in an open round stands beside rendering all of it, in blocks of the sound
card from the key to the first block that has it, on the longest demo loop.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from functools import partial
from typing import TypeVar

import numpy as np

from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.measured_change import ToneChange, tone_change, tone_of
from exercises.move_fitting import fit_moves, smallest_fix
from exercises.moves import Compressor, EqPoint, HighShelf, Ride, apply_moves
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.samples import RATE_HZ, Floats
from exercises.tone_fitting import MOST_TONE_MOVES, TOLERANCE_DB, fit_tone
from exercises.tone_refining import ToneFit, curve_db, fit_of
from trainer.open_round import OpenRound
from trainer.open_sound import OpenSound
from trainer.playhead import Playhead

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
    """Key to sound; whole fits in seconds against one; then time and error, ours over scipy's."""
    yield from key_to_sound()
    yield from _smallest_fixes()
    yield from tone_fits()


def key_to_sound() -> Iterator[Row]:
    """Blocks from a key to the sound of the move, beside rendering all of the loop."""
    loop = max(map(demo_loop, demo_loop_names()), key=lambda each: each.frames)
    question = make_question(_recipe(loop, Kind.TOO_MUCH), loop)
    round_ = OpenRound(question, loop, 1)
    for fix in (
        (EqPoint(300.0, -6.0),),
        (EqPoint(300.0, -6.0), HighShelf(8_000.0, 3.0), Ride(-3.0, loop.passages[0])),
        (EqPoint(300.0, -6.0), Compressor(6.0)),
    ):
        playhead = Playhead()
        sound = OpenSound(round_, playhead)
        playhead.load(sound.sounds())
        seconds = []
        for _ in range(REPEATS):
            round_.moves = ()
            sound.moved()
            round_.moves = fix
            start = time.perf_counter()
            sound.moved()
            seconds.append(time.perf_counter() - start)
        sound.close()
        whole_s, _ = _timed(partial(round_.sound_of, fix))
        name = ", ".join(type(move).__name__ for move in fix)
        yield f"key to sound, {name}: blocks", _blocks(min(seconds)), _blocks(whole_s), None


def _blocks(seconds: float) -> int:
    """Blocks of 512 frames until one begins that has what took so long to make."""
    return math.ceil(seconds * RATE_HZ / 512) + 1


def _smallest_fixes() -> Iterator[Row]:
    for name in demo_loop_names():
        loop = demo_loop(name)
        for kind in (Kind.TOO_MUCH, Kind.SQUASHED, Kind.LIFTED):
            question = make_question(_recipe(loop, kind), loop)
            start_s = time.process_time()
            smallest_fix(question, loop)
            took_s = time.process_time() - start_s
            yield f"{name}, {kind}: smallest fix, s of processor, of 1 s", took_s, 1.0, 1.0


def _recipe(loop: Loop, kind: Kind) -> Recipe:
    place = (300.0, 1.4) if kind is Kind.TOO_MUCH else (None, None)
    return Recipe(1, loop.name, loop.fingerprint, kind, 6.0, *place)


def tone_fits() -> Iterator[Row]:
    """Moves found in a measured change, beside scipy on the same change."""
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
