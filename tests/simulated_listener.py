"""Simulated listeners whose finest sizes are known, for the scorer's tests and benchmarks.

They answer by their own formulas, written here apart from the scorer's. Four ways of answering:

forced      names one of the offered answers: chance + (1 - chance - lapse) W(size)
nested      says nothing, misnames or names; what is named has been heard (the scorer's own view)
product     says nothing, misnames or names; hearing and, once heard, naming are independent, which
            is not how the scorer sees it
guessing    hears nothing at all: any kind, or "nothing", and any frequency, at random

W(size) = 1 - exp(-(size / finest)^slope). A listener's *finest size* is where naming, by what
chance and lapse leave, has come 63 % (1 - 1/e) of its way, whatever the formula.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trainer.observation import NothingAnswer, Observation, Outcome
from trainer.skills import SKILLS

Floats = NDArray[np.float64]
BANDS = SKILLS[:10]
"""The ten skills (too much, by band) that most populations are followed in."""


@dataclass
class Listener:
    """``log2_finest`` (10,) in log2 dB; ``good_day`` is the sd of a day's form, same unit."""

    random: np.random.RandomState
    log2_finest: Floats
    way: str = "nested"
    slope: float = 2.0
    lapse: float = 0.03
    chance: float = 0.125
    lead: float = 0.4
    false_alarm: float = 0.15
    good_day: float = 0.0
    form: float = 0.0

    def probabilities(self, band: int, size_db: float) -> tuple[float, float]:
        """Probabilities of a missed and of a named problem."""
        return _probabilities(self, float(self.log2_finest[band]) + self.form, size_db)

    def true_log2_finest(self, band: int) -> float:
        """log2 of the size, in dB, that is named 63 % of the way up from chance."""
        theta = float(self.log2_finest[band])
        if self.way != "product":
            return theta
        lowest = _probabilities(self, theta, 1e-6)[1]
        highest = _probabilities(self, theta, 1e6)[1]
        wanted = lowest + (highest - lowest) * (1.0 - math.exp(-1.0))
        low, high = theta - 3.0, theta + 3.0
        for _ in range(40):
            middle = 0.5 * (low + high)
            if _probabilities(self, theta, 2.0**middle)[1] < wanted:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)

    def wake(self) -> None:
        """A new day: how good a day is it?"""
        self.form = self.good_day * self.random.standard_normal()

    def answer(self, day: int, band: int, size_db: float) -> Observation:
        """The answer to a problem of this size in this band."""
        missed, named = self.probabilities(band, size_db)
        draw = self.random.random_sample()
        outcome = (
            Outcome.MISSED
            if draw < missed
            else Outcome.NAMED
            if draw < missed + named
            else Outcome.MISNAMED
        )
        return Observation(
            day,
            BANDS[band],
            size_db,
            outcome,
            chance=self.chance,
            forced=self.way == "forced",
        )

    def answer_nothing(self, day: int) -> NothingAnswer:
        """The answer to a question that hides nothing."""
        return NothingAnswer(day, bool(self.random.random_sample() < self.false_alarm))


def _probabilities(who: Listener, theta: float, size_db: float) -> tuple[float, float]:
    strength = (size_db / 2.0**theta) ** who.slope
    found = 1.0 - math.exp(-strength)
    if who.way == "forced":
        return 0.0, who.chance + (1.0 - who.chance - who.lapse) * found
    if who.way == "guessing":
        return 1.0 - who.false_alarm, who.false_alarm * who.chance
    heard = 1.0 - math.exp(-strength * 2.0 ** (who.lead * who.slope))
    if who.way == "nested":
        by_guess = who.chance * (heard - found + (1.0 - heard) * who.false_alarm)
        missed = (1.0 - heard) * (1.0 - who.false_alarm)
        return (
            (1.0 - who.lapse) * missed + 0.5 * who.lapse,
            (1.0 - who.lapse) * (found + by_guess) + 0.5 * who.lapse * who.chance,
        )
    heard = who.false_alarm + (1.0 - who.false_alarm - who.lapse) * heard
    right = who.chance + (1.0 - who.chance - who.lapse) * found
    return 1.0 - heard, heard * right


