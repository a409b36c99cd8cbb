"""Plucked strings: an extended Karplus-Strong string, with pick position and damping.

D. Jaffe & J. O. Smith, "Extensions of the Karplus-Strong Plucked-String Algorithm", Computer
Music Journal 7(2), 1983. The loop holds the delay of one period (fractional part by third-order
Lagrange interpolation) and a three-tap low-pass whose gain is set by two decay times. The string
is computed a period at a time: each period is the one before it, filtered.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import RandomState
from scipy.signal import lfilter

from exercises.samples import RATE_HZ, Floats


@dataclass(frozen=True, slots=True)
class String:
    """How a kind of string sounds.

    ``decay_s`` and ``high_decay_s`` are the times to fall by 60 dB at the fundamental and at
    3 kHz; ``pick_at`` is the place of the pick as a share of the length; ``pick_hz`` the pick's
    softness (what lies above it falls by 6 dB an octave); ``noise`` the share of scrape in it.
    """

    decay_s: float
    high_decay_s: float
    pick_at: float = 0.13
    pick_hz: float = 2500.0
    noise: float = 0.2
    release_s: float = 0.06


NYLON = String(3.0, 0.35, 0.18, 1400.0, 0.1)
STEEL = String(4.5, 1.0, 0.15, 1100.0, 0.15)
ELECTRIC = String(7.0, 2.2, 0.14, 3500.0, 0.15, 0.05)
MUTED = String(0.5, 0.06, 0.22, 450.0, 0.3, 0.04)
BASS_GUITAR = String(5.0, 0.5, 0.22, 320.0, 0.12, 0.05)
UPRIGHT_BASS = String(1.8, 0.15, 0.26, 260.0, 0.2, 0.08)


def pluck(
    freq_hz: float, seconds: float, string: String, velocity: float, hand: RandomState
) -> Floats:
    """One note of ``string``, ``seconds`` to its release; (frames,), peak near ``velocity``."""
    frames = int((seconds + 4.0 * string.release_s) * RATE_HZ)
    where = string.pick_at * (1.0 + 0.15 * hand.uniform(-1.0, 1.0))
    softness = string.pick_hz * (0.5 + 0.7 * velocity)
    excitation = _excitation(freq_hz, where, softness, string.noise, hand)
    across = _ring_out(freq_hz, excitation, string.decay_s, string.high_decay_s, frames)
    along = _ring_out(
        freq_hz * 1.0006, excitation, string.decay_s * 0.45, string.high_decay_s * 0.7, frames
    )
    note = across + 0.5 * along
    note /= np.abs(note[: RATE_HZ // 10]).max()
    held = int(seconds * RATE_HZ)
    note[held:] *= np.exp(-np.arange(frames - held) / (string.release_s * RATE_HZ / 2.3))
    return np.asarray(note * velocity)


def _excitation(
    freq_hz: float, pick_at: float, softness_hz: float, noise: float, hand: RandomState
) -> Floats:
    period = RATE_HZ / freq_hz
    length = int(period)
    burst = noise * hand.standard_normal(length) / np.sqrt(length)
    burst[0] += 1.0
    pole = np.exp(-2.0 * np.pi * softness_hz / RATE_HZ)
    burst = np.asarray(lfilter([1.0 - pole], [1.0, -pole], burst))
    out = np.zeros(2 * length + 2)
    out[:length] += burst
    lag = max(1, round(period * pick_at))
    out[lag : lag + length] -= burst
    return out


def _ring_out(
    freq_hz: float, excitation: Floats, decay_s: float, high_decay_s: float, frames: int
) -> Floats:
    keep = 10.0 ** (-3.0 / (freq_hz * decay_s))
    keep_high = 10.0 ** (-3.0 / (freq_hz * min(high_decay_s, decay_s)))
    bend = 1.0 - np.cos(2.0 * np.pi * 3000.0 / RATE_HZ)
    side = float(np.clip((1.0 - keep_high / keep) / (2.0 * bend), 0.0, 0.245))
    total = RATE_HZ / freq_hz
    period = int(total - 2.0)
    d = total - period - 1.0
    lagrange = [
        -(d - 1) * (d - 2) * (d - 3) / 6,
        d * (d - 2) * (d - 3) / 2,
        -d * (d - 1) * (d - 3) / 2,
        d * (d - 1) * (d - 2) / 6,
    ]
    taps = keep * np.convolve([side, 1.0 - 2.0 * side, side], lagrange)
    reach = len(taps) - 1
    lead = period + reach
    out = np.zeros(lead + frames + period)
    shown = min(len(excitation), frames)
    out[lead : lead + shown] = excitation[:shown]
    for at in range(lead, lead + frames, period):
        out[at : at + period] += np.convolve(out[at - period - reach : at], taps, "valid")
    return out[lead : lead + frames]


def strum(
    freqs_hz: Sequence[float],
    seconds: float,
    string: String,
    velocity: float,
    hand: RandomState,
    spread_s: float = 0.012,
) -> Floats:
    """A chord across several strings, ``spread_s`` from one to the next (order as given)."""
    notes = [
        pluck(freq, seconds, string, velocity * hand.uniform(0.85, 1.0), hand) for freq in freqs_hz
    ]
    gap = int(spread_s * (1.25 - 0.5 * velocity) * RATE_HZ)
    out = np.zeros(max(map(len, notes)) + gap * len(notes))
    for index, note in enumerate(notes):
        out[index * gap : index * gap + len(note)] += note
    return out
