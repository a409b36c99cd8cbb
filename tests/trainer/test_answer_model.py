"""The formula that links size to answer, and what is believed before the first answer."""

from __future__ import annotations

import math

import numpy as np
import pytest

from exercises.bands import HIGHEST_HZ, LOWEST_HZ
from exercises.kinds import Kind
from tests.simulated_listener import Listener, staircase
from trainer.answer_model import (
    MODEL,
    chance_of_guess,
    named_and_missed,
    prior_covariance,
    prior_means,
)
from trainer.observation import Observation, Outcome, credit_for_miss, outcome_of
from trainer.skills import SKILLS, Skill, skill_of, skill_of_key


def _model(who: Listener, size: float) -> tuple[float, float]:
    at = np.ones(1)
    named, missed = named_and_missed(
        size,
        at * who.log2_finest[0],
        at * math.log(who.slope),
        at * math.log(who.lead / MODEL.lead_median),
        at * math.log(who.lapse / (1.0 - who.lapse)),
        false_alarm=who.false_alarm,
        chance=who.chance,
        forced=who.way == "forced",
        model=MODEL,
    )
    return float(missed[0]), float(named[0])


@pytest.mark.parametrize("size", [-1.0, 0.5, 2.0, 3.0, 5.0])
@pytest.mark.parametrize(("slope", "lead", "false_alarm"), [(2.0, 0.4, 0.15), (1.2, 0.1, 0.5)])
def test_three_way_answers_are_the_simulated_listeners(
    size: float, slope: float, lead: float, false_alarm: float
) -> None:
    """Two writings of one formula, apart."""
    who = Listener(
        np.random.RandomState(0),
        np.array([2.0]),
        "nested",
        slope=slope,
        lead=lead,
        false_alarm=false_alarm,
    )
    assert _model(who, size) == pytest.approx(who.probabilities(0, 2.0**size), abs=1e-12)


@pytest.mark.parametrize("size", [-1.0, 0.5, 2.0, 3.0, 5.0])
def test_forced_answers_are_the_weibull_function(size: float) -> None:
    """Watson & Pelli 1983: chance + (1 - chance - lapse)(1 - exp(-(x/a)^b)); the lapses that
    guess right make the difference of chance * lapse, 0.0024."""
    who = Listener(np.random.RandomState(0), np.array([2.0]), "forced", slope=1.8, chance=0.08)
    assert _model(who, size) == pytest.approx(who.probabilities(0, 2.0**size), abs=2.5e-3)


@pytest.mark.parametrize(
    ("down", "share"),
    # H. Levitt, JASA 49 (1971): n-down-1-up settles where p^n = 0.5.
    [(1, 0.5), (2, 0.7071), (3, 0.7937), (4, 0.8409)],
)
def test_simulated_staircases_settle_where_levitt_says(down: int, share: float) -> None:
    """Mean level of 20,000 answers by steps of 1/20 octave; 0.015 is what the step leaves."""
    who = Listener(np.random.RandomState(down), np.full(10, 2.0), "forced", chance=0.02, lapse=0.0)
    levels = staircase(who, 0, 20_000, down, steps=(0.05, 0.05))[1000:]
    assert who.probabilities(0, 2.0 ** float(np.mean(levels)))[1] == pytest.approx(share, abs=0.015)


def test_chance_of_a_guess_is_the_credit_of_a_random_point() -> None:
    """Points dropped on a rule in the middle of which the truth lies; six kinds."""
    draws = np.random.RandomState(4).random_sample(200_000)
    octaves = math.log2(HIGHEST_HZ / LOWEST_HZ) * (draws - 0.5)
    mean = float(np.mean([credit_for_miss(miss) for miss in octaves])) / 6.0
    assert chance_of_guess(True) == pytest.approx(mean, abs=3e-4)
    assert chance_of_guess(False, 4) == 0.25
    assert chance_of_guess(False, 4, placed=True) == 0.0625


