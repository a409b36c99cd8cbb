"""Progress: every figure against hand-made logs, and against a plain count of the whole log."""

from __future__ import annotations

import csv
import io
import json
import statistics
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from exercises.bands import BANDS, band_of
from exercises.kinds import TONE, Kind
from exercises.recipe import Recipe
from exercises.tone_curve import USUAL_Q
from tests.filled_record import NAMED_HIGH_BAND, fill
from trainer.ability import Ability
from trainer.judging import Answer
from trainer.ladder import STEPS
from trainer.mastery import mastered
from trainer.pace import seconds_spent
from trainer.progress import KINDS, Progress, Strip, progress_of
from trainer.progress_counts import median_of, median_ranks
from trainer.progress_forms import progress_csv, progress_json, progress_text
from trainer.record import Listening, Record
from trainer.scoring import ability_of, forget_ability, learned
from trainer.sensitivity import sensitivity_of
from trainer.skills import SKILLS, skill_of_key
from trainer.standings import GOAL_DB

MONDAY = date(2026, 3, 2)


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return Record(tmp_path, "ada", "1.0")


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Record:
    """Some seven weeks of practice."""
    record = Record(tmp_path_factory.mktemp("filled"), "ada", "1.0")
    fill(record, 900, a_day=20)
    return record


@pytest.fixture(scope="module")
def shown(filled: Record) -> Progress:
    return progress_of(filled, date(2026, 3, 1))


def _keep(
    record: Record,
    asked: Kind,
    said: Kind,
    *,
    true_hz: float = 250.0,
    named_hz: float | None = None,
    sure: bool = True,
    seconds: float = 8.0,
    day: date = MONDAY,
) -> None:
    at = datetime.combine(day, datetime.min.time(), UTC) + timedelta(hours=12)
    at += timedelta(seconds=20 * record.count_answers())
    drill = record.open_drill(day)
    drill_id = record.start_drill(day, {}) if drill is None else drill.id
    tone = asked in TONE
    recipe = Recipe(
        0,
        "quay",
        "f" * 64,
        asked,
        0.0 if asked is Kind.NOTHING else 6.0,
        true_hz if tone else None,
        USUAL_Q if tone else None,
    )
    answer = Answer(said, (named_hz or true_hz) if said in TONE else None, sure)
    record.keep(drill_id, at, recipe, answer, Listening(seconds, 2, seconds / 2, seconds / 2))


# Hand-made logs ---------------------------------------------------------------------------------


def test_an_empty_record_has_no_figures(record: Record) -> None:
    progress = progress_of(record, MONDAY)
    assert (progress.answers, progress.days, progress.minutes) == (0, 0, 0.0)
    assert progress.first_day is None
    assert not any(strip.enough or strip.mastered or strip.path for strip in progress.strips)
    assert all(strip.named.share is None and strip.miss is None for strip in progress.strips)
    assert progress.sensitivity.d_prime is None
    assert "first drill" in progress_text(progress)


# R. G. Newcombe, Statistics in Medicine 17 (1998), table I, method 3 (Wilson), from memory.
@pytest.mark.parametrize(
    ("right", "total", "low", "high"), [(1, 29, 0.0061, 0.1718), (0, 20, 0.0, 0.1611)]
)
def test_the_share_named_carries_wilsons_interval(
    record: Record, right: int, total: int, low: float, high: float
) -> None:
    for number in range(total):
        _keep(record, Kind.TOO_MUCH, Kind.TOO_MUCH if number < right else Kind.SQUASHED)
    named = _strip(progress_of(record, MONDAY), "too much:250").named
    assert (named.right, named.total) == (right, total)
    assert (named.low, named.high) == (
        pytest.approx(low, abs=5e-5),
        pytest.approx(high, abs=5e-5),
    )


