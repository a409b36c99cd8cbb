"""The scorer against listeners whose finest sizes are known, exact grids and questplus.

Tight figures need hundreds of listeners: tests/bench/scorer.py prints them. What is asserted here
holds with few, and fails for a scorer that forgets wrongly or fixes its slope (such intervals
were seen to cover 58 to 77 %).
"""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace

import numpy as np
import pytest

from tests.questplus_track import LOG10_TWO, QuestplusTrack
from tests.simulated_drill import Reading, live, placed_size_db, read, rounds
from tests.simulated_listener import (
    BANDS,
    Listener,
    eight_way_namer,
    error_bound,
    random_guesser,
    staircase,
    staircase_estimate,
    ten_way_namer,
)
from trainer.ability import ENOUGH_ANSWERS, Ability
from trainer.answer_model import MODEL
from trainer.mastery import LEAST_ANSWERS, mastered, may_be_mastered
from trainer.naming_spread import BIAS_SD
from trainer.observation import NothingAnswer, Observation, Outcome
from trainer.skills import SKILLS, Skill, skill_of_key

MUD = skill_of_key("too much:250")
STORIES = ("steady", "improving", "back")


def _named(size_db: float, outcome: Outcome = Outcome.NAMED, day: int = 1) -> Observation:
    return Observation(day, MUD, size_db, outcome)


def _rmse(errors: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(errors))))


# Recovery of known listeners


@pytest.mark.parametrize(
    ("make", "sd", "correlation", "of_the_bound"),
    [
        (ten_way_namer, math.hypot(0.6, 0.5), 0.36 / 0.61, 1.25),
        (lambda seed: eight_way_namer(seed, "nested"), 0.75, 0.6, 1.4),
        (lambda seed: eight_way_namer(seed, "product"), 0.75, 0.6, 1.55),
    ],
    ids=["ten-way", "may say nothing", "another formula than ours"],
)
def test_finest_sizes_are_recovered(
    make, sd: float, correlation: float, of_the_bound: float
) -> None:
    """Sixteen answers a band, 25 listeners: not far from the least error that could be had were
    slope, lapse and lead known, below 0.85 of a staircase's, and held by 82 to 98 % of the 90 %
    intervals (250 of them, ten of one listener hanging together)."""
    errors, track, bounds, covered = [], [], [], []
    for seed in range(25):
        who = make(seed)
        (reading,) = rounds(who, seed, (16,))
        errors.extend(reading.errors)
        covered.extend(reading.covered)
        bounds.append(error_bound(who, sd, correlation, 16))
        for band in range(10):
            levels = staircase(who, band, 16)
            track.append(staircase_estimate(who, levels) - who.true_log2_finest(band))
    assert _rmse(errors) < of_the_bound * math.sqrt(np.mean(bounds))
    assert _rmse(errors) < 0.85 * _rmse(track)
    assert 0.82 < np.mean(covered) < 0.98


@pytest.fixture(scope="module")
def told() -> dict[str, list[list[Reading]]]:
    """Six listeners' weeks for each story, thirty answers a day."""
    return {
        story: [list(live(_wavering(300 + seed), story, seed, 30)) for seed in range(6)]
        for story in STORIES
    }


def _wavering(seed: int) -> Listener:
    who = eight_way_namer(seed, "nested")
    who.good_day = 0.1
    return who


@pytest.mark.parametrize("story", STORIES)
def test_intervals_hold_the_truth_through_the_weeks(
    told: dict[str, list[list[Reading]]], story: str
) -> None:
    covered = [reading.covered for readings in told[story] for reading in readings]
    assert 0.83 < np.mean(covered) < 0.985


def test_intervals_hold_the_truth_after_three_weeks_away(
    told: dict[str, list[list[Reading]]],
) -> None:
    covered = [r.covered for readings in told["back"] for r in readings if r.day > 40]
    assert len(covered) == 6 * 5
    assert 0.80 < np.mean(covered) < 0.99


def test_evidence_chooses_the_speed_of_forgetting(told: dict[str, list[list[Reading]]]) -> None:
    """Slow for listeners who stay, faster for listeners who improve."""
    slow = {
        story: np.mean([readings[-1].ability.walk_weights()[0] for readings in told[story]])
        for story in ("steady", "improving")
    }
    assert slow["steady"] > 0.8
    assert slow["improving"] < 0.5


