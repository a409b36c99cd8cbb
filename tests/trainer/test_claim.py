"""The rules of a blind claim: driven with plain calls, no sound and no screen."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import pytest
import scipy.stats

from exercises.bands import octaves
from trainer.claim import POINTINGS, Claim, Point, Stage, aim_of
from trainer.round import IllegalMove
from trainer.sequential_test import RULE, Outcome

SEEDS = range(200)


def hear(claim: Claim, share: float, draws: random.Random) -> None:
    """Somebody who tells X rightly in this share of trials, until it is decided."""
    while claim.stage is Stage.TRIALS:
        right = draws.random() < share
        claim.say_x(claim.x if right else {"A": "B", "B": "A"}[claim.x])


def point(claim: Claim, bias: float, spread: float, draws: random.Random) -> None:
    """Somebody who points with this bias and spread, in octaves."""
    while claim.stage is Stage.POINTING:
        claim.point(claim.place_hz * 2.0 ** draws.gauss(bias, spread))


def test_somebody_who_always_hears_it_is_done_after_six_trials() -> None:
    claim = Claim(200.0, seed=1)
    hear(claim, 1.0, random.Random(1))
    assert claim.outcome is Outcome.HEARD
    assert len(claim.trials) == 6
    assert claim.stage is Stage.POINTING


def test_guessers_are_told_heard_in_one_case_of_twenty_at_most() -> None:
    outcomes = []
    draws = random.Random(2)
    for seed in range(2000):
        claim = Claim(200.0, seed)
        hear(claim, 0.5, draws)
        outcomes.append(claim.outcome)
        assert len(claim.trials) <= RULE.most
    heard = outcomes.count(Outcome.HEARD)
    # 5 % of 2,000 is 100; the exact rate is 3.3 %, so 66 with a standard error of 8.
    assert 40 <= heard <= 95


def test_saying_always_the_same_is_guessing() -> None:
    heard = 0
    for seed in range(500):
        claim = Claim(200.0, seed)
        while claim.stage is Stage.TRIALS:
            claim.say_x("A")
        heard += claim.outcome is Outcome.HEARD
    assert heard <= 0.05 * 500 + 10


def test_x_is_drawn_evenly_and_without_memory() -> None:
    xs = []
    for seed in range(400):
        claim = Claim(200.0, seed)
        while claim.stage is Stage.TRIALS and len(claim.trials) < 12:
            xs.append(claim.x)
            claim.say_x("A")
    pairs = list(pairwise(xs))
    for count, total in ((xs.count("A"), len(xs)), (pairs.count(("A", "A")), len(pairs) / 2.0)):
        assert count / total == pytest.approx(0.5, abs=4.0 * 0.5 / math.sqrt(total))


def test_the_same_seed_gives_the_same_claim() -> None:
    one, other = Claim(200.0, 7), Claim(200.0, 7)
    for _ in range(5):
        assert one.x == other.x
        one.say_x("A")
        other.say_x("A")
    assert one.places_hz == other.places_hz


@pytest.mark.parametrize("freq_hz", [30.0, 200.0, 1000.0, 16_000.0])
def test_places_to_point_at_lie_evenly_within_an_octave(freq_hz: float) -> None:
    places = [place for seed in SEEDS for place in Claim(freq_hz, seed).places_hz]
    low, high = max(25.0, freq_hz / 2.0), min(17_500.0, freq_hz * 2.0)
    assert low <= min(places) < max(places) <= high
    shares = [math.log(place / low) / math.log(high / low) for place in places]
    assert scipy.stats.kstest(shares, "uniform").pvalue > 0.001


def test_bias_and_spread_of_a_simulated_learner_are_found() -> None:
    draws = random.Random(3)
    biases, covered = [], 0
    for seed in range(400):
        claim = Claim(500.0, seed)
        hear(claim, 1.0, draws)
        point(claim, -0.2, 0.15, draws)
        aim = claim.aim
        assert aim is not None
        assert len(claim.points) == POINTINGS
        assert claim.stage is Stage.OVER
        biases.append(aim.bias)
        covered += aim.low <= -0.2 <= aim.high
    assert sum(biases) / 400 == pytest.approx(-0.2, abs=4.0 * 0.15 / math.sqrt(5 * 400))
    # A 95 % interval covers in 380 of 400, give or take 4 (one standard error).
    assert 363 <= covered <= 396


def test_interval_is_that_of_student() -> None:
    misses = (0.1, -0.3, 0.2, 0.05, 0.4)
    aim = aim_of(tuple(Point(200.0, 200.0 * 2.0**miss) for miss in misses))
    assert aim is not None
    low, high = scipy.stats.t.interval(0.95, 4, loc=sum(misses) / 5, scale=scipy.stats.sem(misses))
    assert (aim.low, aim.high) == pytest.approx((low, high), abs=1e-3)
    assert aim.spread == pytest.approx(scipy.stats.tstd(misses))
    assert aim_of(()) is None
    assert aim_of((Point(200.0, 210.0),) * 2) is None


def test_pointing_is_held_within_the_rule_and_can_be_left_out() -> None:
    claim = Claim(200.0, 1)
    hear(claim, 1.0, random.Random(1))
    claim.point(1.0)
    assert claim.points[0].named_hz == 20.0
    assert octaves(20.0, claim.points[0].true_hz) == claim.points[0].miss_octaves
    claim.skip_pointing()
    assert claim.stage is Stage.OVER
    assert claim.aim is None


@pytest.mark.parametrize("before", [0, 5, 6, 6 + POINTINGS - 1])
def test_what_could_not_be_kept_is_taken_back_and_asked_as_it_was(before: int) -> None:
    """The first trial and the sixth, which decides it; the first pointing and the last."""
    claim = Claim(200.0, 1)

    def give() -> None:
        if claim.stage is Stage.TRIALS:
            claim.say_x(claim.x)
        else:
            claim.point(200.0)

    def asked() -> tuple[object, ...]:
        what = claim.x if claim.stage is Stage.TRIALS else claim.place_hz
        return claim.stage, claim.number, what, claim.trials, claim.points

    for _ in range(before):
        give()
    was = asked()
    give()
    assert (claim.trials, claim.points) != was[3:]
    claim.take_back()
    assert asked() == was


def test_illegal_moves_raise_and_change_nothing() -> None:
    claim = Claim(200.0, 1)
    for move in (lambda: claim.point(200.0), claim.skip_pointing, lambda: claim.place_hz):
        with pytest.raises(IllegalMove, match="at 'trials', not 'pointing'"):
            move()
    with pytest.raises(IllegalMove, match="X is A or B, not 'C'"):
        claim.say_x("C")
    assert claim.trials == ()
    hear(claim, 1.0, random.Random(1))
    with pytest.raises(IllegalMove, match="at 'pointing', not 'trials'"):
        claim.say_x("A")
    claim.skip_pointing()
    for move in (lambda: claim.say_x("A"), lambda: claim.point(1.0), lambda: claim.x):
        with pytest.raises(IllegalMove, match="at 'over'"):
            move()
