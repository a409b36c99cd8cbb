"""What a fix leaves, what it spoils, and whether either is heard."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from exercises.audibility import EXCITATION_CRITERION_DB
from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.demo_loops import demo_loop
from exercises.equaliser import peaking, response_db
from exercises.heard import FINE_EDGES_HZ
from exercises.loops import Passage
from exercises.loudness import passage_lufs
from exercises.moves import Compressor, EqPoint, HighShelf, LowShelf, Ride, apply_moves
from exercises.residual import _left, judge, measure, residual
from exercises.samples import as_samples
from tests.synthetic_loops import frames_of, noise

FRAMES = frames_of(4.0)
PINK = noise(FRAMES, 1)
HALVES = (Passage("first", 0, FRAMES // 2), Passage("second", FRAMES // 2, FRAMES))
WHOLE = (Passage("whole", 0, FRAMES),)
AT_186_HZ = int(np.argmin(np.abs(np.log(np.array(THIRD_OCTAVE_MID_HZ) / 186.0))))


def test_nothing_is_left_between_a_sound_and_itself_at_another_level():
    left = residual(as_samples(0.5 * PINK), PINK, HALVES)
    assert left.most_db < 1e-4
    assert left.most_lu < 1e-4
    assert not left.heard


def test_a_level_counts_where_levels_are_not_matched():
    left = residual(as_samples(0.5 * PINK), PINK, HALVES, matched=False)
    np.testing.assert_allclose(left.third_octave_db[:, 5:], -6.0206, atol=0.01)
    np.testing.assert_allclose(left.passage_lu, -6.0206, atol=0.01)
    assert left.heard


@pytest.mark.parametrize("freq_hz", [100.0, 186.0, 1_000.0, 5_000.0])
def test_third_octaves_read_a_filters_response_but_for_one_level(freq_hz):
    """Against the response itself, power-averaged over each third octave of pink noise."""
    found = residual(apply_moves(PINK, [EqPoint(freq_hz, -6.0, 1.4)]), PINK, WHOLE)
    within = 2.0 ** (np.linspace(-0.5, 0.5, 51) / 3.0)
    points_hz = np.array(THIRD_OCTAVE_MID_HZ)[2:28, None] * within
    power = 10.0 ** (response_db(peaking(freq_hz, -6.0, 1.4), points_hz.ravel()) / 10.0)
    expected_db = 10.0 * np.log10(power.reshape(points_hz.shape).mean(axis=1))
    level_db = found.third_octave_db[0, 2:28] - expected_db
    # One level throughout, what matching the loudness turned it up by. Noise of 4 s wobbles.
    assert np.ptp(level_db) < 0.35
    assert level_db.mean() > 0.0


def test_passages_are_told_apart():
    # Long enough that the tenths of a second in which a hand goes over weigh little.
    pink, middle, end = noise(frames_of(16.0), 1), frames_of(8.0), frames_of(16.0)
    halves = (Passage("first", 0, middle), Passage("second", middle, end))
    left = residual(apply_moves(pink, [Ride(-3.0, halves[0])]), pink, halves)
    assert left.passage_lu[0] - left.passage_lu[1] == pytest.approx(-3.0, abs=0.1)
    assert left.heard


@pytest.mark.parametrize(
    ("fix", "heard"),
    [
        ((EqPoint(186.0, -6.0, 1.4),), True),
        ((EqPoint(186.0, -1.0, 1.4),), False),
        ((Compressor(9.0),), True),
        ((Ride(-0.5, Passage("x", 0, 240_000)),), False),
    ],
    ids=["large cut", "small cut", "compressed", "small ride"],
)
def test_heard_or_not_on_music(fix, heard):
    """1 dB at Q 1.4 stays under Zwicker's 1 dB of excitation; 6 dB is far above it."""
    loop = demo_loop("ferry-crossing")
    mix = loop.mix()
    assert residual(apply_moves(mix, fix), mix, loop.passages).heard is heard


def test_what_was_wrong_and_was_undone_is_all_cured():
    b = apply_moves(PINK, [EqPoint(186.0, 9.0, 1.4)])
    judged = judge(apply_moves(b, [EqPoint(186.0, -9.0, 1.4)]), b, PINK, HALVES)
    assert judged.wrong.heard
    assert not judged.now.heard
    assert np.abs(judged.left_db).max() < 1e-3
    assert np.abs(judged.damage_db).max() < 1e-3
    np.testing.assert_allclose(judged.cured_db, judged.wrong.third_octave_db, atol=1e-3)