def test_steady_listeners_are_known_better_and_better(
    told: dict[str, list[list[Reading]]],
) -> None:
    by_day = {
        day: _rmse([e for readings in told["steady"] for e in readings[day - 1].errors])
        for day in (1, 10, 42)
    }
    assert by_day[42] < 0.9 * by_day[10]
    assert by_day[10] < 0.75 * by_day[1]


def test_a_guesser_is_not_credited_with_any_size() -> None:
    """A finest size that does not exist lies beyond all that is asked: so must the intervals."""
    for seed in range(4):
        who = random_guesser(seed)
        (reading,) = rounds(who, seed, (12,))
        for skill in BANDS:
            assert reading.ability.finest(skill).high_db > 12.0
            assert not may_be_mastered(reading.ability, skill, 12.0)


# Against exact computation and another library


def test_questplus_agrees_on_the_same_answers() -> None:
    """One band, 40 answers placed by questplus: means within 0.08 log2 dB on average and 0.2 at
    most; posteriors as wide within 20 %. (Its slope and lapse priors are coarser than ours.)"""
    gaps = []
    for seed in range(4):
        who = Listener(
            np.random.RandomState(seed), np.full(10, 1.2 + 0.5 * seed), "forced", chance=0.125
        )
        quest = QuestplusTrack(who.chance, 2.0, MODEL.finest_sd)
        model = replace(MODEL, today_sd=1e-3)
        ability = Ability.fresh(model)
        for _ in range(40):
            size = quest.next_log10()
            answer = who.answer(1, 0, 2.0 ** (size / LOG10_TWO))
            quest.learn(size, answer.outcome is Outcome.NAMED)
            ability = ability.after(answer)
        mean, sd = ability.log2_finest()
        gaps.append(abs(mean[0] - quest.log2_finest()))
        assert sd[0] == pytest.approx(quest.log2_finest_sd(), rel=0.2)
    assert max(gaps) < 0.2
    assert np.mean(gaps) < 0.08


def _exact(answers: list[Observation], false_alarm: float, chance: float) -> tuple[float, float]:
    """Posterior mean and sd of one skill on a plain grid over all four unknowns."""
    z = np.linspace(-3.5, 3.5, 15)
    theta, slope, lead, lapse = np.meshgrid(np.linspace(-4, 4, 121), z, z[::2], z[::2])
    log_weight = -0.5 * (theta**2 + slope**2 + lead**2 + lapse**2)
    finest = MODEL.finest_mean + MODEL.finest_sd * theta
    steep = np.exp(MODEL.slope_mean + MODEL.slope_sd * slope)
    ahead = 2.0 ** (MODEL.lead_median * np.exp(MODEL.lead_sd * lead) * steep)
    asleep = 1.0 / (1.0 + np.exp(-(MODEL.lapse_mean + MODEL.lapse_sd * lapse)))
    for answer in answers:
        strength = (answer.size_db / 2.0**finest) ** steep
        found, heard = 1.0 - np.exp(-strength), 1.0 - np.exp(-strength * ahead)
        named = found + chance * (heard - found + false_alarm * (1.0 - heard))
        named = (1.0 - asleep) * named + 0.5 * asleep * chance
        missed = (1.0 - asleep) * (1.0 - heard) * (1.0 - false_alarm) + 0.5 * asleep
        log_weight = log_weight + np.log(
            {
                Outcome.NAMED: named,
                Outcome.MISSED: missed,
                Outcome.MISNAMED: 1.0 - named - missed,
            }[answer.outcome]
        )
    weight = np.exp(log_weight - log_weight.max())
    mean = float((weight * finest).sum() / weight.sum())
    return mean, math.sqrt(float((weight * (finest - mean) ** 2).sum() / weight.sum()))


def test_filter_stays_near_the_exact_posterior() -> None:
    """One skill, 16 answers, 12 listeners. A normal belief cannot be the exact one: its mean is
    off by less than a fifth of a standard deviation (rms), its width by less than 12 % on
    average."""
    model = replace(MODEL, today_sd=1e-3, surprise=0.0)
    gaps, widths = [], []
    for seed in range(12):
        who = eight_way_namer(seed, "nested")
        ability, answers = Ability.fresh(model), []
        for _ in range(16):
            answers.append(who.answer(1, 0, placed_size_db(ability, 0, who, 0.75)))
            ability = ability.after(answers[-1])
        mean, sd = _exact(answers, ability.false_alarm_rate, who.chance)
        ours_mean, ours_sd = ability.log2_finest()
        gaps.append((ours_mean[0] - mean) / sd)
        widths.append(math.log(ours_sd[0] / sd))
    assert _rmse(gaps) < 0.2
    assert abs(np.mean(widths)) < 0.12


