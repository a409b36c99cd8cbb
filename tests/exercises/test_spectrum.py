"""Third-octave powers and slices against scipy.signal, on tones and on pink noise."""

from __future__ import annotations

import math

import numpy as np
import pytest

from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.compressor import sample_gains
from exercises.equaliser import filter_loop, peaking, response_db
from exercises.samples import RATE_HZ, as_samples, db_to_gain
from exercises.spectrum import difference, slice_powers, third_octave_powers
from tests.synthetic_loops import frames_of, noise, tone

HALF_BAND = 10.0**0.05


def in_db(power):
    return 10.0 * np.log10(power)


@pytest.mark.parametrize("band", range(30), ids=lambda k: f"{THIRD_OCTAVE_MID_HZ[k]:.0f}")
def test_a_tones_power_lies_in_its_band_alone(band):
    """A sine of amplitude 0.5 has power 0.125 in each channel."""
    powers = third_octave_powers(tone(frames_of(2.0), THIRD_OCTAVE_MID_HZ[band], -6.0206))
    assert powers[band] == pytest.approx(0.25, rel=1e-4)
    assert np.delete(powers, band).max() < 1e-10


@pytest.mark.parametrize("k", [3, 12, 20, 28])
def test_band_edges_are_those_of_iec_61260(k):
    """IEC 61260-1:2014: edges a factor of 10^(1/20) from the exact mid-band."""
    edge_hz = THIRD_OCTAVE_MID_HZ[k] * HALF_BAND
    below = third_octave_powers(tone(frames_of(4.0), edge_hz - 0.5, -6.0))
    above = third_octave_powers(tone(frames_of(4.0), edge_hz + 0.5, -6.0))
    assert (int(below.argmax()), int(above.argmax())) == (k, k + 1)


def test_all_bands_together_are_the_power_between_their_outer_edges():
    """Parseval's theorem."""
    inside = noise(frames_of(2.0), 1)
    edges_hz = THIRD_OCTAVE_MID_HZ[0] / HALF_BAND, THIRD_OCTAVE_MID_HZ[-1] * HALF_BAND
    spectrum = np.fft.rfft(inside.astype(np.float64), axis=0)
    freqs_hz = np.fft.rfftfreq(len(inside), 1.0 / RATE_HZ)
    spectrum[(freqs_hz < edges_hz[0]) | (freqs_hz >= edges_hz[1])] = 0.0
    kept = np.fft.irfft(spectrum, len(inside), axis=0)
    assert third_octave_powers(inside).sum() == pytest.approx(
        float((kept**2).sum(axis=1).mean()), rel=1e-5
    )


@pytest.mark.parametrize("frames", [96_000, 96_001, 95_989])
def test_scipys_periodogram_summed_between_the_edges(frames):
    from scipy.signal import periodogram

    loop = noise(frames, 2)
    freqs_hz, power = periodogram(
        loop.astype(np.float64), RATE_HZ, window="boxcar", detrend=False, scaling="spectrum", axis=0
    )
    ours = third_octave_powers(loop)
    for k, mid_hz in enumerate(THIRD_OCTAVE_MID_HZ):
        inside = (freqs_hz >= mid_hz / HALF_BAND) & (freqs_hz < mid_hz * HALF_BAND)
        assert in_db(ours[k]) == pytest.approx(in_db(power[inside].sum()), abs=1e-3)


def test_pink_noise_is_level_across_third_octaves():
    """Equal power in equal proportions of frequency; a low band holds few lines, so 0.4 dB."""
    levels_db = in_db(third_octave_powers(noise(frames_of(8.0), 3)))[:-1]
    assert np.ptp(levels_db[:3]) < 0.6
    assert np.ptp(levels_db[3:]) < 0.3


@pytest.mark.parametrize("k", [6, 12, 18, 24])
def test_a_third_octave_filter_reads_the_same_of_pink_noise(k):
    """scipy.signal.butter, sixth order: the filters that a class 1 analyser has."""
    from scipy.signal import butter, sosfilt

    loop = noise(frames_of(4.0), 4)
    mid_hz = THIRD_OCTAVE_MID_HZ[k]
    edges_hz = [mid_hz / HALF_BAND, mid_hz * HALF_BAND]
    section = butter(6, edges_hz, "bandpass", fs=RATE_HZ, output="sos")
    twice = sosfilt(section, np.tile(loop, (2, 1)).astype(np.float64), axis=0)
    theirs = (twice[len(loop) :] ** 2).sum(axis=1).mean()
    # Its skirts take in about as much outside the edges as they lose within.
    assert in_db(third_octave_powers(loop)[k]) == pytest.approx(in_db(theirs), abs=0.25)


