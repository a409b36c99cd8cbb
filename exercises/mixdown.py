"""How B is put together, kept in pieces so that any of it can be heard alone or taken out again.

The *part* is what the problem sits on: one track, or the whole mix; the *rest* is what else is
heard. Every B goes through the same stages in the same order, each of which does nothing where it
has nothing to do, so that no kind of problem is made in another way or another time than the
rest: filters, dynamics, a match of the part, a ride of one passage, a match of all that is heard,
a level. Everything here is at the loop's own level.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises import loudness
from exercises.errors import BadLoop, BadRecipe
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind
from exercises.loops import Loop, Passage
from exercises.loudness import REFERENCE_LUFS
from exercises.problems import Change, Problem, change_of, do_change, signed_db
from exercises.recipe import Recipe
from exercises.samples import Samples, as_samples, db_to_gain, gain_to_db

_NO_FILTER: Final = Problem(Kind.NOTHING, 0.0)
_NO_DYNAMICS: Final = Problem(Kind.SQUASHED, 0.0)
_NO_LEVEL: Final = Problem(Kind.TOO_LOUD, 0.0)


@dataclass(frozen=True, slots=True)
class Stages:
    """Problems in the order in which they are done: never empty, but for what does nothing."""

    filters: tuple[Problem, ...]
    dynamics: Problem
    ride: Problem
    level: Problem


@dataclass(frozen=True, slots=True)
class Mixdown:
    """A and the pieces of B, sound as (frames, 2) float32.

    ``part`` and ``whole`` are A's. ``changes`` were done to the part, filters first, then
    dynamics, then the ride; the part was turned by ``part_factor`` before the ride, and all by
    ``whole_factor`` after it. ``changed`` is the part as it came out of that and ``rest`` all else
    (None: there is nothing else); ``level`` is the factor of a level problem over the whole loop,
    which ``changed`` does not yet have. ``reference_db`` brings A to the learner's level:
    loudness is measured there, since the gate at -70 LUFS does not move with the sound.
    """

    recipe: Recipe
    passage: Passage | None
    part: Samples
    whole: Samples
    reference_db: float
    changes: tuple[Change, ...]
    part_factor: float
    whole_factor: float
    changed: Samples
    rest: Samples | None
    level: float


def stages_of(problems: Sequence[Problem], passage: Passage | None) -> Stages:
    """``problems`` sorted into the stages of a part's way into B; a level with a passage rides.

    Filters go by frequency, so that it does not matter in which order they are told.
    """
    filters = [problem for problem in problems if problem.kind in TONE]
    levels = [problem for problem in problems if problem.kind in LEVEL]
    level = levels[0] if levels else _NO_LEVEL
    return Stages(
        tuple(sorted(filters, key=lambda problem: problem.freq_hz or 0.0)) or (_NO_FILTER,),
        next((problem for problem in problems if problem.kind in DYNAMICS), _NO_DYNAMICS),
        _NO_LEVEL if passage is None else level,
        level if passage is None else _NO_LEVEL,
    )


def mixdown(recipe: Recipe, loop: Loop) -> Mixdown:
    """B as ``recipe`` has it.

    Raises:
        BadRecipe: ``loop`` is not the loop that the recipe was made for, lacks its track or its
            passage, or is silent where the problem should be.
    """
    if recipe.loop != loop.name or recipe.fingerprint != loop.fingerprint:
        raise BadRecipe(
            "loop", f"made for '{recipe.loop}', and '{loop.name}' is not the same sound"
        )
    whole = loop.mix()
    part, rest = whole, None
    if recipe.track is not None:
        part = _track(loop, recipe.track)
        if recipe.alone:
            whole = part
        else:
            rest = as_samples(whole - part)
    passage = passage_of(loop, recipe.passage)
    reference_db = loudness.matching_gain_db(loudness.block_powers(whole), REFERENCE_LUFS)
    part_lufs = loudness_at(part, reference_db)
    _refuse_silence(recipe, part, part_lufs, passage, reference_db)

    stages = stages_of(recipe.problems, passage)
    changes = [change_of(part, problem, passage) for problem in (*stages.filters, stages.dynamics)]
    ride = change_of(part, stages.ride, passage)
    changed = part
    for change in changes:
        changed = do_change(changed, change)
    part_factor = 1.0 if rest is None else matching_factor(changed, part_lufs, reference_db)
    changed = do_change(scaled(changed, part_factor), ride)
    heard = changed if rest is None else as_samples(rest + changed)
    whole_factor = matching_factor(heard, REFERENCE_LUFS, reference_db)
    return Mixdown(
        recipe,
        passage,
        part,
        whole,
        reference_db,
        (*changes, ride),
        part_factor,
        whole_factor,
        scaled(changed, whole_factor),
        None if rest is None else scaled(rest, whole_factor),
        db_to_gain(signed_db(stages.level)),
    )


def part_in_b(made: Mixdown) -> Samples:
    """The part as it sits in B."""
    return scaled(made.changed, made.level)


def whole_of_b(made: Mixdown) -> Samples:
    """All that is heard of B."""
    part = part_in_b(made)
    return part if made.rest is None else as_samples(made.rest + part)


def without_level(made: Mixdown) -> Samples:
    """All that is heard of B but for a level problem over the whole loop: as loud as A."""
    return made.changed if made.rest is None else as_samples(made.rest + made.changed)


def stem_in_a(made: Mixdown, loop: Loop, track: str | None) -> Samples:
    """One track (None: all that is heard) as it sits in A.

    Raises:
        BadRecipe: the loop has no such track.
    """
    if track is None or made.recipe.alone:
        return made.whole
    return _track(loop, track)


def stem_without_level(made: Mixdown, loop: Loop, track: str | None) -> Samples:
    """The same as it sits in ``without_level``."""
    recipe = made.recipe
    if track is None or recipe.alone:
        return without_level(made)
    if track == recipe.track:
        return made.changed
    stem = _track(loop, track)
    if recipe.track is not None:
        return scaled(stem, made.whole_factor)
    for change in made.changes:
        stem = do_change(stem, change)
    return scaled(stem, made.part_factor * made.whole_factor)


def passage_of(loop: Loop, name: str | None) -> Passage | None:
    """The passage called ``name``; None for None.

    Raises:
        BadRecipe: the loop has none of that name, or it is the whole loop.
    """
    if name is None:
        return None
    for passage in loop.passages:
        if passage.name == name:
            if passage.stop_frame - passage.start_frame >= loop.frames:
                raise BadRecipe("passage", f"'{name}' is the whole loop; leave it out")
            return passage
    known = ", ".join(passage.name for passage in loop.passages)
    raise BadRecipe("passage", f"loop '{loop.name}' has no passage '{name}'; it has {known}")


def loudness_at(sound: Samples, gain_db: float) -> float:
    """Loudness in LUFS of ``sound`` turned by ``gain_db``."""
    return loudness.integrated_lufs(loudness.block_powers(sound) * db_to_gain(gain_db) ** 2)


def matching_factor(sound: Samples, target_lufs: float, reference_db: float) -> float:
    """Amplitude factor that makes ``sound``, turned by ``reference_db``, as loud as the target."""
    gain_db = loudness.matching_gain_db(loudness.block_powers(sound), target_lufs)
    return db_to_gain(gain_db - reference_db)


def scaled(samples: Samples, factor: float) -> Samples:
    """``samples`` times an amplitude factor; a fresh array."""
    return as_samples(samples * np.float32(factor))


def _track(loop: Loop, name: str) -> Samples:
    try:
        return loop.track(name).samples
    except BadLoop as error:
        raise BadRecipe("track", str(error)) from None


def _refuse_silence(
    recipe: Recipe,
    part: Samples,
    part_lufs: float,
    passage: Passage | None,
    reference_db: float,
) -> None:
    field, name = ("loop", recipe.loop) if recipe.track is None else ("track", recipe.track)
    if part_lufs == float("-inf"):
        raise BadRecipe(field, f"'{name}' is silent; choose another")
    if passage is not None:
        inside = part[passage.start_frame : passage.stop_frame]
        peak_db = gain_to_db(float(np.abs(inside).max())) + reference_db
        if peak_db < loudness.ABSOLUTE_GATE_LUFS:
            raise BadRecipe("passage", f"'{name}' is silent in '{passage.name}'; choose another")
