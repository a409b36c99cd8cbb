"""What the search for loops looks at: band powers every hundredth of a second, and onsets.

A recording of two hours comes to 58 MB of this, so it can be searched whole while its sound is read
in blocks and forgotten. Bands are half octaves, two to each of the ten octave bands, from 22.4 Hz
to 22.4 kHz; powers are summed over the channels, so that nothing cancels.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from exercises.bands import BANDS
from exercises.samples import Samples

HOPS_A_SECOND: Final = 100
HALF_BANDS: Final = 2 * len(BANDS)

_WINDOW_S: Final = 0.04
_BATCH: Final = 128  # rows at a time; their spectra fit into a processor's cache
_DEEPEST_DB: Final = 60.0


@dataclass(frozen=True, slots=True)
class Features:
    """Row i is centred on ``i * hop_s`` seconds: ``powers`` (rows, 20) float32, full scale 1.0."""

    powers: npt.NDArray[np.float32]
    hop_s: float

    @property
    def seconds(self) -> float:
        """How much sound was measured."""
        return len(self.powers) * self.hop_s


def measure(blocks: Iterable[Samples], rate_hz: int) -> Features:
    """Features of stereo sound that comes in blocks (frames, 2) at ``rate_hz``."""
    hop = round(rate_hz / HOPS_A_SECOND)
    size = 1 << int(np.ceil(np.log2(_WINDOW_S * rate_hz)))
    window = np.hanning(size + 1)[:-1].astype(np.float32)
    to_bands = _band_matrix(size, rate_hz) / np.float32(np.square(window).sum() * size)
    rows = [
        _band_powers(stretch, hop, window, to_bands) for stretch in _overlapping(blocks, hop, size)
    ]
    powers = np.concatenate(rows) if rows else np.empty((0, HALF_BANDS), np.float32)
    return Features(powers, hop / rate_hz)


def levels_db(features: Features) -> npt.NDArray[np.float32]:
    """Band levels in dB (rows, 20), no deeper than 60 dB below the average power of the whole."""
    mean = float(features.powers.sum(axis=1).mean()) if len(features.powers) else 0.0
    floor = np.float32(max(mean, 1e-12) * 10.0 ** (-_DEEPEST_DB / 10.0))
    levels = features.powers + floor
    np.log10(levels, out=levels)
    levels *= np.float32(10.0)
    return levels


def onsets(levels: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Onset strength (rows,) of ``levels`` (rows, bands): dB risen in 20 ms, less a second's mean.

    Spectral flux on logarithmic bands, as S. Dixon, "Onset detection revisited", DAFx 2006.
    """
    rise = np.zeros(len(levels), dtype=np.float32)
    rise[2:] = np.maximum(levels[2:] - levels[:-2], 0.0).mean(axis=1)
    if len(rise) < 3:
        return rise
    width = min(HOPS_A_SECOND, len(rise))
    average = np.convolve(rise, np.full(width, 1.0 / width, dtype=np.float32), mode="same")
    return np.asarray(np.maximum(rise - average, 0.0), dtype=np.float32)


def _overlapping(blocks: Iterable[Samples], hop: int, size: int) -> Iterator[npt.NDArray[Any]]:
    """The sound as L + iR, in stretches that hold whole rows: the last size - hop frames overlap.

    Half a window of silence goes before and after, so that row i is centred on frame i * hop.
    """
    kept = np.zeros(size // 2, dtype=np.complex64)
    for block in blocks:
        joined = np.concatenate([kept, block[:, 0] + np.complex64(1j) * block[:, 1]])
        rows = (len(joined) - size) // hop + 1
        if rows > 0:
            yield joined[: (rows - 1) * hop + size]
            joined = joined[rows * hop :]
        kept = joined
    joined = np.concatenate([kept, np.zeros(size // 2, dtype=np.complex64)])
    if len(joined) >= size:
        yield joined


def _band_powers(
    stretch: npt.NDArray[Any], hop: int, window: Samples, to_bands: Samples
) -> npt.NDArray[np.float32]:
    frames = np.lib.stride_tricks.sliding_window_view(stretch, len(window))[::hop]
    powers = np.empty((len(frames), HALF_BANDS), dtype=np.float32)
    for first in range(0, len(frames), _BATCH):
        spectra = np.fft.fft(frames[first : first + _BATCH] * window)
        # |X(k)|² + |X(-k)|² of L + iR is twice the power of L and R at bin k.
        squares = np.square(spectra.real) + np.square(spectra.imag)
        powers[first : first + _BATCH] = squares @ to_bands
    return powers


def _band_matrix(size: int, rate_hz: int) -> Samples:
    """(size, 20): which half band each bin, of either sign, belongs to.

    A band narrower than a bin takes the bin nearest its middle; one above Nyquist takes none.
    """
    freqs_hz = np.abs(np.fft.fftfreq(size, 1.0 / rate_hz))
    edges_hz = _half_band_edges_hz()
    matrix = np.zeros((size, HALF_BANDS), dtype=np.float32)
    for band, (low_hz, high_hz) in enumerate(itertools.pairwise(edges_hz)):
        inside = (freqs_hz >= low_hz) & (freqs_hz < high_hz)
        if not inside.any() and high_hz < rate_hz / 2:
            distance = np.abs(freqs_hz - np.sqrt(low_hz * high_hz))
            inside = distance == distance.min()
        matrix[inside, band] = 1.0
    return matrix


def _half_band_edges_hz() -> list[float]:
    edges = [edge for band in BANDS for edge in (band.low_hz, band.mid_hz)]
    return [*edges, BANDS[-1].high_hz]
