"""Loudness of a loop, by ITU-R BS.1770-5 annex 1, measured round the circle.

K-weighting, 400 ms blocks, gates at -70 LUFS and 10 LU below the rest. A loop has no beginning,
so it is filtered circularly and its blocks lie all round it, every 5 ms instead of every 100:
with the standard's own step the reading of a bare kick drum moves by up to 1.2 LU with where the
loop is cut, as whole blocks come and go at the gate; with this one by less than 0.05.

*Matched* means: integrated loudness equal, each of the two gated by itself, over every place that
a block can lie. A meter on the learner's desk, which tries only every twentieth of them, agrees
within a few hundredths on music, and on average over its starting points on bare hits with
silence between, where it disagrees with itself from one start to the next.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from exercises.equaliser import settle_and_filter
from exercises.samples import RATE_HZ, Floats, Samples

REFERENCE_LUFS: Final = -23.0
"""EBU R 128's target level, used here as the learner's own level."""

BLOCK_S: Final = 0.4
STEP_S: Final = 0.005
ABSOLUTE_GATE_LUFS: Final = -70.0
RELATIVE_GATE_LU: Final = -10.0

# ITU-R BS.1770-5, annex 1, tables 1 and 2: both stages at 48 kHz.
STAGE_1_B: Final = (1.53512485958697, -2.69169618940638, 1.19839281085285)
STAGE_1_A: Final = (1.0, -1.69065929318241, 0.73248077421585)
STAGE_2_B: Final = (1.0, -2.0, 1.0)
STAGE_2_A: Final = (1.0, -1.99004745483398, 0.99007225036621)
_K_B: Final = np.convolve(STAGE_1_B, STAGE_2_B)
_K_A: Final = np.convolve(STAGE_1_A, STAGE_2_A)
_OFFSET_LUFS: Final = -0.691


def block_powers(samples: Samples) -> Floats:
    """K-weighted mean power of every 400 ms block round the loop, channels summed; (blocks,).

    Loops shorter than a block are measured as if repeated.
    """
    frames = len(samples)
    power = weighted_powers(samples)
    steps = max(1, round(frames / (STEP_S * RATE_HZ)))
    edges = np.linspace(0, frames, steps + 1).round().astype(np.intp)
    sums = np.add.reduceat(power, edges[:-1])
    span = max(1, round(BLOCK_S / STEP_S))
    running = np.concatenate([[0.0], np.cumsum(np.resize(sums, steps + span - 1))])
    lengths = np.concatenate([[0], np.cumsum(np.resize(np.diff(edges), steps + span - 1))])
    powers: Floats = (running[span:] - running[:-span]) / (lengths[span:] - lengths[:-span])
    return np.maximum(powers, 0.0)


def weighted_powers(samples: Samples) -> Floats:
    """K-weighted power at every frame round the loop, channels summed; (frames,) float64."""
    weighted = settle_and_filter(_K_B, _K_A, samples)
    power: Floats = np.einsum("nc,nc->n", weighted, weighted)
    return power


def integrated_lufs(powers: Floats) -> float:
    """Gated loudness in LUFS of block powers (blocks,); minus infinity if all are gated out."""
    above = powers[powers > _power_at(ABSOLUTE_GATE_LUFS)]
    if len(above) == 0:
        return float("-inf")
    above = powers[
        powers
        > max(above.mean() * 10.0 ** (RELATIVE_GATE_LU / 10.0), _power_at(ABSOLUTE_GATE_LUFS))
    ]
    return _lufs(float(above.mean()))


def loudness_lufs(samples: Samples) -> float:
    """Integrated loudness in LUFS of a loop (frames, 2)."""
    return integrated_lufs(block_powers(samples))


def passage_lufs(samples: Samples, start_frame: int, stop_frame: int) -> float:
    """Ungated loudness in LUFS of one passage, filtered as part of its loop."""
    return _lufs(float(np.mean(weighted_powers(samples)[start_frame:stop_frame])))


def matching_gain_db(powers: Floats, target_lufs: float) -> float:
    """Gain in dB that brings ``powers`` (blocks,) to ``target_lufs``, gated by themselves.

    The absolute gate stands still while the gain moves, so the gain is refined until it holds.
    0 dB where there is nothing to match: silence, or a target of minus infinity.
    """
    gain_db = target_lufs - _lufs(float(powers.mean()))
    if not math.isfinite(gain_db):
        return 0.0
    for _ in range(8):
        error = target_lufs - integrated_lufs(powers * 10.0 ** (gain_db / 10.0))
        if abs(error) <= 1e-6 or not math.isfinite(error):
            break
        gain_db += error
    return gain_db


def _power_at(lufs: float) -> float:
    return float(10.0 ** ((lufs - _OFFSET_LUFS) / 10.0))


def _lufs(power: float) -> float:
    return _OFFSET_LUFS + 10.0 * math.log10(power) if power > 0.0 else float("-inf")
