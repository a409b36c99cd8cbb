"""What one sound became in another, as measured: over frequency, and over time.

The two are arrays (frames, 2) of one length and in step, the second made of the first by moves.
Over frequency the change is the ratio of powers in bands a twenty-fourth of an octave wide: for a
filter that is its response, exactly, at the middle of the power in the band. Over time it is what
frames of 100 ms have gained that the change over frequency does not explain: a table of frames by
third octaves in dB is split into one row and one column by weighted least squares.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from exercises.bands import HIGHEST_HZ, LOWEST_HZ
from exercises.excitation import FILTERS_HZ, quiet_power
from exercises.heard import (
    FINE_EDGES_HZ,
    FINE_PER_CAM,
    excitation_of_fine,
    inner_ear_gain,
    passage_powers,
)
from exercises.loudness import block_powers, matching_gain_db
from exercises.question import REFERENCE_LUFS
from exercises.samples import RATE_HZ, Floats, Samples

HOP_FRAMES: Final = 2400
WINDOW_FRAMES: Final = 4800
BANDS_AN_OCTAVE: Final = 24
_LEAST_SHARE: Final = 0.05
# Below this, re the strongest band, float32 leaves rounding and no music.
_ROUNDING_DB: Final = -110.0
_AT_ONCE: Final = 256
_TIME_EDGES_HZ: Final = 1000.0 * 10.0 ** (np.arange(-12.5, 13.0) / 10.0)
_TONE_EDGES_HZ: Final = LOWEST_HZ * 2.0 ** (
    np.arange(round(np.log2(HIGHEST_HZ / LOWEST_HZ) * BANDS_AN_OCTAVE) + 1) / BANDS_AN_OCTAVE
)


@dataclass(frozen=True, slots=True)
class ToneChange:
    """Gain in dB over frequency, (bands,): ``weight`` 0 to 1 is how much of it reaches the ear.

    That is the share that a band supplies of what excites its place in the ear (the threshold of
    hearing included), at -23 LUFS; a little at least, and nothing where there is only rounding.
    """

    freqs_hz: Floats
    change_db: Floats
    weight: Floats


@dataclass(frozen=True, slots=True)
class TimeChange:
    """Gain in dB over time, frames of 100 ms every 50 ms (times,), with a weight by power."""

    change_db: Floats
    weight: Floats


@dataclass(frozen=True, slots=True)
class ToneOf:
    """One sound's power in each band, (bands,), the middle of it in Hz, and the ear's share."""

    power: Floats
    freqs_hz: Floats
    share: Floats


def tone_of(sound: Samples, like: ToneOf | None = None) -> ToneOf:
    """What ``tone_change`` needs to know of a sound that others are held against.

    The ear's share, which takes longest, is that of a sound ``like`` it where one is known.
    """
    power, freqs_hz = _bands(sound)
    if like is not None:
        return ToneOf(power, freqs_hz, like.share)
    share = np.maximum(_share_in_the_ear(sound, freqs_hz), _LEAST_SHARE)
    return ToneOf(power, freqs_hz, share)


def tone_change(before: Samples, after: ToneOf) -> ToneChange:
    """What ``before`` became over frequency in the sound that ``after`` was measured of."""
    was, freqs_hz = _bands(before)
    counted = (was > was.max() * 10.0 ** (_ROUNDING_DB / 10.0)) & (after.power > 0.0)
    ratio = np.where(counted, after.power / np.where(counted, was, 1.0), 1.0)
    return ToneChange(freqs_hz, 10.0 * np.log10(ratio), np.where(counted, after.share, 0.0))


def time_change(before: Samples, after: Samples) -> TimeChange:
    """What ``before`` gained over time in ``after``, whatever its tone became."""
    return time_change_of(frame_powers(before), frame_powers(after))


def time_change_of(was: Floats, is_now: Floats) -> TimeChange:
    """The same of what ``frame_powers`` gives of both."""
    strongest = was.max(axis=0, keepdims=True)
    counted = (was > 1e-14) & (is_now > 1e-14)
    # Loud frames tell, by the root of their power; every band counts by what it has.
    weight = np.where(counted, np.sqrt(was / np.maximum(was.max(), 1e-20)), 0.0)
    weight *= np.sqrt(strongest / np.maximum(strongest.max(), 1e-20)) > 1e-3
    change_db = np.zeros_like(was)
    np.log10(is_now / np.where(counted, was, 1.0), out=change_db, where=counted)
    change_db *= 10.0
    by_band, by_frame = np.zeros(was.shape[1]), np.zeros(len(was))
    for _ in range(8):
        by_band = _weighted_mean(change_db - by_frame[:, None], weight, axis=0)
        by_frame = _weighted_mean(change_db - by_band, weight, axis=1)
    level_db = float(_weighted_mean(by_band, weight.sum(axis=0), axis=0))
    return TimeChange(by_frame + level_db, weight.sum(axis=1))


def frame_powers(samples: Samples) -> Floats:
    """Power (times, third octaves 56 Hz to 18 kHz) of 100 ms every 50 ms round the sound."""
    from scipy.fft import rfft

    starts = np.arange(max(1, len(samples) // HOP_FRAMES)) * HOP_FRAMES
    window = np.sin(np.pi * (np.arange(WINDOW_FRAMES) + 0.5) / WINDOW_FRAMES).astype(np.float32)
    edges = np.searchsorted(np.linspace(0.0, RATE_HZ / 2.0, WINDOW_FRAMES // 2 + 1), _TIME_EDGES_HZ)
    along_time, rows = samples.T, []
    for first in range(0, len(starts), _AT_ONCE):
        places = starts[first : first + _AT_ONCE, None] + np.arange(WINDOW_FRAMES)
        bins = rfft(np.take(along_time, places, axis=1, mode="wrap") * window, axis=-1)
        power = (bins.real**2 + bins.imag**2).sum(axis=0)
        rows.append(np.add.reduceat(power, edges, axis=-1)[:, :-1])
    powers: Floats = np.concatenate(rows).astype(np.float64) * (4.0 / WINDOW_FRAMES**2)
    return powers


def _bands(samples: Samples) -> tuple[Floats, Floats]:
    """Power in each band, and the mean frequency of it (the band's middle where there is none)."""
    from scipy.fft import next_fast_len, rfft

    # A length with large factors is padded: a few zeros in a row do not move a ratio.
    bins = rfft(samples.T.astype(np.float64), n=next_fast_len(len(samples), real=True), axis=-1)
    power = (bins.real**2 + bins.imag**2).sum(axis=0)
    bins_hz = np.linspace(0.0, RATE_HZ / 2.0, len(power))
    edges = np.searchsorted(bins_hz, _TONE_EDGES_HZ)
    band_power, moment = (
        np.diff(np.concatenate([[0.0], np.cumsum(values)])[edges])
        for values in (power, power * bins_hz)
    )
    freqs_hz = np.sqrt(_TONE_EDGES_HZ[1:] * _TONE_EDGES_HZ[:-1])
    np.divide(moment, band_power, out=freqs_hz, where=band_power > 0.0)
    # Sums that run over the whole spectrum round; a middle stays inside its band.
    return band_power, np.clip(freqs_hz, _TONE_EDGES_HZ[:-1], _TONE_EDGES_HZ[1:])


def _share_in_the_ear(sound: Samples, freqs_hz: Floats) -> Floats:
    gain_db = matching_gain_db(block_powers(sound), REFERENCE_LUFS)
    at_ear = passage_powers(sound, 0, len(sound)) * inner_ear_gain(gain_db)
    excited = excitation_of_fine(at_ear) + quiet_power(FILTERS_HZ)
    sums = np.concatenate([[0.0], np.cumsum(at_ear)])
    centre = np.searchsorted(FINE_EDGES_HZ, FILTERS_HZ)
    half = FINE_PER_CAM // 2
    low, high = np.maximum(centre - half, 0), np.minimum(centre + half, len(at_ear))
    share = np.minimum((sums[high] - sums[low]) / excited, 1.0)
    shares: Floats = np.interp(np.log(freqs_hz), np.log(FILTERS_HZ), share)
    return shares


def _weighted_mean(values: Floats, weight: Floats, axis: int) -> Any:
    total = np.maximum(weight.sum(axis=axis), 1e-20)
    return (values * weight).sum(axis=axis) / total
