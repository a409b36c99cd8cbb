"""Each move done to plain arrays, and fixes done to the tracks of a question."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from exercises.compressor import Timing, levels_db
from exercises.demo_loops import demo_loop
from exercises.equaliser import filter_loop, peaking
from exercises.fixing import apply_fix, fix_question, stems_of
from exercises.kinds import Kind
from exercises.loops import Passage, Track
from exercises.loudness import loudness_lufs
from exercises.moves import (
    Compressor,
    EqPoint,
    Expander,
    HighShelf,
    LowShelf,
    Ride,
    apply_move,
    apply_moves,
    describe,
    dynamics_gains,
    ride_gains,
)
from exercises.problems import Problem, apply_problem
from exercises.question import HIGHEST_PEAK_DBTP, make_question
from exercises.recipe import Recipe
from exercises.samples import as_samples, db_to_gain, gain_to_db
from exercises.spectrum import difference
from exercises.true_peak import true_peak
from tests.synthetic_loops import bursts, frames_of, kicks, loop_of, noise, tone

FRAMES = frames_of(3.0)
SECOND = Passage("second", frames_of(1.0), frames_of(2.0))
LAST = Passage("last", frames_of(2.0), FRAMES)
EVERY_MOVE = [
    EqPoint(186.0, -6.0, 1.4),
    LowShelf(118.0, 4.2),
    HighShelf(366.0, 4.6),
    EqPoint(186.0, -6.0, 1.4, passage=SECOND),
    Ride(-3.0),
    Ride(4.0, SECOND),
    Ride(-9.0, LAST),
    Compressor(6.0),
    Compressor(4.0, Timing(0.01, 0.1), 2.0),
    Expander(6.0),
]
ON_EVERY_MOVE = pytest.mark.parametrize("move", EVERY_MOVE, ids=describe)


def struck():
    return as_samples(bursts(FRAMES, 3) + 0.1 * noise(FRAMES, 4))


# Whole blocks of the detector, which do not turn with the loop.
@pytest.mark.parametrize("turned", [16, 40_000])
@pytest.mark.parametrize(
    "move",
    [move for move in EVERY_MOVE if getattr(move, "passage", None) is not LAST],
    ids=describe,
)
def test_where_the_loop_is_cut_changes_nothing(move, turned):
    loop = struck()
    moved = move
    if isinstance(move, EqPoint | Ride) and move.passage is not None:
        start, stop = move.passage.start_frame + turned, move.passage.stop_frame + turned
        moved = dataclasses.replace(move, passage=Passage("there", start, stop))
    ours = apply_move(as_samples(np.roll(loop, turned, axis=0)), moved)
    assert np.abs(ours - np.roll(apply_move(loop, move), turned, axis=0)).max() < 2e-6


@ON_EVERY_MOVE
def test_a_move_leaves_its_input_alone_and_gives_samples(move):
    loop = struck()
    kept = loop.copy()
    moved = apply_move(loop, move)
    np.testing.assert_array_equal(loop, kept)
    assert moved.dtype == np.float32
    assert moved.shape == loop.shape
    assert np.abs(moved - loop).max() > 1e-3


def test_an_eq_point_is_the_equalisers_peaking_filter():
    loop = noise(FRAMES, 5)
    np.testing.assert_array_equal(
        apply_move(loop, EqPoint(186.0, -6.0, 1.4)), filter_loop(loop, peaking(186.0, -6.0, 1.4))
    )


def test_a_point_in_one_passage_is_the_same_filter_there_and_nothing_elsewhere():
    """By ``hand_weight``: there from the passage's first frame, gone by its last."""
    sound = struck()
    here = apply_move(sound, EqPoint(186.0, -6.0, 1.4, passage=SECOND))
    whole = apply_move(sound, EqPoint(186.0, -6.0, 1.4))
    inside = slice(SECOND.start_frame + frames_of(0.1), SECOND.stop_frame - frames_of(0.2))
    np.testing.assert_allclose(here[inside], whole[inside], atol=1e-4)
    after = slice(LAST.start_frame + frames_of(0.1), LAST.stop_frame)
    np.testing.assert_allclose(here[after], sound[after], atol=1e-4)
    assert np.abs(here[inside] - sound[inside]).max() > 0.01


