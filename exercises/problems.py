"""How each kind of problem is put into sound, and how a learner's answer is taken out of it.

Both work on one *part* (a track, or the whole mix) as (frames, 2) float32 and change nothing
else; loudness is matched afterwards, in ``question``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises import compressor, equaliser
from exercises.kinds import Kind, Shape, Style
from exercises.samples import Floats, Samples, as_samples, db_to_gain

# Quick enough to catch the hits: with 5 ms they slip through and a mix's peaks stand out more.
SQUASH_TIMING: Final = compressor.Timing(attack_s=0.0005, release_s=0.150)
SQUASH_RATIO: Final = 6.0
SQUASH_KNEE_DB: Final = 6.0
SOUNDING_DB: Final = 40.0
USUAL_Q: Final = 1.4
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


def apply_problem(part: Samples, problem: Problem) -> Samples:
    """``part`` with ``problem`` in it; *nothing* goes the same way, through a flat filter."""
    kind, size_db = problem.kind, problem.size_db
    if kind is Kind.SQUASHED:
        return compressor.apply_gain(part, squash_gain_db(part, size_db))
    if kind is Kind.TOO_LOUD or kind is Kind.TOO_QUIET:
        return _level(part, size_db if kind is Kind.TOO_LOUD else -size_db)
    gain_db = {Kind.TOO_MUCH: size_db, Kind.TOO_LITTLE: -size_db}.get(kind, 0.0)
    return _tone(part, problem, gain_db)


def undo_named(part: Samples, sound: Samples, truth: Problem, named: Problem) -> Samples:
    """``sound`` (``part`` with ``truth`` in it) with ``named`` taken out again, as a mixer would.

    Too much is cut by as much, too little boosted, a level turned back. For *squashed* the
    compressor is taken off where there was one; where there was none, the loud parts are lifted
    by as much as the answer claims they were held down.
    """
    if named.kind is Kind.SQUASHED:
        if truth.kind is Kind.SQUASHED:
            gains = compressor.sample_gains(squash_gain_db(part, truth.size_db), len(part))
            return as_samples(sound / gains[:, None])
        return compressor.apply_gain(sound, -squash_gain_db(sound, named.size_db))
    if named.kind is Kind.TOO_LOUD or named.kind is Kind.TOO_QUIET:
        return _level(sound, -named.size_db if named.kind is Kind.TOO_LOUD else named.size_db)
    gain_db = {Kind.TOO_MUCH: -named.size_db, Kind.TOO_LITTLE: named.size_db}.get(named.kind, 0.0)
    return _tone(sound, named, gain_db)


def squash_gain_db(part: Samples, size_db: float) -> Floats:
    """Gain of the compressor, one figure a block, whose size on ``part`` is ``size_db``.

    Size is the gain reduction that is reached or passed during a tenth of the time that the part
    sounds: what a mixer reads off a meter's tops. It sounds where its level is within 40 dB of
    its highest, so that a cymbal struck once is not judged by the silence around it.
    """
    levels_db = compressor.levels_db(part, SQUASH_TIMING)
    sounding = levels_db[levels_db > levels_db.max() - SOUNDING_DB]
    # A tenth of that time the level is above this one, and reduction grows with level alone.
    top_db = float(np.quantile(sounding, 0.9))
    threshold_db = compressor.threshold_for(top_db, size_db, SQUASH_RATIO, SQUASH_KNEE_DB)
    curve = compressor.StaticCurve(threshold_db, SQUASH_RATIO, SQUASH_KNEE_DB)
    return compressor.gain_at(levels_db, curve)


def _level(part: Samples, gain_db: float) -> Samples:
    return as_samples(part * np.float32(db_to_gain(gain_db)))


def _tone(part: Samples, problem: Problem, gain_db: float) -> Samples:
    biquad = equaliser.peaking(problem.freq_hz or _NEUTRAL_HZ, gain_db, problem.q or USUAL_Q)
    return equaliser.filter_loop(part, biquad)
