"""Progress: what a record says of its learner, as plain figures that a page or a text can show.

Counts come straight from the log (``progress_counts``); finest sizes and biases are the scorer's
belief (``ability``) and their paths its kept standings. A figure is never without its interval, and
below a stated number of answers it is "not enough yet" (``Strip.enough``). Days and minutes
practised are told; there is no streak to lose.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from exercises.bands import BANDS
from exercises.kinds import TONE, Kind
from trainer.ability import ENOUGH_ANSWERS, Ability, Estimate
from trainer.naming_spread import Naming
from trainer.progress_counts import Median, Tally, Week, median_miss, tallies, weeks
from trainer.record import Record
from trainer.scoring import Replayed, scored_of
from trainer.sensitivity import Sensitivity, sensitivity_of
from trainer.skills import SKILLS, Skill
from trainer.standings import GOAL_DB, Standing, latest_standings, weekly_standings
from trainer.statistics import Calibration, Share, share_of
from trainer.step_counts import StepCount, step_counts

if TYPE_CHECKING:
    from trainer.fix_counts import FixCounts

KINDS: Final = tuple(Kind)


@dataclass(frozen=True, slots=True)
class PathPoint:
    """Finest size as it stood on the last day practised of a week."""

    day: date
    finest: Estimate


@dataclass(frozen=True, slots=True)
class Strip:
    """One skill: what was answered, how finely it is named now, and the path to it.

    ``named`` is the share named (Wilson, 95 %); ``miss`` the median distance in octaves of the
    frequencies given with the right kind, None without any; ``path`` holds the weeks at whose end
    there were enough answers; ``mastered`` is the rule of ``mastery`` at ``GOAL_DB``.
    """

    skill: Skill
    answers: int
    named: Share
    miss: Median | None
    finest: Estimate
    mastered: bool
    path: tuple[PathPoint, ...]

    @property
    def enough(self) -> bool:
        """Whether there are enough answers to show the finest size."""
        return self.finest.enough


@dataclass(frozen=True, slots=True)
class Progress:
    """Everything that Progress shows of ``learner`` on ``today``.

    ``strips`` in the order of SKILLS. ``kinds_named[i][j]``: how often kind i was there and kind j
    was named; ``bands_named[i][j]``: how often a problem in band i was answered with a frequency in
    band j, whatever kind was said with it. ``naming`` has the bias of each band; ``fixes`` the
    rounds of choosing a fix and of making one.
    """

    learner: str
    today: date
    first_day: date | None
    days: int
    minutes: float
    answers: int
    goal_db: float
    enough_answers: int
    strips: tuple[Strip, ...]
    naming: tuple[Naming, ...]
    kinds_named: tuple[tuple[int, ...], ...]
    bands_named: tuple[tuple[int, ...], ...]
    sensitivity: Sensitivity
    calibration: Calibration
    weeks: tuple[Week, ...]
    step: int
    steps: tuple[StepCount, ...]
    fixes: tuple[FixCounts, ...]


def progress_of(record: Record, today: date, progress: Replayed | None = None) -> Progress:
    """What the record says of its learner; ``progress`` hears of a long rebuilding of caches."""
    # Loads the science of fixes: slow, and only wanted where figures are worked out.
    from trainer.fix_counts import fix_counts

    scored = scored_of(record, today, progress)
    ability = scored.ability
    counted = tallies(record)
    practised = tuple(weeks(record))
    last_two = latest_standings(record, 2)
    path = tuple(weekly_standings(record))
    return Progress(
        learner=record.learner,
        today=today,
        first_day=record.first_day(),
        days=sum(week.days for week in practised),
        minutes=sum(week.minutes for week in practised),
        answers=sum(each.count for each in counted),
        goal_db=GOAL_DB,
        enough_answers=ENOUGH_ANSWERS,
        strips=tuple(_strip(record, skill, ability, counted, last_two, path) for skill in SKILLS),
        naming=tuple(ability.naming(band.index) for band in BANDS),
        kinds_named=_kinds_named(counted),
        bands_named=_bands_named(counted),
        sensitivity=_sensitivity(counted),
        calibration=Calibration(
            _named_share(each for each in counted if each.sure),
            _named_share(each for each in counted if not each.sure),
        ),
        weeks=practised,
        step=scored.climb.step,
        steps=step_counts(record),
        fixes=fix_counts(record),
    )


def _strip(
    record: Record,
    skill: Skill,
    ability: Ability,
    counted: Sequence[Tally],
    last_two: Sequence[Standing],
    path: Sequence[Standing],
) -> Strip:
    named = _named_share(
        each for each in counted if each.kind in skill.kinds and each.band == skill.band_index
    )
    points = (PathPoint(each.day, each.finest(skill)) for each in path)
    return Strip(
        skill=skill,
        answers=named.total,
        named=named,
        miss=median_miss(record, skill),
        finest=ability.finest(skill),
        mastered=len(last_two) == 2 and all(each.may_be_mastered(skill) for each in last_two),
        path=tuple(point for point in points if point.finest.enough),
    )


def _named_share(counted: Iterable[Tally]) -> Share:
    right = total = 0
    for each in counted:
        total += each.count
        right += each.count * each.named
    return share_of(right, total)


def _kinds_named(counted: Sequence[Tally]) -> tuple[tuple[int, ...], ...]:
    table = [[0] * len(KINDS) for _ in KINDS]
    for each in counted:
        table[KINDS.index(each.kind)][KINDS.index(each.answered_kind)] += each.count
    return tuple(map(tuple, table))


def _bands_named(counted: Sequence[Tally]) -> tuple[tuple[int, ...], ...]:
    table = [[0] * len(BANDS) for _ in BANDS]
    for each in counted:
        if each.kind in TONE and each.band is not None and each.answered_band is not None:
            table[each.band][each.answered_band] += each.count
    return tuple(map(tuple, table))


def _sensitivity(counted: Sequence[Tally]) -> Sensitivity:
    asked = {True: 0, False: 0}
    heard = {True: 0, False: 0}
    for each in counted:
        hidden = each.kind is not Kind.NOTHING
        asked[hidden] += each.count
        heard[hidden] += each.count * (each.answered_kind is not Kind.NOTHING)
    return sensitivity_of(heard[True], asked[True], heard[False], asked[False])
