"""Ways to make the truth plain in a review: the problem exaggerated, and its region alone."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from exercises.equaliser import settle_and_filter
from exercises.kinds import DYNAMICS, LARGEST_SIZE_DB, TONE
from exercises.loops import Loop
from exercises.problems import Problem
from exercises.question import Question, make_question
from exercises.recipe import Recipe
from exercises.samples import RATE_HZ, Samples, as_samples
from exercises.true_peak import true_peak

_TIMES: Final = 2.0
_HALF_OCTAVE: Final = 2.0**0.5
_HIGHEST: Final = 0.89


def truth_sound(letter: str, question: Question, loop: Loop) -> Samples | None:
    """What a review sounds by ``letter``: "X" the problem exaggerated, "R" its region alone.

    (frames, 2) float32; None where the problem has no such thing.
    """
    recipe = question.recipe
    if letter == "X" and can_be_exaggerated(recipe):
        return exaggerated(question, loop)
    if letter == "R" and recipe.freq_hz is not None:
        return region_alone(question.b, recipe.freq_hz)
    return None


def can_be_exaggerated(recipe: Recipe) -> bool:
    """Whether twice its size would tell more: a level twice as wrong would only be loud."""
    return recipe.kind in TONE | DYNAMICS


def exaggerated(question: Question, loop: Loop) -> Samples:
    """B with every problem twice its size in dB (18 dB at most), at the level of a question.

    (frames, 2) float32.
    """

    def larger(problem: Problem) -> Problem:
        return dataclasses.replace(problem, size_db=min(LARGEST_SIZE_DB, problem.size_db * _TIMES))

    recipe = question.recipe
    more = dataclasses.replace(
        recipe,
        size_db=larger(recipe.problem).size_db,
        second=None if recipe.second is None else larger(recipe.second),
    )
    return make_question(more, loop).b


def region_alone(sound: Samples, freq_hz: float) -> Samples:
    """One octave of ``sound`` around ``freq_hz``, as if the loop had always been playing.

    (frames, 2) float32, turned down where its peak would pass -1 dBTP. A Butterworth band-pass of
    second order on either side (scipy.signal.butter).
    """
    from scipy.signal import butter

    edges_hz = [freq_hz / _HALF_OCTAVE, min(freq_hz * _HALF_OCTAVE, 0.49 * RATE_HZ)]
    b, a = butter(2, edges_hz, btype="bandpass", fs=RATE_HZ)
    region = as_samples(settle_and_filter(np.asarray(b), np.asarray(a), sound))
    peak = true_peak(region)
    return region if peak <= _HIGHEST else as_samples(region * (_HIGHEST / peak))
