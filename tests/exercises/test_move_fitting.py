"""The moves that were made are found again: on every demo loop, and of every kind."""

from __future__ import annotations

import random

import numpy as np
import pytest

from exercises.compressor import Timing
from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.fixing import fix_question, stems_of
from exercises.kinds import TONE, Kind
from exercises.loops import Passage
from exercises.measured_change import time_change
from exercises.move_fitting import fit_moves, smallest_fix
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
)
from exercises.problems import Problem
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.residual import residual
from exercises.samples import as_samples
from exercises.time_fitting import find_spans, fit_rides, spread_db
from tests.synthetic_loops import bursts, frames_of, noise

LOOPS = pytest.mark.parametrize("name", demo_loop_names())
ONE_MOVE = [
    EqPoint(186.0, -6.0, 1.4),
    EqPoint(63.0, 3.0, 4.0),
    EqPoint(3_000.0, -9.0, 6.0),
    EqPoint(11_000.0, 5.0, 0.8),
    LowShelf(118.0, 4.2),
    HighShelf(5_000.0, -3.0),
]


def assert_same(found, made):
    """Within a twelfth of an octave, 0.5 dB, and 20 % of Q."""
    assert type(found) is type(made)
    assert abs(np.log2(found.freq_hz / made.freq_hz)) < 1 / 12
    assert found.gain_db == pytest.approx(made.gain_db, abs=0.5)
    if isinstance(made, EqPoint):
        assert found.q == pytest.approx(made.q, rel=0.2)


@LOOPS
@pytest.mark.parametrize("made", ONE_MOVE, ids=describe)
def test_one_known_move_is_returned_on_every_demo_loop(name, made):
    loop = demo_loop(name)
    mix = loop.mix()
    found = fit_moves(mix, apply_move(mix, made), loop.passages)
    (move,) = found.fix
    assert_same(move, made)
    assert found.level_db == pytest.approx(0.0, abs=0.1)
    assert found.error_db < 0.05 < found.unexplained_db


@LOOPS
def test_a_ride_is_told_from_a_change_of_tone_on_every_demo_loop(name):
    loop = demo_loop(name)
    mix = loop.mix()
    made = Ride(-3.0, loop.passages[0])
    (move,) = fit_moves(mix, apply_move(mix, made), loop.passages).fix
    assert isinstance(move, Ride)
    assert move.passage == made.passage
    assert move.gain_db == pytest.approx(-3.0, abs=0.05)


@LOOPS
def test_a_question_in_tone_is_mended_by_one_move_on_every_demo_loop(name):
    """Drawn at random: kind, band, size, track or mix; levels matched as they are played."""
    loop = demo_loop(name)
    source = random.Random(demo_loop_names().index(name))
    kind = (Kind.TOO_MUCH, Kind.TOO_LITTLE)[int(source.random() * 2)]
    freq_hz, size_db = 100.0 * 2.0 ** (source.random() * 6.0), 4.0 + 6.0 * source.random()
    track = (None, loop.tracks[-1].name)[int(source.random() * 2)]
    recipe = Recipe(1, name, loop.fingerprint, kind, size_db, freq_hz, 1.4, track)
    question = make_question(recipe, loop)
    fix = smallest_fix(question, loop)
    (move,) = fix
    assert_same(move, EqPoint(freq_hz, -size_db if kind is Kind.TOO_MUCH else size_db, 1.4))
    assert move.track == track
    fixed = fix_question(question, stems_of(question, loop), fix)
    assert not residual(fixed, question.a, loop.passages).heard


FERRY = "ferry-crossing"


def ferry():
    loop = demo_loop(FERRY)
    return loop.mix(), loop.passages


@pytest.mark.parametrize(
    "made",
    [
        Compressor(6.0),
        Compressor(3.0, Timing(0.010, 0.100), 2.5),
        Compressor(5.0, Timing(0.030, 0.300), 6.0),
        Expander(5.0),
    ],
    ids=lambda move: f"{describe(move)} {move.timing.attack_s}",
)
def test_a_compressor_and_an_expander_are_told_from_rides_and_tone(made):
    mix, passages = ferry()
    (move,) = fit_moves(mix, apply_move(mix, made), passages).fix
    assert type(move) is type(made)
    assert move.size_db == pytest.approx(made.size_db, abs=0.5)
    assert move.timing == made.timing


