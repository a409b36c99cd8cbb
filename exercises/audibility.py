"""Would a person hear this problem on this loop?

The excitation patterns of A and B, matched in loudness as they are played, are compared passage
by passage, each with a floor a little over the threshold of hearing added as if it were a noise of
the ear's own. A change is heard when excitation changes enough at any one place, in any passage.
E. Zwicker put that at 1 dB (H. Fastl, E. Zwicker, "Psychoacoustics: Facts and Models", chapter 7).
J.-P. Gagné and P. M. Zurek (JASA 83, 1988) found that the largest difference decides, not a sum of
many small ones; the shifts of a resonance that their listeners could just hear come to 0.8 to
1.7 dB in this model, half of them to 1.2 dB or less. 1.25 dB is asked for.

A dip is harder to hear than a peak (R. Bücklein, JAES 29(3), 1981). Spreading fills in narrow dips
by itself, but matching makes broad ones deeper, so that dips count at ``DIP_WEIGHT``: our
judgement, small enough that no dip comes out easier than the peak of its size.

*Squashed* changes no long-term tone, and an even reduction is taken back when loudness is matched;
what remains is that loud moments came down and soft ones up. It is heard when, during a tenth of
the time that the part sounds, the level of a tenth of a second changes by 1.5 dB or more in some
octave band that can be heard by itself then. Held side by side, the limit for the level of noise
is 0.5 to 1 dB (G. A. Miller, JASA 19, 1947); a moment in music has to be kept in mind from A to
B, so the 1.5 dB are our judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from exercises.equaliser import peaking
from exercises.excitation import FLOOR
from exercises.heard import FINE_PER_CAM, HeardLoop, excitation_of_fine
from exercises.kinds import LEVEL, Kind
from exercises.loudness import integrated_lufs, matching_gain_db
from exercises.moments import Complexes, block_powers, squash_change_db, with_gain
from exercises.problems import USUAL_Q, Problem
from exercises.recipe import Recipe
from exercises.samples import Floats, db_to_gain

MODEL_VERSION: Final = 1
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
    return MOMENT_CRITERION_DB if kind is Kind.SQUASHED else EXCITATION_CRITERION_DB


def audible_db(heard: HeardLoop, problem: Problem | Recipe) -> float:
    """How much of ``problem`` reaches the ear, in dB; to be held against ``criterion_db``.

    Tone and level: the largest change of excitation. Squashed: the change of a moment's level
    that a tenth of the moments reach. Nothing: 0.
    """
    if problem.kind is Kind.NOTHING:
        return 0.0
    return float(audible_sizes_db(heard, [problem])[0])


def audible_sizes_db(heard: HeardLoop, problems: Sequence[Problem | Recipe]) -> Floats:
    """``audible_db`` of each of ``problems``, all of one family: tone, level or squashed."""
    if problems[0].kind is Kind.SQUASHED:
        return np.array([squash_change_db(heard.moments, problem.size_db) for problem in problems])
    parts = [
        _pattern_change_db(heard, problems[start : start + _CHUNK])
        for start in range(0, len(problems), _CHUNK)
    ]
    return np.concatenate(parts)


def askable(heard: HeardLoop, asked: Problem | Recipe) -> bool:
    """Whether it is fair to ask: *nothing* always is, the rest when it can be heard.

    Raises:
        ValueError: a recipe for another loop, track or way of hearing it than ``heard``.
    """
    if isinstance(asked, Recipe) and (
        (asked.fingerprint, asked.track, asked.alone)
        != (heard.fingerprint, heard.track, heard.alone)
    ):
        raise ValueError(f"the recipe is for another sound than '{heard.loop}' as heard")
    return asked.kind is Kind.NOTHING or audible_db(heard, asked) >= criterion_db(asked.kind)


def smallest_askable_db(
    heard: HeardLoop, kind: Kind, freq_hz: float | None = None, q: float | None = None
) -> float | None:
    """Smallest size of ``kind``, in quarters of a dB, that can be heard; None if 12 dB cannot."""
    return smallest_askable_sizes_db(heard, [Problem(kind, LARGEST_ASKED_DB, freq_hz, q)])[0]


def smallest_askable_sizes_db(
    heard: HeardLoop, problems: Sequence[Problem]
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
        enough = audible_sizes_db(heard, resized) >= criterion_db(problems[0].kind)
        heard_at[undecided] = np.where(enough, tried, heard_at[undecided])
        unheard[undecided] = np.where(enough, unheard[undecided], tried)
    return tuple(None if step > _STEPS else step * SIZE_STEP_DB for step in heard_at.tolist())


def pattern_change_db(a_excitation: Floats, b_excitation: Floats, dip_weight: float) -> Floats:
    """Largest change between patterns (..., passages, filters) re 0 dB SPL; (...,) in dB."""
    change_db = 10.0 * np.log10((b_excitation + FLOOR) / (a_excitation + FLOOR))
    largest: Floats = np.maximum(change_db, -dip_weight * change_db).max(axis=(-2, -1))
    return largest


def _pattern_change_db(heard: HeardLoop, problems: Sequence[Problem | Recipe]) -> Floats:
    """Level problems move B alone; A stays at the assumed level, which changes next to nothing."""
    gains = np.stack([_gain(heard, problem) for problem in problems])
    if problems[0].kind in LEVEL:
        b_tone = with_gain(heard.tone, gains[:, None, :])
        return pattern_change_db(heard.a_excitation, excitation_of_fine(b_tone), 1.0)
    part_factor, whole_factor = _matching(heard, gains)
    b_tone = with_gain(heard.tone, (gains * part_factor[:, None])[:, None, :])
    b_tone *= whole_factor[:, None, None] ** 2
    return pattern_change_db(heard.a_excitation, excitation_of_fine(b_tone), DIP_WEIGHT)


def _gain(heard: HeardLoop, problem: Problem | Recipe) -> Complexes:
    """What ``problem`` multiplies the part's spectrum by, in every fine band."""
    falling = problem.kind in (Kind.TOO_LITTLE, Kind.TOO_QUIET)
    gain_db = -problem.size_db if falling else problem.size_db
    if problem.kind in LEVEL:
        return np.full(len(heard.unit_delay), db_to_gain(gain_db), dtype=np.complex128)
    if problem.freq_hz is None:
        raise ValueError(f"'{problem.kind}' needs a frequency")
    biquad = peaking(problem.freq_hz, gain_db, problem.q or USUAL_Q)
    z = heard.unit_delay
    response: Complexes = (biquad.b[0] + z * (biquad.b[1] + z * biquad.b[2])) / (
        1.0 + z * (biquad.a[1] + z * biquad.a[2])
    )
    return response


