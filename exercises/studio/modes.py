"""Struck bodies: sums of decaying sines (modes), for membranes, plates, bars and piano strings.

A mode at frame a*B + b is z^(aB) times z^b, so the sum over modes for all frames is one product
of two small matrices: exact, and no loop over samples or modes.
"""

from __future__ import annotations

import math

import numpy as np

from exercises.samples import RATE_HZ, Floats


def struck(
    freqs_hz: Floats, decays_s: Floats, gains: Floats, seconds: float, phases: Floats | float = 0.0
) -> Floats:
    """Sum of ``gains`` * sin(2 pi f t + phase) * 60 dB of decay in ``decays_s``; (frames,).

    Modes above 20 kHz are left out.
    """
    frames = int(seconds * RATE_HZ)
    block = max(1, math.isqrt(frames))
    heard = freqs_hz < 20_000.0
    pole = (-math.log(1000.0) / decays_s + 2j * np.pi * freqs_hz)[heard] / RATE_HZ
    start = (gains * np.exp(1j * (phases + np.zeros(len(freqs_hz)))))[heard]
    coarse = np.exp(np.outer(np.arange(-(-frames // block)) * block, pole)) * start
    fine = np.exp(np.outer(pole, np.arange(block)))
    return np.asarray((coarse.real @ fine.imag + coarse.imag @ fine.real).ravel()[:frames])
