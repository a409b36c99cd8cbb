"""The four fixes to choose between play their roles, as their residuals show."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from exercises.audibility import MOMENT_CRITERION_DB
from exercises.candidate_moves import Role, spans_to_ride
from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.errors import BadRecipe
from exercises.fix_candidates import (
    LARGEST_SHELF_DB,
    fix_candidates,
    roles_hold,
    round_candidates,
    true_order,
)
from exercises.kinds import Kind
from exercises.loudness import loudness_lufs
from exercises.moves import Compressor, EqPoint, Expander, HighShelf, LowShelf, Ride, describe
from exercises.problems import Problem
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.residual import residual

FERRY = "ferry-crossing"


def asked(name, kind, size_db, freq_hz=None, q=None, **place):
    loop = demo_loop(name)
    recipe = Recipe(1, name, loop.fingerprint, kind, size_db, freq_hz, q, **place)
    return make_question(recipe, loop), loop


def asked_of(*fields, **place):
    return fields, place


def by_role(candidates):
    return {candidate.role: candidate for candidate in candidates}


@pytest.fixture(scope="module")
def mud_on_the_guitar():
    """The driven guitar's damped strokes build up low (common practice, no source)."""
    question, loop = asked(FERRY, Kind.TOO_MUCH, 6.0, 186.0, 1.0, track="guitar", alone=True)
    return question, fix_candidates(question, loop)


def test_there_are_four_in_the_order_of_the_roles(mud_on_the_guitar):
    _, candidates = mud_on_the_guitar
    assert [candidate.role for candidate in candidates] == list(Role)
    assert roles_hold(candidates)


def test_one_move_works_and_leaves_nothing(mud_on_the_guitar):
    one = by_role(mud_on_the_guitar[1])[Role.ONE_MOVE]
    (move,) = one.fix
    assert isinstance(move, EqPoint)
    assert move.track == "guitar"
    assert move.freq_hz == pytest.approx(186.0, rel=0.01)
    assert move.gain_db == pytest.approx(-6.0, abs=0.1)
    assert one.works
    assert one.judgement.now.excitation_db < 0.1


def test_two_moves_do_about_the_same_with_more(mud_on_the_guitar):
    two = by_role(mud_on_the_guitar[1])[Role.TWO_MOVES]
    low, high = two.fix
    assert isinstance(low, LowShelf)
    assert isinstance(high, HighShelf)
    # Boosts on both sides of a cut, and larger than the cut.
    assert low.freq_hz < 186.0 < high.freq_hz
    assert LARGEST_SHELF_DB > low.gain_db > 6.0
    assert LARGEST_SHELF_DB > high.gain_db > 6.0
    assert two.works
    assert two.judgement.now.excitation_db < 0.2 * two.judgement.wrong.excitation_db


def test_many_moves_even_out_the_passages_and_leave_the_tone(mud_on_the_guitar):
    many = by_role(mud_on_the_guitar[1])[Role.MANY_MOVES]
    assert all(isinstance(move, Ride) for move in many.fix)
    assert many.moves > 2
    assert many.judgement.wrong.most_lu > 0.5
    assert many.judgement.now.most_lu < 0.1
    assert not many.works
    assert many.judgement.left_excitation_db > 0.7 * many.judgement.wrong.excitation_db


def test_the_clever_one_is_heard_and_leaves_the_problem(mud_on_the_guitar):
    """Passages that differ in tone and not in level give a compressor nothing to work on."""
    clever = by_role(mud_on_the_guitar[1])[Role.CLEVER]
    (move,) = clever.fix
    assert isinstance(move, Compressor | Expander)
    assert move.size_db >= 2.9
    assert not clever.works
    assert clever.judgement.left_excitation_db > 0.7 * clever.judgement.wrong.excitation_db


def test_all_are_as_loud_as_a(mud_on_the_guitar):
    question, candidates = mud_on_the_guitar
    for candidate in candidates:
        assert loudness_lufs(candidate.sound) == pytest.approx(loudness_lufs(question.a), abs=0.05)


@pytest.mark.parametrize("name", demo_loop_names())
def test_mud_on_every_demo_loop_makes_a_round(name):
    """+4 dB at 200 Hz, Q 0.7, as in the two-shelf equivalent worked out on analogue prototypes."""
    question, loop = asked(name, Kind.TOO_MUCH, 4.0, 200.0, 0.7)
    candidates = by_role(fix_candidates(question, loop))
    one, two = candidates[Role.ONE_MOVE], candidates[Role.TWO_MOVES]
    assert one.works
    assert one.moves == 1
    assert two.works
    # The analogue fit says 118 Hz +4.2 dB and 366 Hz +4.6 dB where all frequencies count alike.
    low, high = two.fix
    assert low.freq_hz == pytest.approx(118.0, rel=0.1)
    assert low.gain_db == pytest.approx(4.2, abs=0.6)
    assert high.freq_hz == pytest.approx(366.0, rel=0.1)
    assert high.gain_db == pytest.approx(4.6, abs=0.6)
    assert not candidates[Role.CLEVER].works


@pytest.mark.parametrize("track", [None, "guitar"], ids=["mix", "track in the mix"])
def test_a_lack_is_boosted_or_all_round_it_is_cut(track):
    question, loop = asked(FERRY, Kind.TOO_LITTLE, 8.0, 800.0, 0.8, track=track)
    candidates = by_role(fix_candidates(question, loop))
    (boost,) = candidates[Role.ONE_MOVE].fix
    assert boost.gain_db == pytest.approx(8.0, abs=0.2)
    assert candidates[Role.ONE_MOVE].works
    assert all(move.gain_db < 0.0 for move in candidates[Role.TWO_MOVES].fix)
    assert candidates[Role.TWO_MOVES].works
    for candidate in candidates.values():
        assert {move.track for move in candidate.fix} == {track}


