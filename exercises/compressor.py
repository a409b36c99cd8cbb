"""A feed-forward compressor without a loop over samples.

After D. Giannoulis, M. Massberg, J. Reiss, "Digital Dynamic Range Compressor Design - A Tutorial
and Analysis", JAES 60(6), 2012: a decoupled peak detector on the louder channel, then a static
curve with a soft knee, in dB. In the log domain the detector's release is a running maximum of
level plus a straight line (an exponential decay is a fixed number of dB a second), its attack a
one-pole filter: exact, and without a loop. Peaks are taken over blocks of 16 samples, a third of
a millisecond, and the gain is drawn straight from the end of one block to the end of the next:
within 0.1 dB rms of the sample-rate form for attacks of half a millisecond or more.

Everything runs circularly: the detector knows what came before the loop's start, its own end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np

from exercises.samples import RATE_HZ, Floats, Samples

BLOCK_FRAMES: Final = 16
_SILENCE_DB: Final = -120.0

_Values = TypeVar("_Values", Floats, Samples)


@dataclass(frozen=True, slots=True)
class Timing:
    """Attack and release: seconds to go 63 % of the way (the tutorial's time constants)."""

    attack_s: float
    release_s: float


@dataclass(frozen=True, slots=True)
class StaticCurve:
    """Threshold in dBFS, ratio (in dB over out dB; below 1 lifts loud parts), knee width in dB."""

    threshold_db: float
    ratio: float
    knee_db: float


def gain_at(level_db: Floats, curve: StaticCurve) -> Floats:
    """Gain in dB (negative: reduction) of the static curve at each level in dBFS; both (blocks,).

    JAES 2012, eq. 4."""
    over = level_db - curve.threshold_db
    slope = 1.0 / curve.ratio - 1.0
    knee = np.clip(over + curve.knee_db / 2.0, 0.0, curve.knee_db)
    bend = knee**2 / (2.0 * curve.knee_db) if curve.knee_db > 0.0 else 0.0
    gain: Floats = slope * (bend + np.maximum(over - curve.knee_db / 2.0, 0.0))
    return gain


def threshold_for(level_db: float, reduction_db: float, ratio: float, knee_db: float) -> float:
    """Threshold in dBFS at which the gain at ``level_db`` is ``reduction_db`` down.

    Or up, with a ``ratio`` below 1.
    """
    over_db = reduction_db / abs(1.0 - 1.0 / ratio)
    if over_db < knee_db / 2.0:
        over_db = math.sqrt(2.0 * knee_db * over_db) - knee_db / 2.0
    return level_db - over_db


def levels_db(samples: Samples, timing: Timing, block_frames: int = BLOCK_FRAMES) -> Floats:
    """Detected level in dBFS at each block of ``block_frames``, circular; float64, (blocks,)."""
    from scipy.signal import lfilter

    peaks = _block_peaks(samples, block_frames)
    blocks = len(peaks)
    block_s = block_frames / RATE_HZ
    peaks_db = 20.0 * np.log10(np.maximum(peaks, 10.0 ** (_SILENCE_DB / 20.0)))
    twice = np.concatenate([peaks_db, peaks_db])
    fall_db = 20.0 * math.log10(math.e) * block_s / timing.release_s
    slope = fall_db * np.arange(2 * blocks)
    released_db = np.maximum.accumulate(twice + slope) - slope
    released = 10.0 ** (released_db / 20.0)
    pole = math.exp(-block_s / timing.attack_s)
    state = np.array([pole * released[0]])
    attacked = lfilter([1.0 - pole], [1.0, -pole], released, zi=state)[0][blocks:]
    decibels: Floats = 20.0 * np.log10(np.maximum(attacked, 10.0 ** (_SILENCE_DB / 20.0)))
    return decibels


def sample_gains(block_gain_db: Floats, frames: int) -> Samples:
    """Amplitude factors, (frames,) float32, from gains in dB, one a block; the loop is a circle.

    A block's gain is reached at its end, when the detector has heard all of it.
    """
    return drawn_between((10.0 ** (block_gain_db / 20.0)).astype(np.float32), frames)


def drawn_between(ends: _Values, frames: int) -> _Values:
    """Straight lines (frames,) from each block's value, reached at its end, to the next one's.

    ``frames`` is at least the square of a block's length, so that the length follows from the
    number of blocks.
    """
    starts = np.roll(ends, 1)
    block_frames = -(-frames // len(ends))
    gains = (starts[:, None] + (ends - starts)[:, None] * _steps(block_frames)).ravel()[:frames]
    left = frames % block_frames
    if left:
        gains[-left:] = starts[-1] + (ends[-1] - starts[-1]) * _steps(left)
    drawn: _Values = gains
    return drawn


def _steps(frames: int) -> Samples:
    return ((np.arange(frames) + 0.5) / frames).astype(np.float32)


def _block_peaks(samples: Samples, block_frames: int) -> Floats:
    louder = np.maximum(np.abs(samples[:, 0]), np.abs(samples[:, 1]))
    peaks = np.maximum.reduceat(louder, np.arange(0, len(samples), block_frames))
    return peaks.astype(np.float64)
