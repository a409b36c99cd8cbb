"""How each kind of problem is put into sound, and how a learner's answer is taken out of it.

What a problem does to a *part* (a track, or the whole mix) is settled from the part as it should
be: a filter, or a gain at every frame. That is a ``Change``, and it is linear, so it can be done
to any sound (the part, or one track of it) and taken out of any again, exactly. Sound is
(frames, 2) float32; loudness is matched afterwards, in ``question``.

In one passage a filter follows the playing, a level and a compressor a hand (``passage_weight``);
dynamics keep that passage as loud as it was, as a mixer sets the make-up gain.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Final, TypeAlias

import numpy as np

from exercises import compressor, dynamics, equaliser, loudness
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind, Shape, Style
from exercises.loops import Passage
from exercises.passage_weight import (
    at_block_ends,
    blocks_in,
    hand_weight,
    playing_weight,
    sounding_alone,
)
from exercises.samples import Floats, Samples, as_samples, db_to_gain
from exercises.swept_filter import filter_loop_swept
from exercises.tone_curve import USUAL_Q, tone_biquad

_NEUTRAL_HZ: Final = 1000.0


@dataclass(frozen=True, slots=True)
class Problem:
    """What was done, in figures: see ``Recipe`` for the meaning of each."""

    kind: Kind
    size_db: float
    freq_hz: float | None = None
    q: float | None = None
    shape: Shape = Shape.PEAK
    style: Style = Style.OVER_COMPRESSED


@dataclass(frozen=True, slots=True)
class Filtered:
    """A filter of ``gain_db``; with ``share`` (frames,), of that share of it at each frame."""

    shape: Shape
    freq_hz: float
    gain_db: float
    q: float
    share: Floats | None


@dataclass(frozen=True, slots=True)
class Turned:
    """A gain at each frame: amplitude factors (frames,), or one for all."""

    gains: Samples | Floats


Change: TypeAlias = Filtered | Turned


def apply_problem(part: Samples, problem: Problem, passage: Passage | None = None) -> Samples:
    """``part`` with ``problem`` in it; *nothing* goes the same way, through a flat filter."""
    return do_change(part, change_of(part, problem, passage))


def change_of(part: Samples, problem: Problem, passage: Passage | None = None) -> Change:
    """What ``problem`` does to ``part`` as it should be: in ``passage``, or all the way."""
    if problem.kind in DYNAMICS:
        block_gain_db = dynamics_gain_db(part, problem, passage)
        return Turned(compressor.sample_gains(block_gain_db, len(part)))
    gain_db = signed_db(problem)
    if problem.kind in LEVEL:
        if passage is None:
            return Turned(np.array([db_to_gain(gain_db)]))
        return Turned(10.0 ** (gain_db / 20.0 * hand_weight(len(part), passage)))
    return Filtered(
        problem.shape,
        problem.freq_hz or _NEUTRAL_HZ,
        gain_db,
        problem.q or USUAL_Q,
        None if passage is None else playing_weight(part, passage),
    )


def do_change(sound: Samples, change: Change) -> Samples:
    """``sound`` (frames, 2) with ``change`` done to it."""
    if isinstance(change, Turned):
        return as_samples(sound * change.gains[:, None])
    biquad_of = _biquad_of(change)
    if change.share is None:
        return equaliser.filter_loop(sound, biquad_of(change.gain_db))
    return filter_loop_swept(sound, biquad_of, change.gain_db, change.share)


def undo_change(sound: Samples, change: Change) -> Samples:
    """``sound`` (frames, 2) with ``change`` taken out of it."""
    if isinstance(change, Turned):
        return as_samples(sound / change.gains[:, None])
    biquad_of = _biquad_of(change)
    if change.share is None:
        return equaliser.filter_loop(sound, biquad_of(-change.gain_db))
    return filter_loop_swept(sound, biquad_of, change.gain_db, change.share, inverse=True)


def signed_db(problem: Problem) -> float:
    """The gain in dB of a tone or level problem: down for too little and too quiet."""
    if problem.kind not in TONE | LEVEL:
        return 0.0
    return -problem.size_db if problem.kind in _DOWN else problem.size_db


_DOWN: Final = frozenset({Kind.TOO_LITTLE, Kind.TOO_QUIET})


def dynamics_gain_db(part: Samples, problem: Problem, passage: Passage | None = None) -> Floats:
    """Gain in dB, one figure a block, of a problem of dynamics on ``part``."""
    level_db = dynamics.detected_db(part, problem.style)
    top_db = dynamics_top_db(part, level_db, problem.style, passage)
    gain_db = dynamics.gain_db(level_db, top_db, problem.kind, problem.size_db)
    if passage is None:
        return gain_db
    weight = at_block_ends(hand_weight(len(part), passage))
    faded: Floats = weight * (gain_db + _make_up_db(part, gain_db, passage))
    return faded


def dynamics_top_db(
    part: Samples, level_db: Floats, style: Style, passage: Passage | None
) -> float:
    """The level that ``part``, or one passage of it by itself, passes a tenth of the time.

    ``level_db`` is what the detector reads of the part as a whole.
    """
    if passage is None:
        return dynamics.top_db(level_db)
    own_db = dynamics.detected_db(sounding_alone(part, passage), style)
    return dynamics.top_db(own_db[blocks_in(passage)])


def _make_up_db(part: Samples, gain_db: Floats, passage: Passage) -> float:
    """Gain in dB that keeps the K-weighted power of a passage what it was."""
    inside = slice(passage.start_frame, passage.stop_frame)
    power = loudness.weighted_powers(part)[inside]
    turned = compressor.sample_gains(gain_db, len(part))[inside].astype(np.float64) ** 2
    kept = float(np.vdot(power, turned))
    return 10.0 * float(np.log10(power.sum() / kept)) if kept > 0.0 else 0.0


def _biquad_of(change: Filtered) -> partial[equaliser.Biquad]:
    return partial(_biquad, change.shape, change.freq_hz, change.q)


def _biquad(shape: Shape, freq_hz: float, q: float, gain_db: float) -> equaliser.Biquad:
    return tone_biquad(shape, freq_hz, gain_db, q)
