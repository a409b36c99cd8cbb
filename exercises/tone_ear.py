"""How far a filter or a level on a part moves the excitation pattern of all that is heard.

Candidates are tried many at a time on the sums that ``heard`` keeps. A candidate is its gain at
every fine band, at each of a few steps of how much of it is there (one step: all of it, all the
time); what it does to a passage or to a meter's frame is the mean over the steps, weighted by the
part's power at each (``passage_ear``). Loudness is matched as in ``mixdown``.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from typing import TypeVar

import numpy as np

from exercises.excitation import FLOOR
from exercises.heard import (
    FINE_PER_CAM,
    OCTAVE_OF_CAM,
    OCTAVE_OF_FINE,
    HeardLoop,
    excitation_of_fine,
)
from exercises.kinds import LEVEL, TONE
from exercises.loudness import integrated_lufs, matching_gain_db
from exercises.moments import Complexes, Sums, block_powers, with_gain
from exercises.passage_ear import STEP_SHARES, PassageEar, Spread
from exercises.problems import Problem, signed_db
from exercises.samples import Floats, db_to_gain
from exercises.tone_curve import tone_biquad

_Numbers = TypeVar("_Numbers", Floats, Complexes)


class Matching(Enum):
    """What is matched in loudness."""

    NOTHING = "nothing"
    WHOLE = "all that is heard"
    PART_AND_WHOLE = "first the part, then all that is heard"


def matching_of(problem: Problem, place: PassageEar | None) -> Matching:
    """What a question matches for ``problem``."""
    if problem.kind not in LEVEL:
        return Matching.PART_AND_WHOLE
    return Matching.NOTHING if place is None else Matching.WHOLE


def candidate_gains(
    heard: HeardLoop,
    problems: Sequence[Problem],
    place: PassageEar | None,
    given: Sequence[Problem] = (),
) -> Complexes:
    """(candidates, steps, fine): each of ``problems``, together with what is ``given``."""
    shares = np.ones(1) if place is None else STEP_SHARES
    around = np.ones((len(shares), len(heard.unit_delay)), dtype=np.complex128)
    for problem in given:
        around = around * np.stack([_gain(heard, problem, share) for share in shares.tolist()])
    return np.stack(
        [
            around * np.stack([_gain(heard, problem, share) for share in shares.tolist()])
            for problem in problems
        ]
    )


def excitation_with(
    heard: HeardLoop, gains: Complexes, spread: Spread | None, matching: Matching
) -> Floats:
    """Excitation (candidates, passages, filters) with ``gains`` (candidates, steps, fine)."""
    squared, mean = np.abs(gains) ** 2, gains
    if spread is not None:
        shares = spread.by_passage[..., OCTAVE_OF_FINE]
        squared, mean = (np.einsum("psf,csf->cpf", shares, each) for each in (squared, mean))
    part_factor, whole_factor = _factors(heard, gains, spread, matching)
    by_candidate = part_factor[:, None, None]
    tone = _with_response(heard.tone, squared * by_candidate**2, mean * by_candidate)
    return excitation_of_fine(tone * whole_factor[:, None, None] ** 2)


def pattern_change_db(a_excitation: Floats, b_excitation: Floats, dip_weight: float) -> Floats:
    """Largest change between patterns (..., passages, filters) re 0 dB SPL; (...,) in dB."""
    change_db = 10.0 * np.log10((b_excitation + FLOOR) / (a_excitation + FLOOR))
    largest: Floats = np.maximum(change_db, -dip_weight * change_db).max(axis=(-2, -1))
    return largest


def _gain(heard: HeardLoop, problem: Problem, share: float) -> Complexes:
    """What ``share`` of ``problem`` multiplies the part's spectrum by, in every fine band."""
    gain_db = share * signed_db(problem)
    if problem.kind not in TONE:
        return np.full(len(heard.unit_delay), db_to_gain(gain_db), dtype=np.complex128)
    if problem.freq_hz is None:
        raise ValueError(f"'{problem.kind}' needs a frequency")
    biquad = tone_biquad(problem.shape, problem.freq_hz, gain_db, problem.q)
    z = heard.unit_delay
    response: Complexes = (biquad.b[0] + z * (biquad.b[1] + z * biquad.b[2])) / (
        1.0 + z * (biquad.a[1] + z * biquad.a[2])
    )
    return response


def _with_response(sums: Sums, squared: Floats, mean: Complexes) -> Floats:
    """Power of all that is heard when a filter's mean square and mean over the part are these."""
    power: Floats = sums.part * squared + sums.rest + 2.0 * (mean * sums.cross).real
    return np.maximum(power, 0.0)


def _factors(
    heard: HeardLoop, gains: Complexes, spread: Spread | None, matching: Matching
) -> tuple[Floats, Floats]:
    """Amplitude factors (candidates,) that match first the part, then all that is heard.

    A filter changes a one-Cam band's power as the mean over the power in it.
    """
    ones = np.ones(len(gains))
    if matching is Matching.NOTHING:
        return ones, ones
    frames = heard.frames
    in_bands = (*gains.shape[:2], -1, FINE_PER_CAM)
    squared = (np.abs(gains) ** 2 * heard.share).reshape(in_bands).sum(axis=-1)
    mean = (gains * heard.share).reshape(in_bands).sum(axis=-1)
    part_b = _over_frames(squared, frames.part, spread)
    crossed = _over_frames(mean, frames.cross, spread).real
    part_factor = ones
    if matching is Matching.PART_AND_WHOLE:
        part_factor = _match(frames.part.sum(axis=-1), part_b)
    whole_b = part_b * part_factor[:, None] ** 2 + 2.0 * crossed * part_factor[:, None]
    whole_b = np.maximum(whole_b + frames.rest.sum(axis=-1), 0.0)
    return part_factor, _match(with_gain(frames, 1.0).sum(axis=-1), whole_b)


def _over_frames(response: _Numbers, frames: _Numbers, spread: Spread | None) -> _Numbers:
    """(candidates, frames): ``frames`` (frames, bands) times ``response`` (candidates, steps,
    bands), over all bands and steps."""
    if spread is None:
        return response[:, 0] @ frames.T
    shares = spread.by_frame[..., OCTAVE_OF_CAM] * frames[:, None]
    over: _Numbers = np.einsum("fsb,csb->cf", shares, response, optimize=True)
    return over


def _match(a_frames: Floats, b_frames: Floats) -> Floats:
    """Amplitude factors that bring each row of B's frames to the loudness of A's."""
    target_lufs = integrated_lufs(block_powers(a_frames))
    return np.array(
        [db_to_gain(matching_gain_db(row, target_lufs)) for row in block_powers(b_frames)]
    )
