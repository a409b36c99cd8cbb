"""Level or tone: three recipes that level does not tell apart, and the measures that do."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.errors import BadRecipe
from exercises.kinds import Help, Kind, Style
from exercises.level_or_tone import (
    Cause,
    finding,
    level_or_tone_recipes,
    passage_changes,
)
from exercises.loops import Passage
from exercises.loudness import loudness_lufs
from exercises.problems import Problem, apply_problem
from exercises.question import make_question
from exercises.samples import as_samples, db_to_gain
from tests.meters import ebur128_lufs
from tests.synthetic_loops import frames_of, noise, repeated, small_band, tone

FRAMES = frames_of(4.0)
HALVES = (Passage("first", 0, FRAMES // 2), Passage("second", FRAMES // 2, FRAMES))
BAND = dataclasses.replace(small_band(4.0), passages=HALVES)
CAUSES = {Kind.TOO_MUCH: Cause.TONE, Kind.TOO_LOUD: Cause.LEVEL, Kind.SQUASHED: Cause.DYNAMICS}


@pytest.mark.parametrize(("seed", "name"), list(enumerate(demo_loop_names())))
def test_on_every_demo_loop_each_of_the_three_is_found_for_what_it_is(seed, name):
    loop = demo_loop(name)
    passage = loop.passages[seed % len(loop.passages)].name
    recipes = level_or_tone_recipes(loop, passage, seed)
    assert [recipe.kind for recipe in recipes] == list(CAUSES)
    for recipe in recipes:
        question = make_question(recipe, loop)
        found = finding(passage_changes(question.a, question.b, loop.passages))
        assert (found.cause, found.passage) == (CAUSES[recipe.kind], passage)
        a_lufs, b_lufs = loudness_lufs(question.a), loudness_lufs(question.b)
        assert b_lufs == pytest.approx(a_lufs, abs=0.02)


@pytest.mark.parametrize("track", [None, "keys"])
def test_thick_and_loud_are_equally_loud_against_the_rest(track):
    thick, loud, _ = level_or_tone_recipes(BAND, "second", 5, size_db=14.0, track=track)
    steps_lu = []
    for recipe in (thick, loud):
        question = make_question(recipe, BAND)
        sounds = (question.a, question.b) if track is None else (question.a_alone, question.b_alone)
        steps_lu.append(finding(passage_changes(*sounds, HALVES)).level_lu)
    assert steps_lu[0] > 1.5
    # Sizes are told in tenths of a dB.
    assert steps_lu[1] == pytest.approx(steps_lu[0], abs=0.06)


def test_another_meter_hears_no_difference_over_the_whole():
    """libebur128 over the loop repeated."""
    for recipe in level_or_tone_recipes(BAND, "first", 2):
        question = make_question(recipe, BAND)
        a_lufs, b_lufs = (ebur128_lufs(repeated(x, 24.0)) for x in (question.a, question.b))
        assert b_lufs == pytest.approx(a_lufs, abs=0.1)


def test_the_recipes_are_those_of_their_seed_and_differ_in_kind_alone():
    recipes = level_or_tone_recipes(BAND, "first", 7, size_db=6.0, help=Help.NO_A)
    assert recipes == level_or_tone_recipes(BAND, "first", 7, size_db=6.0, help=Help.NO_A)
    assert {(r.seed, r.passage, r.track, r.help) for r in recipes} == {
        (7, "first", None, Help.NO_A)
    }
    assert 88.0 < recipes[0].freq_hz < 356.0
    drawn = {level_or_tone_recipes(BAND, "first", seed)[0].freq_hz for seed in range(6)}
    assert len(drawn) == 6


def test_a_passage_that_is_not_there_is_refused():
    with pytest.raises(BadRecipe, match="has no passage 'bridge'"):
        level_or_tone_recipes(BAND, "bridge", 1)


def test_a_passage_turned_up_differs_by_that_and_in_nothing_else():
    a = BAND.mix()
    b = apply_problem(a, Problem(Kind.TOO_LOUD, 4.0), HALVES[1])
    first, second = passage_changes(a, b, HALVES)
    assert (first.passage, second.passage) == ("first", "second")
    assert first.level_lu == pytest.approx(0.0, abs=0.05)
    assert second.level_lu == pytest.approx(4.0, abs=0.05)
    assert np.abs(second.third_octave_db).max() < 0.05
    assert second.dynamics_db < 0.05


@pytest.mark.parametrize("gain_db", [6.0, -6.0])
def test_tone_is_told_with_the_level_taken_out(gain_db):
    """Half of pink noise's band raised: the steady noise is checked by the meter, band by band."""
    steady = noise(FRAMES, 3)
    kind = Kind.TOO_MUCH if gain_db > 0.0 else Kind.TOO_LITTLE
    b = apply_problem(steady, Problem(kind, abs(gain_db), 1_000.0, 1.4))
    for change in passage_changes(steady, b, HALVES):
        assert change.tone_hz == pytest.approx(1_000.0)
        assert change.tone_db + change.level_lu == pytest.approx(gain_db, abs=0.4)
        # Far from it nothing changed but the level that was taken out.
        assert change.third_octave_db[2] == pytest.approx(-change.level_lu, abs=0.3)
        assert change.dynamics_db < 0.1


@pytest.mark.parametrize(
    "problem",
    [
        Problem(Kind.SQUASHED, 6.0),
        Problem(Kind.SQUASHED, 6.0, style=Style.PUMPING),
        Problem(Kind.LIFTED, 6.0),
    ],
    ids=lambda problem: f"{problem.kind} {problem.style}",
)
def test_what_moves_the_moments_is_dynamics(problem):
    a = BAND.track("drums").samples
    found = finding(passage_changes(a, apply_problem(a, problem), HALVES))
    assert found.cause is Cause.DYNAMICS
    assert found.dynamics_db > 1.5


def test_a_build_up_that_follows_the_playing_is_tone_all_the_same():
    drums = BAND.track("drums").samples
    b = apply_problem(drums, Problem(Kind.TOO_MUCH, 9.0, 200.0, 1.4), HALVES[0])
    found = finding(passage_changes(drums, b, HALVES))
    assert (found.cause, found.passage) == (Cause.TONE, "first")


def test_one_sound_twice_is_nothing_and_silence_is_no_trouble():
    a = BAND.mix()
    assert finding(passage_changes(a, a.copy(), HALVES)).cause is Cause.NOTHING
    silence = as_samples(np.zeros((FRAMES, 2)))
    assert finding(passage_changes(silence, silence, HALVES)).cause is Cause.NOTHING
    half = as_samples(tone(FRAMES, 300.0, -20.0) * (np.arange(FRAMES) < FRAMES // 2)[:, None])
    found = finding(passage_changes(half, as_samples(half * db_to_gain(-3.0)), HALVES))
    assert found.dynamics_db < 0.1


def test_a_loop_of_one_passage_is_measured_as_it_is():
    a = BAND.mix()
    whole = (Passage("the loop", 0, FRAMES),)
    (change,) = passage_changes(a, as_samples(a * db_to_gain(3.0)), whole)
    assert change.level_lu == pytest.approx(3.0, abs=1e-3)
    assert finding((change,)).cause is Cause.LEVEL
