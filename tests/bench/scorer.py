"""How near the scorer comes to the truth, how often its intervals hold it, and how fast it is.

Simulated listeners (tests/simulated_listener.py). Errors are RMSE of log2 finest size over ten
bands. The staircase is 3-down-1-up (Levitt, JASA 49, 1971), on the same listeners, in two forms:
*plain* from 8 dB by quarter-octave steps of size, and *tuned* by halves then quarters. Both are
corrected to the finest size by the listener's true slope, which no real track would know. The
bound is the Fisher information of the best placed answers, slope and lapse known, with the
population's own covariance as prior. questplus places its sizes freely, each band by itself, with
the population's prior; ours keeps success at 75 %.
"""

from __future__ import annotations

import gc
import json
import math
import time
import tracemalloc
from collections.abc import Callable, Iterator

import numpy as np

from tests.questplus_track import QuestplusTrack
from tests.simulated_climber import Everywhere
from tests.simulated_drill import live, placed_size_db, rounds
from tests.simulated_listener import (
    Listener,
    eight_way_namer,
    error_bound,
    random_guesser,
    staircase,
    staircase_estimate,
    ten_way_namer,
)
from trainer.ability import Ability
from trainer.limits import Limits
from trainer.mastery import mastered
from trainer.observation import Observation, Outcome
from trainer.planner import plan_next
from trainer.skills import SKILLS

Row = tuple[str, float, float, float | None]

LISTENERS = 150
QUESTPLUS_LISTENERS = 30
STORIES = 25
CHECKPOINTS = (8, 16)
MOST_COVER = 0.93 / 0.90
LEAST_COVER = 0.90 / 0.87
GOAL_DB = 3.0


def rows() -> Iterator[Row]:
    """All of it; some eight minutes on a quiet machine."""
    yield from _speed()
    yield from _accuracy("ten-way", ten_way_namer, math.hypot(0.6, 0.5), 0.36 / 0.61)
    yield from _accuracy("eight-way", eight_way_namer, 0.75, 0.6)
    yield from _accuracy("may say nothing", lambda s: eight_way_namer(s, "nested"), 0.75, 0.6)
    yield from _accuracy("the same, product", lambda s: eight_way_namer(s, "product"), 0.75, 0.6)
    yield from _questplus("ten-way", ten_way_namer, 1.8, math.hypot(0.6, 0.5))
    yield from _questplus("eight-way", eight_way_namer, 2.0, 0.75)
    for story in ("steady", "improving", "back"):
        yield from _story(story)
    yield from _guessing()
    yield from _growth()


def _rmse(errors: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(errors))))


def _cover_rows(what: str, cover: float) -> Iterator[Row]:
    yield f"{what}: cover of 90 % intervals, at most 93 %", cover, 0.90, MOST_COVER
    yield f"{what}: the same, at least 87 % (ratio turned)", 0.90, cover, LEAST_COVER


