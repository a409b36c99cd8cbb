"""The sounds of a guided step, and of the free pencil, made from recipes like any question's.

All parts of a step are as loud as one another, but for what is a level itself: each is made fair
by ``make_question``, and then all are turned down to the quietest of them. Sound is (frames, 2)
float32. Loads what is slow to import, so import it behind the first screen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from exercises.errors import NamefirstError
from exercises.kinds import TONE, Kind
from exercises.loops import Loop
from exercises.problems import USUAL_Q, Problem
from exercises.question import Question, make_question
from exercises.recipe import HIGHEST_PROBLEM_HZ, LOWEST_PROBLEM_HZ, Recipe
from exercises.samples import Samples, as_samples, db_to_gain
from exercises.truth_sounds import region_alone
from trainer.fair_sizes import FairSizes
from trainer.guided_minute import Step, minute_of
from trainer.loop_shelf import LoopShelf
from trainer.study import grounds_of
from trainer.subject import Subject

_PROBED_HZ: Final = (63.0, 500.0, 4000.0)
LARGEST_MARK_DB: Final = 12.0


@dataclass(frozen=True, slots=True)
class StepSounds:
    """A step ready to be heard: its loop, and a sound for each part."""

    step: Step
    loop: Loop
    sounds: Mapping[str, Samples]


def sounds_of(step: Step, loop: Loop) -> StepSounds:
    """Every part of ``step``, made on ``loop``.

    Raises:
        BadRecipe: the loop is not the one that the step is for, or lacks a track or passage.
    """
    made: dict[Problem | None, Question] = {}
    for part in step.parts:
        if part.problem is not None and part.problem not in made:
            made[part.problem] = make_question(_recipe(step, loop, part.problem), loop)
    gain_db = min(question.gain_db for question in made.values())
    some = next(iter(made.values()))
    sounds: dict[str, Samples] = {}
    for part in step.parts:
        question = some if part.problem is None else made[part.problem]
        sound = question.a if part.problem is None else question.b
        sound = as_samples(sound * db_to_gain(gain_db - question.gain_db))
        sounds[part.name] = sound if part.region_hz is None else region_alone(sound, part.region_hz)
    return StepSounds(step, loop, sounds)


def _recipe(step: Step, loop: Loop, problem: Problem) -> Recipe:
    if step.like is None:
        return _plain_recipe(loop, problem)
    return replace(
        step.like,
        kind=problem.kind,
        size_db=problem.size_db,
        freq_hz=problem.freq_hz,
        q=problem.q,
        shape=problem.shape,
        style=problem.style,
        second=None,
    )


def _plain_recipe(loop: Loop, problem: Problem) -> Recipe:
    return Recipe(
        seed=0,
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=problem.kind,
        size_db=problem.size_db,
        freq_hz=problem.freq_hz,
        q=problem.q,
    )


@dataclass(frozen=True, slots=True)
class Mark:
    """What the free pencil asks for: too much or too little, where, and by how many dB."""

    kind: Kind
    freq_hz: float
    size_db: float


class Pencil:
    """One loop under the free pencil: A, and B for any mark, as loud as one another.

    ``gain_db`` is what both are turned by. It is low enough for the marks that were tried, and goes
    lower only for one that asks for it; then ``a`` is another too.
    """

    def __init__(self, loop: Loop) -> None:
        self.loop = loop
        tried = [
            self._question(Mark(Kind.TOO_MUCH, freq_hz, LARGEST_MARK_DB)) for freq_hz in _PROBED_HZ
        ]
        self._full, self._full_db = tried[0].a, tried[0].gain_db
        self.gain_db = min(question.gain_db for question in tried)
        self.a = self._a()

    def b(self, mark: Mark) -> Samples:
        """B with too much, or too little, at the mark; about 60 ms for ten seconds of sound."""
        question = self._question(mark)
        if question.gain_db < self.gain_db:
            self.gain_db = question.gain_db
            self.a = self._a()
        return as_samples(question.b * db_to_gain(self.gain_db - question.gain_db))

    def _a(self) -> Samples:
        return as_samples(self._full * db_to_gain(self.gain_db - self._full_db))

    def _question(self, mark: Mark) -> Question:
        assert mark.kind in TONE
        freq_hz = min(HIGHEST_PROBLEM_HZ, max(LOWEST_PROBLEM_HZ, mark.freq_hz))
        problem = Problem(mark.kind, mark.size_db, freq_hz, USUAL_Q)
        return make_question(_plain_recipe(self.loop, problem), self.loop)


class StudyMaker:
    """Plans minutes and makes their sounds from the loops of a shelf; one thread at a time."""

    def __init__(self, shelf: LoopShelf) -> None:
        self._shelf = shelf
        self._smallest = FairSizes(shelf)

    def steps_of(self, subject: Subject, finest_db: float | None) -> tuple[Step, ...]:
        """The steps of a minute on ``subject``; a second or two when loops are new to it.

        Raises:
            NamefirstError: it cannot be heard on any loop at hand, or a loop cannot be read.
        """
        grounds = grounds_of(subject, self._shelf.names(), self._smallest)
        if not grounds:
            raise NamefirstError(
                f"{subject.title}: cannot be heard on any of the loops at hand; add one of your own"
            )
        return minute_of(subject, grounds, finest_db)

    def sounds_of(self, step: Step) -> StepSounds:
        """The sounds of one step.

        Raises:
            NamefirstError: its loop cannot be read, or is no longer as it was.
        """
        if step.like is not None:
            return sounds_of(step, self._shelf.find(step.loop, step.like.fingerprint))
        return sounds_of(step, self._shelf.get(step.loop))

    def pencil(self, number: int) -> Pencil:
        """The free pencil on the loop of that number, counted round and round the shelf."""
        names = self._shelf.names()
        return Pencil(self._shelf.get(names[number % len(names)]))
