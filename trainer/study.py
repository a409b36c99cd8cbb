"""What to study next, and when the drill opens with a guided minute; and on which loops.

A subject is *new* before its first answer, *confused* when it was lately taken for another more
than once, and *weak* when even the low end of its interval lies above the goal of 3 dB. The drill
opens a guided minute for what is new, weak or confused: the first time only, and never for what
the next question hides, which it would give away. It counts in the drill's minutes. Pure.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from enum import Enum
from typing import Final

from exercises.kinds import TONE, Kind
from trainer.ability import ENOUGH_ANSWERS, Ability, Estimate
from trainer.guided_minute import LOOPS_WANTED, Ground
from trainer.record import KeptAnswer
from trainer.skills import skill_of
from trainer.standings import GOAL_DB
from trainer.subject import SUBJECTS, Subject, subject_of

SEEN_SETTING: Final = "studied"
"""The record's setting that holds ``Seen``."""
FIRST_AFTER: Final = 12
EVERY: Final = 15
"""A drill opens a minute after twelve answers and then every fifteen: two or three in ten minutes
at most (our judgement)."""
CONFUSED_AMONG: Final = 60
CONFUSED_TIMES: Final = 2
_WELL_HEARD_DB: Final = 4.0
_LOOPS_TRIED: Final = 6

SmallestHeard = Callable[[str, Kind, float | None], float | None]
"""(loop name, kind, frequency in Hz or None) -> the smallest size, dB, that can be heard there."""

Seen = Mapping[str, int]
"""Subject's key -> answers on it when its minute was last opened."""


class Need(Enum):
    """Why something should be studied next; the values are the words on the page."""

    CONFUSED = "confused"
    WEAK = "weak"
    NEW = "new"


def estimate_of(subject: Subject, ability: Ability) -> Estimate:
    """The learner's finest size of a subject."""
    return ability.finest(skill_of(subject.kind, subject.band_index))


def finest_db(subject: Subject, ability: Ability) -> float | None:
    """The finest size, dB, where there are answers enough to name it."""
    estimate = estimate_of(subject, ability)
    return estimate.size_db if estimate.enough else None


def confusions(answers: Sequence[KeptAnswer]) -> Counter[Subject]:
    """How often each subject was taken for another one, in the latest answers (oldest first)."""
    counted: Counter[Subject] = Counter()
    for kept in answers[-CONFUSED_AMONG:]:
        part = kept.verdict.parts[0]
        truth = subject_of(part.truth.kind, part.truth.freq_hz)
        named = subject_of(part.named.kind, part.named.freq_hz)
        if truth is not None and named is not None and truth != named and not kept.verdict.named:
            counted[truth] += 1
    return counted


def need_of(
    subject: Subject, ability: Ability, confused: Mapping[Subject, int], seen: Seen
) -> Need | None:
    """Why ``subject`` should be studied, if it should."""
    if confused.get(subject, 0) >= CONFUSED_TIMES:
        return Need.CONFUSED
    estimate = estimate_of(subject, ability)
    if estimate.enough and estimate.low_db > GOAL_DB:
        return Need.WEAK
    return Need.NEW if estimate.answers == 0 and subject.key not in seen else None


def study_next(
    ability: Ability, answers: Sequence[KeptAnswer], seen: Seen
) -> tuple[tuple[Subject, Need], ...]:
    """What should be studied, most needed first: confused, then weak, then new."""
    confused = confusions(answers)
    needs = [(each, need_of(each, ability, confused, seen)) for each in SUBJECTS]
    wanted = [(subject, need) for subject, need in needs if need is not None]
    order = list(Need)

    def place(pair: tuple[Subject, Need]) -> tuple[int, float, int]:
        subject, need = pair
        if need is Need.CONFUSED:
            much = -float(confused[subject])
        elif need is Need.WEAK:
            much = -estimate_of(subject, ability).size_db
        else:  # from the middle of the rule outwards: what a mixer meets most
            much = abs(subject.band_index - 3.4) if subject.band_index is not None else 4.0
        return order.index(need), much, SUBJECTS.index(subject)

    return tuple(sorted(wanted, key=place))


def opens_with_study(subject: Subject, need: Need | None, ability: Ability, seen: Seen) -> bool:
    """Whether the drill opens a minute for a subject: new or weak or confused, and not yet so.

    One that was opened while it was new opens once more if it turns out weak or confused.
    """
    if need is None:
        return False
    if subject.key not in seen:
        return True
    answers = estimate_of(subject, ability).answers
    return need is not Need.NEW and seen[subject.key] < ENOUGH_ANSWERS <= answers


def may_open_before(number: int) -> bool:
    """Whether a drill may open a minute before its question ``number`` (from 1)."""
    since = number - 1 - FIRST_AFTER
    return since >= 0 and since % EVERY == 0


def drill_opens(
    ability: Ability,
    answered: int,
    answers: Callable[[], Sequence[KeptAnswer]],
    seen: Seen,
    hidden: Sequence[Subject | None],
    kinds: Sequence[Kind] | None = None,
    bands: Sequence[int] | None = None,
) -> tuple[Subject, Need] | None:
    """What the drill opens a minute of now, if it does, and why; so many were ``answered`` in it,
    which ``answers`` tells.

    ``hidden`` is what the next question hides: nothing of its band, or of its kind, is opened.
    ``kinds`` and ``bands`` are what the drill keeps to (None: all).
    """
    if not may_open_before(answered + 1):
        return None
    for subject, need in study_next(ability, answers(), seen):
        if (
            _within(subject, kinds, bands)
            and not any(_gives_away(subject, each) for each in hidden)
            and opens_with_study(subject, need, ability, seen)
        ):
            return subject, need
    return None


def after_opening(subject: Subject, ability: Ability, seen: Seen) -> dict[str, int]:
    """What has been seen once the minute of ``subject`` is opened."""
    return {**seen, subject.key: estimate_of(subject, ability).answers}


def grounds_of(
    subject: Subject, loops: Sequence[str], smallest: SmallestHeard
) -> tuple[Ground, ...]:
    """Up to three loops on which the subject is heard well, best first; empty when on none.

    Loops are tried in a turn of their own for each subject, until three are good enough or
    six have been tried: each one takes a moment to measure.
    """
    shift = SUBJECTS.index(subject) * 3 % len(loops) if loops else 0
    found: list[Ground] = []
    for tried, loop in enumerate((*loops[shift:], *loops[:shift])):
        good = sum(ground.smallest_db <= _WELL_HEARD_DB for ground in found)
        if good >= LOOPS_WANTED or (found and tried >= _LOOPS_TRIED):
            break
        here = smallest(loop, subject.kind, subject.freq_hz)
        if here is not None:
            beside = (smallest(loop, each.kind, each.freq_hz) for each in subject.neighbours)
            found.append(Ground(loop, here, tuple(beside)))
    return tuple(sorted(found, key=lambda ground: ground.smallest_db)[:LOOPS_WANTED])


def _within(subject: Subject, kinds: Sequence[Kind] | None, bands: Sequence[int] | None) -> bool:
    if kinds is not None and subject.kind not in kinds:
        return False
    return bands is None or (subject.kind in TONE and subject.band_index in bands)


def _gives_away(subject: Subject, hidden: Subject | None) -> bool:
    if hidden is None:
        return False
    if subject.band_index is not None:
        return subject.band_index == hidden.band_index
    return subject.kind is hidden.kind or hidden.kind not in TONE
