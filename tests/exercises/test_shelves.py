"""Shelves against their analogue prototype, the cookbook's own coefficients and other libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.equaliser import filter_loop, peaking, response_db
from exercises.samples import RATE_HZ
from exercises.shelves import high_shelf, low_shelf
from tests.reference_rows import rows
from tests.synthetic_loops import frames_of, noise

AUDIBLE_HZ = np.geomspace(20.0, 20_000.0, 2_000)
BOTH = pytest.mark.parametrize("shelf", [low_shelf, high_shelf])
SHELF_Q = math.sqrt(0.5)


def prototype_db(shelf, freqs_hz, freq_hz, gain_db):
    """Audio EQ Cookbook (R. Bristow-Johnson, W3C note): H(s) of its shelves, Q = 0.7071."""
    a = 10.0 ** (gain_db / 40.0)
    s = 1j * np.asarray(freqs_hz) / freq_hz
    one_way = s * s + np.sqrt(a) / SHELF_Q * s + a
    other_way = a * s * s + np.sqrt(a) / SHELF_Q * s + 1.0
    ratio = one_way / other_way if shelf is low_shelf else other_way / one_way
    return 20.0 * np.log10(np.abs(a * ratio))


def cookbook(shelf, freq_hz, gain_db):
    """The cookbook's digital coefficients, b and a, for S = 1."""
    a, w0 = 10.0 ** (gain_db / 40.0), 2.0 * np.pi * freq_hz / RATE_HZ
    sign = 1.0 if shelf is high_shelf else -1.0
    c, root = sign * np.cos(w0), 2.0 * np.sqrt(a) * np.sin(w0) / (2.0 * SHELF_Q)
    b = a * np.array([a + 1 + (a - 1) * c + root, -2 * sign * (a - 1 + (a + 1) * c), 0.0])
    b[2] = a * (a + 1 + (a - 1) * c - root)
    return b, np.array(
        [a + 1 - (a - 1) * c + root, 2 * sign * (a - 1 - (a + 1) * c), a + 1 - (a - 1) * c - root]
    )


def digital_db(b, a, freqs_hz):
    from scipy.signal import freqz

    return 20.0 * np.log10(np.abs(freqz(b, a, worN=freqs_hz, fs=RATE_HZ)[1]))


@BOTH
@pytest.mark.parametrize("freq_hz", [31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000, 12_000])
@pytest.mark.parametrize("gain_db", [6.0, -6.0])
def test_within_0_1_db_of_the_analogue_prototype_for_6_db(shelf, freq_hz, gain_db):
    error_db = response_db(shelf(freq_hz, gain_db), AUDIBLE_HZ) - prototype_db(
        shelf, AUDIBLE_HZ, freq_hz, gain_db
    )
    assert np.abs(error_db).max() < 0.1


@BOTH
@pytest.mark.parametrize("gain_db", [12.0, -12.0])
def test_within_0_3_db_for_12_db_at_16_khz(shelf, gain_db):
    error_db = response_db(shelf(16_000.0, gain_db), AUDIBLE_HZ) - prototype_db(
        shelf, AUDIBLE_HZ, 16_000.0, gain_db
    )
    assert np.abs(error_db).max() < 0.3


@pytest.mark.parametrize("known", rows("shelves", "shelf.cramp."))
def test_as_near_as_published_where_the_cookbook_is_ten_times_as_far(known):
    freq_hz, gain_db = known["inputs"]["f0_hz"], known["inputs"]["gain_db"]
    analogue_db = prototype_db(high_shelf, AUDIBLE_HZ, freq_hz, gain_db)
    ours_db = response_db(high_shelf(freq_hz, gain_db), AUDIBLE_HZ)
    theirs_db = digital_db(*cookbook(high_shelf, freq_hz, gain_db), AUDIBLE_HZ)
    expected, tolerance = known["expected"], known["tolerance"]
    assert np.abs(ours_db - analogue_db).max() == pytest.approx(expected["matched"], abs=tolerance)
    assert np.abs(theirs_db - analogue_db).max() == pytest.approx(
        expected["cookbook"], abs=tolerance
    )


@BOTH
@pytest.mark.parametrize("known", rows("shelves", "shelf.midpoint."))
@pytest.mark.parametrize("freq_hz", [60.0, 500.0, 3_000.0])
def test_half_the_gain_at_the_midpoint(shelf, known, freq_hz):
    found = response_db(shelf(freq_hz, known["inputs"]["gain_db"]), np.array([freq_hz]))
    # Exact for the prototype; the match at 3 kHz is 0.001 dB off.
    assert found[0] == pytest.approx(known["expected"], abs=0.002)


@BOTH
@pytest.mark.parametrize("gain_db", [9.0, -9.0])
def test_all_of_the_gain_on_one_side_and_none_on_the_other(shelf, gain_db):
    below, above = response_db(shelf(1000.0, gain_db), np.array([1.0, 23_999.0]))
    inside, outside = (below, above) if shelf is low_shelf else (above, below)
    assert inside == pytest.approx(gain_db, abs=1e-3)
    assert outside == pytest.approx(0.0, abs=1e-3)


