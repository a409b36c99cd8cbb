"""Questions: the same samples every time, matched, in range; and answers taken out of B."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.errors import BadRecipe
from exercises.kinds import LARGEST_SIZE_DB, LEVEL, TONE, Kind
from exercises.loudness import loudness_lufs
from exercises.problems import Problem
from exercises.question import HIGHEST_PEAK_DBTP, REFERENCE_LUFS, make_question, undo_answer
from exercises.recipe import HIGHEST_PROBLEM_HZ, LOWEST_PROBLEM_HZ, Recipe
from exercises.samples import as_samples, db_to_gain
from exercises.spectrum import difference
from exercises.true_peak import true_peak
from tests.meters import ebur128_dbtp, ebur128_lufs, resampled_dbtp
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

LOOPS = {
    "band": small_band(2.0),
    "band of an odd length": small_band(2.00015, seed=5),
    "quiet band": small_band(2.0, level_db=-40.0),
    "band over full scale": small_band(2.0, level_db=+12.0),
    "kicks": loop_of(("drums", kicks(frames_of(2.0))), ("bass", tone(96_000, 98.0, -60.0))),
    "one hit": loop_of(
        ("drums", bursts(frames_of(2.0), 8, beat_s=2.0)), ("bass", noise(96_000, 9))
    ),
}


def recipe_for(loop, kind, size_db=6.0, freq_hz=200.0, q=1.4, **more):
    toned = kind in TONE
    return Recipe(
        seed=1,
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=kind,
        size_db=0.0 if kind is Kind.NOTHING else size_db,
        freq_hz=freq_hz if toned else None,
        q=q if toned else None,
        **more,
    )


@st.composite
def loops_and_recipes(draw):
    loop = LOOPS[draw(st.sampled_from(sorted(LOOPS)))]
    track = draw(st.none() | st.sampled_from([track.name for track in loop.tracks]))
    recipe = recipe_for(
        loop,
        draw(st.sampled_from(Kind)),
        size_db=draw(st.floats(0.1, LARGEST_SIZE_DB)),
        freq_hz=draw(st.floats(LOWEST_PROBLEM_HZ, HIGHEST_PROBLEM_HZ)),
        q=draw(st.floats(0.3, 12.0)),
        track=track,
        alone=draw(st.booleans()) if track is not None else False,
    )
    return loop, recipe


@settings(deadline=None, max_examples=60)
@given(loops_and_recipes())
def test_any_valid_recipe_makes_a_fair_question(made):
    loop, recipe = made
    question = make_question(recipe, loop)
    again = make_question(recipe, loop)
    for sound, same in ((question.a, again.a), (question.b, again.b)):
        assert sound.shape == (loop.frames, 2)
        assert sound.dtype == np.float32
        assert np.isfinite(sound).all()
        np.testing.assert_array_equal(sound, same)
        # Four-fold oversamplers differ by their filters; all allow for +0.2 dB (EBU Tech 3341).
        assert 20.0 * np.log10(true_peak(sound)) <= HIGHEST_PEAK_DBTP + 1e-3
        assert resampled_dbtp(sound) <= HIGHEST_PEAK_DBTP + 0.2
    a_lufs, b_lufs = loudness_lufs(question.a), loudness_lufs(question.b)
    assert max(a_lufs, b_lufs) <= REFERENCE_LUFS + 0.02
    peak_db = 20.0 * np.log10(max(true_peak(question.a), true_peak(question.b)))
    at_the_level = max(a_lufs, b_lufs) == pytest.approx(REFERENCE_LUFS, abs=0.02)
    assert at_the_level or peak_db == pytest.approx(HIGHEST_PEAK_DBTP, abs=1e-3)
    if recipe.kind not in LEVEL:
        assert b_lufs - a_lufs == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("kind", Kind)
@pytest.mark.parametrize("name", ["band", "band of an odd length", "quiet band"])
def test_another_meter_agrees(name, kind):
    """libebur128 over the loop repeated: the level, the match and the peak limit."""
    loop = LOOPS[name]
    question = make_question(recipe_for(loop, kind, 9.0), loop)
    a_lufs, b_lufs = (ebur128_lufs(repeated(x, 24.0)) for x in (question.a, question.b))
    assert max(a_lufs, b_lufs) == pytest.approx(REFERENCE_LUFS, abs=0.1)
    if kind not in LEVEL:
        assert b_lufs - a_lufs == pytest.approx(0.0, abs=0.1)
    for sound in (question.a, question.b):
        assert ebur128_dbtp(repeated(sound, 4.0)) <= HIGHEST_PEAK_DBTP + 0.2


@pytest.mark.parametrize(("kind", "louder_by"), [(Kind.TOO_LOUD, 6.0), (Kind.TOO_QUIET, -6.0)])
def test_level_problems_are_left_as_they_are(kind, louder_by):
    loop = LOOPS["band"]
    question = make_question(recipe_for(loop, kind), loop)
    assert loudness_lufs(question.b) - loudness_lufs(question.a) == pytest.approx(
        louder_by, abs=0.01
    )
    np.testing.assert_allclose(question.b, question.a * db_to_gain(louder_by), atol=1e-6)


@pytest.mark.parametrize("kind", [Kind.TOO_MUCH, Kind.SQUASHED])
def test_both_are_turned_down_alike_for_their_peaks(kind):
    loop = loop_of(("clave", bursts(frames_of(2.0), 8, beat_s=1.0, decay_s=0.01)))
    question = make_question(recipe_for(loop, kind, 9.0, freq_hz=2_000.0), loop)
    highest = max(true_peak(question.a), true_peak(question.b))
    assert 20.0 * np.log10(highest) == pytest.approx(HIGHEST_PEAK_DBTP, abs=1e-3)
    assert loudness_lufs(question.a) < REFERENCE_LUFS - 1.0
    assert loudness_lufs(question.b) - loudness_lufs(question.a) == pytest.approx(0.0, abs=0.1)
    np.testing.assert_allclose(
        question.a, loop.mix() * db_to_gain(question.gain_db), rtol=1e-5, atol=1e-7
    )


@pytest.mark.parametrize("track", [None, "keys"])
def test_nothing_is_the_same_twice(track):
    loop = LOOPS["band"]
    question = make_question(recipe_for(loop, Kind.NOTHING, track=track), loop)
    # Through the filter and back into the mix: the last bits of float32.
    assert np.abs(question.a - question.b).max() < 3e-7


def test_a_is_the_loop_and_nothing_else():
    loop = LOOPS["band"]
    for kind in Kind:
        question = make_question(recipe_for(loop, kind), loop)
        np.testing.assert_allclose(
            question.a, loop.mix() * db_to_gain(question.gain_db), rtol=1e-5, atol=1e-7
        )


def test_one_track_alone_is_all_that_is_heard():
    loop = LOOPS["band"]
    question = make_question(
        recipe_for(loop, Kind.TOO_MUCH, track="bass", freq_hz=246.0, alone=True), loop
    )
    bass = loop.track("bass").samples
    np.testing.assert_allclose(
        question.a, bass * db_to_gain(question.gain_db), rtol=1e-5, atol=1e-7
    )


def test_a_problem_on_one_track_leaves_the_others():
    """Bass at 82 and 246 Hz is boosted at 246: what differs lies in B's bass alone."""
    loop = LOOPS["band"]
    question = make_question(
        recipe_for(loop, Kind.TOO_MUCH, 12.0, freq_hz=246.0, q=4.0, track="bass"), loop
    )
    # Undo the match of the whole by the keys' own band, where the bass has nothing.
    found = difference(question.b, question.a).third_octave_db
    level_db = float(np.median(found[20:]))
    assert np.abs(found[20:] - level_db).max() < 1e-3
    assert found[10] - level_db > 3.0


