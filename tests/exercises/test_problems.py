"""What each kind of problem does to a part, and what taking a named one out again leaves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.compressor import levels_db
from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.equaliser import filter_loop, peaking
from exercises.kinds import Kind
from exercises.loudness import passage_lufs
from exercises.problems import (
    SQUASH_TIMING,
    Problem,
    apply_problem,
    squash_gain_db,
    undo_named,
)
from exercises.samples import as_samples, db_to_gain
from exercises.spectrum import difference, slice_powers
from tests.synthetic_loops import bursts, frames_of, kicks, noise, small_band

BAND = small_band(2.0).mix()
PARTS = {
    "band": BAND,
    "kicks": kicks(frames_of(2.0)),
    "bursts of an odd length": bursts(frames_of(2.0) + 7, 2),
    "noise": noise(frames_of(2.0), 3),
}
ON_ALL = pytest.mark.parametrize("part", list(PARTS.values()), ids=list(PARTS))


def rms(samples):
    return float(np.sqrt(np.mean(samples.astype(np.float64) ** 2)))


@pytest.mark.parametrize(("kind", "sign"), [(Kind.TOO_MUCH, 1.0), (Kind.TOO_LITTLE, -1.0)])
@pytest.mark.parametrize("freq_hz", [63.1, 251.2, 3981.1])
def test_tone_is_boosted_or_cut_at_its_frequency(kind, sign, freq_hz):
    sound = apply_problem(PARTS["noise"], Problem(kind, 9.0, freq_hz, 1.0))
    found = difference(sound, PARTS["noise"])
    peak_db = found.third_octave_db[int(np.abs(found.third_octave_db).argmax())]
    # The third octave round the centre averages the top of the curve.
    assert sign * peak_db == pytest.approx(9.0, abs=0.4)


@pytest.mark.parametrize(("kind", "gain_db"), [(Kind.TOO_LOUD, 6.0), (Kind.TOO_QUIET, -6.0)])
def test_level_is_turned_and_nothing_else(kind, gain_db):
    sound = apply_problem(BAND, Problem(kind, 6.0))
    np.testing.assert_allclose(sound, BAND * db_to_gain(gain_db), atol=1e-7)


@ON_ALL
def test_nothing_is_nothing_but_goes_through_a_filter(part):
    sound = apply_problem(part, Problem(Kind.NOTHING, 0.0))
    assert sound is not part
    assert np.abs(sound - part).max() <= 6e-8


@ON_ALL
@pytest.mark.parametrize("size_db", [0.1, 1.0, 2.4, 2.6, 6.0, 18.0])
def test_a_squash_reaches_its_size_for_a_tenth_of_the_time_that_the_part_sounds(part, size_db):
    gain_db = squash_gain_db(part, size_db)
    levels = levels_db(part, SQUASH_TIMING)
    sounding = gain_db[levels > levels.max() - 40.0]
    assert np.mean(-sounding >= size_db - 1e-9) == pytest.approx(0.1, abs=0.01)
    assert gain_db.max() <= 0.0


def test_a_part_struck_once_is_squashed_as_much_as_one_struck_often():
    """Silence round a single hit does not count: 0.5 s of sound in 8 s."""
    often, once = bursts(frames_of(1.0), 4, beat_s=1.0), np.zeros((frames_of(8.0), 2), np.float32)
    once[: frames_of(1.0)] = often
    hit = slice(0, frames_of(0.05))
    reduction = {
        name: rms(part[hit]) / rms(apply_problem(part, Problem(Kind.SQUASHED, 9.0))[hit])
        for name, part in {"often": often, "once": as_samples(once)}.items()
    }
    assert 20.0 * np.log10(reduction["once"] / reduction["often"]) == pytest.approx(0.0, abs=0.5)
    assert 1.5 < reduction["once"] < db_to_gain(12.0)


@pytest.mark.parametrize("name", demo_loop_names())
def test_a_squash_flattens_a_mix(name):
    """Less crest (peak to RMS), and loud and soft tenths of a second nearer to one another."""
    mix = demo_loop(name).mix()
    sound = apply_problem(mix, Problem(Kind.SQUASHED, 9.0))
    crest, squashed_crest = (np.abs(x).max() / rms(x) for x in (mix, sound))
    assert 20.0 * np.log10(squashed_crest / crest) < -1.0
    ranges_db = [
        np.ptp(10.0 * np.log10(np.quantile(slice_powers(x), [0.2, 0.9]))) for x in (mix, sound)
    ]
    assert ranges_db[1] < 0.75 * ranges_db[0]


@pytest.mark.parametrize(
    "problem",
    [
        Problem(Kind.TOO_MUCH, 12.0, 186.0, 1.4),
        Problem(Kind.TOO_LITTLE, 12.0, 60.0, 4.0),
        Problem(Kind.TOO_MUCH, 9.0, 12_000.0, 0.7),
        Problem(Kind.TOO_LOUD, 6.0),
        Problem(Kind.TOO_QUIET, 12.0),
        Problem(Kind.NOTHING, 0.0),
    ],
    ids=lambda problem: f"{problem.kind} {problem.freq_hz}",
)
@ON_ALL
def test_the_right_answer_taken_out_gives_the_part_again(part, problem):
    sound = apply_problem(part, problem)
    again = undo_named(part, sound, problem, problem)
    # Twice rounded to float32, the second time turned up by the cut that is undone: 24 bits.
    assert np.abs(again - part).max() < 1e-6 * db_to_gain(12.0)


@ON_ALL
@pytest.mark.parametrize("size_db", [3.0, 9.0, 18.0])
def test_a_squash_named_is_taken_off(part, size_db):
    truth = Problem(Kind.SQUASHED, size_db)
    sound = apply_problem(part, truth)
    again = undo_named(part, sound, truth, Problem(Kind.SQUASHED, 6.0))
    assert np.abs(again - part).max() < 1e-6


def test_a_squash_named_where_none_was_lifts_what_is_loud():
    truth = Problem(Kind.NOTHING, 0.0)
    lifted = undo_named(PARTS["kicks"], PARTS["kicks"], truth, Problem(Kind.SQUASHED, 6.0))
    steps_db = 20.0 * np.log10(np.abs(lifted[:4_800]).max() / np.abs(PARTS["kicks"][:4_800]).max())
    assert 3.0 < steps_db < 9.0
    quiet = slice(frames_of(0.4), frames_of(0.45))
    np.testing.assert_allclose(lifted[quiet], PARTS["kicks"][quiet], atol=1e-6)


@pytest.mark.parametrize(
    ("named", "gain_db"),
    [
        (Problem(Kind.TOO_MUCH, 6.0, 400.0, 2.0), -6.0),
        (Problem(Kind.TOO_LITTLE, 6.0, 400.0, 2.0), 6.0),
    ],
    ids=["too much is cut", "too little is boosted"],
)
def test_a_wrong_frequency_is_moved_as_a_mixer_would(named, gain_db):
    truth = Problem(Kind.TOO_MUCH, 9.0, 200.0, 1.4)
    sound = apply_problem(BAND, truth)
    moved = undo_named(BAND, sound, truth, named)
    np.testing.assert_array_equal(moved, filter_loop(sound, peaking(400.0, gain_db, 2.0)))


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(Kind), st.floats(0.1, 18.0), st.floats(25.0, 17_500.0), st.floats(0.3, 12.0))
def test_any_problem_leaves_its_part_alone_and_finite(kind, size_db, freq_hz, q):
    part = PARTS["kicks"]
    kept = part.copy()
    sound = apply_problem(part, Problem(kind, size_db, freq_hz, q))
    np.testing.assert_array_equal(part, kept)
    assert np.isfinite(sound).all()
    assert sound.shape == part.shape
    assert sound.dtype == np.float32


def damped_then_open_guitar():
    """The driven guitar of a demo loop, and its two passages."""
    for name in demo_loop_names():
        loop = demo_loop(name)
        passages = {passage.name: passage for passage in loop.passages}
        if {"damped strokes", "open chords"} <= passages.keys():
            guitar = loop.track("guitar").samples
            return guitar, passages["damped strokes"], passages["open chords"]
    raise AssertionError("no demo loop has the passages 'damped strokes' and 'open chords'")


@pytest.mark.parametrize("q", [1.0, 1.4, 2.0])
def test_a_cut_at_186_hz_thins_the_damped_strokes_and_hardly_the_open_chords(q):
    """Common practice, no source: a driven guitar's damped strokes build up at 186 Hz.

    6 dB taken out there lowers the damped passage, in LU, by at least twice what it lowers the
    open one: a level problem that was a tone problem.
    """
    guitar, damped, open_chords = damped_then_open_guitar()
    cut = apply_problem(guitar, Problem(Kind.TOO_LITTLE, 6.0, 186.0, q))
    lowered = {
        passage.name: passage_lufs(guitar, passage.start_frame, passage.stop_frame)
        - passage_lufs(cut, passage.start_frame, passage.stop_frame)
        for passage in (damped, open_chords)
    }
    assert lowered["damped strokes"] >= 2.0 * lowered["open chords"]
    # And by enough to be heard as level: half a dB is near the limit for a tone (Moore).
    assert lowered["damped strokes"] > 0.5
