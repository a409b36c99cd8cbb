"""Four fixes of one problem, to choose between, each rendered and judged: one for each role.

What the moves are is worked out in ``candidate_moves``. Whether each plays its role is measured,
not assumed: ``roles_hold`` says whether the four make a round. All are as loud as A.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from exercises.candidate_moves import Role, case_of, moves_of
from exercises.errors import BadRecipe
from exercises.fixing import apply_fix, level_at_stake, matched_to, stems_of
from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.loudness import loudness_lufs
from exercises.moves import Fix, HighShelf, LowShelf
from exercises.question import Question
from exercises.residual import Judgement, judge_measured, measure
from exercises.samples import Samples

LARGEST_SHELF_DB: Final = 12.0
"""What a mixer's shelf goes up to (common practice, no source)."""


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
        BadRecipe: there is nothing to fix, more than one problem, or a level of all that is
            heard, of which nothing is left when all is as loud.
    """
    return tuple(_made(question, loop))


def round_candidates(question: Question, loop: Loop) -> tuple[Candidate, ...] | None:
    """The same where the four make a round, else None: found out at the first that fails.

    Raises:
        BadRecipe: as ``fix_candidates``.
    """
    made = []
    for candidate in _made(question, loop):
        if not _plays_its_role(candidate):
            return None
        made.append(candidate)
    return tuple(made)


def roles_hold(candidates: Sequence[Candidate]) -> bool:
    """Whether the four show what they are there to show, so that they make a round.

    One move works; two work as well, without shelves beyond a mixer's; many are more than two,
    whether they work or not; and the clever one, of one move, is heard to leave a difference.
    """
    return [candidate.role for candidate in candidates] == list(Role) and all(
        map(_plays_its_role, candidates)
    )


def true_order(candidates: Sequence[Candidate]) -> tuple[int, ...]:
    """The places of ``candidates`` from the simplest that works on.

    What works comes first; then by the number of moves; then by what is left, in the ear.
    """

    def key(place: int) -> tuple[bool, int, float]:
        candidate = candidates[place]
        return not candidate.works, candidate.moves, candidate.judgement.now.excitation_db

    return tuple(sorted(range(len(candidates)), key=key))


def _made(question: Question, loop: Loop) -> Iterator[Candidate]:
    _refuse(question)
    case = case_of(question, loop)
    stems = stems_of(question, loop)
    a, b = (measure(sound, loop.passages) for sound in (question.a, question.b))
    a_lufs = loudness_lufs(question.a)
    for role in Role:
        fix = moves_of(role, case)
        fixed = apply_fix(stems, fix, made_up=not level_at_stake(question))
        sound = matched_to(fixed, a_lufs)
        judged = judge_measured(measure(sound, loop.passages), b, a)
        yield Candidate(role, fix, sound, judged)


def _refuse(question: Question) -> None:
    recipe = question.recipe
    if recipe.second is not None:
        raise BadRecipe("second", "a choice of fixes is about one problem; leave it out")
    if recipe.kind is Kind.NOTHING:
        raise BadRecipe("kind", "'nothing' needs no fix; choose a problem")
    if level_at_stake(question) and (recipe.track is None or recipe.alone):
        raise BadRecipe(
            "track",
            f"'{recipe.kind}' of all that is heard is gone once all is as loud; "
            "name a track in the mix, or a passage",
        )


def _plays_its_role(candidate: Candidate) -> bool:
    if candidate.role is Role.MANY_MOVES:
        return candidate.moves > 2
    if candidate.role is Role.CLEVER:
        return candidate.moves == 1 and not candidate.works
    shelves = [move for move in candidate.fix if isinstance(move, LowShelf | HighShelf)]
    return (
        candidate.works
        and candidate.moves == (1 if candidate.role is Role.ONE_MOVE else 2)
        and all(abs(move.gain_db) <= LARGEST_SHELF_DB for move in shelves)
    )
