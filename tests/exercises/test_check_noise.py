"""Noise to set a level by and bursts to check an output with: level, band, count and safety."""

from __future__ import annotations

import numpy as np
import pytest

from exercises.bands import BANDS
from exercises.check_noise import (
    MOST_BURSTS,
    TRAIN_S,
    band_level_db,
    burst_train,
    level_noise,
)
from exercises.loudness import loudness_lufs
from exercises.recorded_music import OCTAVE_MEDIAN_DB
from exercises.samples import RATE_HZ, Floats, Samples, gain_to_db
from exercises.true_peak import true_peak
from tests.meters import ebur128_lufs

BAND = pytest.mark.parametrize("band", range(len(BANDS)))


def octave_powers(samples: Samples) -> Floats:
    """Power in each octave band of IEC 61260-1, by one FFT."""
    bins = np.abs(np.fft.rfft(samples[:, 0].astype(np.float64))) ** 2
    freqs_hz = np.fft.rfftfreq(len(samples), 1.0 / RATE_HZ)
    return np.array(
        [bins[(freqs_hz >= band.low_hz) & (freqs_hz < band.high_hz)].sum() for band in BANDS]
    )


def test_level_noise_is_as_loud_as_the_music_and_pink() -> None:
    noise = level_noise()
    assert ebur128_lufs(noise) == pytest.approx(-23.0, abs=0.1)
    assert gain_to_db(true_peak(noise)) <= -1.0
    powers_db = 10.0 * np.log10(octave_powers(noise)[2:9])
    assert float(np.ptp(powers_db)) < 0.5  # pink: equal power in every octave band


@BAND
@pytest.mark.parametrize("loud", [False, True])
def test_bursts_stay_in_their_band_and_under_the_music(band: int, loud: bool) -> None:
    train = burst_train(band, 3, loud=loud, seed=1)
    powers = octave_powers(train)
    others = np.delete(powers, band)
    # A loudspeaker without this band must not give the burst away by another one.
    assert 10.0 * np.log10(others.sum() / powers[band]) < -30.0
    assert loudness_lufs(train) <= -23.0 + 0.5
    assert gain_to_db(true_peak(train)) <= -1.0


@BAND
def test_loud_is_louder_than_soft_and_soft_is_the_band_in_music(band: int) -> None:
    assert band_level_db(band, loud=True) > band_level_db(band, loud=False)
    assert band_level_db(band, loud=False) == OCTAVE_MEDIAN_DB[band]
    powers = [float(np.mean(burst_train(band, 3, loud=loud, seed=2) ** 2)) for loud in (0, 1)]
    step_db = 10.0 * np.log10(powers[1] / powers[0])
    expected_db = band_level_db(band, loud=True) - band_level_db(band, loud=False)
    assert step_db == pytest.approx(expected_db, abs=1e-3)


@BAND
@pytest.mark.parametrize("count", range(MOST_BURSTS + 1))
def test_as_many_bursts_as_asked_in_the_same_time(band: int, count: int) -> None:
    train = burst_train(band, count, loud=True, seed=3)
    assert len(train) == round(TRAIN_S * RATE_HZ)
    sounding = np.abs(train).max(axis=1) > 0.0
    # Gaps between bursts are at least 0.2 s of true silence; zero crossings within are short.
    pieces = np.convolve(sounding, np.ones(2400), "same") > 0.0
    starts = np.flatnonzero(np.diff(np.concatenate([[0], pieces.astype(int)])) == 1)
    assert len(starts) == count
    if count:
        assert np.argmax(sounding) / RATE_HZ >= 0.75  # after the first fade-in of a session


def test_what_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="no 4 bursts"):
        burst_train(0, 4, loud=True, seed=1)
    with pytest.raises(ValueError, match="of band 10"):
        burst_train(10, 1, loud=True, seed=1)
