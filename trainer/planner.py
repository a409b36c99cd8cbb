"""What to ask next: two easy questions, then the mix that tells most and trains what is weak.

Pure: the belief, what this drill has asked so far, the limits, the step of the ladder and a seed
decide. Three questions in four are of the step that the learner is on, the fourth of the one
below: interleaving helps (Brunmair and Richter, Psychological Bulletin 145, 2019). What is wanted
most is drawn in ``wanted``; its size is the one whose answer tells most about the finest size, as
long as success is foretold in 75 % of cases or more, and never smaller than can be heard there.

Nothing that is seen before the answer gives it away. Step, kind and loop are drawn each by itself:
what a loop cannot carry changes the band, the place or the size, and the loop only where none of
these will do. About one question in eight hides nothing, of every step alike, drawn afresh each
time; only a question that says that it hides two never hides none.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

from exercises.errors import NamefirstError
from exercises.kinds import Kind
from exercises.problems import Problem
from exercises.question import Place
from trainer.ability import Ability
from trainer.ladder import STEPS, Step
from trainer.limits import Limits as Limits
from trainer.sizing import LEVEL_SIZES_DB as LEVEL_SIZES_DB
from trainer.sizing import TONE_SIZES_DB as TONE_SIZES_DB
from trainer.sizing import SmallestAskable as SmallestAskable
from trainer.sizing import best_size_db as best_size_db
from trainer.sizing import sizes_db as sizes_db
from trainer.wanted import BANDLESS_SHARE as BANDLESS_SHARE
from trainer.wanted import (
    Asked,
    Asking,
    Candidate,
    band_index_of,
    by_problem,
    candidates,
    in_drawn_order,
    may_stand_beside,
)

EASY_QUESTIONS: Final = 2
NOTHING_SHARE: Final = 1.0 / 8.0
BELOW_SHARE: Final = 1.0 / 4.0
BELOW_TWO_SHARE: Final = 1.0 / 2.0
"""At the step of two problems half the questions are of the step below, where nothing may be."""
_PLACES_TRIED: Final = 3
_TRIED_FIRST: Final = 4
_LATER: Final = 2.0


@dataclass(frozen=True, slots=True)
class Parts:
    """Names of a loop's tracks and passages."""

    tracks: tuple[str, ...]
    passages: tuple[str, ...]


class Fairness(Protocol):
    """What can be heard on the loops at hand."""

    def parts(self, loop: str) -> Parts:
        """The loop's tracks and passages."""
        ...

    def smallest_db(
        self, loop: str, place: Place, problems: Sequence[Problem], given: Sequence[Problem] = ()
    ) -> Sequence[float | None]:
        """Smallest size of each of ``problems`` (of one family, whatever their own size) that can
        be heard at ``place``, beside ``given``; None where none can."""
        ...


@dataclass(frozen=True, slots=True)
class Ask:
    """A question to make: ``problems`` at ``place``, none for *nothing*; ``step`` has the rest.

    ``seed`` is for whatever the making still leaves open.
    """

    step: Step
    loop: str
    place: Place
    problems: tuple[Problem, ...]
    seed: int

    @property
    def problem(self) -> Problem:
        """The first problem, or *nothing*."""
        return self.problems[0] if self.problems else Problem(Kind.NOTHING, 0.0)

    @property
    def asked(self) -> Asked:
        """What to remember of this question within the drill."""
        second = self.problems[1] if len(self.problems) > 1 else None
        return Asked(self.problem.kind, band_index_of(self.problem), self.loop, second)


def plan_next(
    ability: Ability,
    asked: Sequence[Asked],
    limits: Limits,
    loops: Sequence[str],
    fairness: Fairness,
    seed: int,
    step: int = 1,
) -> Ask:
    """The next question of a drill; the same arguments give the same question.

    ``loops`` are the names at hand, which ``limits`` may narrow; ``step`` is the learner's. Where
    no loop has the parts that a step needs, the one below is asked.

    Raises:
        NamefirstError: no loop is left, or none can carry any problem that may be asked.
    """
    draws = random.Random((seed << 20) + len(asked))
    names = _loops_within(limits, loops)
    easy = len(asked) < EASY_QUESTIONS
    first = _step_drawn(step, limits, draws, easy=easy)
    hides = easy or STEPS[first - 1].two or draws.random() >= NOTHING_SHARE
    in_turn = _loops_in_turn(names, asked, draws)
    for number in range(first, 0 if limits.step is None else first - 1, -1):
        asking = Asking(ability, asked, limits, STEPS[number - 1], easy)
        drawing = _Drawing(asking, fairness, draws)
        ask = drawing.problem(in_turn) if hides else drawing.nothing(in_turn)
        if ask is not None:
            return ask
    widen = "--bands, --kinds or --loops" if limits.step is None else "--step, --bands or --loops"
    raise NamefirstError(
        f"none of these loops can carry a problem that could be heard: add a loop, or widen {widen}"
    )


