"""From the log of answers to ability, its path and the step, with caches that may be lost.

The log is the truth. The scorer's state after some answer, and its standing at the end of each day
of practice, are kept beside it, so that opening a long record replays only what came since.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from datetime import date
from typing import Final

from exercises.bands import band_of
from exercises.kinds import Kind
from trainer.ability import Ability
from trainer.ladder import Climb
from trainer.observation import NothingAnswer, Observation, Outcome, outcome_of
from trainer.record import KeptAnswer, Record
from trainer.skills import skill_of
from trainer.standings import Standing, keep_standings, standing_of

Replayed = Callable[[int, int], None]
"""Told of a long replay now and then: (answers replayed, answers in all)."""

CACHE_SETTING: Final = "ability"
"""Where the scorer's state is kept: a cache, no setting of the learner's."""
_TELL_EVERY: Final = 500


@dataclass(frozen=True, slots=True)
class Scored:
    """What the log says of a learner: what they can name, and the step they are on."""

    ability: Ability
    climb: Climb


def observations_of(kept: KeptAnswer) -> tuple[Observation | NothingAnswer, ...]:
    """What one answer tells the scorer: one observation a hidden problem.

    A right name at the wrong place (track or passage, where that was asked) is a wrong name.
    """
    recipe, answer, day = kept.recipe, kept.answer, kept.day.toordinal()
    if recipe.kind is Kind.NOTHING:
        return (NothingAnswer(day, answer.kind is not Kind.NOTHING, answer.sure),)
    verdict = kept.verdict
    told = []
    for part in verdict.parts:
        outcome = outcome_of(part.truth.kind, part.named.kind, part.miss_octaves)
        if outcome is not Outcome.MISSED and not verdict.place_right:
            outcome = Outcome.MISNAMED
        freq_hz = part.truth.freq_hz
        told.append(
            Observation(
                day=day,
                skill=skill_of(
                    part.truth.kind, None if freq_hz is None else band_of(freq_hz).index
                ),
                size_db=part.truth.size_db,
                outcome=outcome,
                miss_octaves=part.miss_octaves,
                sure=answer.sure,
                help=int(recipe.help),
                placed=recipe.ask_track or recipe.ask_passage,
            )
        )
    return tuple(told)


def learned(ability: Ability, kept: KeptAnswer) -> Ability:
    """What is believed of a learner after one more answer."""
    for observation in observations_of(kept):
        ability = ability.after(observation)
    return ability


def scored_after(scored: Scored, kept: KeptAnswer) -> Scored:
    """What the log says after one more answer."""
    return Scored(learned(scored.ability, kept), scored.climb.after(kept.recipe, kept.verdict))


def scored_of(record: Record, today: date, replayed: Replayed | None = None) -> Scored:
    """What every answer in the record says of the learner today.

    Brings the caches up to date on the way; ``replayed`` hears of it where that takes long.
    """
    cached, last_id = _cached(record)
    newest = record.last_id()
    scored = Scored(Ability.fresh(), Climb()) if cached is None else cached
    if newest > last_id:
        log = (
            record.answers_by_day(newest)
            if cached is None
            else record.answers(since_id=last_id, until_id=newest)
        )
        scored, standings = _replay(scored, log, record.count_answers(last_id), replayed)
        state, climb = scored.ability.to_state(), asdict(scored.climb)
        with record.transaction():
            keep_standings(record, standings, anew=cached is None)
            kept = {"last_id": newest, "state": state, "climb": climb}
            record.set_setting(CACHE_SETTING, kept)
    return Scored(scored.ability.on_day(today.toordinal()), scored.climb)


def ability_of(record: Record, today: date, replayed: Replayed | None = None) -> Ability:
    """What is believed of the learner today: ``scored_of`` without the step."""
    return scored_of(record, today, replayed).ability


def forget_ability(record: Record) -> None:
    """Drops the caches; they are built again from the log when they are next asked for. Needed
    where answers were brought in between those that the caches hold already."""
    record.change("DELETE FROM setting WHERE learner_id = ? AND name = ?", (CACHE_SETTING,))


def _replay(
    scored: Scored, log: Iterable[KeptAnswer], total: int, replayed: Replayed | None
) -> tuple[Scored, list[Standing]]:
    """What ``log`` says on top of ``scored``, and the standing at the end of each day in it."""
    standings = []
    for count, kept in enumerate(log):
        day = scored.ability.day
        if count and day is not None and kept.day.toordinal() > day:
            standings.append(standing_of(scored.ability))
        scored = scored_after(scored, kept)
        if replayed is not None and count % _TELL_EVERY == 0:
            replayed(count, total)
    return scored, [*standings, standing_of(scored.ability)]


def _cached(record: Record) -> tuple[Scored | None, int]:
    kept = record.setting(CACHE_SETTING)
    try:
        climb = Climb(**{name: int(value) for name, value in kept["climb"].items()})
        return Scored(Ability.from_state(kept["state"]), climb), int(kept["last_id"])
    except (TypeError, KeyError, ValueError, AttributeError):
        return None, 0