def test_moves_on_one_array_follow_one_another():
    loop = noise(FRAMES, 6)
    both = apply_moves(loop, [EqPoint(186.0, -6.0), EqPoint(186.0, 6.0)])
    assert np.abs(both - loop).max() < 1e-6


@pytest.mark.parametrize("gain_db", [6.0, -6.0])
def test_a_ride_moves_its_passage_and_no_other_but_for_its_ramp(gain_db):
    gains = ride_gains(FRAMES, SECOND, gain_db)
    ramp = frames_of(0.150)
    inside = gains[SECOND.start_frame : SECOND.stop_frame - ramp]
    np.testing.assert_allclose(inside, db_to_gain(gain_db), rtol=1e-6)
    np.testing.assert_array_equal(gains[: SECOND.start_frame - ramp], 1.0)
    np.testing.assert_array_equal(gains[SECOND.stop_frame :], 1.0)


@pytest.mark.parametrize("passage", [SECOND, LAST], ids=["inside", "up to the seam"])
def test_a_ride_ramps_over_150_ms_and_is_there_at_the_bar_line(passage):
    """The steepest step of a raised cosine is pi/2 of an even one; 12 dB in 7200 samples."""
    gains_db = 20.0 * np.log10(ride_gains(FRAMES, passage, 12.0))
    steps_db = np.abs(np.diff(np.append(gains_db, gains_db[0])))
    assert steps_db.max() < 1.01 * 12.0 / 7200 * np.pi / 2.0
    assert gains_db[passage.start_frame] == pytest.approx(12.0, abs=0.001)
    assert gains_db[passage.stop_frame % FRAMES] == pytest.approx(0.0, abs=0.001)


@pytest.mark.parametrize("track", [None, "guitar"])
def test_a_ride_undoes_a_level_problem_of_one_passage(track):
    """Nothing is left of it but the rounding of float32."""
    loop = demo_loop("ferry-crossing")
    passage = loop.passages[0]
    recipe = Recipe(
        1,
        loop.name,
        loop.fingerprint,
        Kind.TOO_LOUD,
        4.0,
        track=track,
        passage=passage.name,
    )
    question = make_question(recipe, loop)
    fixed = fix_question(question, stems_of(question, loop), [Ride(-4.0, passage, track)])
    matched = question.a * np.float32(np.vdot(question.a, fixed) / np.vdot(question.a, question.a))
    assert np.abs(fixed - matched).max() < 1e-5


