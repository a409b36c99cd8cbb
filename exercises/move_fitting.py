"""The smallest fix that the program itself finds: what was done to one sound to make another.

Given *before* and *after* in step, the moves are sought that turn the one into the other: EQ
points and shelves from the change of tone, rides over passages or one compressor or expander from
the change over time. Explanations with and without a change over time are made whole, each
rendered and held against *after*; of two moves more must explain more, or the fewer are kept.

Each move is free to be any; nothing is known of how *after* was made. A change of level of the
whole goes with every fix and is not a move, since levels are matched before anyone compares.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.fixing import level_at_stake
from exercises.kinds import LEVEL
from exercises.loops import Loop, Passage
from exercises.measured_change import (
    TimeChange,
    ToneOf,
    frame_powers,
    time_change,
    time_change_of,
    tone_change,
    tone_of,
)
from exercises.mixdown import mixdown
from exercises.moves import Fix, Ride, ToneMove, apply_move, apply_moves, dynamics_gains, on_track
from exercises.problems import signed_db
from exercises.question import Question
from exercises.samples import Floats, Samples, as_samples
from exercises.time_fitting import (
    SMALLEST_RIDE_DB,
    find_spans,
    fit_dynamics,
    fit_rides,
    spread_db,
)
from exercises.tone_fitting import MOST_TONE_MOVES, fit_tone

STEADY_DB: Final = 0.25
"""A wobble over time that a change of tone alone makes: less than this is no ride."""

MOVE_PRICE_DB: Final = 0.12
"""What each move more must take off the remaining rms difference, to be worth having."""


MOST_IN_A_FIX: Final = 3
"""EQ points and shelves in the smallest fix of a question: what a learner may use."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """``fix`` turns *before* into *after* but for ``error_db``, an rms over time and frequency.

    ``unexplained_db`` is the same figure before any move; ``level_db`` the change of level of the
    whole that goes with the fix and is no move.
    """

    fix: Fix
    error_db: float
    unexplained_db: float
    level_db: float


@dataclass(frozen=True, slots=True)
class _Wanted:
    """*After*, measured once."""

    sound: Samples
    frames: Floats
    tone: ToneOf


@dataclass(frozen=True, slots=True)
class _Tried:
    fix: Fix
    error_db: float
    level_db: float


def fit_moves(
    before: Samples,
    after: Samples,
    passages: Sequence[Passage] | None = None,
    most_tone: int = MOST_TONE_MOVES,
) -> Explanation:
    """The fewest moves that explain what became of ``before``, both (frames, 2) and in step.

    ``passages`` are where rides may lie; with None they are found from the sound.

    Raises:
        ValueError: the two differ in length.
    """
    if before.shape != after.shape:
        raise ValueError(f"shapes {before.shape} and {after.shape} differ: align them first")
    wanted = _Wanted(after, frame_powers(after), tone_of(after))
    was = frame_powers(before)
    unexplained_db, _ = _distance(was, wanted.frames)
    spread = time_change_of(was, wanted.frames)
    tried: list[_Tried] = []
    if spread_db(spread) > STEADY_DB:
        spans = find_spans(spread, len(before)) if passages is None else tuple(passages)
        rides, rides_left_db = fit_rides(spread, spans)
        if rides_left_db > STEADY_DB:
            tried += _with_dynamics(before, wanted, spread, most_tone - 1)
        if rides and _worth_trying(apply_moves(before, rides), wanted, len(rides), tried):
            ridden = _with_tone(before, wanted, rides, most_tone, thorough=not tried)
            tried.append(_rebased(ridden, spans))
    if not tried or _least_db(was, wanted.frames) < min(map(_price, tried)):
        tried.append(_with_tone(before, wanted, (), most_tone, thorough=not tried))
    best = min(tried, key=_price)
    if len(tried) > 1 and all(isinstance(move, ToneMove) for move in best.fix):
        # Looked at in haste beside the others, and the one to be said: with care.
        best = min(best, _with_tone(before, wanted, (), most_tone), key=_price)
    return Explanation(best.fix, best.error_db, unexplained_db, best.level_db)


def smallest_fix(question: Question, loop: Loop) -> Fix:
    """The fewest moves that turn B back into A, on the track that the problem sits on.

    The program knows which track that is; what was done to it, it finds as for any two sounds. A
    level of the whole cannot be found once levels are matched, and is turned back as it was made.
    """
    track = question.recipe.track
    levels: Fix = ()
    if level_at_stake(question):
        made_db = [signed_db(p) for p in question.recipe.problems if p.kind in LEVEL]
        levels = tuple(Ride(-gain_db, None, track) for gain_db in made_db)
    found = fit_moves(*parts_of(question, loop), loop.passages, MOST_IN_A_FIX)
    return (*(on_track(move, track) for move in found.fix), *levels)


def parts_of(question: Question, loop: Loop) -> tuple[Samples, Samples]:
    """What the problem sits on with the problem in it and without, as far as their levels go."""
    made = mixdown(question.recipe, loop)
    return made.changed, made.part


def _with_tone(
    before: Samples, wanted: _Wanted, moves: Fix, most: int, *, thorough: bool = True
) -> _Tried:
    """``moves``, then the EQ that the rest of the change asks for, and what that all leaves."""
    moved = apply_moves(before, moves)
    tone = fit_tone(tone_change(moved, wanted.tone), most, thorough=thorough).moves
    error_db, level_db = _distance(frame_powers(apply_moves(moved, tone)), wanted.frames)
    return _Tried((*moves, *tone), error_db, level_db)


def _with_dynamics(before: Samples, wanted: _Wanted, spread: TimeChange, most: int) -> list[_Tried]:
    """A compressor or expander and the EQ after it; and, if there is any, the EQ before it."""
    dynamics = fit_dynamics(spread, before)[0]
    now = frame_powers(apply_move(before, dynamics))
    alone = _Tried((dynamics,), *_distance(now, wanted.frames))
    if alone.error_db - _steady_left_db(now, wanted.frames) < MOVE_PRICE_DB:
        # No EQ at all would take off what one move costs.
        return [alone]
    first = _with_tone(before, wanted, alone.fix, most, thorough=False)
    tone = first.fix[1:]
    if not tone:
        return [alone]
    toned = apply_moves(before, tone)
    dynamics = fit_dynamics(time_change(toned, wanted.sound), toned)[0]
    # With the gain over time taken off again, what is left to explain is the tone alone.
    steady = as_samples(wanted.sound / np.maximum(dynamics_gains(toned, dynamics)[:, None], 1e-3))
    tone = fit_tone(
        tone_change(before, tone_of(steady, like=wanted.tone)), most, thorough=False
    ).moves
    now = frame_powers(apply_moves(before, (*tone, dynamics)))
    return [alone, first, _Tried((*tone, dynamics), *_distance(now, wanted.frames))]


def _rebased(tried: _Tried, passages: Sequence[Passage]) -> _Tried:
    """Rides told from a passage that did not change at all, where there is one.

    A ride up here and a ride down everywhere else are the same but for the level of the whole.
    """
    rides = {move.passage: move.gain_db for move in tried.fix if isinstance(move, Ride)}
    totals_db = [rides.get(passage, 0.0) + tried.level_db for passage in passages]
    unchanged = [abs(total) < SMALLEST_RIDE_DB / 2.0 for total in totals_db]
    if not rides or abs(tried.level_db) < SMALLEST_RIDE_DB / 2.0 or not any(unchanged):
        return tried
    tone = tuple(move for move in tried.fix if not isinstance(move, Ride))
    told = tuple(
        Ride(total, passage)
        for passage, total, same in zip(passages, totals_db, unchanged, strict=True)
        if not same
    )
    return _Tried((*told, *tone), tried.error_db, 0.0)


def _price(tried: _Tried) -> float:
    """What is left, and what the moves cost."""
    return tried.error_db + MOVE_PRICE_DB * len(tried.fix)


def _worth_trying(moved: Samples, wanted: _Wanted, moves: int, tried: Sequence[_Tried]) -> bool:
    """Whether so many moves and EQ after them could still come out below what was tried."""
    if not tried:
        return True
    least_db = _least_db(frame_powers(moved), wanted.frames) + MOVE_PRICE_DB * moves
    return least_db < min(map(_price, tried))


def _least_db(now: Floats, wanted: Floats) -> float:
    """Less than any EQ leaves: a fifth off, since the tone within a third octave moves too."""
    return 0.8 * _steady_left_db(now, wanted)


def _steady_left_db(now: Floats, wanted: Floats) -> float:
    """What is left, as ``_distance``, with each third octave's own mean taken out: EQ is steady."""
    change_db, weight = _change_db(now, wanted)
    mean_db = (change_db * weight).sum(axis=0) / np.maximum(weight.sum(axis=0), 1e-20)
    left = (weight * (change_db - mean_db) ** 2).sum() / max(float(weight.sum()), 1e-20)
    return float(np.sqrt(left))


def _distance(now: Floats, wanted: Floats) -> tuple[float, float]:
    """Weighted rms difference in dB of frames by third octave, level apart; and that level."""
    change_db, weight = _change_db(now, wanted)
    total = max(float(weight.sum()), 1e-20)
    level_db = float((change_db * weight).sum() / total)
    return float(np.sqrt((weight * (change_db - level_db) ** 2).sum() / total)), level_db


def _change_db(now: Floats, wanted: Floats) -> tuple[Floats, Floats]:
    """Frames by third octave in dB, and how much each counts: by the root of its power."""
    counted = (now > 1e-14) & (wanted > 1e-14)
    weight = np.where(counted, np.sqrt(wanted / max(float(wanted.max()), 1e-20)), 0.0)
    change_db = np.zeros_like(now)
    np.log10(wanted / np.where(counted, now, 1.0), out=change_db, where=counted)
    return 10.0 * change_db, weight
