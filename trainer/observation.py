"""What the scorer is told of one answer, and how far a frequency answer counts.

A tone answer is *named* when its kind is right and its frequency lies within a third of an
octave of the truth, fades linearly to nothing at one octave, and counts nothing beyond. Why a
third: it is the grid of the trade's graphic equalisers and analysers (IEC 61260-1), so a knob put
there does the job; and it can be reached, the just noticeable difference of a resonance's centre
being about 0.11 octave at Q 1 and 0.06 at Q 4. Why one octave: beyond it another octave band has
been named. A near miss is partial evidence, neither a success nor a guess.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from exercises.kinds import TONE, Kind
from trainer.skills import Skill

FULL_CREDIT_OCTAVES: Final = 1.0 / 3.0
NO_CREDIT_OCTAVES: Final = 1.0


class Outcome(StrEnum):
    """What came of a question that did hide a problem."""

    MISSED = "missed"
    """"Nothing" was answered."""
    MISNAMED = "misnamed"
    """Something was heard; the kind, or the frequency by an octave or more, was wrong."""
    NEAR = "near"
    """The kind was right, and the frequency between a third of an octave and one octave off."""
    NAMED = "named"
    """The kind was right and, for tone, the frequency within a third of an octave."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One answer to a question that hid a problem.

    ``day`` counts days on any fixed calendar (``date.toordinal``); ``size_db`` > 0;
    ``miss_octaves`` is signed (positive: named too high), None without a frequency; ``help`` is
    0 A at hand, 1 A heard once, 2 no A. ``chance`` is the credit that a guess among the answers
    on offer would earn on average (None: all kinds and the whole rule were on offer); ``forced``
    says that "nothing" was not on offer; ``placed`` that the answer had to name the place as well.
    """

    day: int
    skill: Skill
    size_db: float
    outcome: Outcome
    miss_octaves: float | None = None
    sure: bool = False
    help: int = 0
    chance: float | None = None
    forced: bool = False
    placed: bool = False

    def __post_init__(self) -> None:
        if not 0.0 < self.size_db < 100.0:
            raise ValueError(f"size_db must lie in 0..100, not {self.size_db}")
        if self.help not in (0, 1, 2):
            raise ValueError(f"help must be 0, 1 or 2, not {self.help}")
        if self.outcome is Outcome.NEAR and self.miss_octaves is None:
            raise ValueError("a near answer needs its miss_octaves")

    @property
    def credit(self) -> float:
        """Share of a success, 0 to 1, that this answer counts for."""
        if self.outcome is Outcome.NEAR and self.miss_octaves is not None:
            return credit_for_miss(self.miss_octaves)
        return 1.0 if self.outcome is Outcome.NAMED else 0.0


@dataclass(frozen=True, slots=True)
class NothingAnswer:
    """One answer to a question that hid nothing; ``false_alarm``: a problem was named."""

    day: int
    false_alarm: bool
    sure: bool = False


def credit_for_miss(miss_octaves: float) -> float:
    """Credit of a frequency answer: 1 within a third of an octave, linearly to 0 at one octave."""
    beyond = abs(miss_octaves) - FULL_CREDIT_OCTAVES
    return min(1.0, max(0.0, 1.0 - beyond / (NO_CREDIT_OCTAVES - FULL_CREDIT_OCTAVES)))


def outcome_of(asked: Kind, named: Kind, miss_octaves: float | None = None) -> Outcome:
    """What came of a question that hid ``asked`` when ``named`` was answered.

    ``miss_octaves`` is needed when both are tone kinds. Raises ValueError when nothing was hidden
    (see NothingAnswer) or the miss is lacking.
    """
    if asked is Kind.NOTHING:
        raise ValueError("nothing was hidden: tell the scorer of a NothingAnswer")
    if named is Kind.NOTHING:
        return Outcome.MISSED
    if named is not asked:
        return Outcome.MISNAMED
    if asked not in TONE:
        return Outcome.NAMED
    if miss_octaves is None:
        raise ValueError(f"'{asked}' needs the miss in octaves")
    credit = credit_for_miss(miss_octaves)
    if credit == 1.0:
        return Outcome.NAMED
    return Outcome.NEAR if credit > 0.0 else Outcome.MISNAMED
