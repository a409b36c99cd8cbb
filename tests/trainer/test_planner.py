"""The planner's promises, over many drills with simulated answers; pace and wrap-up."""

from __future__ import annotations

import itertools
import json
import random
from collections import Counter

import pytest

from exercises.bands import BANDS, band_of
from exercises.errors import NamefirstError
from exercises.kinds import LEVEL, TONE, Kind
from trainer.ability import Ability
from trainer.observation import NothingAnswer, Observation, Outcome
from trainer.pace import USUAL_SECONDS, questions_left, seconds_a_question
from trainer.planner import (
    EASY_SUCCESS,
    LEAST_SUCCESS,
    NOTHING_SHARE,
    Ask,
    Asked,
    Limits,
    plan_next,
    read_limits,
    sizes_db,
)
from trainer.skills import SKILLS, Skill, skill_of, skill_of_key
from trainer.statistics import binomial_tail
from trainer.wrapping_up import Subject, wrap_up

LOOPS = ("quay", "mill", "ferry", "lock")
EVERYTHING = Limits()


def _anything(loop: str, kind: Kind, freq_hz: float | None) -> float | None:
    return 0.5


def _drill(
    seed: int,
    questions: int = 60,
    limits: Limits = EVERYTHING,
    ability: Ability | None = None,
    smallest=_anything,
    loops: tuple[str, ...] = LOOPS,
) -> tuple[list[Ask], list[Ability]]:
    """A drill whose answers come true as foretold; with the belief before each question."""
    ability = (ability or Ability.fresh()).on_day(1)
    luck = random.Random(seed)
    asks: list[Ask] = []
    beliefs = []
    for _ in range(questions):
        ask = plan_next(ability, [each.asked for each in asks], limits, loops, smallest, seed)
        asks.append(ask)
        beliefs.append(ability)
        if ask.kind is Kind.NOTHING:
            ability = ability.after(NothingAnswer(1, luck.random() < 0.15))
            continue
        skill = skill_of(ask.kind, ask.band_index)
        named = luck.random() < ability.named_probability(skill, ask.size_db)
        outcome = Outcome.NAMED if named else Outcome.MISSED
        ability = ability.after(Observation(1, skill, ask.size_db, outcome))
    return asks, beliefs


@pytest.fixture(scope="module")
def drills() -> list[tuple[list[Ask], list[Ability]]]:
    return [_drill(seed) for seed in range(25)]


def _problems(asks: list[Ask]) -> list[Ask]:
    return [ask for ask in asks if ask.kind is not Kind.NOTHING]


