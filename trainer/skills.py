"""The twenty-two skills that a learner is followed by.

Too much and too little, each in ten octave bands; dynamics (squashed and lifted) and level (too
loud and too quiet), each of which counts as one skill because the same ear decides both. A skill
has a stable text key ("too much:250", "level") that the record may keep for ever.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from exercises.bands import BANDS
from exercises.kinds import DYNAMICS, LEVEL, Kind

DYNAMICS_NAME: Final = "dynamics"
LEVEL_NAME: Final = "level"
_FAMILIES: Final = {
    DYNAMICS_NAME: (Kind.SQUASHED, Kind.LIFTED),
    LEVEL_NAME: (Kind.TOO_LOUD, Kind.TOO_QUIET),
}


@dataclass(frozen=True, slots=True)
class Skill:
    """One thing that can be named: ``problem`` is a tone kind's word, or a family's, bandless."""

    problem: str
    band_index: int | None = None

    @property
    def key(self) -> str:
        """Stable text for the record: "too much:250", "dynamics", "level"."""
        if self.band_index is None:
            return self.problem
        return f"{self.problem}:{BANDS[self.band_index].name}"

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """The kinds of problem that exercise this skill."""
        return _FAMILIES.get(self.problem) or (Kind(self.problem),)


SKILLS: Final = (
    *(Skill(Kind.TOO_MUCH.value, band.index) for band in BANDS),
    *(Skill(Kind.TOO_LITTLE.value, band.index) for band in BANDS),
    Skill(DYNAMICS_NAME),
    Skill(LEVEL_NAME),
)
"""Every skill, in the order in which the scorer keeps them."""

SKILL_POSITION: Final = {skill: position for position, skill in enumerate(SKILLS)}
_SKILL_OF_KEY: Final = {skill.key: skill for skill in SKILLS}


def skill_of(kind: Kind, band_index: int | None) -> Skill:
    """The skill that a problem of this kind, in this band, exercises.

    Raises ValueError for "nothing", and for a tone kind without a band.
    """
    if kind is Kind.NOTHING:
        raise ValueError("'nothing' exercises no skill: it measures false alarms")
    if kind in DYNAMICS:
        return Skill(DYNAMICS_NAME)
    if kind in LEVEL:
        return Skill(LEVEL_NAME)
    if band_index is None:
        raise ValueError(f"'{kind}' needs a band")
    return Skill(kind.value, band_index)


def skill_of_key(key: str) -> Skill:
    """The skill whose ``key`` this is. Raises ValueError for any other text."""
    try:
        return _SKILL_OF_KEY[key]
    except KeyError:
        raise ValueError(f"no skill has the key '{key}'") from None