def test_a_hole_among_good_skills_is_found() -> None:
    """All is named at 1.5 dB, but at 8 kHz nothing at 9 dB, as where hearing is lost: not twenty
    lapses in a row, whatever the neighbours say."""
    ability = Ability.fresh()
    hole = skill_of_key("too much:8k")
    for number in range(440):
        skill = SKILLS[number % 22]
        size_db, outcome = (9.0, Outcome.MISSED) if skill is hole else (1.5, Outcome.NAMED)
        ability = ability.after(Observation(1, skill, size_db, outcome))
    assert ability.finest(hole).low_db > 6.0
    assert ability.finest(skill_of_key("too much:4k")).high_db < 3.0


def brier_score(foretold: list[float], came: list[bool]) -> float:
    """Mean squared gap between what was foretold and what came (Brier, 1950): 0 is best."""
    return float(np.mean(np.square(np.subtract(foretold, came, dtype=float))))


def test_foretold_success_is_calibrated() -> None:
    """Proper score: over 3,000 answers foretold one by one, the Brier score is that of the true
    probabilities within 0.012, better than always foretelling the mean, and in each fifth of the
    forecasts the share that came true lies within 0.06 of the foretold."""
    foretold, true, came = [], [], []
    for seed in range(10):
        who = eight_way_namer(900 + seed, "nested")
        random = np.random.RandomState(seed)
        ability = Ability.fresh()
        for number in range(300):
            band = int(random.random_sample() * 10)
            size_db = 2.0 ** (3.6 * random.random_sample())
            day = 1 + number // 60
            ability = ability.on_day(day)
            foretold.append(ability.named_probability(BANDS[band], size_db, chance=who.chance))
            true.append(who.probabilities(band, size_db)[1])
            answer = who.answer(day, band, size_db)
            came.append(answer.outcome is Outcome.NAMED)
            ability = ability.after(answer)
            if random.random_sample() < 0.125:
                ability = ability.after(who.answer_nothing(day))
    ours = brier_score(foretold, came)
    assert ours - brier_score(true, came) < 0.012
    assert ours < brier_score([float(np.mean(came))] * len(came), came) - 0.05
    for fifth in np.array_split(np.argsort(foretold), 5):
        assert np.mean(np.array(came)[fifth]) == pytest.approx(
            np.mean(np.array(foretold)[fifth]), abs=0.06
        )


# Laws that always hold


@pytest.mark.parametrize("outcome", list(Outcome))
def test_an_answer_moves_the_belief_the_right_way(outcome: Outcome) -> None:
    before = Ability.fresh()
    answer = Observation(
        1, MUD, 4.0, outcome, miss_octaves=0.9 if outcome is Outcome.NEAR else None
    )
    moved = before.after(answer).finest(MUD).size_db / before.finest(MUD).size_db
    assert moved < 0.97 if outcome is Outcome.NAMED else moved > 1.02


def test_a_near_miss_lies_between_a_name_and_a_misname() -> None:
    sizes = [
        Ability.fresh()
        .after(Observation(1, MUD, 4.0, outcome, miss_octaves=miss))
        .finest(MUD)
        .size_db
        for outcome, miss in [
            (Outcome.NAMED, 0.3),
            (Outcome.NEAR, 0.4),
            (Outcome.NEAR, 0.9),
            (Outcome.MISNAMED, 1.1),
        ]
    ]
    assert sizes == sorted(sizes)
    assert len(set(sizes)) == 4


def test_evidence_is_shared_by_correlation() -> None:
    """Twenty good answers near 250 Hz say more of its neighbours than of level."""
    ability = Ability.fresh()
    for _ in range(20):
        ability = ability.after(_named(2.0))
    start, _ = Ability.fresh().log2_finest()
    mean, _ = ability.log2_finest()
    gained = dict(zip([skill.key for skill in SKILLS], start - mean, strict=True))
    assert gained["too much:250"] > gained["too much:500"] > gained["too little:500"]
    assert gained["too little:500"] > gained["level"] > 0.0
    assert gained["too little:250"] > gained["too little:500"]


def test_success_is_foretold_the_more_the_larger_the_size() -> None:
    ability = Ability.fresh()
    foretold = [ability.named_probability(MUD, size) for size in (0.5, 1.0, 2.0, 4.0, 8.0, 16.0)]
    assert foretold == sorted(foretold)
    assert foretold[0] < 0.15
    assert foretold[-1] > 0.9


