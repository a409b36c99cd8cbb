"""Noise to set a level by, and bursts of it to find out which bands an output reproduces.

Arrays are (frames, 2) float32 at 48 kHz, the same in both channels, never louder than the music
of a drill (-23 LUFS) and under -1 dBTP. The bursts of a band are as strong as that band is in
recorded music (``recorded_music``): *soft* at its median, *loud* 6 dB over its 90th percentile,
which is what too much of it comes to, though never stronger than the whole mix.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from exercises.bands import BANDS
from exercises.loudness import REFERENCE_LUFS, loudness_lufs
from exercises.question import HIGHEST_PEAK_DBTP
from exercises.recorded_music import OCTAVE_HIGH_DB, OCTAVE_MEDIAN_DB
from exercises.samples import RATE_HZ, Floats, Samples, as_samples, db_to_gain, gain_to_db
from exercises.true_peak import true_peak

LEVEL_NOISE_S: Final = 8.0
TRAIN_S: Final = 3.5
MOST_BURSTS: Final = 3
_TOO_MUCH_DB: Final = 6.0
_BURST_S, _SLOT_S, _RAMP_S = 0.55, 0.9, 0.12
# The very first sound of a session fades in over 0.75 s; no burst may lie in that.
_LEAD_S: Final = 0.8
_PINK_HZ: Final = (50.0, 12_000.0)
# A band's noise keeps this far inside its edges, in octaves, so that bursts do not reach out of it.
_INSIDE_OCTAVES: Final = 0.15
# Per channel, for -23 LUFS with both alike where the K-weighting is flat: BS.1770's -0.691 dB.
_WHOLE_DBFS: Final = REFERENCE_LUFS + 0.691 - 10.0 * float(np.log10(2.0))


def level_noise() -> Samples:
    """Eight seconds of pink noise, 50 Hz to 12 kHz, at -23 LUFS, that repeat without a seam."""
    sound = _noise(round(LEVEL_NOISE_S * RATE_HZ), *_PINK_HZ, seed=1)
    samples = _both(sound)
    gain_db = min(
        REFERENCE_LUFS - loudness_lufs(samples),
        HIGHEST_PEAK_DBTP - gain_to_db(true_peak(samples)),
    )
    return as_samples(samples * np.float32(db_to_gain(gain_db)))


def band_level_db(band_index: int, *, loud: bool) -> float:
    """How strong a band's bursts are, dB re the whole of a mix."""
    if loud:
        return min(0.0, OCTAVE_HIGH_DB[band_index] + _TOO_MUCH_DB)
    return float(OCTAVE_MEDIAN_DB[band_index])


def burst_train(band_index: int, bursts: int, *, loud: bool, seed: int) -> Samples:
    """Three and a half seconds with 0 to 3 bursts of a band's noise, whichever the count.

    Raises:
        ValueError: there is no such band or count.
    """
    if not 0 <= band_index < len(BANDS) or not 0 <= bursts <= MOST_BURSTS:
        raise ValueError(f"no {bursts} bursts of band {band_index}")
    frames = round(TRAIN_S * RATE_HZ)
    if bursts == 0:
        return as_samples(np.zeros((frames, 2), dtype=np.float32))
    band = BANDS[band_index]
    inside = 2.0**_INSIDE_OCTAVES
    sound = _noise(frames, band.low_hz * inside, band.high_hz / inside, seed)
    level_dbfs = _WHOLE_DBFS + band_level_db(band_index, loud=loud)
    samples = _both(sound * db_to_gain(level_dbfs) * _gate(frames, bursts))
    over_db = gain_to_db(true_peak(samples)) - HIGHEST_PEAK_DBTP
    return as_samples(samples * np.float32(db_to_gain(-max(0.0, over_db))))


def _gate(frames: int, bursts: int) -> Floats:
    """Raised-cosine bursts, the first after a moment's silence."""
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.linspace(0.0, 1.0, round(_RAMP_S * RATE_HZ)))
    burst = np.ones(round(_BURST_S * RATE_HZ))
    burst[: len(ramp)], burst[-len(ramp) :] = ramp, ramp[::-1]
    gate = np.zeros(frames)
    for number in range(bursts):
        start = round((_LEAD_S + number * _SLOT_S) * RATE_HZ)
        gate[start : start + len(burst)] = burst
    return gate


def _noise(frames: int, low_hz: float, high_hz: float, seed: int) -> Floats:
    """Pink noise between two frequencies, one period of ``frames``, of rms 1; (frames,)."""
    freqs_hz = np.fft.rfftfreq(frames, 1.0 / RATE_HZ)
    inside = (freqs_hz >= low_hz) & (freqs_hz <= high_hz)
    size = np.where(inside, 1.0 / np.sqrt(np.maximum(freqs_hz, 1.0)), 0.0)
    phase = np.random.RandomState(seed).random_sample(len(freqs_hz))
    sound = np.fft.irfft(size * np.exp(2j * np.pi * phase), frames)
    unit: Floats = sound / np.sqrt(np.mean(sound**2))
    return unit


def _both(channel: Floats) -> Samples:
    return as_samples(np.stack([channel, channel], axis=1))
