"""A filter whose gain moves with time, and its exact inverse.

A second-order filter with coefficients that change from sample to sample, in direct form I:

    y[n] + a1[n] y[n-1] + a2[n] y[n-2] = b0[n] x[n] + b1[n] x[n-1] + b2[n] x[n-2]

is a triangular system with three diagonals, solved at once by LAPACK's ``dtbtrs``. Read the other
way, with x unknown, the same equation takes the filter out again, exactly. Coefficients are drawn
straight between filters of gains half a dB apart; those of stable filters form a convex triangle,
so that what lies between two stable ones is stable (and has a stable inverse) at every moment.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from exercises.equaliser import Biquad
from exercises.samples import Floats, Samples, as_samples

GAIN_STEP_DB: Final = 0.5


def filter_loop_swept(
    samples: Samples,
    biquad_of: Callable[[float], Biquad],
    gain_db: float,
    share: Floats,
    *,
    inverse: bool = False,
) -> Samples:
    """``samples`` (frames, 2) through ``biquad_of(share * gain_db)``, round and round the loop.

    ``share`` (frames,) runs from 0 to 1; ``biquad_of`` gives the filter of a gain in dB. With
    ``inverse`` what the same call without it did is taken out again.
    """
    biquads = [
        biquad_of(gain_db * step)
        for step in np.linspace(0.0, 1.0, 1 + max(1, math.ceil(abs(gain_db) / GAIN_STEP_DB)))
    ]
    memory = max(_memory(biquad.b if inverse else biquad.a) for biquad in biquads)
    frames = len(samples)
    places = np.arange(-memory, frames) % frames
    given = np.asarray(samples, dtype=np.float64)[places]
    at = share[places] * (len(biquads) - 1)
    b = [np.interp(at, np.arange(len(biquads)), [q.b[tap] for q in biquads]) for tap in range(3)]
    a = [np.interp(at, np.arange(len(biquads)), [q.a[tap] for q in biquads]) for tap in range(3)]
    found = _solved(b, _weighted(a, given)) if inverse else _solved(a, _weighted(b, given))
    return as_samples(found[memory:])


def _weighted(taps: list[Floats], sound: Floats) -> Floats:
    """taps[0] x[n] + taps[1] x[n-1] + taps[2] x[n-2]; zeros before the start."""
    weighted = taps[0][:, None] * sound
    weighted[1:] += taps[1][1:, None] * sound[:-1]
    weighted[2:] += taps[2][2:, None] * sound[:-2]
    return weighted


def _solved(taps: list[Floats], weighted: Floats) -> Floats:
    """The sound whose ``_weighted`` is given."""
    from scipy.linalg.lapack import dtbtrs

    diagonals = np.zeros((3, len(weighted)), order="F")
    diagonals[0] = taps[0]
    diagonals[1, :-1] = taps[1][1:]
    diagonals[2, :-2] = taps[2][2:]
    solved, status = dtbtrs(diagonals, weighted, uplo="L")
    if status != 0:
        raise ValueError("a filter that cannot be taken out")
    found: Floats = solved
    return found


def _memory(poles_of: tuple[float, float, float]) -> int:
    """Frames until the slowest of a polynomial's modes has fallen to 1e-12."""
    slowest = float(np.max(np.abs(np.roots(poles_of)))) if any(poles_of[1:]) else 0.0
    return 2 + (math.ceil(math.log(1e-12) / math.log(slowest)) if slowest > 0.0 else 0)
