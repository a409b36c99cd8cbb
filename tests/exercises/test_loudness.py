"""Loudness against ITU-R BS.1770-5, EBU Tech 3341, pyloudnorm and libebur128."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises import loudness
from exercises.equaliser import Biquad, response_db
from exercises.kinds import Kind
from exercises.loudness import (
    block_powers,
    integrated_lufs,
    loudness_lufs,
    matching_gain_db,
    passage_lufs,
)
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.samples import RATE_HZ, as_samples, db_to_gain
from tests.meters import ebur128_lufs
from tests.reference_rows import row, rows
from tests.synthetic_loops import (
    bursts,
    frames_of,
    kicks,
    loop_of,
    noise,
    repeated,
    small_band,
    tone,
)


def segments(levels_and_seconds):
    """In-phase stereo 1 kHz sines of these peak levels in dBFS, one after the other."""
    return as_samples(
        np.concatenate([tone(frames_of(s), 1000.0, dbfs) for dbfs, s in levels_and_seconds])
    )


def pyloudnorm_lufs(samples):
    """pyloudnorm with the standard's own coefficients: its usual ones read 0.04 LU low."""
    import pyloudnorm

    meter = pyloudnorm.Meter(RATE_HZ, filter_class="DeMan")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return meter.integrated_loudness(samples.astype(np.float64))


@pytest.mark.parametrize(
    ("name", "b", "a"),
    [
        ("bs1770.stage1", loudness.STAGE_1_B, loudness.STAGE_1_A),
        ("bs1770.stage2", loudness.STAGE_2_B, loudness.STAGE_2_A),
    ],
)
def test_k_weighting_coefficients(name, b, a):
    known = row("loudness", name)
    np.testing.assert_allclose(b, known["expected"]["b"], rtol=0, atol=known["tolerance"])
    np.testing.assert_allclose(a, known["expected"]["a"], rtol=0, atol=known["tolerance"])


@pytest.mark.parametrize("known", rows("loudness", "bs1770.K."))
def test_k_weighting_curve(known):
    freq_hz = np.array([known["inputs"]["freq_hz"]])
    both_db = response_db(Biquad(loudness.STAGE_1_B, loudness.STAGE_1_A), freq_hz) + response_db(
        Biquad(loudness.STAGE_2_B, loudness.STAGE_2_A), freq_hz
    )
    assert float(both_db[0]) == pytest.approx(known["expected"], abs=known["tolerance"])


def test_gates_and_blocks():
    known = row("loudness", "bs1770.gating")["expected"]
    assert known["block_s"] == loudness.BLOCK_S
    assert known["abs_lkfs"] == loudness.ABSOLUTE_GATE_LUFS
    assert known["rel_lu"] == loudness.RELATIVE_GATE_LU
    # Denser than the standard's 100 ms, on purpose, and fitting into a block.
    assert known["block_s"] * (1.0 - known["overlap"]) > loudness.STEP_S


def test_997_hz_at_full_scale_in_one_channel():
    known = row("loudness", "bs1770.997")
    sine = tone(frames_of(2.0), 997.0, known["inputs"]["level_dbfs"])
    sine[:, 1] = 0.0
    assert loudness_lufs(sine) == pytest.approx(known["expected"], abs=known["tolerance"])


@pytest.mark.parametrize("known", rows("loudness", "tech3341."))
def test_ebu_tech_3341(known):
    signal = segments(known["inputs"]["segments"])
    ours = loudness_lufs(signal)
    assert ours == pytest.approx(known["expected"], abs=known["tolerance"])
    # Blocks across the steps, and across the seam, are what differs from a single pass.
    assert ours == pytest.approx(ebur128_lufs(signal), abs=0.03)
    assert ours == pytest.approx(pyloudnorm_lufs(signal), abs=0.03)


MUSIC = {
    "band": small_band(2.5).mix(),
    "bass and drums of an odd length": small_band(2.50002).mix(),
    "bursts": bursts(frames_of(2.0), 3),
    "quiet noise": noise(frames_of(2.0), 4, rms_dbfs=-55.0),
    "left alone": as_samples(noise(frames_of(2.0), 5) * np.array([1.0, 0.0], dtype=np.float32)),
    "longer than a block by little": noise(frames_of(0.45), 6),
}


