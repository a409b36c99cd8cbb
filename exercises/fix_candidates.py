"""Four fixes of one problem, to choose between: worked out from the problem, one for each role.

- *One move*: the smallest fix that the program finds.
- *Two moves* that do about the same: where the one cuts, everything below and above is boosted
  instead (or the other way round): a low and a high shelf by least squares.
- *Many moves*: the fader ridden, passage by passage or bar by bar, until each is as loud as A's.
- *Clever*: the compressor or the lift of loud parts that resembles what the problem did to the
  level over time; where passages differ in tone and not in level it has nothing to work on.

Whether each plays its role is measured, not assumed: ``roles_hold`` says whether the four make a
round. A problem of level or of compression has no second way of this sort, and is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from exercises.errors import BadRecipe
from exercises.fixing import fix_question, stems_of
from exercises.kinds import TONE
from exercises.loops import Loop, Passage
from exercises.measured_change import time_change, tone_change, tone_of
from exercises.move_fitting import parts_of, smallest_fix
from exercises.moves import (
    EqPoint,
    Fix,
    HighShelf,
    LowShelf,
    Ride,
    on_track,
)
from exercises.question import Question
from exercises.residual import Judgement, judge_measured, measure
from exercises.samples import Samples
from exercises.time_fitting import fit_dynamics
from exercises.tone_refining import refine

SMALLEST_CLEVER_DB: Final = 3.0
"""A compressor does at least this much, so that it can be heard to work."""

LARGEST_SHELF_DB: Final = 12.0
"""What a mixer's shelf goes up to (common practice, no source)."""

_SMALLEST_RIDE_DB: Final = 0.1
_FEWEST_RIDES: Final = 3


class Role(StrEnum):
    """What a candidate is there to show. The values are the words a learner sees."""

    ONE_MOVE = "one move"
    TWO_MOVES = "two moves"
    MANY_MOVES = "many moves"
    CLEVER = "clever"


@dataclass(frozen=True, slots=True)
class Candidate:
    """One fix, what it sounds like (frames, 2) at A's loudness, and how it was judged."""

    role: Role
    fix: Fix
    sound: Samples
    judgement: Judgement

    @property
    def moves(self) -> int:
        """How many moves it takes."""
        return len(self.fix)

    @property
    def works(self) -> bool:
        """Whether nobody would hear a difference from A."""
        return not self.judgement.now.heard


def fix_candidates(question: Question, loop: Loop) -> tuple[Candidate, ...]:
    """The four candidates for ``question``, in the order of ``Role``.

    Raises:
        BadRecipe: the problem is not *too much* or *too little*, or not all that is wrong
            from end to end.
    """
    recipe = question.recipe
    for field in ("passage", "second"):
        if getattr(recipe, field) is not None:
            raise BadRecipe(
                field, "a choice of fixes is about one problem all the way; leave it out"
            )
    if recipe.kind not in TONE:
        raise BadRecipe("kind", f"'{recipe.kind}' has one fix only; choose too much or too little")
    stems = stems_of(question, loop)
    before, after = parts_of(question, loop)
    one = smallest_fix(question, loop)
    fixes = {
        Role.ONE_MOVE: one,
        Role.TWO_MOVES: _shelves_round(before, after, one),
        Role.MANY_MOVES: _rides(before, after, spans_to_ride(loop)),
        Role.CLEVER: _clever(before, after),
    }
    a, b = (measure(sound, loop.passages) for sound in (question.a, question.b))
    candidates = []
    for role, moves in fixes.items():
        fix = tuple(on_track(move, recipe.track) for move in moves)
        sound = fix_question(question, stems, fix)
        judged = judge_measured(measure(sound, loop.passages), b, a)
        candidates.append(Candidate(role, fix, sound, judged))
    return tuple(candidates)


def roles_hold(candidates: Sequence[Candidate]) -> bool:
    """Whether the four show what they are there to show, so that they make a round.

    One move works and is the fewest; two work as well, without shelves beyond a mixer's; many are
    more than two; and the clever one is heard to leave the problem there.
    """
    by_role = {candidate.role: candidate for candidate in candidates}
    one, two = by_role[Role.ONE_MOVE], by_role[Role.TWO_MOVES]
    many, clever = by_role[Role.MANY_MOVES], by_role[Role.CLEVER]
    shelves = [move for move in two.fix if isinstance(move, LowShelf | HighShelf)]
    return (
        one.works
        and one.moves == 1
        and two.works
        and two.moves == 2
        and all(abs(move.gain_db) <= LARGEST_SHELF_DB for move in shelves)
        and many.moves > two.moves
        and not clever.works
    )


def spans_to_ride(loop: Loop) -> tuple[Passage, ...]:
    """The loop's passages, or its bars where passages are few and bars are known."""
    if len(loop.passages) >= _FEWEST_RIDES or loop.bars is None:
        return loop.passages
    edges = [loop.frames * bar // loop.bars for bar in range(loop.bars + 1)]
    return tuple(Passage(f"bar {bar + 1}", edges[bar], edges[bar + 1]) for bar in range(loop.bars))


def _shelves_round(before: Samples, after: Samples, one: Fix) -> Fix:
    """A low and a high shelf that do on both sides what ``one`` undoes between them."""
    points = [move for move in one if isinstance(move, EqPoint)]
    if not points:
        return ()
    point = max(points, key=lambda move: abs(move.gain_db))
    # Where the shelves of a wide cut come to lie; from there least squares goes on.
    away = 2.0 ** (0.5 / point.q + 0.4)
    low_hz, high_hz = max(point.freq_hz / away, 20.0), min(point.freq_hz * away, 20_000.0)
    start = (LowShelf(low_hz, -point.gain_db), HighShelf(high_hz, -point.gain_db))
    return refine(tone_change(before, tone_of(after)), start).moves


def _rides(before: Samples, after: Samples, spans: Sequence[Passage]) -> Fix:
    """Rides that bring every span to the loudness that it should have."""
    gains_lu = measure(after, spans).passage_lufs - measure(before, spans).passage_lufs
    return tuple(
        Ride(float(gain_lu), span)
        for span, gain_lu in zip(spans, gains_lu, strict=True)
        if abs(gain_lu) >= _SMALLEST_RIDE_DB
    )


def _clever(before: Samples, after: Samples) -> Fix:
    return (fit_dynamics(time_change(before, after), before, SMALLEST_CLEVER_DB)[0],)
