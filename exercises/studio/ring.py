"""A ring of samples: where a loop is rendered, so that it has no seam.

Sounds placed near the end run on at the start. Filters act by their frequency response at the
ring's own frequencies, which is the steady state of the recursive filter going round for ever;
waveshapers run at four times the rate, by zero-padding the ring's spectrum (exact for a ring).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from scipy import fft

from exercises.samples import RATE_HZ, Floats

OVERSAMPLING: Final = 4


def place(ring: Floats, sound: Floats, at_frame: int) -> None:
    """Add ``sound`` (frames,) or (frames, 2) to ``ring`` from ``at_frame`` on, round the end."""
    length = len(ring)
    start = at_frame % length
    stop = start + len(sound)
    if stop <= length:
        ring[start:stop] += sound
        return
    turns = np.zeros((-(-stop // length) * length, *ring.shape[1:]))
    turns[start:stop] = sound
    ring += turns.reshape(-1, *ring.shape).sum(axis=0)


def filtered(ring: Floats, *sections: Sequence[float]) -> Floats:
    """``ring`` through second-order sections (b0 b1 b2 a0 a1 a2), circularly."""
    length = len(ring)
    delay = np.exp(-2j * np.pi * np.arange(length // 2 + 1) / length)
    response = np.ones(len(delay), dtype=complex)
    for b0, b1, b2, a0, a1, a2 in sections:
        response *= (b0 + delay * (b1 + delay * b2)) / (a0 + delay * (a1 + delay * a2))
    if ring.ndim == 2:
        response = response[:, None]
    return np.asarray(fft.irfft(fft.rfft(ring, axis=0) * response, length, axis=0))


def smoothed(ring: Floats, time_s: float) -> Floats:
    """``ring`` through a one-pole low-pass of time constant ``time_s``, circularly."""
    pole = float(np.exp(-1.0 / (time_s * RATE_HZ)))
    return filtered(ring, (1.0 - pole, 0.0, 0.0, 1.0, -pole, 0.0))


def convolved(ring: Floats, response: Floats) -> Floats:
    """``ring`` (frames,) or (frames, 2) convolved circularly with ``response`` (taps, 2)."""
    folded = np.zeros((len(ring), 2))
    place(folded, response, 0)
    source = fft.rfft(ring, axis=0)
    if source.ndim == 1:
        source = source[:, None]
    return np.asarray(fft.irfft(source * fft.rfft(folded, axis=0), len(ring), axis=0))


def shaped(ring: Floats, curve: Callable[[Floats], Floats]) -> Floats:
    """``ring`` through the memoryless ``curve`` at four times the rate, so that it aliases little.

    What lies above 20 kHz afterwards is dropped.
    """
    length = len(ring)
    fast = length * OVERSAMPLING
    spectrum = fft.rfft(ring, axis=0)
    bent = curve(np.asarray(fft.irfft(spectrum, fast, axis=0)) * OVERSAMPLING)
    spectrum = fft.rfft(bent, axis=0)[: length // 2 + 1] / OVERSAMPLING
    spectrum[int(20_000 / RATE_HZ * length) :] = 0.0
    return np.asarray(fft.irfft(spectrum, length, axis=0))
