"""Plain sentences about fixes: the same in the window and the terminal.

Sizes of what is left are either changes of excitation in the ear ("0.4 dB left in the ear"), as
they are judged, or differences by third octave, averaged over the passages, as they are drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.bands import THIRD_OCTAVE_MID_HZ, show_hz
from exercises.fix_candidates import Candidate, Role
from exercises.moves import Expander, Fix, Ride, describe
from exercises.residual import Judgement, Residual
from exercises.samples import Floats
from trainer.fix_round import Attempt, ChoiceRound, FixResult, OpenReview

MINUS: Final = "\N{MINUS SIGN}"
_LEVEL_HARDLY_MOVED_LU: Final = 1.0
_RIDES_SAID: Final = 2
_HEARD_HZ: Final = (35.0, 14_000.0)
"""Beyond these, a difference of some dB is seldom what is heard first (common practice)."""


@dataclass(frozen=True, slots=True)
class ToneLeft:
    """The third octave that differs most from A, passages averaged: where, and by how much."""

    freq_hz: float
    change_db: float


def tone_change_db(residual: Residual) -> Floats:
    """Difference from A by third octave, (30,), averaged over the passages."""
    averaged: Floats = residual.third_octave_db.mean(axis=0)
    return averaged


def tone_left(residual: Residual, near_hz: float | None = None) -> ToneLeft:
    """Where a residual is largest (in two digits), within an octave of ``near_hz`` if that is
    given; and its size with its sign."""
    change_db = tone_change_db(residual)
    mids_hz = np.array(THIRD_OCTAVE_MID_HZ)
    if near_hz is None:
        counted = (mids_hz >= _HEARD_HZ[0]) & (mids_hz <= _HEARD_HZ[1])
    else:
        counted = np.abs(np.log2(mids_hz / near_hz)) <= 1.0
    most = int(np.where(counted, np.abs(change_db), -1.0).argmax())
    return ToneLeft(float(f"{mids_hz[most]:.2g}"), float(change_db[most]))


def moves_words(count: int) -> str:
    """ "1 move", "3 moves"."""
    return "1 move" if count == 1 else f"{count} moves"


def fix_words(fix: Fix) -> str:
    """A fix as a short list on one line; of many rides the first are said and the rest counted."""
    if not fix:
        return "nothing done"
    rides = [move for move in fix if isinstance(move, Ride)]
    if len(rides) < len(fix) or len(rides) <= _RIDES_SAID + 1:
        return "; ".join(describe(move) for move in fix)
    said = "; ".join(describe(move) for move in rides[:_RIDES_SAID])
    return f"{said}; and {len(rides) - _RIDES_SAID} rides more"


def fix_lines(fix: Fix) -> tuple[str, ...]:
    """A fix in full, a move a line."""
    return tuple(f"{number}. {describe(move)}" for number, move in enumerate(fix, 1))


def residual_words(judgement: Judgement) -> str:
    """What a fix leaves, on one line: "not heard: 0.2 dB left, 0.1 dB damage"."""
    heard = "heard" if judgement.now.heard else "not heard"
    return (
        f"{heard}: {judgement.left_excitation_db:.1f} dB left, "
        f"{judgement.damage_excitation_db:.1f} dB damage"
    )


def choice_sentence(round_: ChoiceRound, result: FixResult) -> str:
    """What was picked, and whether it is the simplest that works."""
    said = f"You picked {round_.picked}, {moves_words(len(result.fix))}"
    if result.heard:
        works = round_.offered.index(round_.simplest) + 1
        return f"{said}: a difference from A is still heard. Number {works} works in one."
    if result.simplest:
        return f"{said}: it works, and nothing simpler does."
    over = moves_words(result.moves_over)
    return f"{said}: it works, with {over} more than the simplest."


def open_sentence(review: OpenReview) -> str:
    """How the learner's fix stands beside the smallest one."""
    yours, result = review.yours, review.result
    count, fewest = len(yours.fix), len(review.smallest.fix)
    if not yours.works:
        judged = yours.judgement
        if judged.left_excitation_db >= judged.damage_excitation_db:
            return (
                f"{moves_words(count).capitalize()}, and it is still heard: "
                f"{judged.left_excitation_db:.1f} dB of it is left."
            )
        return (
            f"{moves_words(count).capitalize()}, and the fix itself is heard: "
            f"{judged.damage_excitation_db:.1f} dB went elsewhere."
        )
    if result.moves_over > 0:
        return f"It works in {moves_words(count)}; {fewest} would do."
    return f"It works in {moves_words(count)}: what is left is not heard."