def ten_way_namer(seed: int) -> Listener:
    """Forced naming, chance 0.08, slope 1.8, lapse 0.03; log2 finest N(2, 0.6) + N(0, 0.5)."""
    random = np.random.RandomState(seed)
    theta = 2.0 + 0.6 * random.standard_normal() + 0.5 * random.standard_normal(10)
    return Listener(random, theta, "forced", slope=1.8, chance=0.08)


def eight_way_namer(seed: int, way: str = "forced") -> Listener:
    """Chance 1/8; slopes, lapses, leads and false alarms vary; log2 finest sd 0.75, corr. 0.6."""
    random = np.random.RandomState(seed)
    common, apart = math.sqrt(0.6), math.sqrt(0.4)
    theta = 2.0 + 0.75 * (common * random.standard_normal() + apart * random.standard_normal(10))
    return Listener(
        random,
        theta,
        way,
        slope=2.0 * math.exp(0.3 * random.standard_normal()),
        lapse=random.uniform(0.02, 0.04),
        lead=max(0.05, 0.4 + 0.2 * random.standard_normal()),
        false_alarm=random.beta(3.0, 17.0),
    )


def random_guesser(seed: int) -> Listener:
    """Hears nothing: "nothing" is one answer of six, the rest are guesses."""
    return Listener(
        np.random.RandomState(seed), np.full(10, 99.0), "guessing", chance=0.027, false_alarm=5 / 6
    )


def staircase(
    who: Listener,
    band: int,
    answers: int,
    down: int = 3,
    steps: tuple[float, float] = (0.25, 0.25),
) -> list[float]:
    """Levels in log2 dB of an n-down-1-up track (Levitt 1971), one for each answer.

    From 8 dB; ``steps`` in octaves of size, until the first reversal and after it.
    """
    level, step, right_in_a_row, last_way = 3.0, steps[0], 0, 0
    levels = []
    for _ in range(answers):
        levels.append(level)
        named = who.answer(0, band, 2.0**level).outcome is Outcome.NAMED
        right_in_a_row = right_in_a_row + 1 if named else 0
        way = 0 if named and right_in_a_row < down else -1 if named else 1
        if way == -1:
            right_in_a_row = 0
        if way and last_way and way != last_way:
            step = steps[1]
        last_way = way or last_way
        level = min(math.log2(18.0), max(-1.0, level + way * step))
    return levels


def staircase_estimate(who: Listener, levels: list[float], down: int = 3) -> float:
    """log2 finest size from a track: the mean level at its reversals but the first, or the last
    level, moved from the track's convergence point to the finest size by the *true* slope."""
    turns, way = [], 0.0
    for before, after in itertools.pairwise(levels):
        if after != before:
            if way and (after > before) != (way > 0):
                turns.append(before)
            way = after - before
    level = float(np.mean(turns[1:])) if len(turns) > 2 else levels[-1]
    wanted = 0.5 ** (1.0 / down)
    probe = replace(who, log2_finest=np.zeros(1), form=0.0)
    sizes = np.linspace(-2.0, 3.0, 501)
    named = np.array([probe.probabilities(0, 2.0**size)[1] for size in sizes])
    offset = float(sizes[int(np.abs(named - wanted).argmin())])
    return level - (offset - (probe.true_log2_finest(0)))


def best_information(who: Listener) -> float:
    """Fisher information on log2 finest size of one answer at the best size, true slope known."""
    probe = replace(who, log2_finest=np.zeros(1), form=0.0)
    step, best = 1e-3, 0.0
    for size in np.linspace(-1.5, 2.5, 81):
        missed, named = probe.probabilities(0, 2.0**size)
        shifted = probe.probabilities(0, 2.0 ** (size - step))
        now = np.array([missed, named, 1.0 - missed - named])
        slope = (np.array([*shifted, 1.0 - sum(shifted)]) - now) / step
        live = now > 1e-9
        best = max(best, float((slope[live] ** 2 / now[live]).sum()))
    return best


def error_bound(who: Listener, sd: float, correlation: float, answers: int) -> float:
    """Least mean squared error of ten pooled bands after ``answers`` a band: the Bayesian
    Cramer-Rao form, (prior precision + Fisher information)^-1."""
    prior = sd**2 * (correlation + (1.0 - correlation) * np.eye(10))
    information = answers * best_information(who) * np.eye(10)
    posterior = np.linalg.inv(np.linalg.inv(prior) + information)
    return float(np.trace(posterior) / 10.0)
