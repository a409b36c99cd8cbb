"""How large to make a problem: where the answer tells most, with success likely enough."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from exercises.kinds import Kind
from trainer.ability import Ability
from trainer.answer_model import Floats
from trainer.skills import LEVEL_NAME, Skill

EASY_SUCCESS: Final = 0.92
LEAST_SUCCESS: Final = 0.75
TONE_SIZES_DB: Final = (1.0, 12.0)
DYNAMICS_SIZES_DB: Final = (1.0, 12.0)
LEVEL_SIZES_DB: Final = (0.5, 6.0)
SIZE_STEP_LOG2: Final = 1.0 / 16.0
"""A coarse menu overshoots the least success that is wanted, and that costs information."""

SmallestAskable = Callable[[str, Kind, float | None], float | None]
"""(loop name, kind, frequency in Hz or None) -> the smallest size, dB, that can be heard on the
whole mix; None when none can."""


def sizes_db(skill: Skill) -> tuple[float, float]:
    """Smallest and largest size, dB, that a drill asks of a skill."""
    if skill.band_index is not None:
        return TONE_SIZES_DB
    return LEVEL_SIZES_DB if skill.problem == LEVEL_NAME else DYNAMICS_SIZES_DB


def best_size_db(
    ability: Ability,
    skill: Skill,
    least: float,
    largest: float,
    *,
    easy: bool,
    help: int,
    placed: bool = False,
) -> float:
    """The size from ``least`` to ``largest`` that tells most, success being likely enough; for
    an easy question the smallest that is easy. The largest where no success is likely enough.

    ``help`` and ``placed`` as in Observation.
    """
    low, high = math.log2(least), math.log2(largest)
    count = max(2, math.ceil((high - low) / SIZE_STEP_LOG2) + 1)
    sizes: Floats = np.linspace(low, high, count)
    success, information = ability.placement(skill, sizes, help=help, placed=placed)
    fit = success >= (EASY_SUCCESS if easy else LEAST_SUCCESS)
    if not fit.any():
        return largest
    place = int(fit.argmax() if easy else np.where(fit, information, -1.0).argmax())
    # To 0.1 dB, upwards: neither what can be heard nor the least success is undercut.
    return min(largest, math.ceil(math.exp2(sizes[place]) * 10.0 - 1e-6) / 10.0)
