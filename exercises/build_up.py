"""Is it there? Build-ups and hollows in what a stretch of sound measures like on average.

The spectrum is taken in third octaves (IEC 61260-1's width) that slide by a 24th of an octave, as
power a third octave, so that pink noise is level. Its *trend* is a smooth curve through it: local
straight lines over two octaves to either side, fitted again with what stands out counting less
(W. S. Cleveland, JASA 74, 1979). What the spectrum has over the trend is its *excess*; a build-up
is a hill of it, a hollow a dip, with foothills on both sides.

A note is narrow, and as high as it was played: it fills the third octaves that it lies in and says
nothing of the region. It must neither lift the trend nor swallow a broad hill beside it, so notes
are *held*: no 24th of an octave counts for more than three times the median of those round it
(common practice, no source). A note that lies in two of them adds less than 2 dB so. One that has
9 dB more than the rest of its third octave is *prominent* (ECMA-418-1 asks as much of the
prominence ratio, from 1 kHz up), and is a hill of its own.

A hill counts only if chance does not make it: the level of noise in a band of B Hz, measured for
T seconds, is uncertain by 10 / ln(10) / sqrt(B T) dB (J. S. Bendat, A. G. Piersol, "Random Data"),
and a hill must pass ``_SURE`` times that, and 2 dB. Sound is (frames, 2) float32 at 48 kHz.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from exercises.bands import BANDS, octaves
from exercises.samples import RATE_HZ, Floats, Samples

SHORTEST_S: Final = 0.5
LEAST_DB: Final = 2.0
_SURE: Final = 3.3
_LOWEST_HZ, _HIGHEST_HZ = 28.0, 17_000.0
_STEPS_AN_OCTAVE: Final = 24
_HALF_BAND_OCTAVES: Final = 0.05 * math.log2(10.0)
_HALF_BAND_STEPS: Final = round(_HALF_BAND_OCTAVES * _STEPS_AN_OCTAVE)
_REACH_OCTAVES: Final = 2.0
_ROUNDS: Final = 5
_OUTLIER_SDS: Final = 3.0
# Notes are held to so many times the median within so many 24ths of an octave to either side.
_HELD_TO: Final = 3.0
_ROUND_A_NOTE: Final = 8
_PROMINENT_DB: Final = 9.0
# A top that stands over the dip towards a higher one by less of its height belongs to that one.
_LEAST_DIP: Final = 0.25
# Steeper than this (dB an octave), and so far down it, is over a cliff.
_STEEPEST_DB: Final = 12.0
_CLIFF_DB: Final = 3.0
_HARDLY: Final = 1e-4
_FADE_S: Final = 0.05
_FLOOR_DB: Final = -70.0

FREQS_HZ: Final = _LOWEST_HZ * 2.0 ** (
    np.arange(math.floor(_STEPS_AN_OCTAVE * math.log2(_HIGHEST_HZ / _LOWEST_HZ)) + 1)
    / _STEPS_AN_OCTAVE
)
"""Middles of the sliding third octaves, 28 Hz to 17 kHz."""


@dataclass(frozen=True, slots=True, eq=False)
class Average:
    """The average spectrum of a stretch at ``FREQS_HZ``, all (n,) float64 in dB.

    ``level_db`` re the whole stretch; ``held_db`` the same with every note held, ``counted_db``
    with all but the prominent; ``trend_db`` the smooth curve through ``held_db``; ``needed_db``
    what the excess must reach for chance to be ruled out. ``octave_db`` (10,): power of each octave
    band re the whole.
    """

    level_db: Floats
    held_db: Floats
    counted_db: Floats
    trend_db: Floats
    needed_db: Floats
    octave_db: Floats

    @property
    def excess_db(self) -> Floats:
        """What counts over the trend (positive) or under it."""
        return self.counted_db - self.trend_db


@dataclass(frozen=True, slots=True)
class Hill:
    """A build-up (``height_db`` > 0) or a hollow (< 0), and its width at half its height."""

    centre_hz: float
    height_db: float
    width_octaves: float


def average_of(samples: Samples) -> Average:
    """What ``samples`` (frames, 2) measures like on average.

    Raises:
        ValueError: it is silent, or shorter than half a second.
    """
    seconds = len(samples) / RATE_HZ
    if seconds < SHORTEST_S:
        raise ValueError(f"{seconds:.2f} s is too short to measure a spectrum")
    running, bins_a_hz = _running_power(samples)
    total = running[-1]
    if not total > 0.0:
        raise ValueError("silence has no spectrum")
    half_band = 2.0**_HALF_BAND_OCTAVES
    power = _between(running, bins_a_hz, FREQS_HZ / half_band, FREQS_HZ * half_band)
    held, counted = _with_notes_held(running, bins_a_hz)
    held_db = _decibels(held / total)
    octave_power = _between(
        running,
        bins_a_hz,
        np.array([band.low_hz for band in BANDS]),
        np.array([band.high_hz for band in BANDS]),
    )
    bandwidth_hz = FREQS_HZ * (half_band - 1.0 / half_band)
    uncertain_db = 10.0 / math.log(10.0) / np.sqrt(bandwidth_hz * seconds)
    return Average(
        _decibels(power / total),
        held_db,
        _decibels(counted / total),
        _trend(held_db),
        np.maximum(LEAST_DB, _SURE * uncertain_db),
        10.0 * np.log10(np.maximum(octave_power / total, 1e-12)),
    )


def hills(average: Average, *, hollows: bool = False) -> tuple[Hill, ...]:
    """Every build-up (or hollow) that is real, from low to high."""
    sign = -1.0 if hollows else 1.0
    kept: list[Hill] = []
    # A prominent note hides the broad hill on whose flank it stands: that is looked for as well.
    for level_db in (average.counted_db, average.held_db):
        excess = sign * (level_db - average.trend_db)
        found = []
        for index in np.flatnonzero((excess > average.needed_db) & _tops(excess)):
            edges = _edges(excess, int(index))
            if edges is not None:
                height = float(excess[index])
                centre_hz = _centre(excess - 0.5 * height, *edges)
                found.append(Hill(centre_hz, sign * height, _octaves_of(edges[1] - edges[0])))
        _keep_one_each(kept, found)
    return tuple(sorted(kept, key=lambda hill: hill.centre_hz))


def nearest_hill(average: Average, freq_hz: float, *, hollows: bool = False) -> Hill | None:
    """The real build-up (or hollow) whose centre lies nearest; None if there is none at all."""
    found = hills(average, hollows=hollows)
    return min(found, key=lambda hill: abs(octaves(hill.centre_hz, freq_hz)), default=None)


def excess_at(average: Average, freq_hz: float) -> float:
    """What stands over the trend at a frequency, in dB; held to the ends of ``FREQS_HZ``."""
    return float(np.interp(math.log(freq_hz), np.log(FREQS_HZ), average.excess_db))


def needed_at(average: Average, freq_hz: float) -> float:
    """What the excess must reach there for chance to be ruled out, in dB."""
    return float(np.interp(math.log(freq_hz), np.log(FREQS_HZ), average.needed_db))


def _running_power(samples: Samples) -> tuple[Floats, float]:
    """Power up to each bin's upper edge, both channels; and how many bins make one Hz."""
    frames = len(samples)
    fade = np.sin(0.5 * np.pi * np.linspace(0.0, 1.0, round(_FADE_S * RATE_HZ), False)) ** 2
    faded = samples.astype(np.float64) - samples.mean(axis=0, dtype=np.float64)
    faded[: len(fade)] *= fade[:, None]
    faded[-len(fade) :] *= fade[::-1, None]
    bins = np.fft.rfft(faded, axis=0)
    power = np.einsum("nc,nc->n", bins.real, bins.real) + np.einsum(
        "nc,nc->n", bins.imag, bins.imag
    )
    return np.cumsum(power), frames / RATE_HZ


