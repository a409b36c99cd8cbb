"""Making a set: the loops looked up on the teacher's shelf, and the questions drawn or listed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from exercises.kinds import Kind
from exercises.recipe import Recipe
from trainer.assignments.practice_set import (
    MOST_LOOPS,
    BadSet,
    PracticeSet,
    Rule,
    SetLoop,
    SetQuestion,
    Terms,
)
from trainer.assignments.set_archive import own_loop_files
from trainer.assignments.set_questions import (
    SmallestAskable,
    Told,
    draw_questions,
    listed_questions,
)
from trainer.loop_shelf import LoopShelf
from trainer.planned_recipe import only_other


@dataclass(frozen=True, slots=True)
class Letter:
    """What a teacher writes on a set, and when it was made."""

    title: str
    teacher: str
    note: str
    made: datetime


@dataclass(frozen=True, slots=True)
class Drawing:
    """Questions to be drawn: so many, by a rule, on these loops, from a seed."""

    rule: Rule
    loops: tuple[str, ...]
    count: int
    seed: int


def drawn_set(
    shelf: LoopShelf,
    letter: Letter,
    terms: Terms,
    drawing: Drawing,
    told: Told = lambda _done, _of: None,
) -> PracticeSet:
    """A set whose questions are drawn by rule.

    Raises:
        NamefirstError: a loop is not at hand, or nothing of the rule can be heard.
    """
    loops = _set_loops(shelf, drawing.loops)
    rule = drawing.rule
    questions = draw_questions(
        rule, loops, drawing.count, drawing.seed, _smallest_askable(shelf), told=told
    )
    return PracticeSet(
        letter.title,
        letter.teacher,
        letter.note,
        letter.made,
        terms,
        drawing.seed,
        rule,
        adaptive=not rule.sizes_db and rule.kinds != (Kind.NOTHING,),
        loops=_used(loops, questions),
        questions=questions,
    )


def listed_set(
    shelf: LoopShelf, letter: Letter, terms: Terms, lines: Sequence[str], where: str
) -> PracticeSet:
    """A set of the questions in a teacher's list (see ``set_questions.listed_questions``).

    Raises:
        NamefirstError: a line is not understood, or its loop has no such track or passage.
    """
    loops = [SetLoop(name, shelf.get(name).fingerprint) for name in shelf.names()]
    listed = listed_questions(lines, loops, where)
    for number, question in enumerate(listed, start=1):
        _check_places(shelf, question.recipe, f"{where}, question {number}")
    listed = tuple(_with_other_passage(shelf, question) for question in listed)
    used = _used(loops, listed)
    return PracticeSet(
        letter.title,
        letter.teacher,
        letter.note,
        letter.made,
        terms,
        seed=0,
        rule=None,
        adaptive=False,
        loops=_set_loops(shelf, [loop.name for loop in used]),
        questions=listed,
    )


def hard_to_hear(made: PracticeSet, shelf: LoopShelf) -> tuple[int, ...]:
    """Numbers of the questions that a person could hardly hear: a list may ask what it likes."""
    from exercises.audibility import askable
    from exercises.heard import HeardLoop, ear_of

    ears: dict[tuple[str, str | None, bool], HeardLoop] = {}
    hard = []
    for number, question in enumerate(made.questions, start=1):
        recipe = question.recipe
        key = (recipe.loop, recipe.track, recipe.alone)
        if key not in ears:
            ears[key] = ear_of(shelf.get(recipe.loop), recipe.track, recipe.alone)
        if not askable(ears[key], recipe):
            hard.append(number)
    return tuple(hard)


def _smallest_askable(shelf: LoopShelf) -> SmallestAskable:
    """How small a problem on the whole mix of a loop may be; each loop is listened to once."""
    from exercises.audibility import smallest_askable_db
    from exercises.heard import HeardLoop, ear_of

    ears: dict[str, HeardLoop] = {}

    def smallest(loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        if loop not in ears:
            ears[loop] = ear_of(shelf.get(loop))
        return smallest_askable_db(ears[loop], kind, freq_hz)

    return smallest


def _set_loops(shelf: LoopShelf, names: Sequence[str]) -> tuple[SetLoop, ...]:
    if len(names) > MOST_LOOPS:
        raise BadSet(f"{len(names)} loops: a set has at most {MOST_LOOPS}; name fewer")
    own = shelf.own_names()
    return tuple(
        SetLoop(
            name,
            shelf.get(name).fingerprint,
            own_loop_files(shelf.folder / name) if name in own else (),
        )
        for name in names
    )


def _used(loops: Sequence[SetLoop], questions: Sequence[SetQuestion]) -> tuple[SetLoop, ...]:
    """The loops that are asked on; the others need not travel."""
    asked = {question.recipe.loop for question in questions}
    return tuple(loop for loop in loops if loop.name in asked)


def _with_other_passage(shelf: LoopShelf, question: SetQuestion) -> SetQuestion:
    """Where a loop has just two passages, a level of the one may be told of the other."""
    recipe = question.recipe
    other = only_other(shelf.get(recipe.loop), recipe.passage)
    return replace(question, recipe=replace(recipe, other_passage=other))


def _check_places(shelf: LoopShelf, recipe: Recipe, where: str) -> None:
    loop = shelf.get(recipe.loop)
    tracks = [track.name for track in loop.tracks]
    passages = [passage.name for passage in loop.passages]
    for place, names in ((recipe.track, tracks), (recipe.passage, passages)):
        if place is not None and place not in names:
            raise BadSet(f"{where}: '{place}' is none of {', '.join(names)} of '{loop.name}'")