def test_half_a_cure_leaves_half_and_spoils_nothing():
    b = apply_moves(PINK, [EqPoint(186.0, 9.0, 1.4)])
    judged = judge(apply_moves(b, [EqPoint(186.0, -4.5, 1.4)]), b, PINK, WHOLE)
    assert 3.0 < judged.left_db[0, AT_186_HZ] < 5.0
    assert judged.left_excitation_db > EXCITATION_CRITERION_DB
    assert judged.damage_excitation_db < 0.4
    assert not judged.damage_heard


def test_too_strong_a_cure_is_damage_and_leaves_nothing():
    b = apply_moves(PINK, [EqPoint(186.0, 6.0, 1.4)])
    judged = judge(apply_moves(b, [EqPoint(186.0, -14.0, 1.4)]), b, PINK, WHOLE)
    assert judged.left_db[0, AT_186_HZ] == 0.0
    assert judged.damage_db[0, AT_186_HZ] < -5.0
    assert judged.damage_heard


def test_what_was_right_and_was_spoiled_is_damage_and_the_cure_beside_it_still_counts():
    b = apply_moves(PINK, [EqPoint(186.0, 6.0, 1.4)])
    fix = [EqPoint(186.0, -6.0, 1.4), HighShelf(4_000.0, 6.0)]
    judged = judge(apply_moves(b, fix), b, PINK, WHOLE)
    assert judged.damage_heard
    assert judged.damage_db[0, -4] > 2.0
    # At 186 Hz nothing is there but what matching turned everything below the shelf down by.
    at_1_khz = THIRD_OCTAVE_MID_HZ.index(1000.0)
    now_db = judged.now.third_octave_db[0]
    assert now_db[AT_186_HZ] == pytest.approx(now_db[at_1_khz], abs=0.1)
    assert judged.left_db[0, AT_186_HZ] == 0.0
    assert judged.cured_db[0, AT_186_HZ] > 3.0


def test_a_move_at_the_wrong_place_leaves_the_problem_and_adds_its_own():
    b = apply_moves(PINK, [EqPoint(186.0, 6.0, 2.0)])
    judged = judge(apply_moves(b, [EqPoint(2_000.0, -6.0, 2.0)]), b, PINK, WHOLE)
    assert judged.left_excitation_db > 3.0
    # A dip counts at less than a peak, and matching brings the rest up.
    assert judged.damage_excitation_db > EXCITATION_CRITERION_DB


@settings(deadline=None)
@given(
    arrays(np.float64, (2, 30), elements=st.floats(-30.0, 30.0)),
    arrays(np.float64, (2, 30), elements=st.floats(-30.0, 30.0)),
)
def test_left_is_of_what_was_wrong_and_never_more(now_db, wrong_db):
    left_db = _left(now_db, wrong_db)
    assert (left_db * wrong_db >= 0.0).all()
    assert (np.abs(left_db) <= np.abs(wrong_db)).all()
    assert (np.abs(left_db) <= np.abs(now_db)).all()
    cured_db, damage_db = wrong_db - left_db, now_db - left_db
    # Damage where something is left lies only beyond what was wrong.
    beyond = np.abs(now_db) > np.abs(wrong_db)
    assert (damage_db[(left_db != 0.0) & ~beyond] == 0.0).all()
    assert (np.abs(cured_db) <= np.abs(wrong_db)).all()


def test_next_to_silence_nothing_is_compared():
    """Below 60 dB under the strongest third octave a difference is rounding, not a difference."""
    low = apply_moves(PINK, [LowShelf(200.0, 24.0), HighShelf(2_000.0, -24.0)] * 2)
    treble = apply_moves(low, [HighShelf(12_000.0, 12.0)])
    left = residual(treble, low, WHOLE)
    assert left.third_octave_db[0, -1] == 0.0


def test_measured_powers_are_those_of_the_sound():
    """White noise of a known level: third octaves, K-weighting and moments each keep its power."""
    white = noise(FRAMES, 2, pink=False, rms_dbfs=-20.0)
    found = measure(white, WHOLE, 0.0)
    # Both channels together; the noise ends at 20 kHz, the ear's bands a little below.
    share_db = 10.0 * np.log10((FINE_EDGES_HZ[-1] - 20.0) / (20_000.0 - 20.0))
    power_db = 10.0 * np.log10(found.third_octaves.sum())
    assert power_db == pytest.approx(-20.0 + 3.0103 + share_db, abs=0.01)
    meter_lufs = passage_lufs(white, 0, FRAMES)
    assert found.passage_lufs[0] == pytest.approx(meter_lufs + share_db, abs=0.05)
    loudness_by_moments = -0.691 + 10.0 * np.log10(found.moments.sum(axis=0).mean())
    assert loudness_by_moments == pytest.approx(meter_lufs, abs=0.05)
