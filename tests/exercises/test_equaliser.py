"""The matched peaking filter against its prototype, published coefficients and other libraries."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.equaliser import (
    Biquad,
    filter_loop,
    peaking,
    response_db,
    settle_and_filter,
)
from exercises.samples import RATE_HZ, as_samples
from tests.reference_rows import row, rows
from tests.synthetic_loops import frames_of, noise

AUDIBLE_HZ = np.geomspace(20.0, 20_000.0, 2_000)


def prototype_db(freqs_hz, freq_hz, gain_db, q):
    """Audio EQ Cookbook (R. Bristow-Johnson, W3C note): H(s) of the analogue peaking filter."""
    a = 10.0 ** (gain_db / 40.0)
    s = 1j * np.asarray(freqs_hz) / freq_hz
    return 20.0 * np.log10(np.abs((s * s + s * a / q + 1.0) / (s * s + s / (a * q) + 1.0)))


def at(freq_hz, biquad):
    return float(response_db(biquad, np.array([freq_hz]))[0])


def second_order_section(biquad):
    return np.array([[*biquad.b, *biquad.a]])


def test_published_matched_coefficients():
    """M. Vicanek, Matched Second Order Digital Filters, 2016, with the cookbook's poles."""
    known = row("equaliser", "eq.vicanek.coef.2")
    made = peaking(known["inputs"]["f0_hz"], known["inputs"]["gain_db"], known["inputs"]["Q"])
    # The table is rounded to nine decimals.
    np.testing.assert_allclose(made.b, known["expected"]["b"], rtol=0, atol=1e-9)
    np.testing.assert_allclose(made.a, known["expected"]["a"], rtol=0, atol=1e-9)


# Half an octave apart from 63 Hz to 16 kHz.
CENTRES_HZ = [*np.geomspace(63.0, 16_000.0, 17)]


