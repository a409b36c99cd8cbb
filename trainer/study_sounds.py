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
from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.loudness import REFERENCE_LUFS, block_powers, matching_gain_db
from exercises.mixdown import matching_factor, scaled
from exercises.problems import Problem, apply_problem
from exercises.question import HIGHEST_PEAK_DBTP, Question, make_question
from exercises.recipe import HIGHEST_PROBLEM_HZ, LOWEST_PROBLEM_HZ, Recipe
from exercises.samples import Samples, as_samples, db_to_gain, gain_to_db
from exercises.tone_curve import USUAL_Q
from exercises.true_peak import true_peak
from exercises.truth_sounds import region_alone
from trainer.fair_sizes import fair_sizes_of
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

    The same sound that ``make_question`` makes of a tone problem on the whole mix, in a third of
    the time: what is the same for every mark is measured once. ``gain_db`` is what both are turned
    by. It is low enough for the marks that were tried, and goes lower only for one that asks for
    it; then ``a`` is another too.
    """

    def __init__(self, loop: Loop) -> None:
        self.loop = loop
        self._mix = loop.mix()
        self._reference_db = matching_gain_db(block_powers(self._mix), REFERENCE_LUFS)
        self.gain_db = min(self._reference_db, _highest_db(self._mix))
        for freq_hz in _PROBED_HZ:
            matched = self._matched(Mark(Kind.TOO_MUCH, freq_hz, LARGEST_MARK_DB))
            self.gain_db = min(self.gain_db, _highest_db(matched))
        self.a = scaled(self._mix, db_to_gain(self.gain_db))

    def b(self, mark: Mark) -> Samples:
        """B with too much, or too little, at the mark; held to where a problem may sit."""
        matched = self._matched(mark)
        highest_db = _highest_db(matched)
        if highest_db < self.gain_db:
            self.gain_db = highest_db
            self.a = scaled(self._mix, db_to_gain(highest_db))
        return scaled(matched, db_to_gain(self.gain_db))

    def _matched(self, mark: Mark) -> Samples:
        freq_hz = min(HIGHEST_PROBLEM_HZ, max(LOWEST_PROBLEM_HZ, mark.freq_hz))
        problem = Problem(mark.kind, mark.size_db, freq_hz, USUAL_Q)
        changed = apply_problem(self._mix, problem)
        return scaled(changed, matching_factor(changed, REFERENCE_LUFS, self._reference_db))


def _highest_db(sound: Samples) -> float:
    """The gain in dB that brings a sound's true peak to the highest that is played."""
    return HIGHEST_PEAK_DBTP - gain_to_db(true_peak(sound))


class StudyMaker:
    """Plans minutes and makes their sounds from the loops of a shelf; one thread at a time."""

    def __init__(self, shelf: LoopShelf) -> None:
        self._shelf = shelf
        self._smallest = fair_sizes_of(shelf)
        self._measured = 0

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

    def measure_next(self) -> bool:
        """Measures one more loop ahead of its need; whether there are any left."""
        names = self._shelf.names()
        if self._measured < len(names):
            self._smallest(names[self._measured], Kind.TOO_MUCH, 1000.0)
            self._measured += 1
        return self._measured < len(names)

    def pencil(self, number: int) -> Pencil:
        """The free pencil on the loop of that number, counted round and round the shelf."""
        names = self._shelf.names()
        return Pencil(self._shelf.get(names[number % len(names)]))
