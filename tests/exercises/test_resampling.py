"""Sampling rates: against soxr (its "VHQ" quality, 28-bit precision), and on sines."""

from __future__ import annotations

import numpy as np
import pytest
import soxr

from exercises.resampling import resample
from exercises.samples import RATE_HZ

RATES_HZ = [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 44_101, 88_200, 96_000, 176_400, 192_000]


def _noise_below(share: float, rate_hz: int, seconds: float = 1.0) -> np.ndarray:
    """(frames, 2): noise up to ``share`` of the lower of the two Nyquist frequencies, rms 0.2."""
    random = np.random.RandomState(7)
    frames = round(seconds * rate_hz)
    spectrum = np.fft.rfft(random.randn(frames, 2), axis=0)
    freqs_hz = np.fft.rfftfreq(frames, 1 / rate_hz)
    spectrum[freqs_hz > share * min(rate_hz, RATE_HZ) / 2] = 0.0
    sound = np.fft.irfft(spectrum, frames, axis=0)
    return (0.2 * sound / sound.std()).astype(np.float32)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_agrees_with_soxr(rate_hz: int) -> None:
    """Within -80 dB of the sound over the band that both pass whole, 0.85 of Nyquist.

    Between that and Nyquist each filter falls in its own way. The ends, where the two assume
    different pasts, are left out.
    """
    sound = _noise_below(0.85, rate_hz)
    ours = resample(sound, rate_hz)
    theirs = soxr.resample(sound.astype(np.float64), rate_hz, RATE_HZ, quality="VHQ")
    assert abs(len(ours) - len(theirs)) <= 1
    inner = slice(4800, min(len(ours), len(theirs)) - 4800)
    difference = np.sqrt(np.mean(np.square(ours[inner] - theirs[inner])))
    assert difference < 0.2 * 10 ** (-80 / 20)


@pytest.mark.parametrize("rate_hz", [r for r in RATES_HZ if r > RATE_HZ])
def test_what_48_khz_cannot_hold_is_gone(rate_hz: int) -> None:
    """A sine at 26 kHz folds to 22 kHz unless it is filtered out: at least 90 dB down."""
    time_s = np.arange(rate_hz) / rate_hz
    sine = 0.5 * np.sin(2 * np.pi * 26_000 * time_s)
    heard = resample(np.column_stack([sine, sine]).astype(np.float32), rate_hz)
    assert np.abs(heard[4800:-4800]).max() < 0.5 * 10 ** (-85 / 20)


@pytest.mark.parametrize("rate_hz", [r for r in RATES_HZ if r < RATE_HZ])
def test_no_image_above_the_old_nyquist(rate_hz: int) -> None:
    """A sine at 0.9 of the old Nyquist leaves an image at 1.1 of it, at least 80 dB down."""
    freq_hz = round(0.45 * rate_hz)
    time_s = np.arange(2 * rate_hz) / rate_hz
    sine = 0.5 * np.sin(2 * np.pi * freq_hz * time_s)
    heard = resample(np.column_stack([sine, sine]).astype(np.float32), rate_hz)
    inner = heard[12_000 : 12_000 + RATE_HZ, 0] * np.blackman(RATE_HZ)
    levels_db = 20 * np.log10(np.abs(np.fft.rfft(inner)) + 1e-12)
    levels_db -= levels_db.max()
    assert abs(int(np.argmax(levels_db)) - freq_hz) <= 1
    assert levels_db[rate_hz // 2 + 20 :].max() < -80.0


def test_the_gain_is_one() -> None:
    """A sine at 997 Hz keeps its level to 0.001 dB, and is not shifted in time."""
    time_s = np.arange(44_100) / 44_100
    sine = np.sin(2 * np.pi * 997 * time_s).astype(np.float32)
    heard = resample(np.column_stack([sine, sine]), 44_100)
    expected = np.sin(2 * np.pi * 997 * np.arange(RATE_HZ) / RATE_HZ)
    np.testing.assert_allclose(heard[4800:-4800, 0], expected[4800:-4800], atol=1e-4)


def test_48_khz_is_left_alone() -> None:
    sound = _noise_below(1.0, RATE_HZ)
    np.testing.assert_array_equal(resample(sound, RATE_HZ), sound)