def _decibels(share: Floats) -> Floats:
    level_db: Floats = 10.0 * np.log10(np.maximum(share, 10.0 ** (_FLOOR_DB / 10.0)))
    return level_db


def _with_notes_held(running: Floats, bins_a_hz: float) -> tuple[Floats, Floats]:
    """Power of each third octave with every note held, and with all but the prominent held."""
    reach = _ROUND_A_NOTE + 2 * _HALF_BAND_STEPS
    steps = np.arange(-reach, len(FREQS_HZ) + reach) - 0.5
    lows_hz = FREQS_HZ[0] * 2.0 ** (steps / _STEPS_AN_OCTAVE)
    power = _between(running, bins_a_hz, lows_hz, lows_hz * 2.0 ** (1.0 / _STEPS_AN_OCTAVE))
    usual = np.median(sliding_window_view(power, 2 * _ROUND_A_NOTE + 1), axis=1)
    power = power[_ROUND_A_NOTE:-_ROUND_A_NOTE]
    held = np.minimum(power, _HELD_TO * usual)
    # A third octave is seven whole 24ths, and half of the next on both sides.
    shares = np.ones(2 * _HALF_BAND_STEPS + 1)
    shares[[0, -1]] = _HALF_BAND_OCTAVES * _STEPS_AN_OCTAVE - (_HALF_BAND_STEPS - 0.5)
    rest = np.convolve(held, shares, "valid")
    inside = slice(_HALF_BAND_STEPS, -_HALF_BAND_STEPS)
    # A note may lie on the border of two.
    note = np.convolve(power, np.ones(3), "same")[inside]
    prominent = note > 10.0 ** (_PROMINENT_DB / 10.0) * rest
    counted = np.convolve(np.where(prominent, power[inside], held[inside]), shares, "valid")
    return rest[inside], counted