@pytest.mark.parametrize("size_db", [1.0, 3.0, 9.0])
def test_placement_foretells_what_named_probability_does(size_db: float) -> None:
    """The planner's coarser computation stays within 0.02 of the finer one."""
    ability = Ability.fresh()
    for outcome in (Outcome.NAMED, Outcome.MISSED, Outcome.NAMED):
        ability = ability.after(_named(3.0, outcome))
    success, _ = ability.placement(MUD, [math.log2(size_db)])
    assert success[0] == pytest.approx(ability.named_probability(MUD, size_db), abs=0.02)


def test_information_is_what_an_answer_takes_off_the_entropy() -> None:
    """Mutual information, foretold, against the mean fall of ln sd over the three outcomes, each
    weighed by its probability: equal for a normal belief; within 15 % for this one."""
    ability = Ability.fresh(replace(MODEL, today_sd=1e-3))
    for outcome in (Outcome.NAMED, Outcome.MISSED, Outcome.NAMED, Outcome.NAMED) * 3:
        ability = ability.after(_named(3.0, outcome))
    place = SKILLS.index(MUD)
    _, before = ability.log2_finest()
    size_db = 3.5
    _, information = ability.placement(MUD, [math.log2(size_db)])
    named = ability.named_probability(MUD, size_db)
    # The rest is shared between missed and misnamed as the mean of forecasts foretells it.
    fall = {
        outcome: math.log(
            before[place] / ability.after(_named(size_db, outcome)).log2_finest()[1][place]
        )
        for outcome in (Outcome.NAMED, Outcome.MISSED, Outcome.MISNAMED)
    }
    shift = {
        outcome: ability.after(_named(size_db, outcome)).log2_finest()[0][place]
        - ability.log2_finest()[0][place]
        for outcome in fall
    }
    # The belief's mean does not move on average: that fixes how the rest is shared.
    rest = 1.0 - named
    missed = (-named * shift[Outcome.NAMED] - rest * shift[Outcome.MISNAMED]) / (
        shift[Outcome.MISSED] - shift[Outcome.MISNAMED]
    )
    taken = (
        named * fall[Outcome.NAMED]
        + missed * fall[Outcome.MISSED]
        + (rest - missed) * fall[Outcome.MISNAMED]
    )
    assert information[0] == pytest.approx(taken, rel=0.15)


def test_days_away_widen_every_interval_but_not_without_end() -> None:
    ability = Ability.fresh()
    for number in range(300):
        skill = SKILLS[number % 22]
        ability = ability.after(Observation(1, skill, 4.0, Outcome.NAMED))
    widths = [ability.on_day(1 + gap).log2_finest()[1] for gap in (0, 1, 7, 21, 30, 2000)]
    for narrow, wide in itertools.pairwise(widths[:-1]):
        assert (wide > narrow).all()
    assert (widths[-1] < 1.2 * MODEL.finest_sd).all()


def test_an_earlier_day_changes_nothing() -> None:
    """A clock set back, or answers imported from another machine."""
    ability = Ability.fresh().after(_named(3.0, day=10))
    assert ability.on_day(4) is ability
    assert ability.after(_named(3.0, day=4)).day == 10


def test_help_is_an_offset_of_its_own() -> None:
    """A miss without A says less against the finest size than a miss with A at hand; a name more
    for it."""
    for outcome, sign in ((Outcome.MISSED, 1.0), (Outcome.NAMED, 1.0)):
        sizes = [
            Ability.fresh().after(Observation(1, MUD, 4.0, outcome, help=help)).finest(MUD).size_db
            for help in (0, 1, 2)
        ]
        assert sign * (sizes[0] - sizes[2]) > 0.0
    foretold = [Ability.fresh().named_probability(MUD, 4.0, help=help) for help in (0, 1, 2)]
    assert foretold == sorted(foretold, reverse=True)


def test_false_alarms_are_followed() -> None:
    ability = Ability.fresh()
    for number in range(200):
        ability = ability.after(NothingAnswer(1, number % 10 < 3))
    assert ability.false_alarm_rate == pytest.approx(0.3, abs=0.02)
    assert (ability.nothing_asked, ability.false_alarms) == (200, 60)
    faded = ability.on_day(400)
    assert faded.false_alarm_rate == pytest.approx(0.15, abs=0.01)
    assert faded.false_alarms == 60