def test_a_third_of_an_octave_counts_and_the_miss_is_a_distance(record: Record) -> None:
    for octaves in (-0.3, -0.1, 0.2, 0.5, 0.9):
        _keep(record, Kind.TOO_MUCH, Kind.TOO_MUCH, named_hz=250.0 * 2.0**octaves)
    _keep(record, Kind.TOO_MUCH, Kind.TOO_LITTLE, named_hz=4000.0)  # no distance: wrong kind
    strip = _strip(progress_of(record, MONDAY), "too much:250")
    assert (strip.named.right, strip.answers) == (3, 6)
    assert strip.miss is not None
    assert (strip.miss.count, strip.miss.median) == (5, pytest.approx(0.3))
    assert strip.miss.low is None  # five values bound no median with 95 %


def test_an_even_number_of_misses_has_the_middle_of_two(record: Record) -> None:
    for octaves in (0.1, -0.2, 0.3, 0.4, -0.5, 0.6):
        _keep(record, Kind.TOO_LITTLE, Kind.TOO_LITTLE, named_hz=250.0 * 2.0**octaves)
    miss = _strip(progress_of(record, MONDAY), "too little:250").miss
    assert miss is not None
    assert (miss.median, miss.low, miss.high) == pytest.approx((0.35, 0.1, 0.6))


def test_too_loud_and_too_quiet_are_one_skill_but_two_kinds(record: Record) -> None:
    _keep(record, Kind.TOO_LOUD, Kind.TOO_LOUD)
    _keep(record, Kind.TOO_QUIET, Kind.TOO_LOUD)
    progress = progress_of(record, MONDAY)
    assert (_strip(progress, "level").named.right, _strip(progress, "level").answers) == (1, 2)
    loud, quiet = KINDS.index(Kind.TOO_LOUD), KINDS.index(Kind.TOO_QUIET)
    assert progress.kinds_named[quiet][loud] == progress.kinds_named[loud][loud] == 1


def test_which_band_for_which_counts_every_place_that_was_named(record: Record) -> None:
    _keep(record, Kind.TOO_MUCH, Kind.TOO_MUCH, true_hz=250.0, named_hz=500.0)
    _keep(record, Kind.TOO_MUCH, Kind.TOO_LITTLE, true_hz=250.0, named_hz=250.0)
    _keep(record, Kind.TOO_MUCH, Kind.NOTHING, true_hz=250.0)
    _keep(record, Kind.NOTHING, Kind.TOO_MUCH, named_hz=1000.0)
    table = progress_of(record, MONDAY).bands_named
    assert table[3] == (0, 0, 0, 1, 1, 0, 0, 0, 0, 0)
    assert sum(map(sum, table)) == 2


def test_false_alarms_and_hits_are_counted_whatever_is_named(record: Record) -> None:
    for said in (*[Kind.NOTHING] * 6, Kind.TOO_LOUD, Kind.TOO_MUCH):
        _keep(record, Kind.NOTHING, said)
    for said in (*[Kind.SQUASHED] * 7, Kind.NOTHING):
        _keep(record, Kind.TOO_LOUD, said)
    found = progress_of(record, MONDAY).sensitivity
    assert (found.false_alarms.right, found.false_alarms.total) == (2, 8)
    assert (found.hits.right, found.hits.total) == (7, 8)
    # (7 + 1/2) / 9 and (2 + 1/2) / 9: z = 0.9674 and -0.5895 (normal table).
    assert found.d_prime == pytest.approx(1.5570, abs=2e-4)
    assert found.criterion == pytest.approx(-0.1890, abs=2e-4)


def test_calibration_and_time_and_minutes(record: Record) -> None:
    for number, sure in enumerate((True, True, True, False)):
        said = Kind.SQUASHED if number != 1 else Kind.NOTHING
        _keep(record, Kind.SQUASHED, said, sure=sure, seconds=(4.0, 6.0, 9.0, 200.0)[number])
    progress = progress_of(record, MONDAY)
    calibration = progress.calibration
    assert (calibration.sure.right, calibration.sure.total) == (2, 3)
    assert (calibration.guessing.right, calibration.guessing.total) == (1, 1)
    (week,) = progress.weeks
    assert (week.monday, week.days, week.seconds.median) == (MONDAY, 1, 7.5)
    # 4 s to the first answer, then 20 s from answer to answer; the last took over ninety.
    assert progress.minutes == pytest.approx((4 + 20 + 20 + 90) / 60)


