"""The compressor against Giannoulis, Massberg and Reiss, JAES 60(6), 2012, and a plain loop."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.compressor import (
    BLOCK_FRAMES,
    StaticCurve,
    Timing,
    gain_at,
    levels_db,
    sample_gains,
    threshold_for,
)
from exercises.samples import RATE_HZ, as_samples
from tests.reference_rows import row, rows
from tests.synthetic_loops import bursts, frames_of, kicks, noise, tone

SQUASH = Timing(attack_s=0.0005, release_s=0.150)


def output_db(level_db, curve):
    return level_db + float(gain_at(np.array([level_db], dtype=np.float64), curve)[0])


def plain_levels_db(samples, timing):
    """The tutorial's decoupled peak detector, a sample at a time, second time round the loop.

    JAES 60(6), 2012, eq. 15: y1 = max(x, aR y1), y = aA y + (1 - aA) y1.
    """
    attack = math.exp(-1.0 / (timing.attack_s * RATE_HZ))
    release = math.exp(-1.0 / (timing.release_s * RATE_HZ))
    inputs = np.abs(samples).max(axis=1).astype(np.float64).tolist()
    released = attacked = 0.0
    detected = []
    for value in inputs * 2:
        released = max(value, release * released)
        attacked = attack * attacked + (1.0 - attack) * released
        detected.append(attacked)
    return 20.0 * np.log10(np.maximum(detected[len(inputs) :], 1e-6))


@pytest.mark.parametrize("known", rows("compressor", "comp.static."))
def test_static_curve(known):
    inputs = known["inputs"]
    curve = StaticCurve(inputs["threshold_db"], float(inputs["ratio"]), inputs.get("knee_db", 0.0))
    # The table is rounded to six decimals.
    assert output_db(inputs["input_db"], curve) == pytest.approx(
        known["expected"], abs=known["tolerance"]
    )


def test_slopes_of_the_knee():
    known = row("compressor", "comp.knee.slopes")
    curve = StaticCurve(*(known["inputs"][name] for name in ("threshold_db", "ratio", "knee_db")))
    for level_db, slope in zip((-23.0, -20.0, -17.0), known["expected"], strict=True):
        rise = output_db(level_db + 1e-4, curve) - output_db(level_db - 1e-4, curve)
        # The curve bends at the knee's edges: a step of 1e-4 dB is off by 1e-5 there.
        assert rise / 2e-4 == pytest.approx(slope, abs=2e-5)


def test_reduction_at_the_threshold():
    known = row("compressor", "comp.knee.GR")
    curve = StaticCurve(-20.0, known["inputs"]["ratio"], known["inputs"]["knee_db"])
    assert output_db(-20.0, curve) == pytest.approx(-20.0 - known["expected"], abs=1e-9)


def test_four_to_one_lets_four_db_over_come_out_as_one():
    """Common practice, no source."""
    assert output_db(-16.0, StaticCurve(-20.0, 4.0, 0.0)) == pytest.approx(-19.0, abs=1e-12)


@given(st.floats(-60.0, 0.0), st.floats(0.1, 18.0), st.floats(1.5, 20.0), st.floats(0.0, 12.0))
@settings(deadline=None)
def test_threshold_for_a_reduction_gives_that_reduction(level_db, reduction_db, ratio, knee_db):
    curve = StaticCurve(threshold_for(level_db, reduction_db, ratio, knee_db), ratio, knee_db)
    assert level_db - output_db(level_db, curve) == pytest.approx(reduction_db, abs=1e-9)


@pytest.mark.parametrize("attack_s", [0.003, 0.01, 0.05])
def test_a_step_has_gone_63_percent_of_the_way_after_one_attack(attack_s):
    """The tutorial's time constant: 1 - 1/e of a step."""
    frames, onset = frames_of(1.0), frames_of(0.5)
    step = np.zeros((frames, 2), dtype=np.float32)
    step[onset : onset + frames_of(0.3)] = 0.5
    levels = 10.0 ** (levels_db(step, Timing(attack_s, 0.002), 1) / 20.0)
    known = row("compressor", "comp.t63")
    reached = int(np.argmax(levels >= 0.5 * (1.0 - 1.0 / math.e))) + 1 - onset
    assert reached / RATE_HZ == pytest.approx(attack_s, abs=known["tolerance"])


def test_release_of_the_decoupled_detector():
    """Attack and release in series: to 1/e in 110.5 ms, where the release alone takes 100."""
    known = row("compressor", "comp.decoupled.release")
    drop = frames_of(1.0)
    gate = np.zeros((frames_of(2.5), 2), dtype=np.float32)
    gate[:drop] = 0.5
    timing = Timing(known["inputs"]["tau_attack_s"], known["inputs"]["tau_release_s"])
    after = 10.0 ** (levels_db(gate, timing, 1)[drop:] / 20.0)
    fallen_s = float(np.argmax(after <= 0.5 / math.e)) / RATE_HZ
    assert fallen_s == pytest.approx(known["expected"], abs=known["tolerance"])


def test_release_is_a_straight_line_in_db():
    known = row("compressor", "comp.release.rate")
    drop = frames_of(0.2)
    gate = np.zeros((frames_of(2.0), 2), dtype=np.float32)
    gate[:drop] = 0.5
    levels = levels_db(gate, Timing(1e-4, known["inputs"]["tau_s"]), 1)
    fall_db = levels[drop + 4_800] - levels[drop + 28_800]
    assert fall_db / 0.5 == pytest.approx(known["expected"], abs=1e-4)


