"""The fewest fader rides, or the one compressor or expander, that explain a change over time.

A ride is one gain through a passage; a compressor's gain follows from the sound before it, so each
size is tried on that sound's own detected level, and the size that leaves least is taken. A change
of level of the whole is free in both: the rides named are those that leave the most time alone.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from exercises import compressor
from exercises.compressor import Timing
from exercises.dynamics import SQUASH_TIMING
from exercises.loops import Passage
from exercises.measured_change import HOP_FRAMES, WINDOW_FRAMES, TimeChange
from exercises.moves import Compressor, Expander, Ride, curve_of_size, top_level_db
from exercises.passage_weight import RAMP_S
from exercises.samples import RATE_HZ, Floats, Samples

Dynamics: TypeAlias = Compressor | Expander

SMALLEST_RIDE_DB: Final = 0.4
SHORTEST_SPAN_S: Final = 1.0
LARGEST_DYNAMICS_DB: Final = 18.0
# Quick as a limiter, as a bus compressor, and slow enough to let the hits through (seconds).
TIMINGS: Final = (SQUASH_TIMING, Timing(0.010, 0.100), Timing(0.030, 0.300))
_SAME_LEVEL_DB: Final = 0.15
_COMPRESSED: Final[tuple[tuple[type[Dynamics], float], ...]] = (
    (Compressor, 6.0),
    (Compressor, 2.5),
    (Compressor, 2.0),
    (Expander, 2.0),
    (Expander, 3.0),
    (Expander, 6.0),
)
_BLOCKS_A_HOP: Final = HOP_FRAMES // compressor.BLOCK_FRAMES
# Two milliseconds at a time tell the size to a few tenths of a dB, round which it is looked for.
_COARSE: Final = 6
_ROUND_DB: Final = 0.3
_LOOKED_AT: Final = 2
_GOLDEN: Final = (math.sqrt(5.0) - 1.0) / 2.0


@dataclass(frozen=True, slots=True)
class _Detected:
    """A sound as a detector has it: level in dB and power of each block, power of each frame.

    ``top_db`` is what its level passes a tenth of the time, ``hop`` from frame to frame, blocks.
    """

    levels_db: Floats
    top_db: float
    power: Floats
    frames: Floats
    hop: int


def spread_db(change: TimeChange) -> float:
    """How far ``change`` is from one level throughout: weighted rms in dB."""
    left_db = change.change_db - _mean(change.change_db, change.weight)
    return math.sqrt(_mean(left_db**2, change.weight))


def fit_rides(change: TimeChange, passages: Sequence[Passage]) -> tuple[tuple[Ride, ...], float]:
    """Rides of ``passages`` that ``change`` shows, and the weighted rms in dB that they leave.

    No ride smaller than ``SMALLEST_RIDE_DB``. Passages that changed alike are left alone where
    nothing moved, else where most time is, else where more came up, so that rides turn down.
    """
    frame = np.arange(len(change.change_db)) * HOP_FRAMES
    inside = [_frames_of(frame, passage) for passage in passages]
    levels_db = np.array(
        [
            _mean(change.change_db[some], change.weight[some]) if some.size else 0.0
            for some in inside
        ]
    )
    seconds = np.array([(p.stop_frame - p.start_frame) / RATE_HZ for p in passages])
    alone = [
        float(seconds[np.abs(levels_db - level) < SMALLEST_RIDE_DB].sum()) for level in levels_db
    ]
    untouched = np.abs(levels_db) < _SAME_LEVEL_DB
    base = max(
        range(len(passages)),
        key=lambda i: (bool(untouched[i]), round(alone[i], 1), levels_db[i]),
    )
    near = np.abs(levels_db - levels_db[base]) < SMALLEST_RIDE_DB
    base_db = float(np.average(levels_db[near], weights=seconds[near]))
    rides = tuple(
        Ride(float(level - base_db), passage)
        for passage, level, same in zip(passages, levels_db, near, strict=True)
        if not same
    )
    explained = np.full(len(frame), base_db)
    for ride in rides:
        if ride.passage is not None:
            start, stop = ride.passage.start_frame, ride.passage.stop_frame
            middle = frame + WINDOW_FRAMES // 2
            explained[(middle >= start) & (middle < stop)] += ride.gain_db
    whole = np.concatenate(inside) if inside else np.arange(0)
    left = TimeChange((change.change_db - explained)[whole], change.weight[whole])
    return rides, spread_db(left) if whole.size else 0.0


def find_spans(change: TimeChange, frames: int, most: int = 12) -> tuple[Passage, ...]:
    """Spans of one level each that ``change`` falls into, named by their time in seconds.

    The span with the clearest step in it is split, again and again, until no step of
    ``SMALLEST_RIDE_DB`` that stands out from the wobble is left; spans last a second or more.
    """
    edges = [0, len(change.change_db)]
    shortest = round(SHORTEST_SPAN_S * RATE_HZ / HOP_FRAMES)
    while len(edges) <= most:
        steps = [
            _clearest_step(change, first, last, shortest)
            for first, last in itertools.pairwise(edges)
        ]
        gained, at = max(steps)
        if gained <= 0.0:
            break
        edges = sorted({*edges, at})
    bounds = [edge * HOP_FRAMES + HOP_FRAMES // 2 for edge in edges]
    bounds[0], bounds[-1] = 0, frames
    return tuple(
        Passage(f"{start / RATE_HZ:.1f}-{stop / RATE_HZ:.1f} s", start, stop)
        for start, stop in itertools.pairwise(bounds)
    )


def fit_dynamics(
    change: TimeChange, before: Samples, smallest_db: float = 0.25
) -> tuple[Dynamics, float]:
    """The compressor or expander that ``change`` looks most like, and the rms in dB it leaves.

    ``smallest_db`` is the least size that is looked at. A detector's level does not hang on the
    size: it is made once, and sizes are sought on means of it; what comes nearest, on all of it.
    """
    power = _block_powers(before)
    tried: list[tuple[float, int, Dynamics, _Detected]] = []
    for timing in TIMINGS:
        levels_db = compressor.levels_db(before, timing)
        top_db = top_level_db(levels_db)
        whole, coarse = (_detected(levels_db, power, top_db, blocks) for blocks in (1, _COARSE))
        for kind, ratio in _COMPRESSED:
            left_db = partial(_left_db, coarse, change, _out_per_in(kind, ratio))
            size_db = _least(left_db, smallest_db, LARGEST_DYNAMICS_DB, 0.2)
            tried.append((left_db(size_db), len(tried), kind(size_db, timing, ratio), whole))
    found: list[tuple[float, int, Dynamics]] = []
    for _, place, near, whole in sorted(tried, key=lambda each: each[:2])[:_LOOKED_AT]:
        left_db = partial(_left_db, whole, change, _out_per_in(type(near), near.ratio))
        low_db, high_db = near.size_db - _ROUND_DB, near.size_db + _ROUND_DB
        size_db = _least(left_db, max(low_db, smallest_db), min(high_db, LARGEST_DYNAMICS_DB), 0.05)
        found.append((left_db(size_db), place, replace(near, size_db=size_db)))
    left, _, move = min(found)
    return move, left


def _frames_of(frame: npt.NDArray[np.intp], passage: Passage) -> npt.NDArray[np.intp]:
    """Which of the frames that begin at ``frame`` lie in ``passage``, before its ride ramps back.

    Frames across an edge are half of each; they say nothing.
    """
    inside = (frame >= passage.start_frame) & (frame + WINDOW_FRAMES <= passage.stop_frame)
    settled = inside & (frame + WINDOW_FRAMES <= passage.stop_frame - RAMP_S * RATE_HZ)
    return np.nonzero(settled if settled.any() else inside)[0]


def _clearest_step(change: TimeChange, first: int, last: int, shortest: int) -> tuple[float, int]:
    """How much splitting first-last gains, 0 if no step there is worth a ride; and where."""
    if last - first < 2 * shortest:
        return 0.0, first
    weight = change.weight[first:last] + 1e-12
    value = change.change_db[first:last]
    sums, totals = np.cumsum(weight * value), np.cumsum(weight)
    cut = np.arange(shortest, last - first - shortest + 1)
    left = sums[cut - 1] / totals[cut - 1]
    right = (sums[-1] - sums[cut - 1]) / (totals[-1] - totals[cut - 1])
    gain = (right - left) ** 2 * totals[cut - 1] * (totals[-1] - totals[cut - 1]) / totals[-1]
    best = int(np.argmax(gain))
    step_db = abs(float(right[best] - left[best]))
    at = int(cut[best])
    wobble = math.sqrt(
        (
            float(weight[:at] @ (value[:at] - left[best]) ** 2)
            + float(weight[at:] @ (value[at:] - right[best]) ** 2)
        )
        / float(totals[-1])
    )
    worth = step_db >= SMALLEST_RIDE_DB and step_db > wobble
    return (float(gain[best]) if worth else 0.0), first + at


def _block_powers(samples: Samples) -> Floats:
    power = np.einsum("nc,nc->n", samples, samples, dtype=np.float64)
    powers: Floats = np.add.reduceat(power, np.arange(0, len(power), compressor.BLOCK_FRAMES))
    return powers


def _detected(levels_db: Floats, power: Floats, top_db: float, blocks: int) -> _Detected:
    """Levels in dB and powers (blocks,) taken together by so many ``blocks``."""
    count = len(power) // blocks * blocks
    levels, powers = (values[:count].reshape(-1, blocks) for values in (levels_db, power))
    power, hop = powers.sum(axis=1), _BLOCKS_A_HOP // blocks
    return _Detected(levels.mean(axis=1), top_db, power, _framed(power, hop), hop)


def _left_db(of: _Detected, change: TimeChange, out_per_in: float, size_db: float) -> float:
    """What a compressor or expander of that size and steepness leaves of ``change``, rms in dB."""
    gain_db = compressor.gain_at(of.levels_db, curve_of_size(of.top_db, size_db, out_per_in))
    gain_db *= math.log(10.0) / 10.0
    now = _framed(np.exp(gain_db, out=gain_db) * of.power, of.hop)
    count = min(len(now), len(change.change_db))
    moved_db = 10.0 * np.log10(
        np.maximum(now[:count], 1e-20) / np.maximum(of.frames[:count], 1e-20)
    )
    return spread_db(TimeChange(change.change_db[:count] - moved_db, change.weight[:count]))


def _out_per_in(kind: type[Dynamics], ratio: float) -> float:
    return 1.0 / ratio if kind is Compressor else ratio


def _framed(block_power: Floats, hop: int) -> Floats:
    """Power of frames of 100 ms every 50 ms, ``hop`` blocks, round the sound."""
    hops = len(block_power) // hop
    rows = block_power[: hops * hop].reshape(hops, hop)
    angle = np.pi * (np.arange(2 * hop) + 0.5) / (2 * hop)
    window = np.sin(angle) ** 2
    framed: Floats = rows @ window[:hop] + np.roll(rows @ window[hop:], -1)
    return framed


def _least(of: Callable[[float], float], low: float, high: float, within: float) -> float:
    """Where ``of`` is least, ``within`` so much: golden section (it has one valley here)."""
    inner, outer = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_inner, at_outer = of(inner), of(outer)
    while high - low > within:
        if at_inner < at_outer:
            high, outer, at_outer = outer, inner, at_inner
            inner = high - _GOLDEN * (high - low)
            at_inner = of(inner)
        else:
            low, inner, at_inner = inner, outer, at_outer
            outer = low + _GOLDEN * (high - low)
            at_outer = of(outer)
    return 0.5 * (low + high)


def _mean(values: Floats, weight: Floats) -> float:
    return float(values @ weight / max(float(weight.sum()), 1e-20))
