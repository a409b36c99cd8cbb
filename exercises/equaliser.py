"""Peaking filters that keep their shape up to 16 kHz, applied round and round a loop.

The analogue prototype is the peaking one of R. Bristow-Johnson's Audio EQ Cookbook (W3C note):

    H(s) = (s^2 + s A/Q + 1) / (s^2 + s/(A Q) + 1),   A = 10^(gain_db / 40)

The cookbook's own digital form shrinks near half the sampling rate (2 dB off at 12 kHz), so the
filter is matched instead: M. Vicanek, "Matched Second Order Digital Filters", 2016: poles by
impulse invariance, zeros so that the gain is right at 0 Hz and at the centre, with a level top.
A cut is the exact inverse of the boost of equal size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from exercises.samples import RATE_HZ, Floats, Samples, as_samples


@dataclass(frozen=True, slots=True)
class Biquad:
    """A second-order filter at 48 kHz: b = (b0, b1, b2), a = (1, a1, a2)."""

    b: tuple[float, float, float]
    a: tuple[float, float, float]


def peaking(freq_hz: float, gain_db: float, q: float) -> Biquad:
    """Matched peaking filter; ``q`` is the analogue prototype's at every frequency and gain.

    Raises:
        ValueError: the centre is not within 0-24000 Hz (exclusive) or ``q`` is not positive.
    """
    if not 0.0 < freq_hz < RATE_HZ / 2 or not q > 0.0:
        raise ValueError(f"no peaking filter at {freq_hz} Hz with Q {q}")
    if gain_db < 0.0:
        boost = peaking(freq_hz, -gain_db, q)
        b0, b1, b2 = boost.b
        return Biquad(
            (1.0 / b0, boost.a[1] / b0, boost.a[2] / b0),
            (1.0, b1 / b0, b2 / b0),
        )
    gain = 10.0 ** (gain_db / 20.0)
    damping = 1.0 / (2.0 * math.sqrt(gain) * q)
    w0 = 2.0 * math.pi * freq_hz / RATE_HZ
    a1, a2 = _poles(w0, damping)
    sin2 = math.sin(w0 / 2.0) ** 2
    phi = (1.0 - sin2, sin2, 4.0 * (1.0 - sin2) * sin2)
    at_0, at_nyquist, cross = (1.0 + a1 + a2) ** 2, (1.0 - a1 + a2) ** 2, -4.0 * a2
    # Vicanek 2016, peaking: unit gain at 0 Hz, ``gain`` and zero slope at the centre.
    r1 = (at_0 * phi[0] + at_nyquist * phi[1] + cross * phi[2]) * gain**2
    r2 = (-at_0 + at_nyquist + 4.0 * (phi[0] - phi[1]) * cross) * gain**2
    b_0 = at_0
    b_2 = (r1 - r2 * phi[1] - b_0) / (4.0 * phi[1] ** 2)
    b_1 = max(0.0, r2 + b_0 - 4.0 * (phi[0] - phi[1]) * b_2)
    half = 0.5 * (math.sqrt(b_0) + math.sqrt(b_1))
    b0 = 0.5 * (half + math.sqrt(max(0.0, half**2 + b_2)))
    b1 = 0.5 * (math.sqrt(b_0) - math.sqrt(b_1))
    return Biquad((b0, b1, -b_2 / (4.0 * b0)), (1.0, a1, a2))


def _poles(w0: float, damping: float) -> tuple[float, float]:
    decay = math.exp(-damping * w0)
    if damping <= 1.0:
        a1 = -2.0 * decay * math.cos(math.sqrt(1.0 - damping**2) * w0)
    else:
        a1 = -2.0 * decay * math.cosh(math.sqrt(damping**2 - 1.0) * w0)
    return a1, decay**2


def response_db(biquad: Biquad, freqs_hz: Floats) -> Floats:
    """Gain in dB of ``biquad`` at each of ``freqs_hz`` (frequencies,); float64, same shape."""
    z = np.exp(-2j * np.pi * np.asarray(freqs_hz, dtype=np.float64) / RATE_HZ)
    numerator = np.abs(biquad.b[0] + z * (biquad.b[1] + z * biquad.b[2]))
    denominator = np.abs(1.0 + z * (biquad.a[1] + z * biquad.a[2]))
    decibels: Floats = 20.0 * np.log10(numerator / denominator)
    return decibels


def filter_loop(samples: Samples, biquad: Biquad) -> Samples:
    """``samples`` (frames, 2) through ``biquad`` as if the loop had always been playing.

    That is circular convolution: the loop's end rings on into its start, so the seam stays.
    """
    return as_samples(settle_and_filter(np.array(biquad.b), np.array(biquad.a), samples))


def settle_and_filter(b: Floats, a: Floats, samples: Samples) -> Floats:
    """Circular filtering of (frames, channels) by any stable b/a; float64 result.

    The filter first runs over as much of the loop before its start as its memory reaches
    (until the slowest pole has fallen to 1e-12), and only then over the loop itself.
    """
    from scipy.signal import lfilter

    along_time = np.ascontiguousarray(samples.T, dtype=np.float64)
    frames = along_time.shape[1]
    slowest = float(np.max(np.abs(np.roots(a))))
    memory = math.ceil(math.log(1e-12) / math.log(slowest)) if slowest > 0.0 else len(b)
    rounds, part = divmod(max(memory, len(b)), frames)
    state = np.zeros((along_time.shape[0], max(len(a), len(b)) - 1))
    if part:
        _, state = lfilter(b, a, along_time[:, frames - part :], axis=1, zi=state)
    for _ in range(rounds):
        _, state = lfilter(b, a, along_time, axis=1, zi=state)
    filtered: Floats = lfilter(b, a, along_time, axis=1, zi=state)[0]
    return filtered.T
