"""Plain sentences about fixes: the same in the window and the terminal.

Sizes of what is left are either changes of excitation in the ear ("0.4 dB left in the ear"), as
they are judged, or differences by third octave, averaged over the passages, as they are drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.audibility import EXCITATION_CRITERION_DB
from exercises.bands import THIRD_OCTAVE_MID_HZ, show_hz
from exercises.loops import Loop
from exercises.moves import Fix, Ride, describe
from exercises.recipe import Recipe
from exercises.residual import Judgement, Residual
from exercises.samples import Floats
from trainer.choice_round import ChoiceRound
from trainer.fix_round import Attempt, FixResult
from trainer.open_round import OpenReview

NOTHING_LEFT: Final = "nothing is left that you would hear"
MINUS: Final = "\N{MINUS SIGN}"
_RIDES_SAID: Final = 2
_HEARD_HZ: Final = (35.0, 14_000.0)
"""Beyond these, a difference of some dB is seldom what is heard first (common practice)."""


@dataclass(frozen=True, slots=True)
class ToneLeft:
    """The third octave that differs most from A, passages averaged: where, and by how much."""

    freq_hz: float
    change_db: float


def tone_change_db(residual: Residual, place: int | None = None) -> Floats:
    """Difference from A by third octave, (30,): of passage ``place``, or averaged over all."""
    cells_db = residual.third_octave_db
    averaged: Floats = cells_db.mean(axis=0) if place is None else cells_db[place]
    return averaged


def place_of(recipe: Recipe, loop: Loop) -> int | None:
    """Which of the loop's passages the problem is in, from 0; None: all the way."""
    names = [passage.name for passage in loop.passages]
    return None if recipe.passage is None else names.index(recipe.passage)


def tone_left(
    residual: Residual, near_hz: float | None = None, place: int | None = None
) -> ToneLeft:
    """Where a residual is largest (in two digits), within an octave of ``near_hz`` if that is
    given; and its size with its sign."""
    change_db = tone_change_db(residual, place)
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


def residual_words(judgement: Judgement) -> str:
    """What a fix leaves, on one line: "still to be heard: 3.2 dB in the ear, near 250 Hz"."""
    now = judgement.now
    if not now.heard:
        return NOTHING_LEFT
    if now.excitation_db < EXCITATION_CRITERION_DB:
        return f"still to be heard: {now.moment_db:.1f} dB from moment to moment"
    most = int(np.abs(now.third_octave_db).max(axis=1).argmax())
    where = f"near {show_hz(tone_left(now, place=most).freq_hz)}"
    if judgement.left_excitation_db >= judgement.damage_excitation_db:
        return f"still to be heard: {judgement.left_excitation_db:.1f} dB in the ear, {where}"
    return f"put there by the fix: {judgement.damage_excitation_db:.1f} dB in the ear, {where}"


def choice_sentence(round_: ChoiceRound, result: FixResult) -> str:
    """What was picked, and whether it is the simplest that works."""
    said = f"You picked {round_.picked}, {moves_words(len(result.fix))}"
    if result.heard:
        works = round_.true_order[0]
        return f"{said}: a difference is still to be heard. Number {works} works in one move."
    if result.simplest:
        return f"{said}: it works, and nothing simpler does."
    over = moves_words(result.moves_over)
    return f"{said}: it works, with {over} more than the simplest."


IN_ORDER: Final = "In order: what works first, then the fewest moves, then what leaves least."


def order_sentence(result: FixResult) -> str:
    """How the order that was marked stands to the true one; empty where none was."""
    if len(result.marked) < 2:
        return ""
    true = _listed([number for number in result.true_order if number in result.marked])
    if not result.swapped:
        return f"Your order, {_listed(result.marked)}, is right."
    pairs = ", ".join(f"{one} before {other}" for one, other in result.swapped)
    return f"The order is {true}; yours has {pairs}."


def _listed(numbers: Sequence[int]) -> str:
    return " ".join(map(str, numbers))


def open_sentence(review: OpenReview) -> str:
    """How the learner's fix stands beside the smallest one."""
    yours, result = review.yours, review.result
    count, fewest = moves_words(len(yours.fix)), len(review.smallest.fix)
    if not yours.works:
        judged = yours.judgement
        if judged.left_excitation_db >= judged.damage_excitation_db:
            return f"{count}, and {judged.left_excitation_db:.1f} dB of it is still to be heard."
        return (
            f"{count}, and the fix itself is to be heard: "
            f"{judged.damage_excitation_db:.1f} dB went elsewhere."
        )
    if result.moves_over > 0:
        return f"It works in {count}; the simplest takes {fewest}."
    return f"It works in {count}: {NOTHING_LEFT}."


def attempt_sentence(attempt: Attempt, place: int | None) -> str:
    """What an attempt leaves, and where: in passage ``place``, or averaged over all."""
    left = tone_left(attempt.judgement.now, place=place)
    if attempt.works:
        return f"{NOTHING_LEFT.capitalize()}: {abs(left.change_db):.1f} dB at most."
    change = signed_words(left.change_db)
    return f"By third octaves it differs from A most by {change} near {show_hz(left.freq_hz)}."


def signed_words(change_db: float) -> str:
    """ "+3.2 dB", with a true minus."""
    return f"{'+' if change_db >= 0.0 else MINUS}{abs(change_db):.1f} dB"