@pytest.mark.parametrize("freq_hz", CENTRES_HZ, ids=lambda f: f"{f:.0f}")
@pytest.mark.parametrize("q", [1.0, 1.4, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("gain_db", [6.0, -6.0])
def test_within_0_4_db_of_the_analogue_prototype_for_6_db(freq_hz, q, gain_db):
    error_db = response_db(peaking(freq_hz, gain_db, q), AUDIBLE_HZ) - prototype_db(
        AUDIBLE_HZ, freq_hz, gain_db, q
    )
    assert np.abs(error_db).max() < 0.4


@settings(deadline=None)
@given(st.floats(63.0, 16_000.0), st.floats(-12.0, 12.0), st.floats(0.7, 8.0))
def test_within_1_db_of_the_analogue_prototype_up_to_12_db(freq_hz, gain_db, q):
    error_db = response_db(peaking(freq_hz, gain_db, q), AUDIBLE_HZ) - prototype_db(
        AUDIBLE_HZ, freq_hz, gain_db, q
    )
    assert np.abs(error_db).max() < 1.0


@pytest.mark.parametrize("known", rows("equaliser", "eq.cramp.48000."))
def test_worst_error_is_the_matched_designs_and_not_the_cookbooks(known):
    inputs, expected = known["inputs"], known["expected"]
    error_db = response_db(
        peaking(inputs["f0_hz"], inputs["gain_db"], inputs["Q"]), AUDIBLE_HZ
    ) - prototype_db(AUDIBLE_HZ, inputs["f0_hz"], inputs["gain_db"], inputs["Q"])
    worst_db = error_db[np.argmax(np.abs(error_db))]
    assert worst_db == pytest.approx(expected["matched"], abs=known["tolerance"])
    assert abs(worst_db) < abs(expected["cookbook"]) / 4.0


@settings(deadline=None)
@given(st.floats(25.0, 17_500.0), st.floats(-18.0, 18.0), st.floats(0.3, 12.0))
def test_gain_at_the_centre_is_the_gain_asked_for(freq_hz, gain_db, q):
    # Exact in real numbers; at 25 Hz and Q 12, float64 leaves 3e-7 dB.
    assert at(freq_hz, peaking(freq_hz, gain_db, q)) == pytest.approx(gain_db, abs=1e-6)


@settings(deadline=None)
@given(st.floats(25.0, 17_500.0), st.floats(-18.0, 18.0), st.floats(0.3, 12.0))
def test_stable_and_so_is_its_inverse(freq_hz, gain_db, q):
    made = peaking(freq_hz, gain_db, q)
    assert np.abs(np.roots(made.a)).max() < 1.0
    assert np.abs(np.roots(made.b)).max() < 1.0


@pytest.mark.parametrize("known", rows("equaliser", "eq.peak.edge."))
@pytest.mark.parametrize("freq_hz", [63.0, 250.0])
def test_half_the_gain_at_the_band_edges(known, freq_hz):
    """Audio EQ Cookbook: half the gain in dB at f0 2^(±BW/2), BW from Q."""
    gain_db, q = known["inputs"]["gain_db"], known["inputs"]["Q"]
    half_octaves = np.arcsinh(1.0 / (2.0 * q)) / np.log(2.0)
    made = peaking(freq_hz, gain_db, q)
    for edge_hz in (freq_hz * 2.0**half_octaves, freq_hz / 2.0**half_octaves):
        # 1e-4 dB: the digital filter at a frequency far below half the rate, not H(s) itself.
        assert at(edge_hz, made) == pytest.approx(known["expected"], abs=1e-4)


@pytest.mark.parametrize("known", rows("equaliser", "eq.coef."))
def test_cookbook_coefficients_sound_the_same_at_low_frequencies(known):
    """Audio EQ Cookbook coefficients through scipy.signal.freqz_sos, where they are right."""
    from scipy.signal import freqz_sos

    inputs, expected = known["inputs"], known["expected"]
    _, cookbook = freqz_sos(
        np.array([[*expected["b"], *expected["a"]]]), AUDIBLE_HZ, fs=inputs["fs_hz"]
    )
    ours_db = response_db(peaking(inputs["f0_hz"], inputs["gain_db"], inputs["Q"]), AUDIBLE_HZ)
    below = 2.0 * inputs["f0_hz"] > AUDIBLE_HZ
    # The cookbook itself is this far from H(s) there: 0.02 dB with a centre at 1 kHz.
    assert np.abs(ours_db - 20.0 * np.log10(np.abs(cookbook)))[below].max() < 0.03


@pytest.mark.parametrize(
    ("freq_hz", "gain_db", "q"), [(200.0, 6.0, 1.41), (186.0, -6.0, 1.0), (63.0, 12.0, 4.0)]
)
def test_pedalboards_filter_at_low_frequencies(freq_hz, gain_db, q):
    """pedalboard's PeakFilter (JUCE) is the cookbook's; what an impulse comes out as."""
    import pedalboard

    frames = RATE_HZ
    impulse = np.zeros((1, frames), dtype=np.float32)
    impulse[0, 0] = 1.0
    theirs = pedalboard.PeakFilter(freq_hz, gain_db, q).process(impulse, RATE_HZ)
    theirs_db = 20.0 * np.log10(np.abs(np.fft.rfft(theirs[0].astype(np.float64)))[20:1000])
    ours_db = response_db(peaking(freq_hz, gain_db, q), np.arange(20.0, 1000.0))
    # Their single-precision coefficients alone move a 63 Hz filter by some hundredths.
    assert np.abs(ours_db - theirs_db).max() < 0.05


@pytest.mark.parametrize("freq_hz", [40.0, 186.0, 3_000.0, 14_000.0])
def test_response_is_that_of_scipy(freq_hz):
    from scipy.signal import freqz_sos

    made = peaking(freq_hz, 7.5, 1.7)
    _, complex_gain = freqz_sos(second_order_section(made), AUDIBLE_HZ, fs=RATE_HZ)
    np.testing.assert_allclose(
        response_db(made, AUDIBLE_HZ), 20.0 * np.log10(np.abs(complex_gain)), atol=1e-9
    )


@settings(deadline=None)
@given(st.floats(25.0, 17_500.0), st.floats(0.0, 18.0), st.floats(0.3, 12.0))
def test_a_cut_undoes_the_boost_exactly(freq_hz, gain_db, q):
    both_db = response_db(peaking(freq_hz, gain_db, q), AUDIBLE_HZ) + response_db(
        peaking(freq_hz, -gain_db, q), AUDIBLE_HZ
    )
    # Exact in real numbers; at 25 Hz and Q 12, float64 leaves 3e-7 dB.
    assert np.abs(both_db).max() < 1e-6


def test_a_loop_boosted_then_cut_is_the_loop_again():
    loop = noise(frames_of(2.0), 5, rms_dbfs=-20.0)
    again = filter_loop(filter_loop(loop, peaking(80.0, 12.0, 4.0)), peaking(80.0, -12.0, 4.0))
    # Once rounded to float32 in between, and then cut: some steps of 6e-8 of a 0.5 peak.
    assert np.abs(again - loop).max() < 2e-7


def test_no_gain_changes_nothing():
    loop = noise(frames_of(0.5), 6)
    assert np.abs(filter_loop(loop, peaking(1000.0, 0.0, 1.4)) - loop).max() < 1e-7


LONG_MEMORY = peaking(30.0, 12.0, 12.0)


def _rounding(made):
    """1e-12; a filter that keeps its errors for 10,000 samples rounds ten times as coarsely."""
    return 1e-11 if made is LONG_MEMORY else 1e-12


CASES = pytest.mark.parametrize(
    ("made", "frames"),
    [
        (peaking(186.0, 6.0, 1.4), 96_000),
        (peaking(186.0, -6.0, 1.4), 96_001),
        (peaking(12_000.0, 9.0, 0.7), 48_000),
        (LONG_MEMORY, 24_000),
    ],
    ids=["boost", "cut of odd length", "treble", "rings on for longer than the loop"],
)


@CASES
def test_circular_filtering_is_the_last_of_many_rounds(made, frames):
    """scipy.signal.lfilter over the loop again and again, the last round kept."""
    from scipy.signal import lfilter

    loop = noise(frames, 7)
    rounds = 40 if made is LONG_MEMORY else 2
    played = lfilter(made.b, made.a, np.tile(loop, (rounds, 1)).astype(np.float64), axis=0)
    ours = settle_and_filter(np.array(made.b), np.array(made.a), loop)
    assert np.abs(ours - played[-frames:]).max() < _rounding(made)


@CASES
def test_circular_filtering_is_circular_convolution_with_the_impulse_response(made, frames):
    from scipy.signal import lfilter

    loop = noise(frames, 8)
    rounds = 40 if made is LONG_MEMORY else 2
    impulse = np.zeros(rounds * frames)
    impulse[0] = 1.0
    folded = lfilter(made.b, made.a, impulse).reshape(rounds, frames).sum(axis=0)
    spectrum = np.fft.fft(loop.astype(np.float64), axis=0) * np.fft.fft(folded)[:, None]
    ours = settle_and_filter(np.array(made.b), np.array(made.a), loop)
    assert np.abs(ours - np.fft.ifft(spectrum, axis=0).real).max() < _rounding(made)


@pytest.mark.parametrize("start", [1, 4_801, 60_000])
def test_where_the_loop_is_cut_changes_nothing(start):
    loop, made = noise(frames_of(1.5), 9), peaking(60.0, -9.0, 3.0)
    turned = filter_loop(as_samples(np.roll(loop, start, axis=0)), made)
    assert np.abs(turned - np.roll(filter_loop(loop, made), start, axis=0)).max() < 1e-7


def test_nothing_sounds_before_its_cause():
    """No ringing ahead of an attack, as multiplying a spectrum by H(s) would give."""
    loop = np.zeros((frames_of(2.0), 2), dtype=np.float32)
    loop[24_000] = 0.5
    filtered = filter_loop(loop, peaking(8_000.0, 12.0, 4.0))
    assert np.abs(filtered[:24_000]).max() == 0.0
    assert np.abs(filtered[24_001:24_100]).max() > 0.1


@pytest.mark.parametrize("order", ["C", "F"])
def test_layout_of_the_array_does_not_matter(order):
    loop = noise(frames_of(0.5), 10)
    made = peaking(500.0, 6.0, 1.0)
    kept = loop.copy()
    filtered = filter_loop(np.array(loop, order=order), made)
    np.testing.assert_array_equal(filtered, filter_loop(loop, made))
    np.testing.assert_array_equal(loop, kept)
    assert filtered.dtype == np.float32
    assert filtered.shape == loop.shape


@pytest.mark.parametrize(
    ("freq_hz", "q"), [(0.0, 1.0), (-5.0, 1.0), (24_000.0, 1.0), (1000.0, 0.0), (1000.0, -1.0),
                       (float("nan"), 1.0), (1000.0, float("nan"))]
)  # fmt: skip
def test_an_impossible_filter_is_refused(freq_hz, q):
    with pytest.raises(ValueError, match="no peaking filter"):
        peaking(freq_hz, 6.0, q)


def test_a_filter_without_memory_needs_no_rounds():
    made = Biquad((0.5, 0.0, 0.0), (1.0, 0.0, 0.0))
    loop = noise(frames_of(0.1), 11)
    np.testing.assert_allclose(filter_loop(loop, made), loop * 0.5, atol=1e-8)
