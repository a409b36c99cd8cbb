"""The rules of a blind claim: is the change heard, and where; no screen, no clock, no sound.

    TRIALS --say_x--> TRIALS ... --say_x, decided--> POINTING --point, five times--> OVER
                                                     POINTING --skip_pointing------> OVER

In a trial X is A (as it is) or B (with the change), drawn for each; nothing is told of right and
wrong before the test has ended. In each pointing the change sits at another hidden place, drawn
evenly within an octave to either side of the claim: were it always at the claimed frequency, it
would be pointed at from memory and not by ear. A move that does not fit the stage raises
IllegalMove and changes nothing. All draws are ``random.Random(seed).random()``.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from enum import Enum
from statistics import fmean, stdev
from typing import Final

from exercises.bands import HIGHEST_HZ, LOWEST_HZ, octaves
from exercises.recipe import HIGHEST_PROBLEM_HZ, LOWEST_PROBLEM_HZ
from trainer.round import IllegalMove
from trainer.sequential_test import RULE, Outcome, Rule, outcome

POINTINGS: Final = 5
_T_975: Final = {2: 4.303, 3: 3.182, 4: 2.776}
"""97.5 % points of Student's t for n - 1 degrees of freedom (any table of it)."""


class Stage(Enum):
    """Where a claim stands."""

    TRIALS = "trials"
    POINTING = "pointing"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Trial:
    """What X was, "A" or "B", and what it was taken for."""

    x: str
    said: str

    @property
    def right(self) -> bool:
        """Whether it was told rightly."""
        return self.x == self.said


@dataclass(frozen=True, slots=True)
class Point:
    """Where the change was, and where it was pointed at, in Hz."""

    true_hz: float
    named_hz: float

    @property
    def miss_octaves(self) -> float:
        """Positive when it was pointed at too high."""
        return octaves(self.named_hz, self.true_hz)


@dataclass(frozen=True, slots=True)
class Aim:
    """How one points: mean miss in octaves with its 95 % interval, and the spread (sd)."""

    bias: float
    low: float
    high: float
    spread: float


class Claim:
    """One claim being tested; ``x`` and ``place_hz`` are for the player alone, never for a page."""

    def __init__(self, freq_hz: float, seed: int, rule: Rule = RULE) -> None:
        self._draws = random.Random(seed)
        self.rule = rule
        self.stage = Stage.TRIALS
        self.trials: tuple[Trial, ...] = ()
        self.points: tuple[Point, ...] = ()
        self.places_hz = tuple(_place_near(freq_hz, self._draws) for _ in range(POINTINGS))
        self._x = self._next_x()

    @property
    def number(self) -> int:
        """Which trial, or which pointing, this is; from 1."""
        return 1 + len(self.trials if self.stage is Stage.TRIALS else self.points)

    @property
    def x(self) -> str:
        """What X is in this trial: "A" or "B"."""
        self._must_be(Stage.TRIALS)
        return self._x

    @property
    def place_hz(self) -> float:
        """Where the change is in this pointing."""
        self._must_be(Stage.POINTING)
        return self.places_hz[len(self.points)]

    @property
    def right(self) -> int:
        """How many trials were told rightly."""
        return sum(trial.right for trial in self.trials)

    @property
    def outcome(self) -> Outcome:
        """How the test stands, or how it ended."""
        return outcome(self.right, len(self.trials), self.rule)

    @property
    def aim(self) -> Aim | None:
        """Bias and spread, once every pointing is done."""
        return aim_of(self.points)

    def say_x(self, letter: str) -> None:
        """Says what X is."""
        self._must_be(Stage.TRIALS)
        if letter not in ("A", "B"):
            raise IllegalMove(f"X is A or B, not '{letter}'")
        self.trials = (*self.trials, Trial(self._x, letter))
        self._x = self._next_x()
        if self.outcome is not Outcome.GOING_ON:
            self.stage = Stage.POINTING

    def point(self, named_hz: float) -> None:
        """Points at where the change is; held within 20 Hz to 20 kHz."""
        self._must_be(Stage.POINTING)
        named_hz = min(HIGHEST_HZ, max(LOWEST_HZ, named_hz))
        self.points = (*self.points, Point(self.place_hz, named_hz))
        if len(self.points) == POINTINGS:
            self.stage = Stage.OVER

    def skip_pointing(self) -> None:
        """Leaves the (rest of the) pointing out."""
        self._must_be(Stage.POINTING)
        self.stage = Stage.OVER

    def take_back(self) -> None:
        """Takes back what was said, or pointed at, last: it could not be kept, and can be given
        again. It is asked as it was."""
        if self.points:
            self.points = self.points[:-1]
            self.stage = Stage.POINTING
        else:
            self._x = self.trials[-1].x
            self.trials = self.trials[:-1]
            self.stage = Stage.TRIALS

    def _next_x(self) -> str:
        return "A" if self._draws.random() < 0.5 else "B"

    def _must_be(self, stage: Stage) -> None:
        if self.stage is not stage:
            raise IllegalMove(f"this claim is at '{self.stage.value}', not '{stage.value}'")


def aim_of(points: tuple[Point, ...]) -> Aim | None:
    """Bias and spread of three pointings or more; fewer tell nothing of either: None."""
    if len(points) - 1 not in _T_975:
        return None
    misses = [point.miss_octaves for point in points]
    bias, spread = fmean(misses), stdev(misses)
    reach = _T_975[len(points) - 1] * spread / math.sqrt(len(points))
    return Aim(bias, bias - reach, bias + reach, spread)


def _place_near(freq_hz: float, draws: random.Random) -> float:
    """Evenly within an octave to either side, kept to where problems can be."""
    low_hz = max(LOWEST_PROBLEM_HZ, freq_hz / 2.0)
    high_hz = min(HIGHEST_PROBLEM_HZ, freq_hz * 2.0)
    return low_hz * math.pow(high_hz / low_hz, draws.random())
