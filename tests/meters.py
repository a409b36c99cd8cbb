"""Other people's meters, for tests to hold ours against (all in dB re full scale, or LUFS).

libebur128 through pyebur128; four-fold resampling by scipy.signal.resample_poly.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from exercises.samples import RATE_HZ, Samples


def ebur128_state(mode: Any, interleaved: npt.NDArray[Any]) -> Any:
    """libebur128 after hearing (frames * 2,) interleaved stereo samples, one pass, from rest."""
    import pyebur128

    state = pyebur128.R128State(2, RATE_HZ, mode)
    state.add_frames(interleaved, len(interleaved) // 2)
    return state


def ebur128_lufs(samples: Samples) -> float:
    """Integrated loudness by libebur128."""
    import pyebur128

    state = ebur128_state(pyebur128.MeasurementMode.MODE_I, np.ravel(samples))
    return float(pyebur128.get_loudness_global(state))


def ebur128_dbtp(samples: Samples) -> float:
    """True peak by libebur128 (four-fold, 49 taps)."""
    import pyebur128

    state = ebur128_state(pyebur128.MeasurementMode.MODE_TRUE_PEAK, np.ravel(samples))
    return 20.0 * float(np.log10(max(pyebur128.get_true_peak(state, side) for side in (0, 1))))


def resampled_dbtp(samples: Samples) -> float:
    """True peak of a loop by scipy's polyphase resampler, four-fold, the loop's ends joined."""
    from scipy.signal import resample_poly

    around = np.arange(-128, len(samples) + 128) % len(samples)
    between = resample_poly(samples[around].astype(np.float64), 4, 1, axis=0)[256:-256]
    return 20.0 * float(np.log10(np.abs(between).max()))
