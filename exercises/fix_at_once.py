"""A fix at once: the part of a fixed question round the playhead, rendered by itself.

To filter and match a whole loop takes a tenth of a second or more; a second of it takes some
milliseconds, and is what is heard until the whole is done. It differs from the whole in two ways,
neither of them larger than some tenths of a dB on music:

- the gain that matches the loudness is told from K-weighted power by band, which is not gated;
- a compressor's or expander's threshold is told from what the filters before it do to the power
  of all of it, and not measured again.

Filters begin with as much of the loop before the piece as they remember to a thousandth, two
seconds at the most.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt

from exercises import compressor
from exercises.equaliser import Biquad, response_db
from exercises.fixing import level_at_stake
from exercises.loops import Track
from exercises.loudness import STAGE_1_A, STAGE_1_B, STAGE_2_A, STAGE_2_B, weighted_powers
from exercises.moves import (
    Compressor,
    Expander,
    Move,
    Ride,
    ToneMove,
    biquad_of,
    dynamics_curve,
    top_level_db,
)
from exercises.passage_weight import hand_weight
from exercises.question import Question
from exercises.samples import RATE_HZ, Floats, Samples, as_samples, db_to_gain

_MOST_LEAD_S: Final = 2.0
_DETECTOR_LEAD_S: Final = 1.0
_FORGOTTEN: Final = 1e-3
_EDGES_HZ: Final = np.geomspace(10.0, RATE_HZ / 2.0, 24 * 11)
_MIDS_HZ: Final = np.sqrt(_EDGES_HZ[1:] * _EDGES_HZ[:-1])
_BLOCK: Final = compressor.BLOCK_FRAMES
_Sound: TypeAlias = npt.NDArray[Any]


class FixAtOnce:
    """Pieces of ``question`` with fixes done to the first of ``stems`` (``few_stems_of``).

    What has to be known of the whole is measured here, once.
    """

    def __init__(self, question: Question, stems: Sequence[Track]) -> None:
        self._moved = stems[0].samples
        self._rest = stems[1].samples if len(stems) > 1 else None
        self._matched = not level_at_stake(question)
        self._power = _band_powers(self._moved)
        self._loudness = self._power * 10.0 ** (_k_weighting_db(_MIDS_HZ) / 10.0)
        power = weighted_powers(self._moved)
        self._so_far = np.concatenate([[0.0], np.cumsum(power)])
        self._of_rest = 0.0
        if self._rest is not None:
            share = float(weighted_powers(self._rest).sum() / max(self._so_far[-1], 1e-20))
            self._of_rest = share * float(self._loudness.sum())
        self._block_power = np.diff(self._so_far[[*range(0, len(power), _BLOCK), -1]])
        self._levels: dict[compressor.Timing, tuple[Floats, float]] = {}

    def piece(self, fix: Sequence[Move], start_frame: int, frames: int) -> Samples:
        """``frames`` of it from ``start_frame`` on, round the loop, (frames, 2) float32.

        At A's loudness as near as can be told, unless its level is at stake; not held to any peak.
        """
        inserts = [move for move in fix if not isinstance(move, Ride)]
        lead = _lead_frames(inserts)
        places = np.arange(start_frame - lead, start_frame + frames)
        along_time: _Sound = np.take(self._moved.T, places, axis=1, mode="wrap")
        power, loud = self._power, self._loudness
        for move in inserts:
            if isinstance(move, Compressor | Expander):
                shift_db = _over_db(power, self._power)
                along_time = along_time * self._piece_gains(along_time, move, shift_db)
                turned: float | Floats = 10.0 ** (self._turned_db(move) / 10.0)
            else:
                along_time = _filtered(along_time, biquad_of(move))
                turned = 10.0 ** (response_db(biquad_of(move), _MIDS_HZ) / 10.0)
            power, loud = power * turned, loud * turned
        piece: _Sound = along_time.T[lead:]
        was, now = float(self._loudness.sum()), float(loud.sum())
        make_up = was / max(now, 1e-20) if inserts and self._matched else 1.0
        ridden, share = self._ridden(
            [move for move in fix if isinstance(move, Ride)], places[lead:]
        )
        piece = piece * (math.sqrt(make_up) * ridden[:, None])
        if self._rest is not None:
            piece = piece + np.take(self._rest.T, places[lead:], axis=1, mode="wrap").T
        if self._matched:
            whole = now * make_up * share + self._of_rest
            piece = piece * math.sqrt((was + self._of_rest) / max(whole, 1e-20))
        return as_samples(piece)

    def _ridden(self, rides: Sequence[Ride], places: npt.NDArray[np.intp]) -> tuple[Floats, float]:
        """Factors of amplitude at ``places``, and the factor by which all of it gains in power."""
        frames = len(self._moved)
        ridden_db, total = np.zeros(len(places)), max(float(self._so_far[-1]), 1e-20)
        whole, parts = 1.0, 1.0
        for ride in rides:
            factor = db_to_gain(ride.gain_db) ** 2
            if ride.passage is None:
                whole *= factor
                ridden_db += ride.gain_db
            else:
                start, stop = ride.passage.start_frame, ride.passage.stop_frame
                inside = float(self._so_far[stop] - self._so_far[start]) / total
                parts += (factor - 1.0) * inside
                ridden_db += ride.gain_db * hand_weight(frames, ride.passage)[places % frames]
        return 10.0 ** (ridden_db / 20.0), whole * max(parts, 1e-6)

    def _level_of(self, timing: compressor.Timing) -> tuple[Floats, float]:
        """What a detector reads of all of it, and the level that it passes a tenth of the time."""
        if timing not in self._levels:
            levels_db = compressor.levels_db(self._moved, timing)
            self._levels[timing] = levels_db, top_level_db(levels_db)
        return self._levels[timing]

    def _piece_gains(
        self, along_time: _Sound, move: Compressor | Expander, shift_db: float
    ) -> Samples:
        levels_db = compressor.levels_db(along_time.T, move.timing)
        curve = dynamics_curve(move, self._level_of(move.timing)[1] + shift_db)
        return compressor.sample_gains(compressor.gain_at(levels_db, curve), along_time.shape[1])

    def _turned_db(self, move: Compressor | Expander) -> float:
        """How much the power of all of it gains by ``move``, in dB."""
        levels_db, top_db = self._level_of(move.timing)
        gain_db = compressor.gain_at(levels_db, dynamics_curve(move, top_db))
        return _over_db(self._block_power * 10.0 ** (gain_db / 10.0), self._block_power)


def _lead_frames(inserts: Sequence[Move]) -> int:
    """Frames before a piece that its filters and detectors must have heard."""
    lead_s = 0.0
    for move in inserts:
        if isinstance(move, ToneMove):
            slowest = float(np.abs(np.roots(biquad_of(move).a)).max())
            lead_s += math.log(_FORGOTTEN) / math.log(slowest) / RATE_HZ if slowest > 0.0 else 0.0
        else:
            lead_s += _DETECTOR_LEAD_S
    return math.ceil(min(lead_s, _MOST_LEAD_S) * RATE_HZ / _BLOCK) * _BLOCK


def _filtered(along_time: _Sound, biquad: Biquad) -> Floats:
    from scipy.signal import lfilter

    filtered: Floats = lfilter(biquad.b, biquad.a, along_time, axis=1)
    return filtered


def _over_db(now: Floats, was: Floats) -> float:
    return 10.0 * math.log10(max(float(now.sum()), 1e-20) / max(float(was.sum()), 1e-20))


def _k_weighting_db(freqs_hz: Floats) -> Floats:
    """The K-weighting of ITU-R BS.1770-5, annex 1, in dB at each frequency."""
    stages = Biquad(STAGE_1_B, STAGE_1_A), Biquad(STAGE_2_B, STAGE_2_A)
    weighting_db: Floats = response_db(stages[0], freqs_hz) + response_db(stages[1], freqs_hz)
    return weighting_db


def _band_powers(samples: Samples) -> Floats:
    """Power in bands of a twenty-fourth of an octave, on any one scale; (bands,)."""
    from scipy.fft import next_fast_len, rfft

    bins = rfft(samples.T, n=next_fast_len(len(samples), real=True), axis=-1)
    power = (bins.real.astype(np.float64) ** 2 + bins.imag.astype(np.float64) ** 2).sum(axis=0)
    edges = np.searchsorted(np.linspace(0.0, RATE_HZ / 2.0, len(power)), _EDGES_HZ)
    powers: Floats = np.diff(np.concatenate([[0.0], np.cumsum(power)])[edges])
    return powers
