"""What an answer is, and whether it names the problem.

How far a frequency counts, and why, is said in ``observation``: a third of an octave names it.
Where the answer must say on which track and in which passage, a wrong place is a wrong answer: a
cut on the bass does not mend the guitar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from exercises.bands import octaves
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind
from exercises.loops import WHOLE_MIX
from exercises.other_names import OPPOSITE, OTHER_SHELF
from exercises.problems import Problem
from exercises.question import Place
from exercises.recipe import Recipe
from exercises.tone_curve import USUAL_Q
from trainer.observation import credit_for_miss

WHOLE_LOOP: Final = "whole loop"
USUAL_FIX_DB: Final = 6.0
"""What would have been turned where nothing was wrong (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Named:
    """One problem as it was named: ``freq_hz`` for *too much* and *too little* alone."""

    kind: Kind
    freq_hz: float | None = None

    def __post_init__(self) -> None:
        if (self.freq_hz is not None) != (self.kind in TONE):
            raise ValueError(f"an answer '{self.kind}' with frequency {self.freq_hz}")


@dataclass(frozen=True, slots=True)
class Answer:
    """What the learner named: ``kind`` and ``freq_hz`` as in ``Named``.

    ``track`` and ``passage`` are set where they were asked: a name, or WHOLE_MIX and WHOLE_LOOP.
    ``second`` is the other problem where two were asked.
    """

    kind: Kind
    freq_hz: float | None
    sure: bool
    track: str | None = None
    passage: str | None = None
    second: Named | None = None

    def __post_init__(self) -> None:
        Named(self.kind, self.freq_hz)

    @property
    def named(self) -> tuple[Named, ...]:
        """Every problem that was named, in order."""
        first = Named(self.kind, self.freq_hz)
        return (first,) if self.second is None else (first, self.second)


@dataclass(frozen=True, slots=True)
class Part:
    """One hidden problem held against what was named for it.

    ``miss_octaves`` is signed (positive: named too high), None unless the kind is right and has a
    frequency. ``credit`` runs from 0 to 1, the place apart.
    """

    truth: Problem
    named: Named
    kind_right: bool
    miss_octaves: float | None
    credit: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """``parts`` one for each hidden problem; the place is None where it was not asked."""

    parts: tuple[Part, ...]
    track_right: bool | None
    passage_right: bool | None

    @property
    def place_right(self) -> bool:
        """Whether track and passage, as far as they were asked, are right."""
        return self.track_right is not False and self.passage_right is not False

    @property
    def credit(self) -> float:
        """From 0 to 1: the mean of the parts, and nothing at the wrong place."""
        mean = sum(part.credit for part in self.parts) / len(self.parts)
        return mean if self.place_right else 0.0

    @property
    def named(self) -> bool:
        """Kinds and places right and every frequency within a third of an octave."""
        return self.credit == 1.0

    @property
    def kind_right(self) -> bool:
        """Whether every kind is right."""
        return all(part.kind_right for part in self.parts)

    @property
    def miss_octaves(self) -> float | None:
        """The first problem's miss."""
        return self.parts[0].miss_octaves


def judge(recipe: Recipe, answer: Answer) -> Verdict:
    """Holds ``answer`` against the truth in ``recipe``; of two problems either may come first."""
    truths, named = recipe.problems, answer.named
    part_of = partial(_part, everywhere=recipe.passage is None)
    passage = recipe.passage or WHOLE_LOOP
    if len(truths) == 1:
        truth = truths[0]
        if _in_other_passage(recipe, answer):
            truth, passage = replace(truth, kind=answer.kind), answer.passage or passage
        parts: tuple[Part, ...] = (part_of(truth, named[0]),)
    else:
        first, second = named if len(named) == 2 else (named[0], Named(Kind.NOTHING))
        orders = ((first, second), (second, first))
        parts = max(
            (tuple(map(part_of, truths, order)) for order in orders),
            key=lambda tried: (sum(p.credit for p in tried), sum(p.kind_right for p in tried)),
        )
    if recipe.kind is Kind.NOTHING or answer.kind is Kind.NOTHING:
        return Verdict(parts, None, None)
    return Verdict(
        parts,
        answer.track == (recipe.track or WHOLE_MIX) if recipe.ask_track else None,
        answer.passage == passage if recipe.ask_passage else None,
    )


def as_fixes(recipe: Recipe, answer: Answer) -> tuple[tuple[Problem, ...], Place]:
    """What ``answer`` claims, as problems to undo, and where: true sizes at the named places."""
    fixes = _one_of_a_family([_fix(part) for part in judge(recipe, answer).parts])
    track, passage = recipe.track, recipe.passage
    if recipe.ask_track and answer.track is not None:
        track = None if answer.track == WHOLE_MIX else answer.track
    if recipe.ask_passage and answer.passage is not None:
        passage = None if answer.passage == WHOLE_LOOP else answer.passage
    return fixes, Place(track, passage)


def _one_of_a_family(fixes: Sequence[Problem]) -> tuple[Problem, ...]:
    """Nobody undoes squashed twice, or turns a level up and down at once: the first one counts."""
    kept: list[Problem] = []
    for fix in fixes:
        family = next((group for group in (DYNAMICS, LEVEL) if fix.kind in group), None)
        if family is None or not any(other.kind in family for other in kept):
            kept.append(fix)
    return tuple(kept)


def _in_other_passage(recipe: Recipe, answer: Answer) -> bool:
    """Whether the answer is the other name of a level in one of two passages."""
    return (
        recipe.kind in LEVEL
        and (recipe.track is None or recipe.alone)
        and answer.kind is OPPOSITE[recipe.kind]
        and recipe.other_passage is not None
        and answer.passage == recipe.other_passage
    )


def _part(truth: Problem, named: Named, *, everywhere: bool) -> Part:
    shelf = OTHER_SHELF.get(truth.shape) if truth.kind in TONE else None
    if shelf is not None and everywhere and named.kind is OPPOSITE[truth.kind]:
        # Too much below is too little above: once matched, the very same sound.
        truth = replace(truth, kind=named.kind, shape=shelf)
    if named.kind is not truth.kind:
        return Part(truth, named, False, None, 0.0)
    if truth.freq_hz is None or named.freq_hz is None:
        return Part(truth, named, True, None, 1.0)
    miss = octaves(named.freq_hz, truth.freq_hz)
    return Part(truth, named, True, miss, credit_for_miss(miss))


def _fix(part: Part) -> Problem:
    truth, named = part.truth, part.named
    size_db = truth.size_db if truth.kind is not Kind.NOTHING else USUAL_FIX_DB
    if named.kind not in TONE:
        return Problem(named.kind, size_db, style=truth.style)
    if truth.kind not in TONE:
        return Problem(named.kind, size_db, named.freq_hz, USUAL_Q)
    return Problem(named.kind, size_db, named.freq_hz, truth.q, truth.shape)