def _accuracy(
    what: str, make: Callable[[int], Listener], sd: float, correlation: float
) -> Iterator[Row]:
    errors: dict[int, list[float]] = {count: [] for count in CHECKPOINTS}
    free: dict[int, list[float]] = {count: [] for count in CHECKPOINTS}
    plain: dict[int, list[float]] = {count: [] for count in CHECKPOINTS}
    tuned: dict[int, list[float]] = {count: [] for count in CHECKPOINTS}
    bounds: dict[int, list[float]] = {count: [] for count in CHECKPOINTS}
    covered: dict[int, list[bool]] = {count: [] for count in CHECKPOINTS}
    for seed in range(LISTENERS):
        for count, reading in zip(CHECKPOINTS, rounds(make(seed), seed, CHECKPOINTS), strict=True):
            errors[count].extend(reading.errors)
            covered[count].extend(reading.covered)
            bounds[count].append(error_bound(make(seed), sd, correlation, count))
        readings = rounds(make(seed), seed, CHECKPOINTS, least=0.0)
        for count, reading in zip(CHECKPOINTS, readings, strict=True):
            free[count].extend(reading.errors)
        who = make(seed)
        for band in range(10):
            truth = who.true_log2_finest(band)
            for count in CHECKPOINTS:
                track = staircase(who, band, count, steps=(0.25, 0.25))
                plain[count].append(staircase_estimate(who, track) - truth)
                track = staircase(who, band, count, steps=(0.5, 0.25))
                tuned[count].append(staircase_estimate(who, track) - truth)
    for count in CHECKPOINTS:
        ours, bound = _rmse(errors[count]), math.sqrt(np.mean(bounds[count]))
        name = f"{what}, {count} a band"
        yield f"{name}: error, plain 3-down-1-up", ours, _rmse(plain[count]), 0.55
        yield f"{name}: error, tuned 3-down-1-up", ours, _rmse(tuned[count]), None
        yield f"{name}: error, Fisher and prior", ours, bound, 1.20
        yield f"{name}: error, sizes free of the 75 %", ours, _rmse(free[count]), None
        yield from _cover_rows(name, float(np.mean(covered[count])))


def _questplus(
    what: str, make: Callable[[int], Listener], slope: float, sd: float
) -> Iterator[Row]:
    ours: dict[int, list[float]] = {count: [] for count in CHECKPOINTS}
    theirs: dict[int, list[float]] = {count: [] for count in CHECKPOINTS}
    for seed in range(QUESTPLUS_LISTENERS):
        for count, reading in zip(CHECKPOINTS, rounds(make(seed), seed, CHECKPOINTS), strict=True):
            ours[count].extend(reading.errors)
        who = make(seed)
        for band in range(10):
            quest = QuestplusTrack(who.chance, slope, sd)
            for count in range(1, max(CHECKPOINTS) + 1):
                size = quest.next_log10()
                named = who.answer(1, band, 10.0**size).outcome is Outcome.NAMED
                quest.learn(size, named)
                if count in CHECKPOINTS:
                    theirs[count].append(quest.log2_finest() - who.true_log2_finest(band))
    for count in CHECKPOINTS:
        name = f"{what}, {count} a band: error, questplus"
        yield name, _rmse(ours[count]), _rmse(theirs[count]), None


def _story(story: str) -> Iterator[Row]:
    covered: list[bool] = []
    last_errors: list[float] = []
    returned: list[bool] = []
    declared = false = careless = false_careless = 0
    for seed in range(STORIES):
        who = eight_way_namer(5000 + seed, "nested")
        who.good_day = 0.1
        before = Ability.fresh()
        open_skills, open_careless = set(range(10)), set(range(10))
        for reading in live(who, story, seed):
            covered.extend(reading.covered)
            if reading.day > 40:
                returned.extend(reading.covered)
            for band in sorted(open_skills):
                if mastered(before, reading.ability, SKILLS[band], GOAL_DB):
                    open_skills.discard(band)
                    declared += 1
                    false += who.log2_finest[band] >= math.log2(GOAL_DB)
            for band in sorted(open_careless):
                if reading.ability.finest(SKILLS[band]).size_db < GOAL_DB:
                    open_careless.discard(band)
                    careless += 1
                    false_careless += who.log2_finest[band] >= math.log2(GOAL_DB)
            before = reading.ability
        last_errors.extend(reading.errors)
    yield from _cover_rows(f"{story}, all days", float(np.mean(covered)))
    if story == "back":
        yield from _cover_rows("first five days back", float(np.mean(returned)))
    yield f"{story}: error on the last day, log2", _rmse(last_errors), 1.0, None
    yield f"{story}: false share of {declared} 'mastered', 5 %", false / declared, 0.05, 1.0
    yield f"{story}: false share of 'once below'", false_careless / careless, 0.05, None


