"""A learner's ear, with nothing but what was played: it counts bursts, compares A and B, names.

It knows neither loops nor questions. Sounds are (frames, 2) float32 at 48 kHz; powers in dB.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyloudnorm
from scipy.signal import butter, fftconvolve, sosfilt

from exercises.samples import RATE_HZ, Samples

Curve = npt.NDArray[np.float64]

LISTEN_S: Final = 17.5
"""Longer than the longest loop there is, and a probe."""
FREQS_HZ: Final = 25.0 * 2.0 ** (np.arange(24 * 9 + 12) / 24.0)
_PROBE_S: Final = 1.0
_SHORTEST_LOOP_S: Final = 4.0
_SAME: Final = 0.999
_SIXTH: Final = 2.0 ** (1.0 / 6.0)
_QUIETEST_DB: Final = -80.0


@dataclass(frozen=True, slots=True)
class Told:
    """What B has too much or too little of: where, and how many dB more than A (or less)."""

    freq_hz: float
    more_db: float

    @property
    def kind(self) -> str:
        """In the words of a question."""
        return "too much" if self.more_db > 0.0 else "too little"


# Bursts ---------------------------------------------------------------------------------------

_WINDOW: Final = RATE_HZ // 20
_SLOT_S: Final = 0.9
SLOTS: Final = 3


@dataclass(frozen=True, slots=True)
class SmallSpeaker:
    """An output that brings nothing below ``lowest_hz``, and an ear that needs ``least`` (rms)."""

    lowest_hz: float
    least: float

    def bursts_in(self, sound: Samples) -> int:
        """How many bursts arrive, 0.9 s from one's start to the next's."""
        sos: Any = butter(8, self.lowest_hz, "highpass", fs=RATE_HZ, output="sos")
        arrived = sosfilt(sos, sound[:, 0].astype(np.float64))
        pieces = arrived[: len(arrived) // _WINDOW * _WINDOW].reshape(-1, _WINDOW)
        heard = np.flatnonzero(np.sqrt((pieces**2).mean(axis=1)) > self.least)
        if not len(heard):
            return 0
        slots = {int((at - heard[0]) * _WINDOW / RATE_HZ / _SLOT_S + 0.25) for at in heard}
        return len(slots)


# A and B --------------------------------------------------------------------------------------


def round_frames(sound: Samples) -> int:
    """After how many frames a loop comes round: the first place that is what it began with."""
    one = sound[:, 0].astype(np.float64)
    probe = one[: round(_PROBE_S * RATE_HZ)]
    likeness = fftconvolve(one, probe[::-1], "valid")
    running = np.concatenate([[0.0], np.cumsum(one**2)])
    power = running[len(probe) :] - running[: -len(probe)]
    share = likeness / np.sqrt(np.maximum(power * power[0], 1e-30))
    share[: round(_SHORTEST_LOOP_S * RATE_HZ)] = 0.0
    again = np.flatnonzero(share > _SAME)
    assert len(again), "no loop is heard"
    best: int = again[0] + int(np.argmax(share[again[0] : again[0] + 100]))
    return best


def level_lufs(whole: Samples) -> float:
    """Integrated loudness by pyloudnorm (BS.1770), of a sound that may be far down."""
    up = 0.5 / float(np.abs(whole).max())
    loud: float = pyloudnorm.Meter(RATE_HZ).integrated_loudness(whole * up)
    return loud - 20.0 * float(np.log10(up))


def told_apart(a: Samples, b: Samples) -> Told:
    """Where B differs most from A, their loudness aside; from one round of each."""
    power_a, power_b = _power(a), _power(b)
    # Where A holds next to nothing the comparison tells nothing.
    holds = 10.0 * np.log10(power_a / power_a.max()) > _QUIETEST_DB
    more_db = 10.0 * np.log10(power_b / power_a)
    more_db = np.where(holds, more_db - np.median(more_db[holds]), 0.0)
    at = int(np.argmax(np.abs(more_db)))
    return Told(float(FREQS_HZ[at]), float(more_db[at]))


def _power(sound: Samples) -> Curve:
    """Power in third octaves round ``FREQS_HZ``, of a sound that comes round; (len(FREQS_HZ),)."""
    bins = (np.abs(np.fft.rfft(sound.astype(np.float64), axis=0)) ** 2).sum(axis=1)
    running = np.concatenate([[0.0], np.cumsum(bins)])
    per_hz = len(sound) / RATE_HZ
    low, high = (
        np.interp(edge * per_hz, np.arange(len(running)), running)
        for edge in (FREQS_HZ / _SIXTH, FREQS_HZ * _SIXTH)
    )
    return np.maximum(high - low, 1e-20)
