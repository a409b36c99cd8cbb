"""What dynamics on a part do to the moments of all that is heard, without rendering any of it.

The gain is worked out from what the detector reads, as in ``problems``, held for slices of 64
frames, and put on the power of every octave band; then the part and the whole are matched in
loudness from their moments.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exercises import dynamics
from exercises.kinds import Style
from exercises.loops import Passage
from exercises.loudness import integrated_lufs, matching_gain_db
from exercises.moments import (
    MOMENT_FRAMES,
    Flags,
    Moments,
    block_powers,
    means,
    moment_change_db,
    moment_powers,
    slices_of,
    sounding_moments,
    with_gain,
)
from exercises.passage_ear import PassageEar
from exercises.problems import Problem, dynamics_top_db
from exercises.samples import Floats, Samples, db_to_gain


@dataclass(frozen=True, slots=True)
class Detected:
    """What one style's detector reads of a part: ``level_db`` (slices,) in dBFS.

    ``top_db`` is the level passed a tenth of the time that the part sounds, and ``tops_db`` the
    same of each passage by name.
    """

    level_db: Floats
    top_db: float
    tops_db: dict[str, float]


def detectors(part: Samples, passages: tuple[Passage, ...]) -> dict[Style, Detected]:
    """What every style's detector reads of ``part`` (frames, 2)."""
    return {style: _detected(part, passages, style) for style in Style}


def _detected(part: Samples, passages: tuple[Passage, ...], style: Style) -> Detected:
    level_db = dynamics.detected_db(part, style)
    return Detected(
        means(level_db, slices_of(len(part))),
        dynamics_top_db(part, level_db, style, None),
        {p.name: dynamics_top_db(part, level_db, style, p) for p in passages if len(passages) > 1},
    )


def dynamics_change_db(
    moments: Moments, detected: Detected, problem: Problem, place: PassageEar | None = None
) -> float:
    """What ``moment_change_db`` gives for the part with ``problem`` in it, matched in loudness.

    In one passage only its moments count.
    """
    count = moments.own.shape[1]
    sounding = sounding_moments(moments.a_part)
    if place is not None:
        sounding = sounding & _inside(place.passage, count)
    changed = list(zip(moments.bands, _gains(moments, detected, problem, place), strict=True))
    b_part = moment_powers([band.part * gain**2 for band, gain in changed], count)
    factor = _match(moments.a_part, b_part)
    b_heard = moment_powers([with_gain(band, gain * factor) for band, gain in changed], count)
    b_heard *= _match(moments.a_heard, b_heard) ** 2
    return moment_change_db(moments.a_heard, b_heard, moments.own, sounding)


def _gains(
    moments: Moments, detected: Detected, problem: Problem, place: PassageEar | None
) -> list[Floats]:
    """Amplitude gain at the times of each band."""
    top_db = detected.top_db if place is None else detected.tops_db[place.passage.name]
    gain_db = dynamics.gain_db(detected.level_db, top_db, problem.kind, problem.size_db)
    if place is not None:
        weight = place.hand_slices
        gain_db = weight * (gain_db + _make_up_db(moments, gain_db, weight))
    gain = 10.0 ** (gain_db / 20.0)
    return [means(gain, len(band.part)) for band in moments.bands]


def _make_up_db(moments: Moments, gain_db: Floats, weight: Floats) -> float:
    """What keeps the power of a passage, where ``weight`` is whole, as it was."""
    squared = 10.0 ** (gain_db / 10.0)
    was = is_now = 0.0
    for band in moments.bands:
        count = len(band.part)
        power = band.part * (means(weight, count) > 0.5) / count
        was += float(power.sum())
        is_now += float(np.vdot(power, means(squared, count)))
    return 10.0 * float(np.log10(was / is_now)) if is_now > 0.0 else 0.0


def _inside(passage: Passage, count: int) -> Flags:
    middles = (np.arange(count) + 0.5) * MOMENT_FRAMES
    inside: Flags = (middles >= passage.start_frame) & (middles < passage.stop_frame)
    return inside


def _match(a_powers: Floats, b_powers: Floats) -> float:
    """Amplitude factor that brings B's moments (bands, moments) to the loudness of A's."""
    target_lufs = integrated_lufs(block_powers(a_powers.sum(axis=0)))
    return db_to_gain(matching_gain_db(block_powers(b_powers.sum(axis=0)), target_lufs))
