"""From a recipe to what is heard: A as it should be, B with the problem in it, both made fair.

- Tone and compression problems are matched in loudness, first the part by itself, then all that
  is heard, so that neither the part nor the whole gives the answer away by level. Level problems
  are not matched. *Nothing* goes the same way as the rest.
- The louder of A and B sits at -23 LUFS (EBU R 128's target level, used here as the learner's
  own level); the volume is theirs, and below full.
- If either true peak passes -1 dBTP (EBU R 128's maximum), both are turned down alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from exercises import loudness
from exercises.errors import BadRecipe
from exercises.kinds import LEVEL
from exercises.loops import Loop
from exercises.problems import Problem, apply_problem, undo_named
from exercises.recipe import Recipe
from exercises.samples import Floats, Samples, as_samples, db_to_gain, gain_to_db
from exercises.true_peak import true_peak

REFERENCE_LUFS: Final = -23.0
HIGHEST_PEAK_DBTP: Final = -1.0


@dataclass(frozen=True, slots=True)
class Question:
    """``a`` and ``b`` as played, (frames, 2) float32; ``gain_db`` is what both were turned by."""

    recipe: Recipe
    a: Samples
    b: Samples
    gain_db: float

    @property
    def truth(self) -> Problem:
        """What is in B."""
        return _problem(self.recipe)


def make_question(recipe: Recipe, loop: Loop) -> Question:
    """The question that ``recipe`` describes, the same samples every time.

    Raises:
        BadRecipe: ``loop`` is not the loop that the recipe was made for, lacks its track, or is
            silent where the problem should be.
    """
    part, rest, whole = _heard(recipe, loop)
    a_powers = loudness.block_powers(whole)
    a_lufs = loudness.integrated_lufs(a_powers)
    if a_lufs == float("-inf"):
        raise BadRecipe("loop", f"'{loop.name}' is silent; choose another")
    with_problem = apply_problem(part, _problem(recipe))
    b, b_lufs = _put_back(part, with_problem, rest, a_lufs, matched=recipe.kind not in LEVEL)
    peak_db = gain_to_db(max(true_peak(whole), true_peak(b)))
    gain_db = min(REFERENCE_LUFS - max(a_lufs, b_lufs), HIGHEST_PEAK_DBTP - peak_db)
    factor = db_to_gain(gain_db)
    return Question(recipe, _scaled(whole, factor), _scaled(b, factor), gain_db)


def undo_answer(question: Question, loop: Loop, named: Problem) -> Samples:
    """B with ``named`` taken out as a fix, at A's level unless the answer was a level.

    (frames, 2) float32, at the question's own gain and never above its peak limit.
    """
    recipe, truth = question.recipe, question.truth
    part, rest, whole = _heard(recipe, loop)
    with_problem = apply_problem(part, truth)
    a_lufs = loudness.loudness_lufs(whole)
    if recipe.kind not in LEVEL:
        with_problem = _matched(with_problem, part)
    fixed_part = undo_named(part, with_problem, truth, named)
    matched = named.kind not in LEVEL and recipe.kind not in LEVEL
    fixed, _ = _put_back(part, fixed_part, rest, a_lufs, matched=matched)
    fixed = _scaled(fixed, db_to_gain(question.gain_db))
    over_db = gain_to_db(true_peak(fixed)) - HIGHEST_PEAK_DBTP
    return _scaled(fixed, db_to_gain(-over_db)) if over_db > 0.0 else fixed


def _problem(recipe: Recipe) -> Problem:
    return Problem(recipe.kind, recipe.size_db, recipe.freq_hz, recipe.q)


def _heard(recipe: Recipe, loop: Loop) -> tuple[Samples, Samples | None, Samples]:
    """The part that the problem sits on, the rest that is heard with it, and both together."""
    if recipe.loop != loop.name or recipe.fingerprint != loop.fingerprint:
        raise BadRecipe(
            "loop", f"made for '{recipe.loop}', and '{loop.name}' is not the same sound"
        )
    mix = loop.mix()
    if recipe.track is None:
        return mix, None, mix
    part = loop.track(recipe.track).samples
    if recipe.alone:
        return part, None, part
    return part, as_samples(mix - part), mix


def _put_back(
    part: Samples, changed: Samples, rest: Samples | None, a_lufs: float, *, matched: bool
) -> tuple[Samples, float]:
    """All that is heard with the part changed, and its loudness in LUFS."""
    if rest is not None:
        changed = as_samples(rest + (_matched(changed, part) if matched else changed))
    powers: Floats = loudness.block_powers(changed)
    if not matched:
        return changed, loudness.integrated_lufs(powers)
    return _scaled(changed, db_to_gain(loudness.matching_gain_db(powers, a_lufs))), a_lufs


def _matched(changed: Samples, part: Samples) -> Samples:
    target_lufs = loudness.loudness_lufs(part)
    gain_db = loudness.matching_gain_db(loudness.block_powers(changed), target_lufs)
    return _scaled(changed, db_to_gain(gain_db))


def _scaled(samples: Samples, factor: float) -> Samples:
    return as_samples(samples * factor)