def _guessing() -> Iterator[Row]:
    beyond: list[bool] = []
    declared = 0
    for seed in range(STORIES // 2):
        who = random_guesser(seed)
        for reading in rounds(who, seed, (8, 16, 32)):
            for skill in SKILLS[:10]:
                beyond.append(reading.ability.finest(skill).high_db > 12.0)
                declared += mastered(reading.ability, reading.ability, skill, 12.0)
    # A guesser's finest size lies beyond every size asked: an interval holds it that reaches there.
    yield "guessing: intervals beyond 12 dB, 87 % (ratio turned)", 0.87, float(np.mean(beyond)), 1.0
    yield "guessing: mastered at 12 dB, of all chances", declared / len(beyond), 0.05, 1.0


def made_up(count: int, a_day: int = 60) -> Iterator[Observation]:
    """A made-up record of any length, without the cost of placing sizes."""
    random = np.random.RandomState(7)
    for number in range(count):
        skill = SKILLS[int(random.random_sample() * len(SKILLS))]
        draw = random.random_sample()
        outcome = (
            Outcome.NAMED if draw < 0.75 else Outcome.MISNAMED if draw < 0.9 else Outcome.MISSED
        )
        miss = None
        if skill.band_index is not None and outcome is not Outcome.MISSED:
            miss = 0.25 * random.standard_normal()
        yield Observation(1 + number // a_day, skill, 3.0 + random.random_sample(), outcome, miss)


def rebuilt(count: int) -> Ability:
    ability = Ability.fresh()
    for answer in made_up(count):
        ability = ability.after(answer)
    return ability


def _speed() -> Iterator[Row]:
    ability = rebuilt(10_000)
    answers = list(made_up(300))
    limits, loops = Limits(), ["quay", "mill", "ferry"]
    started = time.perf_counter()
    for number, answer in enumerate(answers):
        ability = ability.after(answer)
        plan_next(ability, [], limits, loops, Everywhere(), number, step=1 + number % 7)
    ours = (time.perf_counter() - started) / len(answers)
    yield "update and plan after 10,000 answers, s (10 ms)", ours, 0.010, 1.0
    who, band_ability = eight_way_namer(1), Ability.fresh()
    quest = QuestplusTrack(who.chance, 2.0, 0.75)
    timed = {}
    started = time.perf_counter()
    for _ in range(30):
        size = quest.next_log10()
        named = who.answer(1, 0, 10.0**size).outcome is Outcome.NAMED
        quest.learn(size, named)
    timed["questplus"] = (time.perf_counter() - started) / 30
    started = time.perf_counter()
    for _ in range(30):
        size_db = placed_size_db(band_ability, 0, who, 0.75)
        band_ability = band_ability.after(who.answer(1, 0, size_db))
    timed["ours"] = (time.perf_counter() - started) / 30
    yield "place and update, s: questplus, one band", timed["ours"], timed["questplus"], None


def _growth() -> Iterator[Row]:
    seconds = {}
    for count in (1_000, 10_000, 300_000):
        # Of the processor, not of the clock: this runs long enough to meet other work.
        started = time.process_time()
        ability = rebuilt(count)
        seconds[count] = (time.process_time() - started) / count
    name = "rebuilding from the answers, processor s an answer"
    yield f"{name}: 10,000 against 1,000", seconds[10_000], seconds[1_000], 1.3
    yield f"{name}: 300,000 against 10,000", seconds[300_000], seconds[10_000], 1.3
    text = json.dumps(ability.to_state())
    gc.collect()
    tracemalloc.start()
    started = time.perf_counter()
    ability = Ability.from_state(json.loads(text)).on_day(6000)
    estimates = [ability.finest(skill) for skill in SKILLS]
    opened = time.perf_counter() - started
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    yield f"{len(estimates)} finest sizes from a saved state, s (1 s)", opened, 1.0, 1.0
    yield "memory for that, MB (300 MB)", peak / 1e6, 300.0, 1.0
    yield "saved state after 300,000 answers, kB", len(text) / 1e3, 50.0, None