@pytest.mark.parametrize("samples", list(MUSIC.values()), ids=list(MUSIC))
def test_other_meters_read_the_same_from_the_loop_repeated(samples):
    """libebur128 and pyloudnorm over half a minute of it; they hear its first start from rest."""
    played = repeated(samples, 30.0)
    assert loudness_lufs(samples) == pytest.approx(ebur128_lufs(played), abs=0.02)
    assert loudness_lufs(samples) == pytest.approx(pyloudnorm_lufs(played), abs=0.02)


def test_a_loop_shorter_than_a_block_reads_as_if_repeated():
    short = noise(frames_of(0.15), 7)
    assert loudness_lufs(short) == pytest.approx(loudness_lufs(np.tile(short, (6, 1))), abs=1e-3)
    assert loudness_lufs(short) == pytest.approx(ebur128_lufs(repeated(short, 30.0)), abs=0.02)


@pytest.mark.parametrize("beat_s", [0.5, 0.6, 0.75])
@pytest.mark.parametrize("decay_s", [0.03, 0.06, 0.12])
def test_where_a_kick_drum_is_cut_moves_its_loudness_by_less_than_a_twentieth(beat_s, decay_s):
    kick = kicks(frames_of(4.0 * beat_s), beat_s=beat_s, decay_s=decay_s)
    read = [loudness_lufs(as_samples(np.roll(kick, 211 * turn, axis=0))) for turn in range(24)]
    assert np.ptp(read) < 0.05


def test_the_standards_own_step_moves_it_by_a_whole_lu():
    """Why blocks lie more densely here: measured with libebur128, 8 s of kicks from each start."""
    known = row("loudness", "r128.gate.rotation")
    kick = kicks(frames_of(8.0))
    step = frames_of(known["inputs"]["rotation_step_s"])
    read = [ebur128_lufs(np.roll(kick, -step * turn, axis=0)) for turn in range(20)]
    assert np.ptp(read) == pytest.approx(known["expected"], abs=known["tolerance"])


PROBLEMS = [
    (Kind.TOO_MUCH, 12.0, 60.0),
    (Kind.TOO_LITTLE, 12.0, 60.0),
    (Kind.TOO_MUCH, 9.0, 250.0),
    (Kind.TOO_LITTLE, 9.0, 4000.0),
    (Kind.SQUASHED, 6.0, None),
    (Kind.SQUASHED, 12.0, None),
]
HIDDEN = pytest.mark.parametrize(
    ("kind", "size_db", "freq_hz"), PROBLEMS, ids=[f"{k} {s:g} {f}" for k, s, f in PROBLEMS]
)


def difference_from_each_start(loop, kind, size_db, freq_hz):
    """B less A in LU as libebur128 reads them over 24 s, started at ten places 10 ms apart."""
    recipe = Recipe(
        seed=1, loop=loop.name, fingerprint=loop.fingerprint, kind=kind, size_db=size_db,
        freq_hz=freq_hz, q=None if freq_hz is None else 1.4,
    )  # fmt: skip
    question = make_question(recipe, loop)
    own = loudness_lufs(question.b) - loudness_lufs(question.a)
    # Exact at the learner's level; turned down for its peaks, a block may fall to -70 LUFS.
    assert own == pytest.approx(0.0, abs=0.01)
    starts = [frames_of(0.01 * turn) for turn in range(10)]
    return np.array(
        [
            ebur128_lufs(repeated(np.roll(question.b, -start, axis=0), 24.0))
            - ebur128_lufs(repeated(np.roll(question.a, -start, axis=0), 24.0))
            for start in starts
        ]
    )


@HIDDEN
def test_matched_a_and_b_agree_on_another_meter_on_music(kind, size_db, freq_hz):
    """A tenth of an LU, whatever the start: drums, bass and keys over two and a half seconds."""
    assert np.abs(difference_from_each_start(small_band(2.3), kind, size_db, freq_hz)).max() < 0.1


@HIDDEN
@pytest.mark.parametrize(
    "sound",
    [kicks(frames_of(2.0)), bursts(frames_of(3.0), 3, beat_s=1.5, decay_s=0.1)],
    ids=["bare kicks", "one burst in 1.5 s"],
)
def test_matched_a_and_b_agree_on_average_on_bare_hits(sound, kind, size_db, freq_hz):
    """The other meter disagrees with itself here by up to a whole LU from start to start."""
    read = difference_from_each_start(loop_of(("hits", sound)), kind, size_db, freq_hz)
    assert abs(read.mean()) < 0.15
    assert np.abs(read).max() < 1.0