def test_days_and_weeks_are_counted_not_strung_together(record: Record) -> None:
    for day in (0, 1, 6, 7, 30):
        _keep(record, Kind.SQUASHED, Kind.SQUASHED, day=MONDAY + timedelta(days=day))
    progress = progress_of(record, MONDAY + timedelta(days=40))
    assert (progress.days, progress.first_day) == (5, MONDAY)
    assert [(week.monday - MONDAY).days for week in progress.weeks] == [0, 7, 28]
    assert [week.days for week in progress.weeks] == [3, 1, 1]


def test_eight_answers_are_enough_and_seven_are_not(record: Record) -> None:
    for _ in range(7):
        _keep(record, Kind.TOO_MUCH, Kind.TOO_MUCH)
    strip = _strip(progress_of(record, MONDAY), "too much:250")
    assert not strip.enough
    assert strip.path == ()
    assert json.loads(progress_json(progress_of(record, MONDAY)))["skills"][3]["finest_db"] is None
    _keep(record, Kind.TOO_MUCH, Kind.TOO_MUCH)
    strip = _strip(progress_of(record, MONDAY), "too much:250")
    assert strip.enough
    assert len(strip.path) == 1


def test_learners_are_kept_apart(tmp_path: Path) -> None:
    ada, bo = Record(tmp_path, "ada", "1"), Record(tmp_path, "bo", "1")
    fill(ada, 60)
    _keep(bo, Kind.TOO_MUCH, Kind.TOO_MUCH)
    fill(ada, 30, first_day=date(2026, 2, 1))
    progress = progress_of(bo, MONDAY)
    assert (progress.answers, progress.days, len(progress.weeks)) == (1, 1, 1)
    assert progress_of(ada, MONDAY).answers == 90


# Against a plain count of the whole log ---------------------------------------------------------


def test_shares_and_misses_are_those_of_the_log(filled: Record, shown: Progress) -> None:
    log = list(filled.answers())
    for strip in shown.strips:
        mine = [
            kept
            for kept in log
            if kept.recipe.kind in strip.skill.kinds
            and _band(kept.recipe.freq_hz) == strip.skill.band_index
        ]
        misses = [
            abs(kept.verdict.miss_octaves) for kept in mine if kept.verdict.miss_octaves is not None
        ]
        assert strip.answers == len(mine) > 0
        assert strip.named.right == sum(kept.verdict.named for kept in mine)
        if strip.skill.band_index is None:
            assert strip.miss is None
        else:
            assert strip.miss is not None
            assert strip.miss == median_of(sorted(misses))
            assert strip.miss.median == pytest.approx(statistics.median(misses))


def test_tables_are_those_of_the_log(filled: Record, shown: Progress) -> None:
    log = list(filled.answers())
    kinds = Counter((kept.recipe.kind, kept.answer.kind) for kept in log)
    bands = Counter(
        (_band(kept.recipe.freq_hz), _band(kept.answer.freq_hz))
        for kept in log
        if kept.recipe.freq_hz and kept.answer.freq_hz
    )
    assert shown.kinds_named == tuple(tuple(kinds[a, b] for b in KINDS) for a in KINDS)
    assert shown.bands_named == tuple(tuple(bands[a, b] for b in range(10)) for a in range(10))
    assert sum(map(sum, shown.kinds_named)) == shown.answers == 900


def test_minutes_are_those_of_the_drills(filled: Record, shown: Progress) -> None:
    drills = [list(filled.answers(drill_id=drill.id)) for drill in filled.drills()]
    assert shown.minutes == pytest.approx(sum(map(seconds_spent, drills)) / 60.0)
    assert shown.days == len(drills) == 45


def test_the_time_to_answer_is_that_of_each_week(filled: Record, shown: Progress) -> None:
    by_week = groupby(filled.answers(), key=lambda kept: kept.day.isocalendar()[:2])
    expected = [statistics.median(k.listening.seconds for k in week) for _, week in by_week]
    assert [week.seconds.median for week in shown.weeks] == pytest.approx(expected)
    assert len(expected) == 8