def test_figures_need_enough_answers() -> None:
    ability = Ability.fresh()
    for count in range(ENOUGH_ANSWERS):
        assert not ability.finest(MUD).enough, count
        ability = ability.after(_named(3.0))
    assert ability.finest(MUD).enough
    assert ability.finest(Skill("level")).answers == 0


def test_finer_than_agrees_with_the_interval() -> None:
    ability = Ability.fresh().after(_named(3.0))
    estimate = ability.finest(MUD)
    assert ability.finer_than(MUD, estimate.size_db) == pytest.approx(0.5, abs=0.01)
    assert ability.finer_than(MUD, estimate.high_db) == pytest.approx(0.95, abs=0.01)
    assert ability.finer_than(MUD, estimate.low_db) == pytest.approx(0.05, abs=0.01)


# Naming: bias and spread


def _naming_after(errors: list[float]) -> Ability:
    ability = Ability.fresh()
    for error in errors:
        ability = ability.after(Observation(1, MUD, 6.0, Outcome.MISNAMED, miss_octaves=error))
    return ability


def test_bias_and_spread_are_recovered_through_guesses() -> None:
    """True bias 0.3 and spread 0.25 octave, a fifth of the answers even over the rule, 40 answers,
    20 listeners: far nearer than the raw mean, and held by the intervals."""
    ours, raw, held = [], [], []
    for seed in range(20):
        random = np.random.RandomState(seed)
        guess = random.random_sample(40) < 0.2
        errors = np.where(
            guess, random.uniform(-3.6, 6.4, 40), 0.3 + 0.25 * random.standard_normal(40)
        )
        naming = _naming_after(errors.tolist()).naming(3)
        ours.append(naming.bias - 0.3)
        raw.append(float(errors.mean()) - 0.3)
        held.append(naming.bias_low < 0.3 < naming.bias_high)
        held.append(naming.spread_low < 0.25 < naming.spread_high)
        assert naming.answers == 40
    assert _rmse(ours) < 0.07
    assert _rmse(ours) < 0.25 * _rmse(raw)
    assert np.mean(held) > 0.8


def test_pure_guessing_teaches_no_bias() -> None:
    errors = np.random.RandomState(1).uniform(-3.6, 6.4, 60)
    naming = _naming_after(errors.tolist()).naming(3)
    assert abs(naming.bias) < BIAS_SD
    assert naming.bias_high - naming.bias_low > 2.0 * BIAS_SD


def test_bands_share_their_spread_but_not_their_bias() -> None:
    ability = _naming_after([0.3 + 0.02 * (-1) ** n for n in range(30)])
    here, elsewhere, fresh = ability.naming(3), ability.naming(7), Ability.fresh().naming(7)
    assert here.bias > 0.2
    assert elsewhere.bias == pytest.approx(0.0, abs=1e-9)
    assert elsewhere.spread < 0.8 * fresh.spread
    assert elsewhere.answers == 0


# Keeping


def _some_history() -> list[Observation | NothingAnswer]:
    random = np.random.RandomState(11)
    answers: list[Observation | NothingAnswer] = []
    for number in range(120):
        day = 700_000 + number // 30 * 3
        if number % 8 == 7:
            answers.append(NothingAnswer(day, bool(random.random_sample() < 0.2)))
            continue
        outcome = list(Outcome)[int(random.random_sample() * 4)]
        answers.append(
            Observation(
                day,
                SKILLS[number % 22],
                1.0 + 6.0 * random.random_sample(),
                outcome,
                miss_octaves=0.5 if outcome is Outcome.NEAR else None,
                help=number % 3,
            )
        )
    return answers


def test_state_round_trips_exactly_and_goes_on_alike() -> None:
    """Kept after 60 answers as JSON text and read again, the rest leads to the same numbers as
    one sitting."""
    answers = _some_history()
    straight = halfway = Ability.fresh()
    for number, answer in enumerate(answers):
        straight = straight.after(answer)
        halfway = halfway.after(answer)
        if number == 60:
            halfway = Ability.from_state(json.loads(json.dumps(halfway.to_state())))
    assert json.dumps(halfway.to_state()) == json.dumps(straight.to_state())