def why_sentence(candidate: Candidate, problem_hz: float) -> str:
    """In one sentence, why a candidate works or does not, from what was measured."""
    return _WHY[candidate.role](candidate, problem_hz)


def attempt_sentence(attempt: Attempt) -> str:
    """What an attempt leaves, and where."""
    left = tone_left(attempt.judgement.now)
    if attempt.works:
        return f"No difference from A is heard; {abs(left.change_db):.1f} dB at most is left of it."
    return f"What differs from A most is {_signed(left.change_db)} near {show_hz(left.freq_hz)}."


def _why_one(candidate: Candidate, problem_hz: float) -> str:
    left = tone_left(candidate.judgement.now, problem_hz)
    return (
        f"One move where the problem is takes it out: {abs(left.change_db):.1f} dB at most is left."
    )


def _why_two(candidate: Candidate, problem_hz: float) -> str:
    left = tone_left(candidate.judgement.now, problem_hz)
    up = candidate.fix[0].gain_db > 0.0 if hasattr(candidate.fix[0], "gain_db") else True
    did, same = ("Boosting", "cutting") if up else ("Cutting", "boosting")
    return (
        f"{did} below and above comes to the same as {same} between "
        f"({abs(left.change_db):.1f} dB left), with one move more."
    )


def _why_many(candidate: Candidate, problem_hz: float) -> str:
    wrong, now = candidate.judgement.wrong, candidate.judgement.now
    left = tone_left(now, problem_hz)
    if candidate.works:
        return f"{moves_words(candidate.moves).capitalize()} do it, where one would."
    return (
        f"Riding evens out the level ({wrong.most_lu:.1f} LU to {now.most_lu:.1f}) and leaves "
        f"the tone: {_signed(left.change_db)} near {show_hz(left.freq_hz)}."
    )


def _why_clever(candidate: Candidate, problem_hz: float) -> str:
    wrong, now = candidate.judgement.wrong, candidate.judgement.now
    was, left = tone_left(wrong, problem_hz), tone_left(now, problem_hz)
    device = "a lift of the loud parts" if _lifts(candidate.fix) else "a compressor"
    near = f"{abs(was.change_db):.1f} dB near {show_hz(was.freq_hz)}"
    leaves = f"leaves {abs(left.change_db):.1f} dB near {show_hz(left.freq_hz)}"
    if wrong.most_lu < _LEVEL_HARDLY_MOVED_LU:
        return (
            f"The passages differ in tone ({near}), not in level ({wrong.most_lu:.1f} LU): "
            f"{device} follows level, and {leaves}."
        )
    return (
        f"The level moved ({wrong.most_lu:.1f} LU) because the tone did ({near}): "
        f"{device} follows level, and {leaves}."
    )


def _signed(change_db: float) -> str:
    return f"{'+' if change_db >= 0.0 else MINUS}{abs(change_db):.1f} dB"


def _lifts(fix: Sequence[object]) -> bool:
    return any(isinstance(move, Expander) for move in fix)


_WHY: Final = {
    Role.ONE_MOVE: _why_one,
    Role.TWO_MOVES: _why_two,
    Role.MANY_MOVES: _why_many,
    Role.CLEVER: _why_clever,
}