@pytest.mark.parametrize("timing", [Timing(0.004, 0.120), Timing(0.020, 0.250)])
def test_a_compressor_of_other_timing_is_still_one(timing):
    mix, passages = ferry()
    found = fit_moves(mix, apply_move(mix, Compressor(6.0, timing, 4.0)), passages)
    assert sum(isinstance(move, Compressor) for move in found.fix) == 1
    assert len(found.fix) <= 2
    assert found.error_db < 0.25 * found.unexplained_db


@pytest.mark.parametrize(
    "made",
    [
        (EqPoint(300.0, -5.0, 1.0), Compressor(5.0)),
        (Compressor(5.0), EqPoint(300.0, -5.0, 1.0)),
    ],
    ids=["EQ before", "EQ after"],
)
def test_a_compressor_with_eq_before_or_after_it(made):
    mix, passages = ferry()
    found = fit_moves(mix, apply_moves(mix, made), passages).fix
    assert [type(move) for move in found] == [type(move) for move in made]
    for move, known in zip(found, made, strict=True):
        if isinstance(known, EqPoint):
            assert_same(move, known)
        else:
            assert move.size_db == pytest.approx(known.size_db, abs=0.5)


def test_a_ride_and_eq_together_and_no_passage_moved_that_was_not():
    mix, passages = ferry()
    made = (EqPoint(3_000.0, 4.0, 1.4), Ride(2.0, passages[1]))
    found = {type(move): move for move in fit_moves(mix, apply_moves(mix, made), passages).fix}
    assert set(found) == {EqPoint, Ride}
    assert_same(found[EqPoint], made[0])
    assert found[Ride].passage == passages[1]
    assert found[Ride].gain_db == pytest.approx(2.0, abs=0.1)


def test_four_moves_of_tone():
    mix, passages = ferry()
    made = (
        EqPoint(9_000.0, 3.0, 0.8),
        EqPoint(400.0, -3.0, 1.4),
        EqPoint(120.0, 2.5, 1.0),
        EqPoint(2_500.0, 2.0, 1.0),
    )
    found = fit_moves(mix, apply_moves(mix, made), passages)
    for move, known in zip(found.fix, made, strict=True):
        assert_same(move, known)


@pytest.mark.parametrize("gain", [1.0, 0.4, -1.0])
def test_a_level_is_no_move(gain):
    mix, passages = ferry()
    found = fit_moves(mix, as_samples(np.float32(gain) * mix), passages)
    assert found.fix == ()
    assert found.level_db == pytest.approx(20.0 * np.log10(abs(gain)), abs=0.01)


def test_other_lengths_are_refused():
    mix, passages = ferry()
    with pytest.raises(ValueError, match="differ: align them first"):
        fit_moves(mix, mix[:-1], passages)


@pytest.mark.parametrize(
    ("kind", "gain_db"), [(Kind.TOO_LOUD, -4.0), (Kind.TOO_QUIET, 4.0)], ids=["loud", "quiet"]
)
def test_a_question_of_level_is_one_ride(kind, gain_db):
    loop = demo_loop(FERRY)
    recipe = Recipe(1, FERRY, loop.fingerprint, kind, 4.0, track="guitar")
    assert smallest_fix(make_question(recipe, loop), loop) == (Ride(gain_db, None, "guitar"),)


def test_a_squashed_track_is_mended_by_lifting_what_is_loud_and_nothing_by_nothing():
    loop = demo_loop(FERRY)
    squashed = make_question(
        Recipe(1, FERRY, loop.fingerprint, Kind.SQUASHED, 8.0, track="guitar", alone=True), loop
    )
    (move,) = smallest_fix(squashed, loop)
    assert isinstance(move, Expander)
    fixed = fix_question(squashed, stems_of(squashed, loop), (move,))
    before, after = (residual(x, squashed.a, loop.passages).moment_db for x in (squashed.b, fixed))
    # What a compressor took, an expander gives back in part: it no longer hears the peaks.
    assert after < 0.7 * before
    nothing = make_question(Recipe(1, FERRY, loop.fingerprint, Kind.NOTHING, 0.0), loop)
    assert nothing.recipe.kind not in TONE
    assert smallest_fix(nothing, loop) == ()