@BOTH
@pytest.mark.parametrize("freq_hz", [40.0, 118.0, 366.0])
@pytest.mark.parametrize("gain_db", [4.6, -9.0])
def test_cookbook_coefficients_sound_the_same_at_low_frequencies(shelf, freq_hz, gain_db):
    """Through scipy.signal.freqz, where the cookbook's bilinear transform is right."""
    ours_db = response_db(shelf(freq_hz, gain_db), AUDIBLE_HZ)
    theirs_db = digital_db(*cookbook(shelf, freq_hz, gain_db), AUDIBLE_HZ)
    assert np.abs(ours_db - theirs_db).max() < 0.002


@pytest.mark.parametrize(
    ("shelf", "theirs"), [(low_shelf, "LowShelfFilter"), (high_shelf, "HighShelfFilter")]
)
@pytest.mark.parametrize(("freq_hz", "gain_db"), [(118.0, 4.2), (366.0, 4.6), (250.0, -9.0)])
def test_pedalboards_shelves_at_low_frequencies(shelf, theirs, freq_hz, gain_db):
    """pedalboard (JUCE) uses the cookbook's shelves; what an impulse comes out as."""
    import pedalboard

    impulse = np.zeros((1, RATE_HZ), dtype=np.float32)
    impulse[0, 0] = 1.0
    made = getattr(pedalboard, theirs)(freq_hz, gain_db, SHELF_Q).process(impulse, RATE_HZ)
    their_db = 20.0 * np.log10(np.abs(np.fft.rfft(made[0].astype(np.float64)))[20:2000])
    ours_db = response_db(shelf(freq_hz, gain_db), np.arange(20.0, 2000.0))
    # Their coefficients are single precision.
    assert np.abs(ours_db - their_db).max() < 0.02


@settings(deadline=None)
@given(st.sampled_from([low_shelf, high_shelf]), st.floats(20.0, 20_000.0), st.floats(-24.0, 24.0))
def test_a_cut_undoes_the_boost_exactly(shelf, freq_hz, gain_db):
    both_db = response_db(shelf(freq_hz, gain_db), AUDIBLE_HZ) + response_db(
        shelf(freq_hz, -gain_db), AUDIBLE_HZ
    )
    # Exact in real numbers; at 20 Hz float64 leaves some 1e-7 dB.
    assert np.abs(both_db).max() < 1e-6


@settings(deadline=None)
@given(st.floats(20.0, 20_000.0), st.floats(-24.0, 24.0))
def test_a_low_shelf_is_a_high_shelf_turned_over_and_a_level(freq_hz, gain_db):
    """Exact in the cookbook's prototypes: both have one denominator, the other's numerator."""
    low_db = response_db(low_shelf(freq_hz, gain_db), AUDIBLE_HZ)
    high_db = response_db(high_shelf(freq_hz, -gain_db), AUDIBLE_HZ)
    np.testing.assert_allclose(low_db, high_db + gain_db, atol=1e-9)


@settings(deadline=None)
@given(st.sampled_from([low_shelf, high_shelf]), st.floats(20.0, 20_000.0), st.floats(-24.0, 24.0))
def test_poles_and_zeros_lie_inside_the_unit_circle(shelf, freq_hz, gain_db):
    from scipy.signal import tf2zpk

    made = shelf(freq_hz, gain_db)
    zeros, poles, _ = tf2zpk(made.b, made.a)
    assert np.abs(np.concatenate([zeros, poles])).max(initial=0.0) < 1.0


@pytest.mark.parametrize(
    "made",
    [
        high_shelf(3_000.0, 9.0),
        high_shelf(12_000.0, -6.0),
        low_shelf(400.0, 6.0),
        peaking(1_000.0, 9.0, 1.4),
        peaking(6_000.0, -9.0, 2.0),
    ],
    ids=["high shelf", "high shelf cut", "low shelf", "peak", "dip"],
)
def test_it_is_the_minimum_phase_filter_of_its_magnitude(made):
    """scipy.signal.minimum_phase finds from the magnitude alone what an impulse comes out as."""
    from scipy.signal import lfilter, minimum_phase

    taps = 4_095
    grid_hz = np.linspace(0.0, RATE_HZ / 2.0, taps // 2 + 1)
    zero_phase = np.fft.irfft(10.0 ** (response_db(made, grid_hz) / 20.0), taps)
    theirs = minimum_phase(np.roll(zero_phase, taps // 2), n_fft=2**18, half=False)
    impulse = np.zeros(len(theirs))
    impulse[0] = 1.0
    ours = lfilter(made.b, made.a, impulse)
    # The grid wraps the response round 4,095 samples, and stops short of half the rate.
    assert np.abs(ours - theirs)[:500].max() < 2e-3


@BOTH
def test_no_gain_changes_nothing(shelf):
    loop = noise(frames_of(0.5), 6)
    assert np.abs(filter_loop(loop, shelf(1000.0, 0.0)) - loop).max() < 1e-7


@BOTH
@pytest.mark.parametrize("freq_hz", [0.0, -5.0, 24_000.0, float("nan")])
def test_an_impossible_shelf_is_refused(shelf, freq_hz):
    with pytest.raises(ValueError, match="no shelf at"):
        shelf(freq_hz, 6.0)
