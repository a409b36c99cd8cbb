"""The fewest EQ points and shelves whose responses add up to a measured change of tone.

Moves are added one at a time: the remainder is held against a table of shapes, the few that
explain most of it are refined together with the moves found so far (``tone_refining``), and the
best is kept. At the end every move that the others can do without is taken out again.

A low shelf and a change of level are a high shelf of opposite gain, so both fit alike: the one
that left the level as it was is named, or else the one whose end of the range is nearer.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np

from exercises.measured_change import BANDS_AN_OCTAVE, ToneChange
from exercises.moves import EqPoint, HighShelf, LowShelf, ToneMove
from exercises.samples import Floats
from exercises.tone_refining import (
    LARGEST_GAIN_DB,
    ToneFit,
    curve_db,
    move_at,
    numbers_of,
    refine,
    remainder_of,
    smooth_over_thirds,
)

TOLERANCE_DB: Final = 0.5
"""A remainder is none when no third octave that counts has more: well under what is heard."""

MOST_TONE_MOVES: Final = 6
_MIDDLE_HZ: Final = 632.0
_SAME_LEVEL_DB: Final = 0.05
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


def fit_tone(
    change: ToneChange,
    most: int = MOST_TONE_MOVES,
    tolerance_db: float = TOLERANCE_DB,
    *,
    thorough: bool = True,
) -> ToneFit:
    """The fewest moves, at most ``most``, that leave less than ``tolerance_db`` of ``change``.

    Where no number of them does, as many as are worth having. Not ``thorough``: moves are added
    one at a time and no more is tried, enough where ``change`` is itself known in part.
    """
    best = _grown(change, most, tolerance_db, anew=False)
    if not thorough:
        return _named(change, _pruned(change, best, tolerance_db))
    if best.worst_db > _EXACT_DB:
        best = _grown(change, most, tolerance_db, anew=True)
    if best.worst_db > _EXACT_DB and len(best.moves) >= _SEVERAL:
        # One by one, overlapping moves can be missed that a look at the whole curve shows.
        for least_db in _LEAST_HILLS_DB:
            hills = _extremes(change, least_db)[: len(best.moves)]
            at_once = refine(change, refine(change, hills, _PULL).moves)
            if at_once.worst_db < tolerance_db:
                best = at_once
    return _named(change, _pruned(change, best, tolerance_db))


def _grown(
    change: ToneChange,
    most: int,
    tolerance_db: float,
    *,
    anew: bool,
) -> ToneFit:
    """Moves added one at a time, and after each all of them placed ``anew`` if that is asked."""
    fits = [refine(change, ())]
    while len(fits) <= most and fits[-1].worst_db > tolerance_db:
        moves = fits[-1].moves
        larger = _best(change, [(*moves, start) for start in _starts(change, moves)])
        fits.append(_placed_anew(change, larger) if anew else larger)
    if fits[-1].worst_db <= tolerance_db:
        return refine(change, fits[-1].moves)
    return min(fits, key=lambda fit: fit.error_db / _WORTH ** len(fit.moves))


def _extremes(change: ToneChange, least_db: float) -> list[ToneMove]:
    """A point at every hill and dip of ``change`` that stands out by so much, the largest first."""
    from scipy.signal import find_peaks

    smooth_db = smooth_over_thirds(change, change.change_db)
    smooth_db -= np.median(smooth_db[change.weight > 0.0]) if np.any(change.weight) else 0.0
    places = np.concatenate(
        [find_peaks(sign * smooth_db, prominence=least_db)[0] for sign in (1.0, -1.0)]
    )
    ordered = sorted(places.tolist(), key=lambda place: -abs(smooth_db[place]))
    return [EqPoint(float(change.freqs_hz[at]), float(smooth_db[at])) for at in ordered]


def _best(change: ToneChange, starts: Sequence[Sequence[ToneMove]]) -> ToneFit:
    return min((refine(change, moves, _PULL) for moves in starts), key=lambda fit: fit.error_db)


def _placed_anew(change: ToneChange, fitted: ToneFit) -> ToneFit:
    """``fitted`` with every move in turn taken out and placed anew, as long as that fits better.

    Moves found one after another can settle between two places, or on a point where a shelf was.
    """
    for _ in range(_ROUNDS if len(fitted.moves) > 1 else 0):
        before_db = fitted.error_db
        for which in range(len(fitted.moves)):
            if fitted.worst_db < _EXACT_DB:
                return fitted
            others = (*fitted.moves[:which], *fitted.moves[which + 1 :])
            anew = _best(change, [(*others, start) for start in _starts(change, others)])
            if anew.error_db < _BETTER * fitted.error_db:
                fitted = anew
        if fitted.error_db > _BETTER * before_db:
            break
    return fitted


def _pruned(change: ToneChange, fitted: ToneFit, tolerance_db: float) -> ToneFit:
    """``fitted`` without the moves that the others, placed anew, can do without."""
    while len(fitted.moves) > 1:
        without = [
            (*fitted.moves[:which], *fitted.moves[which + 1 :])
            for which in range(len(fitted.moves))
        ]
        fewer = _best(change, without)
        limit_db = max(tolerance_db, fitted.worst_db)
        if fewer.worst_db > limit_db and fitted.worst_db > _EXACT_DB:
            fewer = _placed_anew(change, fewer)
        if fewer.worst_db > limit_db:
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
    levels_db = [abs(remainder_of(change, way)[1]) for way in ways]
    best = int(np.argmin(levels_db))
    moves = ways[best if levels_db[best] < _SAME_LEVEL_DB else 0]
    _, level_db = remainder_of(change, moves)
    ordered = tuple(sorted(moves, key=lambda move: -abs(move.gain_db)))
    return ToneFit(ordered, level_db, fitted.error_db, fitted.worst_db)


def _both_names(move: LowShelf | HighShelf) -> tuple[ToneMove, ToneMove]:
    gain_db = move.gain_db if isinstance(move, HighShelf) else -move.gain_db
    low, high = LowShelf(move.freq_hz, -gain_db), HighShelf(move.freq_hz, gain_db)
    return (low, high) if move.freq_hz < _MIDDLE_HZ else (high, low)


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


def _starts(change: ToneChange, moves: Sequence[ToneMove]) -> list[ToneMove]:
    """The shapes of the table that explain most of what ``moves`` leave: two points, one shelf."""
    remainder_db, _ = remainder_of(change, moves)
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
    for kind in (EqPoint, HighShelf):
        several = 2 if kind is EqPoint else 1
        order = [int(i) for i in np.argsort(-explained) if isinstance(starts[i], kind)]
        picked: list[ToneMove] = []
        for index in order:
            start = starts[index]
            if all(abs(np.log2(start.freq_hz / other.freq_hz)) > 0.7 for other in picked):
                numbers = numbers_of(start)
                numbers[1] = gain_db[index]
                picked.append(move_at(kind, numbers))
            if len(picked) == several:
                break
        chosen += picked
    return chosen