@pytest.mark.parametrize(
    ("one", "other", "correlation"),
    [
        ("too much:250", "too much:8k", 0.5),
        ("too much:250", "too little:250", 0.5),
        ("too much:250", "too little:8k", 0.35),
        ("too much:250", "dynamics", 0.30),
        ("dynamics", "level", 0.25),
    ],
)
def test_prior_correlations_are_those_written_beside_the_constants(
    one: str, other: str, correlation: float
) -> None:
    cov = prior_covariance(MODEL)
    i, j = SKILLS.index(skill_of_key(one)), SKILLS.index(skill_of_key(other))
    assert cov[i, j] / MODEL.finest_sd**2 == pytest.approx(correlation, abs=0.005)


def test_prior_is_a_covariance() -> None:
    cov = prior_covariance(MODEL)
    assert np.allclose(np.diag(cov), MODEL.finest_sd**2)
    assert np.linalg.eigvalsh(cov).min() > 0.05
    assert prior_means(MODEL).shape == (22,)


def test_skills_are_twenty_two_with_keys_of_their_own() -> None:
    assert len({skill.key for skill in SKILLS}) == len(SKILLS) == 22
    assert [skill_of_key(skill.key) for skill in SKILLS] == list(SKILLS)


def test_too_loud_and_too_quiet_are_one_skill() -> None:
    assert skill_of(Kind.TOO_LOUD, None) == skill_of(Kind.TOO_QUIET, None) == Skill("level")


def test_squashed_and_lifted_are_one_skill() -> None:
    assert skill_of(Kind.SQUASHED, None) == skill_of(Kind.LIFTED, None) == Skill("dynamics")


def test_skill_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="false alarms"):
        skill_of(Kind.NOTHING, None)


def test_skill_of_tone_needs_its_band() -> None:
    with pytest.raises(ValueError, match="needs a band"):
        skill_of(Kind.TOO_MUCH, None)


def test_unknown_key_is_refused() -> None:
    with pytest.raises(ValueError, match="no skill has the key 'mud'"):
        skill_of_key("mud")


@pytest.mark.parametrize(
    ("miss", "credit"), [(0.0, 1.0), (1 / 3, 1.0), (-2 / 3, 0.5), (1.0, 0.0), (-3.0, 0.0)]
)
def test_credit_fades_from_a_third_to_one_octave(miss: float, credit: float) -> None:
    assert credit_for_miss(miss) == pytest.approx(credit)


@pytest.mark.parametrize(
    ("asked", "named", "miss", "outcome"),
    [
        (Kind.TOO_MUCH, Kind.TOO_MUCH, 0.3, Outcome.NAMED),
        (Kind.TOO_MUCH, Kind.TOO_MUCH, -0.5, Outcome.NEAR),
        (Kind.TOO_MUCH, Kind.TOO_MUCH, 1.2, Outcome.MISNAMED),
        (Kind.TOO_MUCH, Kind.TOO_LITTLE, 0.0, Outcome.MISNAMED),
        (Kind.TOO_LITTLE, Kind.NOTHING, None, Outcome.MISSED),
        (Kind.SQUASHED, Kind.SQUASHED, None, Outcome.NAMED),
        (Kind.TOO_LOUD, Kind.TOO_QUIET, None, Outcome.MISNAMED),
    ],
)
def test_outcome_of_an_answer(
    asked: Kind, named: Kind, miss: float | None, outcome: Outcome
) -> None:
    assert outcome_of(asked, named, miss) is outcome


def test_outcome_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="NothingAnswer"):
        outcome_of(Kind.NOTHING, Kind.TOO_MUCH)


def test_outcome_of_tone_needs_the_miss() -> None:
    with pytest.raises(ValueError, match="needs the miss"):
        outcome_of(Kind.TOO_MUCH, Kind.TOO_MUCH)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"size_db": 0.0}, "size_db must lie"),
        ({"size_db": math.nan}, "size_db must lie"),
        ({"help": 3}, "help must be"),
        ({"outcome": Outcome.NEAR}, "needs its miss_octaves"),
    ],
)
def test_observation_refuses_what_cannot_be(fields: dict[str, object], message: str) -> None:
    plain = {"day": 1, "skill": SKILLS[0], "size_db": 3.0, "outcome": Outcome.NAMED}
    with pytest.raises(ValueError, match=message):
        Observation(**{**plain, **fields})