def test_where_a_role_fails_there_is_no_round(mud_on_the_guitar):
    _, candidates = mud_on_the_guitar
    parts = by_role(candidates)
    deaf = dataclasses.replace(parts[Role.CLEVER], judgement=parts[Role.ONE_MOVE].judgement)
    assert not roles_hold([*candidates[:3], deaf])
    few = dataclasses.replace(parts[Role.MANY_MOVES], fix=parts[Role.MANY_MOVES].fix[:2])
    assert not roles_hold([candidates[0], candidates[1], few, candidates[3]])
    worse = dataclasses.replace(parts[Role.TWO_MOVES], judgement=parts[Role.CLEVER].judgement)
    assert not roles_hold([candidates[0], worse, *candidates[2:]])


def test_a_narrow_peak_has_no_two_shelves_that_do():
    question, loop = asked(FERRY, Kind.TOO_MUCH, 9.0, 1_000.0, 8.0)
    candidates = fix_candidates(question, loop)
    assert by_role(candidates)[Role.ONE_MOVE].works
    assert not roles_hold(candidates)
    assert round_candidates(question, loop) is None


# Problems of other sorts: each row is (kind, size, where), and how the simplest is said

OTHERS = [
    (
        "tone in a passage",
        asked_of(Kind.TOO_MUCH, 6.0, 300.0, 1.0, passage="damped strokes"),
        "cut 6 dB at 300 Hz, Q 1 in 'damped strokes'",
    ),
    (
        "lack in a passage of a track",
        asked_of(Kind.TOO_LITTLE, 7.0, 400.0, 1.0, passage="open chords", track="guitar"),
        "boost 6.6 dB at 400 Hz, Q 0.98 in 'open chords', on the guitar",
    ),
    (
        "level of a passage",
        asked_of(Kind.TOO_LOUD, 5.0, passage="damped strokes", track="guitar"),
        "ride down 4.9 dB in 'damped strokes', on the guitar",
    ),
    ("level of a track", asked_of(Kind.TOO_LOUD, 5.0, track="keys"), "ride down 5 dB, on the keys"),
    ("lifted", asked_of(Kind.LIFTED, 6.0, track="drums"), "compress by 6.1 dB, on the drums"),
]


@pytest.fixture(scope="module", params=OTHERS, ids=lambda row: row[0])
def other(request):
    _, fields, said = request.param
    question, loop = asked(FERRY, *fields[0], **fields[1])
    return question, loop, fix_candidates(question, loop), said


def test_problems_of_every_sort_make_rounds_of_four(other):
    question, loop, candidates, said = other
    assert roles_hold(candidates)
    one, two, many, clever = candidates
    assert [describe(move) for move in one.fix] == [said]
    assert one.works
    assert two.works
    assert (one.moves, two.moves, clever.moves) == (1, 2, 1)
    assert many.moves > 2
    # Not by what the candidate says of itself, but by what would be heard of it beside A.
    assert residual(clever.sound, question.a, loop.passages).heard
    assert not residual(one.sound, question.a, loop.passages).heard
    for candidate in candidates:
        assert loudness_lufs(candidate.sound) == pytest.approx(loudness_lufs(question.a), abs=0.05)


def test_what_works_comes_first_then_the_fewest_moves(other):
    _, _, candidates, _ = other
    order = true_order(candidates)
    assert order[:2] == (0, 1)
    ranks = [(not candidates[place].works, candidates[place].moves) for place in order]
    assert ranks == sorted(ranks)


def test_squashed_is_undone_by_a_lift_where_one_can():
    """A lift cannot always find the hits again that were pressed down; here it can."""
    question, loop = asked("lifeboat-choir", Kind.SQUASHED, 6.0)
    candidates = round_candidates(question, loop)
    assert candidates is not None
    one, two, _, clever = candidates
    assert [type(move) for move in (*one.fix, *two.fix)] == [Expander] * 3
    assert one.fix[0].size_db == pytest.approx(6.0, abs=0.5)
    assert clever.judgement.now.moment_db > MOMENT_CRITERION_DB


@pytest.mark.parametrize(
    ("kind", "place", "why"),
    [
        (Kind.NOTHING, {}, "needs no fix"),
        (Kind.TOO_LOUD, {}, "gone once all is as loud"),
        (Kind.TOO_QUIET, {"track": "guitar", "alone": True}, "gone once all is as loud"),
    ],
)
def test_what_has_no_fix_is_refused(kind, place, why):
    question, loop = asked(FERRY, kind, 0.0 if kind is Kind.NOTHING else 6.0, **place)
    with pytest.raises(BadRecipe, match=why):
        fix_candidates(question, loop)


def test_two_problems_are_refused():
    second = Problem(Kind.SQUASHED, 6.0)
    question, loop = asked(FERRY, Kind.TOO_MUCH, 6.0, 200.0, 1.0, second=second)
    with pytest.raises(BadRecipe, match="one problem"):
        fix_candidates(question, loop)


def test_few_passages_are_ridden_bar_by_bar():
    loop = demo_loop(FERRY)
    spans = spans_to_ride(loop)
    assert len(spans) == loop.bars
    assert spans[0].start_frame == 0
    assert spans[-1].stop_frame == loop.frames
    lengths = np.array([span.stop_frame - span.start_frame for span in spans])
    assert np.ptp(lengths) <= 1
    assert spans_to_ride(dataclasses.replace(loop, bars=None)) == loop.passages