def test_a_passage_is_read_without_gates_and_with_its_own_edges():
    frames = frames_of(2.0)
    loud = noise(frames, 8, rms_dbfs=-20.0)
    loop = as_samples(np.concatenate([loud, loud * np.float32(db_to_gain(-12.0))]))
    first, second = passage_lufs(loop, 0, frames), passage_lufs(loop, frames, 2 * frames)
    # The filter carries a trace of the loud half over the edge.
    assert first - second == pytest.approx(12.0, abs=0.1)
    assert first == pytest.approx(loudness_lufs(loud), abs=0.05)


def test_silence_has_no_loudness():
    silence = np.zeros((frames_of(1.0), 2), dtype=np.float32)
    assert loudness_lufs(silence) == float("-inf")
    assert passage_lufs(silence, 0, 100) == float("-inf")
    assert matching_gain_db(block_powers(silence), -23.0) == 0.0


def test_nothing_is_gained_towards_silence():
    assert matching_gain_db(block_powers(noise(frames_of(1.0), 9)), float("-inf")) == 0.0


@pytest.mark.parametrize(
    ("softer_db", "expected_lufs"), [(-11.5, -22.71), (-13.5, -20.0)], ids=["counted", "gated out"]
)
def test_what_lies_10_lu_under_the_mean_is_not_counted(softer_db, expected_lufs):
    """BS.1770-5 eq. 5 and 6, by hand: half at -20 LUFS, half softer, their mean 2.7 or 2.8 under.

    The gate then lies at -32.7 or -32.8 LUFS: between the two.
    """
    signal = segments([(-20.0, 20.0), (-20.0 + softer_db, 20.0)])
    # Blocks across the steps take off 0.07 LU: two steps on a circle, one in a single pass.
    assert loudness_lufs(signal) == pytest.approx(expected_lufs, abs=0.1)
    assert loudness_lufs(signal) == pytest.approx(ebur128_lufs(signal), abs=0.05)


def test_what_lies_under_the_absolute_gate_is_not_counted():
    """BS.1770-5 eq. 3: blocks at or below -70 LKFS are left out, even if all else is silence."""
    assert loudness_lufs(tone(frames_of(1.0), 1000.0, -71.0)) == float("-inf")
    assert loudness_lufs(tone(frames_of(1.0), 1000.0, -69.0)) == pytest.approx(-69.0, abs=0.05)


@settings(deadline=None)
@given(
    st.lists(st.floats(-100.0, 0.0), min_size=1, max_size=40), st.floats(-40.0, -10.0)
)  # fmt: skip
def test_a_matching_gain_gives_that_loudness_or_stands_at_a_gate(levels_db, target_lufs):
    powers = 10.0 ** (np.array(levels_db) / 10.0)
    gain_db = matching_gain_db(powers, target_lufs)
    reached = integrated_lufs(powers * 10.0 ** (gain_db / 10.0))
    below, above = (
        integrated_lufs(powers * 10.0 ** ((gain_db + nudge) / 10.0)) for nudge in (-0.05, 0.05)
    )
    at_a_gate = above - below > 0.1 + 1e-6 or above < below
    assert reached == pytest.approx(target_lufs, abs=0.01) or at_a_gate


@settings(deadline=None, max_examples=30)
@given(st.floats(-40.0, 12.0))
def test_a_gain_moves_the_loudness_by_as_much(gain_db):
    loop = MUSIC["band"]
    moved = loudness_lufs(as_samples(loop * np.float32(db_to_gain(gain_db))))
    assert moved - loudness_lufs(loop) == pytest.approx(gain_db, abs=1e-3)


@pytest.mark.parametrize("frames", [960, 19_200, 96_001])
def test_blocks_lie_evenly_all_round(frames):
    """Every sample counts as often as every other: the mean of the blocks is the mean power."""
    loop = noise(frames, 10)
    powers = block_powers(loop)
    assert len(powers) == max(1, round(frames / 240))
    k_b = np.convolve(loudness.STAGE_1_B, loudness.STAGE_2_B)
    k_a = np.convolve(loudness.STAGE_1_A, loudness.STAGE_2_A)
    gain = np.abs(
        np.polyval(k_b[::-1], np.exp(-2j * np.pi * np.fft.rfftfreq(frames)))
        / np.polyval(k_a[::-1], np.exp(-2j * np.pi * np.fft.rfftfreq(frames)))
    )
    weighted = np.fft.irfft(
        np.fft.rfft(loop.astype(np.float64), axis=0) * gain[:, None], frames, axis=0
    )
    # Steps differ by a sample where frames are no multiple of 240.
    assert powers.mean() == pytest.approx(float(np.mean((weighted**2).sum(axis=1))), rel=2e-3)
