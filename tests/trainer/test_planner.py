"""The planner's promises, over many drills with simulated answers; and wrap-up."""

from __future__ import annotations

import itertools
import json
import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pytest

from exercises.bands import BANDS, band_of
from exercises.errors import NamefirstError
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind, Shape
from exercises.problems import Problem
from exercises.question import Place
from trainer.ability import Ability
from trainer.ladder import STEPS, Step
from trainer.limits import Limits
from trainer.observation import NothingAnswer, Observation, Outcome
from trainer.planner import NOTHING_SHARE, Ask, Parts, plan_next
from trainer.sizing import EASY_SUCCESS, LEAST_SUCCESS, sizes_db
from trainer.skills import SKILLS, Skill, skill_of_key
from trainer.statistics import binomial_tail
from trainer.wanted import Asked, problem_skill
from trainer.wrapping_up import Subject, wrap_up

LOOPS = ("quay", "mill", "ferry", "lock")
EVERYTHING = Limits()


@dataclass(frozen=True)
class Heard:
    """What can be heard: ``smallest(loop, problem)``, the same at every place; every loop has
    ``tracks`` and ``passages``."""

    smallest: Callable[[str, Problem], float | None] = lambda loop, problem: 0.5
    tracks: tuple[str, ...] = ("drums", "bass", "guitar")
    passages: tuple[str, ...] = ("damped strokes", "open chords")

    def parts(self, loop: str) -> Parts:
        return Parts(self.tracks, self.passages)

    def smallest_db(
        self, loop: str, place: Place, problems: Sequence[Problem], given: Sequence[Problem] = ()
    ) -> list[float | None]:
        assert place.track in (None, *self.tracks)
        assert place.passage in (None, *self.passages)
        return [self.smallest(loop, problem) for problem in problems]


ANYTHING = Heard()


def _drill(
    seed: int,
    questions: int = 60,
    limits: Limits = EVERYTHING,
    ability: Ability | None = None,
    heard: Heard = ANYTHING,
    loops: tuple[str, ...] = LOOPS,
    step: int = 1,
) -> tuple[list[Ask], list[Ability]]:
    """A drill whose answers come true as foretold; with the belief before each question."""
    ability = (ability or Ability.fresh()).on_day(1)
    luck = random.Random(seed)
    asks: list[Ask] = []
    beliefs = []
    for _ in range(questions):
        ask = plan_next(ability, [each.asked for each in asks], limits, loops, heard, seed, step)
        asks.append(ask)
        beliefs.append(ability)
        if ask.problem.kind is Kind.NOTHING:
            ability = ability.after(NothingAnswer(1, luck.random() < 0.15))
            continue
        for problem in ask.problems:
            ability = ability.after(_answer(ability, problem, ask.step, luck))
    return asks, beliefs


def _answer(ability: Ability, problem: Problem, step: Step, luck: random.Random) -> Observation:
    """An answer that comes true as foretold."""
    skill, help_ = problem_skill(problem), int(step.help)
    foretold = ability.named_probability(skill, problem.size_db, help=help_, placed=step.placed)
    outcome = Outcome.NAMED if luck.random() < foretold else Outcome.MISSED
    return Observation(1, skill, problem.size_db, outcome, help=help_, placed=step.placed)


@pytest.fixture(scope="module")
def drills() -> list[tuple[list[Ask], list[Ability]]]:
    return [_drill(seed) for seed in range(25)]


def _problems(asks: list[Ask]) -> list[Ask]:
    return [ask for ask in asks if ask.problem.kind is not Kind.NOTHING]