def test_matched_inside_the_mix_means_the_part_is_matched_too():
    """Neither the part nor the whole gives the answer away: the bass keeps its loudness in B."""
    loop = LOOPS["band"]
    question = make_question(
        recipe_for(loop, Kind.TOO_LITTLE, 12.0, freq_hz=82.0, track="bass"), loop
    )
    others = as_samples(loop.mix() - loop.track("bass").samples)
    a_bass = question.a - others * np.float32(db_to_gain(question.gain_db))
    # B's others are A's, turned by the match of the whole: found where the bass is silent.
    shape = np.fft.rfft(others[:, 0])[20_000:30_000]
    turned = np.abs(np.vdot(shape, np.fft.rfft(question.b[:, 0])[20_000:30_000]))
    b_bass = question.b - others * np.float32(turned / np.vdot(shape, shape).real)
    moved = loudness_lufs(as_samples(b_bass)) - loudness_lufs(as_samples(a_bass))
    whole_moved = 20.0 * np.log10(
        turned / np.vdot(shape, shape).real / db_to_gain(question.gain_db)
    )
    assert moved == pytest.approx(whole_moved, abs=0.02)
    assert abs(whole_moved) < 1.0


TRUTHS = [
    (Kind.TOO_MUCH, 9.0, 200.0),
    (Kind.TOO_LITTLE, 9.0, 60.0),
    (Kind.SQUASHED, 9.0, None),
    (Kind.TOO_LOUD, 6.0, None),
    (Kind.TOO_QUIET, 6.0, None),
    (Kind.NOTHING, 0.0, None),
]


