"""Held tones: harmonics that follow a pitch curve under a spectral envelope, and shaped breath.

An envelope is a function ``envelope(freqs_hz, at)`` that gives amplitudes for ``freqs_hz`` (any
shape) at control frames ``at`` (broadcast against it). Controls run every ``HOP`` samples and are
interpolated between.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt
from numpy.random import RandomState
from scipy import fft

from exercises.samples import RATE_HZ, Floats

HOP: Final = 128
# Quadratic phases: harmonics that all start at zero would pile up into one spike a period
# (M. Schroeder, IEEE Trans. Information Theory 16, 1970).
_SPREAD: Final = 0.06
Envelope = Callable[[Floats, npt.NDArray[np.intp]], Floats]


def harmonics(
    pitch_hz: Floats, envelope: Envelope, top_hz: float, start_turn: float = 0.0
) -> Floats:
    """Sum of all harmonics of ``pitch_hz`` (frames,) up to ``top_hz``, shaped by ``envelope``."""
    frames = len(pitch_hz)
    points = -(-frames // HOP) + 1
    at = np.arange(points, dtype=np.intp)
    pitch = pitch_hz[np.minimum(at * HOP, frames - 1)]
    turn = np.exp(2j * np.pi * (start_turn + np.cumsum(pitch_hz) / RATE_HZ))
    ramp = np.arange(HOP) / HOP
    out = np.zeros(frames)
    spun = np.ones(frames, dtype=complex)
    for number in range(1, int(top_hz / pitch.min()) + 1):
        spun *= turn
        freqs = number * pitch
        gain = envelope(freqs, at) * np.clip((top_hz - freqs) / (0.1 * top_hz), 0.0, 1.0)
        steps = (gain[:-1, None] + np.diff(gain)[:, None] * ramp).ravel()[:frames]
        out += steps * (spun * np.exp(1j * _SPREAD * number**2)).imag
    return out


def breath(frames: int, envelope: Envelope, hand: RandomState) -> Floats:
    """White noise (per Hz, sd 1) shaped by ``envelope`` as it moves; (frames,)."""
    size, hop = 8 * HOP, 2 * HOP
    blocks = -(-frames // hop) + 4
    hiss = hand.standard_normal(blocks * hop + size)
    starts = np.arange(blocks) * hop
    window = np.sin(np.pi * (np.arange(size) + 0.5) / size)
    spectra = fft.rfft(hiss[starts[:, None] + np.arange(size)] * window, axis=1)
    freqs = fft.rfftfreq(size, 1.0 / RATE_HZ)
    at = np.clip((starts[:, None] - size // 2) // HOP, 0, frames // HOP).astype(np.intp)
    pieces = fft.irfft(spectra * envelope(freqs[None, :] + 0.0 * at, at), axis=1) * window
    out = np.zeros(blocks * hop + size)
    for lap in range(size // hop):
        lane = pieces[lap :: size // hop]
        span = out[lap * hop : lap * hop + lane.size]
        span += lane.ravel()
    return out[size // 2 : size // 2 + frames] / (size / hop / 2.0)


def resonance(freqs_hz: Floats, at_hz: Floats | float, width_hz: Floats | float) -> Floats:
    """Amplitude of a resonance, 1 at its peak, 6 dB an octave down far from it."""
    return np.asarray(1.0 / np.sqrt(1.0 + ((freqs_hz - at_hz) / (0.5 * width_hz)) ** 2))


def wander(frames: int, rate_hz: float, hand: RandomState) -> Floats:
    """A slow random curve of sd 1 that changes about ``rate_hz`` times a second; (frames,)."""
    points = max(4, int(frames / RATE_HZ * rate_hz) + 4)
    knots = hand.standard_normal(points)
    where = np.linspace(0.0, points - 3.001, frames)
    index = where.astype(int)
    x = where - index
    a, b, c, d = (knots[index + k] for k in range(4))
    return np.asarray(
        b + 0.5 * x * (c - a + x * (2 * a - 5 * b + 4 * c - d + x * (3 * (b - c) + d - a)))
    )