@dataclass(frozen=True, slots=True)
class _Drawing:
    """One question of one step on its way from what is wanted to what can be heard."""

    asking: Asking
    fairness: Fairness
    draws: random.Random

    def nothing(self, in_turn: Sequence[str]) -> Ask | None:
        """A question that hides nothing, on the first loop that has the parts."""
        groups = by_problem(candidates(self.asking, self.draws))
        for loop in self._carrying(in_turn, groups):
            if self._places(loop):
                return self._ask(loop, Place(), ())
        return None

    def problem(self, in_turn: Sequence[str]) -> Ask | None:
        """A question that hides what is wanted most, on the first loop that can carry its kind."""
        found = candidates(self.asking, self.draws)
        groups = by_problem(found)
        for group in groups:
            for loop in self._carrying(in_turn, groups):
                for place, problem in self._sized(loop, self._places(loop), group):
                    if not self.asking.step.two:
                        return self._ask(loop, place, (problem,))
                    second = self._second(loop, place, problem, found)
                    if second is not None:
                        return self._ask(loop, place, (problem, second))
        return None

    def _carrying(
        self, in_turn: Sequence[str], groups: Sequence[Sequence[Candidate]]
    ) -> Iterator[str]:
        """The loops in turn. Of a step that asks few bands, first those that carry every kind of
        it: else a loop would tell what it cannot be."""
        if not self.asking.step.alike:
            yield from in_turn
            return
        others = []
        for loop in in_turn:
            places = self._places(loop)
            if all(next(self._sized(loop, places, group), None) for group in groups):
                yield loop
            else:
                others.append(loop)
        yield from others

    def _ask(self, loop: str, place: Place, problems: tuple[Problem, ...]) -> Ask:
        seed = int(self.draws.random() * 2**31)
        return Ask(self.asking.step, loop, place, problems, seed)

    def _places(self, loop: str) -> list[Place]:
        """Where a problem of this step may sit in a loop, in drawn order: each place that can be
        answered. None where the loop lacks the parts that the step is about."""
        step, parts = self.asking.step, self.fairness.parts(loop)
        tracks: tuple[str | None, ...] = (None,)
        passages: tuple[str | None, ...] = (None,)
        if step.ask_track and len(parts.tracks) > 1:
            tracks = (None, *parts.tracks)
        if step.ask_passage and len(parts.passages) > 1:
            passages = parts.passages if step.alike else (None, *parts.passages)
        lacking = len(tracks) == len(passages) == 1
        if lacking and step.ask_track is not step.ask_passage:
            return []
        return in_drawn_order([Place(t, p) for t in tracks for p in passages], self.draws)

    def _sized(
        self,
        loop: str,
        places: Sequence[Place],
        group: Sequence[Candidate],
        given: tuple[Problem, ...] = (),
    ) -> Iterator[tuple[Place, Problem]]:
        """Places with what is best asked there, its size settled: first those where it need not be
        much larger than wanted. The few wanted most are tried everywhere before the rest."""
        for few in (group[:_TRIED_FIRST], group[_TRIED_FIRST:]):
            wanted_db = [self.asking.best_db(one.skill) for one in few]
            later = []
            for place in places[:_PLACES_TRIED] if few else ():
                problems = [one.problem for one in few]
                smallest = self.fairness.smallest_db(loop, place, problems, given)
                # Having to be larger than wanted costs a candidate its turn.
                carried = [
                    (few[n].wait * max(1.0, least / wanted_db[n]) ** 2, n, least)
                    for n, least in enumerate(smallest)
                    if least is not None and least <= sizes_db(few[n].skill)[1]
                ]
                if not carried:
                    continue
                wait, n, least = min(carried)
                larger = least > wanted_db[n]
                size_db = self.asking.best_db(few[n].skill, least) if larger else wanted_db[n]
                found = place, replace(few[n].problem, size_db=size_db)
                if wait <= _LATER * few[n].wait:
                    yield found
                else:
                    later.append(found)
            yield from later

    def _second(
        self, loop: str, place: Place, first: Problem, found: Sequence[Candidate]
    ) -> Problem | None:
        """What is wanted most of all that may stand beside ``first``."""
        others = [one for one in found if may_stand_beside(one.problem, first)]
        for group in by_problem(others):
            for _, problem in self._sized(loop, [place], group, (first,)):
                return problem
        return None


def _step_drawn(step: int, limits: Limits, draws: random.Random, *, easy: bool) -> int:
    """The present step or the one below; the one below for the easy ones."""
    draw = draws.random()
    if limits.step is not None:
        return limits.step
    share = BELOW_TWO_SHARE if STEPS[step - 1].two else BELOW_SHARE
    return max(1, step - 1) if easy or draw < share else step


def _loops_within(limits: Limits, loops: Sequence[str]) -> tuple[str, ...]:
    names = tuple(name for name in loops if limits.loops is None or name in limits.loops)
    if not names:
        wanted = "any" if limits.loops is None else ", ".join(limits.loops)
        raise NamefirstError(f"no loop to ask on ({wanted} wanted): add one, or widen --loops")
    return names


def _loops_in_turn(names: Sequence[str], asked: Sequence[Asked], draws: random.Random) -> list[str]:
    """Least used in this drill first, ties drawn; the loop just heard last of all."""
    used = {name: sum(each.loop == name for each in asked) for name in names}
    tie = {name: draws.random() for name in names}
    just_heard = asked[-1].loop if asked else None
    return sorted(names, key=lambda name: (name == just_heard, used[name], tie[name]))
