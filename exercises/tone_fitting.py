"""The fewest EQ points and shelves whose responses add up to a measured change of tone.

In dB, filters in a row add up, and a change of level is a constant; so a change of tone is fitted
by weighted least squares over frequency, the constant free. Moves are added one at a time: the
remainder is held against a table of shapes, the few that explain most of it are refined together
with the moves found so far (Levenberg and Marquardt's method: J. J. Moré, in "Numerical Analysis",
Lecture Notes in Mathematics 630, 1978), and the best is kept. At the end every move that the
others can do without is taken out again.

A low shelf and a change of level are a high shelf of opposite gain, so both fit alike: the one
that left the level as it was is named, or else the one whose end of the range is nearer.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, TypeAlias

import numpy as np

from exercises.measured_change import BANDS_AN_OCTAVE, ToneChange
from exercises.moves import EqPoint, HighShelf, LowShelf, biquad_of
from exercises.recipe import LARGEST_Q, SMALLEST_Q
from exercises.samples import RATE_HZ, Floats

ToneMove: TypeAlias = EqPoint | LowShelf | HighShelf

TOLERANCE_DB: Final = 0.5
"""A remainder is none when no third octave that counts has more: well under what is heard."""

MOST_TONE_MOVES: Final = 6
LARGEST_GAIN_DB: Final = 24.0
_LOWEST_HZ, _HIGHEST_HZ = 20.0, 20_000.0
_MIDDLE_HZ: Final = 632.0
_SAME_LEVEL_DB: Final = 0.05
_COUNTS: Final = 0.1
_THIRD: Final = np.ones(BANDS_AN_OCTAVE // 3)
# A move more must take off a sixth of the error: Schwarz's criterion (Annals of Statistics 6,
# 1978) for three numbers and some thirty independent points, a third of an octave apart.
_WORTH: Final = 0.84
_BETTER: Final = 0.9
_ROUNDS: Final = 2
_SEVERAL: Final = 3
_LEAST_HILLS_DB: Final = (0.1, 0.5)
# While places are sought: enough that two great moves which undo one another are not preferred to
# two small ones.
_PULL: Final = 0.01
_EXACT_DB: Final = 0.02
_STEPS: Final = np.array([1e-4, 1e-3, 1e-3])
_DAMPING: Final = (1e-3, 1e8)


@dataclass(frozen=True, slots=True)
class ToneFit:
    """``moves`` that explain a change of tone, with ``level_db`` of level that goes with them.

    ``error_db`` is the weighted rms of what is left, ``worst_db`` the most in a third octave.
    """

    moves: tuple[ToneMove, ...]
    level_db: float
    error_db: float
    worst_db: float


def fit_tone(
    change: ToneChange,
    most: int = MOST_TONE_MOVES,
    tolerance_db: float = TOLERANCE_DB,
    shapes: tuple[type[ToneMove], ...] = (EqPoint, HighShelf),
) -> ToneFit:
    """The fewest moves, at most ``most``, that leave less than ``tolerance_db`` of ``change``.

    Where no number of them does, as many as are worth having. ``shapes`` restricts the search; a
    shelf is found as a high one.
    """
    fits = [refine(change, ())]
    while len(fits) <= most and fits[-1].worst_db > tolerance_db:
        moves = fits[-1].moves
        larger = _best(change, [(*moves, start) for start in _starts(change, moves, shapes)])
        fits.append(_placed_anew(change, larger, shapes))
    best = fits[-1]
    if best.worst_db > tolerance_db:
        best = min(fits, key=lambda fit: fit.error_db / _WORTH ** len(fit.moves))
    if len(best.moves) >= _SEVERAL and EqPoint in shapes:
        # One by one, overlapping moves can be missed that a look at the whole curve shows.
        for least_db in _LEAST_HILLS_DB:
            hills = _extremes(change, least_db)[: len(best.moves)]
            at_once = refine(change, refine(change, hills, _PULL).moves)
            if at_once.worst_db < tolerance_db:
                best = at_once
    return _named(change, _pruned(change, best, tolerance_db, shapes))


def refine(change: ToneChange, moves: Sequence[ToneMove], pull: float = 0.0) -> ToneFit:
    """``moves`` moved to where they fit ``change`` best, none added.

    With ``pull``, a dB of any move's gain weighs as much as that many dB of error.
    """
    kinds = [type(move) for move in moves]
    at = np.concatenate([_numbers(move) for move in moves]) if moves else np.empty(0)
    root = np.sqrt(change.weight / max(float(change.weight.sum()), 1e-20))

    gains = _gain_places(kinds)
    pulled = np.zeros((len(gains), len(at)))
    pulled[np.arange(len(gains)), gains] = pull

    def miss(numbers: Floats) -> Floats:
        left_db = _remainder_db(change, _moves_at(kinds, numbers))[0]
        return np.concatenate([left_db * root, pull * numbers[gains]])

    left, damping = miss(at), _DAMPING[0]
    cost = float(left @ left)
    for _ in range(40 if moves else 0):
        slope = np.concatenate([_slopes(change, kinds, at, root), -pulled])
        normal, downhill = slope.T @ slope, slope.T @ left
        improved = False
        while not improved and damping < _DAMPING[1]:
            damped = normal + damping * np.diag(np.maximum(np.diag(normal), 1e-9))
            tried = _within(kinds, at + np.linalg.solve(damped, downhill))
            tried_left = miss(tried)
            tried_cost = float(tried_left @ tried_left)
            improved = tried_cost < cost
            damping = damping / 5.0 if improved else damping * 4.0
        gained = cost - tried_cost if improved else 0.0
        if improved:
            at, left, cost = tried, tried_left, tried_cost
        if gained < 1e-4 * cost + 1e-10:
            break
        damping = max(damping, 1e-9)
    fitted = _moves_at(kinds, at)
    remainder_db, level_db = _remainder_db(change, fitted)
    error_db = float(np.linalg.norm(remainder_db * root))
    return ToneFit(fitted, level_db, error_db, _worst_db(change, remainder_db))


def curve_db(moves: Sequence[ToneMove], freqs_hz: Floats) -> Floats:
    """Gain in dB of ``moves`` in a row at each of ``freqs_hz``."""
    # Real arithmetic in p = sin^2 of half the angle (Vicanek 2016): several times as fast as
    # complex, and as exact near 0 Hz, where cosines would cancel.
    p = np.sin(np.pi / RATE_HZ * freqs_hz) ** 2
    q = 4.0 * p * (1.0 - p)
    gain = np.ones(len(freqs_hz))
    for move in moves:
        made = biquad_of(move)
        gain *= _power(*made.b, p, q) / _power(*made.a, p, q)
    decibels: Floats = 10.0 * np.log10(gain)
    return decibels


def _power(c0: float, c1: float, c2: float, p: Floats, q: Floats) -> Floats:
    at_0, at_nyquist = (c0 + c1 + c2) ** 2, (c0 - c1 + c2) ** 2
    power: Floats = at_0 + (at_nyquist - at_0) * p - 4.0 * c0 * c2 * q
    return power


def _remainder_db(change: ToneChange, moves: Sequence[ToneMove]) -> tuple[Floats, float]:
    """What ``moves`` leave of ``change``, and the level taken out of it."""
    left_db = change.change_db - curve_db(moves, change.freqs_hz)
    level_db = float(left_db @ change.weight / max(float(change.weight.sum()), 1e-20))
    return left_db - level_db, level_db


def _worst_db(change: ToneChange, remainder_db: Floats) -> float:
    counts = np.convolve(change.weight, _THIRD, "same") > _COUNTS * len(_THIRD)
    return float(np.abs(_smooth_db(change, remainder_db)[counts]).max(initial=0.0))


def _smooth_db(change: ToneChange, curve: Floats) -> Floats:
    """Weighted means of ``curve`` over a third of an octave."""
    weight = np.maximum(np.convolve(change.weight, _THIRD, "same"), 1e-9)
    smooth: Floats = np.convolve(change.weight * curve, _THIRD, "same") / weight
    return smooth


def _slopes(
    change: ToneChange, kinds: Sequence[type[ToneMove]], at: Floats, root: Floats
) -> Floats:
    """Columns: how the weighted curve moves with each number, its mean taken out as level is."""
    columns, first = [], 0
    for kind in kinds:
        count = _COUNT_OF[kind]
        numbers = at[first : first + count]
        here = curve_db([_move(kind, numbers)], change.freqs_hz)
        for which in range(count):
            moved = numbers.copy()
            moved[which] += _STEPS[which]
            there = curve_db([_move(kind, moved)], change.freqs_hz)
            columns.append((there - here) / _STEPS[which])
        first += count
    slopes = np.stack(columns, axis=1)
    slopes -= (root**2) @ slopes / max(float(root @ root), 1e-20)
    weighted: Floats = slopes * root[:, None]
    return weighted


def _extremes(change: ToneChange, least_db: float) -> list[ToneMove]:
    """A point at every hill and dip of ``change`` that stands out by so much, the largest first."""
    from scipy.signal import find_peaks

    smooth_db = _smooth_db(change, change.change_db)
    smooth_db -= np.median(smooth_db[change.weight > 0.0]) if np.any(change.weight) else 0.0
    places = np.concatenate(
        [find_peaks(sign * smooth_db, prominence=least_db)[0] for sign in (1.0, -1.0)]
    )
    ordered = sorted(places.tolist(), key=lambda place: -abs(smooth_db[place]))
    return [EqPoint(float(change.freqs_hz[at]), float(smooth_db[at])) for at in ordered]


def _best(change: ToneChange, starts: Sequence[Sequence[ToneMove]]) -> ToneFit:
    return min((refine(change, moves, _PULL) for moves in starts), key=lambda fit: fit.error_db)


def _placed_anew(
    change: ToneChange, fitted: ToneFit, shapes: tuple[type[ToneMove], ...]
) -> ToneFit:
    """``fitted`` with every move in turn taken out and placed anew, as long as that fits better.

    Moves found one after another can settle between two places, or on a point where a shelf was.
    """
    for _ in range(_ROUNDS if len(fitted.moves) > 1 else 0):
        before_db = fitted.error_db
        for which in range(len(fitted.moves)):
            if fitted.worst_db < _EXACT_DB:
                return fitted
            others = (*fitted.moves[:which], *fitted.moves[which + 1 :])
            anew = _best(change, [(*others, start) for start in _starts(change, others, shapes)])
            if anew.error_db < _BETTER * fitted.error_db:
                fitted = anew
        if fitted.error_db > _BETTER * before_db:
            break
    return fitted


def _pruned(
    change: ToneChange, fitted: ToneFit, tolerance_db: float, shapes: tuple[type[ToneMove], ...]
) -> ToneFit:
    """``fitted`` without the moves that the others, placed anew, can do without."""
    while len(fitted.moves) > 1:
        without = [
            (*fitted.moves[:which], *fitted.moves[which + 1 :])
            for which in range(len(fitted.moves))
        ]
        fewer = _placed_anew(change, _best(change, without), shapes)
        if fewer.worst_db > max(tolerance_db, fitted.worst_db):
            break
        fitted = fewer
    return refine(change, fitted.moves)


def _named(change: ToneChange, fitted: ToneFit) -> ToneFit:
    """``fitted`` with each shelf as low or high, the largest gain first.

    As what leaves the level where it was, if one way does; else each as what it lies nearer to.
    """
    choices = [(move,) if isinstance(move, EqPoint) else _both_names(move) for move in fitted.moves]
    # Products come in order, the first of every choice first: by the nearer end of the range.
    ways = list(itertools.product(*choices))
    levels_db = [abs(_remainder_db(change, way)[1]) for way in ways]
    best = int(np.argmin(levels_db))
    moves = ways[best if levels_db[best] < _SAME_LEVEL_DB else 0]
    _, level_db = _remainder_db(change, moves)
    ordered = tuple(sorted(moves, key=lambda move: -abs(move.gain_db)))
    return ToneFit(ordered, level_db, fitted.error_db, fitted.worst_db)


def _both_names(move: LowShelf | HighShelf) -> tuple[ToneMove, ToneMove]:
    gain_db = move.gain_db if isinstance(move, HighShelf) else -move.gain_db
    low, high = LowShelf(move.freq_hz, -gain_db), HighShelf(move.freq_hz, gain_db)
    return (low, high) if move.freq_hz < _MIDDLE_HZ else (high, low)


_COUNT_OF: Final[dict[type[ToneMove], int]] = {EqPoint: 3, LowShelf: 2, HighShelf: 2}


def _numbers(move: ToneMove) -> Floats:
    numbers = [np.log2(move.freq_hz), move.gain_db]
    return np.array([*numbers, np.log2(move.q)] if isinstance(move, EqPoint) else numbers)


def _move(kind: type[ToneMove], numbers: Floats) -> ToneMove:
    freq_hz, gain_db = float(2.0 ** numbers[0]), float(numbers[1])
    return (
        EqPoint(freq_hz, gain_db, float(2.0 ** numbers[2]))
        if kind is EqPoint
        else kind(freq_hz, gain_db)
    )


def _moves_at(kinds: Sequence[type[ToneMove]], numbers: Floats) -> tuple[ToneMove, ...]:
    ends = np.cumsum([_COUNT_OF[kind] for kind in kinds]).tolist()
    starts = [0, *ends[:-1]] if ends else []
    return tuple(
        _move(kind, numbers[start:end])
        for kind, start, end in zip(kinds, starts, ends, strict=True)
    )


def _gain_places(kinds: Sequence[type[ToneMove]]) -> list[int]:
    """Where the gains lie among the numbers."""
    ends = np.cumsum([0, *(_COUNT_OF[kind] for kind in kinds)]).tolist()
    return [end + 1 for end in ends[:-1]]


def _within(kinds: Sequence[type[ToneMove]], numbers: Floats) -> Floats:
    low, high = [], []
    for kind in kinds:
        q = ([np.log2(SMALLEST_Q)], [np.log2(LARGEST_Q)]) if kind is EqPoint else ([], [])
        low += [np.log2(_LOWEST_HZ), -LARGEST_GAIN_DB, *q[0]]
        high += [np.log2(_HIGHEST_HZ), LARGEST_GAIN_DB, *q[1]]
    return np.clip(numbers, low, high)


_TABLE_GAIN_DB: Final = 6.0
_TABLE_QS: Final = (0.5, 1.0, 2.0, 4.0, 8.0)
_TABLE_HZ: Final = 20.0 * 2.0 ** (np.arange(60) / 6.0)


@lru_cache(maxsize=1)
def _table() -> tuple[tuple[ToneMove, ...], tuple[Floats, Floats]]:
    """Shapes to start from, and their curves at points a twenty-fourth of an octave apart."""
    starts: list[ToneMove] = [
        EqPoint(float(freq_hz), _TABLE_GAIN_DB, q) for freq_hz in _TABLE_HZ for q in _TABLE_QS
    ]
    starts += [HighShelf(float(freq_hz), _TABLE_GAIN_DB) for freq_hz in _TABLE_HZ[::2]]
    points_hz = 20.0 * 2.0 ** (np.arange(10 * BANDS_AN_OCTAVE) / BANDS_AN_OCTAVE)
    curves = np.stack([curve_db([start], points_hz) for start in starts])
    return tuple(starts), (points_hz, curves)


def _starts(
    change: ToneChange, moves: Sequence[ToneMove], shapes: tuple[type[ToneMove], ...]
) -> list[ToneMove]:
    """The shapes of the table that explain most of what ``moves`` leave: two points, one shelf."""
    remainder_db, _ = _remainder_db(change, moves)
    starts, (points_hz, curves) = _table()
    at = np.log(change.freqs_hz)
    near = np.clip(np.searchsorted(np.log(points_hz), at), 0, len(points_hz) - 1)
    shape = curves[:, near]
    weight = change.weight / max(float(change.weight.sum()), 1e-20)
    shape = shape - (shape @ weight)[:, None]
    overlap, size = shape @ (weight * remainder_db), np.square(shape) @ weight
    gain_db = _TABLE_GAIN_DB * overlap / np.maximum(size, 1e-9)
    explained = np.where(np.abs(gain_db) < LARGEST_GAIN_DB, overlap**2 / np.maximum(size, 1e-9), 0)
    chosen: list[ToneMove] = []
    for kind in shapes:
        several = 2 if kind is EqPoint else 1
        order = [int(i) for i in np.argsort(-explained) if isinstance(starts[i], kind)]
        picked: list[ToneMove] = []
        for index in order:
            start = starts[index]
            if all(abs(np.log2(start.freq_hz / other.freq_hz)) > 0.7 for other in picked):
                numbers = _numbers(start)
                numbers[1] = gain_db[index]
                picked.append(_move(kind, numbers))
            if len(picked) == several:
                break
        chosen += picked
    return chosen
