"""What a loop measures like: power by third octave, level over time, and differences of both.

Third-octave mid-bands are exact base-10 ones (IEC 61260-1:2014). A loop is a whole period, so
one FFT of all of it has no window and no leakage at its seam.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.samples import RATE_HZ, Floats, Samples

_BAND_FLOOR_DB: Final = -60.0
_SLICE_FLOOR_DB: Final = -30.0
SLICE_S: Final = 0.1


@dataclass(frozen=True, slots=True)
class Difference:
    """How one sound differs from another, in dB, where the other has something to differ from.

    ``third_octave_db`` (30,) by third octave from 25 Hz to 20 kHz; ``slice_db`` by slices of about
    100 ms along the loop; ``most_db`` the largest of all, without its sign. Bands more than 60 dB
    and slices more than 30 dB under the strongest count as 0.
    """

    third_octave_db: Floats
    slice_db: Floats

    @property
    def most_db(self) -> float:
        """The largest difference in any third octave or at any moment, in dB."""
        return float(max(np.abs(self.third_octave_db).max(), np.abs(self.slice_db).max()))


def third_octave_powers(samples: Samples) -> Floats:
    """Mean power in each of the thirty third octaves, both channels together; (30,) float64."""
    bins = np.fft.rfft(samples, axis=0)
    power = np.einsum("nc,nc->n", bins.real, bins.real) + np.einsum(
        "nc,nc->n", bins.imag, bins.imag
    )
    edges_hz = np.append(np.array(THIRD_OCTAVE_MID_HZ), THIRD_OCTAVE_MID_HZ[-1] * 10**0.1)
    edges = np.ceil(edges_hz * 10**-0.05 * len(samples) / RATE_HZ).astype(np.intp)
    # In float64: a running sum in float32 loses bands 60 dB under the strongest.
    sums = np.concatenate([[0.0], np.cumsum(power, dtype=np.float64)])
    edges = np.minimum(edges, len(power))
    powers: Floats = 2.0 * np.diff(sums[edges]) / float(len(samples)) ** 2
    return powers


def slice_powers(samples: Samples) -> Floats:
    """Mean power (slices,) of each slice of about 100 ms; float64."""
    slices = max(1, round(len(samples) / (SLICE_S * RATE_HZ)))
    edges = np.linspace(0, len(samples), slices + 1).round().astype(np.intp)
    power = np.einsum("nc,nc->n", samples, samples, dtype=np.float64)
    powers: Floats = np.add.reduceat(power, edges[:-1]) / np.diff(edges)
    return powers


def difference(sound: Samples, reference: Samples) -> Difference:
    """How ``sound`` differs from ``reference``, both (frames, 2) and of one length."""
    return Difference(
        _ratio_db(third_octave_powers(sound), third_octave_powers(reference), _BAND_FLOOR_DB),
        _ratio_db(slice_powers(sound), slice_powers(reference), _SLICE_FLOOR_DB),
    )


def _ratio_db(powers: Floats, reference: Floats, floor_db: float) -> Floats:
    floor = float(reference.max()) * 10.0 ** (floor_db / 10.0) + 1e-20
    counted = reference > floor
    ratio = np.where(counted, np.maximum(powers, 1e-20) / np.maximum(reference, 1e-20), 1.0)
    decibels: Floats = 10.0 * np.log10(ratio)
    return decibels