@pytest.mark.parametrize("seconds", [2.0, 8.0])
def test_a_band_59_db_under_a_loud_one_is_read_to_a_hundredth_of_a_db(seconds):
    frames = frames_of(seconds)
    rumble = noise(frames, 5, rms_dbfs=-10.0)
    spectrum = np.fft.rfft(rumble.astype(np.float64), axis=0)
    spectrum[np.fft.rfftfreq(frames, 1.0 / RATE_HZ) > 5_000.0] = 0.0
    loop = as_samples(np.fft.irfft(spectrum, frames, axis=0) + tone(frames, 10_000.0, -69.0))
    assert in_db(third_octave_powers(loop)[26]) == pytest.approx(-69.0, abs=0.01)


def test_slices_are_the_mean_power_of_tenths_of_a_second():
    frames = frames_of(1.0)
    loop = as_samples(
        tone(frames, 1000.0, -6.0) * np.where(np.arange(frames) < 24_000, 1, 0.1)[:, None]
    )
    powers = slice_powers(loop)
    assert len(powers) == 10
    loud = db_to_gain(-6.0) ** 2
    np.testing.assert_allclose(powers, [loud] * 5 + [0.01 * loud] * 5, rtol=1e-4)


def test_slices_of_an_odd_length_cover_it_all():
    loop = noise(frames_of(1.03) + 1, 6)
    powers = slice_powers(loop)
    assert len(powers) == 10
    assert powers.mean() == pytest.approx(float((loop**2).sum(axis=1).mean()), rel=1e-3)


@pytest.mark.parametrize("gain_db", [6.0, -6.0])
@pytest.mark.parametrize("freq_hz", [63.1, 200.0, 3162.0])
def test_the_difference_a_filter_makes_is_its_response(freq_hz, gain_db):
    loop = noise(frames_of(4.0), 7)
    made = peaking(freq_hz, gain_db, 1.0)
    found_db = difference(filter_loop(loop, made), loop).third_octave_db
    at_middles_db = response_db(made, np.array(THIRD_OCTAVE_MID_HZ))
    # A band averages the curve's bend within it.
    assert np.abs(found_db - at_middles_db)[:-1].max() < 0.3
    assert abs(THIRD_OCTAVE_MID_HZ[int(np.abs(found_db).argmax())] / freq_hz - 1.0) < 0.13


def test_the_difference_a_fade_makes_is_seen_along_the_loop():
    loop = noise(frames_of(2.0), 8)
    blocks = len(loop) // 16
    faded = (
        loop
        * sample_gains(np.where(np.arange(blocks) < blocks // 2, 0.0, -9.0), len(loop))[:, None]
    )
    found = difference(faded, loop)
    assert found.slice_db[3] == pytest.approx(0.0, abs=0.01)
    assert found.slice_db[15] == pytest.approx(-9.0, abs=0.01)
    assert found.most_db == pytest.approx(9.0, abs=0.01)


def test_a_sound_differs_from_itself_by_nothing():
    loop = noise(frames_of(1.0), 9)
    assert difference(loop, loop).most_db == 0.0


def test_what_is_hardly_there_is_not_compared():
    """Bands 60 dB and slices 30 dB under the strongest count as no difference."""
    frames = frames_of(1.0)
    reference = tone(frames, 1000.0, -6.0)
    reference[frames // 2 :] *= np.float32(db_to_gain(-35.0))
    hiss = tone(frames, 8000.0, -80.0)
    found = difference(as_samples(reference + hiss), reference)
    assert found.third_octave_db[25] == 0.0
    assert np.abs(found.slice_db).max() < 1e-3


@pytest.mark.parametrize("silent", ["sound", "reference", "both"])
def test_silence_gives_figures_and_no_warning(silent):
    loop, silence = noise(frames_of(0.5), 10), np.zeros((frames_of(0.5), 2), dtype=np.float32)
    sound = silence if silent != "reference" else loop
    reference = silence if silent != "sound" else loop
    assert math.isfinite(difference(sound, reference).most_db)