@pytest.mark.parametrize(
    "damage",
    [
        {"version": 99},
        {"model": "Model(finest_mean=1.0)"},
        {"bank": {}},
        {"answers": {"level": 1}},
        {"kept_false_alarms": [1.0]},
        {"naming": None},
        {"bank": {"mean": [[1.0]], "cov": [[1.0]], "log_weight": [0.0]}},
        {"bank": {"mean": [[1.0]], "cov": [[1.0, 2.0]], "log_weight": [0.0]}},
        {"bank": {"mean": [[math.nan]], "cov": [[1.0]], "log_weight": [0.0]}},
    ],
    ids=lambda damage: next(iter(damage)),
)
def test_a_damaged_state_is_refused(damage: dict[str, object]) -> None:
    state = Ability.fresh().to_state() | damage
    with pytest.raises(ValueError, match="a saved ability cannot be used"):
        Ability.from_state(state)


def test_nothing_is_changed_in_place() -> None:
    ability = Ability.fresh().after(_named(3.0))
    before = json.dumps(ability.to_state())
    ability.after(_named(2.0, Outcome.MISSED, day=9))
    ability.on_day(40)
    assert json.dumps(ability.to_state()) == before


def test_impossible_answers_do_not_break_the_belief() -> None:
    """Thousands of names at a size that cannot be heard, then as many misses at the largest."""
    ability = Ability.fresh()
    for size_db, outcome in ((0.01, Outcome.NAMED), (99.0, Outcome.MISSED)):
        for _ in range(1500):
            ability = ability.after(replace(_named(size_db, outcome), chance=0.0))
    mean, sd = ability.on_day(400).log2_finest()
    assert np.isfinite(mean).all()
    assert (sd > 0.0).all()


# Mastered


def test_mastered_needs_answers_and_two_sessions() -> None:
    ability = Ability.fresh()
    for number in range(LEAST_ANSWERS):
        assert not may_be_mastered(ability, MUD, 6.0), number
        ability = ability.after(_named(1.5))
    assert may_be_mastered(ability, MUD, 6.0)
    assert not mastered(Ability.fresh(), ability, MUD, 6.0)
    assert mastered(ability, ability, MUD, 6.0)
    assert not mastered(ability, ability, MUD, 0.2)


def test_few_mastered_declarations_are_false(told: dict[str, list[list[Reading]]]) -> None:
    """All three stories, goal 3 dB: 5 % in the long run; 10 % allowed of some 100 declarations.
    "The estimate fell below the goal once" is wrong more than twice as often."""
    declared = {"rule": [0, 0], "once": [0, 0]}
    for story in STORIES:
        for readings in told[story]:
            found: dict[str, set[int]] = {"rule": set(), "once": set()}
            before = Ability.fresh()
            for reading in readings:
                mean, _ = reading.ability.log2_finest()
                truth = mean[:10] - reading.errors
                for band in range(10):
                    says = {
                        "rule": mastered(before, reading.ability, BANDS[band], 3.0),
                        "once": bool(mean[band] < math.log2(3.0)),
                    }
                    for name, yes in says.items():
                        if yes and band not in found[name]:
                            found[name].add(band)
                            declared[name][0] += 1
                            declared[name][1] += truth[band] >= math.log2(3.0)
                before = reading.ability
    share = {name: false / count for name, (count, false) in declared.items()}
    assert declared["rule"][0] > 60
    assert share["rule"] <= 0.10
    assert share["once"] > 2.0 * share["rule"]


def test_reading_holds_the_belief_against_the_truth() -> None:
    """The simulator's own bookkeeping: a listener made to fit the prior is no error at all."""
    who = Listener(np.random.RandomState(0), np.full(10, MODEL.finest_mean), "forced")
    reading = read(Ability.fresh().on_day(3), who)
    assert reading.errors == pytest.approx(np.zeros(10))
    assert reading.covered.all()
    assert 2.0 < placed_size_db(Ability.fresh(), 0, who, 0.75) < 12.0


def test_naming_the_place_as_well_has_an_offset_of_its_own() -> None:
    """Who names at 2 dB, but with the place only at 6, is foretold so: the one is not taken for
    the other, in a band where the place was never asked either."""
    ability = Ability.fresh()
    for number in range(120):
        skill = SKILLS[number % 9]
        placed = number % 2 == 1
        outcome = Outcome.MISNAMED if placed and number % 4 == 1 else Outcome.NAMED
        size_db = 4.0 if placed else 2.0
        ability = ability.after(Observation(1, skill, size_db, outcome, placed=placed))
    elsewhere = SKILLS[9]
    alone = ability.named_probability(elsewhere, 3.0)
    with_place = ability.named_probability(elsewhere, 3.0, placed=True)
    assert with_place < alone - 0.15
