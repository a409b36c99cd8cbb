"""Loud and soft moments of a loop in every octave band, to be held against another's.

A compressor's gain moves within milliseconds: it lets an attack through and holds down what
follows, so a cymbal's hit and the bass note under it are changed by different amounts. So the
octave bands are followed one by one. Each comes from the bins of one FFT round the whole loop: an
inverse FFT of a band's bins alone is its envelope, at as many samples a second as the band is
wide, and faster than a slice of 64 frames is not needed. Powers are K-weighted (ITU-R BS.1770-5).

A *moment* is a tenth of a second; powers are (bands, moments). Part, rest and ``Sums`` as in
``heard``.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from exercises.bands import BANDS
from exercises.equaliser import Biquad, response_db
from exercises.loudness import (
    STAGE_1_A,
    STAGE_1_B,
    STAGE_2_A,
    STAGE_2_B,
)
from exercises.samples import RATE_HZ, Floats, Samples

MOMENT_FRAMES: Final = 4800
SLICE_FRAMES: Final = 64
RAMP_FRAMES: Final = 480
"""How far a passage's spectrum is faded in and out beyond its ends (``heard``)."""

SOFTEST_MOMENT_DB: Final = 30.0

Complexes = npt.NDArray[np.complex128]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Sums:
    """Powers of the part and the rest, and P R* between them, all of one shape.

    ``cross`` is complex where a filter is to be tried, its real part where only a gain is; it and
    ``rest`` are zeros where the part is all that is heard.
    """

    part: Floats
    rest: Floats
    cross: Complexes | Floats


@dataclass(frozen=True, slots=True)
class Moments:
    """``bands``: sums over time (times,) of each octave band, at most one a slice.

    ``a_part`` and ``a_heard`` (bands, moments): powers of the part and of all that is heard of A;
    ``own`` (bands, moments): whether a band can be heard by itself then.
    """

    bands: tuple[Sums, ...]
    a_part: Floats
    a_heard: Floats
    own: Flags


def with_gain(sums: Sums, gain: Complexes | Floats | float) -> Floats:
    """Power of all that is heard with the part times ``gain``, of a shape that fits ``sums``."""
    power: Floats = sums.part * np.abs(gain) ** 2 + sums.rest + 2.0 * (gain * sums.cross).real
    return np.maximum(power, 0.0)


def k_weighting_db(freqs_hz: Floats) -> Floats:
    """K-weighting in dB at each of ``freqs_hz`` (bins,), above 0 Hz (ITU-R BS.1770-5, annex 1)."""
    return response_db(Biquad(STAGE_1_B, STAGE_1_A), freqs_hz) + response_db(
        Biquad(STAGE_2_B, STAGE_2_A), freqs_hz
    )


@lru_cache(maxsize=4)
def k_weights(bins: int) -> Floats:
    """K-weighting as amplitude factors for the ``bins`` of a real FFT; 0 at 0 Hz; read only.

    Kept, since every sound of a loop asks for the same.
    """
    freqs_hz = np.linspace(0.0, RATE_HZ / 2.0, bins)
    weights = np.append(0.0, 10.0 ** (k_weighting_db(freqs_hz[1:]) / 20.0))
    weights.setflags(write=False)
    return weights


def moments_of(bands: tuple[Sums, ...], own: Flags) -> Moments:
    """Moments of a loop from its ``bands``; ``own`` is passed on."""
    count = own.shape[1]
    return Moments(
        bands=bands,
        a_part=moment_powers([band.part for band in bands], count),
        a_heard=moment_powers([with_gain(band, 1.0) for band in bands], count),
        own=own,
    )


def weighted_bins(samples: Samples) -> Complexes:
    """K-weighted spectrum (2, bins), scaled so that an envelope's square is a power."""
    bins = np.fft.rfft(samples.T, axis=-1)
    weighted: Complexes = bins * (k_weights(bins.shape[-1]) * np.sqrt(2.0) / len(samples))
    return weighted


def band_sums(part: Complexes, rest: Complexes | None, frames: int) -> tuple[Sums, ...]:
    """Sums over time of each octave band, from ``weighted_bins`` of a loop of ``frames``.

    The outer bands also take what lies beyond them.
    """
    hz_a_bin = RATE_HZ / frames
    edges = [1, *(round(band.high_hz / hz_a_bin) for band in BANDS[:-1]), part.shape[-1]]
    sums = []
    for first, last in itertools.pairwise(edges):
        last = max(last, first + 1)
        envelope = _envelope(part[:, first:last])
        times = min(slices_of(frames), envelope.shape[-1])
        part_power = means(_products(envelope, envelope).real, times)
        if rest is None:
            sums.append(Sums(part_power, np.zeros(times), np.zeros(times)))
            continue
        around = _envelope(rest[:, first:last])
        sums.append(
            Sums(
                part_power,
                means(_products(around, around).real, times),
                means(_products(envelope, around).real, times),
            )
        )
    return tuple(sums)


def moment_powers(bands: Sequence[Floats], moments: int) -> Floats:
    """Mean power (bands, moments) of what was kept (times,) of each band."""
    return np.stack([means(band, moments) for band in bands])


def moment_change_db(a_powers: Floats, b_powers: Floats, own: Flags, sounding: Flags) -> float:
    """Largest change in a band of ``own`` at each moment; what a tenth of ``sounding`` reach.

    All (bands, moments) but ``sounding``, (moments,).
    """
    if not sounding.any():
        return 0.0
    ratio = np.ones_like(a_powers)
    np.divide(b_powers, a_powers, out=ratio, where=own & (b_powers > 0.0) & (a_powers > 0.0))
    largest_db = np.abs(10.0 * np.log10(ratio)).max(axis=0)
    return float(np.quantile(largest_db[sounding], 0.9))


def sounding_moments(part_powers: Floats) -> Flags:
    """Moments at which the part (bands, moments) is within 30 dB of its loudest."""
    power = part_powers.sum(axis=0)
    sounding: Flags = power > power.max() * 10.0 ** (-SOFTEST_MOMENT_DB / 10.0)
    return sounding


def block_powers(moments: Floats) -> Floats:
    """Mean power of 400 ms every 100 ms round the loop, of that of moments (..., moments).

    A loudness meter's gate looks at such blocks.
    """
    blocks: Floats = np.mean([np.roll(moments, -step, axis=-1) for step in range(4)], axis=0)
    return blocks


def slices_of(frames: int) -> int:
    """How many slices a loop of so many frames has; the last may be short."""
    return -(-frames // SLICE_FRAMES)


def _envelope(bins: Complexes) -> Complexes:
    """A band's complex envelope (2, times): as many times as bins, up to a power of two."""
    times = 1 << (bins.shape[-1] - 1).bit_length()
    envelope: Complexes = np.fft.ifft(bins, n=times, axis=-1, norm="forward")
    return envelope


def _products(first: Complexes, second: Complexes) -> Complexes:
    products: Complexes = first[0] * second[0].conj() + first[1] * second[1].conj()
    return products


def means(values: Floats, count: int) -> Floats:
    """Means of ``values`` (times,) over ``count`` even stretches of them, all round the loop.

    Where there are fewer values than stretches, each holds until the next.
    """
    if count == len(values):
        return values
    if count > len(values):
        return values[np.arange(count) * len(values) // count]
    edges = np.arange(count + 1) * len(values) // count
    means: Floats = np.add.reduceat(values, edges[:-1]) / np.diff(edges)
    return means
