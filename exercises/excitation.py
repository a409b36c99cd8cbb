"""Excitation patterns: how strongly a sound excites each place along the inner ear.

The stationary model of B. C. J. Moore, B. R. Glasberg, T. Baer, "A Model for the Prediction of
Thresholds, Loudness, and Partial Loudness", JAES 45(4), 1997, in the form of ANSI S3.4-2007 and
ISO 532-2:2017: outer and middle ear as one fixed gain, then a bank of rounded-exponential filters
(B. R. Glasberg, B. C. J. Moore, Hearing Research 47, 1990) whose lower slope grows shallower with
level, so that strong low sounds spread upwards.

Powers are relative to 0 dB SPL; those of components are (..., components), of the ear's filters
(..., filters), and one figure a frequency has the shape (frequencies,) of the frequencies in Hz.
Frequency runs in Cams, the unit of the ERB-number scale. The
standards compute 50 Hz to 15 kHz; the octave bands from 31.5 Hz to 16 kHz need a little more at
both ends, taken by the same formulas.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from exercises.samples import Floats

COMPONENT_STEP_CAMS: Final = 0.25
_LOWEST_CAMS, _HIGHEST_CAMS = 0.5, 41.5

# Free-field sound to eardrum, frontal, and eardrum to inner ear: gains in dB (ANSI S3.4-2007,
# tables 1 and 2; the same figures in ISO 532-2:2017), frequencies in Hz.
_OUTER_HZ: Final = (
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 750, 800, 1000,
    1250, 1500, 1600, 2000, 2500, 3000, 3150, 4000, 5000, 6000, 6300, 8000, 9000, 10000, 11200,
    12500, 14000, 15000, 16000, 20000,
)  # fmt: skip
_OUTER_DB: Final = (
    0, 0, 0, 0, 0, 0, 0, 0, 0.1, 0.3, 0.5, 0.9, 1.4, 1.6, 1.7, 2.5, 2.7, 2.6, 2.6, 3.2, 5.2, 6.6,
    12.0, 16.8, 15.3, 15.2, 14.2, 10.7, 7.1, 6.4, 1.8, -0.9, -1.6, 1.9, 4.9, 2.0, -2.0, 2.5, 2.5,
)  # fmt: skip
_MIDDLE_HZ: Final = (*_OUTER_HZ[:-1], 18000, 20000)
_MIDDLE_DB: Final = (
    -39.6, -32.0, -25.85, -21.4, -18.5, -15.9, -14.1, -12.4, -11.0, -9.6, -8.3, -7.4, -6.2, -4.8,
    -3.8, -3.3, -2.9, -2.6, -2.6, -4.5, -5.4, -6.1, -8.5, -10.4, -7.3, -7.0, -6.6, -7.0, -9.2,
    -10.2, -12.2, -10.8, -10.1, -12.7, -15.0, -18.2, -23.8, -32.3, -45.5, -50.0,
)  # fmt: skip

# Excitation of a tone at the threshold of hearing, in dB: ISO 532-2:2017, table 2, from 50 Hz and
# level from 500 Hz to 15 kHz. Outside, where that standard ends, what the thresholds of ISO
# 389-7:2019 (20 to 40 Hz: 78.1, 68.7, 59.5, 51.1 dB; 16 and 18 kHz: 40.2, 70.4 dB) come to after
# the gains above, and 1.4 dB for one ear instead of two, by which both standards differ inside.
_QUIET_HZ: Final = (
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 15000, 16000, 18000,
)  # fmt: skip
_QUIET_DB: Final = (
    39.9, 38.1, 35.05, 31.1, 28.18, 23.9, 19.2, 15.68, 12.67, 10.09, 8.08, 6.3, 5.3, 4.5, 3.63,
    3.63, 11.8, 28.8,
)  # fmt: skip

# The lower slope at 51 dB is p; it falls by 0.35 (of p at 1 kHz) for every dB above (ISO 532-2).
_SYMMETRIC_AT_DB: Final = 51.0
_SLOPE_PER_DB: Final = 0.35
# Far above any level of music p would pass through zero; there it stops.
_SHALLOWEST: Final = 0.05


def erb_hz(freq_hz: Floats | float) -> Floats:
    """Equivalent rectangular bandwidth in Hz of the ear's filter (Glasberg & Moore 1990, eq. 3)."""
    bandwidth: Floats = 24.7 * (4.37 * np.asarray(freq_hz, dtype=np.float64) / 1000.0 + 1.0)
    return bandwidth


def erb_number(freq_hz: Floats | float) -> Floats:
    """Place on the ERB-number scale, in Cams (Glasberg & Moore 1990, eq. 4)."""
    cams: Floats = 21.4 * np.log10(4.37 * np.asarray(freq_hz, dtype=np.float64) / 1000.0 + 1.0)
    return cams