MATERIAL = {
    "kicks": kicks(frames_of(1.0)),
    "bursts": bursts(frames_of(1.0), 3),
    "noise": noise(frames_of(1.0), 4),
    "odd length": bursts(frames_of(1.0) + 5, 5),
}
MATERIALS = pytest.mark.parametrize("samples", list(MATERIAL.values()), ids=list(MATERIAL))


@MATERIALS
@pytest.mark.parametrize("timing", [SQUASH, Timing(0.0003, 0.05), Timing(0.03, 0.4)])
def test_detector_without_a_loop_is_the_detector_with_one(samples, timing):
    ours = levels_db(samples, timing, 1)
    # Seen: 1e-9 dB. The plain one has heard one round alone: exp(-1 s / 0.03 s) is left of it.
    assert np.abs(ours - plain_levels_db(samples, timing)).max() < 1e-7


@MATERIALS
@pytest.mark.parametrize("timing", [SQUASH, Timing(0.005, 0.15), Timing(0.03, 0.4)])
def test_blocks_of_16_are_within_a_tenth_of_a_db_of_the_sample_rate(samples, timing):
    curve = StaticCurve(-24.0, 6.0, 6.0)
    each_sample_db = gain_at(plain_levels_db(samples, timing), curve)
    blocks = gain_at(levels_db(samples, timing), curve)
    ours_db = 20.0 * np.log10(sample_gains(blocks, len(samples)).astype(np.float64))
    assert each_sample_db.min() < -6.0, "the compressor must be at work"
    assert np.sqrt(np.mean((ours_db - each_sample_db) ** 2)) < 0.1


@pytest.mark.parametrize("blocks", [1, 700, 2_999])
def test_where_the_loop_is_cut_changes_nothing(blocks):
    samples = bursts(frames_of(1.0), 6)
    turned = levels_db(as_samples(np.roll(samples, blocks * BLOCK_FRAMES, axis=0)), SQUASH)
    np.testing.assert_allclose(turned, np.roll(levels_db(samples, SQUASH), blocks), atol=1e-9)
    gains = np.random.RandomState(1).random_sample(3_000) * -12.0
    np.testing.assert_allclose(
        sample_gains(np.roll(gains, blocks), 48_000),
        np.roll(sample_gains(gains, 48_000), blocks * BLOCK_FRAMES),
        atol=1e-6,
    )


@pytest.mark.parametrize("frames", [48_000, 48_001, 48_007, 48_015])
def test_gain_crosses_the_seam_without_a_step(frames):
    """A last block that is cut short reaches its gain sooner, and the first starts from there."""
    samples = as_samples(np.roll(kicks(frames), -200, axis=0))
    gain_db = gain_at(levels_db(samples, SQUASH), StaticCurve(-24.0, 6.0, 6.0))
    gains = sample_gains(gain_db, frames).astype(np.float64)
    reached = 10.0 ** (gain_db[-1] / 20.0)
    left = frames % BLOCK_FRAMES or BLOCK_FRAMES
    assert (
        abs(gains[-1] - reached) <= 0.51 * abs(reached - 10.0 ** (gain_db[-2] / 20.0)) / left + 1e-7
    )
    first = abs(10.0 ** (gain_db[0] / 20.0) - reached) / BLOCK_FRAMES
    assert abs(gains[0] - reached) <= 0.51 * first + 1e-7


def test_the_louder_channel_is_detected():
    one_sided = np.zeros((frames_of(1.0), 2), dtype=np.float32)
    one_sided[:, 1] = tone(frames_of(1.0), 1000.0, -6.0)[:, 1]
    swapped = as_samples(one_sided[:, ::-1])
    np.testing.assert_array_equal(levels_db(one_sided, SQUASH), levels_db(swapped, SQUASH))
    # Held at the peak by the release; the attack smooths the ripple between half periods.
    assert np.abs(levels_db(one_sided, SQUASH) - -6.0).max() < 0.05


@pytest.mark.parametrize("block_frames", [1, 8, 16])
def test_a_steady_gain_is_that_gain(block_frames):
    gains = sample_gains(np.full(4_800 // block_frames, -6.0), 4_800)
    np.testing.assert_allclose(gains, 10.0 ** (-6.0 / 20.0), rtol=1e-6)


def test_gain_is_drawn_straight_between_the_ends_of_blocks():
    block_db = np.zeros(300)
    block_db[100] = -20.0
    gains = sample_gains(block_db, 4_800)
    end = 101 * 16 - 0.5
    expected = np.interp(np.arange(4_800), [end - 16, end, end + 16], [1.0, 0.1, 1.0])
    np.testing.assert_allclose(gains, expected, atol=1e-6)


def test_a_ratio_below_one_lifts_what_is_loud():
    """Upward of the threshold: JAES 60(6), 2012, eq. 4 with R = 0.5."""
    assert output_db(-10.0, StaticCurve(-20.0, 0.5, 0.0)) == pytest.approx(0.0, abs=1e-12)
    assert output_db(-30.0, StaticCurve(-20.0, 0.5, 0.0)) == -30.0


def test_silence_stays_silent():
    silence = np.zeros((4_800, 2), dtype=np.float32)
    levels = levels_db(silence, SQUASH)
    assert np.isfinite(levels).all()
    gains = sample_gains(gain_at(levels, StaticCurve(-20.0, 6.0, 6.0)), len(silence))
    np.testing.assert_array_equal(gains, 1.0)
    assert gains.dtype == np.float32
