"""One thing to work on, said at the end of a drill: data and one plain sentence.

False alarms come first, for whoever hears problems that are not there will mend what is whole;
then a band that is named too high or too low by more than counts; then the weakest skill.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from exercises.bands import BANDS, show_hz
from exercises.kinds import Kind
from trainer.ability import ENOUGH_ANSWERS, Ability, Estimate
from trainer.naming_spread import Naming
from trainer.observation import FULL_CREDIT_OCTAVES
from trainer.planner import sizes_db
from trainer.skills import DYNAMICS_NAME, LEVEL_NAME, SKILL_POSITION, SKILLS, Skill
from trainer.statistics import wilson_interval

MANY_FALSE_ALARMS: Final = 0.25
"""False alarms are the thing to work on when the rate lies above this beyond reasonable doubt."""


class Subject(StrEnum):
    """What the one thing is about."""

    FALSE_ALARMS = "false alarms"
    BIAS = "bias"
    WEAKEST = "weakest"
    NOT_ENOUGH = "not enough yet"


@dataclass(frozen=True, slots=True)
class WrapUp:
    """``skill`` and ``finest`` go with the weakest, ``band_index`` and ``naming`` with a bias."""

    subject: Subject
    sentence: str
    skill: Skill | None = None
    finest: Estimate | None = None
    band_index: int | None = None
    naming: Naming | None = None


def wrap_up(before: Ability, now: Ability) -> WrapUp:
    """The one thing to work on after the drill that led from ``before`` to ``now``."""
    return (
        _false_alarms(before, now)
        or _bias(before, now)
        or _weakest(before, now)
        or WrapUp(
            Subject.NOT_ENOUGH,
            f"Not enough yet to say what is weakest: {ENOUGH_ANSWERS} answers on one thing are "
            "needed.",
        )
    )


def _false_alarms(before: Ability, now: Ability) -> WrapUp | None:
    asked, alarms = now.nothing_asked, now.false_alarms
    if asked == before.nothing_asked or asked < ENOUGH_ANSWERS:
        return None
    # The rate that fades with time must be high as well: an old habit, since cured, is no news.
    low, high = wilson_interval(alarms, asked, 0.90)
    if low <= MANY_FALSE_ALARMS or now.false_alarm_rate <= MANY_FALSE_ALARMS:
        return None
    return WrapUp(
        Subject.FALSE_ALARMS,
        f"You named a problem in {alarms} of {asked} questions that hid none "
        f"({100.0 * low:.0f} to {100.0 * high:.0f} %): let more pass as nothing.",
    )


def _bias(before: Ability, now: Ability) -> WrapUp | None:
    found: tuple[float, int, Naming] | None = None
    for band in BANDS:
        naming = now.naming(band.index)
        new = naming.answers > before.naming(band.index).answers
        sure = naming.bias_low > 0.0 or naming.bias_high < 0.0
        size = abs(naming.bias)
        if new and sure and naming.answers >= ENOUGH_ANSWERS and size > FULL_CREDIT_OCTAVES:
            found = max(
                found or (0.0, 0, naming), (size, band.index, naming), key=lambda one: one[0]
            )
    if found is None:
        return None
    size, index, naming = found
    mid_hz = BANDS[index].mid_hz
    side = "high" if naming.bias > 0.0 else "low"
    return WrapUp(
        Subject.BIAS,
        f"Near {show_hz(mid_hz)} you name {size:.1f} octave too {side}: about "
        f"{show_hz(mid_hz * 2.0**naming.bias)} for {show_hz(mid_hz)} "
        f"({naming.bias_low:+.1f} to {naming.bias_high:+.1f}).",
        band_index=index,
        naming=naming,
    )


def _weakest(before: Ability, now: Ability) -> WrapUp | None:
    today = [
        skill
        for skill in SKILLS
        if now.answers[SKILL_POSITION[skill]] > before.answers[SKILL_POSITION[skill]]
        and now.finest(skill).enough
    ]
    if not today:
        return None
    # The surely weakest: by the low end of the interval, as a part of what is asked at most.
    skill = max(today, key=lambda each: now.finest(each).low_db / sizes_db(each)[1])
    finest, largest = now.finest(skill), sizes_db(skill)[1]
    size = (
        f"from about {finest.size_db:.1f} dB ({finest.low_db:.1f} to {finest.high_db:.1f} dB)"
        if finest.size_db < largest
        else f"hardly yet, even at {largest:.0f} dB"
    )
    return WrapUp(
        Subject.WEAKEST,
        f"Work on {_called(skill)}: you name it {size}.",
        skill=skill,
        finest=finest,
    )


def _called(skill: Skill) -> str:
    if skill.problem == LEVEL_NAME:
        return "too loud and too quiet"
    if skill.problem == DYNAMICS_NAME:
        return "squashed and lifted"
    if skill.band_index is None:
        return skill.problem
    band = BANDS[skill.band_index]
    word = band.too_much if skill.problem == Kind.TOO_MUCH else band.too_little
    return f"{skill.problem} near {show_hz(round(band.mid_hz, 1))} ({word})"
