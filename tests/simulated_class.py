"""A class of simulated students that takes sets: results without a loop being heard.

Each student has a skill from 0 to 1 (the chance to name a problem, and to let nothing pass as
nothing); a wrong name falls into the next band, or says "nothing".
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from exercises.bands import BANDS
from exercises.kinds import TONE, Help, Kind
from trainer import __version__
from trainer.assignments.practice_set import (
    PracticeSet,
    Rule,
    SetLoop,
    SetQuestion,
    Terms,
)
from trainer.assignments.result import Result, ability_after, finest_of, head_of
from trainer.assignments.set_questions import draw_questions
from trainer.judging import Answer
from trainer.record import KeptAnswer, Listening

MADE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
LOOPS = (SetLoop("ferry-crossing", "5" * 64), SetLoop("slipway", "7" * 64))
KINDS = (Kind.TOO_MUCH, Kind.TOO_LITTLE, Kind.SQUASHED, Kind.TOO_LOUD, Kind.NOTHING)
NAMES = (
    "Ada Brook", "Bram Field", "Cleo Marsh", "Dag Holt", "Edda Lund", "Finn Moor", "Gro Wick",
    "Hugo Dale", "Ines Rook", "Jory Penn", "Kaia Firth", "Lars Combe", "Mira Shaw", "Nils Thorp",
)  # fmt: skip
"""Invented."""


def class_set(
    count: int = 20, *, title: str = "Mud or box", made: datetime = MADE, **terms: object
) -> PracticeSet:
    """A set on loops that only have names: everything can be heard from 2 dB on."""
    rule = Rule((2, 3, 4, 5), KINDS, (6.0, 9.0), (Help.A_AT_HAND,))
    questions = draw_questions(rule, LOOPS, count, 7, lambda _loop, _kind, _hz: 2.0)
    settled = Terms(**{"due": made + timedelta(days=4), **terms})  # type: ignore[arg-type]
    return PracticeSet(
        title, "M. Quill", "Take your time.", made, settled, 7, rule, False, LOOPS, questions
    )


def taken(
    made: PracticeSet,
    student: str,
    skill: float,
    *,
    seed: int = 1,
    started: datetime | None = None,
    number: int = 1,
    answered: int | None = None,
    finest: bool = True,
) -> Result:
    """One try of ``made``; only the first ``answered`` questions where that is given."""
    draws = random.Random(seed)
    now = made.made + timedelta(days=1) if started is None else started
    answers = []
    for place, question in enumerate(made.questions[:answered], start=1):
        now_at = now + timedelta(seconds=20 * place)
        answers.append(_answer(place, question, draws, skill, now_at))
    done = answered is None or answered >= len(made.questions)
    return Result(
        head_of(made),
        student,
        number,
        now,
        answers[-1].answered_at if done else None,
        __version__,
        None,
        finest_of(ability_after(answers)) if finest else (),
        tuple(answers),
    )


def _answer(
    number: int, question: SetQuestion, draws: random.Random, skill: float, at: datetime
) -> KeptAnswer:
    recipe = question.recipe
    right, sure, aside = draws.random() < skill, draws.random() < 0.7, draws.random()
    said, freq_hz = recipe.kind, recipe.freq_hz
    if not right and recipe.kind is Kind.NOTHING:
        said, freq_hz = Kind.TOO_MUCH, BANDS[3].mid_hz
    elif not right and (recipe.kind not in TONE or aside < 0.3):
        said, freq_hz = Kind.NOTHING, None
    elif not right and freq_hz is not None:
        freq_hz *= 2.2 if aside < 0.8 else 0.45
    answer = Answer(said, freq_hz, sure)
    listening = Listening(round(5.0 + 10.0 * draws.random(), 2), 3, 4.0, 5.0)
    return KeptAnswer(number, 0, at, at.date(), recipe, answer, listening, __version__)


def renamed(result: Result, student: str) -> Result:
    """The same result, handed in by another."""
    return replace(result, student=student)


def skills(count: int) -> Sequence[float]:
    """Skills of a class, evenly from 0.3 to 0.95."""
    return [0.3 + 0.65 * place / max(1, count - 1) for place in range(count)]
