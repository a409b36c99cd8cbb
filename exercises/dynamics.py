"""Loud parts held down (*squashed*) or lifted: how hard, how quickly, and driven by what.

Size is the gain change that is reached or passed during a tenth of the time that the part sounds:
what a mixer reads off a meter's tops. A part sounds where its detected level is within 40 dB of
its highest, so that a cymbal struck once is not judged by the silence around it.

- Over-compressed: quick enough to catch the hits, so that attacks are dulled.
- Pumping: the detector hears the low end alone (second-order low-pass at 120 Hz, Audio EQ
  Cookbook) and lets go slowly, so that every bass drum presses all the rest down and it swells
  back before the next. Common practice, no source, as are the times.
- Lifted: upward expansion, a ratio below 1. Twice as many dB over the threshold come out.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from exercises import compressor
from exercises.equaliser import Biquad, filter_loop
from exercises.kinds import Kind, Style
from exercises.samples import RATE_HZ, Floats, Samples

# Quick enough to catch the hits: with 5 ms they slip through and a mix's peaks stand out more.
SQUASH_TIMING: Final = compressor.Timing(attack_s=0.0005, release_s=0.150)
# Back by some 10 dB from beat to beat at a middle tempo.
PUMP_TIMING: Final = compressor.Timing(attack_s=0.005, release_s=0.400)
SQUASH_RATIO: Final = 6.0
LIFT_RATIO: Final = 0.5
SQUASH_KNEE_DB: Final = 6.0
SOUNDING_DB: Final = 40.0
LOW_END_HZ: Final = 120.0
_EVERYTHING: Final = Biquad((1.0, 0.0, 0.0), (1.0, 0.0, 0.0))


def detected_db(part: Samples, style: Style = Style.OVER_COMPRESSED) -> Floats:
    """What the detector reads of ``part`` (frames, 2), in dBFS, one figure a block; (blocks,)."""
    pumping = style is Style.PUMPING
    # What hears everything goes through a filter too: no style takes longer than another.
    heard = filter_loop(part, _low_end() if pumping else _EVERYTHING)
    return compressor.levels_db(heard, PUMP_TIMING if pumping else SQUASH_TIMING)


def top_db(level_db: Floats) -> float:
    """The level that ``level_db`` (blocks,), dBFS, passes in a tenth of the time that it sounds."""
    sounding = level_db[level_db > level_db.max() - SOUNDING_DB]
    return float(np.quantile(sounding, 0.9))


def gain_db(level_db: Floats, top_db: float, kind: Kind, size_db: float) -> Floats:
    """Gain in dB at each ``level_db`` (blocks,): ``size_db`` at the top, down or (*lifted*) up.

    It grows with level alone, so that a tenth of the time it is reached or passed. A size of 0
    is no change at all.
    """
    ratio = LIFT_RATIO if kind is Kind.LIFTED else SQUASH_RATIO
    threshold_db = compressor.threshold_for(top_db, size_db, ratio, SQUASH_KNEE_DB)
    gain = compressor.gain_at(level_db, compressor.StaticCurve(threshold_db, ratio, SQUASH_KNEE_DB))
    return gain * float(size_db > 0.0)


def _low_end() -> Biquad:
    w0 = 2.0 * math.pi * LOW_END_HZ / RATE_HZ
    alpha = math.sin(w0) / (2.0 * math.sqrt(0.5))
    a0, edge = 1.0 + alpha, 1.0 - math.cos(w0)
    return Biquad(
        (edge / 2.0 / a0, edge / a0, edge / 2.0 / a0),
        (1.0, -2.0 * math.cos(w0) / a0, (1.0 - alpha) / a0),
    )