def _between(running: Floats, bins_a_hz: float, low_hz: Floats, high_hz: Floats) -> Floats:
    """Power from ``low_hz`` up to ``high_hz``; a bin reaches half a bin to either side."""
    upper_edges = np.arange(len(running)) + 0.5

    def up_to(freqs_hz: Floats) -> Floats:
        reached: Floats = np.interp(freqs_hz * bins_a_hz, upper_edges, running)
        return reached

    return up_to(high_hz) - up_to(low_hz)


_X: Final = np.log2(FREQS_HZ / FREQS_HZ[0])
_NEAR: Final = (
    np.clip(1.0 - (np.abs(_X[:, None] - _X[None, :]) / _REACH_OCTAVES) ** 3, 0.0, None) ** 3
)


_CONE_DB: Final = _STEEPEST_DB * np.abs(_X[:, None] - _X[None, :])


def _trend(level_db: Floats) -> Floats:
    """A robust local straight line through ``level_db`` at each place (Cleveland's LOWESS).

    What lies down a cliff (beneath a high-pass, above a lossy coder's end) hardly counts: a trend
    that was drawn down it would leave its edge standing out.
    """
    above = (level_db - _CONE_DB).max(axis=1) - level_db < _CLIFF_DB
    counts = np.where(above, 1.0, _HARDLY)
    trend = level_db
    for _ in range(_ROUNDS):
        s0, s1, s2 = _NEAR @ counts, _NEAR @ (counts * _X), _NEAR @ (counts * _X**2)
        t0, t1 = _NEAR @ (counts * level_db), _NEAR @ (counts * _X * level_db)
        slope = (s0 * t1 - s1 * t0) / (s0 * s2 - s1**2)
        trend = (t0 - slope * s1) / s0 + slope * _X
        left = level_db - trend
        scale = max(1.4826 * float(np.median(np.abs(left[above]))), 0.05)
        counts = np.clip(1.0 - (left / (_OUTLIER_SDS * scale)) ** 2, 0.02, None) ** 2
        counts = np.where(above, counts, _HARDLY)
    return trend


def _tops(excess: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Where ``excess`` is highest within a third of an octave to either side."""
    reach = _STEPS_AN_OCTAVE // 3
    padded = np.pad(excess, reach, constant_values=-np.inf)
    around = sliding_window_view(padded, 2 * reach + 1).max(axis=1)
    tops: np.ndarray[tuple[int], np.dtype[np.bool_]] = excess == around
    return tops


def _edges(excess: Floats, top: int) -> tuple[float, float] | None:
    """Places, in steps, to either side where a hill ends; None if it has no end, or is none.

    It ends where half its height is reached, or in the dip before something higher.
    """
    before, after = _steps_down(excess[top::-1]), _steps_down(excess[top:])
    return None if before is None or after is None else (top - before, top + after)


def _steps_down(excess: Floats) -> float | None:
    """Steps from the first of ``excess``, a top, to where its hill ends."""
    height = float(excess[0])
    half = 0.5 * height
    higher = np.flatnonzero(excess > height)
    near = excess[: higher[0]] if len(higher) else excess
    below = np.flatnonzero(near < half)
    if len(below):
        end = int(below[0])
        return end - float((half - near[end]) / (near[end - 1] - near[end]))
    dip = int(near.argmin())
    return float(dip) if len(higher) and near[dip] < (1.0 - _LEAST_DIP) * height else None


def _centre(over_half: Floats, low: float, high: float) -> float:
    """Centre of gravity of what stands over half the height, in Hz: steadier than the top."""
    inside = np.arange(math.ceil(low), math.floor(high) + 1)
    weight = np.maximum(over_half[inside], 1e-9)
    place = float(np.sum(inside * weight) / np.sum(weight))
    return float(FREQS_HZ[0] * 2.0 ** _octaves_of(place))


def _octaves_of(steps: float) -> float:
    return steps / _STEPS_AN_OCTAVE


def _keep_one_each(kept: list[Hill], found: list[Hill]) -> None:
    """Two tops of one hill are one: the kept, else the higher."""
    for hill in sorted(found, key=lambda hill: -abs(hill.height_db)):
        apart = (
            abs(octaves(hill.centre_hz, other.centre_hz)) > other.width_octaves / 2.0
            for other in kept
        )
        if all(apart):
            kept.append(hill)
