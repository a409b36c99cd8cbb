"""From the log of answers to the learner's ability and its path, with caches that may be lost.

The log is the truth. The scorer's state after some answer, and its standing at the end of each day
of practice, are kept beside it, so that opening a long record replays only what came since.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import Final

from exercises.bands import band_of
from exercises.kinds import Kind
from trainer.ability import Ability
from trainer.observation import NothingAnswer, Observation, Outcome, outcome_of
from trainer.record import KeptAnswer, Record
from trainer.skills import skill_of
from trainer.standings import Standing, keep_standings, standing_of

Replayed = Callable[[int, int], None]
"""Told of a long replay now and then: (answers replayed, answers in all)."""

CACHE_SETTING: Final = "ability"
"""Where the scorer's state is kept: a cache, no setting of the learner's."""
_TELL_EVERY: Final = 500


def observation_of(kept: KeptAnswer) -> Observation | NothingAnswer:
    """What one answer tells the scorer: of two problems, what was named for the first.

    A right name at the wrong place (track or passage, where that was asked) is a wrong name.
    """
    recipe, answer, day = kept.recipe, kept.answer, kept.day.toordinal()
    if recipe.kind is Kind.NOTHING:
        return NothingAnswer(day, answer.kind is not Kind.NOTHING, answer.sure)
    verdict = kept.verdict
    part = verdict.parts[0]
    outcome = outcome_of(recipe.kind, part.named.kind, part.miss_octaves)
    if outcome is not Outcome.MISSED and not verdict.place_right:
        outcome = Outcome.MISNAMED
    band_index = None if recipe.freq_hz is None else band_of(recipe.freq_hz).index
    return Observation(
        day=day,
        skill=skill_of(recipe.kind, band_index),
        size_db=recipe.size_db,
        outcome=outcome,
        miss_octaves=part.miss_octaves,
        sure=answer.sure,
        help=int(recipe.help),
    )


def ability_of(record: Record, today: date, replayed: Replayed | None = None) -> Ability:
    """What is believed of the learner today, from every answer in the record.

    Brings the caches up to date on the way; ``replayed`` hears of it where that takes long.
    """
    cached, last_id = _cached(record)
    newest = record.last_id()
    ability = Ability.fresh() if cached is None else cached
    if newest > last_id:
        log = (
            record.answers_by_day(newest)
            if cached is None
            else record.answers(since_id=last_id, until_id=newest)
        )
        ability, standings = _replay(ability, log, record.count_answers(last_id), replayed)
        with record.transaction():
            keep_standings(record, standings, anew=cached is None)
            record.set_setting(CACHE_SETTING, {"last_id": newest, "state": ability.to_state()})
    return ability.on_day(today.toordinal())


def forget_ability(record: Record) -> None:
    """Drops the caches; they are built again from the log when they are next asked for. Needed
    where answers were brought in between those that the caches hold already."""
    record.change("DELETE FROM setting WHERE learner_id = ? AND name = ?", (CACHE_SETTING,))


def _replay(
    ability: Ability, log: Iterable[KeptAnswer], total: int, replayed: Replayed | None
) -> tuple[Ability, list[Standing]]:
    """The ability after ``log``, and its standing at the end of each day in it."""
    standings = []
    for count, kept in enumerate(log):
        observation = observation_of(kept)
        if count and ability.day is not None and observation.day > ability.day:
            standings.append(standing_of(ability))
        ability = ability.after(observation)
        if replayed is not None and count % _TELL_EVERY == 0:
            replayed(count, total)
    return ability, [*standings, standing_of(ability)]


def _cached(record: Record) -> tuple[Ability | None, int]:
    kept = record.setting(CACHE_SETTING)
    try:
        return Ability.from_state(kept["state"]), int(kept["last_id"])
    except (TypeError, KeyError, ValueError):
        return None, 0