def test_the_first_two_are_easy(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    for asks, beliefs in drills:
        for ask, belief in zip(asks[:2], beliefs[:2], strict=True):
            assert ask.problem.kind is not Kind.NOTHING
            skill = problem_skill(ask.problem)
            easy = belief.named_probability(skill, ask.problem.size_db) > EASY_SUCCESS - 0.02
            assert easy or ask.problem.size_db == sizes_db(skill)[1]


def test_success_is_foretold_at_three_quarters_or_more(
    drills: list[tuple[list[Ask], list[Ability]]],
) -> None:
    """0.02 for the planner's coarser forecast; the largest size where nothing is likely enough."""
    for asks, beliefs in drills:
        for ask, belief in zip(asks, beliefs, strict=True):
            if ask.problem.kind is Kind.NOTHING:
                continue
            skill = problem_skill(ask.problem)
            likely = belief.named_probability(skill, ask.problem.size_db) > LEAST_SUCCESS - 0.02
            assert likely or ask.problem.size_db == sizes_db(skill)[1]


def test_sizes_are_not_much_easier_than_they_need_be(
    drills: list[tuple[list[Ask], list[Ability]]],
) -> None:
    """After the easy two, foretold success averages below 0.85 (more would cost information)."""
    foretold = [
        belief.named_probability(problem_skill(ask.problem), ask.problem.size_db)
        for asks, beliefs in drills
        for ask, belief in list(zip(asks, beliefs, strict=True))[2:]
        if ask.problem.kind is not Kind.NOTHING
    ]
    assert len(foretold) > 1200
    assert 0.75 < sum(foretold) / len(foretold) < 0.85


def test_no_band_twice_running(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    for asks, _ in drills:
        for one, other in itertools.pairwise(_problems(asks)):
            if one.asked.band_index is None and other.asked.band_index is None:
                assert problem_skill(one.problem) != problem_skill(other.problem)
            else:
                assert one.asked.band_index != other.asked.band_index


def test_one_in_eight_hides_nothing(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    """Exact binomial, both tails beyond 0.1 %."""
    later = [ask.problem.kind is Kind.NOTHING for asks, _ in drills for ask in asks[2:]]
    count = sum(later)
    assert binomial_tail(count, len(later), NOTHING_SHARE) > 0.001
    assert binomial_tail(len(later) - count, len(later), 1.0 - NOTHING_SHARE) > 0.001


@pytest.mark.parametrize("lag", [1, 2, 7, 8, 9])
def test_nothing_gives_no_hint_of_the_next_nothing(
    drills: list[tuple[list[Ask], list[Ability]]], lag: int
) -> None:
    """Share of "nothing" so many questions after a "nothing": exact binomial, both tails."""
    after = [
        asks[place + lag].problem.kind is Kind.NOTHING
        for asks, _ in drills
        for place in range(2, len(asks) - lag)
        if asks[place].problem.kind is Kind.NOTHING
    ]
    assert len(after) > 100
    assert binomial_tail(sum(after), len(after), NOTHING_SHARE) > 0.001
    assert binomial_tail(len(after) - sum(after), len(after), 1.0 - NOTHING_SHARE) > 0.001


def test_every_skill_comes_round(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    counts = Counter(problem_skill(ask.problem) for asks, _ in drills for ask in _problems(asks))
    assert set(counts) == set(SKILLS)
    assert min(counts.values()) > 0.4 * max(counts[skill] for skill in SKILLS[:20])


def test_too_loud_and_too_quiet_come_alike(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    counts = Counter(
        ask.problem.kind for asks, _ in drills for ask in asks if ask.problem.kind in LEVEL
    )
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
        problem_skill(ask.problem)
        for seed in range(20)
        for ask in _problems(_drill(seed, 40, ability=ability)[0][2:])
    )
    others = [counts[skill] for skill in SKILLS[:20] if skill is not weak]
    assert counts[weak] > 1.5 * max(others)
    assert min(others) > 0


def test_frequencies_lie_in_their_band_and_fill_it(
    drills: list[tuple[list[Ask], list[Ability]]],
) -> None:
    tones = [ask for asks, _ in drills for ask in asks if ask.problem.kind in TONE]
    places = []
    for ask in tones:
        assert ask.problem.freq_hz is not None
        band = BANDS[ask.asked.band_index or 0]
        assert band_of(ask.problem.freq_hz) is band
        assert 25.0 <= ask.problem.freq_hz <= 17_500.0
        places.append(ask.problem.freq_hz / band.mid_hz)
    for low, high in ((0.70, 0.84), (0.84, 1.0), (1.0, 1.19), (1.19, 1.42)):
        assert sum(low <= place < high for place in places) > 0.15 * len(places)


def test_other_kinds_have_no_frequency(drills: list[tuple[list[Ask], list[Ability]]]) -> None:
    for asks, _ in drills:
        for ask in asks:
            bandless = ask.problem.kind not in TONE
            assert (ask.problem.freq_hz is None) == (ask.asked.band_index is None) == bandless
            assert (ask.problem.size_db == 0.0) == (ask.problem.kind is Kind.NOTHING)
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
        ask.problem.size_db
        for asks, _ in drills
        for ask in _problems(asks)
        if problem_skill(ask.problem) == skill
    ]
    assert sizes
    assert least <= min(sizes) <= max(sizes) <= largest


@pytest.mark.parametrize("step", range(1, 8))
def test_nothing_inaudible_is_asked(step: int) -> None:
    """Loops that carry little: what can be heard on none of them is not asked at all."""

    def smallest(loop: str, problem: Problem) -> float | None:
        if problem.freq_hz is not None and problem.freq_hz < 90.0:
            return None
        return {"quay": 4.25, "mill": 9.5, "ferry": None, "lock": 5.1}[loop]

    asks = _problems(_drill(step, 40, heard=Heard(smallest), step=step)[0])
    for ask in asks:
        for problem in ask.problems:
            carried = smallest(ask.loop, problem)
            assert carried is not None
            assert problem.size_db >= carried
            assert problem.freq_hz is None or problem.freq_hz >= 90.0
    assert {ask.loop for ask in asks} >= {"quay", "mill", "lock"}
    assert "ferry" not in {ask.loop for ask in asks}


def test_a_loop_is_passed_over_only_where_it_cannot_carry_the_kind() -> None:
    """So that the loop that is heard says nothing of the kind: what it can carry in some band
    only is asked in that band."""

    def smallest(loop: str, problem: Problem) -> float | None:
        if loop == "lock":
            return 1.0
        return 6.5 if problem.freq_hz is not None and problem.freq_hz > 1400.0 else None

    asks = _problems(_drill(3, 60, heard=Heard(smallest))[0][2:])
    tones = [ask for ask in asks if ask.problem.kind in TONE]
    elsewhere = [ask for ask in tones if ask.loop != "lock"]
    assert len(elsewhere) > 0.6 * len(tones)
    assert all((ask.problem.freq_hz or 0.0) > 1400.0 for ask in elsewhere)
    assert {ask.loop for ask in asks if ask.problem.kind not in TONE} == {"lock"}


def test_nothing_to_carry_any_problem_is_said() -> None:
    with pytest.raises(NamefirstError, match="none of these loops can carry"):
        plan_next(Ability.fresh(), [], EVERYTHING, LOOPS, Heard(lambda loop, problem: None), 1)


def test_no_loop_at_all_is_said() -> None:
    with pytest.raises(NamefirstError, match="no loop to ask on"):
        plan_next(Ability.fresh(), [], Limits(loops=("barn",)), LOOPS, ANYTHING, 1)


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
    assert {problem_skill(ask.problem).key for ask in _problems(asks)} == skills
    assert any(ask.problem.kind is Kind.NOTHING for ask in asks)
    if limits.kinds is not None:
        assert {ask.problem.kind for ask in _problems(asks)} <= set(limits.kinds)


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
        ({"step": 0}, "--step 0: give a step from 1 to 7"),
        ({"step": 8}, "--step 8"),
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
        Limits(bands=(1, 9), kinds=(Kind.TOO_MUCH,), loops=("mill",), minutes=7.5, step=4),
    ],
)
def test_limits_are_the_same_after_they_were_kept(limits: Limits) -> None:
    """By which a drill that was left is known again."""
    assert json.loads(json.dumps(limits.to_dict())) == limits.to_dict()


def test_the_same_arguments_give_the_same_drill() -> None:
    """And an interrupted drill goes on as it would have: only what was asked decides."""
    asks, beliefs = _drill(5, 30)
    assert _drill(5, 30)[0] == asks
    resumed = plan_next(
        beliefs[17], [ask.asked for ask in asks[:17]], EVERYTHING, LOOPS, ANYTHING, 5
    )
    assert resumed == asks[17]


def test_another_seed_gives_another_drill() -> None:
    assert _drill(5, 10)[0] != _drill(6, 10)[0]


@pytest.mark.parametrize(("less", "more"), [(1, 3), (3, 6)], ids=["the place", "no A"])
def test_what_is_harder_is_asked_at_larger_sizes(less: int, more: int) -> None:
    """A fresh learner expects to need 2^0.3 times the size where the place is to be named, and
    2^0.6 times without A."""

    def mean_size(step: int) -> float:
        asked = [Asked(Kind.SQUASHED, None, "mill")] * 2
        limits = Limits(kinds=(Kind.TOO_MUCH,), step=step)
        asks = [
            plan_next(Ability.fresh(), asked, limits, LOOPS, ANYTHING, seed) for seed in range(60)
        ]
        sizes = [ask.problem.size_db for ask in asks if ask.problems]
        return sum(sizes) / len(sizes)

    assert mean_size(more) > 1.15 * mean_size(less)


# Steps of the ladder


@pytest.fixture(scope="module", params=range(1, 8))
def on_step(request: pytest.FixtureRequest) -> tuple[int, list[Ask]]:
    """Drills on one step of the ladder."""
    step = int(request.param)
    return step, [ask for seed in range(12) for ask in _drill(seed, 40, step=step)[0]]


def test_three_in_four_are_of_the_present_step(on_step: tuple[int, list[Ask]]) -> None:
    """The easy ones come from the step below; at the last step half do. Exact binomial, 0.1 %."""
    step, asks = on_step
    later = [ask for place, ask in enumerate(asks) if place % 40 >= 2]
    assert {ask.step.number for ask in asks} == {max(1, step - 1), step}
    assert all(asks[place].step.number == max(1, step - 1) for place in range(0, len(asks), 40))
    if step == 1:
        return
    share = 0.5 if step == 7 else 0.75
    now = sum(ask.step.number == step for ask in later)
    assert binomial_tail(now, len(later), share) > 0.001
    assert binomial_tail(len(later) - now, len(later), 1.0 - share) > 0.001


def test_what_is_asked_is_what_the_step_is_about(on_step: tuple[int, list[Ask]]) -> None:
    step, asks = on_step
    for ask in asks:
        assert len(ask.problems) == 0 or (len(ask.problems) == 2) is ask.step.two
        assert ask.place.track is None or ask.step.ask_track
        assert ask.place.passage is None or ask.step.ask_passage
        for problem in ask.problems:
            assert problem.kind in ask.step.kinds
            assert problem.shape in ask.step.shapes
            assert problem.style in ask.step.styles
            assert (problem.q in ask.step.qs) is (
                problem.kind in TONE and problem.shape is Shape.PEAK
            )
    on = [ask for ask in asks if ask.step.number == step]
    problems = [problem for ask in on for problem in ask.problems]
    assert {problem.kind for problem in problems} == set(STEPS[step - 1].kinds)
    assert {problem.shape for problem in problems} == set(STEPS[step - 1].shapes)
    assert {problem.style for problem in problems} == set(STEPS[step - 1].styles)
    places = {ask.place for ask in on if ask.problems}
    tracks, passages = ({place.track for place in places}, {place.passage for place in places})
    whole: set[str | None] = {None}
    assert tracks == (whole | set(ANYTHING.tracks) if STEPS[step - 1].ask_track else whole)
    expected = whole | set(ANYTHING.passages) if STEPS[step - 1].ask_passage else whole
    assert passages == (expected - whole if step == 4 else expected)


def test_no_two_problems_that_cannot_be_told_apart() -> None:
    asks = [ask for seed in range(10) for ask in _drill(seed, 30, Limits(step=7))[0]]
    assert len(asks) == 300
    for ask in asks:
        one, other = ask.problems
        for family in (TONE, DYNAMICS, LEVEL):
            if one.kind in family and other.kind in family:
                assert one.freq_hz is not None
                assert other.freq_hz is not None
                assert max(one.freq_hz / other.freq_hz, other.freq_hz / one.freq_hz) >= 2.0


def test_level_tone_and_dynamics_come_alike_where_they_are_to_be_told_apart() -> None:
    """Exact binomial, 0.1 % either way."""
    asks = [ask for seed in range(10) for ask in _drill(seed, 40, Limits(step=4))[0]]
    problems = [ask.problem.kind for ask in _problems(asks)]
    counts = Counter(problems)
    assert len(counts) == 3
    for count in counts.values():
        assert binomial_tail(count, len(problems), 1 / 3) > 0.001
        assert binomial_tail(len(problems) - count, len(problems), 2 / 3) > 0.001


@pytest.mark.parametrize(
    ("heard", "step", "asked"),
    [
        (Heard(tracks=("file",)), 2, 1),
        (Heard(passages=("the loop",)), 3, 2),
        (Heard(tracks=("file",), passages=("the loop",)), 4, 1),
        (Heard(tracks=("file",), passages=("the loop",)), 6, 6),
    ],
    ids=["one track", "one passage", "neither", "neither, no A"],
)
def test_without_the_parts_of_a_step_the_one_below_is_asked(
    heard: Heard, step: int, asked: int
) -> None:
    """But what A may be heard is asked of any loop."""
    asks = _drill(1, 30, heard=heard, step=step)[0]
    assert max(ask.step.number for ask in asks) == asked


def test_a_step_that_no_loop_can_carry_is_refused_where_it_was_asked_for() -> None:
    heard = Heard(tracks=("file",))
    with pytest.raises(NamefirstError, match="widen --step"):
        plan_next(Ability.fresh(), [], Limits(step=2), LOOPS, heard, 1)


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
