"""Moves of tone fitted to a measured change: refined together until the least is left of it.

In dB, filters in a row add up, and a change of level is a constant; so this is weighted least
squares over frequency with the constant free, by the method of Levenberg and Marquardt (J. J.
Moré, in "Numerical Analysis", Lecture Notes in Mathematics 630, 1978). A move's numbers are its
frequency in octaves, its gain in dB and, of a point, its Q in octaves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from exercises.measured_change import BANDS_AN_OCTAVE, ToneChange
from exercises.moves import EqPoint, HighShelf, LowShelf, ToneMove, biquad_of
from exercises.recipe import LARGEST_Q, SMALLEST_Q
from exercises.samples import RATE_HZ, Floats

LARGEST_GAIN_DB: Final = 24.0
LOWEST_HZ: Final = 20.0
HIGHEST_HZ: Final = 20_000.0
_COUNTS: Final = 0.1
_THIRD: Final = np.ones(BANDS_AN_OCTAVE // 3)
_STEPS: Final = np.array([1e-4, 1e-3, 1e-3])
_DAMPING: Final = (1e-3, 1e8)
_COUNT_OF: Final[dict[type[ToneMove], int]] = {EqPoint: 3, LowShelf: 2, HighShelf: 2}


@dataclass(frozen=True, slots=True)
class ToneFit:
    """``moves`` that explain a change of tone, with ``level_db`` of level that goes with them.

    ``error_db`` is the weighted rms of what is left, ``worst_db`` the most in a third octave.
    """

    moves: tuple[ToneMove, ...]
    level_db: float
    error_db: float
    worst_db: float


def refine(change: ToneChange, moves: Sequence[ToneMove], pull: float = 0.0) -> ToneFit:
    """``moves`` moved to where they fit ``change`` best, none added.

    With ``pull``, a dB of any move's gain weighs as much as that many dB of error.
    """
    kinds = [type(move) for move in moves]
    at = np.concatenate([numbers_of(move) for move in moves]) if moves else np.empty(0)
    root = np.sqrt(change.weight / max(float(change.weight.sum()), 1e-20))

    gains = _gain_places(kinds)
    pulled = np.zeros((len(gains), len(at)))
    pulled[np.arange(len(gains)), gains] = pull

    def miss(numbers: Floats) -> Floats:
        left_db = remainder_of(change, _moves_at(kinds, numbers))[0]
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
    return fit_of(change, _moves_at(kinds, at))


def fit_of(change: ToneChange, moves: Sequence[ToneMove]) -> ToneFit:
    """``moves`` as they are, and what they leave of ``change``."""
    remainder_db, level_db = remainder_of(change, moves)
    root = np.sqrt(change.weight / max(float(change.weight.sum()), 1e-20))
    error_db = float(np.linalg.norm(remainder_db * root))
    return ToneFit(tuple(moves), level_db, error_db, _worst_db(change, remainder_db))


def curve_db(moves: Sequence[ToneMove], freqs_hz: Floats) -> Floats:
    """Gain in dB of ``moves`` in a row at each of ``freqs_hz`` (frequencies,)."""
    if not moves:
        return np.zeros(len(freqs_hz))
    total_db: Floats = _curves_db(moves, freqs_hz).sum(axis=0)
    return total_db


def _curves_db(moves: Sequence[ToneMove], freqs_hz: Floats) -> Floats:
    """Gain in dB of each of ``moves`` by itself, (moves, frequencies)."""
    made = [biquad_of(move) for move in moves]
    p, q = _places(freqs_hz.tobytes())
    b, a = (np.array(ends).T[:, :, None] for ends in zip(*((m.b, m.a) for m in made), strict=True))
    over, under = _power(b[0], b[1], b[2], p, q), _power(a[0], a[1], a[2], p, q)
    decibels: Floats = 10.0 * np.log10(over / under)
    return decibels


@lru_cache(maxsize=8)
def _places(freqs_hz: bytes) -> tuple[Floats, Floats]:
    # Real arithmetic in p = sin^2 of half the angle (Vicanek 2016): several times as fast as
    # complex, and as exact near 0 Hz, where cosines would cancel.
    p = np.sin(np.pi / RATE_HZ * np.frombuffer(freqs_hz)) ** 2
    return p, 4.0 * p * (1.0 - p)


def _power(c0: Floats, c1: Floats, c2: Floats, p: Floats, q: Floats) -> Floats:
    at_0, at_nyquist = (c0 + c1 + c2) ** 2, (c0 - c1 + c2) ** 2
    power: Floats = at_0 + (at_nyquist - at_0) * p - 4.0 * c0 * c2 * q
    return power


def remainder_of(change: ToneChange, moves: Sequence[ToneMove]) -> tuple[Floats, float]:
    """What ``moves`` leave of ``change``, dB (frequencies,), and the level taken out of it, dB."""
    left_db = change.change_db - curve_db(moves, change.freqs_hz)
    level_db = float(left_db @ change.weight / max(float(change.weight.sum()), 1e-20))
    return left_db - level_db, level_db


def _worst_db(change: ToneChange, remainder_db: Floats) -> float:
    counts = np.convolve(change.weight, _THIRD, "same") > _COUNTS * len(_THIRD)
    return float(np.abs(smooth_over_thirds(change, remainder_db)[counts]).max(initial=0.0))


def smooth_over_thirds(change: ToneChange, curve: Floats) -> Floats:
    """Weighted means of ``curve`` (frequencies,), dB, over a third of an octave."""
    weight = np.maximum(np.convolve(change.weight, _THIRD, "same"), 1e-9)
    smooth: Floats = np.convolve(change.weight * curve, _THIRD, "same") / weight
    return smooth


def _slopes(
    change: ToneChange, kinds: Sequence[type[ToneMove]], at: Floats, root: Floats
) -> Floats:
    """Columns: how the weighted curve moves with each number, its mean taken out as level is."""
    first = 0
    moves: list[ToneMove] = []
    steps: list[tuple[int, int, float]] = []
    for kind in kinds:
        numbers = at[first : first + _COUNT_OF[kind]]
        moves.append(move_at(kind, numbers))
        for which, step in enumerate(_STEPS[: len(numbers)]):
            moved = numbers.copy()
            moved[which] += step
            moves.append(move_at(kind, moved))
            steps.append((len(moves) - 1, len(moves) - 2 - which, step))
        first += len(numbers)
    curves_db = _curves_db(moves, change.freqs_hz)
    there, here, by = (np.array(each) for each in zip(*steps, strict=True))
    slopes = ((curves_db[there] - curves_db[here]) / by[:, None]).T
    slopes -= (root**2) @ slopes / max(float(root @ root), 1e-20)
    weighted: Floats = slopes * root[:, None]
    return weighted


def numbers_of(move: ToneMove) -> Floats:
    """A move's numbers (numbers,): octaves over 1 Hz, dB and, of a point, log2 of its Q."""
    numbers = [np.log2(move.freq_hz), move.gain_db]
    return np.array([*numbers, np.log2(move.q)] if isinstance(move, EqPoint) else numbers)


def move_at(kind: type[ToneMove], numbers: Floats) -> ToneMove:
    """The move of ``kind`` that has these numbers (numbers,): the inverse of ``numbers_of``."""
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
        move_at(kind, numbers[start:end])
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
        low += [np.log2(LOWEST_HZ), -LARGEST_GAIN_DB, *q[0]]
        high += [np.log2(HIGHEST_HZ), LARGEST_GAIN_DB, *q[1]]
    return np.clip(numbers, low, high)
