"""Any recipe on any loop, and what comes out of it: for the check that nothing passes the cap.

Recipes are drawn from a seed over everything a recipe may hold: every kind, shape and style, all
sizes and Qs, on a track or the mix, alone or not, in a passage or throughout, one problem or two.
Loops are a fifth to two fifths of a second long and from hardly audible to clipped.
"""

from __future__ import annotations

import contextlib
import random
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np

from exercises.bands import BANDS
from exercises.errors import BadRecipe
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind, Shape, Style
from exercises.loops import Loop, Passage
from exercises.loudness import loudness_lufs
from exercises.problems import Problem
from exercises.question import Question, make_question, stem_alone, undo_answers
from exercises.recipe import LARGEST_Q, SMALLEST_Q, Recipe, draw_freq_hz, pick
from exercises.samples import Samples, as_samples, db_to_gain, gain_to_db
from exercises.true_peak import true_peak
from tests.drawn_recipes import Choices, draw_recipe
from tests.synthetic_loops import bursts, frames_of, kicks, loop_of, noise, tone

CAP_DBTP = -1.0
_LEVELS_DB = (-50.0, -25.0, -6.0, 0.0, 12.0)
_LOOPS = 12


@cache
def loop_number(number: int) -> Loop:
    """One of a dozen small loops: drums, a low and a high tone, noise; soft or hot."""
    draws = random.Random(number)
    frames = frames_of(pick(draws, (0.2, 0.3, 0.4)))
    gain = np.float32(db_to_gain(pick(draws, _LEVELS_DB)))
    tracks = {
        "drums": kicks(frames, beat_s=0.1) + bursts(frames, number),
        "tones": tone(frames, 60.0, -12.0) + tone(frames, 9000.0, -24.0, 90.0),
        "noise": noise(frames, number + 1, pink=draws.random() < 0.5, rms_dbfs=-24.0),
    }
    half = frames // 2
    passages = (Passage("first", 0, half), Passage("second", half, frames))
    clipped = {
        name: as_samples(np.clip(samples * gain, -1.0, 1.0)) for name, samples in tracks.items()
    }
    return loop_of(*clipped.items(), passages=passages)


def recipe_of_seed(seed: int) -> tuple[Recipe, Loop]:
    """The recipe that ``seed`` gives, and its loop."""
    draws = random.Random(seed)
    loop = loop_number(int(draws.random() * _LOOPS))
    track = pick(draws, (None, "drums", "tones", "noise"))
    choices = Choices(
        loop.name,
        loop.fingerprint,
        kinds=tuple(Kind),
        sizes_db=(0.5, 3.0, 6.0, 12.0, 18.0),
        qs=(SMALLEST_Q, 0.7, 1.4, 4.0, LARGEST_Q),
        track=track,
        alone=track is not None and draws.random() < 0.5,
        shapes=tuple(Shape),
        styles=tuple(Style),
        passage=pick(draws, (None, None, "first", "second")),
    )
    recipe = draw_recipe(seed, choices)
    if draws.random() < 0.3:
        with contextlib.suppress(BadRecipe):  # the two make no pair; one is asked
            recipe = replace(recipe, second=_problem(draws))
    return recipe, loop


def sounds_of(recipe: Recipe, loop: Loop) -> Iterator[tuple[str, Samples]]:
    """All that a learner can hear of a question: A, B, tracks alone, a wild answer undone."""
    question = make_question(recipe, loop)
    yield "A", question.a
    yield "B", question.b
    if not recipe.alone and recipe.seed % 5 == 0:
        for track in loop.tracks:
            a_alone, b_alone = stem_alone(question, loop, track.name)
            yield f"A, {track.name} alone", a_alone
            yield f"B, {track.name} alone", b_alone
    yield "undone", _undone(question, recipe, loop)


def over_cap_db(samples: Samples) -> float:
    """By how much a sound passes the cap, dB true peak; negative below it."""
    return gain_to_db(true_peak(samples)) - CAP_DBTP


def worst_of(seeds: range) -> tuple[float, float, int]:
    """Over all ``seeds``: the most that anything passes the cap by, dB; the most that A or B is
    louder than the learner's own level, LU; and how many sounds were measured."""
    over_db = louder_lu = -np.inf
    measured = 0
    for seed in seeds:
        for name, samples in sounds_of(*recipe_of_seed(seed)):
            assert np.isfinite(samples).all(), (seed, name)
            measured += 1
            over_db = max(over_db, over_cap_db(samples))
            if name in ("A", "B"):
                louder_lu = max(louder_lu, louder_than_reference_lu(samples))
    return over_db, louder_lu, measured


def louder_than_reference_lu(samples: Samples) -> float:
    """By how much a sound is louder than the learner's own level, -23 LUFS."""
    return loudness_lufs(samples) + 23.0


def _undone(question: Question, recipe: Recipe, loop: Loop) -> Samples:
    draws = random.Random(recipe.seed + 1)
    return undo_answers(question, loop, (_problem(draws),))


def _problem(draws: random.Random) -> Problem:
    kind = pick(draws, tuple(kind for kind in Kind if kind is not Kind.NOTHING))
    size_db = pick(draws, (3.0, 12.0, 18.0))
    if kind in TONE:
        freq_hz = draw_freq_hz(draws, pick(draws, BANDS))
        return Problem(kind, size_db, freq_hz, pick(draws, (0.7, 4.0)))
    assert kind in DYNAMICS | LEVEL
    return Problem(kind, size_db)