def test_the_path_is_a_replay_of_the_log(filled: Record, shown: Progress) -> None:
    """The standings kept along the way say what a replay up to each week's end says."""
    ability, ends = Ability.fresh(), {}
    for kept in filled.answers():
        ability = learned(ability, kept)
        ends[kept.day.isocalendar()[:2]] = ability
    for strip in shown.strips:
        estimates = [end.finest(strip.skill) for end in ends.values()]
        expected = [each for each in estimates if each.enough]
        assert len(strip.path) == len(expected) > 0
        for point, finest in zip(strip.path, expected, strict=True):
            assert point.finest.answers == finest.answers
            for name in ("size_db", "low_db", "high_db"):
                assert getattr(point.finest, name) == pytest.approx(getattr(finest, name), rel=1e-4)


def test_mastered_is_the_rule_at_the_last_two_days(tmp_path: Path) -> None:
    record = Record(tmp_path, "ada", "1")
    fill(record, 1500, a_day=60)
    shown = progress_of(record, date(2026, 2, 1))
    ability, ends = Ability.fresh(), {}
    for kept in record.answers():
        ability = learned(ability, kept)
        ends[kept.day] = ability
    before, last = list(ends.values())[-2:]
    expected = [mastered(before, last, skill, GOAL_DB) for skill in SKILLS]
    assert [strip.mastered for strip in shown.strips] == expected
    assert 0 < sum(expected) < len(expected)


def test_a_bias_is_brought_out_where_it_is(shown: Progress) -> None:
    for band in BANDS:
        naming = shown.naming[band.index]
        shows = naming.bias_low > 0.0
        assert shows == (band.index == NAMED_HIGH_BAND)


# Caches -----------------------------------------------------------------------------------------


def test_caches_grown_by_the_day_are_those_built_at_once(tmp_path: Path) -> None:
    grown, whole = Record(tmp_path / "a", "ada", "1"), Record(tmp_path / "b", "ada", "1")
    fill(whole, 150, a_day=25)
    today = date(2026, 2, 1)
    drills: dict[int, int] = {}
    for kept in whole.answers():
        if kept.drill_id not in drills:
            progress_of(grown, kept.day)
            drills[kept.drill_id] = grown.start_drill(kept.day, {})
        grown.keep(
            drills[kept.drill_id], kept.answered_at, kept.recipe, kept.answer, kept.listening
        )
        if kept.id % 40 == 0:
            ability_of(grown, kept.day)
    assert ability_of(grown, today).to_state() == ability_of(whole, today).to_state()
    assert progress_of(grown, today) == progress_of(whole, today)


def test_lost_caches_are_built_again_and_that_is_told(tmp_path: Path) -> None:
    record = Record(tmp_path, "ada", "1")
    fill(record, 600)
    before = progress_of(record, MONDAY)
    record.change("DELETE FROM standing WHERE learner_id = ?")
    forget_ability(record)
    told: list[tuple[int, int]] = []
    assert progress_of(record, MONDAY, lambda *how: told.append(how)) == before
    assert told == [(0, 600), (500, 600)]
    told.clear()
    progress_of(record, MONDAY, lambda *how: told.append(how))
    assert told == []


# Figures of their own ---------------------------------------------------------------------------


@pytest.mark.parametrize("count", [*range(1, 60), 100, 199, 200])
def test_ranks_around_the_median_hold_95_percent_and_no_narrower_ones_do(count: int) -> None:
    """The order statistics' interval misses the median when fewer than k values fall below it."""
    ranks = median_ranks(count)
    if ranks is None:
        assert 2 * binom.cdf(0, count, 0.5) > 0.05
        return
    k = ranks[0]
    assert ranks == (k, count + 1 - k)
    assert 2 * binom.cdf(k - 1, count, 0.5) <= 0.05
    assert 2 * binom.cdf(k, count, 0.5) > 0.05


@pytest.mark.parametrize("count", [201, 500, 1001, 14_000])
def test_ranks_of_many_values_hold_95_percent_within_a_rank(count: int) -> None:
    k, _ = median_ranks(count) or (0, 0)
    assert 2 * binom.cdf(k - 2, count, 0.5) <= 0.05
    assert 2 * binom.cdf(k + 1, count, 0.5) > 0.05