@pytest.mark.parametrize(("kind", "size_db", "freq_hz"), TRUTHS, ids=[t[0] for t in TRUTHS])
@pytest.mark.parametrize("track", [None, "drums"])
def test_the_right_answer_undone_sounds_like_a(kind, size_db, freq_hz, track):
    loop = LOOPS["band"]
    question = make_question(recipe_for(loop, kind, size_db, freq_hz, track=track), loop)
    fixed = undo_answer(question, loop, question.truth)
    # The last bits of float32, and of the match.
    left = np.sqrt(np.mean((fixed - question.a).astype(np.float64) ** 2))
    heard = np.sqrt(np.mean(question.a.astype(np.float64) ** 2))
    assert left < 1e-5 * heard
    assert difference(fixed, question.a).most_db < 0.01


def test_a_wrong_answer_undone_leaves_the_problem_and_adds_another():
    loop = LOOPS["band"]
    question = make_question(recipe_for(loop, Kind.TOO_MUCH, 9.0, 200.0), loop)
    fixed = undo_answer(question, loop, Problem(Kind.TOO_MUCH, 9.0, 2_000.0, 1.4))
    left = difference(fixed, question.a).third_octave_db
    assert left[9] - left[19] > 14.0
    assert loudness_lufs(fixed) == pytest.approx(loudness_lufs(question.a), abs=0.02)


def test_a_level_named_where_it_was_tone_is_heard_as_a_level():
    loop = LOOPS["band"]
    question = make_question(recipe_for(loop, Kind.TOO_MUCH, 9.0, 200.0), loop)
    fixed = undo_answer(question, loop, Problem(Kind.TOO_LOUD, 6.0))
    np.testing.assert_allclose(fixed, question.b * db_to_gain(-6.0), atol=1e-6)


@settings(deadline=None, max_examples=40)
@given(loops_and_recipes(), loops_and_recipes())
def test_any_answer_undone_is_finite_and_under_the_limit(made, other):
    loop, recipe = made
    named = other[1]
    question = make_question(recipe, loop)
    fixed = undo_answer(question, loop, Problem(named.kind, named.size_db, named.freq_hz, named.q))
    assert fixed.shape == question.a.shape
    assert np.isfinite(fixed).all()
    assert 20.0 * np.log10(max(true_peak(fixed), 1e-9)) <= HIGHEST_PEAK_DBTP + 1e-3


def test_the_wrong_loop_is_refused():
    loop = LOOPS["band"]
    recipe = recipe_for(loop, Kind.SQUASHED)
    other = dataclasses.replace(LOOPS["kicks"], name="other")
    with pytest.raises(BadRecipe, match="recipe field 'loop': made for 'test loop', and 'other'"):
        make_question(recipe, other)
    with pytest.raises(BadRecipe, match="is not the same sound"):
        make_question(recipe, LOOPS["kicks"])


def test_a_track_that_is_not_there_is_refused():
    loop = LOOPS["band"]
    with pytest.raises(BadRecipe, match=r"recipe field 'track': .* has no track 'horns'; it has"):
        make_question(recipe_for(loop, Kind.SQUASHED, track="horns"), loop)


SILENT = loop_of(
    ("drums", kicks(frames_of(1.0))), ("voice", np.zeros((frames_of(1.0), 2), dtype=np.float32))
)


@pytest.mark.parametrize("kind", Kind)
@pytest.mark.parametrize("alone", [True, False])
def test_a_silent_track_can_have_no_problem(kind, alone):
    with pytest.raises(BadRecipe, match="recipe field 'track': 'voice' is silent"):
        make_question(recipe_for(SILENT, kind, track="voice", alone=alone), SILENT)


def test_a_silent_loop_is_refused():
    silent = loop_of(("voice", np.zeros((frames_of(1.0), 2), dtype=np.float32)))
    with pytest.raises(BadRecipe, match="recipe field 'loop': 'test loop' is silent"):
        make_question(recipe_for(silent, Kind.TOO_MUCH), silent)


def test_a_question_changes_nothing_in_its_loop():
    loop = small_band(1.0)
    kept = [track.samples.copy() for track in loop.tracks]
    question = make_question(recipe_for(loop, Kind.SQUASHED, track="keys", alone=True), loop)
    question.a[:] = 0.0
    question.b[:] = 0.0
    for track, samples in zip(loop.tracks, kept, strict=True):
        np.testing.assert_array_equal(track.samples, samples)


GAIN_DB, B_LEFT = -8.24903, [-0.09551217, -0.06314212, 0.01830347, -0.00504848]


def test_questions_stay_what_they_were():
    """Regression snapshot: the sound of a recipe is the same to 1e-6 on every machine."""
    loop = small_band(1.0)
    question = make_question(recipe_for(loop, Kind.TOO_MUCH, 9.0, 186.0, track="keys"), loop)
    assert question.gain_db == pytest.approx(GAIN_DB, abs=1e-4)
    np.testing.assert_allclose(question.b[[0, 1_000, 20_001, 47_999], 0], B_LEFT, atol=1e-6)