def test_the_first_two_are_easy(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    for asks, beliefs in drills:
        for ask, belief in zip(asks[:2], beliefs[:2], strict=True):
            assert ask.kind is not Kind.NOTHING
            skill = skill_of(ask.kind, ask.band_index)
            easy = belief.named_probability(skill, ask.size_db) > EASY_SUCCESS - 0.02
            assert easy or ask.size_db == sizes_db(skill)[1]


def test_success_is_foretold_at_three_quarters_or_more(
    drills: list[tuple[list[Ask], list[Ability]]],
) -> None:
    """0.02 for the planner's coarser forecast; the largest size where nothing is likely enough."""
    for asks, beliefs in drills:
        for ask, belief in zip(asks, beliefs, strict=True):
            if ask.kind is Kind.NOTHING:
                continue
            skill = skill_of(ask.kind, ask.band_index)
            likely = belief.named_probability(skill, ask.size_db) > LEAST_SUCCESS - 0.02
            assert likely or ask.size_db == sizes_db(skill)[1]


def test_sizes_are_not_much_easier_than_they_need_be(
    drills: list[tuple[list[Ask], list[Ability]]],
) -> None:
    """After the easy two, foretold success averages below 0.85 (more would cost information)."""
    foretold = [
        belief.named_probability(skill_of(ask.kind, ask.band_index), ask.size_db)
        for asks, beliefs in drills
        for ask, belief in list(zip(asks, beliefs, strict=True))[2:]
        if ask.kind is not Kind.NOTHING
    ]
    assert len(foretold) > 1200
    assert 0.75 < sum(foretold) / len(foretold) < 0.85


def test_no_band_twice_running(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    for asks, _ in drills:
        for one, other in itertools.pairwise(_problems(asks)):
            if one.band_index is None and other.band_index is None:
                assert skill_of(one.kind, None) != skill_of(other.kind, None)
            else:
                assert one.band_index != other.band_index


def test_one_in_eight_hides_nothing(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    """Exact binomial, both tails beyond 0.1 %."""
    later = [ask.kind is Kind.NOTHING for asks, _ in drills for ask in asks[2:]]
    count = sum(later)
    assert binomial_tail(count, len(later), NOTHING_SHARE) > 0.001
    assert binomial_tail(len(later) - count, len(later), 1.0 - NOTHING_SHARE) > 0.001


@pytest.mark.parametrize("lag", [1, 2, 7, 8, 9])
def test_nothing_gives_no_hint_of_the_next_nothing(
    drills: list[tuple[list[Ask], list[Ability]]], lag: int
) -> None:
    """Share of "nothing" so many questions after a "nothing": exact binomial, both tails."""
    after = [
        asks[place + lag].kind is Kind.NOTHING
        for asks, _ in drills
        for place in range(2, len(asks) - lag)
        if asks[place].kind is Kind.NOTHING
    ]
    assert len(after) > 100
    assert binomial_tail(sum(after), len(after), NOTHING_SHARE) > 0.001
    assert binomial_tail(len(after) - sum(after), len(after), 1.0 - NOTHING_SHARE) > 0.001


def test_every_skill_comes_round(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    counts = Counter(
        skill_of(ask.kind, ask.band_index) for asks, _ in drills for ask in _problems(asks)
    )
    assert set(counts) == set(SKILLS)
    assert min(counts.values()) > 0.4 * max(counts[skill] for skill in SKILLS[:20])


def test_too_loud_and_too_quiet_come_alike(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    counts = Counter(ask.kind for asks, _ in drills for ask in asks if ask.kind in LEVEL)
    total = sum(counts.values())
    assert binomial_tail(max(counts.values()), total) > 0.001


def test_weak_and_uncertain_skills_are_asked_more() -> None:
    """A learner who names all at 1.5 dB but hears nothing at 8 kHz under 12 dB."""
    ability = Ability.fresh()
    weak = skill_of_key("too much:8k")
    for number in range(440):
        skill = SKILLS[number % 22]
        size_db, outcome = (9.0, Outcome.MISSED) if skill is weak else (1.5, Outcome.NAMED)
        ability = ability.after(Observation(1, skill, size_db, outcome))
    counts = Counter(
        skill_of(ask.kind, ask.band_index)
        for seed in range(20)
        for ask in _problems(_drill(seed, 40, ability=ability)[0][2:])
    )
    others = [counts[skill] for skill in SKILLS[:20] if skill is not weak]
    assert counts[weak] > 1.5 * max(others)
    assert min(others) > 0


def test_frequencies_lie_in_their_band_and_fill_it(
    drills: list[tuple[list[Ask], list[Ability]]],
) -> None:
    tones = [ask for asks, _ in drills for ask in asks if ask.kind in TONE]
    places = []
    for ask in tones:
        assert ask.freq_hz is not None
        band = BANDS[ask.band_index or 0]
        assert band_of(ask.freq_hz) is band
        assert 25.0 <= ask.freq_hz <= 17_500.0
        places.append(ask.freq_hz / band.mid_hz)
    for low, high in ((0.70, 0.84), (0.84, 1.0), (1.0, 1.19), (1.19, 1.42)):
        assert sum(low <= place < high for place in places) > 0.15 * len(places)


def test_other_kinds_have_no_frequency(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    for asks, _ in drills:
        for ask in asks:
            assert (ask.freq_hz is None) == (ask.band_index is None) == (ask.kind not in TONE)
            assert (ask.size_db == 0.0) == (ask.kind is Kind.NOTHING)
            assert 0 <= ask.seed < 2**31


def test_loops_take_turns(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    for asks, _ in drills:
        counts = Counter(ask.loop for ask in asks)
        assert max(counts.values()) - min(counts.values()) <= 2
        assert all(one.loop != other.loop for one, other in itertools.pairwise(asks))


@pytest.mark.parametrize("skill", SKILLS, ids=lambda skill: skill.key)
def test_sizes_stay_within_what_is_asked(
    drills: list[tuple[list[Ask], list[Ability]]], skill: Skill
) -> None:
    least, largest = {"dynamics": (1.0, 12.0), "level": (0.5, 6.0)}.get(skill.problem, (1.0, 12.0))
    sizes = [
        ask.size_db
        for asks, _ in drills
        for ask in _problems(asks)
        if skill_of(ask.kind, ask.band_index) == skill
    ]
    assert sizes
    assert least <= min(sizes) <= max(sizes) <= largest


@pytest.mark.parametrize("seed", range(6))
def test_nothing_inaudible_is_asked(seed: int) -> None:
    """Loops that carry little: what can be heard on none of them is not asked at all."""

    def smallest(loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        if freq_hz is not None and freq_hz < 90.0:
            return None
        return {"quay": 7.25, "mill": 9.5, "ferry": None, "lock": 5.1}[loop]

    asks = _problems(_drill(seed, 40, smallest=smallest)[0])
    for ask in asks:
        carried = smallest(ask.loop, ask.kind, ask.freq_hz)
        assert carried is not None
        assert ask.size_db >= carried
    assert "ferry" not in {ask.loop for ask in asks}
    assert {ask.band_index for ask in asks if ask.kind in TONE} <= set(range(2, 10))


def test_a_loop_that_can_carry_the_wanted_size_is_taken_before_its_turn() -> None:
    def smallest(loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        return 1.0 if loop == "lock" else 11.5

    asks = _problems(_drill(3, 30, smallest=smallest)[0][2:])
    level = [ask for ask in asks if ask.kind in LEVEL]
    assert all(ask.loop == "lock" for ask in level)
    assert sum(ask.loop == "lock" for ask in asks) > 0.9 * len(asks)


def test_nothing_to_carry_any_problem_is_said() -> None:
    with pytest.raises(NamefirstError, match="none of these loops can carry"):
        plan_next(Ability.fresh(), [], EVERYTHING, LOOPS, lambda loop, kind, freq_hz: None, 1)


def test_no_loop_at_all_is_said() -> None:
    with pytest.raises(NamefirstError, match="no loop to ask on"):
        plan_next(Ability.fresh(), [], Limits(loops=("barn",)), LOOPS, _anything, 1)


@pytest.mark.parametrize(
    ("limits", "skills"),
    [
        (Limits(bands=(3,)), {"too much:250", "too little:250"}),
        (Limits(kinds=(Kind.SQUASHED,)), {"dynamics"}),
        (Limits(kinds=(Kind.TOO_MUCH,), bands=(3, 4)), {"too much:250", "too much:500"}),
        (Limits(kinds=(Kind.TOO_QUIET, Kind.SQUASHED)), {"level", "dynamics"}),
    ],
    ids=["bands", "kinds", "both", "half of level"],
)
def test_limits_narrow_a_drill(limits: Limits, skills: set[str]) -> None:
    asks = [ask for seed in range(4) for ask in _drill(seed, 25, limits)[0]]
    assert {skill_of(ask.kind, ask.band_index).key for ask in _problems(asks)} == skills
    assert any(ask.kind is Kind.NOTHING for ask in asks)
    if limits.kinds is not None:
        assert {ask.kind for ask in _problems(asks)} <= set(limits.kinds)


def test_loops_can_be_narrowed() -> None:
    asks, _ = _drill(1, 20, Limits(loops=("mill", "lock")))
    assert {ask.loop for ask in asks} == {"mill", "lock"}


def test_one_loop_is_enough() -> None:
    asks, _ = _drill(1, 20, loops=("mill",))
    assert {ask.loop for ask in asks} == {"mill"}


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"minutes": 0.0}, "--minutes 0"),
        ({"minutes": float("nan")}, "--minutes nan"),
        ({"minutes": 999.0}, "--minutes 999"),
        ({"kinds": (Kind.NOTHING,)}, "leave nothing to ask"),
        ({"bands": ()}, "leave nothing to ask"),
        ({"bands": (12,)}, "leave nothing to ask"),
    ],
)
def test_limits_that_leave_nothing_are_refused(fields: dict[str, object], message: str) -> None:
    with pytest.raises(NamefirstError, match=message):
        Limits(**fields)


@pytest.mark.parametrize(
    "limits",
    [
        EVERYTHING,
        Limits(bands=(1, 9), kinds=(Kind.TOO_MUCH,), loops=("mill",), minutes=7.5),
    ],
)
def test_limits_round_trip_as_json(limits: Limits) -> None:
    assert read_limits(json.loads(json.dumps(limits.to_dict()))) == limits


def test_the_same_arguments_give_the_same_drill() -> None:
    """And an interrupted drill goes on as it would have: only what was asked decides."""
    asks, beliefs = _drill(5, 30)
    assert _drill(5, 30)[0] == asks
    resumed = plan_next(
        beliefs[17], [ask.asked for ask in asks[:17]], EVERYTHING, LOOPS, _anything, 5
    )
    assert resumed == asks[17]


def test_another_seed_gives_another_drill() -> None:
    assert _drill(5, 10)[0] != _drill(6, 10)[0]


def test_without_a_sizes_are_larger() -> None:
    def largest_of(help: int) -> float:
        sizes = []
        for seed in range(30):
            asked = [Asked(Kind.SQUASHED, None, "mill")] * 2
            ask = plan_next(Ability.fresh(), asked, EVERYTHING, LOOPS, _anything, seed, help=help)
            sizes.append(ask.size_db)
        return sum(sizes)

    assert largest_of(2) > 1.2 * largest_of(0)


# Pace


@pytest.mark.parametrize(
    ("latest", "seconds"),
    [
        ([], USUAL_SECONDS),
        ([40.0, 2.0], USUAL_SECONDS),
        ([12.0, 14.0, 600.0], 14.0),
        ([50.0] * 30 + [8.0] * 20, 8.0),
        ([0.1, 0.1, 0.1], 3.0),
        ([500.0] * 5, 90.0),
    ],
)
def test_pace_is_the_median_of_the_latest(latest: list[float], seconds: float) -> None:
    assert seconds_a_question(latest) == seconds


@pytest.mark.parametrize(
    ("seconds_left", "left"), [(0.0, 0), (4.9, 0), (5.1, 1), (600.0, 60), (-30.0, 0)]
)
def test_a_question_that_runs_over_by_less_than_half_still_fits(
    seconds_left: float, left: int
) -> None:
    assert questions_left(seconds_left, []) == left


# Wrap-up


def _after(*answers: Observation | NothingAnswer) -> Ability:
    ability = Ability.fresh()
    for answer in answers:
        ability = ability.after(answer)
    return ability


def test_wrap_up_says_when_there_is_not_enough() -> None:
    said = wrap_up(Ability.fresh(), _after(Observation(1, SKILLS[0], 3.0, Outcome.NAMED)))
    assert said.subject is Subject.NOT_ENOUGH
    assert said.sentence.startswith("Not enough yet")


def test_wrap_up_names_the_weakest_skill_of_today() -> None:
    good = [Observation(1, skill_of_key("too much:1k"), 2.0, Outcome.NAMED)] * 10
    poor = [Observation(1, skill_of_key("too little:4k"), 6.0, Outcome.MISSED)] * 10
    said = wrap_up(Ability.fresh(), _after(*good, *poor))
    assert said.subject is Subject.WEAKEST
    assert said.skill == skill_of_key("too little:4k")
    assert said.finest is not None
    assert said.sentence.startswith("Work on too little near 3.98 kHz (distant)")


def test_wrap_up_keeps_to_what_was_practised_today() -> None:
    poor = [Observation(1, skill_of_key("too little:4k"), 6.0, Outcome.MISSED)] * 10
    before = _after(*poor)
    now = before
    for _ in range(10):
        now = now.after(Observation(2, skill_of_key("too much:1k"), 2.0, Outcome.NAMED))
    assert wrap_up(before, now).skill == skill_of_key("too much:1k")


def test_wrap_up_puts_false_alarms_first() -> None:
    answers = [NothingAnswer(1, number % 4 > 0) for number in range(16)]
    said = wrap_up(Ability.fresh(), _after(*answers))
    assert said.subject is Subject.FALSE_ALARMS
    assert said.sentence.startswith("You named a problem in 12 of 16 questions that hid none")


def test_wrap_up_does_not_blame_a_false_alarm_or_two() -> None:
    answers = [NothingAnswer(1, number < 2) for number in range(10)]
    assert wrap_up(Ability.fresh(), _after(*answers)).subject is Subject.NOT_ENOUGH


@pytest.mark.parametrize(("miss", "side", "heard"), [(0.7, "high", "4"), (-0.7, "low", "1")])
def test_wrap_up_says_what_is_named_for_what(miss: float, side: str, heard: str) -> None:
    """ "You name 400 for 250." """
    errors = [miss + 0.05 * (-1) ** number for number in range(24)]
    said = wrap_up(
        Ability.fresh(),
        _after(
            *(
                Observation(1, skill_of_key("too much:250"), 6.0, Outcome.NEAR, miss_octaves=error)
                for error in errors
            )
        ),
    )
    assert said.subject is Subject.BIAS
    assert said.band_index == 3
    assert said.naming is not None
    assert f"octave too {side}: about {heard}" in said.sentence
    assert "for 251 Hz" in said.sentence