def test_a_ride_makes_no_click():
    """A 100 Hz tone ridden by 12 dB: nothing above 2 kHz but what its ramp must have."""
    sound = tone(FRAMES, 100.0, -12.0)
    ridden = apply_move(sound, Ride(12.0, SECOND))
    cut = sound * np.where((np.arange(FRAMES) // 48_000) == 1, 4.0, 1.0)[:, None]
    above = [
        np.sum(np.abs(np.fft.rfft(samples[:, 0].astype(np.float64))[6_000:]) ** 2)
        for samples in (ridden, cut)
    ]
    assert above[0] < 1e-4 * above[1]


def test_a_very_short_passage_still_keeps_within_its_neighbours():
    gains = ride_gains(4_800, Passage("blip", 100, 110), 6.0)
    assert gains.max() <= db_to_gain(6.0) * (1.0 + 1e-6)
    assert np.count_nonzero(gains != 1.0) <= 20


@pytest.mark.parametrize(
    "passage", [Passage("x", -1, 5), Passage("x", 5, 5), Passage("x", 0, FRAMES + 1)]
)
def test_a_passage_outside_the_sound_is_refused(passage):
    with pytest.raises(ValueError, match="does not lie within"):
        ride_gains(FRAMES, passage, 3.0)


@pytest.mark.parametrize("size_db", [1.0, 3.0, 9.0])
@pytest.mark.parametrize(
    ("kind", "ratio"), [(Compressor, 2.0), (Compressor, 6.0), (Expander, 1.5), (Expander, 6.0)]
)
def test_size_is_reached_a_tenth_of_the_time_that_the_sound_lasts(kind, ratio, size_db):
    loop = struck()
    move = kind(size_db, Timing(0.001, 0.150), ratio)
    gains_db = 20.0 * np.log10(dynamics_gains(loop, move))[15::16]
    levels = levels_db(loop, move.timing)
    sounding = gains_db[levels > levels.max() - 40.0]
    reached = np.mean(np.abs(sounding) >= size_db - 1e-3)
    assert reached == pytest.approx(0.1, abs=0.01)
    assert (gains_db.max() < 1e-4) if kind is Compressor else (gains_db.min() > -1e-4)


def test_a_compressor_of_the_questions_ratio_is_the_questions_squash():
    loop = struck()
    squashed = apply_problem(loop, Problem(Kind.SQUASHED, 6.0))
    assert np.abs(apply_move(loop, Compressor(6.0)) - squashed).max() < 1e-6


@pytest.mark.parametrize("kind", [Compressor, Expander])
@pytest.mark.parametrize("ratio", [1.0, 0.5, float("nan")])
def test_a_ratio_that_does_nothing_is_refused(kind, ratio):
    with pytest.raises(ValueError, match="no compressor or expander with ratio"):
        apply_move(struck(), kind(3.0, Timing(0.001, 0.1), ratio))


@pytest.mark.parametrize(
    ("move", "words"),
    [
        (EqPoint(186.0, -6.0, 1.4, "guitar"), "cut 6 dB at 186 Hz, Q 1.4, on the guitar"),
        (EqPoint(3_200.0, 2.54, 0.7), "boost 2.5 dB at 3.2 kHz, Q 0.7"),
        (LowShelf(118.0, 4.2), "low shelf up 4.2 dB below 118 Hz"),
        (HighShelf(8_000.0, -3.0), "high shelf down 3 dB above 8 kHz"),
        (Ride(-2.0, SECOND), "ride down 2 dB in 'second'"),
        (Ride(2.0), "ride up 2 dB"),
        (Compressor(3.0), "compress by 3 dB"),
        (Expander(3.0, track="bass"), "lift the loud parts by 3 dB, on the bass"),
    ],
)
def test_a_move_is_said_as_a_mixer_would(move, words):
    assert describe(move) == words


STEMS = (
    Track("drums", kicks(FRAMES)),
    Track("keys", noise(FRAMES, 7, rms_dbfs=-26.0)),
)


def test_a_fix_moves_its_track_and_leaves_the_other():
    moved = apply_fix(STEMS, [EqPoint(500.0, -9.0, 1.0, "keys")], made_up=False)
    expected = STEMS[0].samples + apply_move(STEMS[1].samples, EqPoint(500.0, -9.0, 1.0))
    assert np.abs(moved - expected).max() < 1e-6


def test_a_changed_track_keeps_its_loudness_but_for_its_fader():
    only = (STEMS[1],)
    before = loudness_lufs(STEMS[1].samples)
    filtered = apply_fix(only, [LowShelf(300.0, -12.0, "keys")])
    assert loudness_lufs(filtered) == pytest.approx(before, abs=0.01)
    ridden = apply_fix(only, [Ride(-4.0, None, "keys"), LowShelf(300.0, -12.0, "keys")])
    assert loudness_lufs(ridden) == pytest.approx(before - 4.0, abs=0.01)


def test_the_mix_is_moved_after_its_tracks():
    fix = [Compressor(6.0), EqPoint(60.0, -9.0, 1.0, "drums")]
    tracks_first = apply_fix(STEMS, [fix[1]])
    assert np.abs(apply_fix(STEMS, fix) - apply_move(tracks_first, fix[0])).max() < 1e-6


def test_a_move_on_a_track_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="no track 'oboe' to move; there are drums, keys"):
        apply_fix(STEMS, [Ride(1.0, None, "oboe")])


SMALL_BAND = loop_of(
    ("drums", as_samples(kicks(FRAMES) + bursts(FRAMES, 8))),
    ("bass", tone(FRAMES, 82.0, -18.0)),
    ("keys", noise(FRAMES, 9, rms_dbfs=-28.0)),
)
PROBLEMS = [
    Problem(Kind.TOO_MUCH, 9.0, 186.0, 1.4),
    Problem(Kind.TOO_LITTLE, 6.0, 2_000.0, 1.0),
    Problem(Kind.SQUASHED, 6.0),
    Problem(Kind.TOO_LOUD, 3.0),
    Problem(Kind.NOTHING, 0.0),
]


def asked(problem, track, *, alone=False, loop=SMALL_BAND):
    recipe = Recipe(
        1,
        loop.name,
        loop.fingerprint,
        problem.kind,
        problem.size_db,
        problem.freq_hz,
        problem.q,
        track,
        alone,
    )
    return make_question(recipe, loop)


@pytest.mark.parametrize("problem", PROBLEMS, ids=lambda problem: problem.kind)
@pytest.mark.parametrize(
    ("track", "alone"),
    [(None, False), ("keys", False), ("keys", True)],
    ids=["whole mix", "in the mix", "alone"],
)
def test_the_stems_of_a_question_add_up_to_b(problem, track, alone):
    question = asked(problem, track, alone=alone)
    stems = stems_of(question, SMALL_BAND)
    names = ["keys"] if alone else ["drums", "bass", "keys"]
    assert [stem.name for stem in stems] == names
    total = np.sum([stem.samples for stem in stems], axis=0, dtype=np.float64)
    # Three float32 roundings of samples near full scale.
    assert np.abs(total - question.b).max() < 3e-7


@pytest.mark.parametrize("problem", PROBLEMS[:2], ids=lambda problem: problem.kind)
@pytest.mark.parametrize("track", [None, "keys"], ids=["whole mix", "in the mix"])
def test_the_right_move_gives_a_again(problem, track):
    question = asked(problem, track)
    gain_db = -problem.size_db if problem.kind is Kind.TOO_MUCH else problem.size_db
    fix = (EqPoint(problem.freq_hz, gain_db, problem.q, track),)
    fixed = fix_question(question, stems_of(question, SMALL_BAND), fix)
    # The loudness of a track in 24-bit steps is matched to some 1e-5 dB.
    assert difference(fixed, question.a).most_db < 0.01


def test_a_level_turned_back_gives_a_again_and_is_not_matched_away():
    question = asked(Problem(Kind.TOO_LOUD, 3.0), "keys")
    stems = stems_of(question, SMALL_BAND)
    fixed = fix_question(question, stems, (Ride(-3.0, None, "keys"),))
    assert np.abs(fixed - question.a).max() < 1e-6


def test_a_fixed_question_is_as_loud_as_a_and_under_the_peak_limit():
    loop = demo_loop("ferry-crossing")
    question = asked(Problem(Kind.TOO_MUCH, 6.0, 200.0, 1.0), "guitar", loop=loop)
    stems = stems_of(question, loop)
    fixed = fix_question(question, stems, (HighShelf(2_000.0, 12.0, "guitar"), LowShelf(80.0, 9.0)))
    assert gain_to_db(true_peak(fixed)) <= HIGHEST_PEAK_DBTP + 1e-4
    if gain_to_db(true_peak(fixed)) < HIGHEST_PEAK_DBTP - 0.01:
        assert loudness_lufs(fixed) == pytest.approx(loudness_lufs(question.a), abs=0.01)
