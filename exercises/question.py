"""From a recipe to what is heard: A as it should be, B with the problem in it, both made fair.

- Tone and compression problems are matched in loudness, first the part by itself, then all that
  is heard, so that neither the part nor the whole gives the answer away by level. A level problem
  in one passage is matched over the whole loop, for the same reason; one over the whole loop is
  not matched. Of two problems at once the level comes last, and the other is matched.
- The louder of A and B sits at -23 LUFS (EBU R 128's target level, used here as the learner's
  own level); the volume is theirs, and below full.
- If a true peak passes -1 dBTP (EBU R 128's maximum), all are turned down alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from exercises.kinds import DYNAMICS
from exercises.loops import Loop
from exercises.loudness import REFERENCE_LUFS as REFERENCE_LUFS
from exercises.mixdown import (
    loudness_at,
    matching_factor,
    mixdown,
    part_in_b,
    passage_of,
    scaled,
    stages_of,
    stem_in_a,
    stem_without_level,
    whole_of_b,
    without_level,
)
from exercises.problems import Change, Problem, change_of, signed_db, undo_change
from exercises.recipe import Recipe
from exercises.samples import Samples, as_samples, db_to_gain, gain_to_db
from exercises.true_peak import true_peak

HIGHEST_PEAK_DBTP: Final = -1.0


@dataclass(frozen=True, slots=True)
class Place:
    """Where a problem sits: a track (None: the whole mix) and a passage (None: the whole loop)."""

    track: str | None = None
    passage: str | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """``a`` and ``b`` as played, (frames, 2) float32; ``gain_db`` is what both were turned by.

    ``a_alone`` and ``b_alone``: the problem's track by itself, as it sits in each; None where
    there is no such track or it is all that is heard.
    """

    recipe: Recipe
    a: Samples
    b: Samples
    gain_db: float
    a_alone: Samples | None = None
    b_alone: Samples | None = None

    @property
    def truth(self) -> Problem:
        """What is in B; the first of the two where there are two."""
        return self.recipe.problem

    @property
    def truths(self) -> tuple[Problem, ...]:
        """All that is in B: one problem, or two."""
        return self.recipe.problems

    @property
    def place(self) -> Place:
        """Where it is."""
        return Place(self.recipe.track, self.recipe.passage)


def make_question(recipe: Recipe, loop: Loop) -> Question:
    """The question that ``recipe`` describes, the same samples every time.

    Raises:
        BadRecipe: ``loop`` is not the loop that the recipe was made for, lacks its track or its
            passage, or is silent where the problem should be.
    """
    made = mixdown(recipe, loop)
    sounds = [made.whole, whole_of_b(made)]
    if made.rest is not None:
        sounds += [made.part, part_in_b(made)]
    louder_lu = loudness_at(sounds[1], made.reference_db) - REFERENCE_LUFS
    gain_db = made.reference_db - (louder_lu if made.level > 1.0 else 0.0)
    peak_db = gain_to_db(max(true_peak(sound) for sound in sounds))
    gain_db = min(gain_db, HIGHEST_PEAK_DBTP - peak_db)
    played = [scaled(sound, db_to_gain(gain_db)) for sound in sounds]
    return Question(recipe, played[0], played[1], gain_db, *played[2:])


def stem_alone(question: Question, loop: Loop, track: str) -> tuple[Samples, Samples]:
    """Any one track by itself, as it sits in A and in B, at the question's gain.

    Whichever track is soloed, the same is done to hear it, so that soloing gives nothing away.

    Raises:
        BadRecipe: the loop has no such track.
    """
    made = mixdown(question.recipe, loop)
    in_b = stem_without_level(made, loop, track)
    level = made.level if question.recipe.track in (None, track) else 1.0
    factor = db_to_gain(question.gain_db)
    return scaled(stem_in_a(made, loop, track), factor), scaled(in_b, factor * level)


def undo_answers(
    question: Question, loop: Loop, named: Sequence[Problem], place: Place | None = None
) -> Samples:
    """B with ``named`` taken out as a fix: at most one of dynamics and one of level.

    ``place`` is where the learner put it (None: where the problem is). What was named is settled
    from the sound as it should be at that place. The stem there, and then all that is heard, are
    kept as loud as they were, but for levels over the whole loop: those are left, or turned back,
    as they stand. (frames, 2) float32, at the question's own gain and never above its peak limit.

    Raises:
        BadRecipe: the place is not in this loop.
    """
    recipe, made = question.recipe, mixdown(question.recipe, loop)
    place = question.place if place is None else place
    if recipe.alone:
        place = replace(place, track=recipe.track)
    track = None if recipe.alone else place.track
    passage = passage_of(loop, place.passage)
    clean = stem_in_a(made, loop, track)
    taken_out = _devices(named, question.truths if place == question.place else ())
    stages = stages_of(taken_out, passage)
    ride = change_of(clean, stages.ride, passage)
    changes = [change_of(clean, one, passage) for one in (*stages.filters, stages.dynamics)]

    calm, stem = without_level(made), stem_without_level(made, loop, track)
    unridden = undo_change(stem, ride)
    undone = _without(unridden, changes)
    stem_factor = 1.0
    if track is not None:
        unridden_lufs = loudness_at(unridden, made.reference_db)
        stem_factor = matching_factor(undone, unridden_lufs, made.reference_db)
    undone = scaled(undone, stem_factor)
    rest = as_samples(calm - stem)
    whole_factor = matching_factor(as_samples(rest + undone), REFERENCE_LUFS, made.reference_db)
    if made.level != 1.0:
        raised = scaled(made.changed, made.level - 1.0)
        if track in (None, recipe.track):
            raised = scaled(_without(undo_change(raised, ride), changes), stem_factor)
            undone = as_samples(undone + raised)
        else:
            rest = as_samples(rest + raised)
    fixed = rest + undone / np.float32(db_to_gain(signed_db(stages.level)))
    fixed = scaled(fixed, whole_factor * db_to_gain(question.gain_db))
    over_db = gain_to_db(true_peak(fixed)) - HIGHEST_PEAK_DBTP
    return scaled(fixed, db_to_gain(-over_db)) if over_db > 0.0 else fixed


def _devices(named: Sequence[Problem], truths: Sequence[Problem]) -> tuple[Problem, ...]:
    """``named``, but dynamics of a kind that is there as what is there: the device is taken off."""
    there = {truth.kind: truth for truth in truths if truth.kind in DYNAMICS}
    return tuple(there.get(problem.kind, problem) for problem in named)


def _without(sound: Samples, changes: Sequence[Change]) -> Samples:
    """``sound`` with ``changes`` taken out, the last of them first."""
    for change in reversed(changes):
        sound = undo_change(sound, change)
    return sound
