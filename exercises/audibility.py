"""Would a person hear this problem on this loop?

The excitation patterns of A and B, matched in loudness as they are played, are compared passage
by passage, each with a floor a little over the threshold of hearing added as if it were a noise of
the ear's own. A change is heard when excitation changes enough at any one place, in any passage.
E. Zwicker put that at 1 dB (H. Fastl, E. Zwicker, "Psychoacoustics: Facts and Models", chapter 7).
J.-P. Gagné and P. M. Zurek (JASA 83, 1988) found that the largest difference decides, not a sum of
many small ones; the shifts of a resonance that their listeners could just hear come to 0.8 to
1.7 dB in this model, half of them to 1.2 dB or less. 1.25 dB is asked for.

Tone and dynamics in one passage count where they are; a level there counts wherever it is heard,
since matching makes the rest softer as it makes the passage louder. A second problem is judged
against the first, and the first against the second. (Tone is judged against tone: what dynamics or
a level do leaves it what it is, and the other way about.)

A dip is harder to hear than a peak (R. Bücklein, JAES 29(3), 1981). Spreading fills in narrow dips
by itself, but matching makes broad ones deeper, so that dips count at ``DIP_WEIGHT``: our
judgement, small enough that no dip comes out easier than the peak of its size.

*Squashed* changes no long-term tone, and an even reduction is taken back when loudness is matched;
what remains is that loud moments came down and soft ones up (*lifted*: the other way). It is
heard when, during a tenth of the time that the part sounds, the level of a tenth of a second
changes by 1.5 dB or more in some octave band that can be heard by itself then. Held side by side,
the limit for the level of noise is 0.5 to 1 dB (G. A. Miller, JASA 19, 1947); a moment in music
has to be kept in mind from A to B, so the 1.5 dB are our judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from exercises.dynamics_ear import dynamics_change_db
from exercises.heard import HeardLoop
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind, Shape, Style
from exercises.passage_ear import PassageEar
from exercises.problems import Problem
from exercises.recipe import Recipe
from exercises.samples import Floats
from exercises.tone_ear import (
    candidate_gains,
    excitation_with,
    matching_of,
)
from exercises.tone_ear import pattern_change_db as pattern_change_db

MODEL_VERSION: Final = 2
"""Raised whenever a figure or a formula of the model changes, so that kept tables are made anew."""

EXCITATION_CRITERION_DB: Final = 1.25
MOMENT_CRITERION_DB: Final = 1.5
DIP_WEIGHT: Final = 0.7
LARGEST_ASKED_DB: Final = 12.0
SIZE_STEP_DB: Final = 0.25
# Candidates at a time: enough to share the calls' cost, few enough to stay in the cache.
_CHUNK: Final = 8
_STEPS: Final = round(LARGEST_ASKED_DB / SIZE_STEP_DB)


def criterion_db(kind: Kind) -> float:
    """What ``audible_db`` must reach for ``kind`` to be heard."""
    return MOMENT_CRITERION_DB if kind in DYNAMICS else EXCITATION_CRITERION_DB


def audible_db(
    heard: HeardLoop,
    problem: Problem | Recipe,
    passage: str | None = None,
    given: Sequence[Problem] = (),
) -> float:
    """How much of ``problem`` reaches the ear, in dB; to be held against ``criterion_db``.

    Tone and level: the largest change of excitation. Dynamics: the change of a moment's level
    that a tenth of the moments reach. Nothing: 0. A recipe brings its own passage, and its first
    problem is judged against the second.
    """
    if isinstance(problem, Recipe):
        return audible_db(heard, problem.problem, problem.passage, problem.problems[1:])
    if problem.kind is Kind.NOTHING:
        return 0.0
    return float(audible_sizes_db(heard, [problem], passage, given)[0])


def audible_sizes_db(
    heard: HeardLoop,
    problems: Sequence[Problem],
    passage: str | None = None,
    given: Sequence[Problem] = (),
) -> Floats:
    """``audible_db`` (problems,), dB, of each of ``problems``, all tone, all dynamics or all level.

    ``given`` is what else is in B.
    """
    place = heard.place(passage)
    if problems[0].kind in DYNAMICS:
        return np.array(
            [
                dynamics_change_db(heard.moments, heard.detected[problem.style], problem, place)
                for problem in problems
            ]
        )
    parts = [
        _pattern_change_db(heard, problems[start : start + _CHUNK], place, given)
        for start in range(0, len(problems), _CHUNK)
    ]
    return np.concatenate(parts)


def askable(heard: HeardLoop, asked: Problem | Recipe) -> bool:
    """Whether it is fair to ask: *nothing* always is, the rest when it can be heard.

    Two problems are, when each can be heard beside the other.

    Raises:
        ValueError: a recipe for another loop, track or way of hearing it than ``heard``.
    """
    if isinstance(asked, Problem):
        return _heard_at_all(heard, asked, None, ())
    if (asked.fingerprint, asked.track, asked.alone) != (
        heard.fingerprint,
        heard.track,
        heard.alone,
    ):
        raise ValueError(f"the recipe is for another sound than '{heard.loop}' as heard")
    problems = asked.problems
    return all(
        _heard_at_all(heard, problem, asked.passage, problems[:which] + problems[which + 1 :])
        for which, problem in enumerate(problems)
    )


def smallest_askable_db(
    heard: HeardLoop,
    kind: Kind,
    freq_hz: float | None = None,
    q: float | None = None,
    *,
    shape: Shape = Shape.PEAK,
    style: Style = Style.OVER_COMPRESSED,
    passage: str | None = None,
    given: Sequence[Problem] = (),
) -> float | None:
    """Smallest size of ``kind``, in quarters of a dB, that can be heard; None if 12 dB cannot.

    In ``passage`` alone, if one is named, and beside what is ``given``.
    """
    problem = Problem(kind, LARGEST_ASKED_DB, freq_hz, q, shape, style)
    return smallest_askable_sizes_db(heard, [problem], passage, given)[0]


def smallest_askable_sizes_db(
    heard: HeardLoop,
    problems: Sequence[Problem],
    passage: str | None = None,
    given: Sequence[Problem] = (),
) -> tuple[float | None, ...]:
    """The same for each of ``problems`` of one family, whatever its own size; by halving.

    It rests on a larger size never being harder to hear.
    """
    # Steps of a quarter of a dB: ``unheard`` is known not to be heard, ``heard_at`` to be.
    unheard = np.zeros(len(problems), dtype=np.intp)
    heard_at = np.full(len(problems), _STEPS + 1)
    while (undecided := np.nonzero(heard_at - unheard > 1)[0]).size:
        tried = (unheard[undecided] + heard_at[undecided]) // 2
        resized = [
            replace(problems[which], size_db=step * SIZE_STEP_DB)
            for which, step in zip(undecided.tolist(), tried.tolist(), strict=True)
        ]
        audible = audible_sizes_db(heard, resized, passage, given)
        enough = audible >= criterion_db(problems[0].kind)
        heard_at[undecided] = np.where(enough, tried, heard_at[undecided])
        unheard[undecided] = np.where(enough, unheard[undecided], tried)
    return tuple(None if step > _STEPS else step * SIZE_STEP_DB for step in heard_at.tolist())


def _heard_at_all(
    heard: HeardLoop, problem: Problem, passage: str | None, given: Sequence[Problem]
) -> bool:
    if problem.kind is Kind.NOTHING:
        return True
    return audible_db(heard, problem, passage, given) >= criterion_db(problem.kind)


def _pattern_change_db(
    heard: HeardLoop,
    problems: Sequence[Problem],
    place: PassageEar | None,
    given: Sequence[Problem],
) -> Floats:
    """Level problems move B alone; A stays at the assumed level, which changes next to nothing."""
    matching = matching_of(problems[0], place)
    level = problems[0].kind in LEVEL
    beside = () if level else tuple(other for other in given if other.kind in TONE)
    spread = None if place is None else place.hand if level else place.playing
    before = heard.a_excitation
    if beside:
        alone = candidate_gains(heard, beside[:1], place, beside[1:])
        before = excitation_with(heard, alone, spread, matching)[0]
    gains = candidate_gains(heard, problems, place, beside)
    after = excitation_with(heard, gains, spread, matching)
    if level:
        return pattern_change_db(before, after, 1.0)
    here = [place is None or one is place for one in heard.places] or [True]
    return pattern_change_db(before[here], after[:, here], DIP_WEIGHT)