def _matching(heard: HeardLoop, gains: Complexes) -> tuple[Floats, Floats]:
    """Amplitude factors that match first the part, then all that is heard, in loudness.

    ``gains`` (candidates, fine), applied to the part; factors (candidates,). A filter changes a
    one-Cam band's power as the mean over the power in it.
    """
    frames = heard.frames
    in_bands = (len(gains), -1, FINE_PER_CAM)
    squared = (np.abs(gains) ** 2 * heard.share).reshape(in_bands).sum(axis=-1)
    mean = (gains * heard.share).reshape(in_bands).sum(axis=-1)
    part_b = squared @ frames.part.T
    part_factor = _match(frames.part.sum(axis=-1), part_b)
    crossed = (mean @ frames.cross.T).real
    whole_b = part_b * part_factor[:, None] ** 2 + 2.0 * crossed * part_factor[:, None]
    whole_b = np.maximum(whole_b + frames.rest.sum(axis=-1), 0.0)
    return part_factor, _match(with_gain(frames, 1.0).sum(axis=-1), whole_b)


def _match(a_frames: Floats, b_frames: Floats) -> Floats:
    """Amplitude factors that bring each row of B's frames to the loudness of A's."""
    target_lufs = integrated_lufs(block_powers(a_frames))
    return np.array(
        [db_to_gain(matching_gain_db(row, target_lufs)) for row in block_powers(b_frames)]
    )
