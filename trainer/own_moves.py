"""The moves that a learner can make, their first settings, and how far each may go. Pure.

Points, shelves and dynamics sit on the whole loop, a ride on one passage of it. Attack and release
of dynamics are one of three pairs, from a limiter's to one that lets the hits through; all else is
a number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from enum import Enum
from typing import Final

from exercises.compressor import Timing
from exercises.loops import Passage
from exercises.moves import (
    Compressor,
    EqPoint,
    Expander,
    HighShelf,
    LowShelf,
    Move,
    Ride,
    ToneMove,
)
from exercises.recipe import LARGEST_Q, SMALLEST_Q
from exercises.time_fitting import TIMINGS
from trainer.round import IllegalMove

MOST_MOVES: Final = 3
LARGEST_GAIN_DB: Final = 18.0
LOWEST_MOVE_HZ, HIGHEST_MOVE_HZ = 20.0, 20_000.0
LEAST_RATIO, MOST_RATIO = 1.2, 20.0
_FIRST_DB: Final = -3.0
_FIRST_DYNAMICS_DB: Final = 3.0
_LEAST_DYNAMICS_DB: Final = 0.5
_RATIOS: Final = (1.2, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0, 20.0)
_STEP_Q: Final = 2.0**0.25

Dynamics = Compressor | Expander


class OwnSort(Enum):
    """The sorts of move, by the words on the screen."""

    POINT = "EQ point"
    LOW_SHELF = "low shelf"
    HIGH_SHELF = "high shelf"
    RIDE = "ride"
    COMPRESSOR = "compressor"
    EXPANDER = "expander"


_SORT_OF: Final[dict[type[Move], OwnSort]] = {
    EqPoint: OwnSort.POINT,
    LowShelf: OwnSort.LOW_SHELF,
    HighShelf: OwnSort.HIGH_SHELF,
    Ride: OwnSort.RIDE,
    Compressor: OwnSort.COMPRESSOR,
    Expander: OwnSort.EXPANDER,
}


def sort_of(move: Move) -> OwnSort:
    """Which sort ``move`` is."""
    return _SORT_OF[type(move)]


def sorts_for(passages: Sequence[Passage]) -> tuple[OwnSort, ...]:
    """What can be made on a loop of these passages: no ride where there is one alone."""
    return tuple(sort for sort in OwnSort if sort is not OwnSort.RIDE or len(passages) > 1)


def first_of(sort: OwnSort, track: str | None, passages: Sequence[Passage]) -> Move:
    """A new move of ``sort``, to be set from there.

    Raises:
        IllegalMove: a ride, where the loop is one passage.
    """
    if sort not in sorts_for(passages):
        raise IllegalMove("This loop is one passage: there is nothing to ride.")
    passage = passages[0] if passages else None
    made: dict[OwnSort, Move] = {
        OwnSort.POINT: EqPoint(1000.0, _FIRST_DB, track=track),
        OwnSort.LOW_SHELF: LowShelf(120.0, _FIRST_DB, track),
        OwnSort.HIGH_SHELF: HighShelf(8000.0, _FIRST_DB, track),
        OwnSort.RIDE: Ride(_FIRST_DB, passage, track),
        OwnSort.COMPRESSOR: Compressor(_FIRST_DYNAMICS_DB, TIMINGS[0], 4.0, track),
        OwnSort.EXPANDER: Expander(_FIRST_DYNAMICS_DB, TIMINGS[0], 2.0, track),
    }
    return made[sort]


def turned(move: Move, change_db: float) -> Move:
    """``move`` by so much more or less, as far as it goes."""
    if isinstance(move, Dynamics):
        size_db = round(move.size_db + change_db, 1)
        return replace(move, size_db=min(LARGEST_GAIN_DB, max(_LEAST_DYNAMICS_DB, size_db)))
    gain_db = round(move.gain_db + change_db, 1)
    return replace(move, gain_db=min(LARGEST_GAIN_DB, max(-LARGEST_GAIN_DB, gain_db)))


def moved_along(move: Move, octaves: float, passages: Sequence[Passage]) -> Move:
    """``move`` so many octaves on; a ride a passage on, dynamics to the next attack and release."""
    step = 1 if octaves > 0.0 else -1
    if isinstance(move, Ride):
        now = passages.index(move.passage) if move.passage in passages else 0
        return replace(move, passage=passages[(now + step) % len(passages)])
    if isinstance(move, Dynamics):
        at = TIMINGS.index(move.timing) if move.timing in TIMINGS else 0
        return replace(move, timing=TIMINGS[min(len(TIMINGS) - 1, max(0, at + step))])
    return placed(move, move.freq_hz * 2.0**octaves)


def placed(move: ToneMove, freq_hz: float) -> ToneMove:
    """``move`` at another frequency, to three figures and within what can be heard."""
    held_hz = min(HIGHEST_MOVE_HZ, max(LOWEST_MOVE_HZ, freq_hz))
    return replace(move, freq_hz=float(f"{held_hz:.3g}"))


def widened(move: Move, steps: int) -> Move:
    """A point wider (or narrower where negative), dynamics gentler (or steeper).

    Raises:
        IllegalMove: it is neither.
    """
    if isinstance(move, EqPoint):
        q = min(LARGEST_Q, max(SMALLEST_Q, move.q * _STEP_Q**-steps))
        return replace(move, q=float(f"{q:.3g}"))
    if isinstance(move, Dynamics):
        nearest = min(range(len(_RATIOS)), key=lambda at: abs(_RATIOS[at] - move.ratio))
        return replace(move, ratio=_RATIOS[min(len(_RATIOS) - 1, max(0, nearest - steps))])
    raise IllegalMove("Only an EQ point is wide or narrow; dynamics have a ratio.")


def details(move: Move) -> str:
    """What belongs to ``move`` and ``describe`` does not say; empty for most."""
    if not isinstance(move, Dynamics):
        return ""
    return f"ratio {move.ratio:g}:1, {timing_words(move.timing)}"


def timing_words(timing: Timing) -> str:
    """ "attack 0.5 ms, release 150 ms"."""
    return f"attack {1e3 * timing.attack_s:g} ms, release {1e3 * timing.release_s:g} ms"


def checked(move: Move, track: str | None, passages: Sequence[Passage]) -> Move:
    """``move``, if it may be made where the problem sits on ``track``.

    Raises:
        IllegalMove: a setting is out of reach, or it sits elsewhere.
    """
    if isinstance(move, Dynamics):
        if not 0.0 < move.size_db <= LARGEST_GAIN_DB:
            raise IllegalMove(f"dynamics by up to {LARGEST_GAIN_DB:g} dB")
        if not LEAST_RATIO <= move.ratio <= MOST_RATIO:
            raise IllegalMove(f"no ratio {move.ratio:g}: {LEAST_RATIO:g} to {MOST_RATIO:g}")
    elif not abs(move.gain_db) <= LARGEST_GAIN_DB:
        raise IllegalMove(f"{LARGEST_GAIN_DB:g} dB up or down at the most")
    if isinstance(move, Ride):
        if move.passage is not None and move.passage not in passages:
            raise IllegalMove(f"there is no passage '{move.passage.name}' to ride")
    elif isinstance(move, ToneMove):
        if not LOWEST_MOVE_HZ <= move.freq_hz <= HIGHEST_MOVE_HZ:
            raise IllegalMove(f"no move at {move.freq_hz:g} Hz: 20 Hz to 20 kHz")
        if move.passage is not None:
            raise IllegalMove("a filter here is for the whole loop; a ride has a passage")
    if isinstance(move, EqPoint) and not SMALLEST_Q <= move.q <= LARGEST_Q:
        raise IllegalMove(f"Q {move.q:g} is not within {SMALLEST_Q:g} to {LARGEST_Q:g}")
    if move.track != track:
        raise IllegalMove("every move here sits where the problem is")
    return move
