"""From the log of answers to the learner's ability, with a cache that may be lost.

The log is the truth. The scorer's state after some answer is kept beside it, so that opening a
long record replays only what came since.
"""

from __future__ import annotations

from datetime import date
from typing import Final

from exercises.bands import band_of
from exercises.kinds import Kind
from trainer.ability import Ability
from trainer.observation import NothingAnswer, Observation, outcome_of
from trainer.record import KeptAnswer, Record
from trainer.skills import skill_of

_SETTING: Final = "ability"
_REPLAY_AT_MOST: Final = 50


def observation_of(kept: KeptAnswer) -> Observation | NothingAnswer:
    """What one answer tells the scorer."""
    recipe, answer, day = kept.recipe, kept.answer, kept.day.toordinal()
    if recipe.kind is Kind.NOTHING:
        return NothingAnswer(day, answer.kind is not Kind.NOTHING, answer.sure)
    miss = kept.verdict.miss_octaves
    band_index = None if recipe.freq_hz is None else band_of(recipe.freq_hz).index
    return Observation(
        day=day,
        skill=skill_of(recipe.kind, band_index),
        size_db=recipe.size_db,
        outcome=outcome_of(recipe.kind, answer.kind, miss),
        miss_octaves=miss,
        sure=answer.sure,
        help=kept.help,
    )


def ability_of(record: Record, today: date) -> Ability:
    """What is believed of the learner today, from every answer in the record."""
    ability, last_id = _cached(record)
    replayed = 0
    for kept in record.answers(since_id=last_id):
        ability = ability.after(observation_of(kept))
        last_id, replayed = kept.id, replayed + 1
    if replayed > _REPLAY_AT_MOST:
        record.set_setting(_SETTING, {"last_id": last_id, "state": ability.to_state()})
    return ability.on_day(today.toordinal())


def _cached(record: Record) -> tuple[Ability, int]:
    kept = record.setting(_SETTING)
    try:
        return Ability.from_state(kept["state"]), int(kept["last_id"])
    except (TypeError, KeyError, ValueError):
        return Ability.fresh(), 0
