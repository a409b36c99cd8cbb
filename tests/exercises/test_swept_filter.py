"""A filter whose gain moves: against the recursion written out, and taken out again exactly."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.equaliser import filter_loop
from exercises.kinds import Shape
from exercises.samples import as_samples
from exercises.swept_filter import filter_loop_swept
from exercises.tone_curve import tone_biquad
from tests.synthetic_loops import frames_of, noise

FRAMES = frames_of(0.5)
SOUND = noise(FRAMES, 1)
TURN = 2.0 * np.pi * np.arange(FRAMES) / FRAMES
SLOW = 0.5 - 0.5 * np.cos(3.0 * TURN)


def peak(freq_hz, q):
    return lambda gain_db: tone_biquad(Shape.PEAK, freq_hz, gain_db, q)


@pytest.mark.parametrize("gain_db", [9.0, -9.0])
@pytest.mark.parametrize("shape", Shape)
@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_share_that_stands_still_is_a_filter_of_that_gain(shape, share, gain_db):
    biquad_of = partial(_biquad, shape)
    swept = filter_loop_swept(SOUND, biquad_of, gain_db, np.full(FRAMES, share))
    np.testing.assert_allclose(swept, filter_loop(SOUND, biquad_of(share * gain_db)), atol=2e-7)


def _biquad(shape, gain_db):
    return tone_biquad(shape, 400.0, gain_db)


@pytest.mark.parametrize("gain_db", [12.0, -12.0])
def test_it_is_the_recursion_written_out(gain_db):
    """Direct form I, sample by sample, with the filter that each moment's gain asks for."""
    biquad_of = peak(300.0, 2.0)
    swept = filter_loop_swept(SOUND, biquad_of, gain_db, SLOW)
    x = np.concatenate([SOUND, SOUND]).astype(np.float64)
    y = np.zeros_like(x)
    for n in range(2, len(x)):
        biquad = biquad_of(gain_db * SLOW[n % FRAMES])
        y[n] = (
            biquad.b[0] * x[n]
            + biquad.b[1] * x[n - 1]
            + biquad.b[2] * x[n - 2]
            - biquad.a[1] * y[n - 1]
            - biquad.a[2] * y[n - 2]
        )
    # Coefficients are drawn straight between filters half a dB apart.
    assert np.abs(swept - y[FRAMES:]).max() < 1e-3 * np.abs(y).max()


@settings(deadline=None, max_examples=40)
@given(
    st.sampled_from(Shape),
    st.floats(25.0, 17_500.0),
    st.floats(-18.0, 18.0),
    st.floats(0.3, 12.0),
    st.integers(1, 40),
)
def test_it_is_taken_out_again_exactly_however_fast_it_moves(shape, freq_hz, gain_db, q, swings):
    def biquad_of(decibels):
        return tone_biquad(shape, freq_hz, decibels, q)

    share = 0.5 - 0.5 * np.cos(swings * TURN)
    swept = filter_loop_swept(SOUND, biquad_of, gain_db, share)
    assert np.isfinite(swept).all()
    again = filter_loop_swept(swept, biquad_of, gain_db, share, inverse=True)
    # Rounded to float32 in between.
    assert np.abs(again - SOUND).max() < 1e-6 * 10.0 ** (18.0 / 20.0)


def test_the_seam_is_like_any_other_place():
    shift = 7_001
    biquad_of = peak(60.0, 4.0)
    swept = filter_loop_swept(SOUND, biquad_of, 12.0, SLOW)
    turned = filter_loop_swept(
        as_samples(np.roll(SOUND, shift, axis=0)), biquad_of, 12.0, np.roll(SLOW, shift)
    )
    np.testing.assert_allclose(np.roll(turned, -shift, axis=0), swept, atol=1e-6)


def test_a_filter_that_rings_for_longer_than_the_loop_is_still_circular():
    short = as_samples(SOUND[:480])
    swept = filter_loop_swept(short, peak(30.0, 12.0), 18.0, np.ones(480))
    np.testing.assert_allclose(
        swept, filter_loop(short, peak(30.0, 12.0)(18.0)), atol=1e-5 * np.abs(swept).max()
    )
