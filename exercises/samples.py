"""What an array of sound is, everywhere in this program.

Shape ``(frames, 2)``, float32, 48 kHz, full scale 1.0. Arrays are best laid out in Fortran order
(each channel contiguous in time), since every filter runs along time; nothing depends on it.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt

RATE_HZ: Final = 48_000

Samples = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]


def as_samples(array: npt.NDArray[Any]) -> Samples:
    """Float32 copy or view of ``array`` (frames, channels), contiguous along time."""
    return np.asfortranarray(array, dtype=np.float32)


def db_to_gain(gain_db: float) -> float:
    """Amplitude factor of a gain in dB."""
    return float(10.0 ** (gain_db / 20.0))


def gain_to_db(gain: float) -> float:
    """Gain in dB of an amplitude factor; minus infinity for zero."""
    return float(20.0 * np.log10(gain)) if gain > 0.0 else float("-inf")