def test_sensitivity_by_hand() -> None:
    """20 of 25 and 5 of 25: z = +-0.8011 of 20.5/26, so d' 1.602 and no criterion."""
    found = sensitivity_of(20, 25, 5, 25)
    assert found.d_prime == pytest.approx(1.6022, abs=3e-4)
    assert found.criterion == pytest.approx(0.0, abs=1e-12)
    assert found.d_prime_reach == pytest.approx(0.782, abs=2e-3)
    assert sensitivity_of(20, 25, 5, 7).d_prime is None


@pytest.mark.parametrize(("d", "c"), [(1.0, 0.0), (2.0, 0.3)])
def test_the_interval_of_d_prime_holds_the_truth_95_times_in_100(d: float, c: float) -> None:
    hit, alarm = (statistics.NormalDist().cdf(z) for z in (d / 2 - c, -d / 2 - c))
    draws = np.random.RandomState(5)
    covered = 0
    for hits, alarms in zip(
        draws.binomial(200, hit, 2000), draws.binomial(60, alarm, 2000), strict=True
    ):
        found = sensitivity_of(int(hits), 200, int(alarms), 60)
        assert found.d_prime is not None
        assert found.d_prime_reach is not None
        covered += abs(found.d_prime - d) <= found.d_prime_reach
    # Two thousand draws tell a share of 0.95 to 0.01; the variance is an approximation.
    assert 0.935 <= covered / 2000 <= 0.975


# Forms ------------------------------------------------------------------------------------------


def test_json_says_what_progress_says(shown: Progress) -> None:
    plain = json.loads(progress_json(shown))
    assert (plain["format"], plain["version"]) == ("namefirst progress", 1)
    assert [skill["skill"] for skill in plain["skills"]] == [skill.key for skill in SKILLS]
    for said, strip in zip(plain["skills"], shown.strips, strict=True):
        assert (said["answers"], said["named"]["right"]) == (strip.answers, strip.named.right)
        assert len(said["path"]) == len(strip.path)
        if strip.enough:
            assert said["finest_db"]["value"] == pytest.approx(strip.finest.size_db, abs=1e-4)
            assert said["finest_db"]["low"] < said["finest_db"]["value"] < said["finest_db"]["high"]
    assert plain["bands_named"] == [list(row) for row in shown.bands_named]
    assert len(plain["weeks"]) == len(shown.weeks)


def test_csv_has_a_row_a_skill_today_and_a_row_a_skill_and_week(shown: Progress) -> None:
    rows = list(csv.DictReader(io.StringIO(progress_csv(shown))))
    today = [row for row in rows if row["day"] == "2026-03-01"]
    steps = [f"step {step.number}" for step in STEPS]
    rounds = [f"fix rounds: {sort}" for sort in ("choice", "open")]
    assert [row["skill"] for row in today] == [*(skill.key for skill in SKILLS), *steps, *rounds]
    assert len(rows) - len(today) == sum(len(strip.path) for strip in shown.strips)
    assert not any(None in row or None in row.values() for row in rows)
    assert today[0]["named"] == str(shown.strips[0].named.right)


def test_the_text_stands_in_columns_and_says_all_in_words(shown: Progress) -> None:
    text = progress_text(shown)
    lines = text.splitlines()
    assert lines[0] == "Progress of ada on 1 March 2026"
    assert lines[1].startswith("45 days practised since 5 January 2026, ")
    start = lines.index("Too much")
    block = lines[start + 1 : start + 12]
    column = block[0].index("named")
    assert all(line[column - 1] == " " != line[column] for line in block)
    assert "  250 Hz: You name " in text
    assert "\t" not in text
    assert len(text) < 12_000


def _strip(progress: Progress, key: str) -> Strip:
    return progress.strips[SKILLS.index(skill_of_key(key))]


def _band(freq_hz: float | None) -> int | None:
    return None if freq_hz is None else band_of(freq_hz).index
