"""True peak against EBU Tech 3341, ITU-R BS.1770-5 annex 2, libebur128 and scipy's resampler."""

from __future__ import annotations

import math

import numpy as np
import pytest

from exercises.samples import RATE_HZ, as_samples
from exercises.true_peak import true_peak
from tests.meters import ebur128_dbtp, resampled_dbtp
from tests.reference_rows import row, rows
from tests.synthetic_loops import bursts, frames_of, noise, small_band, tone


def dbtp(samples):
    return 20.0 * math.log10(true_peak(samples))


def faded(signal):
    """10 ms in and out, as EBU Tech 3341 asks."""
    ramp = np.linspace(0.0, 1.0, frames_of(0.01))
    signal = np.array(signal)
    signal[: len(ramp)] *= ramp
    signal[-len(ramp) :] *= ramp[::-1]
    return as_samples(np.stack([signal, signal], axis=1))


def steady_sine(inputs):
    divisor = int(inputs["freq"].removeprefix("fs/"))
    angle = 2.0 * np.pi * np.arange(RATE_HZ) / divisor + np.deg2rad(inputs["phase_deg"])
    return faded(inputs["amplitude_ffs"] * np.sin(angle))


def one_louder_period(offset):
    """One period at a quarter of the rate in a tone at a sixth of it, made at four times it."""
    from scipy.signal import firwin, oaconvolve

    quiet = 0.5 * np.sin(2.0 * np.pi * np.arange(24 * 1_000) / 24)
    loud = np.sin(2.0 * np.pi * np.arange(16) / 16)
    made = np.concatenate([quiet, loud, quiet])
    low_passed = oaconvolve(made, firwin(1_001, 0.25, window=("kaiser", 8.0)), mode="same")
    return faded(low_passed[offset::4])


def signal_of(known):
    number = int(known["id"].removeprefix("tech3341."))
    return steady_sine(known["inputs"]) if number < 20 else one_louder_period(number - 20)


@pytest.mark.parametrize("known", rows("true_peak", "tech3341."))
def test_ebu_tech_3341(known):
    signal, allowed = signal_of(known), known["tolerance"]
    ours = dbtp(signal)
    assert known["expected"] - allowed["minus"] <= ours <= known["expected"] + allowed["plus"]
    assert ours == pytest.approx(ebur128_dbtp(signal), abs=0.1)


def test_a_quarter_rate_sine_at_45_degrees_peaks_3_db_over_its_samples():
    """The worked case of BS.1770-5 annex 2: samples at 0.7071 of the peak."""
    sine = tone(4_800, 12_000.0, -6.0, phase_deg=45.0)
    assert dbtp(sine) - 20.0 * math.log10(np.abs(sine).max()) == pytest.approx(3.0103, abs=0.01)


@pytest.mark.parametrize("freq_over_rate", [0.05, 0.1, 0.2, 0.3, 0.4])
def test_reads_low_by_no_more_than_four_fold_oversampling_must(freq_over_rate):
    """BS.1770-5 annex 2, attachment 1: at most 20 log10 cos(pi f / 4), f re the sampling rate."""
    known = row("true_peak", "bs1770.tp.under.4")
    assert 20.0 * math.log10(math.cos(math.pi * 0.45 / 4.0)) == pytest.approx(
        known["expected"][0], abs=known["tolerance"]
    )
    most_db = 20.0 * math.log10(math.cos(math.pi * freq_over_rate / 4.0))
    for phase_deg in range(0, 90, 5):
        read = dbtp(tone(4_000, freq_over_rate * RATE_HZ, -3.0, phase_deg)) + 3.0
        # 0.02 dB for the ripple of a filter of 24 taps.
        assert most_db - 0.02 <= read <= 0.02


def every_place_oversampled(samples):
    """The same interpolation at every place, by circular convolution: no short cut."""
    from exercises.true_peak import _FILTERS, _HALF_TAPS

    highest = float(np.abs(samples).max())
    for taps in _FILTERS.T:
        for channel in samples.T.astype(np.float64):
            kernel = np.zeros(len(channel))
            np.add.at(kernel, (_HALF_TAPS - 1 - np.arange(len(taps))) % len(channel), taps)
            between = np.fft.ifft(np.fft.fft(channel) * np.fft.fft(kernel)).real
            highest = max(highest, float(np.abs(between).max()))
    return highest


MATERIAL = {
    "noise": noise(frames_of(0.5), 1, pink=False),
    "pink noise of an odd length": noise(frames_of(0.5) + 3, 2),
    "bursts": bursts(frames_of(1.0), 3),
    "band": small_band(2.0).mix(),
}
MATERIALS = pytest.mark.parametrize("samples", list(MATERIAL.values()), ids=list(MATERIAL))


@MATERIALS
def test_looking_at_few_places_finds_the_peak_of_all(samples):
    assert true_peak(samples) == pytest.approx(every_place_oversampled(samples), rel=1e-5)


@MATERIALS
def test_other_oversamplers_agree(samples):
    """libebur128 and scipy's resampler; filters differ near half the rate, most in white noise."""
    assert dbtp(samples) == pytest.approx(ebur128_dbtp(np.tile(samples, (2, 1))), abs=0.2)
    assert dbtp(samples) == pytest.approx(resampled_dbtp(samples), abs=0.2)


@pytest.mark.parametrize("frames", [4_800, 4_801, 4_805, 4_811, 4_815])
@pytest.mark.parametrize("side", [0, 1])
def test_a_peak_between_the_loops_end_and_its_start_is_found(frames, side):
    """A loop is a circle: a pair of equal samples peaks between them, wherever they lie."""
    pair = np.zeros((frames, 2), dtype=np.float32)
    pair[[2_000, 2_001], side] = 0.5
    inside = true_peak(pair)
    assert inside > 0.6
    for start in (*range(-14, 15), 7):
        turned = as_samples(np.roll(pair, start - 2_001, axis=0))
        assert true_peak(turned) == pytest.approx(inside, rel=1e-6), start


@pytest.mark.parametrize("frames", [4_801, 4_805, 4_810])
def test_every_rotation_of_a_noisy_loop_has_the_same_peak(frames):
    loop = noise(frames, 7, pink=False)
    peak_at = int(np.abs(loop).max(axis=1).argmax())
    read = [true_peak(as_samples(np.roll(loop, s - peak_at, axis=0))) for s in range(-20, 20)]
    assert np.ptp(read) < 1e-6 * read[0]


@pytest.mark.parametrize("frames", [1, 5, 23, 40])
def test_very_short_loops(frames):
    loop = np.full((frames, 2), 0.25, dtype=np.float32)
    assert true_peak(loop) == pytest.approx(0.25, rel=1e-5)


def test_silence_peaks_at_nothing():
    assert true_peak(np.zeros((4_800, 2), dtype=np.float32)) == 0.0


def test_the_louder_channel_and_the_negative_side_count():
    loop = np.zeros((4_800, 2), dtype=np.float32)
    loop[:, 0] = 0.1
    loop[:, 1] = -0.8
    assert true_peak(loop) == pytest.approx(0.8, rel=1e-5)
