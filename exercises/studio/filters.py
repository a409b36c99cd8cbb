"""Second-order sections for the studio, as (b0, b1, b2, a0, a1, a2).

R. Bristow-Johnson, Audio EQ Cookbook (W3C Audio Working Group note). Frequencies in Hz at 48 kHz,
gains in dB. The cookbook's forms are narrow near half the rate; for voicing an instrument that
does no harm.
"""

from __future__ import annotations

import math

from exercises.samples import RATE_HZ

Section = tuple[float, float, float, float, float, float]


def _angle(freq_hz: float, q: float) -> tuple[float, float]:
    w = 2.0 * math.pi * min(freq_hz, 0.49 * RATE_HZ) / RATE_HZ
    return math.cos(w), math.sin(w) / (2.0 * q)


def lowpass(freq_hz: float, q: float = 0.7071) -> Section:
    """12 dB an octave down above ``freq_hz``."""
    c, alpha = _angle(freq_hz, q)
    return ((1 - c) / 2, 1 - c, (1 - c) / 2, 1 + alpha, -2 * c, 1 - alpha)


def highpass(freq_hz: float, q: float = 0.7071) -> Section:
    """12 dB an octave down below ``freq_hz``."""
    c, alpha = _angle(freq_hz, q)
    return ((1 + c) / 2, -(1 + c), (1 + c) / 2, 1 + alpha, -2 * c, 1 - alpha)


def bandpass(freq_hz: float, q: float) -> Section:
    """0 dB at ``freq_hz``, 6 dB an octave down to either side."""
    c, alpha = _angle(freq_hz, q)
    return (alpha, 0.0, -alpha, 1 + alpha, -2 * c, 1 - alpha)


def peak(freq_hz: float, gain_db: float, q: float = 1.0) -> Section:
    """A boost or cut of ``gain_db`` at ``freq_hz``."""
    c, alpha = _angle(freq_hz, q)
    a = 10.0 ** (gain_db / 40.0)
    return (1 + alpha * a, -2 * c, 1 - alpha * a, 1 + alpha / a, -2 * c, 1 - alpha / a)


def low_shelf(freq_hz: float, gain_db: float) -> Section:
    """``gain_db`` below ``freq_hz``, slope 1."""
    c, alpha = _angle(freq_hz, 0.7071)
    a = 10.0 ** (gain_db / 40.0)
    r = 2.0 * math.sqrt(a) * alpha
    return (
        a * ((a + 1) - (a - 1) * c + r),
        2 * a * ((a - 1) - (a + 1) * c),
        a * ((a + 1) - (a - 1) * c - r),
        (a + 1) + (a - 1) * c + r,
        -2 * ((a - 1) + (a + 1) * c),
        (a + 1) + (a - 1) * c - r,
    )


def high_shelf(freq_hz: float, gain_db: float) -> Section:
    """``gain_db`` above ``freq_hz``, slope 1."""
    c, alpha = _angle(freq_hz, 0.7071)
    a = 10.0 ** (gain_db / 40.0)
    r = 2.0 * math.sqrt(a) * alpha
    return (
        a * ((a + 1) + (a - 1) * c + r),
        -2 * a * ((a - 1) + (a + 1) * c),
        a * ((a + 1) + (a - 1) * c - r),
        (a + 1) - (a - 1) * c + r,
        2 * ((a - 1) - (a + 1) * c),
        (a + 1) - (a - 1) * c - r,
    )
