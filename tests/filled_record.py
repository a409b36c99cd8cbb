"""Records filled by a simulated learner, for what is shown of a long practice.

The learner hears by ``simulated_listener``'s formulas, improves week by week, and names 250 Hz too
high: what Progress should bring out is therefore known. Nothing here is drawn but from the seed.
"""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from exercises.bands import BANDS, HIGHEST_HZ, LOWEST_HZ
from exercises.kinds import TONE, Kind
from exercises.recipe import HIGHEST_PROBLEM_HZ, LOWEST_PROBLEM_HZ, Recipe
from exercises.tone_curve import USUAL_Q
from tests.simulated_listener import Listener, eight_way_namer
from trainer.judging import Answer
from trainer.record import Listening, Record

KINDS = tuple(Kind)
NAMED_HIGH_BAND = 3
NAMED_HIGH_OCTAVES = 0.4
FIRST_DAY = date(2026, 1, 5)


def fill(
    record: Record,
    answers: int,
    *,
    seed: int = 1,
    a_day: int = 60,
    loops: tuple[tuple[str, str], ...] = (("quay", "f" * 64), ("mill", "e" * 64)),
    first_day: date = FIRST_DAY,
) -> None:
    """Keeps so many answers, ``a_day`` on each day but every seventh, in one transaction.

    ``loops`` are (name, fingerprint).
    """
    random = np.random.RandomState(seed)
    who = eight_way_namer(seed, "nested")
    start = who.log2_finest.copy()
    with record.transaction():
        drill_id, at = 0, datetime.combine(first_day, time(18, 0), UTC)
        for number in range(answers):
            day = number // a_day
            if number % a_day == 0:
                at = datetime.combine(first_day + timedelta(days=day + day // 6), time(18, 0), UTC)
                who.log2_finest = start - 0.8 * (1.0 - math.exp(-day / 40.0))
                drill_id = record.start_drill(at.date(), {"seed": day})
            recipe, answer = _asked(random, who, number, loops[number % len(loops)])
            seconds = float(np.clip(8.0 * math.exp(0.4 * random.standard_normal()), 2.0, 60.0))
            at += timedelta(seconds=seconds + 3.0)
            record.keep(
                drill_id, at, recipe, answer, Listening(seconds, 4, seconds / 2, seconds / 2)
            )
        if answers:
            record.end_drill(drill_id)


def _asked(
    random: np.random.RandomState, who: Listener, seed: int, loop: tuple[str, str]
) -> tuple[Recipe, Answer]:
    draw = random.random_sample()
    band_index = int(random.randint(10))
    if draw < 0.12:
        alarm = random.random_sample() < who.false_alarm
        said = _any_answer(random) if alarm else Answer(Kind.NOTHING, None, True)
        return Recipe(seed, *loop, Kind.NOTHING, 0.0), said
    kind = (Kind.TOO_MUCH, Kind.TOO_LITTLE)[int(random.randint(2))]
    if draw > 0.85:
        kind = (Kind.SQUASHED, Kind.TOO_LOUD, Kind.TOO_QUIET)[int(random.randint(3))]
    size_db = round(float(min(12.0, max(1.0, 2.0 ** (who.log2_finest[band_index] + 0.4)))), 1)
    freq_hz = None
    if kind in TONE:
        band = BANDS[band_index]
        within = band.low_hz * 2.0 ** random.random_sample()
        freq_hz = round(min(HIGHEST_PROBLEM_HZ, max(LOWEST_PROBLEM_HZ, within)), 1)
    recipe = Recipe(seed, *loop, kind, size_db, freq_hz, USUAL_Q if kind in TONE else None)
    missed, named = who.probabilities(band_index, size_db)
    outcome = random.random_sample()
    sure = bool(random.random_sample() < (0.75 if outcome < missed + named else 0.35))
    if outcome < missed:
        return recipe, Answer(Kind.NOTHING, None, sure)
    if outcome < missed + named:
        return recipe, Answer(kind, _named_hz(random, freq_hz, band_index, 0.12), sure)
    if random.random_sample() < 0.5:
        return recipe, Answer(kind, _named_hz(random, freq_hz, band_index, 0.7), sure)
    return recipe, _any_answer(random)


def _named_hz(
    random: np.random.RandomState, freq_hz: float | None, band_index: int, spread: float
) -> float | None:
    if freq_hz is None:
        return None
    bias = NAMED_HIGH_OCTAVES if band_index == NAMED_HIGH_BAND else 0.0
    named = freq_hz * 2.0 ** (bias + spread * random.standard_normal())
    return float(min(HIGHEST_HZ, max(LOWEST_HZ, named)))


def _any_answer(random: np.random.RandomState) -> Answer:
    kind = KINDS[int(random.randint(5))]
    freq_hz = 25.0 * 2.0 ** (9.0 * random.random_sample()) if kind in TONE else None
    return Answer(kind, freq_hz, False)
