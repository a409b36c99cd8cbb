"""From a recipe to what is heard: A as it should be, B with the problem in it, both made fair.

- Tone and compression problems are matched in loudness, first the part by itself, then all that
  is heard, so that neither the part nor the whole gives the answer away by level. Level problems
  are not matched. *Nothing* goes the same way as the rest.
- The louder of A and B sits at -23 LUFS (EBU R 128's target level, used here as the learner's
  own level); the volume is theirs, and below full.
- If either true peak passes -1 dBTP (EBU R 128's maximum), both are turned down alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from exercises import loudness
from exercises.errors import BadLoop, BadRecipe
from exercises.kinds import LEVEL, Kind, Shape, Style
from exercises.loops import Loop
from exercises.problems import Problem, apply_problem, undo_named
from exercises.recipe import Recipe
from exercises.samples import Samples, as_samples, db_to_gain, gain_to_db
from exercises.true_peak import true_peak

REFERENCE_LUFS: Final = -23.0
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
        BadRecipe: ``loop`` is not the loop that the recipe was made for, lacks its track, or is
            silent where the problem should be.
    """
    _not_yet(recipe)
    heard = _heard(recipe, loop)
    matched = recipe.kind not in LEVEL
    b = _put_back(heard, apply_problem(heard.part, recipe.problem), matched=matched)
    gain_db = heard.reference_db
    if not matched:
        b_lufs = loudness.loudness_lufs(_scaled(b, db_to_gain(gain_db)))
        gain_db -= max(0.0, b_lufs - REFERENCE_LUFS)
    peak_db = gain_to_db(max(true_peak(heard.whole), true_peak(b)))
    gain_db = min(gain_db, HIGHEST_PEAK_DBTP - peak_db)
    factor = db_to_gain(gain_db)
    return Question(recipe, _scaled(heard.whole, factor), _scaled(b, factor), gain_db)


def undo_answer(
    question: Question, loop: Loop, named: Problem, place: Place | None = None
) -> Samples:
    """B with the one problem ``named`` taken out as a fix: see ``undo_answers``."""
    return undo_answers(question, loop, (named,), place)


def undo_answers(
    question: Question, loop: Loop, named: Sequence[Problem], place: Place | None = None
) -> Samples:
    """B with ``named`` taken out as a fix, at A's level unless the answer was a level.

    ``place`` is where the learner put it (None: where the problem is). (frames, 2) float32, at the
    question's own gain and never above its peak limit.
    """
    recipe = question.recipe
    _not_yet(recipe)
    (only,) = named
    heard = _heard(recipe, loop)
    with_problem = apply_problem(heard.part, question.truth)
    if recipe.kind not in LEVEL:
        with_problem = _matched(with_problem, heard)
    fixed_part = undo_named(heard.part, with_problem, question.truth, only)
    matched = only.kind not in LEVEL and recipe.kind not in LEVEL
    fixed = _put_back(heard, fixed_part, matched=matched)
    fixed = _scaled(fixed, db_to_gain(question.gain_db))
    over_db = gain_to_db(true_peak(fixed)) - HIGHEST_PEAK_DBTP
    return _scaled(fixed, db_to_gain(-over_db)) if over_db > 0.0 else fixed


def stem_alone(question: Question, loop: Loop, track: str) -> tuple[Samples, Samples]:
    """Any one track by itself, as it sits in A and in B, so that soloing gives nothing away."""
    raise BadRecipe("track", f"'{track}' cannot be heard alone yet")


def _not_yet(recipe: Recipe) -> None:
    for name, there in (
        ("passage", recipe.passage is not None),
        ("second", recipe.second is not None),
        ("shape", recipe.shape is not Shape.PEAK),
        ("style", recipe.style is not Style.OVER_COMPRESSED),
        ("kind", recipe.kind is Kind.LIFTED),
    ):
        if there:
            raise BadRecipe(name, "cannot be heard yet; choose another")


@dataclass(frozen=True, slots=True)
class _Heard:
    """The part that the problem sits on, the rest that is heard with it, and both together.

    All three as the loop has them. ``reference_db`` would bring the whole to the learner's level,
    and ``part_lufs`` is the part's loudness there: everything is measured as at that level, since
    the gate at -70 LUFS does not move with the sound.
    """

    part: Samples
    rest: Samples | None
    whole: Samples
    reference_db: float
    part_lufs: float


def _heard(recipe: Recipe, loop: Loop) -> _Heard:
    if recipe.loop != loop.name or recipe.fingerprint != loop.fingerprint:
        raise BadRecipe(
            "loop", f"made for '{recipe.loop}', and '{loop.name}' is not the same sound"
        )
    part = whole = loop.mix()
    rest = None
    if recipe.track is not None:
        try:
            part = loop.track(recipe.track).samples
        except BadLoop as error:
            raise BadRecipe("track", str(error)) from None
        if recipe.alone:
            whole = part
        else:
            rest = as_samples(whole - part)
    whole_powers = loudness.block_powers(whole)
    reference_db = loudness.matching_gain_db(whole_powers, REFERENCE_LUFS)
    part_powers = whole_powers if rest is None else loudness.block_powers(part)
    part_lufs = loudness.integrated_lufs(part_powers * db_to_gain(reference_db) ** 2)
    if part_lufs == float("-inf"):
        field, name = ("loop", loop.name) if recipe.track is None else ("track", recipe.track)
        raise BadRecipe(field, f"'{name}' is silent; choose another")
    return _Heard(part, rest, whole, reference_db, part_lufs)


def _put_back(heard: _Heard, changed: Samples, *, matched: bool) -> Samples:
    """All that is heard with the part changed, as loud as A if ``matched``."""
    if heard.rest is not None:
        changed = as_samples(heard.rest + (_matched(changed, heard) if matched else changed))
    if not matched:
        return changed
    b_db = loudness.matching_gain_db(loudness.block_powers(changed), REFERENCE_LUFS)
    return _scaled(changed, db_to_gain(b_db - heard.reference_db))


def _matched(changed: Samples, heard: _Heard) -> Samples:
    """``changed`` turned to the loudness of the part."""
    powers = loudness.block_powers(changed)
    gain_db = loudness.matching_gain_db(powers, heard.part_lufs)
    return _scaled(changed, db_to_gain(gain_db - heard.reference_db))


def _scaled(samples: Samples, factor: float) -> Samples:
    return as_samples(samples * factor)
