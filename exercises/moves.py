"""Moves: the single changes a mixer makes, and fixes, which are lists of them.

A move is one EQ point, one shelf, one fader ride, one compressor or one upward expander, on one
track or on the whole mix; here each is done to one array, (frames, 2) float32, round the loop, so
that the seam stays. Where in a mix, and how loud afterwards: see ``fixing``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, TypeAlias

import numpy as np

from exercises import compressor, equaliser, shelves
from exercises.bands import show_hz
from exercises.dynamics import SOUNDING_DB, SQUASH_KNEE_DB, SQUASH_RATIO, SQUASH_TIMING
from exercises.loops import Passage
from exercises.passage_weight import hand_weight
from exercises.samples import Samples, as_samples, db_to_gain
from exercises.swept_filter import filter_loop_swept


@dataclass(frozen=True, slots=True)
class EqPoint:
    """A boost or cut of ``gain_db`` round ``freq_hz``; ``track`` None is the whole mix.

    With ``passage`` it is brought in by hand for that passage alone; so are shelves.
    """

    freq_hz: float
    gain_db: float
    q: float = 1.4
    track: str | None = None
    passage: Passage | None = None


@dataclass(frozen=True, slots=True)
class LowShelf:
    """All below ``freq_hz`` turned by ``gain_db``, half of it at ``freq_hz``."""

    freq_hz: float
    gain_db: float
    track: str | None = None
    passage: Passage | None = None


@dataclass(frozen=True, slots=True)
class HighShelf:
    """All above ``freq_hz`` turned by ``gain_db``, half of it at ``freq_hz``."""

    freq_hz: float
    gain_db: float
    track: str | None = None
    passage: Passage | None = None


@dataclass(frozen=True, slots=True)
class Ride:
    """The fader moved by ``gain_db`` for one passage, or for the whole (None)."""

    gain_db: float
    passage: Passage | None = None
    track: str | None = None


@dataclass(frozen=True, slots=True)
class Compressor:
    """Loud parts held down: by ``size_db`` or more for a tenth of the time that the sound lasts.

    ``ratio`` is dB in over dB out above the threshold, which follows from the size.
    """

    size_db: float
    timing: compressor.Timing = SQUASH_TIMING
    ratio: float = SQUASH_RATIO
    track: str | None = None


@dataclass(frozen=True, slots=True)
class Expander:
    """Loud parts lifted: by ``size_db`` or more for a tenth of the time that the sound lasts.

    ``ratio`` is dB out over dB in above the threshold, which follows from the size.
    """

    size_db: float
    timing: compressor.Timing = SQUASH_TIMING
    ratio: float = 2.0
    track: str | None = None


ToneMove: TypeAlias = EqPoint | LowShelf | HighShelf
Move: TypeAlias = EqPoint | LowShelf | HighShelf | Ride | Compressor | Expander
Fix: TypeAlias = tuple[Move, ...]


def apply_move(samples: Samples, move: Move) -> Samples:
    """``samples`` (frames, 2) with ``move`` done to all of it, whatever its track.

    Raises:
        ValueError: a filter that cannot be, or a ratio or passage that makes no sense.
    """
    return _DONE_BY[type(move)](samples, move)


def apply_moves(samples: Samples, moves: Sequence[Move]) -> Samples:
    """``moves`` done one after another to one array."""
    for move in moves:
        samples = apply_move(samples, move)
    return samples


def describe(move: Move) -> str:
    """One move as a mixer would say it: "cut 6 dB at 186 Hz, Q 1.4, on the guitar"."""
    where = "" if move.track is None else f", on the {move.track}"
    return _SAID_BY[type(move)](move) + where


def on_track(move: Move, track: str | None) -> Move:
    """The same move on ``track``."""
    return replace(move, track=track)


def _ride(samples: Samples, ride: Ride) -> Samples:
    if ride.passage is None:
        return as_samples(samples * np.float32(db_to_gain(ride.gain_db)))
    gains = ride_gains(len(samples), ride.passage, ride.gain_db)
    return as_samples(samples * gains[:, None])


def ride_gains(frames: int, passage: Passage, gain_db: float) -> Samples:
    """Amplitude factors (frames,) float32 of a ride, brought in as ``hand_weight`` has it.

    Raises:
        ValueError: the passage does not lie within the frames.
    """
    gains: Samples = (10.0 ** (gain_db / 20.0 * hand_weight(frames, passage))).astype(np.float32)
    return gains


def dynamics_gains(samples: Samples, move: Compressor | Expander) -> Samples:
    """Amplitude factors (frames,) float32 that ``move`` would apply to ``samples``.

    Raises:
        ValueError: the ratio is not above 1.
    """
    levels_db = compressor.levels_db(samples, move.timing)
    curve = dynamics_curve(move, top_level_db(levels_db))
    return compressor.sample_gains(compressor.gain_at(levels_db, curve), len(samples))


def dynamics_curve(move: Compressor | Expander, top_db: float) -> compressor.StaticCurve:
    """The curve of ``move`` on a sound that passes ``top_db`` a tenth of the time that it lasts.

    Raises:
        ValueError: the ratio is not above 1.
    """
    if not move.ratio > 1.0:
        raise ValueError(f"no compressor or expander with ratio {move.ratio}")
    out_per_in = 1.0 / move.ratio if isinstance(move, Compressor) else move.ratio
    return curve_of_size(top_db, move.size_db, out_per_in)


def _dynamics(samples: Samples, move: Compressor | Expander) -> Samples:
    return as_samples(samples * dynamics_gains(samples, move)[:, None])


def top_level_db(levels_db: Any) -> float:
    """The detected level that is passed a tenth of the time that the sound lasts."""
    sounding = levels_db[levels_db > levels_db.max() - SOUNDING_DB]
    return float(np.quantile(sounding, 0.9))


def curve_of_size(top_db: float, size_db: float, out_per_in: float) -> compressor.StaticCurve:
    """The curve that moves ``top_db`` by ``size_db``: down, or up if ``out_per_in`` is above 1.

    ``out_per_in`` is dB out over dB in above the threshold.
    """
    # The threshold hangs on size over steepness alone; at ratio 2 the steepness is a half.
    as_at_ratio_2_db = 0.5 * size_db / abs(out_per_in - 1.0)
    threshold_db = compressor.threshold_for(top_db, as_at_ratio_2_db, 2.0, SQUASH_KNEE_DB)
    return compressor.StaticCurve(threshold_db, 1.0 / out_per_in, SQUASH_KNEE_DB)


def biquad_of(move: ToneMove) -> equaliser.Biquad:
    """The filter of a tone move."""
    if isinstance(move, EqPoint):
        return equaliser.peaking(move.freq_hz, move.gain_db, move.q)
    made = shelves.low_shelf if isinstance(move, LowShelf) else shelves.high_shelf
    return made(move.freq_hz, move.gain_db)


def _filter(samples: Samples, move: ToneMove) -> Samples:
    if move.passage is None:
        return equaliser.filter_loop(samples, biquad_of(move))
    return filter_loop_swept(
        samples,
        lambda gain_db: biquad_of(replace(move, gain_db=gain_db)),
        move.gain_db,
        hand_weight(len(samples), move.passage),
    )


_DONE_BY: Final[dict[type, Callable[[Samples, Any], Samples]]] = {
    EqPoint: _filter,
    LowShelf: _filter,
    HighShelf: _filter,
    Ride: _ride,
    Compressor: _dynamics,
    Expander: _dynamics,
}


def _turn(gain_db: float, up: str, down: str) -> str:
    return f"{up if gain_db >= 0.0 else down} {_decibels(abs(gain_db))}"


def _decibels(size_db: float) -> str:
    return f"{size_db:.1f}".removesuffix(".0") + " dB"


def _span(passage: Passage | None) -> str:
    return "" if passage is None else f" in '{passage.name}'"


_SAID_BY: Final[dict[type, Callable[[Any], str]]] = {
    EqPoint: lambda m: (
        f"{_turn(m.gain_db, 'boost', 'cut')} at {show_hz(m.freq_hz)},"
        f" Q {float(f'{m.q:.2g}'):g}{_span(m.passage)}"
    ),
    LowShelf: lambda m: (
        f"low shelf {_turn(m.gain_db, 'up', 'down')} below {show_hz(m.freq_hz)}{_span(m.passage)}"
    ),
    HighShelf: lambda m: (
        f"high shelf {_turn(m.gain_db, 'up', 'down')} above {show_hz(m.freq_hz)}{_span(m.passage)}"
    ),
    Ride: lambda m: f"ride {_turn(m.gain_db, 'up', 'down')}{_span(m.passage)}",
    Compressor: lambda m: f"compress by {_decibels(m.size_db)}",
    Expander: lambda m: f"lift the loud parts by {_decibels(m.size_db)}",
}