def freq_of_erb_number(cams: Floats | float) -> Floats:
    """Frequency in Hz of a place in Cams: the inverse of ``erb_number``."""
    freq: Floats = (10.0 ** (np.asarray(cams, dtype=np.float64) / 21.4) - 1.0) * 1000.0 / 4.37
    return freq


def roex_sharpness(freq_hz: Floats | float) -> Floats:
    """The p of a symmetric filter, 4 f / ERB, so that its area is its ERB (1990, eq. 2)."""
    sharpness: Floats = 4.0 * np.asarray(freq_hz, dtype=np.float64) / erb_hz(freq_hz)
    return sharpness


def roex(distance: Floats | float, sharpness: Floats | float) -> Floats:
    """Power gain of a filter at ``distance`` (|f - fc| / fc): (1 + p g) e^(-p g)."""
    steepened = np.asarray(distance, dtype=np.float64) * sharpness
    gain: Floats = (1.0 + steepened) * np.exp(-steepened)
    return gain


def ear_gain_db(freq_hz: Floats) -> Floats:
    """Outer and middle ear together, in dB, sound from the front; straight lines over log f."""
    at = np.log(np.asarray(freq_hz, dtype=np.float64))
    gain: Floats = np.interp(at, np.log(_OUTER_HZ), _OUTER_DB) + np.interp(
        at, np.log(_MIDDLE_HZ), _MIDDLE_DB
    )
    return gain


def quiet_power(freq_hz: Floats) -> Floats:
    """Excitation, as a power, of a tone that can only just be heard in quiet."""
    decibels = np.interp(np.log(freq_hz), np.log(_QUIET_HZ), _QUIET_DB)
    power: Floats = 10.0 ** (decibels / 10.0)
    return power


COMPONENT_EDGES_CAMS: Final = np.arange(
    _LOWEST_CAMS, _HIGHEST_CAMS + COMPONENT_STEP_CAMS / 2, COMPONENT_STEP_CAMS
)
"""Edges of the narrow bands, a quarter of a Cam wide, that a sound is given in."""

COMPONENTS_HZ: Final = freq_of_erb_number(
    (COMPONENT_EDGES_CAMS[1:] + COMPONENT_EDGES_CAMS[:-1]) / 2.0
)
"""Middles of those bands."""

FILTERS_HZ: Final = freq_of_erb_number(np.arange(1.0, 40.5, 0.5))
"""Centres of the ear's filters, half a Cam apart, 26 Hz to 17 kHz."""


FLOOR_MARGIN_DB: Final = 10.0
FLOOR: Final = quiet_power(FILTERS_HZ) * 10.0 ** (FLOOR_MARGIN_DB / 10.0)
"""Excitation of each filter that anyone who trains here is taken to hear.

The thresholds of the standards are medians of healthy ears of 18 to 25 years in silence, half of
which hear less; 10 dB allow for about two standard deviations of those ears (ISO 28961:2012 has 4
to 6 dB; from memory) or, in other words, for a quiet room and a few years more.
"""


def _distances() -> Floats:
    """(filters, components): how far each component lies from each filter's centre."""
    return (COMPONENTS_HZ - FILTERS_HZ[:, None]) / FILTERS_HZ[:, None]


_FROM_ABOVE: Final = np.where(
    _distances() >= 0.0, roex(np.abs(_distances()), roex_sharpness(FILTERS_HZ)[:, None]), 0.0
)
_PER_ERB: Final = roex(
    np.abs(COMPONENTS_HZ - COMPONENTS_HZ[:, None]) / COMPONENTS_HZ[:, None],
    roex_sharpness(COMPONENTS_HZ)[:, None],
)
# Components below a filter's centre, one filter after another: the part that depends on level.
_BELOW_FILTER, _BELOW_COMPONENT = np.nonzero(_distances() < 0.0)
_BELOW_STEEPNESS: Final = (np.abs(_distances()) * roex_sharpness(FILTERS_HZ)[:, None])[
    _BELOW_FILTER, _BELOW_COMPONENT
]
_BELOW_START: Final = np.searchsorted(_BELOW_FILTER, np.arange(len(FILTERS_HZ)))


def excitation(powers: Floats) -> Floats:
    """Power at the output of each of the ear's filters.

    ``powers`` (..., components): power of each component at the inner ear (after
    ``ear_gain_db``), re 0 dB SPL. Returns (..., filters), re 0 dB SPL.
    """
    level_db = 10.0 * np.log10(np.maximum(powers @ _PER_ERB.T, 1e-10))
    slope = 1.0 - _SLOPE_PER_DB / roex_sharpness(1000.0) * (level_db - _SYMMETRIC_AT_DB)
    slope = np.maximum(slope, _SHALLOWEST)
    steepened = _BELOW_STEEPNESS * slope[..., _BELOW_COMPONENT]
    passed = (1.0 + steepened) * np.exp(-steepened) * powers[..., _BELOW_COMPONENT]
    excited: Floats = powers @ _FROM_ABOVE.T + np.add.reduceat(passed, _BELOW_START, axis=-1)
    return excited
