"""Why a fix that was offered works or does not: one sentence, from what was measured of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from exercises.bands import show_hz
from exercises.candidate_moves import Family, Role, family_of
from exercises.fix_candidates import Candidate
from exercises.loops import Loop
from exercises.moves import EqPoint, Expander
from exercises.recipe import Recipe
from trainer.fix_words import moves_words, place_of, residual_words, signed_words, tone_left

_LEVEL_HARDLY_MOVED_LU: Final = 1.0


@dataclass(frozen=True, slots=True)
class _Case:
    """A candidate, and what it is to fix; ``place`` is the passage of that, from 0."""

    candidate: Candidate
    recipe: Recipe
    place: int | None

    def near(self) -> str:
        """What is left where the problem is: "+3.2 dB near 250 Hz"."""
        left = tone_left(self.candidate.judgement.now, self.recipe.freq_hz, self.place)
        return f"{signed_words(left.change_db)} near {show_hz(left.freq_hz)}"

    def left_db(self) -> float:
        """The size of that."""
        left = tone_left(self.candidate.judgement.now, self.recipe.freq_hz, self.place)
        return abs(left.change_db)


def why_sentence(candidate: Candidate, recipe: Recipe, loop: Loop) -> str:
    """In one sentence, why ``candidate`` works or does not on ``recipe``'s problem."""
    case = _Case(candidate, recipe, place_of(recipe, loop))
    return _SAID[family_of(recipe)][candidate.role](case)


def _tone_one(case: _Case) -> str:
    return f"One move where the problem is takes it out: {case.left_db():.1f} dB at most is left."


def _tone_two(case: _Case) -> str:
    first = case.candidate.fix[0]
    left = f"({case.left_db():.1f} dB left), with one move more."
    if isinstance(first, EqPoint):
        return f"Moved all the way, and moved back where it was right: the same {left}"
    up = getattr(first, "gain_db", 0.0) > 0.0
    did, same = ("Boosting", "cutting") if up else ("Cutting", "boosting")
    return f"{did} below and above comes to the same as {same} between {left}"


def _tone_many(case: _Case) -> str:
    judged = case.candidate.judgement
    if case.candidate.works:
        return _too_many(case)
    return (
        f"Riding evens out the level ({judged.wrong.most_lu:.1f} LU to {judged.now.most_lu:.1f}) "
        f"and leaves the tone: {case.near()}."
    )


def _tone_clever(case: _Case) -> str:
    wrong = case.candidate.judgement.wrong
    was = tone_left(wrong, case.recipe.freq_hz, case.place)
    tone = f"{abs(was.change_db):.1f} dB near {show_hz(was.freq_hz)}"
    if wrong.most_lu < _LEVEL_HARDLY_MOVED_LU:
        why = f"The passages differ in tone ({tone}), not in level ({wrong.most_lu:.1f} LU)"
    else:
        why = f"The level moved ({wrong.most_lu:.1f} LU) because the tone did ({tone})"
    return f"{why}: {_device(case)} follows level, and leaves {case.near()}."


def _passage_one(case: _Case) -> str:
    return f"One ride where the level moved: {case.candidate.judgement.now.most_lu:.1f} LU is left."


def _in_pieces(case: _Case) -> str:
    return f"The same ride in {case.candidate.moves} pieces, and no better for it."


def _passage_clever(case: _Case) -> str:
    return (
        f"A whole passage moved, and {_device(case)} moves loud moments wherever they are: "
        f"{residual_words(case.candidate.judgement)}."
    )


def _track_one(case: _Case) -> str:
    return f"It is the level of the {case.recipe.track}: the fader alone sets it back."


def _track_two(_case: _Case) -> str:
    return "All below and all above by as much is a fader, in two moves."


def _track_clever(case: _Case) -> str:
    return (
        f"It sounds like the tone of the mix, and is the level of the {case.recipe.track}: "
        f"{residual_words(case.candidate.judgement)}."
    )


def _dynamics_one(case: _Case) -> str:
    return f"One device undoes the other: {_moments(case)} at most is left."


def _dynamics_two(case: _Case) -> str:
    return f"Two in a row that do half each come to the same ({_moments(case)}), in two moves."


def _dynamics_many(case: _Case) -> str:
    if case.candidate.works:
        return _too_many(case)
    return f"A ride moves whole bars, and it is moments that were moved: {_moments(case)} is left."


def _dynamics_clever(case: _Case) -> str:
    return (
        "What was done to loud moments passes for tone; an equaliser does not tell loud from "
        f"soft: {_moments(case)} is left."
    )


def _moments(case: _Case) -> str:
    return f"{case.candidate.judgement.now.moment_db:.1f} dB from moment to moment"


def _too_many(case: _Case) -> str:
    return f"{moves_words(case.candidate.moves)} do it, where one would."


def _device(case: _Case) -> str:
    lifts = isinstance(case.candidate.fix[0], Expander)
    return "a lift of the loud parts" if lifts else "a compressor"


_SAID: Final[dict[Family, dict[Role, Callable[[_Case], str]]]] = {
    Family.TONE: {
        Role.ONE_MOVE: _tone_one,
        Role.TWO_MOVES: _tone_two,
        Role.MANY_MOVES: _tone_many,
        Role.CLEVER: _tone_clever,
    },
    Family.PASSAGE_LEVEL: {
        Role.ONE_MOVE: _passage_one,
        Role.TWO_MOVES: _in_pieces,
        Role.MANY_MOVES: _in_pieces,
        Role.CLEVER: _passage_clever,
    },
    Family.TRACK_LEVEL: {
        Role.ONE_MOVE: _track_one,
        Role.TWO_MOVES: _track_two,
        Role.MANY_MOVES: _too_many,
        Role.CLEVER: _track_clever,
    },
    Family.DYNAMICS: {
        Role.ONE_MOVE: _dynamics_one,
        Role.TWO_MOVES: _dynamics_two,
        Role.MANY_MOVES: _dynamics_many,
        Role.CLEVER: _dynamics_clever,
    },
}
