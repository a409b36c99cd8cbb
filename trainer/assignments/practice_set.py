"""A set: questions that a teacher hands out, with the terms on which they are answered.

Plain data. The questions are settled when the set is made: recipes, which make the same sound on
every machine, so that nothing is left to be drawn by whoever takes it. In an *adaptive* set the
sizes alone are left open: each is chosen for the one who answers, never under ``least_db``.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, fields
from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from exercises.bands import BANDS
from exercises.errors import NamefirstError
from exercises.kinds import Help, Kind
from exercises.recipe import Recipe

MOST_QUESTIONS: Final = 1000
MOST_LOOPS: Final = 40
MOST_TRIES: Final = 20
MOST_MINUTES: Final = 240.0
LONGEST_TITLE: Final = 100
LONGEST_NOTE: Final = 4000


class BadSet(NamefirstError):
    """A set that cannot be made, written or taken; the message says what to change."""


class Review(StrEnum):
    """When whoever takes the set is shown the truth."""

    AT_ONCE = "at once"
    AT_THE_END = "at the end"
    NOT_AT_ALL = "not at all"


class Counts(StrEnum):
    """Which of several tries counts."""

    BEST = "best"
    FIRST = "first"
    LAST = "last"


@dataclass(frozen=True, slots=True)
class Rule:
    """What the questions were drawn by: ``help`` and ``sizes_db`` are drawn from as well.

    ``sizes_db`` is empty in an adaptive set.
    """

    bands: tuple[int, ...]
    kinds: tuple[Kind, ...]
    sizes_db: tuple[float, ...]
    help: tuple[Help, ...]


@dataclass(frozen=True, slots=True)
class LoopFile:
    """One file of a loop that travels with the set: a plain name, and the SHA-256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class SetLoop:
    """A loop that the set asks on; ``files`` where it is the teacher's own and travels along."""

    name: str
    fingerprint: str
    files: tuple[LoopFile, ...] = ()


@dataclass(frozen=True, slots=True)
class SetQuestion:
    """One question; ``least_db`` is the smallest size that can be heard there (adaptive sets)."""

    recipe: Recipe
    least_db: float = 0.0


@dataclass(frozen=True, slots=True)
class Terms:
    """How a set is to be taken. ``minutes`` None: no limit; ``due`` None: whenever."""

    due: datetime | None = None
    minutes: float | None = None
    tries: int = 1
    counts: Counts = Counts.BEST
    review: Review = Review.AT_ONCE


@dataclass(frozen=True, slots=True)
class PracticeSet:
    """Everything that is in a set's file. ``rule`` is None for questions in a teacher's order."""

    title: str
    teacher: str
    note: str
    made: datetime
    terms: Terms
    seed: int
    rule: Rule | None
    adaptive: bool
    loops: tuple[SetLoop, ...]
    questions: tuple[SetQuestion, ...]

    @property
    def id(self) -> str:
        """What tells one set from another: 16 hex digits of what is asked, terms and note apart,
        so that a due date can be put off without making it another set."""
        asked = {
            "adaptive": self.adaptive,
            "rule": None if self.rule is None else rule_plain(self.rule) | {"seed": self.seed},
            "loops": [[loop.name, loop.fingerprint] for loop in self.loops],
            "questions": [question_plain(question) for question in self.questions],
        }
        return hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()[:16]

    @property
    def own_loops(self) -> tuple[SetLoop, ...]:
        """The loops that travel with the set."""
        return tuple(loop for loop in self.loops if loop.files)


_DEFAULTS: Final = {field.name: field.default for field in fields(Recipe)}


def recipe_plain(recipe: Recipe) -> dict[str, Any]:
    """The recipe's fields without those that say nothing; ``read_recipe`` takes them back."""
    plain = recipe.to_dict()
    return {
        name: value
        for name, value in plain.items()
        if name == "version" or value != _DEFAULTS.get(name)
    }


def question_plain(question: SetQuestion) -> dict[str, Any]:
    """A question as JSON holds it."""
    plain: dict[str, Any] = {"recipe": recipe_plain(question.recipe)}
    return plain | ({"least_db": question.least_db} if question.least_db else {})


def rule_plain(rule: Rule) -> dict[str, Any]:
    """A rule as JSON and TOML hold it."""
    return {
        "bands": [BANDS[index].name for index in rule.bands],
        "kinds": [kind.value for kind in rule.kinds],
        "sizes_db": list(rule.sizes_db),
        "help": [int(help) for help in rule.help],
    }
