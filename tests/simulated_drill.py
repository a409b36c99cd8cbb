"""Simulated listeners put through days of questions, for the scorer's tests and benchmarks.

Ten bands in shuffled rounds, each size placed as the planner places it. The three histories:
*steady* (finest sizes stay), *improving* (by 1 dB a week, to a quarter at most), and *back*
(improves for twenty days, is away for three weeks, loses a little, differently in each band).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.simulated_listener import BANDS, Floats, Listener
from trainer.ability import Ability
from trainer.planner import NOTHING_SHARE
from trainer.sizing import LEAST_SUCCESS, SIZE_STEP_LOG2

SMALLEST_LOG2, LARGEST_LOG2 = -1.0, math.log2(18.0)
SIZES = np.arange(SMALLEST_LOG2, LARGEST_LOG2 + 1e-9, SIZE_STEP_LOG2)
ANSWERS_A_DAY = 60


@dataclass(frozen=True)
class Reading:
    """What was believed at one moment: errors in log2 dB, hits of the 90 % interval, ten each."""

    day: int
    errors: Floats
    covered: Floats
    ability: Ability


def placed_size_db(ability: Ability, band: int, who: Listener, least: float) -> float:
    """The size that tells most with success foretold at ``least`` or more, as the planner's."""
    success, information = ability.placement(
        BANDS[band], SIZES, chance=who.chance, forced=who.way == "forced"
    )
    fit = success >= least
    place = np.where(fit, information, -1.0).argmax() if fit.any() else -1
    return float(2.0 ** SIZES[place])


def read(ability: Ability, who: Listener) -> Reading:
    """Holds the belief against the truth."""
    mean, sd = ability.log2_finest()
    truth = np.array([who.true_log2_finest(band) for band in range(10)])
    errors = mean[:10] - truth
    return Reading(ability.day or 0, errors, np.abs(errors) < 1.645 * sd[:10], ability)


def practise(
    ability: Ability,
    who: Listener,
    day: int,
    bands: list[int],
    random: np.random.RandomState,
    least: float = LEAST_SUCCESS,
) -> Ability:
    """The belief after one question in each of ``bands``, with "nothing" mixed in."""
    for band in bands:
        if who.way != "forced" and random.random_sample() < NOTHING_SHARE:
            ability = ability.after(who.answer_nothing(day))
        size_db = placed_size_db(ability.on_day(day), band, who, least)
        ability = ability.after(who.answer(day, band, size_db))
    return ability


def rounds(
    who: Listener, seed: int, checkpoints: tuple[int, ...], least: float = LEAST_SUCCESS
) -> list[Reading]:
    """A steady listener from the first answer: readings at so many answers a band."""
    random = np.random.RandomState(seed)
    ability, readings, asked = Ability.fresh(), [], 0
    for count in range(1, max(checkpoints) + 1):
        for band in random.permutation(10):
            day = 1 + asked // ANSWERS_A_DAY
            ability = practise(ability, who, day, [int(band)], random, least)
            asked += 1
        if count in checkpoints:
            readings.append(read(ability, who))
    return readings


def history(who: Listener, story: str, seed: int) -> Iterator[tuple[int, Floats]]:
    """The days of practice of a story, with log2 finest sizes on each."""
    random = np.random.RandomState(seed)
    start = who.log2_finest.copy() + (0.5 if story == "improving" else 0.0)
    start_db = np.exp2(start)
    if story == "steady":
        yield from ((day, start) for day in range(1, 43))
        return

    def improved(day: int) -> Floats:
        return np.log2(np.maximum(start_db / 4.0, start_db - (day - 1) / 7.0))

    if story == "improving":
        yield from ((day, improved(day)) for day in range(1, 43))
        return
    yield from ((day, improved(day)) for day in range(1, 21))
    loss = 0.15 + 0.15 * random.standard_normal() + 0.1 * random.standard_normal(10)
    yield from ((day, improved(20) + loss) for day in range(41, 46))


def live(
    who: Listener, story: str, seed: int, answers_a_day: int = ANSWERS_A_DAY
) -> Iterator[Reading]:
    """A listener's story: one reading at the end of each day of practice."""
    random = np.random.RandomState(seed)
    ability = Ability.fresh()
    for day, finest in history(who, story, seed + 1):
        who.log2_finest = finest
        who.wake()
        for _ in range(answers_a_day // 10):
            bands = [int(band) for band in random.permutation(10)]
            ability = practise(ability, who, day, bands, random)
        yield read(ability, who)
