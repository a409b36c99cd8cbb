"""Shelving filters of one fixed slope that keep their shape up to 16 kHz.

The analogue prototypes are the shelves of R. Bristow-Johnson's Audio EQ Cookbook (W3C note) with
S = 1 (Q = 0.7071), the steepest without a bump. With w the frequency over the midpoint's and
G = 10^(gain_db / 20), their power gain is that of a Butterworth shelf,

    low (w^4 + G) / (w^4 + 1/G),     high (1 + G w^4) / (1 + w^4 / G),

half the gain in dB at the midpoint. The cookbook's own digital forms shrink near half the sampling
rate (1 dB off at 12 kHz), so the high shelf is matched as in M. Vicanek, "Matched Two-Pole Digital
Shelving Filters", 2024: level at 0 Hz to the third order, and right at half the sampling rate and
at two frequencies round the midpoint. A low shelf is, exactly, a high shelf of opposite gain and a
change of level by G; so it is made from that, and shares what holds for it.
A cut is the exact inverse of the boost of equal size.
"""

from __future__ import annotations

import math
from typing import Final

from exercises.equaliser import Biquad
from exercises.samples import RATE_HZ

# Where the shape is matched: two frequencies round the midpoint that stay below half the rate.
_NEAR_AND_FAR: Final = ((0.160, 1.543), (0.947, 3.806))


def high_shelf(freq_hz: float, gain_db: float) -> Biquad:
    """Shelf of ``gain_db`` above its midpoint ``freq_hz``, 0 dB far below it.

    Raises:
        ValueError: the midpoint is not within 0-24000 Hz (exclusive).
    """
    if not 0.0 < freq_hz < RATE_HZ / 2:
        raise ValueError(f"no shelf at {freq_hz} Hz")
    if gain_db < 0.0:
        return _inverse(high_shelf(freq_hz, -gain_db))
    if gain_db < 1e-9:
        return Biquad((1.0, 0.0, 0.0), (1.0, 0.0, 0.0))
    return _matched(freq_hz / (RATE_HZ / 2), 10.0 ** (gain_db / 20.0))


def low_shelf(freq_hz: float, gain_db: float) -> Biquad:
    """Shelf of ``gain_db`` below its midpoint ``freq_hz``, 0 dB far above it.

    Raises:
        ValueError: the midpoint is not within 0-24000 Hz (exclusive).
    """
    made = high_shelf(freq_hz, -gain_db)
    gain = 10.0 ** (gain_db / 20.0)
    b0, b1, b2 = made.b
    return Biquad((b0 * gain, b1 * gain, b2 * gain), made.a)


def _inverse(boost: Biquad) -> Biquad:
    b0, b1, b2 = boost.b
    return Biquad((1.0 / b0, boost.a[1] / b0, boost.a[2] / b0), (1.0, b1 / b0, b2 / b0))


def _matched(midpoint: float, gain: float) -> Biquad:
    """High shelf with its midpoint given over half the sampling rate, ``gain`` above 1.

    With p = sin^2 of half the angle, the power gain of any biquad that is 1 at 0 Hz is
    ((1 - p) + B1 p + 4 B2 p (1 - p)) / ((1 - p) + A1 p + 4 A2 p (1 - p)). Third-order level at
    0 Hz asks that A1 + 4 A2 = B1 + 4 B2 (called ``tilt``); half the sampling rate (p = 1) that
    B1 = A1 times the gain there; the two frequencies are then linear in ``tilt`` and A1.
    """

    def power_gain(at: float) -> float:
        fourth = (at / midpoint) ** 4
        return (1.0 + gain * fourth) / (1.0 + fourth / gain)

    top = power_gain(1.0)
    rows, values = [], []
    for near, far in _NEAR_AND_FAR:
        at = midpoint / math.sqrt(near + far * midpoint**2)
        p, wanted = math.sin(math.pi / 2.0 * at) ** 2, power_gain(at)
        rows.append((p * (1.0 - p) * (1.0 - wanted), p**2 * (top - wanted)))
        values.append((wanted - 1.0) * (1.0 - p))
    (t1, a1), (t2, a2) = rows
    determinant = t1 * a2 - t2 * a1
    tilt = (values[0] * a2 - values[1] * a1) / determinant
    at_top = (t1 * values[1] - t2 * values[0]) / determinant
    b = _minimum_phase(at_top * top, 0.25 * (tilt - at_top * top))
    a = _minimum_phase(at_top, 0.25 * (tilt - at_top))
    return Biquad(
        (b[0] / a[0], b[1] / a[0], b[2] / a[0]),
        (1.0, a[1] / a[0], a[2] / a[0]),
    )


def _minimum_phase(at_top: float, between: float) -> tuple[float, float, float]:
    """The polynomial c0 + c1/z + c2/z^2, zeros inside the circle, whose squared size is
    (1 - p) + ``at_top`` p + 4 ``between`` p (1 - p)."""
    root = math.sqrt(at_top)
    half = 0.5 * (1.0 + root)
    c0 = 0.5 * (half + math.sqrt(max(0.0, half**2 + between)))
    return c0, 0.5 * (1.0 - root), -between / (4.0 * c0)