@pytest.mark.parametrize("kind", [Kind.SQUASHED, Kind.LIFTED], ids=str)
def test_what_a_change_over_time_leaves_is_not_painted_over_with_eq(kind):
    loop = demo_loop(FERRY)
    question = make_question(Recipe(1, FERRY, loop.fingerprint, kind, 6.0), loop)
    (move,) = smallest_fix(question, loop)
    assert isinstance(move, Expander if kind is Kind.SQUASHED else Compressor)


def test_a_level_in_one_passage_is_a_ride_of_that_passage():
    loop = demo_loop(FERRY)
    passage = loop.passages[0].name
    recipe = Recipe(1, FERRY, loop.fingerprint, Kind.TOO_LOUD, 4.0, track="guitar", passage=passage)
    (move,) = smallest_fix(make_question(recipe, loop), loop)
    assert isinstance(move, Ride)
    assert move.track == "guitar"
    assert move.passage == loop.passages[0]
    assert move.gain_db == pytest.approx(-4.0, abs=0.1)


def test_two_problems_at_once_are_two_moves():
    loop = demo_loop(FERRY)
    recipe = Recipe(
        1,
        FERRY,
        loop.fingerprint,
        Kind.TOO_MUCH,
        6.0,
        200.0,
        1.0,
        second=Problem(Kind.TOO_LITTLE, 5.0, 3_000.0, 1.4),
    )
    found = smallest_fix(make_question(recipe, loop), loop)
    assert len(found) == 2
    assert_same(found[0], EqPoint(200.0, -6.0, 1.0))
    assert_same(found[1], EqPoint(3_000.0, 5.0, 1.4))


THIRDS = tuple(
    Passage(name, frames_of(start), frames_of(start + 2.0))
    for name, start in (("one", 0.0), ("two", 2.0), ("three", 4.0))
)
STRUCK = as_samples(bursts(frames_of(6.0), 3) + noise(frames_of(6.0), 4, rms_dbfs=-30.0))


@pytest.mark.parametrize(
    ("gains_db", "level_db", "expected"),
    [
        ((0.0, 3.0, 0.0), 0.0, {"two": 3.0}),
        ((0.0, 3.0, 0.0), -5.0, {"two": 3.0}),
        ((-2.0, 0.0, 3.0), 0.0, {"one": -2.0, "three": 3.0}),
        ((3.0, 3.0, 0.0), 0.0, {"one": 3.0, "two": 3.0}),
        # With nothing left where it was, as few passages as possible are said to have moved.
        ((3.0, 3.0, 0.0), -5.0, {"three": -3.0}),
        ((0.2, 0.0, 0.0), 0.0, {}),
    ],
)
def test_rides_are_the_fewest_from_what_stood_still(gains_db, level_db, expected):
    made = [Ride(gain, third) for gain, third in zip(gains_db, THIRDS, strict=True)]
    after = apply_moves(STRUCK, [*made, Ride(level_db)])
    rides, left_db = fit_rides(time_change(STRUCK, after), THIRDS)
    found = {ride.passage.name: ride.gain_db for ride in rides}
    assert found == pytest.approx(expected, abs=0.05)
    assert left_db < 0.1


def test_spans_are_found_where_a_fader_was_moved():
    edges_s = (1.5, 4.25)
    span = Passage("x", frames_of(edges_s[0]), frames_of(edges_s[1]))
    after = apply_moves(STRUCK, [Ride(-2.5, span), EqPoint(300.0, 6.0, 1.0)])
    spans = find_spans(time_change(STRUCK, after), len(STRUCK))
    assert len(spans) == 3
    assert spans[0].start_frame == 0
    assert spans[-1].stop_frame == len(STRUCK)
    for found, edge_s in zip(spans[1:], edges_s, strict=True):
        assert found.start_frame / 48_000 == pytest.approx(edge_s, abs=0.1)


def test_a_change_of_tone_alone_is_steady_over_time():
    mix, _ = ferry()
    change = time_change(mix, apply_move(mix, EqPoint(186.0, -6.0, 1.4)))
    assert spread_db(change) < 0.1
    assert len(find_spans(change, len(mix))) == 1
