"""True peak of a loop: the highest value between its samples, as ITU-R BS.1770-5 annex 2 asks.

Four-fold oversampling by a windowed-sinc filter, round the circle. Only the few places where the
interpolated signal could exceed the highest sample are oversampled: no value between samples
can exceed the samples around it by more than the filter's sum of magnitudes, so the rest need
not be looked at and the result is the same.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from exercises.samples import Floats, Samples

OVERSAMPLING: Final = 4
_HALF_TAPS: Final = 12
_BLOCK_FRAMES: Final = 16
_BATCH: Final = 512


def _phases() -> Floats:
    """Interpolation filters (3, 24) for a quarter, half and three quarters of a sample ahead."""
    offsets = np.arange(-_HALF_TAPS + 1, _HALF_TAPS + 1)
    rows = []
    for phase in range(1, OVERSAMPLING):
        distance = offsets - phase / OVERSAMPLING
        window = np.i0(8.0 * np.sqrt(np.maximum(0.0, 1.0 - (distance / _HALF_TAPS) ** 2))) / np.i0(
            8.0
        )
        row = np.sinc(distance) * window
        rows.append(row / row.sum())
    return np.array(rows)


_FILTERS: Final = _phases().T.astype(np.float32)
_GROWTH: Final = float(np.abs(_FILTERS).sum(axis=0).max())


def true_peak(samples: Samples) -> float:
    """Highest absolute value (full scale 1.0) between and at the samples of a loop (frames, 2)."""
    return max(_channel_peak(np.ascontiguousarray(samples[:, channel])) for channel in (0, 1))


def _channel_peak(channel: Samples) -> float:
    # Whole blocks over a little more than the circle, so that each has its two neighbours.
    blocks = -(-len(channel) // _BLOCK_FRAMES) + 2
    ring = np.abs(np.resize(channel, blocks * _BLOCK_FRAMES))
    tops = np.maximum.reduceat(ring, np.arange(0, len(ring), _BLOCK_FRAMES))
    highest = float(tops.max())
    if highest == 0.0:
        return 0.0
    # A value in a block depends on samples of the blocks beside it too.
    around = np.maximum(np.maximum(tops[:-2], tops[2:]), tops[1:-1])
    loudest_first = np.argsort(-around, kind="stable")
    for start in range(0, len(around), _BATCH):
        batch = loudest_first[start : start + _BATCH]
        batch = batch[around[batch] * _GROWTH > highest]
        if len(batch) == 0:
            break
        highest = max(highest, _peak_between(channel, batch + 1))
    return highest


def _peak_between(channel: Samples, blocks: npt.NDArray[np.intp]) -> float:
    reach = np.arange(-_HALF_TAPS + 1, _BLOCK_FRAMES + _HALF_TAPS)
    taken = channel[(blocks[:, None] * _BLOCK_FRAMES + reach) % len(channel)]
    windows = np.lib.stride_tricks.sliding_window_view(taken, 2 * _HALF_TAPS, axis=1)
    return float(np.abs(windows @ _FILTERS).max())
